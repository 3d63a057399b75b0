"""What the runs of a week cost, however they were found, and what no runs could cost less than."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from zoneinfo import ZoneInfo

from production.domain.batches.cells import Cell, cells_of, grid_l, pot_kinds
from production.domain.batches.content import Batch, Sizing
from production.domain.batches.highs import Mip
from production.domain.batches.makings import makings_of
from production.domain.batches.slots import clock_of, windows_from
from production.domain.batches.tasks import (
    KWH_COST,
    LATE_H_COST,
    MOST_POOLED,
    REDUCTION_COST,
    RUN_COST,
    SECOND_COST,
    SURPLUS_L_COST,
    UNMADE_COST,
    Fill,
    fills_of,
)
from production.domain.batches.units import Making
from production.domain.demand import Demand, Need, first_cook_date
from production.domain.formula import HAIR_L
from production.domain.kitchen import Week
from production.domain.parameters import ParameterSet

_GAP_SHARE = 2e-3
_MORE = 1.01  # what a second draw gives is taken as so much more, for it is reckoned at two fills only
_MOST_RUNS = 100.0

Cancelled = Callable[[], bool]


@dataclass(frozen=True, slots=True)
class Floor:
    """What no runs of a week cost less than, and what real runs are reckoned with."""

    cost: float
    cells: Mapping[tuple[str, str], Cell]  # by formula and pot

    def sizing(
        self, sizing: Sizing, made: Iterable[tuple[Batch, str]], *, late_h: float, unserved: float, seconds: float
    ) -> Sizing:
        """A sizing with the cost of its runs, each in its pot, beside the least cost; bare where a pot is unknown."""
        runs = [(batch, self.cells.get((batch.formula, pot))) for batch, pot in made]
        cost = LATE_H_COST * late_h + UNMADE_COST * unserved
        for batch, cell in runs:
            if cell is None:
                return sizing
            cost += _cost_of(batch, cell)
        return replace(
            sizing,
            objective=cost,
            bound=min(self.cost, cost),
            gap_share=max(0.0, cost - self.cost) / cost if cost else 0.0,
            seconds=seconds,
            energy_kwh=sum(_kwh_of(batch, cell) for batch, cell in runs if cell is not None),
        )


def floor_of(
    *,
    week: Week,
    demand: Demand,
    parameters: ParameterSet,
    coolable_l: Mapping[str, float],
    seconds: float,
    seed: int = 0,
    cancelled: Cancelled | None = None,
) -> Floor:
    """What no runs for a week's orders cost less than: a proven bound.

    Equation: for each formula the dual bound of the least cost of runs in its kinds of pots, as if it had the kitchen
        for itself: whole runs within their least and largest fills, broth that keeps until it leaves, second draws
        that give their most, an hour late and what is not made at their cost. A draw is ready at the first staffed
        moment at which the youngest of its needs may be cooked: sooner it may not, later it need not be. A reduction
        comes a second simmer after that.
    Units: week, demand, parameters (records), coolable_l [L] at once by formula, seconds [s], seed (count), cancelled
        (asks whether to stop); returns a cost in the scale on which a run counts 100.
    Valid: a week that passed its reader; pots, hands, heat and cooling of the whole week are not in it.
    Errors: UnknownParameter for an unknown material.
    Source: time-bucketed lot sizing, a standard method of operations research, from memory.
    """
    makings, _ = makings_of(week, demand, parameters, coolable_l)
    kinds = pot_kinds(week=week)
    cells: dict[tuple[str, str], Cell] = {}
    cost = 0.0
    for code, (making, needs) in makings.items():
        found = cells_of(
            week=week, parameters=parameters, formula=making.formula, limit_l=max(r.largest_l for r in making.ranges)
        )
        cells |= {(code, pot): cell for cell in found for pot in kinds[cell.kind].pots}
        if all((code, each.pot) in cells for each in making.ranges):  # else nothing is known of some runs
            cost += _least(making, needs, found, seconds=seconds / len(makings), seed=seed, cancelled=cancelled)
    return Floor(cost, cells)


def _cost_of(batch: Batch, cell: Cell) -> float:
    return (
        RUN_COST
        + SECOND_COST * batch.has_second_draw
        + REDUCTION_COST * bool(batch.reduction)
        + KWH_COST * _kwh_of(batch, cell)
        + SURPLUS_L_COST * batch.surplus_l
    )


def _kwh_of(batch: Batch, cell: Cell) -> float:
    second = cell.second_at(batch.first_l) if batch.has_second_draw else None
    return cell.kwh.at(batch.first_l) + (second.kwh.at(batch.first_l) if second is not None else 0.0)


# The least cost of a formula


@dataclass(frozen=True, slots=True)
class _Group:
    """Needs of a product for a dispatch."""

    litres: float
    net_l: float
    weight_share: float
    leaves_h: float
    not_before_h: float
    is_broth: bool
    is_wish: bool


def _least(
    making: Making,
    needs: Sequence[Need],
    cells: tuple[Cell, ...],
    *,
    seconds: float,
    seed: int,
    cancelled: Cancelled | None,
) -> float:
    groups = list(_groups(making, needs))
    broths = [group for group in groups if group.is_broth]
    reductions = [group for group in groups if not group.is_broth and not group.is_wish]
    fills = tuple(_fills(making, cells))
    mip, moments = Mip(), _moments(making, groups)
    served = _serve_broths(mip, making, broths, moments)
    twice: list[tuple[float, Fill, int, int]] = []
    for ready_h, terms in zip(moments, served, strict=True):
        runs = [(fill, *_add_runs(mip, fill)) for fill in fills]
        surplus = mip.variable(cost=SURPLUS_L_COST)
        mip.row([*((litres, 1.0) for _, _, litres in runs), *terms, (surplus, -1.0)], low=0.0, high=0.0)
        twice += [(ready_h, *run) for run in runs if run[0].second is not None]
    if reductions and all(cell.seconds for cell in cells):  # else nobody knows how much some second draws give
        _serve_reductions(mip, making, reductions, twice)
    answer = mip.solve(seconds=seconds, seed=seed, gap_share=_GAP_SHARE, cancelled=cancelled)
    if answer is None or answer.bound == -math.inf:
        mip.whole = [False] * len(mip.whole)  # parts of runs bound them, too
        answer = mip.solve(seconds=seconds, seed=seed)
    return max(0.0, answer.bound) if answer is not None else 0.0


def _serve_broths(
    mip: Mip, making: Making, broths: Sequence[_Group], moments: Sequence[float]
) -> list[list[tuple[int, float]]]:
    """Every broth is served or not made; what is taken of the draws of each moment."""
    taken: list[list[tuple[int, float]]] = [[] for _ in moments]
    for group in broths:
        terms = [] if group.is_wish else [_unmade(mip, group)]
        for terms_at, ready_h in zip(taken, moments, strict=True):
            late_h = _late_h(making, group, ready_h)
            if late_h < math.inf:
                cost = 0.0 if group.is_wish else LATE_H_COST * group.weight_share * late_h / group.litres
                served = mip.variable(cost=cost, high=group.litres)
                terms.append((served, 1.0))
                terms_at.append((served, -1.0))
        mip.row(terms, low=0.0 if group.is_wish else group.litres, high=group.litres)
    return taken


def _serve_reductions(
    mip: Mip, making: Making, reductions: Sequence[_Group], twice: Sequence[tuple[float, Fill, int, int]]
) -> None:
    """Second draws give what is wanted of reductions: by litres, and without a pan in whole containers of each run."""
    has_pan = any(pot.reduction_pan for pot in making.week.pots)
    container_l = grid_l(group.net_l for group in reductions)
    given: dict[float, list[tuple[int, float]]] = {ready_h: [] for ready_h, *_ in twice}
    whole: dict[float, list[tuple[int, float]]] = {ready_h: [] for ready_h in given}
    for ready_h, fill, count, litres in twice:
        if fill.second is not None:
            gives = fill.second.alone_l
            given[ready_h] += [(count, _MORE * max(0.0, gives.base)), (litres, _MORE * gives.per_l)]
            most_l = _MORE * max(0.0, gives.at(fill.largest_l))
            whole[ready_h].append((count, container_l * math.floor(most_l / container_l + HAIR_L)))
    for group in reductions:
        terms = [_unmade(mip, group)]
        for ready_h, gifts in given.items():
            cost = LATE_H_COST * group.weight_share * _late_h(making, group, ready_h) / group.litres
            served = mip.variable(cost=cost, high=group.litres)
            terms.append((served, 1.0))
            gifts.append((served, -1.0))
            whole[ready_h].append((served, -1.0))
        mip.row(terms, low=group.litres, high=group.litres)
    for gifts in (*given.values(), *(() if has_pan else whole.values())):
        mip.row(gifts, low=0.0)
    reduced = mip.variable(cost=REDUCTION_COST)
    mip.row([*((count, 1.0) for *_, count, _ in twice), (reduced, -float(MOST_POOLED if has_pan else 1))], high=0.0)


def _fills(making: Making, cells: Iterable[Cell]) -> Iterable[Fill]:
    """The fills of the cells; a second draw may be of any fill."""
    for fill in fills_of(cells, [each.net_l for each in making.broths]) if making.broths else ():
        yield replace(fill, smallest_l=fill.cell.smallest_l) if fill.piece == 0 else fill


def _unmade(mip: Mip, group: _Group) -> tuple[int, float]:
    """Litres that are not made."""
    return mip.variable(cost=UNMADE_COST * group.weight_share / group.litres, high=group.litres), 1.0


def _add_runs(mip: Mip, fill: Fill) -> tuple[int, int]:
    base_kwh, per_l, cost = fill.cell.kwh.base, fill.cell.kwh.per_l, RUN_COST
    if fill.second is not None:
        base_kwh, per_l = base_kwh + fill.second.kwh.base, per_l + fill.second.kwh.per_l
        cost += SECOND_COST
    count = mip.variable(cost=cost + KWH_COST * base_kwh, whole=True, high=_MOST_RUNS)
    litres = mip.variable(cost=KWH_COST * per_l)
    mip.row([(litres, 1.0), (count, -fill.smallest_l)], low=0.0)
    mip.row([(litres, 1.0), (count, -fill.largest_l)], high=0.0)
    return count, litres


def _groups(making: Making, needs: Iterable[Need]) -> Iterable[_Group]:
    zone = ZoneInfo(making.week.kitchen.time_zone)

    def hours(moment: datetime) -> float:
        return (moment - making.week.plan_from).total_seconds() / 3600.0

    found: dict[tuple[datetime, str, bool], list[Need]] = {}
    for need in needs:
        found.setdefault((need.dispatch_at, need.product, need.is_wish), []).append(need)
    for (dispatch_at, code, is_wish), members in sorted(found.items()):
        product = making.products[code]
        first_day = first_cook_date(dispatch_on=dispatch_at.astimezone(zone).date(), product=product)
        yield _Group(
            litres=sum(need.containers for need in members) * product.net_l,
            net_l=product.net_l,
            weight_share=sum(need.weight * need.containers / need.of_containers for need in members),
            leaves_h=hours(dispatch_at),
            not_before_h=hours(datetime.combine(first_day, datetime.min.time(), zone)),
            is_broth=product.kind == "broth",
            is_wish=is_wish,
        )


def _moments(making: Making, groups: Sequence[_Group]) -> list[float]:
    """Moments at which draws may be ready; none at which every need would be as late as at another, or later."""
    week = making.week
    clock = clock_of(week=week, until=max((shift.end for shift in week.shifts), default=week.plan_from))
    first_h = making.formula.simmer_min_h + min((begin for begin, _ in clock.windows), default=0.0)
    wanted = {max(first_h, group.not_before_h if group.is_broth else 0.0) for group in groups}
    every = {moment for at_h in wanted if (moment := next((a for a, _ in windows_from(clock, at_h)), None)) is not None}
    late = {moment: tuple(_late_h(making, group, moment) for group in groups) for moment in every}
    kept: list[float] = []
    for moment in sorted(every, key=lambda each: (sum(late[each]), each)):
        if not any(all(a <= b for a, b in zip(late[other], late[moment], strict=True)) for other in kept):
            kept.append(moment)
    return kept or [first_h]


def _late_h(making: Making, group: _Group, ready_h: float) -> float:
    """How late a need is served by a run whose first draw is ready at a moment; a reduction takes a second simmer."""
    if group.is_broth:
        return max(0.0, ready_h - group.leaves_h) if ready_h >= group.not_before_h else math.inf
    draw = making.formula.second_draw
    return max(0.0, ready_h + (draw.simmer_min_h if draw is not None else 0.0) - group.leaves_h)
