"""Labels of lots: asked for here, printed by a worker, kept with their content; the book says how many."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.db import transaction
from django.utils import timezone

from production.documents.labels import label_laid_out
from production.documents.render import Sealed, render_document
from production.domain.errors import PotwrightError
from production.domain.sheets import Content, LabelSheet, content_from_json, issued
from production.domain.sheets.content import LabelCopies
from production.domain.sheets.heading import Heading
from production.domain.sheets.label_sizes import label_size
from production.domain.sheets.labels import label_from_json, label_sheet
from production.models import Document, Entry, Lot, Membership, Plan, RunRecord
from production.queue import enqueue
from production.selectors.access import Action, require
from production.selectors.lots import lot_of, lot_subject
from production.services.documents import document_store, paper_of
from production.services.jobs import JobContext, Result
from production.services.records import Draft, entries_append

LABELS_RENDER = "labels_render"


@transaction.atomic
def labels_request(
    *, by: Membership, code: str, size: str, first_place: int, copies: int, idempotency_key: str = ""
) -> int:
    """Ask for the labels of a lot; returns the job's id. What cannot be printed is refused at once."""
    require(by, Action.RECORD)
    lot = lot_of(by=by, code=code)
    label_laid_out(label_from_json(lot.label), label_size(size))
    sheet_of(lot, size=size, first_place=first_place, copies=copies)
    return enqueue(
        kind=LABELS_RENDER,
        kitchen_id=by.kitchen_id,
        payload={"lot": lot.code, "size": size, "first_place": first_place, "copies": copies},
        requested_by=by.user_id,
        idempotency_key=idempotency_key,
    )


def sheet_of(lot: Lot, *, size: str, first_place: int, copies: int) -> LabelSheet:
    """The labels of a lot, put on sheets."""
    return label_sheet(
        heading=heading_of_run(cooked_run(lot)),
        key=lot.code,
        size=size,
        first_place=first_place,
        places=label_size(size).places,
        labels=[LabelCopies(label=label_from_json(lot.label), copies=copies)],
    )


def cooked_run(lot: Lot) -> RunRecord:
    """The run a lot was cooked in; papers are kept with its plan."""
    if lot.run is None:
        raise PotwrightError(
            f"Lot {lot.code} was not cooked here.",
            code="lot-without-run",
            remedy="Write its label by hand.",
        )
    return lot.run


def heading_of_run(run: RunRecord) -> Heading:
    """What papers about a run say about themselves: as its batch sheet, but not its version."""
    sheet = content_from_json(RunRecord.objects.values_list("sheet", flat=True).get(pk=run.pk))
    return issued(sheet, version=1, replaces=None, at=timezone.now()).heading


def labels_render(context: JobContext) -> Result:
    """The job's body: the sheet is rendered, then kept with the entry that says so. It may run twice."""
    asked = context.payload
    by = asked_by(context)
    lot = lot_of(by=by, code=asked["lot"])
    plan = Plan.objects.select_related("kitchen").get(pk=cooked_run(lot).plan_id)
    context.progress(0, 1, f"Labels of {lot.code}")
    sheet = sheet_of(lot, size=asked["size"], first_place=asked["first_place"], copies=asked["copies"])
    return paper_issue(
        context,
        plan,
        sheet,
        also=lambda document: _printed(by, lot, document, asked, f"labels-job-{context.job_id}"),
    )


def paper_issue(
    context: JobContext,
    plan: Plan,
    content: Content,
    *,
    also: Callable[[Document], object] = lambda _: None,
    sealed: Sealed | None = None,
) -> Result:
    """Render a paper as its next version, and keep it together with what else is to be written."""
    newest = (
        Document.objects.filter(plan=plan, kind=content.kind, key=content.key)
        .order_by("-version")
        .values_list("version", flat=True)
        .first()
    )
    issue = issued(content, version=(newest or 0) + 1, replaces=newest, at=timezone.now())
    rendered = render_document(issue, paper=paper_of(plan), sealed=sealed)

    def store() -> Result:
        document = document_store(plan=plan, content=issue, rendered=rendered, user_id=context.requested_by)
        also(document)
        return {"document_id": document.pk}

    return context.finish(store)


def asked_by(context: JobContext) -> Membership:
    """Who asked for the work, as a member of the kitchen."""
    return Membership.objects.select_related("kitchen", "user").get(
        kitchen_id=context.kitchen_id, user_id=context.requested_by or 0
    )


def _printed(by: Membership, lot: Lot, document: Document, asked: dict[str, Any], key: str) -> Entry:
    now = timezone.now()
    content = {"copies": asked["copies"], "size": asked["size"], "version": document.version}
    draft = Draft(kind="labels_printed", subject=lot_subject(lot.code), content=content, happened_at=now, key=key)
    return entries_append(by=by, drafts=[draft], now=now).entries[0]
