"""Whole containers into the runs that were chosen, exactly: what is made in the end."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from production.domain.batches.cells import Second
from production.domain.batches.choice import Cancelled, Chosen, late_h, unmade_cost
from production.domain.batches.content import Batch
from production.domain.batches.costs import Placed
from production.domain.batches.highs import Mip
from production.domain.batches.pools import reduced_together
from production.domain.batches.tasks import (
    KWH_COST,
    LATE_H_COST,
    MOST_POOLED,
    REDUCTION_COST,
    RUN_COST,
    SECOND_COST,
    SURPLUS_L_COST,
    Fill,
    Task,
)
from production.domain.batches.units import Unit, portions_of, with_surplus
from production.domain.demand import Need

_LEFT_COST = 5_000.0  # a container of broth without a run; dearer than a run of its own
_GAP_SHARE = 1e-3
_FREE_RUNS = 6  # so many may be left out again; more take too long to tell from each other (own choice)


@dataclass(slots=True)
class _Run:
    """A run that may be made, with its places in the program."""

    fill: Fill
    slot: int
    on: int
    litres: int
    second: int | None = None
    given: int | None = None  # litres of reduction that its second draw gives
    containers: dict[int, int] = field(default_factory=dict)  # of broth, by group
    surplus: dict[str, int] = field(default_factory=dict)  # by product


@dataclass(slots=True)
class _Kettle:
    """Runs of a slot whose second draws are reduced together as far as pans take them, or one run alone."""

    runs: list[_Run]
    containers: dict[int, int]  # of reduction, by group


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """Runs with their containers, and the containers that no run was found for."""

    placed: tuple[Placed, ...]
    left: tuple[Need, ...]


def fill_containers(
    task: Task,
    chosen: Sequence[Chosen],
    *,
    more_cost: Callable[[Chosen], float],
    seconds: float,
    seed: int,
    cancelled: Cancelled | None,
) -> Filled:
    """Give every container of a formula's needs a run; one more run of each chosen kind and slot is at hand.

    Equation: minimise runs, second draws, reductions, energy, surplus and lateness over whole containers; a further
        reduction of a slot loses up to one container.
    Units: task, chosen (records), more_cost (what one run more of a choice costs beyond its own), seconds [s], seed
        (count), cancelled (asks whether to stop); returns records with L.
    Valid: runs chosen for the task.
    Errors: none.
    Source: own definition.
    """
    mip = Mip()
    free = sum(each.runs for each in chosen) <= _FREE_RUNS
    runs = [run for each in chosen for run in _runs(mip, task, each, more_cost(each), free=free)]
    kettles = [_kettle(mip, task, members) for members in _members(task, runs)]
    for n, group in enumerate(task.groups):
        left = mip.variable(cost=unmade_cost(group) / group.containers if group.is_reduction else _LEFT_COST)
        holders: list[_Run | _Kettle] = [*runs, *kettles]
        holding = [(each.containers[n], 1.0) for each in holders if n in each.containers]
        mip.row([*holding, (left, 1.0)], low=float(group.containers), high=float(group.containers))
    answer = mip.solve(seconds=seconds, seed=seed, gap_share=_GAP_SHARE, cancelled=cancelled)
    if answer is None:
        return Filled(placed=(), left=tuple(need for group in task.groups for need in group.needs))
    return _filled(task, runs, kettles, answer.values)


def _runs(mip: Mip, task: Task, chosen: Chosen, more_cost: float, *, free: bool) -> Iterable[_Run]:
    """As many as were chosen and one more, which may be made; few runs need not be made, either."""
    for n in range(chosen.runs + 1):
        run = _run(mip, task, chosen.fill, chosen.slot)
        if n < chosen.runs and not free:
            mip.low[run.on] = 1.0
            if run.second is not None:
                mip.low[run.second] = 1.0
        if n == chosen.runs:
            mip.cost[run.on] += more_cost
        yield run


def _run(mip: Mip, task: Task, fill: Fill, slot: int) -> _Run:
    cell = fill.cell
    run = _Run(
        fill=fill,
        slot=slot,
        on=mip.variable(cost=RUN_COST + KWH_COST * cell.kwh.base, high=1.0, whole=True),
        litres=mip.variable(cost=KWH_COST * cell.kwh.per_l),
    )
    run.containers = _containers(mip, task, task.cold_h(cell.kind, slot), reduction=False)
    longest = max(product.shelf_life_days for product in task.making.broths)
    for product in task.making.broths:
        keeps = 1.0 if product.shelf_life_days == longest else 1.01
        run.surplus[product.code] = mip.variable(cost=SURPLUS_L_COST * product.net_l * keeps, whole=True, high=100.0)
    mip.row([(run.litres, 1.0), (run.on, -cell.smallest_l)], low=0.0)
    mip.row([(run.litres, 1.0), (run.on, -cell.largest_l)], high=0.0)
    first = [(index, task.groups[n].net_l) for n, index in run.containers.items()]
    extra = [(index, task.making.products[code].net_l) for code, index in run.surplus.items()]
    mip.row([*first, *extra, (run.litres, -1.0)], low=0.0, high=0.0)
    if fill.second is not None and any(group.is_reduction for group in task.groups):
        _add_second(mip, run, fill.second)
    return run


def _containers(mip: Mip, task: Task, ready_h: float, *, reduction: bool) -> dict[int, int]:
    return {
        n: mip.variable(
            cost=LATE_H_COST * group.weight_share * late_h(group, ready_h) / group.containers,
            high=float(group.containers),
            whole=True,
        )
        for n, group in enumerate(task.groups)
        if group.is_reduction == reduction and ready_h >= group.not_before_h
    }


def _add_second(mip: Mip, run: _Run, piece: Second) -> None:
    """Whether it is drawn twice, and the litres of reduction that this gives."""
    fill, gives = run.fill, piece.surely_l
    most_l = max(0.0, gives.at(fill.largest_l))
    free_l = most_l - min(0.0, gives.base)
    second = mip.variable(cost=SECOND_COST + KWH_COST * piece.kwh.at(fill.largest_l), high=1.0, whole=True)
    given = mip.variable()
    mip.row([(given, 1.0), (second, -most_l)], high=0.0)
    mip.row([(given, 1.0), (run.litres, -gives.per_l), (second, free_l)], high=gives.base + free_l)
    mip.row([(run.litres, 1.0), (second, -fill.smallest_l)], low=0.0)
    mip.row([(run.litres, 1.0), (second, fill.cell.largest_l - fill.largest_l)], high=fill.cell.largest_l)
    mip.row([(run.on, 1.0), (second, -1.0)], low=0.0)
    run.second, run.given = second, given


def _members(task: Task, runs: Iterable[_Run]) -> list[list[_Run]]:
    """Runs that may be reduced together: those of a slot where there is a pan, else each alone."""
    twice = [run for run in runs if run.second is not None]
    if not task.pan_l:
        return [[run] for run in twice]
    by_slot: dict[int, list[_Run]] = {}
    for run in twice:
        by_slot.setdefault(run.slot, []).append(run)
    return list(by_slot.values())


def _kettle(mip: Mip, task: Task, runs: list[_Run]) -> _Kettle:
    """No more containers of reduction than the second draws give, in as few reductions as the pans allow."""
    one = runs[0]
    cold_h = task.reduction_cold_h(one.fill.cell.kind, one.slot, one.fill.piece or 0)
    kettle = _Kettle(runs, _containers(mip, task, cold_h, reduction=True))
    count = mip.variable(cost=REDUCTION_COST, whole=True, high=float(len(runs)))
    filled = [(index, task.groups[n].net_l) for n, index in kettle.containers.items()]
    given = [(run.given, -1.0) for run in runs if run.given is not None]
    seconds = [(run.second, 1.0) for run in runs if run.second is not None]
    most_l = sum(max(0.0, run.fill.second.surely_l.at(run.fill.largest_l)) for run in runs if run.fill.second)
    lost_l = max((task.groups[n].net_l for n in kettle.containers), default=0.0)
    mip.row([*filled, *given, (count, lost_l)], high=lost_l)
    mip.row([*filled, (count, -most_l)], high=0.0)
    mip.row([*seconds, (count, -float(MOST_POOLED if task.pan_l else 1))], high=0.0)
    if task.pan_l:
        liquor = [
            (run.second, min(task.pan_l, run.fill.second.liquor_l.at(run.fill.largest_l)))
            for run in runs
            if run.second is not None and run.fill.second is not None
        ]
        mip.row([*liquor, (count, -task.pan_l)], high=0.0)
    for groups, most_cubes_l in task.cube_limits_l:
        cubes = [(kettle.containers[n], task.groups[n].net_l) for n in groups if n in kettle.containers]
        mip.row([*cubes, (count, -most_cubes_l)], high=0.0)
    return kettle


def _filled(task: Task, runs: list[_Run], kettles: list[_Kettle], values: Sequence[float]) -> Filled:
    """The runs of a solution; what a second draw does not really give waits again."""
    waiting = [[(need, need.containers) for need in group.needs] for group in task.groups]
    placed = {
        id(run): Placed(batch=_batch(task, run, values, waiting), cell=run.fill.cell, slot=run.slot)
        for run in sorted(runs, key=lambda run: run.slot)
        if round(values[run.on])
    }
    found = dict(placed)
    for kettle in sorted(kettles, key=lambda kettle: kettle.runs[0].slot):
        units = _units(task, kettle.containers, values, waiting)
        twice = {
            id(run): placed[id(run)]
            for run in kettle.runs
            if id(run) in placed and run.second is not None and round(values[run.second])
        }
        reduced = iter(reduced_together(list(twice.values()), task, units))
        found.update({key: next(reduced) for key in twice})
        for unit in units:
            n = next(n for n, group in enumerate(task.groups) if unit.need in group.needs)
            waiting[n].insert(0, (unit.need, 1))
    return Filled(
        placed=tuple(
            each
            for each in found.values()
            if each.batch.pours_into or any(portion.pegs for portion in each.batch.portions)
        ),
        left=tuple(replace(need, containers=count) for needs in waiting for need, count in needs if count),
    )


def _batch(task: Task, run: _Run, values: Sequence[float], waiting: list[list[tuple[Need, int]]]) -> Batch:
    """A run with its first draw; its code is only good for runs of this choice."""
    products = task.making.products
    extra = {code: round(values[index]) for code, index in run.surplus.items() if round(values[index])}
    first = portions_of(_units(task, run.containers, values, waiting), products)
    return Batch(
        code=f"{task.making.formula.code}/{run.on}",
        formula=task.making.formula.code,
        first=with_surplus(first, extra, products),
        reduction=(),
    )


def _units(
    task: Task, containers: Mapping[int, int], values: Sequence[float], waiting: list[list[tuple[Need, int]]]
) -> list[Unit]:
    """The containers that a solution fills, taken off what waits, earliest dispatch first."""
    by_dispatch = sorted(containers.items(), key=lambda each: task.groups[each[0]].ready_by_h)
    return [unit for n, index in by_dispatch for unit in _taken(waiting[n], round(values[index]), task.groups[n].net_l)]


def _taken(waiting: list[tuple[Need, int]], containers: int, net_l: float) -> Iterable[Unit]:
    while containers and waiting:
        need, count = waiting[0]
        taken = min(count, containers)
        containers -= taken
        waiting[:1] = [(need, count - taken)] if count > taken else []
        for _ in range(taken):
            yield Unit(need=need, litres=net_l)
