"""The sizes of a week's runs as an exact choice, with the bound that no choice goes below."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from production.domain.batches.cells import pot_kinds
from production.domain.batches.containers import Filled, Taken, fill_containers
from production.domain.batches.content import Batch, Sizing
from production.domain.batches.floor import cost_of, kwh_of
from production.domain.batches.joint import Joint, least
from production.domain.batches.parts import Part, Parts, Quickest, parts_of
from production.domain.batches.prices import COST, MOST_POOLED
from production.domain.batches.units import coded
from production.domain.demand import Demand, Need
from production.domain.kitchen import Product, Week
from production.domain.parameters import ParameterSet

_RUNS_SHARE = 0.55  # of the time; the rest is for the bound (own choice, like the one below)
_BOUND_UNTIL_SHARE = 0.9  # since a solver ends late
_CHOICE_SHARE = 0.3  # of a formula's time; the rest is for whole containers in each run
_GAP_SHARE = 1e-3

Cancelled = Callable[[], bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """How long to look, and from when on."""

    seconds: float
    seed: int
    cancelled: Cancelled | None
    began_s: float

    def left_s(self, share: float) -> float:
        """Seconds until a share of the time is over."""
        return max(0.0, share * self.seconds - (time.monotonic() - self.began_s))

    @property
    def is_over(self) -> bool:
        """Whether time is up or somebody has asked to stop."""
        return self.left_s(1.0) <= 0.0 or (self.cancelled is not None and self.cancelled())


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Runs with what they cost, and the needs without a run."""

    batches: tuple[Batch, ...]
    left: tuple[Need, ...]
    sizing: Sizing


def search_sizes(
    *,
    week: Week,
    demand: Demand,
    parameters: ParameterSet,
    coolable_l: Mapping[str, float],
    quickest: Quickest,
    by_rule: Sequence[Batch],
    left_by_rule: Sequence[Need],
    search: Search,
) -> Found | None:
    """The cheapest runs that are found in the time; nothing where it finds none.

    Equation: for each formula how many runs in which kind of pot, how large, which of them are drawn twice and which
        second draws are poured together, exactly and in whole containers; as if it had the kitchen for itself, since
        the runs get their times later. The bound is of the same measure and knows what all of them share.
    Units: week, demand, parameters, quickest, by_rule, left_by_rule, search (records), coolable_l [L] at once by
        formula; returns records with L, kWh.
    Valid: a week that passed its reader; a formula for which time is up, or that no shift can attend, keeps the runs of
        the rule, and then no bound is told.
    Errors: UnknownParameter for an unknown material.
    Source: time-bucketed lot sizing, a standard method of operations research, from memory.
    """
    known = parts_of(week=week, demand=demand, parameters=parameters, coolable_l=coolable_l, quickest=quickest)
    products = {each.code: each for each in week.products}
    left = {part.code: [n for n in left_by_rule if products[n.product].formula == part.code] for part in known.parts}
    chosen = {
        code: filled
        for code, filled in _chosen(week, known, products, search).items()
        if _ordered(filled.left) <= _ordered(left[code])
    }
    if not chosen:
        return None
    outside = [batch for batch in by_rule if batch.formula not in chosen]
    seconds = search.left_s(_BOUND_UNTIL_SHARE)
    bound = least(week, known.parts, known.spans, COST, seconds=seconds, seed=search.seed, cancelled=search.cancelled)
    others = (need for need in left_by_rule if products[need.product].formula not in chosen)
    return _found(list(chosen.values()), outside, tuple(others), bound, search)


def _ordered(needs: Iterable[Need]) -> int:
    """Containers that somebody has ordered."""
    return sum(need.containers for need in needs if not need.is_wish)


def _chosen(week: Week, known: Parts, products: Mapping[str, Product], search: Search) -> dict[str, Filled]:
    """The runs of each formula; of those for which time is up there are none."""
    found: dict[str, Filled] = {}
    easiest_first = sorted(known.parts, key=lambda part: (bool(part.nets_l), len(part.groups)))
    for n, part in enumerate(easiest_first):  # what they leave of their time is for the others
        if search.is_over:
            break
        seconds = search.left_s(_RUNS_SHARE) / (len(easiest_first) - n)
        filled = _cheapest(week, known, part, products, search, seconds)
        if filled is not None:
            found[part.code] = filled
    return found


def _cheapest(
    week: Week, known: Parts, part: Part, products: Mapping[str, Product], search: Search, seconds: float
) -> Filled | None:
    """The runs of a formula, poured together as they were chosen, or three by three of those that are alike."""
    joint = Joint(week, pot_kinds(week=week), known.spans, COST)
    joint.add(part, alone=True, exact=True)
    answer = joint.mip.solve(
        seconds=_CHOICE_SHARE * seconds, seed=search.seed, gap_share=_GAP_SHARE, cancelled=search.cancelled
    )
    if answer is None:
        return None
    counts = [(each, round(answer.values[each.runs])) for each in joint.choices]
    taken = [Taken(shape=each.shape, course=each.course, runs=count) for each, count in counts if count]
    poured = [pool.kinds for pool in joint.pools for _ in range(round(answer.values[pool.count]))]
    best: Filled | None = None
    ways = [poured, list(_by_threes(taken))] if poured else [[]]
    for pools in ways:
        filled = fill_containers(
            part,
            taken,
            COST,
            products,
            pools=pools,
            seconds=(1.0 - _CHOICE_SHARE) * seconds / len(ways),
            seed=search.seed,
            cancelled=search.cancelled,
        )
        if filled is not None and (best is None or _cost(filled) < _cost(best)):
            best = filled
    return best


def _by_threes(taken: Iterable[Taken]) -> Iterable[tuple[int, ...]]:
    """Pools of three alike, and what is left over together; with one run more of each choice."""
    poured = sorted(each.shape.cell.kind for each in taken if each.course.in_pan for _ in range(each.runs + 1))
    for n in range(0, len(poured), MOST_POOLED):
        yield tuple(poured[n : n + MOST_POOLED])


def _cost(filled: Filled) -> float:
    return sum(cost_of(each.batch, each.cell) for each in filled.made) + filled.late_cost


def _found(
    chosen: Sequence[Filled], outside: Sequence[Batch], left: tuple[Need, ...], bound: float, search: Search
) -> Found:
    """The best runs with their codes, in order."""
    made = [each for filled in chosen for each in filled.made]
    batches = sorted(coded([*(each.batch for each in made), *outside]), key=lambda batch: batch.code)
    cost = sum(_cost(filled) for filled in chosen)
    sizing = Sizing(
        method="search",
        seconds=time.monotonic() - search.began_s,
        runs=len(batches),
        second_draws=sum(batch.has_second_draw for batch in batches),
        reductions=sum(bool(batch.reduction) for batch in batches),
        surplus_l=sum(batch.surplus_l for batch in batches),
        energy_kwh=sum(kwh_of(each.batch, each.cell) for each in made),
    )
    if not outside:
        gap_share = max(0.0, cost - bound) / cost if cost else 0.0
        sizing = replace(sizing, objective=cost, bound=min(bound, cost), gap_share=gap_share)
    return Found(
        batches=tuple(batches), left=(*(need for filled in chosen for need in filled.left), *left), sizing=sizing
    )
