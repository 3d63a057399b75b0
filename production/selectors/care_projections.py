"""Rows about deliveries, checks and stores, held against their entries again."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from production.domain.ledger import Finding
from production.models import IngredientLot, Receipt, StorageReading, ThermometerCheck

AT_ONCE = 2000


def checks_check(kitchen_id: int) -> Iterator[Finding]:
    """Each check of a thermometer shows what its entry says."""
    rows = ThermometerCheck.objects.filter(kitchen_id=kitchen_id).order_by("entry__number")
    columns = ("entry__number", "entry__content", "entry__kind", "as_found", "unit", "off", "allowed", "passed", "fit")
    for number, content, kind, found, unit, off, allowed, passed, fit in _read(rows, columns):
        said = [content.get(name) for name in ("counted", "off", "allowed", "passed", "fit")]
        if kind != "thermometer_checked" or said != [f"{found} {unit}", off, allowed, passed, fit]:
            yield _otherwise(number, f"The check shows {found} {unit}, {off} off, {'passed' if passed else 'failed'}.")


def stores_check(kitchen_id: int) -> Iterator[Finding]:
    """Each temperature of a store shows what its entry says, and is set aside only where a later entry says so."""
    rows = StorageReading.objects.filter(kitchen_id=kitchen_id).order_by("entry__number")
    columns = ("entry__number", "entry__content", "entry__kind", "temp", "unit", "excluded", "entry__corrections")
    for number, content, kind, temp, unit, excluded, later in _read(rows, columns):
        if kind != "storage_temp" or content.get("counted") != f"{temp} {unit}" or excluded != (later is not None):
            yield _otherwise(number, f"The log of the store shows {temp} {unit}{', set aside' if excluded else ''}.")


def receipts_check(kitchen_id: int) -> Iterator[Finding]:
    """Each receipt and its lot show what the newest entry about them says."""
    rows = Receipt.objects.filter(kitchen_id=kitchen_id).order_by("entry__number")
    columns = ("entry__number", "entry__content", "entry__subject", "code", "mass_kg", "packs", "accepted", "temp",
               "unit", "lot__code")  # fmt: skip
    for number, content, subject, code, mass, packs, accepted, temp, unit, lot in _read(rows, columns):
        told = (subject, content.get("mass_kg"), content.get("packs"), content.get("accepted"), content.get("counted"),
                content.get("lot"))  # fmt: skip
        shown = (f"receipt/{code}", f"{mass:f}", packs, accepted, f"{temp} {unit}".strip(), lot or "")
        if told != shown:
            yield _otherwise(number, f"Receipt {code} shows {mass} kg in {packs} packs, {temp or 'no temperature'}.")


def ingredient_lots_check(kitchen_id: int) -> Iterator[Finding]:
    """Of each lot as much is left as came, less what was used and thrown away."""
    rows = IngredientLot.objects.filter(kitchen_id=kitchen_id).prefetch_related("uses").select_related("receipt__entry")
    for lot in rows.order_by("pk"):
        left = lot.receipt.mass_kg - sum(use.mass_kg for use in lot.uses.all())
        if (lot.mass_kg, lot.left_kg) != (lot.receipt.mass_kg, left):
            number = lot.receipt.entry.number
            yield _otherwise(number, f"Lot {lot.code} shows {lot.left_kg} of {lot.mass_kg} kg left, not {left} kg.")


def _read(rows: Any, columns: tuple[str, ...]) -> Iterator[tuple[Any, ...]]:
    return iter(rows.values_list(*columns).iterator(chunk_size=AT_ONCE))


def _otherwise(number: int, told: str) -> Finding:
    return Finding(number, number, f"Entry {number} is shown otherwise than it was written down. {told}")
