"""Where the goods of a plan that is changed come from: what begun runs have left, and what has been ordered already."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal

from production.domain.kitchen import Week
from production.domain.plan.content import Plan, PlannedRun
from production.domain.plan.jobs import Source
from production.domain.purchasing import PurchaseOrder, Purchases
from production.domain.sourcing import Portioned, Wanted, source_ingredients


@dataclass(slots=True)
class _Lot:
    """A mass of an ingredient, ready for the pot, that is there or on its way."""

    ingredient: str
    mass_kg: float
    use_by: date
    there_at: datetime
    is_bank: bool


def ordered_by(base: Plan, now: datetime) -> tuple[PurchaseOrder, ...]:
    """Orders of a plan whose time for ordering is over: they count as placed.

    Equation: order_by <= now.
    Units: base (record), now [instant]; returns records.
    Valid: any plan.
    Errors: none.
    Source: own definition.
    """
    return tuple(order for order in base.purchases.orders if order.order_by <= now)


def source_from(base: Plan, week: Week, used: tuple[PlannedRun, ...], now: datetime) -> Source:
    """A way to give goods to runs: bank, shelf, what is on its way, and only then purchases.

    Equation: what `used` runs have taken is gone; the runs of the plan before are served in the order of their former
        starts, so that each finds what was meant for it; then the others.
    Units: base, week, used (records; masses in kg), now [instant]; returns a function of week and wanted masses.
    Valid: a week of the same kitchen.
    Errors: PotwrightError `no-delivery-day` when a supplier has no delivery weekday.
    Source: own definition.
    """
    starts = {run.code: run.placed.start_min for run in base.runs}

    def source(_: Week, wanted: tuple[Wanted, ...]) -> tuple[Portioned, ...]:
        lots = _lots_left(base, week, used, now)
        first_known = sorted(wanted, key=lambda want: starts.get(want.run, max(starts.values(), default=0) + 1))
        shared = [_shared(want, lots, now) for want in first_known]
        short = tuple(replace(want, mass_kg=part.to_buy_kg) for want, part in zip(first_known, shared, strict=True))
        bought = source_ingredients(week=_emptied(week), wanted=short)
        return tuple(_with_purchase(part, more) for part, more in zip(shared, bought, strict=True))

    return source


def _emptied(week: Week) -> Week:
    return replace(week, saved_bones=(), ingredient_stock=())


def _with_purchase(part: Portioned, bought: Portioned) -> Portioned:
    if bought.there_at is None or part.there_at is None:
        return replace(part, there_at=None)
    return replace(part, there_at=max(part.there_at, bought.there_at))


def _lots_left(base: Plan, week: Week, used: Iterable[PlannedRun], now: datetime) -> list[_Lot]:
    trim = {each.code: each.trim_yield_share for each in week.ingredients}
    lots = [
        *(_Lot(each.ingredient, each.mass_kg, each.use_by, now, True) for each in week.saved_bones),
        *(
            _Lot(each.ingredient, each.mass_kg * trim[each.ingredient], each.use_by, now, False)
            for each in week.ingredient_stock
        ),
        *(
            _Lot(item.ingredient, item.mass_kg * trim[item.ingredient], date.max, max(now, order.delivery_at), False)
            for order in ordered_by(base, now)
            for item in order.items
        ),
    ]
    lots.sort(key=lambda lot: (lot.there_at, not lot.is_bank, lot.use_by))
    for run in used:
        for part in run.sourced:
            _take(lots, part.ingredient, part.from_bank_kg, date.min, from_bank=True)
            _take(lots, part.ingredient, part.from_stock_kg + part.to_buy_kg, date.min, from_bank=False)
    return lots


def _shared(want: Wanted, lots: list[_Lot], now: datetime) -> Portioned:
    bank_kg, _ = _take(lots, want.ingredient, want.mass_kg, want.use_on, from_bank=True)
    shelf_kg, there_at = _take(lots, want.ingredient, want.mass_kg - bank_kg, want.use_on, from_bank=False)
    to_buy_kg = want.mass_kg - bank_kg - shelf_kg
    return Portioned(
        run=want.run,
        ingredient=want.ingredient,
        mass_kg=want.mass_kg,
        from_bank_kg=bank_kg,
        from_stock_kg=shelf_kg,
        to_buy_kg=to_buy_kg if to_buy_kg > 1e-9 else 0.0,
        there_at=there_at or now,
    )


def _take(
    lots: list[_Lot], ingredient: str, mass_kg: float, use_on: date, *, from_bank: bool
) -> tuple[float, datetime | None]:
    """Take from the lots in their order; how much there was, and when the last of it is there."""
    taken_kg, there_at = 0.0, None
    for lot in lots:
        part_kg = min(lot.mass_kg, mass_kg - taken_kg)
        if lot.ingredient == ingredient and lot.is_bank == from_bank and lot.use_by >= use_on and part_kg > 1e-9:
            lot.mass_kg -= part_kg
            taken_kg += part_kg
            there_at = lot.there_at
    return taken_kg, there_at


def with_ordered(purchases: Purchases, ordered: tuple[PurchaseOrder, ...]) -> Purchases:
    """Purchases with the orders that have been placed already.

    Equation: placed orders as they are, then the new ones; the total is that of both.
    Units: purchases, ordered (records; money in the kitchen's currency); returns a record.
    Valid: any purchases.
    Errors: none.
    Source: own definition.
    """
    orders = (*ordered, *purchases.orders)
    return Purchases(orders=orders, total=sum((order.total for order in orders), Decimal(0)))
