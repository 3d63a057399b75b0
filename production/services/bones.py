"""The bank of saved bones and trim: put by, taken for a charge, thrown away."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import F
from django.http import Http404

from production.domain.errors import Conflict, NotAllowed, OutOfRange
from production.models import Bones, BonesMove, Entry, Ingredient, Membership, RecordBook, RunRecord, Store
from production.selectors.access import Action, require
from production.selectors.bones import bones_one, bones_use_by
from production.services.lot_book import reason_of
from production.services.records import Draft, entries_append

LEAST_KG, MOST_KG = Decimal("0.05"), Decimal(5000)
_TEN_GRAMS = Decimal("0.01")


@transaction.atomic
def bones_save(
    *, by: Membership, ingredient: str, mass_kg: Decimal, saved_on: date, store: str, key: str, now: datetime
) -> Bones:
    """Put bones or trim by; how long they may be used follows from where they are put."""
    require(by, Action.RECORD)
    RecordBook.objects.get_or_create(kitchen_id=by.kitchen_id)
    RecordBook.objects.select_for_update().get(kitchen_id=by.kitchen_id)  # one number after the other
    earlier = _earlier(by, key, "bones_saved")
    if earlier is not None:
        return bones_one(by=by, code=earlier.subject.removeprefix("bones/"))
    what, place = _ingredient(by, ingredient), _store(by, store)
    mass = _mass(mass_kg, most=MOST_KG)
    today = now.astimezone(ZoneInfo(by.kitchen.time_zone)).date()
    if saved_on > today:
        raise OutOfRange(
            "They cannot have been saved in the future.", code="saved-in-the-future", remedy="Correct the day."
        )
    use_by = bones_use_by(by=by, store=place, saved_on=saved_on)
    if use_by < today:
        raise NotAllowed(
            f"Saved on {saved_on} and kept in {place.name}, they were to be used by {use_by}.",
            code="bones-past-use-by",
            numbers={"use_by": use_by.isoformat()},
            remedy="Discard them.",
        )
    number = Bones.objects.filter(kitchen_id=by.kitchen_id).count() + 1
    row = Bones(
        kitchen_id=by.kitchen_id,
        code=f"B{saved_on:%y%m%d}-{number}",
        ingredient=what,
        mass_kg=mass,
        left_kg=mass,
        saved_on=saved_on,
        use_by=use_by,
        store=place,
    )
    row.full_clean()
    row.save(force_insert=True)
    content = {
        "ingredient": what.code,
        "name": what.name,
        "mass_kg": str(mass),
        "saved_on": saved_on.isoformat(),
        "use_by": use_by.isoformat(),
        "store": place.code,
    }
    _write(by, row, "bones_saved", content, key, now)
    return row


@transaction.atomic
def bones_use(
    *, by: Membership, code: str, mass_kg: Decimal, run: str, key: str, now: datetime, heard: Draft | None = None
) -> Bones:
    """Take bones for the charge of a run (its subject: run/<first day>/<code>), never past their last day."""
    require(by, Action.RECORD)
    row = _locked(by, code)
    if _earlier(by, key, "bones_used") is not None:
        return row
    if run and not RunRecord.objects.filter(kitchen_id=by.kitchen_id, subject=run).exists():
        raise Http404("This kitchen cooks no such run.")
    if row.use_by < now.astimezone(ZoneInfo(by.kitchen.time_zone)).date():
        raise NotAllowed(
            f"{code} was to be used by {row.use_by}.",
            code="bones-past-use-by",
            numbers={"use_by": row.use_by.isoformat()},
            remedy="Discard them.",
        )
    return _take(by, row, BonesMove.Kind.USED, _mass(mass_kg, most=row.left_kg), {"run": run}, key, now, heard=heard)


@transaction.atomic
def bones_discard(
    *, by: Membership, code: str, reason: str, key: str, now: datetime, heard: Draft | None = None
) -> Bones:
    """Throw away what is left of an entry of the bank."""
    require(by, Action.RECORD)
    row = _locked(by, code)
    if _earlier(by, key, "bones_discarded") is not None:
        return row
    if not row.left_kg:
        raise _nothing_left(row)
    return _take(by, row, BonesMove.Kind.DISCARDED, row.left_kg, {}, key, now, reason=reason_of(reason), heard=heard)


def _take(
    by: Membership,
    row: Bones,
    kind: BonesMove.Kind,
    mass_kg: Decimal,
    about: dict[str, Any],
    key: str,
    now: datetime,
    *,
    reason: str = "",
    heard: Draft | None = None,
) -> Bones:
    entry = _write(
        by, row, f"bones_{kind.value}", {"mass_kg": str(mass_kg), **about}, key, now, reason=reason, heard=heard
    )
    if not Bones.objects.filter(pk=row.pk, left_kg__gte=mass_kg).update(left_kg=F("left_kg") - mass_kg):
        raise _nothing_left(row)
    BonesMove.objects.create(bones=row, entry=entry, kind=kind, mass_kg=mass_kg, run_subject=about.get("run", ""))
    row.refresh_from_db()
    return row


def _nothing_left(row: Bones) -> Conflict:
    return Conflict(
        f"Of {row.code} {row.left_kg} kg are left.",
        code="bones-have-not-so-much",
        numbers={"left_kg": str(row.left_kg)},
        remedy="Weigh again, or take another entry of the bank.",
    )


def _locked(by: Membership, code: str) -> Bones:
    Bones.objects.select_for_update().filter(kitchen_id=by.kitchen_id, code=code).first()
    return bones_one(by=by, code=code)


def _earlier(by: Membership, key: str, kind: str) -> Entry | None:
    return Entry.objects.filter(kitchen_id=by.kitchen_id, key=key, kind=kind).first()


def _mass(mass_kg: Decimal, *, most: Decimal) -> Decimal:
    mass = mass_kg.quantize(_TEN_GRAMS)
    if not min(LEAST_KG, most) <= mass <= most:
        raise OutOfRange(
            f"{mass_kg} kg cannot be; allowed are {LEAST_KG} to {most} kg.",
            code="bones-mass-out-of-range",
            numbers={"mass_kg": str(mass_kg), "most_kg": str(most)},
            remedy="Weigh them and type the weight.",
        )
    return mass


def _ingredient(by: Membership, code: str) -> Ingredient:
    row = Ingredient.objects.filter(kitchen_id=by.kitchen_id, code=code, retired=False).first()
    if row is None:
        raise Http404("This kitchen has no such ingredient.")
    return row


def _store(by: Membership, code: str) -> Store:
    row = Store.objects.filter(kitchen_id=by.kitchen_id, code=code, retired=False).first()
    if row is None:
        raise Http404("This kitchen has no such store.")
    return row


def _write(
    by: Membership,
    row: Bones,
    kind: str,
    content: dict[str, Any],
    key: str,
    now: datetime,
    *,
    reason: str = "",
    heard: Draft | None = None,
) -> Entry:
    draft = Draft(
        kind=kind,
        subject=f"bones/{row.code}",
        content=content if heard is None else heard.content | content,
        happened_at=now if heard is None else heard.happened_at,
        key=key,
        reason=reason if heard is None else heard.reason,
    )
    return entries_append(by=by, drafts=[draft], now=now).entries[0]
