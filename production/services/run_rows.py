"""A run's row under lock, and what is refused about it whoever asks.

All that is recorded to one run waits for its row, so that of two tablets one comes after the other. Whoever holds a
run may then lock its lots, and last the book.
"""

from __future__ import annotations

import re
from datetime import date, datetime

from django.http import Http404

from production.domain.errors import Conflict, PotwrightError
from production.models import Entry, Membership, PlanningWeek, RunRecord
from production.selectors.run_records import PLAN_UNREAD
from production.services.records import Draft

State = RunRecord.State
_SUBJECT = re.compile(r"run/(\d{4}-\d{2}-\d{2})/([A-Za-z0-9][A-Za-z0-9._-]{0,39})")
_ONLY_BEFORE_THE_END = frozenset({"run_begun", "run_broken_off"})


def week_locked_for(*, by: Membership, subject: str) -> tuple[PlanningWeek, str]:
    """The week that a run belongs to, held until the end of the transaction, and the run's code."""
    first_day, code = _named(subject)
    weeks = PlanningWeek.objects.select_for_update().filter(kitchen_id=by.kitchen_id, starts_on=first_day)
    week = weeks.first()
    if week is None:
        raise Http404("This kitchen has no such week.")
    return week, code


def run_locked(*, by: Membership, subject: str) -> RunRecord:
    """The run that has begun, for this transaction alone."""
    _named(subject)
    own = RunRecord.objects.filter(kitchen_id=by.kitchen_id, subject=subject)
    record = own.select_for_update(of=("self",)).select_related("plan", "week").defer(*PLAN_UNREAD).first()
    if record is None:
        raise PotwrightError(
            "This run has not been begun.",
            code="run-not-begun",
            remedy="Begin it first; what was begun without a network must be sent before.",
        )
    return record


def _named(subject: str) -> tuple[date, str]:
    found = _SUBJECT.fullmatch(subject)
    try:
        return date.fromisoformat(found[1] if found else ""), found[2] if found else ""
    except ValueError:
        raise Http404("No run has this name.") from None


def refuse_unfitting(*, record: RunRecord, draft: Draft) -> None:
    """Refuse what comes after the end of a run, and corrections of something else.

    After its end nothing happens to a run; what happened before it may come late, and records may still be corrected.
    """
    if draft.corrects is not None:
        _refuse_other(draft, draft.corrects)
        refuse_corrected(draft.corrects)
        return
    if record.state == State.UNDER_WAY:
        return
    if draft.kind in _ONLY_BEFORE_THE_END or record.ended_at is None or draft.happened_at > record.ended_at:
        raise _over(record)


def _refuse_other(draft: Draft, corrected: Entry) -> None:
    if (corrected.subject, corrected.kind) != (draft.subject, draft.kind):
        raise PotwrightError(
            "A record is corrected by a record of the same kind, of the same run.",
            code="corrects-something-else",
            numbers={"number": corrected.number},
            remedy="Take the wrong record back and record it anew.",
        )


def refuse_corrected(target: Entry) -> None:
    """Of two who correct the same record, the second is told; a correction that was taken back does not count."""
    newest = target.corrections.filter(corrections__isnull=True).order_by("-number").first()
    if newest is not None:
        raise Conflict(
            f"{newest.by_name} has corrected this record already.",
            code="corrected-already",
            numbers={"number": newest.number},
            remedy="Look at what it says now, and correct that if it is still wrong.",
        )


def run_end(*, record: RunRecord, state: State, at: datetime) -> None:
    """A run ends once."""
    changed = RunRecord.objects.filter(pk=record.pk, state=State.UNDER_WAY).update(state=state, ended_at=at)
    if not changed:
        raise _over(record)


def _over(record: RunRecord) -> Conflict:
    how = "closed" if record.state == State.FINISHED else "broken off"
    return Conflict(
        f"{record.code} was {how} before this.",
        code="run-over",
        numbers={"run": record.code},
        remedy="Look at the page of the run; closing it by mistake can be taken back.",
    )
