"""How many runs of what, in which kind of pot, how big and when: the choice as a mixed-integer program."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from production.domain.batches.highs import Mip
from production.domain.batches.loads import Capacity, Load
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

    def loads(self, task: Task, capacity: Capacity) -> tuple[Load, ...]:
        """What one of its runs takes."""
        times = task.times[self.slot][self.fill.cell.kind]
        return capacity.loads(self.fill.cell, times, self.fill.piece)


@dataclass(slots=True)
class Variables:
    """Where the variables of a formula stand in the program."""

    runs: dict[tuple[int, int], tuple[int, int]] = field(default_factory=dict)  # (fill, slot): runs, litres
    served: dict[tuple[int, float], int] = field(default_factory=dict)  # (group, moment when it is cold): litres


def add_task(mip: Mip, task: Task, *, careful: bool, alone: bool = False) -> Variables:
    """Add the runs of a formula and the flow of their draws to its needs.

    Equation: litres of runs in a cell lie between their least and largest fill; what is cold at a moment serves needs
        or is surplus; every need is served (a reduction may stay unmade); costs as in tasks.
    Units: mip, task (records), careful (second draws at their least and late beginnings reckoned, instead of a bound
        on what runs cost), alone (as if it had the kitchen for itself); returns records.
    Valid: any task.
    Errors: none.
    Source: time-bucketed lot sizing, a standard method of operations research, from memory.
    """
    variables = Variables()
    telling = _telling(task) if alone else None
    for n, fill in enumerate(task.fills):
        for slot in range(len(task.times)):
            if task.has_slot(fill, slot) and (telling is None or (n, slot) in telling):
                start_h = task.times[slot][fill.cell.kind].load_h if careful else 0.0
                variables.runs[n, slot] = _add_runs(mip, fill, start_h)
    firsts = sorted({task.cold_h(task.fills[n].cell.kind, slot) for n, slot in variables.runs})
    kettles = _kettles(task, variables)
    moments = {False: firsts, True: sorted({ready_h for ready_h, _ in kettles})}
    for n, group in enumerate(task.groups):
        _add_group(mip, variables, n, group, moments[group.is_reduction])
    for ready_h in firsts:
        _add_first_draws(mip, task, variables, ready_h)
    if any(group.is_reduction for group in task.groups):
        _add_reductions(mip, task, variables, kettles, careful=careful)
    if task.has_allergens and careful:
        _add_changes(mip, variables)
    return variables


def _telling(task: Task) -> set[tuple[int, int]]:
    """Fills and slots of which no other slot is as good for every need: runs could as well be there."""
    found: set[tuple[int, int]] = set()
    for n, fill in enumerate(task.fills):
        slots = [slot for slot in range(len(task.times)) if task.has_slot(fill, slot)]
        late = {slot: _late_of(task, fill, slot) for slot in slots}
        kept: list[int] = []
        for slot in sorted(late, key=lambda slot: (sum(late[slot]), slot)):
            if not any(all(a <= b for a, b in zip(late[other], late[slot], strict=True)) for other in kept):
                kept.append(slot)
        found |= {(n, slot) for slot in kept}
    return found


def _late_of(task: Task, fill: Fill, slot: int) -> tuple[float, ...]:
    """How late each need would be that it can serve."""
    kind = fill.cell.kind
    return tuple(
        late_h(group, task.reduction_cold_h(kind, slot, fill.piece))
        if group.is_reduction and fill.piece is not None
        else late_h(group, task.cold_h(kind, slot))
        for group in task.groups
        if fill.piece is not None or not group.is_reduction
    )


def late_h(group: Group, ready_h: float) -> float:
    """Hours by which a group is late with what is cold at a moment; for ever where it does not keep until then.

    Equation: max(0, cold - wanted).
    Units: group (record), ready_h [h]; returns [h].
    Valid: any moment.
    Errors: none.
    Source: own definition.
    """
    return max(0.0, ready_h - group.ready_by_h) if ready_h >= group.not_before_h else math.inf


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


def _add_group(mip: Mip, variables: Variables, n: int, group: Group, moments: list[float]) -> None:
    late_cost = LATE_H_COST * group.weight_share / group.litres
    terms = []
    for ready_h in moments:
        late = late_h(group, ready_h)
        if late < math.inf:
            served = mip.variable(cost=late_cost * late, high=group.litres)
            variables.served[n, ready_h] = served
            terms.append((served, 1.0))
    if group.is_reduction or not terms:
        terms.append((mip.variable(cost=unmade_cost(group) / group.litres), 1.0))
    mip.row(terms, low=group.litres, high=group.litres)


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


def _add_first_draws(mip: Mip, task: Task, variables: Variables, ready_h: float) -> None:
    surplus = mip.variable(cost=SURPLUS_L_COST)
    drawn = [
        (litres, 1.0)
        for (n, slot), (_, litres) in variables.runs.items()
        if task.cold_h(task.fills[n].cell.kind, slot) == ready_h
    ]
    mip.row([*drawn, *_taken(task, variables, ready_h, reduction=False), (surplus, -1.0)], low=0.0, high=0.0)


def _taken(task: Task, variables: Variables, ready_h: float, *, reduction: bool) -> list[tuple[int, float]]:
    return [
        (served, -1.0)
        for (n, at), served in variables.served.items()
        if at == ready_h and task.groups[n].is_reduction == reduction
    ]


def _add_changes(mip: Mip, variables: Variables) -> None:
    by_slot: dict[int, list[int]] = {}
    for (_, slot), (runs, _) in variables.runs.items():
        by_slot.setdefault(slot, []).append(runs)
    for members in by_slot.values():
        made = mip.variable(cost=CHANGE_COST, high=1.0, whole=True)
        for runs in members:
            mip.row([(runs, 1.0), (made, -100.0)], high=0.0)


def _kettles(task: Task, variables: Variables) -> list[tuple[float, list[tuple[int, int]]]]:
    """Fills and slots whose second draws may be reduced together, and when that is cold."""
    found: dict[tuple[int, float], list[tuple[int, int]]] = {}
    for n, slot in variables.runs:
        fill = task.fills[n]
        if fill.piece is not None:
            cold_h = task.reduction_cold_h(fill.cell.kind, slot, fill.piece)
            found.setdefault((slot if task.pan_l else -1, cold_h), []).append((n, slot))
    return [(cold_h, members) for (_, cold_h), members in found.items()]


def _add_reductions(
    mip: Mip,
    task: Task,
    variables: Variables,
    kettles: list[tuple[float, list[tuple[int, int]]]],
    *,
    careful: bool,
) -> None:
    by_moment: dict[float, list[_Reductions]] = {}
    for ready_h, fills in kettles:
        by_moment.setdefault(ready_h, []).append(_reductions_of(mip, task, variables, fills, careful=careful))
    for ready_h, members in by_moment.items():
        taken = _taken(task, variables, ready_h, reduction=True)
        mip.row([*(term for each in members for term in each.supply), *taken], low=0.0)
        if not task.pan_l:  # with a pan, what is left over in several runs may make one container more
            mip.row([*(term for each in members for term in each.whole), *taken], low=0.0)
        elif careful:
            lost_l = max(group.net_l for group in task.groups if group.is_reduction)
            lost = [(each.count, -lost_l) for each in members]
            mip.row([*(term for each in members for term in each.supply), *taken, *lost], low=-lost_l)
            steps = mip.variable(whole=True, high=1e4)
            mip.row([*taken, (steps, task.reduction_grid_l)], low=0.0, high=0.0)
        for groups, most_l in task.cube_limits_l:
            cubes = [(variables.served[n, ready_h], -1.0) for n in groups if (n, ready_h) in variables.served]
            mip.row([*((each.count, most_l) for each in members), *cubes], low=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reductions:
    """The reductions of a slot."""

    count: int
    supply: list[tuple[int, float]]
    whole: list[tuple[int, float]]  # the same in whole containers, run by run


def _reductions_of(
    mip: Mip, task: Task, variables: Variables, fills: list[tuple[int, int]], *, careful: bool
) -> _Reductions:
    count = mip.variable(cost=REDUCTION_COST, whole=bool(task.pan_l), high=100.0)
    found = _Reductions(count=count, supply=[], whole=[])
    drawn_twice: list[tuple[int, float]] = []
    liquor: list[tuple[int, float]] = []
    for n, slot in fills:
        fill = task.fills[n]
        if fill.second is None:
            continue
        runs, litres = variables.runs[n, slot]
        gives = fill.second.surely_l if careful else fill.second.most_l
        found.supply.extend([(runs, gives.base), (litres, gives.per_l)])
        found.whole.append((runs, _whole_l(task, gives.at(fill.largest_l))))
        liquor.append((runs, min(task.pan_l, fill.second.liquor_l.at(fill.largest_l))))
        drawn_twice.append((runs, 1.0))
    if task.pan_l and careful:
        mip.row([*liquor, (count, -task.pan_l)], high=0.0)
    mip.row([*drawn_twice, (count, -float(MOST_POOLED if task.pan_l else 1))], high=0.0)
    return found


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

    Equation: the dual bound of add_task with second draws that give their most, without what others take.
    Units: task (record), seconds [s], seed (count), cancelled (asks whether to stop); returns a cost.
    Valid: any task; 0 when time is up before anything is known.
    Errors: none.
    Source: as add_task.
    """
    mip = Mip()
    add_task(mip, task, careful=False, alone=True)
    answer = mip.solve(seconds=seconds, seed=seed, gap_share=_BOUND_GAP_SHARE, cancelled=cancelled)
    if answer is not None:
        return max(0.0, answer.bound)
    mip.whole = [False] * len(mip.whole)  # no runs found in time: parts of runs bound them, too
    answer = mip.solve(seconds=seconds, seed=seed)
    return max(0.0, answer.bound) if answer is not None else 0.0


def least_together(
    tasks: Mapping[str, Task], capacity: Capacity, alone: Mapping[str, float], *, seconds: float
) -> float:
    """What the runs of all formulas cost at the least beside each other; a proven bound.

    Equation: the programs of add_task with the limits of capacity, parts of runs allowed, each formula costing no less
        than alone; never less than what they cost alone.
    Units: tasks, capacity (records), alone (costs by formula), seconds [s]; returns a cost.
    Valid: any tasks.
    Errors: none.
    Source: linear relaxation, a standard method of operations research, from memory.
    """
    mip, parts = Mip(), []
    for code, task in tasks.items():
        first = len(mip.cost)
        parts.append((task, add_task(mip, task, careful=False)))
        mip.row([(n, mip.cost[n]) for n in range(first, len(mip.cost)) if mip.cost[n]], low=alone[code])
    _add_limits(mip, parts, capacity, {})
    mip.whole = [False] * len(mip.whole)
    answer = mip.solve(seconds=seconds)
    apart = math.fsum(alone.values())
    return max(apart, answer.bound) if answer is not None else apart


def choose_runs(
    tasks: Sequence[Task],
    capacity: Capacity,
    used: Mapping[int, float],
    *,
    known: Sequence[Chosen],
    seconds: float,
    seed: int,
    cancelled: Cancelled | None,
) -> tuple[tuple[Chosen, ...], ...] | None:
    """The best choice of some formulas' runs beside what others use; nothing when time is up before one is found.

    Equation: the programs of add_task with the limits of capacity, each of which may be overbooked at a cost.
    Units: tasks, capacity (records), used [h], [kWh] or [L] by limit, known (runs from which the search begins),
        seconds [s], seed (count), cancelled (asks whether to stop); returns records with L, for each task.
    Valid: any tasks.
    Errors: none.
    Source: as add_task.
    """
    mip = Mip()
    parts = [(task, add_task(mip, task, careful=True)) for task in tasks]
    _add_limits(mip, parts, capacity, used)
    start = {index: value for task, variables in parts for index, value in _start(task, variables, known).items()}
    answer = mip.solve(seconds=seconds, seed=seed, gap_share=_CHOICE_GAP_SHARE, start=start, cancelled=cancelled)
    if answer is None:
        return None
    return tuple(chosen_of(task, variables, answer.values) for task, variables in parts)


def _start(task: Task, variables: Variables, known: Iterable[Chosen]) -> dict[int, float]:
    """The counts of known runs of a formula; nothing where none are known."""
    own = [each for each in known if each.fill in task.fills]
    found = {runs: 0.0 for runs, _ in variables.runs.values()} if own else {}
    for each in own:
        at = variables.runs.get((task.fills.index(each.fill), each.slot))
        if at is not None:
            found[at[0]] += each.runs
    return found


def _add_limits(
    mip: Mip, parts: Sequence[tuple[Task, Variables]], capacity: Capacity, used: Mapping[int, float]
) -> None:
    """Rows of the shared limits; what others have overbooked already costs nothing more."""
    terms: dict[int, list[tuple[int, float]]] = {}
    for task, variables in parts:
        for (n, slot), (runs, litres) in variables.runs.items():
            fill = task.fills[n]
            times = task.times[slot][fill.cell.kind]
            for load in capacity.loads(fill.cell, times, fill.piece):
                on = terms.setdefault(load.limit, [])
                on += [(runs, load.per_run)] if load.per_run else []
                on += [(litres, load.per_l)] if load.per_l else []
    for number, on in sorted(terms.items()):
        limit = capacity.limits[number]
        over = mip.variable(cost=limit.cost)
        mip.row([*on, (over, -1.0)], high=max(0.0, limit.amount - used.get(number, 0.0)))
