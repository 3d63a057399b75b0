"""What a choice of runs costs, reckoned from the runs themselves."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from production.domain.batches.cells import Cell
from production.domain.batches.content import Batch, Portion
from production.domain.batches.loads import Capacity, Load, overload_cost
from production.domain.batches.tasks import (
    CHANGE_COST,
    KWH_COST,
    LATE_H_COST,
    REDUCTION_COST,
    RUN_COST,
    SECOND_COST,
    START_H_COST,
    SURPLUS_L_COST,
    UNMADE_COST,
    WISH_COST,
    Task,
    frozen_h,
)
from production.domain.demand import Need
from production.domain.formula import HAIR_L


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A run with the kind of pot and the slot that it is reckoned with."""

    batch: Batch
    cell: Cell
    slot: int

    @property
    def piece(self) -> int | None:
        """Which of the cell's second draws it has."""
        return self.cell.piece_at(self.batch.first_l) if self.batch.has_second_draw else None


def kwh_of(placed: Placed) -> float:
    """Energy of a run at its shortest simmers, estimated.

    Equation: the straight lines of its cell.
    Units: placed (record); returns [kWh].
    Valid: runs within the range of the cell.
    Errors: none.
    Source: as cells_of.
    """
    litres = placed.batch.first_l
    second = placed.cell.second_at(litres) if placed.batch.has_second_draw else None
    return placed.cell.kwh.at(litres) + (second.kwh.at(litres) if second is not None else 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """What runs cost, and what their time would cost beyond it: a guide to what can be scheduled."""

    runs: float
    time: float

    @property
    def guided(self) -> float:
        """Both together."""
        return self.runs + self.time


def cost_of(placed: Sequence[Placed], left: Iterable[Need], tasks: Mapping[str, Task], capacity: Capacity) -> Cost:
    """The cost of real runs, in the scale on which a run counts 100.

    Equation: runs, second draws, reductions, energy, surplus, slots in which an allergen formula is made, needs left
        over; apart from it lateness, late beginnings and what is overbooked, as the slots have it.
    Units: placed, left, tasks, capacity (records); returns costs.
    Valid: runs of formulas in tasks.
    Errors: none.
    Source: own definition.
    """
    used = used_by(placed, tasks, capacity)
    changes = {(each.batch.formula, each.slot) for each in placed if tasks[each.batch.formula].has_allergens}
    return Cost(
        runs=sum(_cost_alone(each) for each in placed)
        + CHANGE_COST * len(changes)
        + sum(_unmade(need, tasks) for need in left),
        time=sum(_time_alone(each, tasks[each.batch.formula]) for each in placed) + overload_cost(capacity, used),
    )


def used_by(placed: Iterable[Placed], tasks: Mapping[str, Task], capacity: Capacity) -> defaultdict[int, float]:
    """What runs take from the limits of the week.

    Equation: the sum of their loads.
    Units: placed, tasks, capacity (records); returns [h] or [L] by limit.
    Valid: runs of formulas in tasks.
    Errors: none.
    Source: own definition.
    """
    used: defaultdict[int, float] = defaultdict(float)
    for each in placed:
        for load in _loads(each, tasks, capacity):
            used[load.limit] += load.per_run + load.per_l * each.batch.first_l
    return used


def _unmade(need: Need, tasks: Mapping[str, Task]) -> float:
    share = need.containers / need.of_containers
    products = next(iter(tasks.values())).making.products
    if need.is_wish and products[need.product].kind != "broth":
        return WISH_COST * share
    return UNMADE_COST * need.weight * share


def _cost_alone(placed: Placed) -> float:
    batch = placed.batch
    return (
        RUN_COST
        + (SECOND_COST if batch.has_second_draw else 0.0)
        + (REDUCTION_COST if batch.reduction else 0.0)
        + KWH_COST * kwh_of(placed)
        + SURPLUS_L_COST * batch.surplus_l
    )


def _time_alone(placed: Placed, task: Task) -> float:
    start_h = task.times[placed.slot][placed.cell.kind].load_h
    return START_H_COST * start_h + LATE_H_COST * _late_h(placed, task)


def _late_h(placed: Placed, task: Task) -> float:
    batch, kind, slot = placed.batch, placed.cell.kind, placed.slot
    late_h = _late_of(batch.first, task, task.cold_h(kind, slot))
    if placed.piece is None:
        return late_h
    return late_h + _late_of(batch.reduction, task, task.reduction_cold_h(kind, slot, placed.piece))


def _late_of(portions: Iterable[Portion], task: Task, ready_h: float) -> float:
    return sum(
        peg.weight
        * peg.share
        * max(
            0.0,
            ready_h
            - task.clock.hours(peg.dispatch_at)
            + frozen_h(task.making.products[portion.product])
            + task.slack_h,
        )
        for portion in portions
        for peg in portion.pegs
    )


def _loads(placed: Placed, tasks: Mapping[str, Task], capacity: Capacity) -> Iterable[Load]:
    times = tasks[placed.batch.formula].times[placed.slot][placed.cell.kind]
    return capacity.loads(placed.cell, times, placed.piece)


def placed_in_turn(
    batches: Iterable[Batch], before: Iterable[Placed], tasks: Mapping[str, Task], capacity: Capacity
) -> list[Placed]:
    """Give each run a kind of pot and a slot, earliest dispatch first, each where it adds the least cost.

    Equation: cost of the run alone and of what it overbooks beyond what was overbooked before.
    Units: batches, before, tasks, capacity (records); returns records.
    Valid: runs of formulas in tasks; a run that no kind takes is reckoned in the nearest.
    Errors: none.
    Source: own definition.
    """
    used = used_by(before, tasks, capacity)
    placed = []
    for batch in sorted(batches, key=lambda batch: batch.first_dispatch_at):
        best = min(_places(batch, tasks[batch.formula]), key=lambda each: _cost_added(each, tasks, capacity, used))
        for load in _loads(best, tasks, capacity):
            used[load.limit] += load.per_run + load.per_l * batch.first_l
        placed.append(best)
    return placed


def _places(batch: Batch, task: Task) -> Iterable[Placed]:
    cells = {fill.cell.kind: fill.cell for fill in task.fills}
    there = [
        cell
        for kind, cell in cells.items()
        if (cell.seconds or not batch.has_second_draw) and any(kind in each for each in task.times)
    ]
    taking = [each for each in there if _takes(each, batch.first_l)] or there
    for cell in taking:
        for slot, by_kind in enumerate(task.times):
            if cell.kind in by_kind:
                yield Placed(batch=batch, cell=cell, slot=slot)


def _takes(cell: Cell, litres: float) -> bool:
    return cell.smallest_l - HAIR_L <= litres <= cell.largest_l + HAIR_L


def _cost_added(placed: Placed, tasks: Mapping[str, Task], capacity: Capacity, used: Mapping[int, float]) -> float:
    over = overload_added(_loads(placed, tasks, capacity), placed.batch.first_l, capacity, used)
    return over + _cost_alone(placed) + _time_alone(placed, tasks[placed.batch.formula])


def overload_added(loads: Iterable[Load], litres: float, capacity: Capacity, used: Mapping[int, float]) -> float:
    """What a run overbooks beyond what is overbooked already.

    Equation: for each limit cost x (overbooked with it - overbooked without it).
    Units: loads, capacity (records), litres [L], used [h], [kWh] or [L] by limit; returns a cost.
    Valid: any use.
    Errors: none.
    Source: own definition.
    """
    over = 0.0
    for load in loads:
        limit, before = capacity.limits[load.limit], used.get(load.limit, 0.0)
        more = load.per_run + load.per_l * litres
        over += limit.cost * (max(0.0, before + more - limit.amount) - max(0.0, before - limit.amount))
    return over
