"""Background work: how far it is, and stopping it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from production.drawing.canvas import Size
from production.drawing.plan_timeline import plan_timeline, timeline_names, timeline_width_px
from production.selectors.access import may
from production.selectors.jobs import job_of, stopped_by
from production.selectors.snapshots import week_snapshot
from production.selectors.weeks import weeks_of
from production.services.job_requests import job_stop as stop_job
from production.web.door import kitchen_page, page
from production.web.present.progress import so_far
from production.web.style import style_of

if TYPE_CHECKING:
    from production.models import Job, Membership

_WHAT = {
    "plan_build": "Planning the week",
    "replan": "Re-planning the week",
    "plan_fixes": "Working out what would help",
    "document_render": "Printing the documents",
    "labels_render": "Printing labels",
    "dispatch_note_render": "Printing the dispatch note",
    "cooling_log_render": "Printing the completed cooling log",
    "batch_record_render": "Printing the completed batch record",
    "records_export": "Packing the records",
}
_SEARCHES = {"plan_build": "PLAN_SECONDS", "replan": "REPLAN_SECONDS"}  # how long they may search, as a setting
_OF_A_PLAN = ("document_render", "plan_fixes")
_DAY_PX = 200
_WAITING = ("queued", "running")


def what_it_does(job: Job) -> str:
    """The work in words."""
    return _WHAT.get(job.kind, "Work in the background")


def is_waiting(job: Job) -> bool:
    """Is it still to be done?"""
    return job.state in _WAITING


@kitchen_page
@require_safe
def job(request: HttpRequest, by: Membership, job_id: int) -> HttpResponse:
    """Progress while it lasts; afterwards the result, or what went wrong."""
    row = job_of(by=by, job_id=job_id)
    result = result_href(by, row)
    if row.state == "done":
        return redirect(result)
    context = _progress_context(by, row) | {"waiting": is_waiting(row)}
    here = "documents" if row.kind == "document_render" else "plan"
    return page(request, by, "job.html", context, here=here)


@kitchen_page
@require_safe
def job_progress(request: HttpRequest, by: Membership, job_id: int) -> HttpResponse:
    """Only the part of the page that changes, for the script that asks again and again."""
    row = job_of(by=by, job_id=job_id)
    return render(request, "components/job_progress.html", _progress_context(by, row))


@kitchen_page
@require_POST
def job_stop(request: HttpRequest, by: Membership, job_id: int) -> HttpResponse:
    """Stop the work; a search keeps the best that it has shown."""
    stop_job(by=by, job_id=job_id)
    return redirect("job", by.kitchen.code, job_id)


def result_href(by: Membership, job: Job) -> str:
    """Where the result of the work is seen: a re-plan beside the plan it starts from."""
    made = job.result or {}
    if "document_id" in made:
        return reverse("document-pdf", args=[by.kitchen.code, made["document_id"]])
    if job.kind == "labels_render":
        return reverse("lot", args=[by.kitchen.code, job.payload["lot"]])
    if job.kind == "records_export":
        return reverse("exports", args=[by.kitchen.code])
    if job.kind == "dispatch_note_render":
        return reverse("dispatch", args=[by.kitchen.code])
    weeks = weeks_of(by=by)
    if job.kind in _OF_A_PLAN:
        week = weeks.filter(plans=job.payload.get("plan_id", 0)).first()
    else:
        week = weeks.filter(pk=job.payload.get("week_id", 0)).first()
    if week is None:
        return reverse("kitchen", args=[by.kitchen.code])
    if job.kind == "replan" and {"base", "number"} <= made.keys():
        return reverse("plan-compare", args=[by.kitchen.code, week.starts_on, made["base"], made["number"]])
    place = reverse("documents" if job.kind == "document_render" else "plan", args=[by.kitchen.code, week.starts_on])
    return f"{place}#help" if job.kind == "plan_fixes" else place


def _progress_context(by: Membership, job: Job) -> dict[str, object]:
    return {
        "job": job,
        "what": what_it_does(job),
        "poll_url": reverse("job-progress", args=[by.kitchen.code, job.pk]),
        "then_url": result_href(by, job),
        **_retry(by, job),
        "stop_url": reverse("job-stop", args=[by.kitchen.code, job.pk]) if _may_stop(by, job) else "",
    } | _so_far(by, job)


def _retry(by: Membership, job: Job) -> dict[str, str]:
    """What can be done when the work has failed: what a re-plan stumbles over is mostly something that it was told."""
    week = weeks_of(by=by).filter(pk=job.payload.get("week_id", 0)).first() if job.kind == "replan" else None
    if week is None or not may(by, stopped_by(job)):
        return {"retry_url": result_href(by, job)}
    changes = reverse("changes", args=[by.kitchen.code, week.starts_on])
    return {"retry_url": changes, "retry": "See what the planner was told"}


def _may_stop(by: Membership, job: Job) -> bool:
    return is_waiting(job) and not job.cancel_requested and not job.enough and may(by, stopped_by(job))


def _so_far(by: Membership, job: Job) -> dict[str, object]:
    """The best plan that the search has found until now, drawn."""
    week = weeks_of(by=by).filter(pk=job.payload.get("week_id", 0)).first()
    if not job.preview or week is None:
        return {}
    snapshot = week_snapshot(kitchen=by.kitchen, week_id=week.pk)
    found = so_far(preview=job.preview, week=snapshot, style=style_of(by.kitchen, week))
    words = {"so_far": found, "doing": found.doing, "seconds_of": _seconds_of(job)}
    if found.line is None:
        return words
    width_px = timeline_width_px(found.line, _DAY_PX)
    return words | {
        "so_far_line": plan_timeline(found.line, Size(width_px=width_px, height_px=0)),
        "so_far_names": timeline_names(found.line),
    }


def _seconds_of(job: Job) -> str:
    limit = getattr(settings, _SEARCHES[job.kind], 0) if job.kind in _SEARCHES else 0
    return f"s of {limit}" if limit else "s"
