"""The sizes of a week's runs as an exact choice, with the bound that no choice goes below."""

from __future__ import annotations

import math
import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

from production.domain.batches.cells import pot_kinds
from production.domain.batches.choice import Cancelled, choose_runs, least_cost
from production.domain.batches.containers import fill_containers
from production.domain.batches.content import Batch, Sizing
from production.domain.batches.costs import Cost, Placed, cost_of, kwh_of, placed_in_turn, used_by
from production.domain.batches.first_draws import first_draw_batches
from production.domain.batches.loads import Capacity, capacity_of
from production.domain.batches.second_draws import with_second_draws
from production.domain.batches.slots import clock_of
from production.domain.batches.tasks import Task, task_of
from production.domain.batches.units import Making, Unit, coded, needs_of
from production.domain.demand import Need

_BOUND_SHARE = 0.3  # of the time (own choice, like the next)
_LEAST_GAIN_SHARE = 1e-4  # of the cost; a round that gains less is the last
_GOOD_SHARE = 0.005  # above the bound; a round that comes so near is the last
_HAIR_COST = 1e-6
_CHOICE_SHARE = 0.6  # of a step; the rest is for the containers
_LEAST_STEP_S = 0.02
_AFTER_LAST = timedelta(days=1)  # slots go on so long after the last dispatch


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Runs with what they cost, and the needs without a run."""

    batches: tuple[Batch, ...]
    left: tuple[Need, ...]
    sizing: Sizing


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """How long and how hard to look."""

    seconds: float
    workers: int
    seed: int
    slack_share: float
    cancelled: Cancelled | None
    began_s: float

    @property
    def left_s(self) -> float:
        """Seconds that are left."""
        return max(0.0, self.seconds - (time.monotonic() - self.began_s))

    @property
    def is_over(self) -> bool:
        """Whether time is up or somebody has asked to stop."""
        return self.left_s <= 0.0 or (self.cancelled is not None and self.cancelled())


def search_sizes(
    makings: Mapping[str, tuple[Making, list[Need]]],
    by_rule: Sequence[Batch],
    left_by_rule: Sequence[Need],
    search: Search,
) -> Found | None:
    """The cheapest runs that are found in the time, never dearer than those of the rule; nothing where no cell fits.

    Equation: begun from the rule, each formula's runs are chosen anew beside all others, exactly and in whole
        containers, until nothing gets cheaper; the bound is the sum of what each formula costs at the least.
    Units: makings with their needs by formula, by_rule, left_by_rule, search (records); returns records with L, kWh.
    Valid: makings of one week with at least one pot each.
    Errors: UnknownParameter for an unknown material.
    Source: time-bucketed lot sizing, a standard method of operations research, from memory.
    """
    tasks = _tasks(makings, search)
    if not tasks:
        return None
    week, parameters = (each := next(iter(tasks.values())).making).week, each.parameters
    clock = next(iter(tasks.values())).clock
    capacity = capacity_of(
        week=week, parameters=parameters, clock=clock, kinds=pot_kinds(week=week), slack_share=search.slack_share
    )
    outside = [batch for batch in by_rule if batch.formula not in tasks]
    known = [batch for batch in by_rule if batch.formula in tasks]
    state = State(tasks, capacity, placed_in_turn(known, (), tasks, capacity), list(left_by_rule))
    least = _least(tasks, search)
    by_rule_cost = state.cost(state.placed, state.left).runs
    better = True
    while better and not search.is_over:
        better = _improve(state, least, by_rule_cost, search)
    return _found(state, outside, math.fsum(least.values()), search)


@dataclass(slots=True)
class State:
    """The best runs so far."""

    tasks: Mapping[str, Task]
    capacity: Capacity
    placed: list[Placed]
    left: list[Need]

    def cost(self, placed: Sequence[Placed], left: Iterable[Need]) -> Cost:
        """The cost of runs."""
        return cost_of(placed, left, self.tasks, self.capacity)


def _improve(state: State, least: Mapping[str, float], by_rule: float, search: Search) -> bool:
    """Choose each formula anew beside all others; keep what is cheaper as a whole and no dearer than the rule.

    Whether another round could be worth it comes back.
    """
    before = cost = state.cost(state.placed, state.left)
    for n, (code, task) in enumerate(sorted(state.tasks.items(), key=lambda each: each[1].difficulty)):
        if search.is_over:
            break
        step_s = max(_LEAST_STEP_S, search.left_s / (len(state.tasks) - n))
        others = [each for each in state.placed if each.batch.formula != code]
        chosen = choose_runs(
            task,
            state.capacity,
            used_by(others, state.tasks, state.capacity),
            least=least[code],
            seconds=_CHOICE_SHARE * step_s,
            seed=search.seed,
            cancelled=search.cancelled,
        )
        if chosen is None:
            continue
        filled = fill_containers(
            task, chosen, seconds=(1.0 - _CHOICE_SHARE) * step_s, seed=search.seed, cancelled=search.cancelled
        )
        own, still_left = _mended(task, list(filled.placed), filled.left, state.capacity)
        left = [*(need for need in state.left if not task.makes(need)), *still_left]
        found = state.cost([*others, *own], left)
        if found.guided < cost.guided - _HAIR_COST and found.runs < by_rule + _HAIR_COST:
            state.placed, state.left, cost = [*others, *own], left, found
    is_good = cost.runs <= math.fsum(least.values()) * (1.0 + _GOOD_SHARE)
    return not is_good and cost.guided < before.guided * (1.0 - _LEAST_GAIN_SHARE)


def _tasks(makings: Mapping[str, tuple[Making, list[Need]]], search: Search) -> dict[str, Task]:
    needs = [need for _, needs in makings.values() for need in needs]
    if not needs:
        return {}
    week = next(iter(makings.values()))[0].week
    clock = clock_of(week=week, until=max(need.dispatch_at for need in needs) + _AFTER_LAST)
    found = {
        code: task_of(
            making=making,
            needs=needs,
            clock=clock,
            limit_l=making.ranges[-1].largest_l,
            slack_h=12.0 * search.slack_share,
        )
        for code, (making, needs) in makings.items()
    }
    return {code: task for code, task in found.items() if task is not None}


def _least(tasks: Mapping[str, Task], search: Search) -> dict[str, float]:
    """What each formula costs at the least, the easy ones first."""
    until_s = search.left_s * (1.0 - _BOUND_SHARE)
    found = {}
    for n, (code, task) in enumerate(sorted(tasks.items(), key=lambda each: each[1].difficulty)):
        seconds = max(_LEAST_STEP_S, (search.left_s - until_s) / (len(tasks) - n))
        found[code] = least_cost(task, seconds=seconds, seed=search.seed, cancelled=search.cancelled)
    return found


def _mended(
    task: Task, placed: list[Placed], left: Sequence[Need], capacity: Capacity
) -> tuple[list[Placed], list[Need]]:
    making, products = task.making, task.making.products
    broths = [need for need in left if products[need.product].kind == "broth"]
    reductions = sorted(
        (need for need in left if products[need.product].kind != "broth"), key=lambda need: need.dispatch_at
    )
    extra = first_draw_batches(making, broths) if broths else []
    units: list[Unit] = []
    if reductions:
        plain = [each for each in placed if not each.batch.has_second_draw]
        drawn, units = with_second_draws(making, [*(each.batch for each in plain), *extra], reductions)
        again = [replace(each, batch=batch) for each, batch in zip(plain, drawn, strict=False)]
        placed = [*(each for each in placed if each.batch.has_second_draw), *again]
        extra = drawn[len(plain) :]
    tasks = {making.formula.code: task}
    return [*placed, *placed_in_turn(extra, placed, tasks, capacity)], needs_of(units)


def _found(state: State, outside: Sequence[Batch], bound: float, search: Search) -> Found:
    """The best runs with their codes, in order."""
    every = coded([*(each.batch for each in state.placed), *outside])
    runs = [replace(each, batch=batch) for each, batch in zip(state.placed, every, strict=False)]
    batches = sorted(every, key=lambda batch: batch.code)
    cost = cost_of(runs, state.left, state.tasks, state.capacity).runs
    return Found(
        batches=tuple(batches),
        left=tuple(state.left),
        sizing=Sizing(
            method="search",
            objective=cost,
            bound=min(bound, cost),
            gap_share=max(0.0, cost - bound) / cost,
            seconds=time.monotonic() - search.began_s,
            runs=len(batches),
            second_draws=sum(batch.has_second_draw for batch in batches),
            reductions=sum(bool(batch.reduction) for batch in batches),
            surplus_l=sum(batch.surplus_l for batch in batches),
            energy_kwh=sum(kwh_of(each) for each in runs),
        ),
    )
