"""What stands on the label of a lot, put together when it is packed, from what was really used."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from typing import Any, cast

from production.domain.quantities import parse_quantity
from production.domain.records.dates import Life
from production.domain.sheets.content import Label, LabelLaw
from production.domain.sheets.labels import (
    UsedIngredient,
    in_order,
    keep_at,
    label_ingredients,
    label_to_json,
)
from production.models import Entry, Kitchen, Plan, Product, ProductLabel, RunRecord
from production.selectors.lots import lot_settings

_WEIGHED = ("charge_weighed", "addition_made")  # their steps end in the order of the weighing
_FROZEN_C, _FROZEN_F = Decimal(-18), Decimal(0)  # common practice, no source for 0 F; -18 °C is Directive 89/108/EEC


def label_of(
    *, kitchen: Kitchen, product: Product, run: RunRecord, draw: str, code: str, life: Life, sealed_hot: bool
) -> dict[str, Any]:
    """The label as plain values, to be frozen with the lot."""
    ingredients = label_ingredients(
        used for each in _runs_in(run, draw) for used in _used(each.sheet["charge"], _weights(each))
    )
    temp, unit = keep_at(cooling_rule=kitchen.cooling_rule)
    if product.storage == "frozen":
        temp, unit = (_FROZEN_F, "F") if unit == "F" else (_FROZEN_C, "C")
    setup = ProductLabel.objects.filter(product=product).first()
    label = Label(
        law=cast(LabelLaw, lot_settings(kitchen=kitchen).label_law),
        name=product.name,
        ingredients=ingredients,
        allergens=in_order(word for each in ingredients for word in each.allergens),
        lot=code,
        made_on=life.made_on,
        use_by=life.use_by,
        frozen=product.storage == "frozen",
        keep_temp=temp,
        keep_unit=unit,
        net_l=Decimal(repr(product.net_l)),
        pieces=product.cubes_per_container,
        units=kitchen.units,
        kitchen=kitchen.name,
        gtin="" if setup is None else setup.gtin,
        sealed_hot=sealed_hot,
        cautions=life.cautions,
    )
    return label_to_json(label)


def _runs_in(run: RunRecord, draw: str) -> Iterator[RunRecord]:
    """The run, and those whose second draws were boiled down together with its own."""
    yield run
    if draw == "first":
        return
    planned = Plan.objects.filter(pk=run.plan_id).values_list("result", flat=True).first() or {}
    guests = {each["code"] for each in planned.get("runs", ()) if each.get("batch", {}).get("pours_into") == run.code}
    yield from RunRecord.objects.filter(week_id=run.week_id, code__in=guests).order_by("code")


def _weights(run: RunRecord) -> Mapping[int, Decimal]:
    """Masses as they were weighed, by the order of the weighing on the sheet; entries taken back do not count."""
    entries = Entry.objects.filter(
        kitchen_id=run.kitchen_id, subject=run.subject, kind__in=_WEIGHED, corrections__isnull=True
    ).order_by("number")
    found: dict[int, Decimal] = {}
    for entry in entries:
        order = str(entry.content.get("step", "")).rpartition(".")[2]
        typed = entry.content.get("mass")
        if order.isdecimal() and isinstance(typed, str) and typed:
            found[int(order)] = Decimal(repr(parse_quantity(typed, "kg")))
    return found


def _used(charge: Iterable[Mapping[str, Any]], weighed: Mapping[int, Decimal]) -> Iterator[UsedIngredient]:
    for line in charge:
        yield UsedIngredient(
            name="Water" if line["what"] == "water" else line["name"],
            mass_kg=weighed.get(line["order"], Decimal(repr(line["mass_kg"]))),
            allergens=tuple(line["allergens"]),
        )
