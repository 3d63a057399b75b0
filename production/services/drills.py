"""Recall drills: begun by the clock of the server, answered with what was found, kept in the book."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from production.domain.errors import Conflict
from production.domain.records.drills import MOST_NOTE, Answered, drill_result, drill_target
from production.models import Entry, Membership, RecordBook
from production.selectors.access import Action, require
from production.selectors.drills import BEGUN, DONE, GIVEN_UP, SUBJECT, Drill, drill_of, drills_of, targets_of
from production.selectors.trace import trace_of
from production.services.lot_book import reason_of
from production.services.records import Draft, entries_append


@transaction.atomic
def drill_begin(*, by: Membership, key: str, now: datetime, target: str = "") -> Drill:
    """Begin a drill; without a target one is chosen that nobody can foresee. One drill runs at a time."""
    require(by, Action.RECORD)
    known = _known(by, key, BEGUN)
    if known is not None:
        return drill_of(by=by, number=int(known.subject.removeprefix(SUBJECT)))
    drills = _drills_locked(by)
    running = next((each for each in drills if each.done_at is None), None)
    if running is not None:
        raise Conflict(
            f"Drill {running.number} is still running.",
            code="drill-running",
            numbers={"drill": running.number},
            remedy="Finish it, or give it up with a reason.",
        )
    chosen = target or drill_target(keys=targets_of(by=by), seed=key)
    name = trace_of(by=by, key=chosen, now=now).start.name
    number = len(drills) + 1
    content = {"target": chosen, "name": name, "chosen": "named" if target else "by lot"}
    _write(by, number, BEGUN, content, key=key, now=now)
    return drill_of(by=by, number=number)


@transaction.atomic
def drill_finish(*, by: Membership, number: int, answered: Answered, key: str, now: datetime) -> Drill:
    """End a drill: the trace as it is now, how long it took, and what the people have found."""
    require(by, Action.RECORD)
    if _known(by, key, DONE) is not None:
        return drill_of(by=by, number=number)
    drill = _running(by, number)
    report = trace_of(by=by, key=drill.target, now=now)
    result = drill_result(report=report, answered=answered, begun_at=drill.begun_at, done_at=now)
    told = {name: f"{value:f}" if isinstance(value, Decimal) else value for name, value in asdict(result).items()}
    content = told | {
        "target": drill.target,
        "outlets_reached": answered.outlets_reached,
        "containers_located": answered.containers_located,
        "note": " ".join(answered.note.split())[:MOST_NOTE],
    }
    _write(by, number, DONE, content, key=key, now=now)
    return drill_of(by=by, number=number)


@transaction.atomic
def drill_give_up(*, by: Membership, number: int, reason: str, key: str, now: datetime) -> Drill:
    """End a drill without an answer; that stands in the book as well."""
    require(by, Action.RECORD)
    if _known(by, key, GIVEN_UP) is None:
        _running(by, number)
        _write(by, number, GIVEN_UP, {"given_up": True}, key=key, now=now, reason=reason_of(reason))
    return drill_of(by=by, number=number)


def _running(by: Membership, number: int) -> Drill:
    _drills_locked(by)
    drill = drill_of(by=by, number=number)
    if drill.done_at is not None:
        raise Conflict(
            f"Drill {number} was ended already, by {drill.done_by}.",
            code="drill-ended-already",
            numbers={"drill": number},
            remedy="Look at its result.",
        )
    return drill


def _drills_locked(by: Membership) -> tuple[Drill, ...]:
    """The drills, while the book is held: one number after the other, one end for each."""
    RecordBook.objects.get_or_create(kitchen_id=by.kitchen_id)
    RecordBook.objects.select_for_update().get(kitchen_id=by.kitchen_id)
    return drills_of(by=by)


def _known(by: Membership, key: str, kind: str) -> Entry | None:
    return Entry.objects.filter(kitchen_id=by.kitchen_id, key=key, kind=kind).first()


def _write(
    by: Membership, number: int, kind: str, content: Mapping[str, object], *, key: str, now: datetime, reason: str = ""
) -> None:
    subject = f"{SUBJECT}{number}"
    draft = Draft(kind=kind, subject=subject, content=dict(content), happened_at=now, key=key, reason=reason)
    entries_append(by=by, drafts=[draft], now=now)
