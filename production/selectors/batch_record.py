"""The completed batch record of a run as frozen content, from its row, its entries and what came of it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime

from django.db.models import Q

from production.domain.errors import Conflict
from production.domain.records.batch_paper import Outcome, batch_record_of
from production.domain.records.course import course_of, planned_steps
from production.domain.sheets import CompletedBatchRecord
from production.domain.sheets.batch_record import RecordedCooling, RecordedDeviation, RecordedLot
from production.models import CoolingRecord, Deviation, Lot, Membership, RunRecord
from production.selectors.access import Action, require
from production.selectors.run_records import run_record_of, running_of
from production.selectors.weeks import week_of


def completed_batch_record(*, by: Membership, starts_on: date, code: str, now: datetime) -> CompletedBatchRecord:
    """The record of a run that is over; one under way is not completed yet."""
    require(by, Action.SEE_RECORDS)
    record = run_record_of(by=by, week=week_of(by=by, starts_on=starts_on), code=code)
    if record.ended_at is None:
        raise Conflict(
            f"{record.code} is still under way.",
            code="run-still-under-way",
            numbers={"run": record.code},
            remedy="Close the run first; until then its page shows what was recorded.",
        )
    running = running_of(record=record)
    course = course_of(running, now=now)
    return batch_record_of(
        running.sheet,
        running.run,
        course,
        planned_steps(running.plan, running.sheet),
        Outcome(
            begun_at=record.begun_at.astimezone(UTC),
            ended_at=record.ended_at.astimezone(UTC),
            coolings=tuple(_coolings(record)),
            lots=tuple(_lots(record)),
            deviations=tuple(_deviations(record)),
        ),
    )


def _coolings(record: RunRecord) -> Iterable[RecordedCooling]:
    rows = CoolingRecord.objects.filter(run=record).defer("digest", "curve").order_by("opened_at", "pk")
    for row in rows:
        yield RecordedCooling(
            key=row.subject.removeprefix("cooling/"),
            draw=row.draw,
            device=str(row.sheet.get("device", "")),
            vessels=int(row.sheet.get("vessels", 0)),
            attempt=row.attempt,
            opened_at=row.opened_at,
            closed_at=row.closed_at,
            verdict=row.verdict,
            readings=row.reading_count,
        )


def _lots(record: RunRecord) -> Iterable[RecordedLot]:
    for lot in Lot.objects.filter(run=record).select_related("product", "store").order_by("code"):
        yield RecordedLot(
            code=lot.code,
            product=lot.product.name,
            containers=lot.containers,
            made_on=lot.made_on,
            use_by=lot.use_by,
            store=lot.store.name,
            status=lot.status,
            reason=lot.status_reason,
        )


def _deviations(record: RunRecord) -> Iterable[RecordedDeviation]:
    """Those of its coolings and of its lots."""
    about = Q(cooling__run=record) | Q(lots__run=record)
    rows = Deviation.objects.filter(about, kitchen_id=record.kitchen_id).distinct().select_related("closed_by")
    for row in rows.order_by("number"):
        yield RecordedDeviation(
            number=row.number,
            sentence=row.sentence,
            opened_at=row.opened_at,
            state=row.state,
            disposition=row.disposition,
            closed_by="" if row.closed_by is None else row.closed_by.by_name,
            closed_at=row.closed_at,
        )
