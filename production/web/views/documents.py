"""Documents of a plan: the list, issuing, and the PDF itself."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from production.selectors.access import Action, may, require
from production.selectors.documents import document_of, documents_of
from production.selectors.jobs import jobs_of
from production.selectors.plans import plan_is_stale, plan_newest, plan_of
from production.selectors.weeks import week_of
from production.services.documents import document_issue, documents_request
from production.web.door import kitchen_page, page, request_key
from production.web.style import style_of
from production.web.views.jobs import what_it_does

if TYPE_CHECKING:
    from production.models import Document, Membership

_KINDS = (
    (
        "week_overview",
        "Week overview",
        "For the wall: pots by days, who is there, what leaves and what comes.",
    ),
    ("batch_sheet", "Batch sheets", "One for each run: this pot, this charge, these times."),
    ("cooling_log", "Cooling logs", "One for each draw, blank, with the limits and the expected curve."),
    ("purchase_list", "Purchase lists", "One for each supplier and delivery."),
    ("completed_cooling_log", "Completed cooling logs", "What was really measured, with the verdict and its reasons."),
    ("completed_batch_record", "Completed batch records", "What was really done in a run, beside what its sheet said."),
    ("label_sheet", "Labels", "Printed from the page of a lot; print them again there."),
    ("dispatch_note", "Dispatch notes", "What has left, printed from the page of dispatches."),
)
_FROM_OTHER_PAGES = frozenset({"completed_cooling_log", "completed_batch_record", "label_sheet", "dispatch_note"})


@dataclass(frozen=True, slots=True)
class Shelf:
    """The documents of one kind."""

    kind: str
    label: str
    note: str
    documents: tuple[tuple[Document, str], ...]  # with the time of issue

    @property
    def again(self) -> bool:
        """May one of them be issued again here?"""
        return self.kind not in _FROM_OTHER_PAGES


@kitchen_page
@require_safe
def documents(request: HttpRequest, by: Membership, starts_on: date) -> HttpResponse:
    """What has been printed for the newest plan."""
    require(by, Action.SEE_DOCUMENTS)
    week = week_of(by=by, starts_on=starts_on)
    newest = plan_newest(by=by, week=week)
    style = style_of(by.kitchen, week)
    found = list(documents_of(by=by, plan=newest)) if newest else []
    running = jobs_of(by=by, kind="document_render").filter(state__in=("queued", "running"))
    shelves = tuple(
        Shelf(kind, label, note, tuple((row, style.when(row.created_at)) for row in found if row.kind == kind))
        for kind, label, note in _KINDS
        if kind != "purchase_list" or may(by, Action.SEE_PURCHASING)
    )
    job = running.filter(payload__plan_id=newest.pk).first() if newest else None
    context = {
        "plan_row": newest,
        "stale": newest is not None and plan_is_stale(plan=newest),
        "shelves": shelves,
        "count": len(found),
        "job": job,
        "job_what": what_it_does(job) if job else "",
        "poll_url": reverse("job-progress", args=[by.kitchen.code, job.pk]) if job else "",
        "may_plan": may(by, Action.MAKE_PLAN),
        "may_issue": may(by, Action.ISSUE_DOCUMENTS),
        "request_key": request_key(),
    }
    return page(request, by, "documents.html", context, here="documents", week=week)


@kitchen_page
@require_POST
def documents_issue(request: HttpRequest, by: Membership, starts_on: date) -> HttpResponse:
    """Print all documents of the newest plan, or one of them again."""
    plan = plan_of(by=by, week=week_of(by=by, starts_on=starts_on))
    key = request.POST.get("request_key", "")[:80]
    kind, name = request.POST.get("kind", ""), request.POST.get("key", "")
    if kind:
        job_id = document_issue(by=by, plan=plan, kind=kind, key=name, idempotency_key=key)
    else:
        job_id = documents_request(by=by, plan=plan, idempotency_key=key)
    return redirect("job", by.kitchen.code, job_id)


@kitchen_page
@require_safe
def document_pdf(request: HttpRequest, by: Membership, document_id: int) -> HttpResponse:
    """The PDF, shown in the browser, kept by nobody on the way."""
    document = document_of(by=by, document_id=document_id)
    name = re.sub(r"[^A-Za-z0-9]+", "-", f"{document.kind}-{document.key}-v{document.version}") + ".pdf"
    return HttpResponse(
        bytes(document.pdf),
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"', "X-Content-Type-Options": "nosniff"},
    )
