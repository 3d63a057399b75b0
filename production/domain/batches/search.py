"""The sizes of a week's runs as an exact choice, with the bound that no choice goes below."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from production.domain.batches.alone import COARSE, FINE, Alone
from production.domain.batches.containers import Filled, Member, Taken, fill_containers
from production.domain.batches.content import Batch, Sizing
from production.domain.batches.floor import cost_of, kwh_of
from production.domain.batches.joint import least, surely_least
from production.domain.batches.parts import Part, Parts, Quickest, parts_of
from production.domain.batches.prices import COST, MOST_POOLED
from production.domain.batches.units import coded
from production.domain.demand import Demand, Need
from production.domain.kitchen import Product, Week
from production.domain.parameters import ParameterSet

_RUNS_SHARE = 0.55  # of the time; the rest is for the bound (own choice, like the one below)
_BOUND_UNTIL_SHARE = 0.95  # since a solver ends late
_CHOICE_SHARE = 0.4  # of what is left of a formula's time
_FILL_SHARE = 0.5  # then, for whole containers in each run
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


@dataclass(frozen=True, slots=True)
class _Cheapest:
    """The cheapest runs of a formula, and what any cost at the least if that is known."""

    filled: Filled
    proven: float | None


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
    cheapest = _chosen(known, products, search)
    chosen = {
        code: each.filled for code, each in cheapest.items() if _ordered(each.filled.left) <= _ordered(left[code])
    }
    proven = {code: each.proven for code, each in cheapest.items() if each.proven is not None}
    if not chosen:
        return None
    outside = [batch for batch in by_rule if batch.formula not in chosen]
    seconds = search.left_s(_BOUND_UNTIL_SHARE)
    bound = least(
        week,
        known.parts,
        known.spans,
        COST,
        seconds=seconds,
        seed=search.seed,
        proven=proven,
        cancelled=search.cancelled,
    )
    others = (need for need in left_by_rule if products[need.product].formula not in chosen)
    return _found(list(chosen.values()), outside, tuple(others), bound, search)


def _ordered(needs: Iterable[Need]) -> int:
    """Containers that somebody has ordered."""
    return sum(need.containers for need in needs if not need.is_wish)


def _chosen(known: Parts, products: Mapping[str, Product], search: Search) -> dict[str, _Cheapest]:
    """The runs of each formula; of those for which time is up there are none."""
    found: dict[str, _Cheapest] = {}
    easiest_first = sorted(known.parts, key=lambda part: (bool(part.nets_l), len(part.groups)))
    for n, part in enumerate(easiest_first):  # what they leave of their time is for the others
        if search.is_over:
            break
        seconds = search.left_s(_RUNS_SHARE) / (len(easiest_first) - n)
        cheapest = _cheapest(part, products, search, seconds)
        if cheapest is not None:
            found[part.code] = cheapest
    return found


def _cheapest(part: Part, products: Mapping[str, Product], search: Search, seconds: float) -> _Cheapest | None:
    """The runs of a formula just as they were chosen; where whole containers do not fill these, with other fills."""
    until_s = time.monotonic() + seconds
    best: Filled | None = None
    proven = None
    for most_pools, freely in ((FINE, False), (COARSE, True), (FINE, True)):
        chosen = _choice(part, most_pools, until_s, search)
        if chosen is None:
            continue
        if chosen.is_known:
            proven = chosen.bound
        for pools in (chosen.pools, list(_by_threes(chosen.alike))) if freely else (chosen.pools,):
            filled = fill_containers(
                part,
                chosen.alike if freely else chosen.taken,
                COST,
                products,
                pools=pools,
                freely=freely,
                seconds=_FILL_SHARE * (until_s - time.monotonic()),
                seed=search.seed,
                cancelled=search.cancelled,
            )
            if filled is not None and (best is None or _cost(filled) < _cost(best)):
                best = filled
            if best is not None and (_cost(best) <= chosen.bound * (1.0 + _GAP_SHARE) or not part.nets_l):
                return _Cheapest(best, proven)
    return None if best is None else _Cheapest(best, proven)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Choice:
    """Runs of a formula that were chosen, with the pools of their second draws."""

    taken: tuple[Taken, ...]
    pools: tuple[list[Member], ...]
    bound: float
    is_known: bool  # nothing better can be proven of any runs

    @property
    def alike(self) -> list[Taken]:
        """Runs of a shape on a course together, whatever their fills."""
        found: dict[tuple[int, int], Taken] = {}
        for each in self.taken:
            key = id(each.shape), id(each.course)
            found[key] = replace(each, runs=each.runs + (found[key].runs if key in found else 0))
        return list(found.values())


def _choice(part: Part, most_pools: int, until_s: float, search: Search) -> _Choice | None:
    """The cheapest runs, as far as the time allows."""
    alone = Alone(part, COST, surely=True, most_pools=most_pools)
    answer = alone.mip.solve(
        seconds=_CHOICE_SHARE * (until_s - time.monotonic()),
        seed=search.seed,
        gap_share=_GAP_SHARE,
        cancelled=search.cancelled,
    )
    if answer is None:
        return None
    taken = (
        Taken(
            shape=each.shape,
            course=each.course,
            runs=round(answer.values[each.runs]),
            least_l=each.least_l,
            most_l=each.most_l,
        )
        for each in alone.choices
    )
    pools = [pool for pool, at in alone.pools for _ in range(round(answer.values[at]))]
    return _Choice(
        taken=tuple(each for each in taken if each.runs),
        pools=tuple([(kind, alone.fills[kind][place].least_l) for kind, place in pool.members] for pool in pools),
        bound=surely_least(answer.bound),
        is_known=alone.is_exact and answer.proven,
    )


def _by_threes(taken: Iterable[Taken]) -> Iterable[list[Member]]:
    """Pools of three alike, and what is left over together; with one run more of each choice."""
    poured = sorted(each.shape.cell.kind for each in taken if each.course.in_pan for _ in range(each.runs + 1))
    for n in range(0, len(poured), MOST_POOLED):
        yield [(kind, 0.0) for kind in poured[n : n + MOST_POOLED]]


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
