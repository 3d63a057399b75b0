"""Which lots of ingredients went into a run: read off from its weighings, and asked about where it cannot be."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from zoneinfo import ZoneInfo

from production.domain.errors import BadQuantity
from production.domain.quantities import parse_quantity
from production.domain.records.receiving import named_lots, taken_from
from production.models import Entry, IngredientLot, IngredientUse, Membership, RunRecord
from production.services.receipts import lots_left_set
from production.services.records import Draft

WEIGHED = frozenset({"charge_weighed", "addition_made"})
LOT, LOT_DOUBT = "lot", "lot_doubt"  # where a weighing names its lots, and what is asked about them
_GRAM = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class _Weighing:
    entry: Entry
    lots: tuple[str, ...]
    mass_kg: Decimal


def lots_doubt(*, by: Membership, record: RunRecord, draft: Draft) -> str:
    """Why somebody should look at the lots that a weighing names; its weight counts all the same."""
    named = named_lots(str(draft.content.get(LOT, "")))
    if draft.kind not in WEIGHED or not named:
        return ""
    rows = IngredientLot.objects.filter(kitchen_id=by.kitchen_id, code__in=named).select_related("ingredient")
    doubt = _doubt(named, {each.code: each for each in rows}, _ingredient_of(record, draft), _day(by, draft))
    if doubt:
        draft.content[LOT_DOUBT] = doubt
    return doubt


def _doubt(named: Sequence[str], found: Mapping[str, IngredientLot], weighed: str, day: date) -> str:
    for code in named:
        lot = found.get(code)
        if lot is None:
            return f"No lot {code[:20]} was received here. Look at the label of the pack."
        if weighed and lot.ingredient.name != weighed:
            return f"{code} is {lot.ingredient.name}, not {weighed}. Correct the lot if it was another one."
        if lot.use_by is not None and lot.use_by < day:
            return f"{code} was to be used by {lot.use_by}. Take it out again and tell the manager."
    return ""


def _day(by: Membership, draft: Draft) -> date:
    return draft.happened_at.astimezone(ZoneInfo(by.kitchen.time_zone)).date()


def _ingredient_of(record: RunRecord, draft: Draft) -> str:
    """The ingredient that a step weighs, as the sheet names it."""
    order = str(draft.content.get("step", "")).rpartition(".")[2]
    return next((str(line["name"]) for line in record.sheet.get("charge", ()) if str(line["order"]) == order), "")


def ingredient_uses_set(record: RunRecord) -> None:
    """Work out anew what a run has taken from which lot, by the weighings that stand."""
    weighings = _weighings(record)
    before = set(IngredientUse.objects.filter(run=record).values_list("lot_id", flat=True))
    IngredientUse.objects.filter(run=record).delete()
    codes = {code for each in weighings for code in each.lots}
    lots = {
        each.code: each
        for each in IngredientLot.objects.select_for_update()
        .filter(kitchen_id=record.kitchen_id, code__in=codes)
        .order_by("pk")
    }
    lots_left_set(sorted(before))
    left = dict(IngredientLot.objects.filter(pk__in=[each.pk for each in lots.values()]).values_list("code", "left_kg"))
    uses: list[IngredientUse] = []
    for each in weighings:
        named = [code for code in each.lots if code in lots]
        parts = taken_from(mass_kg=each.mass_kg, left_kg=[left[code] for code in named]) if named else ()
        for code, mass_kg in zip(named, parts, strict=True):
            left[code] -= mass_kg
            uses.append(IngredientUse(lot=lots[code], entry=each.entry, run=record, mass_kg=mass_kg))
    IngredientUse.objects.bulk_create(uses)
    lots_left_set([each.pk for each in lots.values()])


def _weighings(record: RunRecord) -> list[_Weighing]:
    entries = Entry.objects.filter(
        kitchen_id=record.kitchen_id, subject=record.subject, kind__in=[*WEIGHED, "withdrawn"]
    )
    known = {each.pk: each for each in entries.order_by("number")}
    found = []
    for entry in _standing(known.values()):
        lots = _lots_of(entry, known)
        mass_kg = _mass_kg(str(entry.content.get("mass", "")))
        if entry.kind in WEIGHED and lots and mass_kg:
            found.append(_Weighing(entry, lots, mass_kg))
    return found


def _standing(entries: Iterable[Entry]) -> Sequence[Entry]:
    """What counts: neither corrected nor taken back by something that itself counts; in the order of the book."""
    dead: set[int] = set()
    ordered = sorted(entries, key=lambda each: each.number)
    for entry in reversed(ordered):
        if entry.corrects_id is not None and entry.pk not in dead:
            dead.add(entry.corrects_id)
    return [each for each in ordered if each.pk not in dead]


def _lots_of(entry: Entry, known: dict[int, Entry]) -> tuple[str, ...]:
    """A correction that names no lot keeps that of what it corrects."""
    while LOT not in entry.content and entry.corrects_id in known:
        entry = known[entry.corrects_id]
    return named_lots(str(entry.content.get(LOT, "")))


def _mass_kg(text: str) -> Decimal:
    try:
        return Decimal(repr(parse_quantity(text, "kg", unit_required=True))).quantize(_GRAM)
    except BadQuantity:
        return Decimal(0)
