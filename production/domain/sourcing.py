"""Where each run's ingredients come from: the saved-bones bank, the shelf, or a delivery; and when they are there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from production.domain.errors import PotwrightError
from production.domain.kitchen import Offer, Supplier, Week

_LONGEST_LOOK_DAYS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivery:
    """The earliest delivery of one supplier when ordered as soon as planning is done."""

    supplier: str
    order_by: datetime
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Portioned:
    """A mass of one ingredient for one run; masses are ready-for-the-pot."""

    run: str
    ingredient: str
    mass_kg: float
    from_bank_kg: float
    from_stock_kg: float
    to_buy_kg: float  # ready-for-the-pot; the purchase list adds the trim
    there_at: datetime | None  # None: nobody can deliver it


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What a run asks for; `use_on` is the local day on which it is expected to be used."""

    run: str
    ingredient: str
    mass_kg: float
    use_on: date


def delivery_for_order(*, supplier: Supplier, ordered_at: datetime, zone: ZoneInfo) -> Delivery:
    """The first delivery that an order placed at a moment can catch.

    Equation: the order counts from the day it is placed, or the next day after the order-by time; the goods come on the
        first delivery weekday that is at least lead_days later.
    Units: ordered_at, result [instant]; supplier (record; lead time [day]); zone (record).
    Valid: a supplier with at least one delivery weekday.
    Errors: PotwrightError `no-delivery-day` when the supplier has none.
    Source: own definition; order-by time and lead days are how suppliers state it, common practice, no source.
    """
    local = ordered_at.astimezone(zone)
    counted_from = local.date() if local.time() <= supplier.order_by else local.date() + timedelta(days=1)
    day = counted_from + timedelta(days=supplier.lead_days)
    for ahead in range(_LONGEST_LOOK_DAYS):
        candidate = day + timedelta(days=ahead)
        if candidate.isoweekday() in supplier.delivers_on:
            at = datetime.combine(candidate, supplier.delivers_at, zone)
            return Delivery(supplier=supplier.code, order_by=_order_by(supplier, candidate, zone), at=at)
    raise PotwrightError(
        code="no-delivery-day",
        sentence=f"{supplier.name} has no day of delivery.",
        numbers={"supplier": supplier.code},
        remedy="Enter the weekdays on which this supplier delivers.",
    )


def _order_by(supplier: Supplier, delivered_on: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(delivered_on - timedelta(days=supplier.lead_days), supplier.order_by, zone)


def latest_order_for(*, supplier: Supplier, needed_at: datetime, not_before: datetime, zone: ZoneInfo) -> Delivery:
    """The last delivery that still arrives before a moment, or the first possible one where none does.

    Equation: the latest delivery weekday with delivery time <= needed_at whose order-by time is >= not_before.
    Units: needed_at, not_before, result [instant]; supplier (record; lead time [day]); zone (record).
    Valid: a supplier with at least one delivery weekday.
    Errors: PotwrightError `no-delivery-day` when the supplier has none.
    Source: own definition.
    """
    earliest = delivery_for_order(supplier=supplier, ordered_at=not_before, zone=zone)
    day = needed_at.astimezone(zone).date()
    while datetime.combine(day, supplier.delivers_at, zone) > earliest.at:
        at = datetime.combine(day, supplier.delivers_at, zone)
        if day.isoweekday() in supplier.delivers_on and at <= needed_at:
            return Delivery(supplier=supplier.code, order_by=_order_by(supplier, day, zone), at=at)
        day -= timedelta(days=1)
    return earliest


def best_offer(*, week: Week, ingredient: str, needed_at: datetime | None = None) -> tuple[Offer, Delivery] | None:
    """The cheapest offer per kilogram among those that arrive in time; the fastest one where none does.

    Equation: minimum of price / pack_kg over offers whose earliest delivery <= needed_at.
    Units: week (record; price in the kitchen's currency, pack [kg]); ingredient (code); needed_at [instant].
    Valid: a week that passed its reader; None when nobody offers the ingredient.
    Errors: none.
    Source: own definition.
    """
    zone = ZoneInfo(week.kitchen.time_zone)
    suppliers = {supplier.code: supplier for supplier in week.suppliers}
    found = [
        (offer, delivery_for_order(supplier=suppliers[offer.supplier], ordered_at=week.plan_from, zone=zone))
        for offer in week.offers
        if offer.ingredient == ingredient
    ]
    if not found:
        return None
    in_time = [pair for pair in found if needed_at is None or pair[1].at <= needed_at]
    if in_time:
        return min(in_time, key=lambda pair: (pair[0].price / Decimal(repr(pair[0].pack_kg)), pair[0].code))
    return min(found, key=lambda pair: (pair[1].at, pair[0].code))


def source_ingredients(*, week: Week, wanted: tuple[Wanted, ...]) -> tuple[Portioned, ...]:
    """Give bank, then shelf, then purchases to the runs in the order in which they are wanted.

    Equation: for each run in turn: bank entries not past use-by on the day of use (earliest use-by first), then shelf
        stock times trim yield likewise, then purchase; there_at = earliest delivery when anything is bought, else
        plan_from.
    Units: week (record; masses [kg]), wanted [kg]; returns masses [kg], there_at [instant].
    Valid: a week that passed its reader.
    Errors: PotwrightError `no-delivery-day` when a supplier has no delivery weekday.
    Source: FEFO and saved bones first are common practice, no source.
    """
    bank = {entry.code: entry.mass_kg for entry in week.saved_bones}
    trim = {each.code: each.trim_yield_share for each in week.ingredients}
    shelf = {entry.code: entry.mass_kg * trim[entry.ingredient] for entry in week.ingredient_stock}
    bank_dates = {entry.code: (entry.ingredient, entry.use_by) for entry in week.saved_bones}
    shelf_dates = {entry.code: (entry.ingredient, entry.use_by) for entry in week.ingredient_stock}
    result = []
    for want in wanted:
        from_bank = _take(bank, bank_dates, want, want.mass_kg)
        from_stock = _take(shelf, shelf_dates, want, want.mass_kg - from_bank)
        to_buy = want.mass_kg - from_bank - from_stock
        there_at: datetime | None = week.plan_from
        if to_buy > 1e-9:
            offer = best_offer(week=week, ingredient=want.ingredient)
            there_at = _earliest(week, want.ingredient) if offer else None
        result.append(
            Portioned(
                run=want.run,
                ingredient=want.ingredient,
                mass_kg=want.mass_kg,
                from_bank_kg=from_bank,
                from_stock_kg=from_stock,
                to_buy_kg=max(0.0, to_buy),
                there_at=there_at,
            )
        )
    return tuple(result)


def _take(left: dict[str, float], dates: Mapping[str, tuple[str, date]], want: Wanted, mass_kg: float) -> float:
    taken = 0.0
    usable = sorted(
        (use_by, code) for code, (name, use_by) in dates.items() if name == want.ingredient and use_by >= want.use_on
    )
    for _, code in usable:
        part = min(left[code], mass_kg - taken)
        left[code] -= part
        taken += part
    return taken


def _earliest(week: Week, ingredient: str) -> datetime:
    zone = ZoneInfo(week.kitchen.time_zone)
    suppliers = {supplier.code: supplier for supplier in week.suppliers}
    return min(
        delivery_for_order(supplier=suppliers[offer.supplier], ordered_at=week.plan_from, zone=zone).at
        for offer in week.offers
        if offer.ingredient == ingredient
    )
