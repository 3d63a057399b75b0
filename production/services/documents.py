"""Printing what a plan says: asked for here, rendered by a worker, kept with content, fingerprint and PDF."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import datetime
from textwrap import shorten
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction
from django.http import Http404
from django.utils import timezone

from production.documents.render import Paper, Press, RenderedPdf, render_document
from production.domain.errors import Conflict
from production.domain.sheets import (
    BatchSheet,
    CompletedBatchRecord,
    CompletedCoolingLog,
    Content,
    CoolingLog,
    DispatchNote,
    LabelSheet,
    PurchaseList,
    WeekOverview,
    batch_sheets,
    content_to_json,
    cooling_logs,
    issued,
    purchase_lists,
    week_overview,
)
from production.models import Document, Membership, Plan
from production.queue import enqueue
from production.selectors.access import Action, require
from production.selectors.fingerprints import fingerprint
from production.selectors.plans import plan_content
from production.services.jobs import JobContext, Result

DOCUMENT_RENDER = "document_render"
LONGEST_TITLE = 200
OF_THE_ISSUE = ("version", "replaces", "issued_at")
Progress = Callable[[int, int, str], None]


@transaction.atomic
def documents_request(*, by: Membership, plan: Plan, idempotency_key: str = "") -> int:
    """Ask for all documents of a plan; returns the job's id."""
    require(by, Action.ISSUE_DOCUMENTS)
    return _enqueue(by=by, plan=plan, only={}, idempotency_key=idempotency_key)


@transaction.atomic
def document_issue(*, by: Membership, plan: Plan, kind: str, key: str, idempotency_key: str = "") -> int:
    """Ask for one document of a plan, anew even if nothing has changed; returns the job's id."""
    require(by, Action.ISSUE_DOCUMENTS)
    if not any((each.kind, each.key) == (kind, key) for each in contents_of(plan)):
        raise Http404("This plan has no such document.")
    return _enqueue(by=by, plan=plan, only={"kind": kind, "key": key}, idempotency_key=idempotency_key)


def _enqueue(*, by: Membership, plan: Plan, only: dict[str, str], idempotency_key: str) -> int:
    if plan.kitchen_id != by.kitchen_id:
        raise Http404("This kitchen has no such plan.")
    return enqueue(
        kind=DOCUMENT_RENDER,
        kitchen_id=by.kitchen_id,
        payload={"plan_id": plan.pk} | only,
        requested_by=by.user_id,
        idempotency_key=idempotency_key,
    )


def document_render(context: JobContext) -> Result:
    """The job's body: all documents that are not there yet, or one of them anew. It may run twice."""
    plan = Plan.objects.select_related("kitchen").get(pk=context.payload["plan_id"], kitchen_id=context.kitchen_id)
    contents = contents_of(plan)
    if "kind" in context.payload:
        named = context.payload["kind"], context.payload["key"]
        return _issue_anew(context, plan, next(each for each in contents if (each.kind, each.key) == named))
    new = documents_make(plan=plan, contents=contents, user_id=context.requested_by, progress=context.progress)
    return {"new": new, "unchanged": len(contents) - new}


def _issue_anew(context: JobContext, plan: Plan, content: Content) -> Result:
    """The new version and the end of the job are written together, so that a second run adds no third version."""
    context.progress(0, 1, title_of(content))
    issue = _next_issue(plan, content, at=timezone.now())
    rendered = render_document(issue, paper=paper_of(plan))

    def store() -> Result:
        document_store(plan=plan, content=issue, rendered=rendered, user_id=context.requested_by)
        return {"new": 1, "unchanged": 0}

    return context.finish(store)


def contents_of(plan: Plan) -> tuple[Content, ...]:
    """Everything that is printed for a plan: a sheet per run, a log per draw, a list per supplier, and the week."""
    content = plan_content(plan=plan)
    return (*batch_sheets(content), *cooling_logs(content), *purchase_lists(content), week_overview(content))


def documents_make(
    *, plan: Plan, contents: Iterable[Content], user_id: int | None, progress: Progress, press: Press | None = None
) -> int:
    """Render and keep what is not there yet in this form; returns how many documents are new.

    A press renders them side by side. No transaction is held while a document is rendered.
    """
    wanted = list(contents)
    now = timezone.now()
    missing = [_next_issue(plan, each, at=now) for each in wanted if not _is_there(plan, each)]
    rendered = _rendered(missing, paper_of(plan), press)
    for done, issue in enumerate(missing, len(wanted) - len(missing)):
        progress(done, len(wanted), title_of(issue))
        document_store(plan=plan, content=issue, rendered=next(rendered), user_id=user_id)
    progress(len(wanted), len(wanted), "")
    return len(missing)


def _rendered(contents: Sequence[Content], paper: Paper, press: Press | None) -> Iterator[RenderedPdf]:
    if press is not None:
        return press.render(contents, paper=paper)
    return (render_document(each, paper=paper) for each in contents)


@transaction.atomic
def document_store(*, plan: Plan, content: Content, rendered: RenderedPdf, user_id: int | None) -> Document:
    """Keep a rendered document as the version its heading states, which names the one before."""
    Plan.objects.select_for_update().get(pk=plan.pk)
    newest = _newest(plan, content)
    heading = content.heading
    if heading.replaces != (None if newest is None else newest.version):
        raise Conflict(
            f"{title_of(content)} has been issued by somebody else at the same moment.",
            code="issued-meanwhile",
            numbers={"version": heading.version},
            remedy="Look at the newest version, and ask again only if it is not what you need.",
        )
    as_json = content_to_json(content)
    document = Document(
        kitchen_id=plan.kitchen_id,
        plan=plan,
        kind=content.kind,
        key=content.key,
        version=heading.version,
        replaces=newest,
        title=shorten(title_of(content), LONGEST_TITLE, placeholder=" …"),
        paper=plan.kitchen.paper,
        content=as_json,
        content_sha256=fingerprint(as_json),
        pdf=rendered.pdf,
        pages=rendered.pages,
        created_by_id=user_id,
        created_at=timezone.now(),
    )
    document.full_clean()
    document.save(force_insert=True)
    return document


def title_of(content: Content) -> str:
    """What the document is called in a list."""
    match content:
        case BatchSheet():
            return f"Batch sheet {content.run}: {content.formula}"
        case CoolingLog():
            return f"Cooling log {content.run}, {content.draw}, {content.device}: {content.formula}"
        case PurchaseList():
            day = content.delivery_at.astimezone(ZoneInfo(content.heading.time_zone))
            return f"Purchase list: {content.supplier}, delivery {day:%a} {day.day} {day:%b}"
        case LabelSheet():
            return f"Labels {content.key}: {content.labels[0].label.name}"
        case CompletedCoolingLog():
            again = f", attempt {content.attempt}" if content.attempt > 1 else ""
            return f"Completed cooling log {content.run}, {content.draw}, {content.device}{again}: {content.formula}"
        case CompletedBatchRecord():
            return f"Completed batch record {content.run}: {content.formula}"
        case DispatchNote():
            return f"Dispatch note {content.key}: {content.outlet}"
        case WeekOverview():
            return f"Week from {content.heading.week:%a} {content.heading.week.day} {content.heading.week:%b}"


def paper_of(plan: Plan) -> Paper:
    """The paper of the plan's kitchen."""
    return "letter" if plan.kitchen.paper == "letter" else "a4"


def _newest(plan: Plan, content: Content) -> Document | None:
    documents = Document.objects.filter(plan=plan, kind=content.kind, key=content.key)
    return documents.defer("pdf").order_by("-version").first()


def _next_issue(plan: Plan, content: Content, *, at: datetime) -> Content:
    newest = _newest(plan, content)
    last = None if newest is None else newest.version
    return issued(content, version=(last or 0) + 1, replaces=last, at=at)


def _is_there(plan: Plan, content: Content) -> bool:
    """Does the newest version say the same on the same paper, whichever version it is and whenever it was issued?"""
    newest = _newest(plan, content)
    if newest is None or newest.paper != plan.kitchen.paper:
        return False
    return _said(newest.content) == _said(content_to_json(content))


def _said(content: dict[str, Any]) -> dict[str, Any]:
    heading = {name: value for name, value in content["heading"].items() if name not in OF_THE_ISSUE}
    return content | {"heading": heading}
