"""The plan a person makes with a wall chart: earliest dispatch first, biggest free pot, filled, first fit.

It walks the order lines by dispatch. Where the stock made so far does not cover a line, it makes a run in the pot
that suits (formula allowed, least fill wanted) and is free first, the biggest of those that are free then, filled with
the line and with later lines of the same broth as far as pot, cooling and shelf life allow. It draws twice as long as
the week still wants reduction of the formula, and every run reduces in its own pot. Runs already on the chart are
never moved, and no smaller pot is taken because the run would be less late there.
Ingredients are all bought. It keeps every limit that the plans of this house keep, and is read by the same checker.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from production.domain.batches import Batch, Peg, Portion
from production.domain.cooling_capacity import largest_coolable_l
from production.domain.demand import Demand, Need, first_cook_date, net_demand
from production.domain.formula import HAIR_L, PotRange, least_reduction_l, pot_ranges
from production.domain.kitchen import Formula, Product, Week
from production.domain.parameters import ParameterSet
from production.domain.plan import parameters_of
from production.domain.plan.frame import Frame, frame_of
from production.domain.plan.jobs import Held, jobs_of
from production.domain.plan.problem import problem_of
from production.domain.plan.repair import schedule_of
from production.domain.schedule.book import Book
from production.domain.schedule.check import check_schedule
from production.domain.schedule.placement import Found, best_placement
from production.domain.schedule.problem import Problem, RunJob
from production.domain.schedule.result import PlacedRun, Schedule, Violation
from production.domain.thermal.properties import boiling_point_c

_BROTH_KG_M3 = 1015.0
_STEPS = 6  # fills that are tried for a run that is made for its reduction


@dataclass(frozen=True, slots=True, kw_only=True)
class HandPlan:
    """What stands on the chart, and the containers that found no place on it, by order line."""

    demand: Demand
    batches: tuple[Batch, ...]
    problem: Problem
    schedule: Schedule
    unserved: dict[str, int]
    violations: tuple[Violation, ...]


@dataclass(frozen=True, slots=True)
class _Kind:
    """Pots that make the same of a formula, with a kitchen that has only these."""

    frame: Frame
    smallest_l: float
    largest_l: float


@dataclass(slots=True)
class _Chart:
    """The wall chart while it fills."""

    frame: Frame
    demand: Demand
    kinds: dict[str, list[_Kind]]
    left: dict[int, int]  # containers still wanted, by the need's number
    batches: list[Batch] = field(default_factory=list)
    jobs: list[RunJob] = field(default_factory=list)
    runs: list[PlacedRun] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Tried:
    """A run that could be put on the chart."""

    batch: Batch
    taken: dict[int, int]
    job: RunJob
    found: Found


def hand_plan(week: Week) -> HandPlan:
    """Plan a week by hand."""
    bought = replace(week, saved_bones=(), ingredient_stock=())
    parameters = parameters_of(week=bought)
    frame = frame_of(bought, parameters)
    demand = net_demand(week=bought)
    chart = _Chart(
        frame=frame,
        demand=demand,
        kinds={formula.code: list(_kinds(frame, parameters, formula)) for formula in bought.formulas},
        left={n: need.containers for n, need in enumerate(demand.needs)},
    )
    unserved: dict[str, int] = {}
    for n, need in enumerate(demand.needs):
        while chart.left[n] and not need.is_wish:
            best = _best_run(chart, n)
            if best is None:
                unserved[need.line] = unserved.get(need.line, 0) + chart.left[n]
                chart.left[n] = 0
            else:
                _put_up(chart, best)
    return _read_off(chart, unserved)


def _kinds(frame: Frame, parameters: ParameterSet, formula: Formula) -> Iterator[_Kind]:
    """Kinds of pots for a formula, biggest first, none with more than can be cooled at once."""
    week = frame.week
    coolable_l = largest_coolable_l(
        week=week,
        parameters=parameters,
        density_kg_m3=_BROTH_KG_M3,
        start_c=boiling_point_c(altitude_m=week.kitchen.altitude_m) - formula.simmer_below_boil_k,
    )
    stock_pots = replace(week, pots=tuple(pot for pot in week.pots if not pot.reduction_pan))
    alike: dict[tuple[float, float], list[PotRange]] = {}
    for each in pot_ranges(week=stock_pots, parameters=parameters, formula=formula):
        if each.smallest_l <= coolable_l:
            alike.setdefault((each.smallest_l, each.largest_l), []).append(each)
    for (smallest_l, largest_l), members in sorted(alike.items(), key=lambda item: -item[0][1]):
        codes = {each.pot for each in members}
        only = replace(stock_pots, pots=tuple(pot for pot in week.pots if pot.code in codes))
        yield _Kind(frame=frame_of(only, parameters), smallest_l=smallest_l, largest_l=min(largest_l, coolable_l))


def _best_run(chart: _Chart, n: int) -> _Tried | None:
    """The run for a need in the pot that is free first, the biggest of them; drawn twice while reduction is wanted."""
    product = chart.frame.products[chart.demand.needs[n].product]
    twice = [True, False] if product.kind == "broth" else [True]
    for second in twice:
        if second and not _wants_reduction(chart, product.formula):
            continue
        tried = [_try(chart, kind, n, second=second) for kind in _suiting(chart, n, second=second)]
        fitting = [each for each in tried if each is not None]
        if fitting:
            return min(fitting, key=lambda each: each.found.run.start_min)
    return None


def _wants_reduction(chart: _Chart, formula: str) -> bool:
    return any(chart.left[n] for n in _needs_of(chart, formula, broth=False))


def _needs_of(chart: _Chart, formula: str, *, broth: bool) -> list[int]:
    """Numbers of the needs of a formula that are still open, by dispatch."""
    products = chart.frame.products
    return [
        n
        for n, need in enumerate(chart.demand.needs)
        if chart.left[n]
        and not need.is_wish
        and products[need.product].formula == formula
        and (products[need.product].kind == "broth") == broth
    ]


def _suiting(chart: _Chart, n: int, *, second: bool) -> list[_Kind]:
    """Kinds of pots whose least fill is wanted, biggest first; the one with the smallest least fill where none is."""
    formula = chart.frame.products[chart.demand.needs[n].product].formula
    kinds = chart.kinds[formula]
    wanted_l = sum(
        chart.left[m] * chart.frame.products[chart.demand.needs[m].product].net_l
        for m in _for_one_day(chart, n, _needs_of(chart, formula, broth=True))
    )
    suiting = [kind for kind in kinds if kind.smallest_l <= wanted_l + HAIR_L]
    return suiting or sorted(kinds, key=lambda kind: kind.smallest_l)[: len(kinds) if second else 1]


def _for_one_day(chart: _Chart, n: int, others: list[int]) -> list[int]:
    """The needs that one run can serve together with need n, cooked on the day before its dispatch or earlier."""
    opens_on = _leaves_on(chart, chart.demand.needs[n])
    fitting = []
    for m in others:
        need = chart.demand.needs[m]
        first_day = first_cook_date(dispatch_on=_leaves_on(chart, need), product=chart.frame.products[need.product])
        if need.dispatch_at >= chart.demand.needs[n].dispatch_at and first_day <= opens_on - timedelta(days=1):
            fitting.append(m)
    return [n, *(m for m in fitting if m != n)] if n in others else fitting


def _leaves_on(chart: _Chart, need: Need) -> date:
    return chart.frame.local_date(need.dispatch_at)


def _try(chart: _Chart, kind: _Kind, n: int, *, second: bool) -> _Tried | None:
    filled = _filled(chart, kind, n, second=second)
    if filled is None:
        return None
    batch, taken = filled
    made = jobs_of(kind.frame, [batch], Held())
    if batch.code not in made.ready:
        return None
    job = made.ready[batch.code].job
    found = best_placement(_book_with(chart, job), job)
    return None if found is None else _Tried(batch=batch, taken=taken, job=job, found=found)


def _book_with(chart: _Chart, job: RunJob) -> Book:
    """What is still free around the runs on the chart, for one more run."""
    book = Book(problem_of(chart.frame, chart.demand, (*chart.jobs, job)))
    for other, run in zip(chart.jobs, chart.runs, strict=True):
        book.take_run(other, run, 1)
    return book


def _filled(chart: _Chart, kind: _Kind, n: int, *, second: bool) -> tuple[Batch, dict[int, int]] | None:
    """The run in a pot: the need and what goes with it; none where it would serve nothing of the need."""
    formula = chart.frame.formulas[chart.frame.products[chart.demand.needs[n].product].formula]
    broth = _for_one_day(chart, n, _needs_of(chart, formula.code, broth=True))
    taken, litres = _taken(chart, broth, kind.largest_l)
    reduced: dict[int, int] = {}
    first_l = max(litres, kind.smallest_l)
    if second:
        wanted = _needs_of(chart, formula.code, broth=False)
        if n in wanted:
            wanted = [n, *(m for m in wanted if m != n)]
            first_l = _enough_for(chart, kind, formula, first_l, chart.demand.needs[n])
        reduced, _ = _taken(chart, wanted, _gives_l(chart, kind, formula, first_l))
    if n not in taken and n not in reduced:
        return None
    first = list(_portions(chart, taken))
    if not first and not _broths(chart, formula):
        return None
    first = _topped_up(chart, formula, first, first_l)
    batch = Batch(
        code=f"H{len(chart.batches) + 1:03d}",
        formula=formula.code,
        first=tuple(first),
        reduction=tuple(_portions(chart, reduced)),
    )
    return (batch, {**taken, **reduced}) if batch.first_l <= kind.largest_l + HAIR_L else None


def _taken(chart: _Chart, needs: list[int], room_l: float) -> tuple[dict[int, int], float]:
    """Containers of the needs in their order as long as there is room, and their litres."""
    taken: dict[int, int] = {}
    litres = 0.0
    for n in needs:
        net_l = chart.frame.products[chart.demand.needs[n].product].net_l
        containers = min(chart.left[n], math.floor((room_l - litres) / net_l + HAIR_L))
        if containers > 0:
            taken[n] = containers
            litres += containers * net_l
    return taken, litres


def _gives_l(chart: _Chart, kind: _Kind, formula: Formula, first_l: float) -> float:
    return least_reduction_l(
        week=kind.frame.week, parameters=chart.frame.parameters, formula=formula, drawn_l=min(first_l, kind.largest_l)
    )


def _enough_for(chart: _Chart, kind: _Kind, formula: Formula, first_l: float, need: Need) -> float:
    """The smallest of a few first draws whose bones give the reduction wanted, or as large as the pot makes."""
    wanted_l = need.containers * chart.frame.products[need.product].net_l
    for step in range(_STEPS):
        litres = first_l + (kind.largest_l - first_l) * step / _STEPS
        if _gives_l(chart, kind, formula, litres) >= wanted_l:
            return litres
    return kind.largest_l


def _portions(chart: _Chart, taken: dict[int, int]) -> Iterator[Portion]:
    by_product: dict[str, list[Peg]] = {}
    for n, containers in taken.items():
        need = chart.demand.needs[n]
        peg = Peg(
            line=need.line,
            containers=containers,
            share=containers / need.of_containers,
            dispatch_at=need.dispatch_at,
            weight=need.weight,
        )
        by_product.setdefault(need.product, []).append(peg)
    for code, pegs in by_product.items():
        containers = sum(peg.containers for peg in pegs)
        yield Portion(
            product=code,
            containers=containers,
            litres=containers * chart.frame.products[code].net_l,
            pegs=tuple(pegs),
        )


def _broths(chart: _Chart, formula: Formula) -> list[Product]:
    mine = [each for each in chart.frame.products.values() if each.formula == formula.code and each.kind == "broth"]
    return sorted(mine, key=lambda each: each.net_l)


def _topped_up(chart: _Chart, formula: Formula, first: list[Portion], wanted_l: float) -> list[Portion]:
    """Filled up to the least fill, in the smallest container the broth is sold in."""
    short_l = wanted_l - sum(portion.litres for portion in first)
    if short_l <= HAIR_L:
        return first
    product = _broths(chart, formula)[0]
    extra = math.ceil(short_l / product.net_l - HAIR_L)
    old = next((portion for portion in first if portion.product == product.code), None)
    pegs = old.pegs if old else ()
    containers = extra + (old.containers if old else 0)
    new = Portion(product=product.code, containers=containers, litres=containers * product.net_l, pegs=pegs)
    return [*(portion for portion in first if portion is not old), new]


def _put_up(chart: _Chart, best: _Tried) -> None:
    chart.batches.append(best.batch)
    chart.jobs.append(best.job)
    chart.runs.append(best.found.run)
    for n, containers in best.taken.items():
        chart.left[n] -= containers


def _read_off(chart: _Chart, unserved: dict[str, int]) -> HandPlan:
    problem = problem_of(chart.frame, chart.demand, tuple(chart.jobs))
    schedule = schedule_of(problem, chart.runs)
    return HandPlan(
        demand=chart.demand,
        batches=tuple(chart.batches),
        problem=problem,
        schedule=schedule,
        unserved=unserved,
        violations=tuple(check_schedule(problem, schedule)),
    )
