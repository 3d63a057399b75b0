"""Deciding over lots: held, released, discarded, counted, evaluated. Of two people the second is told."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction

from production.domain.errors import Conflict, NotAllowed, OutOfRange
from production.domain.records.lots import MET, refuse_release
from production.models import CoolingRecord, Entry, Lot, LotMove, Membership
from production.selectors.access import Action, require
from production.selectors.lots import lot_grounds, lot_of, lot_subject, lot_verdict
from production.services.lot_book import (
    known_before,
    lot_locked,
    lot_write,
    reason_of,
    refuse_more_than_left,
    take_out,
)
from production.services.records import Draft


@transaction.atomic
def lot_release(
    *, by: Membership, code: str, seen: str, reason: str, key: str, now: datetime, heard: Draft | None = None
) -> Lot:
    """Let a lot go: anybody who records, where its cooling is shown to be safe; else a manager, on grounds."""
    require(by, Action.RECORD)
    lot = lot_locked(by, code)
    if known_before(by, key, "lot_released"):
        return lot
    grounds = lot_grounds(by=by, lot=lot)
    refuse_release(grounds)
    if lot.use_by < now.astimezone(ZoneInfo(by.kitchen.time_zone)).date():
        raise NotAllowed(
            f"Lot {code} is past its last day, {lot.use_by}.",
            code="lot-past-use-by",
            numbers={"use_by": lot.use_by.isoformat()},
            remedy="Discard it.",
        )
    content = {"verdict": grounds.verdict, "corrected": grounds.corrected, "evaluated": grounds.evaluated}
    return _status_set(by, lot, seen, Lot.Status.FREE, "lot_released", content, reason, key, now, heard)


@transaction.atomic
def lot_hold(
    *, by: Membership, code: str, seen: str, reason: str, key: str, now: datetime, heard: Draft | None = None
) -> Lot:
    """Keep a lot back until somebody has looked at it."""
    require(by, Action.RECORD)
    lot = lot_locked(by, code)
    if known_before(by, key, "lot_held"):
        return lot
    return _status_set(by, lot, seen, Lot.Status.HELD, "lot_held", {}, reason, key, now, heard)


@transaction.atomic
def lot_discard(
    *,
    by: Membership,
    code: str,
    reason: str,
    key: str,
    now: datetime,
    containers: int | None = None,
    seen_left: int,
    heard: Draft | None = None,
) -> Lot:
    """Throw containers away, all that are left unless fewer are named. In doubt anybody who records may."""
    require(by, Action.RECORD)
    lot = lot_locked(by, code)
    if known_before(by, key, "lot_discarded"):
        return lot
    gone = seen_left if containers is None else containers
    refuse_more_than_left(lot, gone)
    entry = lot_write(
        by, lot, "lot_discarded", {"containers": gone}, at=now, key=key, now=now, reason=reason_of(reason), heard=heard
    )
    take_out(lot, gone, entry, LotMove.Kind.DISCARDED, seen_left=seen_left)
    if gone == seen_left:
        Lot.objects.filter(pk=lot.pk).update(status=Lot.Status.DISCARDED, status_reason=reason_of(reason))
    lot.refresh_from_db()
    return lot


@transaction.atomic
def lot_count(
    *,
    by: Membership,
    code: str,
    found: int,
    seen_left: int,
    reason: str,
    key: str,
    now: datetime,
    heard: Draft | None = None,
) -> Lot:
    """Say how many containers are really there."""
    require(by, Action.RECORD)
    lot = lot_locked(by, code)
    if known_before(by, key, "lot_counted"):
        return lot
    if lot.status == Lot.Status.DISCARDED or not 0 <= found <= lot.containers:
        raise OutOfRange(
            f"Lot {code} was made of {lot.containers} containers and is {lot.status}; {found} cannot be there.",
            code="lot-count-out-of-range",
            numbers={"containers": lot.containers, "found": found},
            remedy="Count again; containers of another lot do not belong to this one.",
        )
    content = {"found": found, "before": seen_left}
    entry = lot_write(by, lot, "lot_counted", content, at=now, key=key, now=now, reason=reason_of(reason), heard=heard)
    take_out(lot, seen_left - found, entry, LotMove.Kind.COUNTED, seen_left=seen_left)
    lot.refresh_from_db()
    return lot


@transaction.atomic
def lot_evaluate(
    *, by: Membership, code: str, disposition: str, cause: str, action: str, evaluation: str, key: str, now: datetime
) -> Entry:
    """Write down what was found about a lot whose cooling is not shown to be safe, and what is to become of it."""
    require(by, Action.DECIDE_LOTS)
    lot = lot_of(by=by, code=code)
    if disposition not in ("release", "discard"):
        raise OutOfRange("A lot is released or discarded.", code="unknown-disposition", remedy="Choose one of the two.")
    content = {
        "disposition": disposition,
        "cause": reason_of(cause),
        "action": reason_of(action),
        "evaluation": reason_of(evaluation) if disposition == "release" else evaluation.strip(),
        "verdict": lot_verdict(lot),
        "containers": lot.left,
    }
    return lot_write(by, lot, "corrective_action", content, at=now, key=key, now=now)


@transaction.atomic
def lots_hold_unshown(*, by: Membership, cooling: CoolingRecord, now: datetime) -> tuple[Lot, ...]:
    """Keep back the free lots of a log whose verdict has turned, by a reading set aside or a wrong thermometer."""
    held = []
    for lot in Lot.objects.filter(coolings=cooling, status=Lot.Status.FREE, left__gt=0).order_by("pk"):
        verdict = lot_verdict(lot)
        if verdict == MET:
            continue
        key = f"turned-{lot.code}-{cooling.pk}-{cooling.reading_count}-{verdict}-{now.timestamp():.0f}"
        reason = "The cooling log no longer shows that it is safe."
        locked = lot_locked(by, lot.code)
        seen = locked.status
        held.append(_status_set(by, locked, seen, Lot.Status.HELD, "lot_held", {"verdict": verdict}, reason, key, now))
    return tuple(held)


def _status_set(
    by: Membership,
    lot: Lot,
    seen: str,
    status: Lot.Status,
    kind: str,
    content: dict[str, Any],
    reason: str,
    key: str,
    now: datetime,
    heard: Draft | None = None,
) -> Lot:
    said = reason_of(reason)
    changed = (
        Lot.objects.filter(pk=lot.pk, status=seen)
        .exclude(status__in=[status, Lot.Status.DISCARDED])
        .update(status=status, status_reason=said)
    )
    if not changed:
        raise _decided_meanwhile(by, lot)
    lot_write(by, lot, kind, content | {"left": lot.left}, at=now, key=key, now=now, reason=said, heard=heard)
    lot.refresh_from_db()
    return lot


def _decided_meanwhile(by: Membership, lot: Lot) -> Conflict:
    lot.refresh_from_db()
    last = Entry.objects.filter(kitchen_id=by.kitchen_id, subject=lot_subject(lot.code)).order_by("-number").first()
    who = f" by {last.by_name}" if last is not None else ""
    return Conflict(
        f"Lot {lot.code} is {lot.get_status_display().lower()} already{who}.",
        code="lot-decided-meanwhile",
        numbers={"status": lot.status, "left": lot.left},
        remedy="Look at the lot again and decide anew.",
    )
