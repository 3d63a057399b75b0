"""Changes of a week that may help it, each told by a few values, and the week with one of them made."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from production.domain.errors import PotwrightError
from production.domain.kitchen import Container, CoolingDevice, IceDelivery, IngredientStock, Person, Shift, Week

LONGER_LATER = "shift-ends-later"
LONGER_EARLIER = "shift-starts-earlier"
LONGER_ALL = "all-shifts-longer"
MORE_COOKS = "one-more-cook"
COOLING_PLACES = "cooling-places"
CHILLER = "blast-chiller"
ICE = "ice-delivery"
OUTAGE = "outage-lifted"
POT_LIKE = "pot-like"
POT_ALLOWED = "pot-allowed"
TRAYS = "cube-trays"
HEAT_SUPPLY = "heat-supply"
STORE_ROOM = "store-room"
GOODS = "goods-fetched"
SPLIT = "order-split"
LATER = "later-dispatch"
NOTHING = "replan-alone"  # the week stays as it is: what planning it again does by itself
# What the kitchen does not have yet: nobody can have it by asking for it here.
EQUIPMENT = frozenset({COOLING_PLACES, CHILLER, POT_LIKE, POT_ALLOWED, TRAYS, HEAT_SUPPLY, STORE_ROOM})


@dataclass(frozen=True, slots=True, kw_only=True)
class Fix:
    """A change of the week, in words and as values, with what it does when the week is planned again with it."""

    kind: str
    target: str  # code of the person, device, pot, tray, heat supply, store, ingredient or order line
    amount: float
    unit: str  # h, cooks, places, kg, pots, trays, kW, L, containers
    at: datetime | None = None  # start of the shift or outage, when the ice or the rest of an order comes
    detail: str = ""  # formula that a pot is allowed for
    sentence: str
    effect_late_h: float = 0.0  # so many weighted hours less late
    effect_unserved: int = 0  # so many containers more are served
    lines_helped: tuple[str, ...] = ()
    differences: tuple[str, ...] = ()  # what the plan with it does otherwise, in sentences, the most important first
    more_differences: int = 0  # that are not told
    tried: bool = True  # or there was no time for it
    also: tuple[Fix, ...] = ()  # a second change, without which the first does not help

    @property
    def helps(self) -> bool:
        """Whether more is served, or as much and less late."""
        return self.effect_unserved > 0 or (self.effect_unserved == 0 and self.effect_late_h > 0)

    @property
    def needs_equipment(self) -> bool:
        """Whether it takes something that has to be bought, hired or allowed first."""
        return self.kind in EQUIPMENT or any(each.needs_equipment for each in self.also)


def apply_fix(week: Week, fix: Fix) -> Week:
    """The week with a change made.

    Equation: by its kind: a shift longer by hours, or all at both ends, a person more on a copied shift, places, a
        chiller, trays, power or room added, ice or goods brought, an outage taken away, a pot twice, a formula allowed,
        an order in two parts or later, or nothing; then the change that goes with it.
    Units: week, fix (records; amounts in the fix's unit); returns a record.
    Valid: a week that still has what the fix changes.
    Errors: PotwrightError `fix-out-of-date` when it has not.
    Source: own definition.
    """
    changed = _CHANGES[fix.kind](week, fix)
    if changed == week and fix.kind != NOTHING:
        raise PotwrightError(
            "This proposal no longer fits the week: what it would change is not there any more.",
            code="fix-out-of-date",
            numbers={"kind": fix.kind, "target": fix.target},
            remedy="Look for fixes again on the newest plan.",
        )
    for more in fix.also:
        changed = apply_fix(changed, more)
    return changed


def _entries(week: Week, kind: str, fits: Callable[[Any], bool], change: Callable[[Any], Any]) -> Week:
    """The week with the fitting entries of one list changed."""
    changed: dict[str, Any] = {kind: tuple(change(each) if fits(each) else each for each in getattr(week, kind))}
    return replace(week, **changed)


def _is(fix: Fix) -> Callable[[Any], bool]:
    return lambda entry: entry.code == fix.target


def _its_shift(fix: Fix) -> Callable[[Any], bool]:
    return lambda shift: shift.person == fix.target and shift.start == fix.at


def free_code(codes: Iterable[str], wanted: str) -> str:
    """A code that is not taken: the wanted one, or with the next number behind it.

    Equation: wanted, wanted-2, wanted-3, …
    Units: no quantities; codes, wanted (words); returns a word.
    Valid: any codes.
    Errors: none.
    Source: own definition.
    """
    taken = set(codes)
    number = 1
    while (code := wanted if number == 1 else f"{wanted}-{number}") in taken:
        number += 1
    return code


def _ends_later(week: Week, fix: Fix) -> Week:
    longer = timedelta(hours=fix.amount)
    return _entries(week, "shifts", _its_shift(fix), lambda shift: replace(shift, end=shift.end + longer))


def _starts_earlier(week: Week, fix: Fix) -> Week:
    longer = timedelta(hours=fix.amount)
    return _entries(week, "shifts", _its_shift(fix), lambda shift: replace(shift, start=shift.start - longer))


def _all_longer(week: Week, fix: Fix) -> Week:
    longer = timedelta(hours=fix.amount)
    return _entries(
        week,
        "shifts",
        lambda shift: fix.at is None or shift.start >= fix.at,
        lambda shift: replace(shift, start=shift.start - longer, end=shift.end + longer),
    )


def _more_cooks(week: Week, fix: Fix) -> Week:
    copied = next((shift for shift in week.shifts if _its_shift(fix)(shift)), None)
    if copied is None:
        return week
    code = free_code((person.code for person in week.people), "extra")
    return replace(
        week,
        people=(*week.people, Person(code=code, name="Extra cook")),
        shifts=(*week.shifts, Shift(person=code, start=copied.start, end=copied.end)),
    )


def _cooling_places(week: Week, fix: Fix) -> Week:
    more = round(fix.amount)
    return _entries(week, "cooling_devices", _is(fix), lambda device: replace(device, places=device.places + more))


def _chiller(week: Week, fix: Fix) -> Week:
    """A blast chiller with its shallow pans, as they are hired out (a common size, no source)."""
    pan = free_code((each.code for each in week.containers), "chiller-pan")
    code = free_code((each.code for each in week.cooling_devices), fix.target)
    return replace(
        week,
        containers=(
            *week.containers,
            Container(
                code=pan,
                name="Shallow pan, 65 mm",
                shape="box",
                material="steel",
                length_mm=530.0,
                width_mm=325.0,
                height_mm=65.0,
                brim_l=9.0,
            ),
        ),
        cooling_devices=(
            *week.cooling_devices,
            CoolingDevice(
                code=code,
                name="Hired blast chiller",
                kind="blast_chiller",
                vessel=pan,
                places=10,
                vessel_fill_l=5.0,
                stirred=False,
                rated_kg=fix.amount,
                rated_from_c=70.0,
                rated_to_c=3.0,
                rated_min=90.0,
                power_kw=12.0,
                air_temp_c=-4.0,
            ),
        ),
    )


def _ice(week: Week, fix: Fix) -> Week:
    if fix.at is None or week.ice_machine is None:
        return week
    code = free_code((each.code for each in week.ice_deliveries), "ice")
    return replace(week, ice_deliveries=(*week.ice_deliveries, IceDelivery(code=code, at=fix.at, mass_kg=fix.amount)))


def _outage(week: Week, fix: Fix) -> Week:
    return _entries(
        week,
        "pots",
        _is(fix),
        lambda pot: replace(pot, outages=tuple(outage for outage in pot.outages if outage.start != fix.at)),
    )


def _pot_like(week: Week, fix: Fix) -> Week:
    """The same pot once more, on a heat source like its own."""
    like = next((pot for pot in week.pots if pot.code == fix.target), None)
    if like is None:
        return week
    source = next(each for each in week.heat_sources if each.code == like.heat_source)
    source_code = free_code((each.code for each in week.heat_sources), f"{source.code}-more")
    code = free_code((pot.code for pot in week.pots), f"{like.code}-more")
    return replace(
        week,
        heat_sources=(*week.heat_sources, replace(source, code=source_code, name=f"{source.name}, one more")),
        pots=(
            *week.pots,
            replace(like, code=code, name=f"{like.name}, one more", heat_source=source_code, outages=()),
        ),
    )


def _pot_allowed(week: Week, fix: Fix) -> Week:
    return _entries(
        week,
        "pots",
        lambda pot: pot.code == fix.target and pot.formulas and fix.detail not in pot.formulas,
        lambda pot: replace(pot, formulas=(*pot.formulas, fix.detail)),
    )


def _trays(week: Week, fix: Fix) -> Week:
    more = round(fix.amount)
    return _entries(week, "cube_trays", _is(fix), lambda tray: replace(tray, trays=tray.trays + more))


def _heat_supply(week: Week, fix: Fix) -> Week:
    return _entries(
        week,
        "heat_supplies",
        _is(fix),
        lambda supply: replace(supply, capacity_kw=supply.capacity_kw + fix.amount),
    )


def _store_room(week: Week, fix: Fix) -> Week:
    """So many litres more that can be filled, as they would be in the store itself."""
    return _entries(
        week,
        "stores",
        _is(fix),
        lambda store: replace(store, volume_l=store.volume_l + fix.amount / store.usable_share),
    )


def _goods(week: Week, fix: Fix) -> Week:
    if all(each.code != fix.target for each in week.ingredients):
        return week
    code = free_code((each.code for each in week.ingredient_stock), f"{fix.target}-fetched")
    last_day = week.starts_on + timedelta(days=week.days - 1)
    fetched = IngredientStock(code=code, ingredient=fix.target, mass_kg=fix.amount, use_by=last_day)
    return replace(week, ingredient_stock=(*week.ingredient_stock, fetched))


def _split(week: Week, fix: Fix) -> Week:
    """So many containers leave at the dispatch, the rest at the later time."""
    line = next((each for each in week.order_lines if each.code == fix.target), None)
    first = round(fix.amount)
    if line is None or fix.at is None or not 0 < first < line.containers:
        return week
    code = free_code((each.code for each in week.order_lines), f"{line.code}-rest")
    parts = (
        replace(line, containers=first),
        replace(line, code=code, containers=line.containers - first, dispatch_at=fix.at),
    )
    lines = [part for each in week.order_lines for part in (parts if each.code == fix.target else (each,))]
    return replace(week, order_lines=tuple(lines))


def _later(week: Week, fix: Fix) -> Week:
    later = timedelta(hours=fix.amount)
    return _entries(week, "order_lines", _is(fix), lambda line: replace(line, dispatch_at=line.dispatch_at + later))


_CHANGES: dict[str, Callable[[Week, Fix], Week]] = {
    LONGER_LATER: _ends_later,
    LONGER_EARLIER: _starts_earlier,
    LONGER_ALL: _all_longer,
    MORE_COOKS: _more_cooks,
    COOLING_PLACES: _cooling_places,
    CHILLER: _chiller,
    ICE: _ice,
    OUTAGE: _outage,
    POT_LIKE: _pot_like,
    POT_ALLOWED: _pot_allowed,
    TRAYS: _trays,
    HEAT_SUPPLY: _heat_supply,
    STORE_ROOM: _store_room,
    GOODS: _goods,
    SPLIT: _split,
    LATER: _later,
    NOTHING: lambda week, _: week,
}
