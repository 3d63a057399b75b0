"""Which changes of a week are worth trying out, from what holds up its late and unserved orders."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from production.domain.formula import pot_allowed
from production.domain.kitchen import OrderLine, Pot, Shift, Week
from production.domain.plan.changes import (
    CHILLER,
    COOLING_PLACES,
    GOODS,
    ICE,
    LATER,
    LONGER_EARLIER,
    LONGER_LATER,
    MORE_COOKS,
    OUTAGE,
    POT_ALLOWED,
    POT_LIKE,
    SPLIT,
    TRAYS,
    Fix,
)
from production.domain.plan.clock import clock_text
from production.domain.plan.content import LateLine, Plan, Unserved
from production.domain.purchasing import trimmed_to_bought_kg

DAYS_BEFORE = 2  # days before a dispatch on which more would help (own choice)
SHIFT_H = (1.0, 2.0)
LONGEST_SHIFT_H = 16  # as the week's reader has it
CHILLER_KG = 60.0  # rated load of the chiller that is proposed (own choice)
ICE_KG = (50.0, 100.0, 200.0)
SPARE_SHARE = 0.1  # more is fetched than is missing: trimmings and rounding (own choice)
DAYS_AFTER = 3  # a dispatch may lie so many days behind the week, as its reader has it
_Lines = list[OrderLine]


def candidates_of(plan: Plan) -> tuple[Fix, ...]:
    """Changes to try out, the most promising first; what each does is not known yet.

    Equation: what holds up a line comes first (hours and hands, cooling, ice, pots, trays, ingredients), then changes
        that could help any line; of each kind one after another.
    Units: no quantities; plan (record); returns records with the fix's amounts.
    Valid: plans with late or unserved lines; none for others.
    Errors: none.
    Source: own definition.
    """
    lines = _lines_in_need(plan)
    if not lines:
        return ()
    resources = [*(each.resource for each in plan.unserved), *(each.resource for each in plan.late)]
    kinds = {
        "ingredients": [_goods(plan)],
        "cooling": [_cooling(plan), _chiller()],
        "ice": [_ice(plan.week, _days(plan, lines))],
        "pots": [_outages(plan.week), _allowed(plan, lines), _pots_like(plan, lines)],
        "trays": [_trays(plan)],
        "cooks": [_cooks(plan.week, _days(plan, lines))],
        "hours": [_shifts(plan.week, _days(plan, lines)), _cooks(plan.week, _days(plan, lines))],
        "time": [_split(plan), _later(plan)],
    }
    order = [*dict.fromkeys(each for each in resources if each in kinds), *(each for each in kinds)]
    found = [list(group) for kind in dict.fromkeys(order) for group in kinds[kind]]
    mixed = [fix for turn in itertools.zip_longest(*found) for fix in turn if fix is not None]
    return tuple({(fix.kind, fix.target, fix.amount, fix.at, fix.detail): fix for fix in mixed}.values())


def _lines_in_need(plan: Plan) -> _Lines:
    codes = {each.line for each in plan.unserved} | {each.line for each in plan.late}
    return [line for line in plan.week.order_lines if line.code in codes]


def _days(plan: Plan, lines: _Lines) -> tuple[datetime, ...]:
    """Windows of a day that lie before the dispatches in need, latest first: each as its end."""
    ends = {
        line.dispatch_at - timedelta(days=back)
        for line in lines
        for back in range(DAYS_BEFORE)
        if line.dispatch_at - timedelta(days=back) > plan.week.plan_from
    }
    return tuple(sorted(ends))


def _shifts_before(week: Week, ends: Iterable[datetime]) -> list[Shift]:
    """Shifts that begin in the day before one of the moments and are not over when planning starts."""
    return [
        shift
        for shift in week.shifts
        if shift.end > week.plan_from
        and any(end - timedelta(days=1) <= shift.start < end or shift.start < end <= shift.end for end in ends)
    ]


def _clock(week: Week, at: datetime) -> str:
    return clock_text(at, ZoneInfo(week.kitchen.time_zone))


def _name(week: Week, kind: str, code: str) -> str:
    name: str = week.get(kind, code).name
    return name


# Hands and hours


def _shifts(week: Week, ends: tuple[datetime, ...]) -> Iterator[Fix]:
    for hours in SHIFT_H:
        for shift in _shifts_before(week, ends):
            who = _name(week, "people", shift.person)
            longer = timedelta(hours=hours)
            if shift.end - shift.start + longer > timedelta(hours=LONGEST_SHIFT_H):
                continue
            if _is_free(week, shift, shift.start - longer, shift.start) and shift.start - longer >= week.plan_from:
                start = _clock(week, shift.start - longer)
                yield _fix(LONGER_EARLIER, shift.person, hours, "h", f"{who} starts at {start}.", at=shift.start)
            if _is_free(week, shift, shift.end, shift.end + longer):
                end = _clock(week, shift.end + longer)
                yield _fix(LONGER_LATER, shift.person, hours, "h", f"{who} stays until {end}.", at=shift.start)


def _is_free(week: Week, shift: Shift, start: datetime, end: datetime) -> bool:
    others = [each for each in week.shifts if each.person == shift.person and each != shift]
    return all(each.end <= start or end <= each.start for each in others)


def _cooks(week: Week, ends: tuple[datetime, ...]) -> Iterator[Fix]:
    for shift in _shifts_before(week, ends):
        if shift.start >= week.plan_from:
            when = f"from {_clock(week, shift.start)} to {_clock(week, shift.end)}"
            yield _fix(MORE_COOKS, shift.person, 1.0, "cooks", f"One more cook {when}.", at=shift.start)


# Cooling and ice


def _cooling(plan: Plan) -> Iterator[Fix]:
    week = plan.week
    missing_l = max(
        (each.missing for each in plan.unserved if each.resource == "cooling" and each.unit == "L"), default=0
    )
    for device in week.cooling_devices:
        needed = math.ceil(missing_l / device.vessel_fill_l)
        for places in sorted({1, 2, 4, *([needed, needed + 1] if needed else [])}):
            what = f"{places} more place{'' if places == 1 else 's'} in {device.name}."
            yield _fix(COOLING_PLACES, device.code, float(places), "places", what)


def _chiller() -> Iterator[Fix]:
    what = f"A blast chiller for {CHILLER_KG:.0f} kg, with shallow pans, hired or bought."
    yield _fix(CHILLER, "hired-chiller", CHILLER_KG, "kg", what)


def _ice(week: Week, ends: tuple[datetime, ...]) -> Iterator[Fix]:
    if week.ice_machine is None:
        return
    starts = sorted({shift.start for shift in _shifts_before(week, ends) if shift.start >= week.plan_from})
    for mass_kg in dict.fromkeys(min(each, week.ice_machine.bin_kg) for each in ICE_KG):
        for start in starts:
            at = start + timedelta(hours=3)
            what = f"{mass_kg:.0f} kg of ice bought in, in the bin by {_clock(week, at)}."
            yield _fix(ICE, "", mass_kg, "kg", what, at=at)


# Pots and trays


def _outages(week: Week) -> Iterator[Fix]:
    for pot in week.pots:
        for outage in pot.outages:
            if outage.end > week.plan_from:
                what = f"{pot.name} back in use from {_clock(week, outage.start)} on."
                yield _fix(OUTAGE, pot.code, 1.0, "pots", what, at=outage.start)


def _formulas(plan: Plan, lines: _Lines) -> list[str]:
    products = {product.code: product for product in plan.week.products}
    return list(dict.fromkeys(products[line.product].formula for line in lines))


def _allowed(plan: Plan, lines: _Lines) -> Iterator[Fix]:
    for code in _formulas(plan, lines):
        formula = plan.week.get("formulas", code)
        for pot in plan.week.pots:
            if not pot.reduction_pan and not pot_allowed(formula=formula, pot=pot):
                what = f"{formula.name} allowed in {pot.name}, with the clean that its allergens ask for."
                yield _fix(POT_ALLOWED, pot.code, 1.0, "pots", what, detail=code)


def _pots_like(plan: Plan, lines: _Lines) -> Iterator[Fix]:
    formulas = [plan.week.get("formulas", code) for code in _formulas(plan, lines)]
    fitting = [
        pot
        for pot in plan.week.pots
        if pot.reduction_pan or any(pot_allowed(formula=formula, pot=pot) for formula in formulas)
    ]
    for pot in sorted({_kind(pot): pot for pot in fitting}.values(), key=lambda pot: -pot.inner_diameter_mm):
        yield _fix(POT_LIKE, pot.code, 1.0, "pots", f"One more pot like {pot.name}, with its own heat source.")


def _kind(pot: Pot) -> tuple[float, float, bool]:
    return pot.inner_diameter_mm, pot.inner_height_mm, pot.reduction_pan


def _trays(plan: Plan) -> Iterator[Fix]:
    missing = [math.ceil(each.missing) for each in plan.unserved if each.resource == "trays"]
    for tray in plan.week.cube_trays:
        for count in sorted({*missing, tray.trays} - {0}):
            yield _fix(TRAYS, tray.code, float(count), "trays", f"{count} more trays of {tray.name}.")


# Goods


def _goods(plan: Plan) -> Iterator[Fix]:
    """What runs of the formulas in need are made of, fetched before anything starts; once by itself, once all."""
    week = plan.week
    products = {product.code: product for product in week.products}
    trim = {each.code: each.trim_yield_share for each in week.ingredients}
    masses: dict[str, float] = {}
    for each in plan.unserved:
        if each.resource == "ingredients":
            for code, mass_kg in _asked_for(week, products[each.product].formula, each, products[each.product].net_l):
                masses[code] = masses.get(code, 0.0) + mass_kg
    waiting = {each.run for each in plan.late if each.resource == "ingredients"}
    for run in plan.runs:
        for part in run.sourced if run.code in waiting else ():
            if part.to_buy_kg > 0:
                masses[part.ingredient] = masses.get(part.ingredient, 0.0) + part.to_buy_kg
    for code, mass_kg in masses.items():
        bought_kg = trimmed_to_bought_kg(ready_kg=mass_kg * (1 + SPARE_SHARE), trim_yield_share=trim[code])
        bought_kg = math.ceil(10 * bought_kg) / 10
        what = f"{bought_kg:g} kg of {_name(week, 'ingredients', code)} fetched before the work starts."
        yield _fix(GOODS, code, bought_kg, "kg", what)


def _asked_for(week: Week, formula_code: str, unserved: Unserved, net_l: float) -> Iterable[tuple[str, float]]:
    """Masses for the containers of an unserved line, at the formula's ratio: every litre drawn takes 1 kg of water."""
    formula = week.get("formulas", formula_code)
    least_l = max(unserved.containers * net_l, min((pot_l(pot) for pot in week.pots), default=0.0))
    solids_kg = 1.5 * least_l / formula.water_kg_per_kg_solids
    for solid in formula.solids:
        yield solid.ingredient, solids_kg * solid.share
    for addition in formula.additions:
        yield addition.ingredient, solids_kg * addition.kg_per_kg_solids


def pot_l(pot: Pot) -> float:
    """Litres of water in a pot at its least fill.

    Equation: pi/4 d2 h x least fill.
    Units: pot (record; [mm]); returns [L].
    Valid: any pot.
    Errors: none.
    Source: volume of a cylinder.
    """
    return math.pi / 4 * pot.inner_diameter_mm**2 * pot.inner_height_mm * pot.min_fill_share / 1e6


# Orders


def _ready(plan: Plan) -> dict[str, datetime]:
    ready: dict[str, datetime] = {}
    for late in plan.late:
        ready[late.line] = max(late.ready_at, ready.get(late.line, late.ready_at))
    return ready


def _next_hour(at: datetime) -> datetime:
    return (at + timedelta(minutes=59)).replace(minute=0, second=0, microsecond=0)


def _last_dispatch(week: Week) -> datetime:
    zone = ZoneInfo(week.kitchen.time_zone)
    last = week.starts_on + timedelta(days=week.days + DAYS_AFTER)
    return datetime(last.year, last.month, last.day, tzinfo=zone)


def _later(plan: Plan) -> Iterator[Fix]:
    for code, ready_at in _ready(plan).items():
        line = plan.week.get("order_lines", code)
        at = _next_hour(ready_at)
        if at < _last_dispatch(plan.week):
            hours = (at - line.dispatch_at) / timedelta(hours=1)
            what = f"{code} ({_name(plan.week, 'outlets', line.outlet)}) leaves at {_clock(plan.week, at)} instead."
            yield _fix(LATER, code, hours, "h", what)


def _split(plan: Plan) -> Iterator[Fix]:
    short = {each.line for each in plan.unserved}
    for code, ready_at in _ready(plan).items():
        line = plan.week.get("order_lines", code)
        late = [each for each in plan.late if each.line == code]
        in_time = line.containers - _containers_of(plan, line, late)
        at = _next_hour(ready_at)
        if code not in short and 0 < in_time < line.containers and at < _last_dispatch(plan.week):
            what = (
                f"{code} ({_name(plan.week, 'outlets', line.outlet)}) in two parts: {in_time} containers as ordered, "
                f"the rest at {_clock(plan.week, at)}."
            )
            yield _fix(SPLIT, code, float(in_time), "containers", what, at=at)


def _containers_of(plan: Plan, line: OrderLine, late: list[LateLine]) -> int:
    """Containers of a line in the draws that are late for it."""
    late_runs = {each.run: each.ready_at for each in late}
    total = 0
    for run in plan.runs:
        if run.code in late_runs:
            for draw in run.draws:
                portions = run.batch.first if draw.name == "first" else run.batch.reduction
                if draw.ready_at > line.dispatch_at:
                    total += sum(peg.containers for each in portions for peg in each.pegs if peg.line == line.code)
    return total


def _fix(
    kind: str, target: str, amount: float, unit: str, sentence: str, *, at: datetime | None = None, detail: str = ""
) -> Fix:
    return Fix(kind=kind, target=target, amount=amount, unit=unit, sentence=sentence, at=at, detail=detail)
