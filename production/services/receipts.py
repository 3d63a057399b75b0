"""Deliveries: what came is looked at, taken or sent back; what is taken becomes a lot that runs can name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Sum
from django.http import Http404

from production.domain.errors import BadQuantity, Conflict, NotAllowed, OutOfRange
from production.domain.limits import TempUnit
from production.domain.records.readings import Reading
from production.domain.records.receiving import (
    Arrived,
    CameAs,
    Objection,
    receipt_codes,
    receiving_objections,
)
from production.domain.records.thermometers import standing_words
from production.domain.records.typed import corrected_temp, typed_temp
from production.models import (
    Entry,
    Ingredient,
    IngredientLot,
    IngredientUse,
    Membership,
    Receipt,
    RecordBook,
    Store,
    Supplier,
    Thermometer,
)
from production.models.receiving import CAME_AS
from production.selectors.access import Action, may, require
from production.selectors.care import care_settings
from production.selectors.receipts import receipt_of
from production.services.deviations import deviation_open
from production.services.lot_book import reason_of
from production.services.records import Draft, entries_append

RECEIVED, DISCARDED = "receipt", "ingredient_discarded"
LEAST_KG, MOST_KG, MOST_PACKS = Decimal("0.01"), Decimal(20000), 9999
AHEAD = timedelta(minutes=2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Came:
    """What somebody says about one ingredient of a delivery."""

    supplier: str
    ingredient: str
    packs: int
    mass_kg: Decimal
    came_as: str
    temp: str = ""  # as the thermometer showed it, with or without its unit
    thermometer: str = ""
    frozen_hard: bool = False
    packs_sound: bool = True
    supplier_lot: str = ""
    delivery_note: str = ""
    purchase_list: str = ""
    use_by: date | None = None
    store: str = ""
    received_at: datetime


@dataclass(frozen=True, slots=True)
class _Looked:
    """What came, with the kitchen's rows beside the words, and what speaks against it."""

    supplier: Supplier
    ingredient: Ingredient
    store: Store | None
    thermometer: Thermometer | None
    came_as: CameAs
    received_on: date
    mass_kg: Decimal
    reading: Reading | None
    objections: tuple[Objection, ...]


@transaction.atomic
def receipt_take(*, by: Membership, came: Came, accept: bool, reason: str, key: str, now: datetime) -> Receipt:
    """Write down what came; taken, it becomes a lot. Past a limit only a manager may take it, with the reason."""
    require(by, Action.RECORD)
    _book_locked(by)
    earlier = Entry.objects.filter(kitchen_id=by.kitchen_id, key=key, kind=RECEIVED).first()
    if earlier is not None:
        return receipt_of(by=by, code=earlier.subject.removeprefix("receipt/"))
    looked = _look(by, came, now)
    why = _decided(by, looked, accept=accept, reason=reason)
    first = f"R{looked.received_on:%y%m%d}"
    number = Receipt.objects.filter(kitchen_id=by.kitchen_id, code__startswith=first).count() + 1
    code, lot_code = receipt_codes(received_on=looked.received_on, number=number)
    content = _content(came, looked, accept=accept, lot=lot_code if accept else "", why=why)
    entry = _write(by, RECEIVED, code, content, at=came.received_at, key=key, now=now)
    row = Receipt(kitchen=by.kitchen, code=code, entry=entry, received_at=entry.happened_at)
    _fill(row, came, looked, accept=accept, why=why)
    row.full_clean()
    row.save(force_insert=True)
    if accept:
        _lot_made(by, row, lot_code, looked.received_on, looked.store)
    _tell_manager(by, row, looked, accept=accept, now=now)
    return receipt_of(by=by, code=code)


@transaction.atomic
def receipt_correct(*, by: Membership, code: str, came: Came, reason: str, key: str, now: datetime) -> Receipt:
    """Write down anew what was written wrongly; the old words stay in the book. Taken stays taken, refused refused."""
    require(by, Action.RECORD)
    _book_locked(by)
    row = receipt_of(by=by, code=code)
    if Entry.objects.filter(kitchen_id=by.kitchen_id, key=key, kind=RECEIVED).exists():
        return row
    looked = _look(by, came, now)
    lot = IngredientLot.objects.filter(receipt=row).first()
    if lot is not None and lot.ingredient_id != looked.ingredient.pk and lot.uses.exists():
        raise Conflict(
            f"Some of {lot.code} has been used as {row.ingredient.name} already.",
            code="ingredient-lot-in-use",
            numbers={"lot": lot.code},
            remedy="Correct the records of the runs first.",
        )
    why = _decided(by, looked, accept=row.accepted, reason=row.reason or reason)
    content = _content(came, looked, accept=row.accepted, lot=lot.code if lot else "", why=why)
    happened_at = came.received_at
    entry = _write(
        by, RECEIVED, row.code, content, at=happened_at, key=key, now=now, corrects=row.entry, reason=reason_of(reason)
    )
    row.entry, row.received_at = entry, entry.happened_at
    _fill(row, came, looked, accept=row.accepted, why=why)
    row.full_clean()
    row.save()
    if lot is not None:
        _lot_corrected(lot, row, looked.store)
    _tell_manager(by, row, looked, accept=row.accepted, now=now)
    return receipt_of(by=by, code=row.code)


@transaction.atomic
def ingredient_lot_discard(*, by: Membership, code: str, reason: str, key: str, now: datetime) -> Receipt:
    """Throw away what is left of a lot."""
    require(by, Action.RECORD)
    _book_locked(by)
    row = receipt_of(by=by, code=code)
    if Entry.objects.filter(kitchen_id=by.kitchen_id, key=key, kind=DISCARDED).exists():
        return row
    lot = IngredientLot.objects.select_for_update().filter(receipt=row).first()
    if lot is None or lot.left_kg <= 0:
        raise Conflict(
            f"Of {code} nothing is left.",
            code="ingredient-lot-empty",
            numbers={"code": code},
            remedy="Look at what it was used for.",
        )
    content = {"lot": lot.code, "mass_kg": f"{lot.left_kg:f}"}
    entry = _write(by, DISCARDED, row.code, content, at=now, key=key, now=now, reason=reason_of(reason))
    IngredientUse.objects.create(lot=lot, entry=entry, kind=IngredientUse.Kind.DISCARDED, mass_kg=lot.left_kg)
    lots_left_set([lot.pk])
    return receipt_of(by=by, code=row.code)


def lots_left_set(pks: Sequence[int]) -> None:
    """What is left of lots is read off from what came and what was used."""
    for lot in IngredientLot.objects.filter(pk__in=pks).annotate(gone=Sum("uses__mass_kg")):
        left = lot.mass_kg - (lot.gone or Decimal(0))
        IngredientLot.objects.filter(pk=lot.pk).update(left_kg=left)


def _look(by: Membership, came: Came, now: datetime) -> _Looked:
    if came.received_at > now + AHEAD:
        raise OutOfRange(
            "It cannot have come in the future.", code="received-in-the-future", remedy="Correct day and time."
        )
    _counted(came)
    ingredient = _row(Ingredient, by, came.ingredient, "ingredient")
    thermometer = _row(Thermometer, by, came.thermometer, "thermometer") if came.thermometer else None
    reading = _reading(by, came, thermometer)
    care = care_settings(kitchen=by.kitchen)
    received_on = came.received_at.astimezone(ZoneInfo(by.kitchen.time_zone)).date()
    came_as: CameAs = "frozen" if came.came_as == "frozen" else "ambient" if came.came_as == "ambient" else "chilled"
    arrived = Arrived(
        came_as=came_as,
        material=ingredient.material,
        reading=reading,
        frozen_hard=came.frozen_hard,
        packs_sound=came.packs_sound,
        received_on=received_on,
        use_by=came.use_by,
    )
    return _Looked(
        supplier=_row(Supplier, by, came.supplier, "supplier"),
        ingredient=ingredient,
        store=_row(Store, by, came.store, "store") if came.store else None,
        thermometer=thermometer,
        came_as=came_as,
        received_on=received_on,
        mass_kg=came.mass_kg.quantize(LEAST_KG),
        reading=reading,
        objections=receiving_objections(
            arrived, chilled_most_c=care.receive_chilled_c, frozen_most_c=care.receive_frozen_c
        ),
    )


def _counted(came: Came) -> None:
    if came.came_as not in CAME_AS:
        raise BadQuantity(
            "Say whether it came chilled, frozen or needs no cold.",
            code="came-as-unknown",
            numbers={"came_as": came.came_as[:20]},
            remedy="Choose one of chilled, frozen and ambient.",
        )
    if not (LEAST_KG <= came.mass_kg <= MOST_KG and 1 <= came.packs <= MOST_PACKS):
        raise OutOfRange(
            f"{came.packs} packs of {came.mass_kg} kg together cannot be.",
            code="receipt-out-of-range",
            numbers={"packs": came.packs, "mass_kg": str(came.mass_kg), "most_kg": str(MOST_KG)},
            remedy="Count the packs and type the weight of all of them together.",
        )


def _reading(by: Membership, came: Came, thermometer: Thermometer | None) -> Reading | None:
    if not came.temp.strip():
        return None
    usual: TempUnit = "F" if by.kitchen.units == "us" else "C"
    unit = usual if thermometer is None else _unit(thermometer)
    shown = typed_temp(came.temp, unit=unit)
    temp = shown.temp
    if thermometer is not None:
        temp = corrected_temp(shown, correction=thermometer.correction, correction_unit=unit)
    return Reading(came.received_at, temp, shown.unit)


def _unit(thermometer: Thermometer) -> TempUnit:
    return "F" if thermometer.unit == "F" else "C"


def _row(table: Any, by: Membership, code: str, name: str) -> Any:
    found = table.objects.filter(kitchen_id=by.kitchen_id, code=code, retired=False).first()
    if found is None:
        raise Http404(f"This kitchen has no such {name}.")
    return found


def _decided(by: Membership, looked: _Looked, *, accept: bool, reason: str) -> str:
    """The reason that is kept; refused when the decision is not this person's, or has no reason."""
    if accept and looked.objections and not may(by, Action.CLOSE_DEVIATIONS):
        raise NotAllowed(
            " ".join(each.sentence for each in looked.objections),
            code="receipt-past-limits",
            numbers={"objections": ", ".join(each.code for each in looked.objections)},
            remedy="Send it back, or ask the manager, who may take it with a reason.",
        )
    needs = bool(looked.objections) or not accept
    return reason_of(reason) if needs else reason.strip()[:300]


def _content(came: Came, looked: _Looked, *, accept: bool, lot: str, why: str) -> dict[str, Any]:
    reading = looked.reading
    return {
        "supplier": looked.supplier.code,
        "supplier_name": looked.supplier.name,
        "supplier_contact": looked.supplier.contact,
        "ingredient": looked.ingredient.code,
        "ingredient_name": looked.ingredient.name,
        "supplier_lot": came.supplier_lot.strip(),
        "delivery_note": came.delivery_note.strip(),
        "purchase_list": came.purchase_list.strip(),
        "packs": came.packs,
        "mass_kg": f"{looked.mass_kg:f}",
        "came_as": looked.came_as,
        "temp": came.temp.strip(),
        "counted": f"{reading.temp:f} {reading.unit}" if reading else "",
        "thermometer": came.thermometer,
        "thermometer_is": _standing(came, looked.thermometer, looked.received_on),
        "frozen_hard": came.frozen_hard,
        "packs_sound": came.packs_sound,
        "use_by": came.use_by.isoformat() if came.use_by else "",
        "store": came.store,
        "accepted": accept,
        "objections": [each.sentence for each in looked.objections],
        "why": why,
        "lot": lot,
    }


def _standing(came: Came, thermometer: Thermometer | None, day: date) -> str:
    if not came.temp.strip() or thermometer is None:
        return ""
    return standing_words(known=True, check_due_on=thermometer.check_due_on, day=day)


def _fill(row: Receipt, came: Came, looked: _Looked, *, accept: bool, why: str) -> None:
    row.supplier, row.ingredient, row.thermometer = looked.supplier, looked.ingredient, looked.thermometer
    row.supplier_lot, row.delivery_note = came.supplier_lot.strip(), came.delivery_note.strip()
    row.purchase_list, row.packs, row.mass_kg = came.purchase_list.strip(), came.packs, looked.mass_kg
    row.came_as, row.use_by = looked.came_as, came.use_by
    row.temp = f"{looked.reading.temp:f}" if looked.reading else ""
    row.unit = looked.reading.unit if looked.reading else ""
    row.accepted, row.in_limits, row.reason = accept, not looked.objections, why


def _lot_made(by: Membership, row: Receipt, code: str, received_on: date, store: Store | None) -> None:
    lot = IngredientLot(
        kitchen=by.kitchen,
        code=code,
        receipt=row,
        ingredient=row.ingredient,
        supplier_lot=row.supplier_lot,
        received_on=received_on,
        use_by=row.use_by,
        store=store,
        mass_kg=row.mass_kg,
        left_kg=row.mass_kg,
    )
    lot.full_clean()
    lot.save(force_insert=True)


def _lot_corrected(lot: IngredientLot, row: Receipt, store: Store | None) -> None:
    lot.ingredient, lot.supplier_lot, lot.use_by, lot.store = row.ingredient, row.supplier_lot, row.use_by, store
    gone = lot.mass_kg - lot.left_kg
    lot.mass_kg, lot.left_kg = row.mass_kg, row.mass_kg - gone
    lot.full_clean()
    lot.save()


def _tell_manager(by: Membership, row: Receipt, looked: _Looked, *, accept: bool, now: datetime) -> None:
    """What was taken although something spoke against it is a deviation; what was sent back is not."""
    if not accept or not looked.objections:
        return
    told = " ".join(each.sentence for each in looked.objections)
    deviation_open(
        by=by,
        kind="receipt",
        subject=f"receipt/{row.code}",
        facts={
            "sentence": f"{row.ingredient.name} of {row.supplier.name} was taken in. {told}",
            "reason": row.reason,
            "entry": row.entry.number,
        },
        key=f"deviation/{row.entry.number}",
        now=now,
    )


def _book_locked(by: Membership) -> None:
    """One code after the other; whoever locks lots of ingredients holds the book first."""
    RecordBook.objects.get_or_create(kitchen_id=by.kitchen_id)
    RecordBook.objects.select_for_update().get(kitchen_id=by.kitchen_id)


def _write(
    by: Membership,
    kind: str,
    code: str,
    content: dict[str, Any],
    *,
    at: datetime,
    key: str,
    now: datetime,
    corrects: Entry | None = None,
    reason: str = "",
) -> Entry:
    draft = Draft(
        kind=kind,
        subject=f"receipt/{code}",
        content=content,
        happened_at=at,
        key=key,
        corrects=corrects,
        reason=reason,
    )
    return entries_append(by=by, drafts=[draft], now=now).entries[0]
