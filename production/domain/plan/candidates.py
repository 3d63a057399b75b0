"""Which changes of a week are worth trying out, from what holds up its late and unserved orders."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from production.domain.kitchen import OrderLine, Pot, Shift, Week
from production.domain.plan import changes
from production.domain.plan.changes import Fix
from production.domain.plan.clock import clock_text, spell_text
from production.domain.plan.content import LateLine, Plan, Unserved
from production.domain.plan.equipment import equipment_for
from production.domain.plan.needs import Needs, needs_of
from production.domain.purchasing import trimmed_to_bought_kg
from production.domain.schedule.book import COOKS, COOLING, HEAT, HOURS, ICE, INGREDIENTS, POTS, STORAGE, TRAYS
from production.domain.schedule.reasons import TIME

GRID = timedelta(minutes=5)  # in which shifts are made longer; reasons tell hours to two decimals
SHIFT_H = (1.0, 2.0)
LONGEST_SHIFT_H = 16  # as the week's reader has it
ICE_KG = (50.0, 100.0, 200.0)
SPARE_SHARE = 0.1  # more is fetched than is missing: trimmings and rounding (own choice)
DAYS_AFTER = 3  # a dispatch may lie so many days behind the week, as its reader has it


def candidates_of(plan: Plan) -> tuple[Fix, ...]:
    """Changes to try out, the most promising first; what each does is not known yet.

    Equation: first what the reasons of late and unserved lines name and what the runs along their critical chains wait
        for, at the very pot, device, supply, store or hour; then changes that could help any line; of each kind one
        after another.
    Units: no quantities; plan (record); returns records with the fix's amounts.
    Valid: plans with late or unserved lines; none for others.
    Errors: none.
    Source: own definition.
    """
    need = needs_of(plan)
    if not need.lines:
        return ()
    week, equipment = plan.week, equipment_for(need)
    kinds: dict[str, list[Iterable[Fix]]] = {
        INGREDIENTS: [_goods(need)],
        COOLING: [*equipment[COOLING]],
        ICE: [_ice(need)],
        POTS: [_outages(week), *equipment[POTS]],
        TRAYS: [*equipment[TRAYS]],
        HEAT: [*equipment[HEAT]],
        STORAGE: [*equipment[STORAGE]],
        COOKS: [_cooks(need)],
        HOURS: [_all_shifts(need), _shifts(need), _cooks(need)],
        TIME: [_split(plan), _later(plan)],
    }
    order = [*dict.fromkeys(each for each in need.resources if each in kinds), *kinds]
    found = [list(group) for kind in dict.fromkeys(order) for group in kinds[kind]]
    mixed = [fix for turn in itertools.zip_longest(*found) for fix in turn if fix is not None]
    return tuple({(fix.kind, fix.target, fix.amount, fix.at, fix.detail): fix for fix in mixed}.values())


def _shifts_before(need: Needs) -> list[Shift]:
    """Shifts of the days in need that are not over when planning starts, the nearest to where chains are held first."""
    found = [
        shift
        for shift in need.plan.week.shifts
        if shift.end > need.plan.week.plan_from
        and any(end - timedelta(days=1) <= shift.start < end or shift.start < end <= shift.end for end in need.days)
    ]
    held_at = [wait.until_at for wait in need.waits if wait.resource in (COOKS, HOURS)]
    return sorted(found, key=lambda shift: min((_apart(shift, at) for at in held_at), default=timedelta()))


def _apart(shift: Shift, at: datetime) -> timedelta:
    """How far a moment lies outside a shift."""
    return max(shift.start - at, at - shift.end, timedelta())


def _clock(week: Week, at: datetime) -> str:
    return clock_text(at, ZoneInfo(week.kitchen.time_zone))


def _name(week: Week, kind: str, code: str) -> str:
    name: str = week.get(kind, code).name
    return name


# Hands and hours


def _shifts(need: Needs) -> Iterator[Fix]:
    """Longer shifts; of people who work the same hours the first who is free."""
    told: set[tuple[str, datetime, datetime, float]] = set()
    for hours in SHIFT_H:
        for shift in _shifts_before(need):
            for fix in _longer(need.plan.week, shift, hours):
                same = (fix.kind, shift.start, shift.end, hours)
                if same not in told:
                    told.add(same)
                    yield fix


def _all_shifts(need: Needs) -> Iterator[Fix]:
    """All shifts that are still to come longer at both ends, by as much as a reason names, where people can be."""
    week = need.plan.week
    for missing_h in need.missing(HOURS, "h"):
        longer = GRID * math.ceil(round(timedelta(hours=missing_h) / GRID, 1))
        coming = [shift for shift in week.shifts if shift.start - longer >= week.plan_from]
        if coming and all(_can_be_longer(week, shift, longer) for shift in coming):
            what = f"Every shift from {_clock(week, coming[0].start)} longer by {_spelled(longer)} at both ends."
            yield _fix(
                changes.LONGER_ALL, "", longer / timedelta(hours=1), "h", what, at=min(shift.start for shift in coming)
            )


def _spelled(span: timedelta) -> str:
    return spell_text(span / timedelta(minutes=1))


def _can_be_longer(week: Week, shift: Shift, longer: timedelta) -> bool:
    start, end = shift.start - longer, shift.end + longer
    others = [each for each in week.shifts if each.person == shift.person and each != shift]
    apart = all(each.end + longer <= start or end <= each.start - longer for each in others)
    return apart and end - start <= timedelta(hours=LONGEST_SHIFT_H)


def _longer(week: Week, shift: Shift, hours: float) -> Iterator[Fix]:
    """A shift that begins earlier, and one that ends later, where the person is free then."""
    who, longer = _name(week, "people", shift.person), timedelta(hours=hours)
    if shift.end - shift.start + longer > timedelta(hours=LONGEST_SHIFT_H):
        return
    if _is_free(week, shift, shift.start - longer, shift.start) and shift.start - longer >= week.plan_from:
        what = f"{who} starts at {_clock(week, shift.start - longer)}."
        yield _fix(changes.LONGER_EARLIER, shift.person, hours, "h", what, at=shift.start)
    if _is_free(week, shift, shift.end, shift.end + longer):
        what = f"{who} stays until {_clock(week, shift.end + longer)}."
        yield _fix(changes.LONGER_LATER, shift.person, hours, "h", what, at=shift.start)


def _is_free(week: Week, shift: Shift, start: datetime, end: datetime) -> bool:
    others = [each for each in week.shifts if each.person == shift.person and each != shift]
    return all(each.end <= start or end <= each.start for each in others)


def _cooks(need: Needs) -> Iterator[Fix]:
    """One more cook in each shift, once where several people work it."""
    week = need.plan.week
    told: set[tuple[datetime, datetime]] = set()
    for shift in _shifts_before(need):
        if shift.start >= week.plan_from and (shift.start, shift.end) not in told:
            told.add((shift.start, shift.end))
            when = f"from {_clock(week, shift.start)} to {_clock(week, shift.end)}"
            yield _fix(changes.MORE_COOKS, shift.person, 1.0, "cooks", f"One more cook {when}.", at=shift.start)


# Ice, and pots that come back


def _ice(need: Needs) -> Iterator[Fix]:
    week = need.plan.week
    if week.ice_machine is None:
        return
    starts = sorted({shift.start for shift in _shifts_before(need) if shift.start >= week.plan_from})
    for mass_kg in dict.fromkeys(min(each, week.ice_machine.bin_kg) for each in ICE_KG):
        for start in starts:
            at = start + timedelta(hours=3)
            what = f"{mass_kg:.0f} kg of ice bought in, in the bin by {_clock(week, at)}."
            yield _fix(changes.ICE, "", mass_kg, "kg", what, at=at)


def _outages(week: Week) -> Iterator[Fix]:
    for pot in week.pots:
        for outage in pot.outages:
            if outage.end > week.plan_from:
                what = f"{pot.name} back in use from {_clock(week, outage.start)} on."
                yield _fix(changes.OUTAGE, pot.code, 1.0, "pots", what, at=outage.start)


# Goods


def _goods(need: Needs) -> Iterator[Fix]:
    """What runs of the formulas in need, or along the chains, wait for, fetched before anything starts."""
    plan = need.plan
    week = plan.week
    products = {product.code: product for product in week.products}
    trim = {each.code: each.trim_yield_share for each in week.ingredients}
    masses: dict[str, float] = {}
    for each in plan.unserved:
        if each.resource == INGREDIENTS:
            for code, mass_kg in _asked_for(week, products[each.product].formula, each, products[each.product].net_l):
                masses[code] = masses.get(code, 0.0) + mass_kg
    waiting = {each.run for each in plan.late if each.resource == INGREDIENTS}
    waiting |= {wait.run for wait in need.waits if wait.resource == INGREDIENTS}
    for run in plan.runs:
        for part in run.sourced if run.code in waiting else ():
            if part.to_buy_kg > 0:
                masses[part.ingredient] = masses.get(part.ingredient, 0.0) + part.to_buy_kg
    for code, mass_kg in masses.items():
        bought_kg = trimmed_to_bought_kg(ready_kg=mass_kg * (1 + SPARE_SHARE), trim_yield_share=trim[code])
        bought_kg = math.ceil(10 * bought_kg) / 10
        what = f"{bought_kg:g} kg of {_name(week, 'ingredients', code)} fetched before the work starts."
        yield _fix(changes.GOODS, code, bought_kg, "kg", what)


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
            yield _fix(changes.LATER, code, hours, "h", what)


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
            yield _fix(changes.SPLIT, code, float(in_time), "containers", what, at=at)


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


def _fix(kind: str, target: str, amount: float, unit: str, sentence: str, *, at: datetime | None = None) -> Fix:
    return Fix(kind=kind, target=target, amount=amount, unit=unit, sentence=sentence, at=at)
