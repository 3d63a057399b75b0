"""How many runs of what, in which kind of pot, how big and when: the choice as a mixed-integer program."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from production.domain.batches.highs import Mip
from production.domain.batches.loads import Capacity
from production.domain.batches.tasks import (
    CHANGE_COST,
    KWH_COST,
    LATE_H_COST,
    MOST_POOLED,
    REDUCTION_COST,
    RUN_COST,
    SECOND_COST,
    START_H_COST,
    SURPLUS_L_COST,
    UNMADE_COST,
    WISH_COST,
    Fill,
    Group,
    Task,
)

Cancelled = Callable[[], bool]
_BOUND_GAP_SHARE = 2e-3
_CHOICE_GAP_SHARE = 3e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """So many runs in a cell and a slot, and their litres together."""

    fill: Fill
    slot: int
    runs: int
    litres: float


@dataclass(slots=True)
class Variables:
    """Where the variables of a formula stand in the program."""

    runs: dict[tuple[int, int], tuple[int, int]] = field(default_factory=dict)  # (fill, slot): runs, litres
    served: dict[tuple[int, int], int] = field(default_factory=dict)  # (group, slot): litres


def add_task(mip: Mip, task: Task, *, careful: bool) -> Variables:
    """Add the runs of a formula and the flow of their draws to its needs.

    Equation: litres of runs in a cell lie between their least and largest fill; what a slot draws serves needs or is
        surplus; every need is served (a reduction may stay unmade); costs as in tasks.
    Units: mip, task (records), careful (second draws at their
        least and lateness reckoned, instead of a bound on what runs cost); returns records.
    Valid: any task.
    Errors: none.
    Source: time-bucketed lot sizing, a standard method of operations research, from memory.
    """
    variables = Variables()
    slots = range(len(task.starts)) if careful else _telling_slots(task)
    for n, fill in enumerate(task.fills):
        for slot in slots:
            variables.runs[n, slot] = _add_runs(mip, fill, task.starts[slot] if careful else 0.0)
    for n, group in enumerate(task.groups):
        _add_group(mip, task, variables, n, group, careful=careful)
    for slot in slots:
        _add_slot(mip, task, variables, slot, careful=careful)
    return variables


def _telling_slots(task: Task) -> list[int]:
    """Slots of which no other serves all the same groups in time: runs in any other slot could be in one of these."""
    serves = [
        frozenset(n for n in range(len(task.groups)) if _in_time(task, n, slot)) for slot in range(len(task.starts))
    ]
    return [
        slot
        for slot, own in enumerate(serves)
        if not any(own < other or (own == other and at < slot) for at, other in enumerate(serves))
    ]


def _in_time(task: Task, n: int, slot: int) -> bool:
    """Whether a slot is allowed for a group, and as early as any; all that are in time are alike."""
    earliest_h = min((late_h for late_h, may in _ready(task, n) if may), default=0.0)
    return task.allowed[n][slot] and task.late_h[n][slot] <= earliest_h


def _add_runs(mip: Mip, fill: Fill, start_h: float) -> tuple[int, int]:
    kwh = fill.cell.kwh
    base_kwh, per_l = kwh.base, kwh.per_l
    cost = RUN_COST + START_H_COST * start_h
    if fill.second is not None:
        base_kwh += fill.second.kwh.base
        per_l += fill.second.kwh.per_l
        cost += SECOND_COST
    runs = mip.variable(cost=cost + KWH_COST * base_kwh, whole=True, high=100.0)
    litres = mip.variable(cost=KWH_COST * per_l)
    mip.row([(litres, 1.0), (runs, -fill.smallest_l)], low=0.0)
    mip.row([(litres, 1.0), (runs, -fill.largest_l)], high=0.0)
    return runs, litres


def _add_group(mip: Mip, task: Task, variables: Variables, n: int, group: Group, *, careful: bool) -> None:
    late_cost = LATE_H_COST * group.weight_share / group.litres if careful else 0.0
    terms = []
    for slot, (late_h, allowed) in enumerate(_ready(task, n)):
        if (0, slot) in variables.runs and (allowed if careful else _in_time(task, n, slot)):
            served = mip.variable(cost=late_cost * late_h, high=group.litres)
            variables.served[n, slot] = served
            terms.append((served, 1.0))
    if group.is_reduction or not terms:
        terms.append((mip.variable(cost=unmade_cost(group) / group.litres), 1.0))
    mip.row(terms, low=group.litres, high=group.litres)


def _ready(task: Task, n: int) -> list[tuple[float, bool]]:
    """For each slot how late a group would be, and whether its shelf life allows it."""
    return list(zip(task.late_h[n], task.allowed[n], strict=True))


def unmade_cost(group: Group) -> float:
    """What it costs to make nothing for a group.

    Equation: per order line of weight 1 more than any week costs; less than a run for the par level of a reduction.
    Units: group (record); returns a cost.
    Valid: any group.
    Errors: none.
    Source: own definition.
    """
    if group.is_wish and group.is_reduction:
        return WISH_COST
    return UNMADE_COST * max(group.weight_share, 1e-3)


def _add_slot(mip: Mip, task: Task, variables: Variables, slot: int, *, careful: bool) -> None:
    of_slot = [(fill, *variables.runs[n, slot]) for n, fill in enumerate(task.fills)]
    surplus = mip.variable(cost=SURPLUS_L_COST)
    drawn = [(litres, 1.0) for _, _, litres in of_slot]
    mip.row([*drawn, *_taken(task, variables, slot, reduction=False), (surplus, -1.0)], low=0.0, high=0.0)
    if any(group.is_reduction for group in task.groups):
        _add_reductions(mip, task, variables, slot, of_slot, careful=careful)
    if task.has_allergens:
        made = mip.variable(cost=CHANGE_COST, high=1.0, whole=True)
        for _, runs, _ in of_slot:
            mip.row([(runs, 1.0), (made, -100.0)], high=0.0)


def _taken(task: Task, variables: Variables, slot: int, *, reduction: bool) -> list[tuple[int, float]]:
    return [
        (served, -1.0)
        for (n, at), served in variables.served.items()
        if at == slot and task.groups[n].is_reduction == reduction
    ]


def _add_reductions(
    mip: Mip, task: Task, variables: Variables, slot: int, of_slot: list[tuple[Fill, int, int]], *, careful: bool
) -> None:
    reductions = mip.variable(cost=REDUCTION_COST, whole=True, high=100.0)
    supply: list[tuple[int, float]] = []
    drawn_twice: list[tuple[int, float]] = []
    whole: list[tuple[int, float]] = []
    liquor: list[tuple[int, float]] = []
    for fill, runs, litres in of_slot:
        if fill.second is not None:
            gives = fill.second.surely_l if careful else fill.second.most_l
            supply += [(runs, gives.base), (litres, gives.per_l)]
            liquor.append((runs, min(task.pan_l, fill.second.liquor_l.at(fill.largest_l))))
            whole.append((runs, _whole_l(task, gives.at(fill.largest_l))))
            drawn_twice.append((runs, 1.0))
    taken = _taken(task, variables, slot, reduction=True)
    mip.row([*supply, *taken], low=0.0)
    if not task.pan_l:  # with a pan, what is left over in several runs may make one container more
        mip.row([*whole, *taken], low=0.0)
    elif careful:
        lost_l = max(group.net_l for group in task.groups if group.is_reduction)
        mip.row([*supply, *taken, (reductions, -lost_l)], low=-lost_l)
        mip.row([*liquor, (reductions, -task.pan_l)], high=0.0)
    mip.row([*drawn_twice, (reductions, -float(MOST_POOLED if task.pan_l else 1))], high=0.0)
    for groups, most_l in task.cube_limits_l:
        cubes = [(variables.served[n, slot], -1.0) for n in groups if (n, slot) in variables.served]
        mip.row([(reductions, most_l), *cubes], low=0.0)


def _whole_l(task: Task, litres: float) -> float:
    """Litres rounded down to whole containers."""
    return task.reduction_grid_l * math.floor(litres / task.reduction_grid_l + 1e-9)


def chosen_of(task: Task, variables: Variables, values: Sequence[float]) -> tuple[Chosen, ...]:
    """The runs of a solution.

    Equation: whole numbers are rounded.
    Units: task, variables, values (records); returns records with L.
    Valid: values that solve the program.
    Errors: none.
    Source: own definition.
    """
    return tuple(
        Chosen(fill=task.fills[n], slot=slot, runs=round(values[runs]), litres=values[litres])
        for (n, slot), (runs, litres) in variables.runs.items()
        if round(values[runs])
    )


def least_cost(task: Task, *, seconds: float, seed: int, cancelled: Cancelled | None) -> float:
    """What the runs of a formula cost at the least, had they the kitchen for themselves; a proven bound.

    Equation: the dual bound of add_task with second draws that give their most; no runs that are ready in time, where a
        slot allows it, cost less.
    Units: task (record), seconds [s], seed (count), cancelled (asks whether to stop); returns a cost.
    Valid: any task; 0 when time is up before anything is known.
    Errors: none.
    Source: as add_task.
    """
    mip = Mip()
    add_task(mip, task, careful=False)
    answer = mip.solve(seconds=seconds, seed=seed, gap_share=_BOUND_GAP_SHARE, cancelled=cancelled)
    if answer is not None:
        return max(0.0, answer.bound)
    mip.whole = [False] * len(mip.whole)  # no runs found in time: parts of runs bound them, too
    answer = mip.solve(seconds=seconds, seed=seed)
    return max(0.0, answer.bound) if answer is not None else 0.0


def choose_runs(
    task: Task,
    capacity: Capacity,
    used: Mapping[int, float],
    *,
    least: float,
    seconds: float,
    seed: int,
    cancelled: Cancelled | None,
) -> tuple[Chosen, ...] | None:
    """The best choice of a formula's runs beside what others use; nothing when time is up before one is found.

    Equation: the program of add_task with the limits of capacity, each of which may be overbooked at a cost.
    Units: task, capacity (records), used [h] or [L] by limit, least (a cost below which it
        cannot be), seconds [s], seed (count), cancelled (asks whether to
        stop); returns records with L.
    Valid: any task.
    Errors: none.
    Source: as add_task.
    """
    mip = Mip()
    variables = add_task(mip, task, careful=True)
    mip.row([(index, cost) for index, cost in enumerate(mip.cost) if cost], low=least * (1.0 - 1e-9))
    _add_limits(mip, task, variables, capacity, used)
    answer = mip.solve(seconds=seconds, seed=seed, gap_share=_CHOICE_GAP_SHARE, cancelled=cancelled)
    return None if answer is None else chosen_of(task, variables, answer.values)


def _add_limits(mip: Mip, task: Task, variables: Variables, capacity: Capacity, used: Mapping[int, float]) -> None:
    """Rows of the shared limits; what others have overbooked already costs nothing more."""
    terms: dict[int, list[tuple[int, float]]] = {}
    for (n, slot), (runs, litres) in variables.runs.items():
        fill = task.fills[n]
        for load in capacity.loads(task, fill.cell, slot, second=fill.second is not None):
            on = terms.setdefault(load.limit, [])
            on += [(runs, load.per_run)] if load.per_run else []
            on += [(litres, load.per_l)] if load.per_l else []
    for number, on in sorted(terms.items()):
        limit = capacity.limits[number]
        over = mip.variable(cost=limit.cost)
        mip.row([*on, (over, -1.0)], high=max(0.0, limit.amount - used.get(number, 0.0)))
