"""Whole containers into the runs that were chosen, exactly: what is made in the end."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from production.domain.batches.cells import reduction_of_l
from production.domain.batches.choice import Cancelled, Chosen, unmade_cost
from production.domain.batches.content import Batch
from production.domain.batches.costs import Placed
from production.domain.batches.highs import Mip
from production.domain.batches.tasks import (
    KWH_COST,
    LATE_H_COST,
    REDUCTION_COST,
    RUN_COST,
    SECOND_COST,
    SURPLUS_L_COST,
    Fill,
    Task,
)
from production.domain.batches.units import Unit, litres_of, portions_of, take_units, with_surplus
from production.domain.demand import Need

_LEFT_COST = 5_000.0  # a container of broth without a run; dearer than a run of its own
_GAP_SHARE = 1e-3


@dataclass(slots=True)
class _Run:
    """A run that may be made, with its places in the program."""

    fill: Fill
    slot: int
    on: int
    litres: int
    second: int | None = None
    containers: dict[int, int] = field(default_factory=dict)  # by group
    surplus: dict[str, int] = field(default_factory=dict)  # by product


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """Runs with their containers, and the containers that no run was found for."""

    placed: tuple[Placed, ...]
    left: tuple[Need, ...]


def fill_containers(
    task: Task, chosen: Sequence[Chosen], *, seconds: float, seed: int, cancelled: Cancelled | None
) -> Filled:
    """Give every container of a formula's needs a run; one more run of each chosen kind and slot is at hand.

    Equation: minimise runs, second draws, energy, surplus and lateness over whole containers.
    Units: task, chosen (records), seconds [s], seed (count), cancelled (asks whether to stop); returns records with L.
    Valid: runs chosen for the task.
    Errors: none.
    Source: own definition.
    """
    mip = Mip()
    runs = [run for each in chosen for run in _runs(mip, task, each)]
    for n, group in enumerate(task.groups):
        left = mip.variable(cost=unmade_cost(group) / group.containers if group.is_reduction else _LEFT_COST)
        holding = [(run.containers[n], 1.0) for run in runs if n in run.containers]
        mip.row([*holding, (left, 1.0)], low=float(group.containers), high=float(group.containers))
    answer = mip.solve(seconds=seconds, seed=seed, gap_share=_GAP_SHARE, cancelled=cancelled)
    if answer is None:
        return Filled(placed=(), left=tuple(need for group in task.groups for need in group.needs))
    values = answer.values
    waiting = [[(need, need.containers) for need in group.needs] for group in task.groups]
    placed = []
    for run in sorted(runs, key=lambda run: run.slot):
        first, reduction = _units(task, run, values, waiting)
        given = _given(task, run, values, first, reduction, waiting)
        if first or given:
            placed.append(_placed(task, run, first, given, values))
    return Filled(
        placed=tuple(placed),
        left=tuple(replace(need, containers=count) for needs in waiting for need, count in needs if count),
    )


def _runs(mip: Mip, task: Task, chosen: Chosen) -> Iterable[_Run]:
    """As many as were chosen and one more, which are begun in this order."""
    before: int | None = None
    for _ in range(chosen.runs + 1):
        run = _run(mip, task, chosen.fill, chosen.slot)
        if before is not None:
            mip.row([(before, 1.0), (run.on, -1.0)], low=0.0)
        before = run.on
        yield run


def _run(mip: Mip, task: Task, fill: Fill, slot: int) -> _Run:
    cell = fill.cell
    run = _Run(
        fill=fill,
        slot=slot,
        on=mip.variable(cost=RUN_COST + KWH_COST * cell.kwh.base, high=1.0, whole=True),
        litres=mip.variable(cost=KWH_COST * cell.kwh.per_l),
    )
    _add_containers(mip, task, run)
    mip.row([(run.litres, 1.0), (run.on, -cell.smallest_l)], low=0.0)
    mip.row([(run.litres, 1.0), (run.on, -cell.largest_l)], high=0.0)
    first = [(index, task.groups[n].net_l) for n, index in run.containers.items() if not task.groups[n].is_reduction]
    extra = [(index, task.making.products[code].net_l) for code, index in run.surplus.items()]
    mip.row([*first, *extra, (run.litres, -1.0)], low=0.0, high=0.0)
    if run.second is not None:
        _add_reduction(mip, task, run, run.second)
    return run


def _add_containers(mip: Mip, task: Task, run: _Run) -> None:
    has_second = run.fill.second is not None and any(group.is_reduction for group in task.groups)
    for n, group in enumerate(task.groups):
        if task.allowed[n][run.slot] and (has_second or not group.is_reduction):
            late = LATE_H_COST * group.weight_share * task.late_h[n][run.slot] / group.containers
            run.containers[n] = mip.variable(cost=late, high=float(group.containers), whole=True)
    longest = max(product.shelf_life_days for product in task.making.broths)
    for product in task.making.broths:
        keeps = 1.0 if product.shelf_life_days == longest else 1.01
        run.surplus[product.code] = mip.variable(cost=SURPLUS_L_COST * product.net_l * keeps, whole=True, high=100.0)
    if has_second and run.fill.second is not None:
        kwh = run.fill.second.kwh.at(run.fill.largest_l)
        run.second = mip.variable(cost=SECOND_COST + REDUCTION_COST + KWH_COST * kwh, high=1.0, whole=True)


def _add_reduction(mip: Mip, task: Task, run: _Run, second: int) -> None:
    """No more containers of reduction than the second draw gives, and none without one."""
    fill = run.fill
    if fill.second is None:
        return
    gives = fill.second.surely_l
    most_l = max(0.0, gives.at(fill.largest_l))
    free_l = most_l - min(0.0, gives.base)
    filled = [(index, task.groups[n].net_l) for n, index in run.containers.items() if task.groups[n].is_reduction]
    mip.row([*filled, (second, -most_l)], high=0.0)
    mip.row([*filled, (run.litres, -gives.per_l), (second, free_l)], high=gives.base + free_l)
    mip.row([(run.litres, 1.0), (second, -fill.smallest_l)], low=0.0)
    mip.row([(run.litres, 1.0), (second, fill.cell.largest_l - fill.largest_l)], high=fill.cell.largest_l)
    mip.row([(run.on, 1.0), (second, -1.0)], low=0.0)
    for groups, most_cubes_l in task.cube_limits_l:
        cubes = [(run.containers[n], task.groups[n].net_l) for n in groups if n in run.containers]
        mip.row(cubes, high=most_cubes_l)


def _units(
    task: Task, run: _Run, values: Sequence[float], waiting: list[list[tuple[Need, int]]]
) -> tuple[list[Unit], list[Unit]]:
    """The containers of a run, first draw and reduction, taken off what waits."""
    first: list[Unit] = []
    reduction: list[Unit] = []
    for n, index in sorted(run.containers.items(), key=lambda each: task.groups[each[0]].ready_by_h):
        into = reduction if task.groups[n].is_reduction else first
        into += _taken(waiting[n], round(values[index]), task.groups[n].net_l)
    return first, reduction


def _taken(waiting: list[tuple[Need, int]], containers: int, net_l: float) -> Iterable[Unit]:
    while containers and waiting:
        need, count = waiting[0]
        taken = min(count, containers)
        containers -= taken
        waiting[:1] = [(need, count - taken)] if count > taken else []
        for _ in range(taken):
            yield Unit(need=need, litres=net_l)


def _given(
    task: Task,
    run: _Run,
    values: Sequence[float],
    first: list[Unit],
    reduction: list[Unit],
    waiting: list[list[tuple[Need, int]]],
) -> list[Unit]:
    """The reductions that the second draw really gives; the others wait again."""
    if not reduction:
        return []
    making = task.making
    drawn_l = litres_of(first) + sum(
        round(values[index]) * making.products[code].net_l for code, index in run.surplus.items()
    )
    room_l = reduction_of_l(week=making.week, parameters=making.parameters, formula=making.formula, drawn_l=drawn_l)
    given = take_units(reduction, room_l)
    for unit in reduction:
        n = next(n for n, group in enumerate(task.groups) if unit.need in group.needs)
        waiting[n].insert(0, (unit.need, 1))
    return given


def _placed(task: Task, run: _Run, first: list[Unit], reduction: list[Unit], values: Sequence[float]) -> Placed:
    products = task.making.products
    extra = {code: round(values[index]) for code, index in run.surplus.items() if round(values[index])}
    batch = Batch(
        code="",
        formula=task.making.formula.code,
        first=with_surplus(portions_of(first, products), extra, products),
        reduction=portions_of(reduction, products),
    )
    return Placed(batch=batch, cell=run.fill.cell, slot=run.slot)
