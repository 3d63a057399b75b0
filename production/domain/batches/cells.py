"""What a run of a formula in a kind of pot is like, roughly: litres, energy, minutes, and its second draw."""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import datetime

from production.domain.errors import DoesNotFit, OutOfRange
from production.domain.formula import HAIR_L, Charge, charge_run, least_reduction_l, pot_ranges
from production.domain.kitchen import Formula, HeatSource, Outage, Pot, Week
from production.domain.parameters import ParameterSet

_NANO = 1e9
_INSIDE_L = 1e-3  # a second draw is looked at so far from the volume at which other pots take the run


@dataclass(frozen=True, slots=True, kw_only=True)
class PotKind:
    """Pots that are alike in everything but their code."""

    pots: tuple[str, ...]
    outages: tuple[Outage, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """Something that grows with the litres of a run."""

    base: float
    per_l: float

    def at(self, litres: float) -> float:
        """Its value for a run of so many litres."""
        return self.base + self.per_l * litres


NOTHING = Line(base=0.0, per_l=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Second:
    """What a second draw adds to a run whose first draw lies between two volumes."""

    smallest_l: float
    largest_l: float
    kwh: Line
    heat_up_h: float
    simmer_h: float
    draw_h: float
    reduce_h: float  # finishing included
    portion_h: float
    cook_h: float

    @property
    def held_h(self) -> float:
        """Hours that it holds the pot, at its shortest simmer."""
        return self.heat_up_h + self.simmer_h + self.draw_h + self.reduce_h + self.portion_h


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A formula in a kind of pot; times for a full pot and the shortest simmer."""

    formula: str
    kind: int  # place in the list of kinds
    smallest_l: float
    largest_l: float
    kwh: Line
    heat_up_h: float
    cook_h: float
    seconds: tuple[Second, ...]  # smallest first draw first

    def piece_at(self, litres: float) -> int | None:
        """Which of the second draws is that of a volume of first draw."""
        above = (n for n, each in enumerate(self.seconds) if litres <= each.largest_l + HAIR_L)
        return next(above, len(self.seconds) - 1 if self.seconds else None)

    def second_at(self, litres: float) -> Second | None:
        """What a second draw adds at a volume of first draw."""
        piece = self.piece_at(litres)
        return None if piece is None else self.seconds[piece]


def pot_kinds(*, week: Week) -> tuple[PotKind, ...]:
    """The kitchen's pots for stock, put together where they are alike.

    Equation: alike = same measures, least fill, formulas, heat source but for its code, and outages.
    Units: week (record); returns records.
    Valid: a week that passed its reader.
    Errors: none.
    Source: own definition.
    """
    sources = {each.code: each for each in week.heat_sources}
    found: dict[tuple[object, ...], list[Pot]] = {}
    for pot in week.pots:
        if not pot.reduction_pan:
            found.setdefault(_likeness(pot, sources[pot.heat_source]), []).append(pot)
    return tuple(
        PotKind(pots=tuple(pot.code for pot in pots), outages=tuple(_apart(pots[0].outages))) for pots in found.values()
    )


def _apart(outages: Iterable[Outage]) -> Iterable[Outage]:
    """The same times without a pot, each told once: of outages that overlap only what goes on longer."""
    until: datetime | None = None
    for each in sorted(outages, key=lambda each: each.start):
        if until is None or each.end > until:
            yield each if until is None else replace(each, start=max(each.start, until))
            until = each.end


def _likeness(pot: Pot, source: HeatSource) -> tuple[object, ...]:
    return (
        replace(pot, code="", name="", heat_source=""),
        replace(source, code="", name=""),
    )


@functools.lru_cache(maxsize=8)
def slim_week(week: Week) -> Week:
    """The week with one pot of each kind and without what no charge is reckoned from.

    Equation: charges depend on kitchen, pots, heat, ingredients and formulas alone.
    Units: week (record); returns a record.
    Valid: a week that passed its reader.
    Errors: none.
    Source: own definition.
    """
    first = {kind.pots[0] for kind in pot_kinds(week=week)}
    nothing: tuple[()] = ()
    return replace(
        week,
        pots=tuple(replace(pot, outages=()) for pot in week.pots if pot.code in first or pot.reduction_pan),
        cooling_devices=nothing,
        shifts=nothing,
        people=nothing,
        suppliers=nothing,
        offers=nothing,
        lots=nothing,
        ingredient_stock=nothing,
        saved_bones=nothing,
        outlets=nothing,
        order_lines=nothing,
        par_levels=nothing,
    )


def reduction_of_l(*, week: Week, parameters: ParameterSet, formula: Formula, drawn_l: float) -> float:
    """Litres of reduction that a run of this size gives at the least, worked out once for pots that are alike.

    Equation: least_reduction_l.
    Units: week, parameters, formula (records), drawn_l [L]; returns [L].
    Valid: formulas with a second draw.
    Errors: DoesNotFit `no-second-draw` for a formula without one.
    Source: as least_reduction_l.
    """
    return _reduction_of_l(slim_week(week), parameters, formula, round(drawn_l, 6))


@functools.lru_cache(maxsize=4096)
def _reduction_of_l(week: Week, parameters: ParameterSet, formula: Formula, drawn_l: float) -> float:
    return least_reduction_l(week=week, parameters=parameters, formula=formula, drawn_l=drawn_l)


def cells_of(*, week: Week, parameters: ParameterSet, formula: Formula, limit_l: float) -> tuple[Cell, ...]:
    """What runs of a formula are like in each kind of pot that can make it.

    Equation: charge_run at the least and the largest fill that can be cooled, straight lines between.
    Units: week, parameters, formula (records), limit_l [L] that can be cooled at once; returns records with L, kWh, h.
    Valid: a week that passed its reader.
    Errors: UnknownParameter for an unknown material.
    Source: as charge_run.
    """
    slim = slim_week(week)
    ranges = {each.pot: each for each in pot_ranges(week=slim, parameters=parameters, formula=formula)}
    cells = []
    for number, kind in enumerate(pot_kinds(week=week)):
        span = ranges.get(kind.pots[0])
        if span is None or span.smallest_l > limit_l + HAIR_L:
            continue
        ends = (span.smallest_l, min(span.largest_l, limit_l))
        cell = _cell(slim, parameters, formula, slim.get("pots", kind.pots[0]), number, ends)
        if cell is not None:
            cells.append(cell)
    return tuple(cells)


def _cell(
    week: Week, parameters: ParameterSet, formula: Formula, pot: Pot, number: int, ends: tuple[float, float]
) -> Cell | None:
    def charged(drawn_l: float, *, second: bool) -> Charge:
        return charge_run(
            week=week,
            parameters=parameters,
            formula=formula,
            pot=pot,
            drawn_l=drawn_l,
            simmer_h=formula.simmer_min_h,
            second=second,
            second_simmer_h=formula.second_draw.simmer_min_h if second and formula.second_draw else None,
        )

    source = week.get("heat_sources", pot.heat_source)
    full_kw = float(source.input_kw)
    try:
        plain = [charged(litres, second=False) for litres in ends]
    except (DoesNotFit, OutOfRange):
        return None
    tasks = week.kitchen.tasks
    return Cell(
        formula=formula.code,
        kind=number,
        smallest_l=ends[0],
        largest_l=ends[1],
        kwh=through(ends, [full_kw * each.heat_up_min / 60.0 + each.simmer_kw * each.simmer_h for each in plain]),
        heat_up_h=plain[1].heat_up_min / 60.0,
        cook_h=(
            tasks.load_min
            + tasks.skim_min
            + sum(each.cook_minutes for each in formula.additions)
            + tasks.draw_base_min
            + tasks.draw_min_per_l * ends[1]
            + tasks.wash_min
        )
        / 60.0,
        seconds=tuple(_seconds(week, parameters, formula, full_kw, ends, functools.partial(charged, second=True))),
    )


def _seconds(
    week: Week,
    parameters: ParameterSet,
    formula: Formula,
    full_kw: float,
    ends: tuple[float, float],
    charged: functools.partial[Charge],
) -> Iterable[Second]:
    """A piece for each stretch in which the same pots take the run: the least favourable of them counts."""
    if formula.second_draw is None or formula.reduction_bx is None:
        return
    ranges = pot_ranges(week=week, parameters=parameters, formula=formula)
    bounds = {bound for each in ranges for bound in (each.smallest_l, each.largest_l) if ends[0] < bound < ends[1]}
    for piece in itertools.pairwise(sorted({*ends, *bounds}) if ends[1] - ends[0] > HAIR_L else ends):
        second = _second(week, parameters, formula, full_kw, piece, charged)
        if second is not None:
            yield second


def _second(
    week: Week,
    parameters: ParameterSet,
    formula: Formula,
    full_kw: float,
    ends: tuple[float, float],
    charged: functools.partial[Charge],
) -> Second | None:
    gives = functools.partial(reduction_of_l, week=week, parameters=parameters, formula=formula)
    inside = min(_INSIDE_L, (ends[1] - ends[0]) / 4.0)
    least_l = _least_giving_l((ends[0] + inside, ends[1] - inside), lambda litres: gives(drawn_l=litres) > 0.0)
    if least_l is None or formula.second_draw is None:
        return None
    ends = (least_l, ends[1] - inside)
    try:
        charges = [charged(litres) for litres in ends]
    except (DoesNotFit, OutOfRange):
        return None
    made = [each.reduction for each in charges if each.reduction is not None]
    if len(made) < len(charges):
        return None
    tasks = week.kitchen.tasks
    energy = [
        full_kw * (each.second_heat_up_min + reduction.reduce_min) / 60.0
        + each.simmer_kw * (each.second_simmer_h or 0.0)
        for each, reduction in zip(charges, made, strict=True)
    ]
    return Second(
        smallest_l=least_l - inside,
        largest_l=ends[1] + inside,
        kwh=through(ends, energy),
        heat_up_h=charges[1].second_heat_up_min / 60.0,
        simmer_h=formula.second_draw.simmer_min_h,
        draw_h=(tasks.draw_base_min + tasks.draw_min_per_l * made[1].liquor.cold_l) / 60.0,
        reduce_h=max(made[1].reduce_min, tasks.finish_min) / 60.0,
        portion_h=(tasks.portion_base_min + tasks.portion_min_per_l * made[1].litres) / 60.0,
        cook_h=(
            tasks.refill_min
            + tasks.draw_base_min
            + tasks.draw_min_per_l * made[1].liquor.cold_l
            + tasks.finish_min
            + tasks.portion_base_min
            + tasks.portion_min_per_l * made[1].litres
        )
        / 60.0,
    )


def _least_giving_l(ends: tuple[float, float], gives: Callable[[float], bool]) -> float | None:
    """The least first draw that gives a reduction, to a sixteenth of the range."""
    low, high = ends
    if not gives(high):
        return None
    if gives(low):
        return low
    for _ in range(4):
        middle = (low + high) / 2.0
        low, high = (low, middle) if gives(middle) else (middle, high)
    return high


def through(at: tuple[float, float], values: list[float]) -> Line:
    """The straight line through two points.

    Equation: y = y1 + (x - x1) (y2 - y1) / (x2 - x1); level at the greater value where they lie above each other.
    Units: at [L], values (any quantity); returns a line in the same.
    Valid: two points.
    Errors: none.
    Source: geometry.
    """
    if at[1] - at[0] < HAIR_L:
        return Line(base=max(values), per_l=0.0)
    per_l = (values[1] - values[0]) / (at[1] - at[0])
    return Line(base=values[0] - per_l * at[0], per_l=per_l)


def common_l(sizes: Iterable[float]) -> float:
    """The largest measure of which every container holds a whole number, also where it is a quart.

    Equation: greatest common divisor, in billionths of a litre.
    Units: sizes [L]; returns [L].
    Valid: one size at least.
    Errors: none.
    Source: own definition.
    """
    return math.gcd(*(max(1, round(_NANO * size)) for size in sizes)) / _NANO
