"""Changes worth trying out that take other equipment: cooling, pots, trays, power and room."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping

from production.domain.formula import pot_allowed
from production.domain.kitchen import Pot
from production.domain.plan.changes import (
    CHILLER,
    COOLING_PLACES,
    HEAT_SUPPLY,
    POT_ALLOWED,
    POT_LIKE,
    STORE_ROOM,
    TRAYS,
    Fix,
)
from production.domain.plan.needs import Needs
from production.domain.schedule import book

CHILLER_KG = 60.0  # rated load of the chiller that is proposed (own choice)
MORE_SHARE = 0.5  # half as much again is tried (own choice)


def equipment_for(need: Needs) -> Mapping[str, list[Iterable[Fix]]]:
    """More of each thing that a kitchen may be short of, as much as the reasons say or a usual amount.

    Equation: by resource; what is waited for along the chains first, of it the least that the reasons tell and more.
    Units: need (record); returns records with the fix's amounts, by resource.
    Valid: any plan.
    Errors: none.
    Source: own definition.
    """
    return {
        book.COOLING: [_cooling(need), _chiller()],
        book.POTS: [_allowed(need), _pots_like(need)],
        book.TRAYS: [_trays(need)],
        book.HEAT: [_heat(need)],
        book.STORAGE: [_room(need)],
    }


def _cooling(need: Needs) -> Iterator[Fix]:
    missing_l = max(need.missing(book.COOLING, "L"), default=0.0)
    for device in need.waited_for_first(book.COOLING, need.plan.week.cooling_devices):
        vessels = math.ceil(missing_l / device.vessel_fill_l)
        steps = {1, 2, 4, *_told(need, book.COOLING, "places"), *([vessels, vessels + 1] if vessels else [])}
        for places in sorted(steps):
            what = f"{places} more place{'' if places == 1 else 's'} in {device.name}."
            yield _fix(COOLING_PLACES, device.code, places, "places", what)


def _told(need: Needs, resource: str, unit: str) -> list[int]:
    """The largest amounts that reasons name, as whole numbers."""
    return [math.ceil(each) for each in need.missing(resource, unit)][-2:]


def _chiller() -> Iterator[Fix]:
    what = f"A blast chiller for {CHILLER_KG:.0f} kg, with shallow pans, hired or bought."
    yield _fix(CHILLER, "hired-chiller", CHILLER_KG, "kg", what)


def _allowed(need: Needs) -> Iterator[Fix]:
    """Each formula in need in one pot of each kind that is closed to it."""
    for formula in need.formulas:
        closed = [
            pot for pot in need.plan.week.pots if not pot.reduction_pan and not pot_allowed(formula=formula, pot=pot)
        ]
        for pot in _of_each_kind(closed):
            what = f"{formula.name} allowed in {pot.name}, with the clean that its allergens ask for."
            yield _fix(POT_ALLOWED, pot.code, 1, "pots", what, detail=formula.code)


def _pots_like(need: Needs) -> Iterator[Fix]:
    """One of each kind of pot, the kinds that are waited for first, then the widest."""
    fitting = [
        pot
        for pot in sorted(need.plan.week.pots, key=lambda pot: -pot.inner_diameter_mm)
        if pot.reduction_pan or any(pot_allowed(formula=formula, pot=pot) for formula in need.formulas)
    ]
    for pot in _of_each_kind(need.waited_for_first(book.POTS, fitting)):
        yield _fix(POT_LIKE, pot.code, 1, "pots", f"One more pot like {pot.name}, with its own heat source.")


def _of_each_kind(pots: Iterable[Pot]) -> Iterable[Pot]:
    """The first of each size of pot or pan."""
    kinds: dict[tuple[float, float, bool], Pot] = {}
    for pot in pots:
        kinds.setdefault((pot.inner_diameter_mm, pot.inner_height_mm, pot.reduction_pan), pot)
    return kinds.values()


def _trays(need: Needs) -> Iterator[Fix]:
    for tray in need.waited_for_first(book.TRAYS, need.plan.week.cube_trays):
        for count in sorted({*_told(need, book.TRAYS, "trays"), tray.trays} - {0}):
            what = f"{count} more cube tray{'' if count == 1 else 's'} ({tray.name})."
            yield _fix(TRAYS, tray.code, count, "trays", what)


def _heat(need: Needs) -> Iterator[Fix]:
    """As much power more as is missing, as one more pot at full setting takes, or half as much again as there is."""
    for supply in need.waited_for_first(book.HEAT, need.plan.week.heat_supplies):
        burners_kw = [each.input_kw for each in need.plan.week.heat_sources if each.supply == supply.code]
        usual_kw = {max(burners_kw, default=0.0), supply.capacity_kw * MORE_SHARE} - {0.0}
        for power_kw in sorted({*_told(need, book.HEAT, "kW"), *usual_kw}):
            yield _fix(HEAT_SUPPLY, supply.code, power_kw, "kW", f"{power_kw:g} kW more from {supply.name}.")


def _room(need: Needs) -> Iterator[Fix]:
    """As many litres more as are missing, or half as much again as there is."""
    for store in need.waited_for_first(book.STORAGE, need.plan.week.stores):
        half_l = math.ceil(store.volume_l * store.usable_share * MORE_SHARE)
        for room_l in sorted({*_told(need, book.STORAGE, "l"), half_l}):
            what = f"Room for {room_l} L more in {store.name}, cleared or hired."
            yield _fix(STORE_ROOM, store.code, room_l, "L", what)


def _fix(kind: str, target: str, amount: float, unit: str, sentence: str, *, detail: str = "") -> Fix:
    return Fix(kind=kind, target=target, amount=float(amount), unit=unit, sentence=sentence, detail=detail)
