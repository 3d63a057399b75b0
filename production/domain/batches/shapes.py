"""The shortest that a run can be in a kind of pot, part by part, and the most reduction that it can give."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from production.domain.batches.cells import Cell, Line, through
from production.domain.errors import DoesNotFit, OutOfRange
from production.domain.formula import HAIR_L, Charge, charge_run
from production.domain.kitchen import Formula, Pot, SecondDraw, TaskMinutes, Week
from production.domain.parameters import ParameterSet

HOLD_H = 5.0 / 60.0  # the shortest hot hold
_SAMPLES = 7  # fills at which a run is worked out where its containers allow more of them than (own choice)
_EVERY = 16
_BETWEEN_L = 1e-3  # that a curve may lie above its tangents between the fills looked at (0.0005 was seen)
_NEAR_L = 0.25  # two fills so near to each other show how steep a curve is between them (own choice)
_NANO = 1e9
_ROUNDING_L = 1e-5


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """First draws between two litres, and the reduction that comes of their second."""

    least_l: float
    most_l: float
    gives_l: float  # none gives more; where it is one fill only, it gives this
    liquor_l: float  # no second draw is less


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """The shortest second draw, from the end of the first on, and the most that it gives."""

    refill_h: Line  # refilling and heating up
    simmer_h: float
    simmer_most_h: float
    draw_h: Line
    reduce_h: Line  # boiling down, finishing and portioning
    gives: tuple[Line, ...]  # litres of reduction: no more than any of them says
    surely: tuple[Line, ...]  # litres of reduction: as much as all of them say, from a fill on
    surely_from_l: float
    most_l: float  # no more than that of any run
    packed_l: float  # of one run by itself, in whole containers
    liquor_l: Line
    fills: tuple[Fill, ...]  # all that give any reduction, by litres


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A formula in a kind of pot, drawn once or twice: never longer than any run of it, and never dearer."""

    cell: Cell
    smallest_l: float
    largest_l: float
    kwh: Line
    prepare_h: Line  # loading, heating up, skimming
    simmer_h: float
    simmer_most_h: float
    draw_h: Line
    again: Again | None

    @property
    def sure_smallest_l(self) -> float:
        """The least fill of which enough is known of its second draw, if it is drawn twice."""
        return self.smallest_l if self.again is None else max(self.smallest_l, self.again.surely_from_l)

    def least(self, line: Line) -> float:
        """The least that a line says of any of its fills."""
        return max(0.0, min(line.at(self.smallest_l), line.at(self.largest_l)))


def shapes_of(
    *,
    week: Week,
    parameters: ParameterSet,
    formula: Formula,
    cell: Cell,
    pot: Pot,
    step_l: float,
    nets_l: Sequence[float],
) -> Iterable[Shape]:
    """A run drawn once, and where reductions are wanted and the pot gives any, a run drawn twice.

    Equation: charge_run at the shortest simmers, at seven fills; straight lines below its hours, and above the litres
        of reduction, which are the least at the ends of both simmers: a schedule may end there.
    Units: week, parameters, formula, cell, pot (records), step_l [L] of which every fill is a multiple, nets_l [L] of
        the containers of reduction that are wanted; returns records with L, h, kWh.
    Valid: hours that grow evenly and reductions that grow ever less with the fill, as masses and heat do.
    Errors: UnknownParameter for an unknown material.
    Source: as charge_run.
    """
    smallest_l = step_l * math.ceil(cell.smallest_l / step_l - HAIR_L)
    largest_l = step_l * math.floor(cell.largest_l / step_l + HAIR_L)
    if smallest_l > largest_l:
        return
    low, high = max(smallest_l, cell.smallest_l), min(largest_l, cell.largest_l)
    steps = round((high - low) / step_l)
    every = steps < _EVERY
    at = [low + (high - low) * n / max(1, steps) for n in range(steps + 1)] if every else _samples(low, high)
    tasks = week.kitchen.tasks

    def charges(simmer_h: float, second_h: float | None) -> list[Charge | None]:
        return [_charge(week, parameters, formula, pot, litres, simmer_h, second_h) for litres in at]

    plain = charges(formula.simmer_min_h, None)
    shortest_h = _shortest_h(formula.simmer_min_h, formula.simmer_max_h)
    once = Shape(
        cell=cell,
        smallest_l=smallest_l,
        largest_l=largest_l,
        kwh=cell.kwh,
        prepare_h=_below(at, plain, lambda each: (tasks.load_min + tasks.skim_min + each.heat_up_min) / 60.0),
        simmer_h=shortest_h,
        simmer_most_h=formula.simmer_max_h,
        draw_h=_draw_h(tasks),
        again=None,
    )
    yield once
    second = formula.second_draw
    if second is None or not nets_l:
        return

    def drawn_twice(litres: float) -> Charge | None:
        return _charge(week, parameters, formula, pot, litres, formula.simmer_min_h, second.simmer_min_h)

    twice = [drawn_twice(litres) for litres in at]
    if not every and None in twice:
        at = sorted({*at, *_edges(at, twice, step_l, drawn_twice)})
        twice = [drawn_twice(litres) for litres in at]
    given = _given_l(formula, second, at, charges)
    if max(given) > 0.0 and any(each is not None for each in twice):
        again = _again(tasks, second, at, twice, given, nets_l, every=every)
        yield replace(once, kwh=_kwh_of_both(cell, at), again=again)


def _edges(
    at: Sequence[float], charges: Sequence[Charge | None], step_l: float, drawn: Callable[[float], Charge | None]
) -> Iterable[float]:
    """The first and the last fill that goes into the pot, where others of those looked at do not, and a near one."""
    for (low, below), (high, above) in itertools.pairwise(zip(at, charges, strict=True)):
        if (below is None) == (above is None):
            continue
        ends = math.floor(low / step_l + HAIR_L), math.ceil(high / step_l - HAIR_L)
        outside, inside = ends if below is None else ends[::-1]
        while abs(inside - outside) > 1:
            middle = (inside + outside) // 2
            inside, outside = (inside, middle) if drawn(middle * step_l) is None else (middle, outside)
        edge = min(max(inside * step_l, low), high)
        yield from (edge, min(edge + _NEAR_L, at[-1]) if below is None else max(edge - _NEAR_L, at[0]))


def _samples(low: float, high: float) -> list[float]:
    """Fills along the range, with a near one beside each."""
    if high - low < 4.0 * _NEAR_L:
        return [low, high] if high - low > HAIR_L else [low]
    even = [low + (high - low) * n / (_SAMPLES - 1) for n in range(_SAMPLES)]
    return sorted({*even, *(each + _NEAR_L for each in even[:-1]), high - _NEAR_L})


def _charge(
    week: Week,
    parameters: ParameterSet,
    formula: Formula,
    pot: Pot,
    litres: float,
    simmer_h: float,
    second_h: float | None,
) -> Charge | None:
    try:
        return charge_run(
            week=week,
            parameters=parameters,
            formula=formula,
            pot=pot,
            drawn_l=litres,
            simmer_h=simmer_h,
            second=second_h is not None,
            second_simmer_h=second_h,
            keep_figures=False,
        )
    except (DoesNotFit, OutOfRange):
        return None


def _shortest_h(shortest_h: float, longest_h: float) -> float:
    """The shortest simmer of a schedule, which counts whole minutes where the window is narrow."""
    return min(shortest_h, math.floor(60.0 * longest_h) / 60.0)


def _draw_h(tasks: TaskMinutes) -> Line:
    return Line(base=tasks.draw_base_min / 60.0, per_l=tasks.draw_min_per_l / 60.0)


def _below(at: Sequence[float], charges: Sequence[Charge | None], value: Callable[[Charge], float]) -> Line:
    """A straight line that no value lies below; fills that do not go into the pot do not count."""
    known = [(litres, value(each)) for litres, each in zip(at, charges, strict=True) if each is not None]
    return line_below(sorted([*known, *_dips(known)])) if known else Line(base=0.0, per_l=0.0)


def _dips(points: Sequence[tuple[float, float]]) -> Iterable[tuple[float, float]]:
    """Where a curve that bends upwards between two fills with near ones may lie lowest: its tangents meet there."""
    for (a, p), (b, q), (c, r), (d, s) in zip(points, points[1:], points[2:], points[3:], strict=False):
        if max(b - a, d - c) > _NEAR_L + HAIR_L or c - b <= _NEAR_L + HAIR_L:
            continue
        left, right = (q - p) / (b - a), (s - r) / (d - c)
        x = (right * c - r + q - left * b) / (right - left) if left < right else c
        if b < x < c:
            yield x, q + left * (x - b)


def line_below(points: Sequence[tuple[float, float]]) -> Line:
    """The straight line through the first and the last point, moved down until no point lies below it.

    Equation: chord + min(0, point - chord).
    Units: points (litres [L], any quantity); returns a line in the same.
    Valid: at least one point, by litres.
    Errors: none.
    Source: geometry.
    """
    chord = through((points[0][0], points[-1][0]), [points[0][1], points[-1][1]])
    off = min(value - chord.at(litres) for litres, value in points)
    return replace(chord, base=chord.base + min(0.0, off))


def _kwh_of_both(cell: Cell, at: Sequence[float]) -> Line:
    """Energy of a run drawn twice: below each of the pieces that its cost is reckoned with."""
    if not cell.seconds:
        return cell.kwh
    low, high = at[0], at[-1]
    found = [(low, cell.seconds[0].kwh.at(low)), (high, cell.seconds[-1].kwh.at(high))]
    for this, following in itertools.pairwise(cell.seconds):
        ends = min(max(this.largest_l, low), high)
        found += [(ends, this.kwh.at(ends)), (ends, following.kwh.at(ends))]
    line = line_below(sorted(found))
    return Line(base=cell.kwh.base + line.base, per_l=cell.kwh.per_l + line.per_l)


def _given_l(
    formula: Formula,
    second: SecondDraw,
    at: Sequence[float],
    charges: Callable[[float, float | None], list[Charge | None]],
) -> list[float]:
    """Litres of reduction at each fill, at the ends of the simmers where they are least."""
    ends = itertools.product((formula.simmer_min_h, formula.simmer_max_h), (second.simmer_min_h, second.simmer_max_h))
    every = [charges(*each) for each in ends]
    return [min(_reduced_l(each[n]) for each in every) for n in range(len(at))]


def _reduced_l(charge: Charge | None) -> float:
    return 0.0 if charge is None or charge.reduction is None else charge.reduction.litres


def _again(
    tasks: TaskMinutes,
    second: SecondDraw,
    at: Sequence[float],
    charges: Sequence[Charge | None],
    given: Sequence[float],
    nets_l: Sequence[float],
    *,
    every: bool,
) -> Again:
    points = list(zip(at, given, strict=True))
    bending = _bending_down(points)
    level = Line(base=given[-1], per_l=0.0)

    def poured_l(each: Charge) -> float:
        return each.liquor.cold_l if each.liquor is not None else 0.0

    def reduced_h(each: Charge) -> float:
        made = each.reduction
        if made is None:
            return 0.0
        portioned_min = tasks.portion_base_min + tasks.portion_min_per_l * made.litres
        return (made.reduce_min + portioned_min) / 60.0

    gives = tuple(lines_over(points) if every else _lines_above(points))
    surely = tuple(through((a, b), [x, y]) for (a, x), (b, y) in itertools.pairwise(bending)) or (level,)
    liquor_l = _below(at, charges, poured_l)
    return Again(
        refill_h=_below(at, charges, lambda each: (tasks.refill_min + each.second_heat_up_min) / 60.0),
        simmer_h=_shortest_h(second.simmer_min_h, second.simmer_max_h),
        simmer_most_h=second.simmer_max_h,
        draw_h=_below(at, charges, lambda each: _draw_h(tasks).at(poured_l(each))),
        reduce_h=_below(at, charges, reduced_h),
        gives=gives,
        surely=surely,
        surely_from_l=bending[0][0],
        most_l=max(given),
        packed_l=packed_l(max(given), nets_l),
        liquor_l=liquor_l,
        fills=tuple(each for each in _fills(points, gives, liquor_l, every=every) if each.gives_l > 0.0),
    )


def _fills(
    points: Sequence[tuple[float, float]], gives: Sequence[Line], liquor_l: Line, *, every: bool
) -> Iterable[Fill]:
    """Each fill that whole containers make; where these are too many, the stretches between those looked at."""
    grows = all(this <= then for (_, this), (_, then) in itertools.pairwise(points))
    edges = [*points[:-1:2], points[-1]]  # beside each is a near one
    for (least_l, given), (most_l, _) in ((each, each) for each in points) if every else itertools.pairwise(edges):
        above_l = min(line.at(most_l) for line in gives) if grows else max(each for _, each in points)
        yield Fill(
            least_l=least_l,
            most_l=most_l,
            gives_l=given if every else above_l,
            liquor_l=max(0.0, min(liquor_l.at(least_l), liquor_l.at(most_l))),
        )


def _bending_down(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """The points from which on a curve bends downwards: straight lines between them lie below it."""
    slopes = [(y - x) / (b - a) for (a, x), (b, y) in itertools.pairwise(points)]
    steeper = [n + 1 for n, (this, then) in enumerate(itertools.pairwise(slopes)) if then > this + 1e-9]
    return points[max(steeper, default=0) :]


def lines_over(points: Sequence[tuple[float, float]]) -> Iterable[Line]:
    """The fewest straight lines above every point, along those that stick out.

    Equation: the upper half of the convex hull.
    Units: points (litres [L], any quantity); returns lines in the same.
    Valid: at least one point, by litres.
    Errors: none.
    Source: Andrew's monotone chain (1979), from memory.
    """
    over: list[tuple[float, float]] = []
    for c, z in points:
        while len(over) > 1 and (over[-1][1] - over[-2][1]) * (c - over[-2][0]) <= (z - over[-2][1]) * (
            over[-1][0] - over[-2][0]
        ):
            over.pop()
        over.append((c, z))
    for (a, x), (b, y) in itertools.pairwise(over):
        yield through((a, b), [x, y])
    if len(over) == 1:
        yield Line(base=over[0][1], per_l=0.0)


def _lines_above(points: Sequence[tuple[float, float]]) -> Iterable[Line]:
    """Straight lines along a curve that bends downwards, above every point; the last one along its end.

    Where it bends upwards, as where pots boil nearly dry, it may lie above its tangents: these are left out.
    """
    pairs = list(itertools.pairwise(points))
    near = [pair for pair in pairs if pair[1][0] - pair[0][0] <= _NEAR_L + HAIR_L] or pairs
    along = [through((a, b), [x, y]) for (a, x), (b, y) in near] or [Line(base=points[0][1], per_l=0.0)]
    off = [max(value - line.at(litres) for litres, value in points) for line in along]
    for line, up in zip(along, off, strict=True):
        if up <= max(_BETWEEN_L, min(off)):
            yield replace(line, base=line.base + max(0.0, up) + _BETWEEN_L)


def packed_l(room_l: float, nets_l: Sequence[float]) -> float:
    """The most litres that whole containers of some sizes fill of a room.

    Equation: the largest of packed_sizes.
    Units: room_l, nets_l [L]; returns [L].
    Valid: sizes of a millilitre and more; rooms of the reduction of one run.
    Errors: none.
    Source: as packed_sizes.
    """
    return packed_sizes(room_l, nets_l)[-1]


def packed_sizes(room_l: float, nets_l: Sequence[float]) -> list[float]:
    """All litres that whole containers of some sizes fill, none to begin with, up to a room.

    Equation: all sums of sizes that do not exceed the room, in billionths: quarts are no whole millilitres.
    Units: room_l, nets_l [L]; returns [L], growing.
    Valid: sizes of a millilitre and more.
    Errors: none.
    Source: knapsack by counting up, a standard method, from memory.
    """
    room = math.floor(_NANO * (room_l + _ROUNDING_L))
    sizes = {round(_NANO * max(net, 0.001)) for net in nets_l}
    reached, further = {0}, {0}
    while further:
        further = {filled + size for filled in further for size in sizes if filled + size <= room} - reached
        reached |= further
    return [each / _NANO for each in sorted(reached)]
