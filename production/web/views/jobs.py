"""Background work: how far it is, and stopping it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from production.selectors.access import Action, may
from production.selectors.jobs import job_of
from production.selectors.weeks import weeks_of
from production.services.job_requests import job_stop as stop_job
from production.web.door import kitchen_page, page

if TYPE_CHECKING:
    from production.models import Job, Membership

_WHAT = {"plan_build": "Planning the week", "document_render": "Printing the documents"}
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
    context = _progress_context(by, row) | {
        "waiting": is_waiting(row),
        "may_stop": is_waiting(row) and not row.cancel_requested and may(by, Action.MAKE_PLAN),
    }
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
    """Cancel the work."""
    stop_job(by=by, job_id=job_id)
    return redirect("job", by.kitchen.code, job_id)


def result_href(by: Membership, job: Job) -> str:
    """Where the result of the work is seen."""
    if job.kind == "document_render":
        name, week = "documents", weeks_of(by=by).filter(plans=job.payload.get("plan_id", 0)).first()
    else:
        name, week = "plan", weeks_of(by=by).filter(pk=job.payload.get("week_id", 0)).first()
    return reverse(name, args=[by.kitchen.code, week.starts_on]) if week else reverse("kitchen", args=[by.kitchen.code])


def _progress_context(by: Membership, job: Job) -> dict[str, object]:
    return {
        "job": job,
        "what": what_it_does(job),
        "poll_url": reverse("job-progress", args=[by.kitchen.code, job.pk]),
        "then_url": result_href(by, job),
        "retry_url": result_href(by, job),
    }
