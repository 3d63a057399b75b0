"""The sizes of a week's runs as an exact choice, with the bound that no choice goes below."""

from __future__ import annotations

import itertools
import random
import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

from production.domain.batches.cells import pot_kinds
from production.domain.batches.choice import Cancelled, Chosen, choose_runs, least_cost, least_together
from production.domain.batches.containers import fill_containers
from production.domain.batches.content import Batch, Sizing
from production.domain.batches.costs import Placed, cost_of, kwh_of, overload_added, placed_in_turn, used_by
from production.domain.batches.first_draws import first_draw_batches
from production.domain.batches.loads import Capacity, capacity_of
from production.domain.batches.second_draws import with_second_draws
from production.domain.batches.slots import clock_of
from production.domain.batches.tasks import Task, task_of
from production.domain.batches.units import Making, Unit, coded, needs_of
from production.domain.demand import Need

_FIRST_SHARE, _JOINT_SHARE = 0.5, 0.6  # of the time; the latter of what is left then (own choice)
_FIRST_S = 0.25  # for a formula that is chosen alone for the first time, at most (own choice)
_LEAST_JOINT_S = 0.1  # for each formula; in less than that nothing good is found together (measured)
_MOST_TOGETHER = 900  # whole numbers in one program; the solver does not keep its time with more (measured)
_STEP_SHARE = 0.1  # of the time, for each formula that is chosen anew with others (own choice)
_LEAST_GAIN_SHARE = 1e-4  # of the cost; a round that gains less is the last
_HAIR_COST = 1e-6
_CHOICE_SHARE = 0.8  # of a step; the rest is for the containers
_BOUND_SHARE = 0.03  # of the time (own choice)
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
    pools: bool
    cancelled: Cancelled | None
    began_s: float

    @property
    def left_s(self) -> float:
        """Seconds that are left, but for those that the bound is worked out in."""
        return max(0.0, (1.0 - 2.0 * _BOUND_SHARE) * self.seconds - (time.monotonic() - self.began_s))

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

    Equation: runs are chosen formula by formula beside all that is chosen already, exactly and in whole containers;
        then all together, and some formulas at a time beside all others, until nothing gets cheaper. What they cost is
        told with their lateness and with what they overbook; the bound is of the same.
    Units: makings with their needs by formula, by_rule, left_by_rule, search (records); returns records with L, kWh.
    Valid: makings of one week with at least one pot each.
    Errors: UnknownParameter for an unknown material.
    Source: time-bucketed lot sizing, a standard method of operations research, from memory.
    """
    tasks = _tasks(makings, search)
    if not tasks:
        return None
    week, parameters = (each := next(iter(tasks.values())).making).week, each.parameters
    capacity = capacity_of(
        week=week,
        parameters=parameters,
        clock=next(iter(tasks.values())).clock,
        kinds=pot_kinds(week=week),
        slack_share=search.slack_share,
        most_l=max(fill.largest_l for task in tasks.values() for fill in task.fills),
    )
    outside = [batch for batch in by_rule if batch.formula not in tasks]
    known = [batch for batch in by_rule if batch.formula in tasks]
    rule = State(tasks, capacity, placed_in_turn(known, (), tasks, capacity), list(left_by_rule))
    state = _better_than(rule, search)
    return _found(state, outside, _least(tasks, capacity, search), search)


def _better_than(rule: State, search: Search) -> State:
    """Runs chosen formula by formula, the most pressing first; then all together; then some at a time."""
    order = sorted(rule.tasks, key=lambda code: rule.tasks[code].begins_h)
    state = State(rule.tasks, rule.capacity, [], [])
    for n, code in enumerate(order):
        seconds = min(_FIRST_S, max(0.0, search.left_s - (1.0 - _FIRST_SHARE) * search.seconds) / (len(order) - n))
        state = state.with_runs_of(rule, code)
        if not search.is_over():
            state = _cheaper(state, _chosen(state, [code], search, seconds))
    if rule.guided < state.guided:
        state = rule
    joint_s = _JOINT_SHARE * search.left_s
    if joint_s > _LEAST_JOINT_S * len(order) and _is_small(state, order):
        state = _cheaper(state, _chosen(state, order, search, joint_s))
    return _improved(state, search)


def _improved(state: State, search: Search) -> State:
    """Some formulas chosen anew beside all others, until none of them gets cheaper or time is up."""
    rng = random.Random(search.seed)  # noqa: S311  # a search needs no secrets
    codes = list(state.tasks)
    groups = (group for size in (1, 2, 3) for group in itertools.combinations(codes, size))
    several = [group for group in groups if len(group) == 1 or _is_small(state, group)]
    better = True
    while better and not search.is_over():
        before = state.guided
        rng.shuffle(several)
        for group in several:
            if search.is_over():
                break
            seconds = min(search.left_s, _STEP_SHARE * len(group) * search.seconds)
            state = _cheaper(state, _chosen(state, group, search, seconds))
        better = state.guided < before * (1.0 - _LEAST_GAIN_SHARE)
    return state


def _is_small(state: State, codes: Sequence[str]) -> bool:
    """Whether the runs of some formulas can be chosen together in a time that is kept."""
    return sum(state.tasks[code].choices for code in codes) <= _MOST_TOGETHER


def _cheaper(state: State, found: State | None) -> State:
    return state if found is None or found.guided > state.guided - _HAIR_COST else found


@dataclass(frozen=True, slots=True)
class State:
    """Runs with their places, and needs that have none."""

    tasks: Mapping[str, Task]
    capacity: Capacity
    placed: list[Placed]
    left: list[Need]

    @property
    def guided(self) -> float:
        """What they cost, their time included."""
        return cost_of(self.placed, self.left, self.tasks, self.capacity).guided

    def without(self, formula: str) -> State:
        """The same without the runs of a formula."""
        placed = [each for each in self.placed if each.batch.formula != formula]
        left = [need for need in self.left if not self.tasks[formula].makes(need)]
        return State(self.tasks, self.capacity, placed, left)

    def with_runs_of(self, other: State, formula: str) -> State:
        """The same with another's runs of a formula, each in the place that is best now."""
        batches = [each.batch for each in other.placed if each.batch.formula == formula]
        placed = placed_in_turn(batches, self.placed, self.tasks, self.capacity)
        left = [need for need in other.left if self.tasks[formula].makes(need)]
        return State(self.tasks, self.capacity, [*self.placed, *placed], [*self.left, *left])


def _chosen(state: State, codes: Sequence[str], search: Search, seconds: float) -> State | None:
    """The runs of some formulas chosen anew beside those of all others."""
    known = [each for code in codes for each in _known(state, code)]
    for code in codes:
        state = state.without(code)
    used = used_by(state.placed, state.tasks, state.capacity)
    tasks = [state.tasks[code] for code in codes]
    found = choose_runs(
        tasks,
        state.capacity,
        used,
        known=known,
        seconds=_CHOICE_SHARE * seconds,
        seed=search.seed,
        cancelled=search.cancelled,
    )
    if found is None:
        return None
    for task, chosen in zip(tasks, found, strict=True):
        for each in chosen:
            for load in each.loads(task, state.capacity):
                used[load.limit] += load.per_run * each.runs + load.per_l * each.litres
    for task, chosen in zip(tasks, found, strict=True):
        state = _filled(state, task, chosen, used, search, (1.0 - _CHOICE_SHARE) * seconds / len(tasks))
    return state


def _known(state: State, code: str) -> Iterable[Chosen]:
    """The runs of a formula as they would have been chosen."""
    task = state.tasks[code]
    for each in state.placed:
        if each.batch.formula == code:
            like = (fill for fill in task.fills if fill.cell == each.cell and fill.piece == each.piece)
            fill = next(like, None)
            if fill is not None:
                yield Chosen(fill=fill, slot=each.slot, runs=1, litres=each.batch.first_l)


def _filled(
    state: State, task: Task, chosen: Sequence[Chosen], used: Mapping[int, float], search: Search, seconds: float
) -> State:
    """The runs of a formula with whole containers."""
    filled = fill_containers(
        task,
        chosen,
        more_cost=lambda each: overload_added(each.loads(task, state.capacity), 0.0, state.capacity, used),
        seconds=seconds,
        seed=search.seed,
        cancelled=search.cancelled,
    )
    own, left = _mended(task, list(filled.placed), filled.left, state.capacity)
    return State(state.tasks, state.capacity, [*state.placed, *own], [*state.left, *left])


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
            slack_share=search.slack_share,
            pools=search.pools,
        )
        for code, (making, needs) in makings.items()
    }
    return {code: task for code, task in found.items() if task is not None}


def _least(tasks: Mapping[str, Task], capacity: Capacity, search: Search) -> float:
    """What all runs cost at the least: each formula alone, and parts of runs together beside the week's limits."""
    alone = {
        code: least_cost(
            task, seconds=_BOUND_SHARE * search.seconds / len(tasks), seed=search.seed, cancelled=search.cancelled
        )
        for code, task in tasks.items()
    }
    return least_together(tasks, capacity, alone, seconds=_BOUND_SHARE * search.seconds)


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
    cost = cost_of(runs, state.left, state.tasks, state.capacity).guided
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
