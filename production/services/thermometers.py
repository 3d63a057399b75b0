"""The kitchen's thermometers: on the list, corrected, retired; and which cooling a probe stands in."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.http import Http404

from production.domain.errors import BadQuantity, Conflict
from production.models import CoolingRecord, Entry, Membership, RecordBook, Thermometer
from production.selectors.access import Action, require
from production.services.floor_answers import Answer, answer_known, answer_of
from production.services.records import Draft, entries_append

ADDED, CHANGED, RETIRED = "thermometer_added", "thermometer_changed", "thermometer_retired"
PLACED = "probe_placed"
LARGEST_CORRECTION = Decimal(20)  # a thermometer that is further off is broken (own choice)


def subject_of(code: str) -> str:
    """How the book names a thermometer."""
    return f"thermometer/{code}"


@transaction.atomic
def thermometer_add(
    *,
    by: Membership,
    code: str,
    name: str,
    kind: str,
    unit: str,
    check_due_on: date | None,
    both_scales: bool = False,
    key: str,
    now: datetime,
) -> Thermometer:
    """Put a thermometer on the list; a code is never used for a second one."""
    require(by, Action.KEEP_THERMOMETERS)
    RecordBook.objects.get_or_create(kitchen_id=by.kitchen_id)
    RecordBook.objects.select_for_update().get(kitchen_id=by.kitchen_id)  # of two the second sees the first
    there = _done(by, ADDED, key)
    if there is not None:
        return there
    if Thermometer.objects.filter(kitchen_id=by.kitchen_id, code=code).exists():
        raise Conflict(
            f"There is a thermometer {code!r} already.",
            code="thermometer-known",
            numbers={"code": code},
            remedy="Choose another code; that of a retired thermometer stays with its readings.",
        )
    row = Thermometer(
        kitchen_id=by.kitchen_id,
        code=code,
        name=name,
        kind=kind,
        unit=unit,
        check_due_on=check_due_on,
        both_scales=both_scales,
    )
    row.full_clean()
    row.save(force_insert=True)
    told = {"name": name, "kind": kind, "unit": unit, "both_scales": both_scales, "check_due_on": _day(check_due_on)}
    _tell(by, ADDED, row, told, key, now)
    return row


@transaction.atomic
def thermometer_correct(
    *, by: Membership, code: str, correction: Decimal, reason: str, key: str, now: datetime
) -> Thermometer:
    """Set what is added to what it shows; readings from now on carry it, earlier ones stay as they were."""
    require(by, Action.KEEP_THERMOMETERS)
    _locked_any(by, code)
    there = _done(by, CHANGED, key)
    if there is not None:
        return there
    row = _locked(by, code)
    if abs(correction) > LARGEST_CORRECTION:
        raise BadQuantity(
            f"A thermometer that is {abs(correction)} °{row.unit} off is broken.",
            code="correction-too-large",
            numbers={"correction": str(correction)},
            remedy="Take it out of use.",
        )
    before, row.correction = row.correction, correction
    row.full_clean()
    row.save(update_fields=["correction"])
    _tell(by, CHANGED, row, {"correction": str(correction), "before": str(before), "why": reason}, key, now)
    return row


@transaction.atomic
def thermometer_retire(*, by: Membership, code: str, reason: str, key: str, now: datetime) -> Thermometer:
    """Take a thermometer out of use; its readings stay."""
    require(by, Action.KEEP_THERMOMETERS)
    _locked_any(by, code)
    there = _done(by, RETIRED, key)
    if there is not None:
        return there
    row = _locked(by, code)
    row.retired = True
    row.save(update_fields=["retired"])
    _tell(by, RETIRED, row, {"why": reason}, key, now)
    return row


def probe_place(by: Membership, draft: Draft, now: datetime) -> Answer:
    """Say which cooling a probe stands in from now on, or that it stands in none."""
    row = _locked(by, draft.subject.removeprefix("thermometer/"))
    known = Entry.objects.filter(kitchen_id=by.kitchen_id, key=draft.key).first()
    if known is not None:
        return answer_known(known)
    if row.kind != Thermometer.Kind.PROBE:
        raise Conflict(
            f"{row.name} sends no readings of its own.",
            code="not-a-probe",
            numbers={"code": row.code},
            remedy="Enter what it shows by hand.",
        )
    subject = str(draft.content.get("cooling", ""))
    if subject and not CoolingRecord.objects.filter(kitchen_id=by.kitchen_id, subject=subject).exists():
        raise Http404("This kitchen has no such cooling.")
    return answer_of(entries_append(by=by, drafts=[draft], now=now).entries[0])


def _done(by: Membership, kind: str, key: str) -> Thermometer | None:
    """What this key has led to already."""
    earlier = Entry.objects.filter(kitchen_id=by.kitchen_id, kind=kind, key=key).first()
    if earlier is None:
        return None
    return Thermometer.objects.get(kitchen_id=by.kitchen_id, code=earlier.subject.removeprefix(subject_of("")))


def _locked_any(by: Membership, code: str) -> None:
    """Hold a thermometer, in use or retired, so that of two who press the button one comes after the other."""
    Thermometer.objects.select_for_update().filter(kitchen_id=by.kitchen_id, code=code).first()


def _locked(by: Membership, code: str) -> Thermometer:
    rows = Thermometer.objects.select_for_update().filter(kitchen_id=by.kitchen_id, code=code, retired=False)
    found = rows.first()
    if found is None:
        raise Http404("This kitchen has no such thermometer.")
    return found


def _day(day: date | None) -> str:
    return "" if day is None else day.isoformat()


def _tell(by: Membership, kind: str, row: Thermometer, content: dict[str, Any], key: str, now: datetime) -> None:
    draft = Draft(kind=kind, subject=subject_of(row.code), content=content, happened_at=now, key=key)
    entries_append(by=by, drafts=[draft], now=now)
