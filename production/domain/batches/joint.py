"""All runs of a week in one program: what no plan of it can do better than, whatever is counted.

Every row holds for every plan that passes the checker of schedules (schedule/check.py); beside each stands why. What
is left out only makes the program's answer smaller.
"""

from __future__ import annotations

import math
import time
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from production.domain.batches.alone import COARSE, FINE, Alone
from production.domain.batches.cells import Line, PotKind, pot_kinds
from production.domain.batches.courses import Course, Span
from production.domain.batches.flow import Terms, late_for, serve_broths, serve_reductions, wanted_reductions
from production.domain.batches.highs import Mip
from production.domain.batches.parts import Part
from production.domain.batches.prices import MOST_POOLED, MOST_RUNS, Measure
from production.domain.batches.shapes import Shape, packed_l
from production.domain.kitchen import Week

Cancelled = Callable[[], bool]
_GAP_SHARE = 1e-3
_ALONE_SHARE = 0.85  # of the time, for each formula as if it had the kitchen for itself (own choice)
_HAIR_SHARE = 1e-7  # a bound is taken as so much less, for the solver's tolerances


def least(
    week: Week,
    parts: Sequence[Part],
    spans: tuple[Span, ...],
    measure: Measure,
    *,
    seconds: float,
    seed: int = 0,
    proven: Mapping[str, float] | None = None,
    cancelled: Cancelled | None = None,
) -> float:
    """What no plan of a week counts less than.

    Equation: the greatest of: the sum of what each formula alone counts at the least; the linear relaxation of all
        together, each formula no less than alone; the dual bound of the same with whole runs.
    Units: week, parts, spans, measure (records), seconds [s], seed (count), proven (what some formulas are known to
        count at the least alone, by code), cancelled (asks whether to stop); returns what is measured.
    Valid: parts of the week; 0 as long as nothing is known.
    Errors: none.
    Source: lot sizing in periods and its relaxations, standard methods of operations research, from memory.
    """
    began_s, kinds = time.monotonic(), pot_kinds(week=week)

    def left_s(share: float) -> float:
        return max(0.0, share * seconds - (time.monotonic() - began_s))

    alone: list[float] = []
    parts = sorted(parts, key=lambda part: (bool(part.nets_l), len(part.groups)))  # the easiest first
    for n, part in enumerate(parts):
        own_s = left_s(_ALONE_SHARE) / (len(parts) - n)
        known = proven.get(part.code) if proven else None
        if known is None:
            known = _alone(part, measure, seconds=own_s, seed=seed, cancelled=cancelled)
        alone.append(known)
    apart = math.fsum(alone)
    joint = Joint(week, kinds, spans, measure)
    for part, at_least in zip(parts, alone, strict=True):
        first = len(joint.mip.cost)
        joint.add(part)
        counted = [(n, joint.mip.cost[n]) for n in range(first, len(joint.mip.cost)) if joint.mip.cost[n]]
        if counted and at_least > 0.0:
            joint.mip.row(counted, low=at_least)
    joint.limit()
    together = joint.mip.least(seconds=left_s(1.0), seed=seed, gap_share=_GAP_SHARE, cancelled=cancelled)
    return max(apart, together * (1.0 - _HAIR_SHARE)) if math.isfinite(together) else apart


def _alone(part: Part, measure: Measure, *, seconds: float, seed: int, cancelled: Cancelled | None) -> float:
    """What a formula alone counts at the least: first with few kinds of pools, since that is soon known."""
    began_s = time.monotonic()
    few, many = (Alone(part, measure, surely=False, most_pools=most) for most in (COARSE, FINE))
    is_finer = len(many.pools) > len(few.pools)
    known = _sure(few.mip, seconds=seconds / (2.0 if is_finer else 1.0), seed=seed, cancelled=cancelled)
    left_s = seconds - (time.monotonic() - began_s)
    if is_finer and left_s > 0.0:
        known = max(known, _sure(many.mip, seconds=left_s, seed=seed, cancelled=cancelled))
    return known


def _sure(mip: Mip, *, seconds: float, seed: int, cancelled: Cancelled | None) -> float:
    """A bound that the tolerances of the solver do not make too great; without time for whole runs that of parts."""
    found = mip.least(seconds=seconds, seed=seed, gap_share=_GAP_SHARE, cancelled=cancelled)
    if not math.isfinite(found):
        kept, mip.whole = mip.whole, [False] * len(mip.whole)
        found = mip.least(seconds=seconds, seed=seed)
        mip.whole = kept
    return surely_least(found)


def surely_least(bound: float) -> float:
    """A bound without what the tolerances of the solver may have added.

    Equation: max(0, bound x (1 - 1e-7)); 0 where there is none.
    Units: bound (what is measured); returns the same.
    Valid: any.
    Errors: none.
    Source: own choice.
    """
    return max(0.0, bound * (1.0 - _HAIR_SHARE)) if math.isfinite(bound) else 0.0


@dataclass(frozen=True, slots=True, order=True)
class Limit:
    """Something that all runs share in a span; what is cold before a moment uses it until then."""

    what: str  # pots, before, night or hands
    span: int
    kind: int = -1
    until_h: float = math.inf


@dataclass(slots=True)
class _Formula:
    """Where the draws of a formula go."""

    part: Part
    cold: dict[tuple[float, ...], Terms] = field(default_factory=lambda: defaultdict(list))  # by how late for whom
    reduced: dict[float, Terms] = field(default_factory=lambda: defaultdict(list))  # by when it is cold
    given: Terms = field(default_factory=list)  # reduction, by all runs
    packed: Terms = field(default_factory=list)  # the same in whole containers
    twice: Terms = field(default_factory=list)  # runs whose reduction is made in their own pot
    poured: dict[int, Terms] = field(default_factory=lambda: defaultdict(list))  # runs, by span
    liquor: dict[int, Terms] = field(default_factory=lambda: defaultdict(list))  # their litres
    pooled: dict[int, Terms] = field(default_factory=lambda: defaultdict(list))  # and what they give


class Joint:
    """The program, formula by formula, and what they share."""

    def __init__(self, week: Week, kinds: tuple[PotKind, ...], spans: tuple[Span, ...], measure: Measure) -> None:
        self.week, self.kinds, self.spans, self.measure = week, kinds, spans, measure
        self.mip = Mip()
        self.totals: list[tuple[int, int]] = []  # runs and litres of each shape
        self.shared: dict[Limit, Terms] = defaultdict(list)
        self.late: Terms = []
        self.cold_h = math.inf  # in which any first draw is cold at the least

    def add(self, part: Part) -> None:
        """Add the runs of a formula and the flow of their draws to its needs."""
        formula = _Formula(part)
        self.cold_h = min(self.cold_h, part.ways.cold_h)
        for shape in part.shapes:
            self._add_shape(formula, shape)
        self.late += serve_broths(self.mip, part, formula.cold, self.measure, whole=False)
        self._reduce(formula)

    def _add_shape(self, formula: _Formula, shape: Shape) -> None:
        """Whole runs of a shape; each takes one of the courses, and so do its litres.

        Of many courses each may be taken by parts of runs, which is easier to solve and only makes the answer smaller.
        """
        runs = self.mip.variable(whole=True, high=MOST_RUNS)
        litres = self.mip.variable()
        self.totals.append((runs, litres))
        all_runs, all_litres = [(runs, -1.0)], [(litres, -1.0)]
        for course in formula.part.ways.courses(shape):
            n, drawn = self._add_course(shape)
            all_runs.append((n, 1.0))
            all_litres.append((drawn, 1.0))
            self._hold(shape, course, n, drawn)
            formula.cold[late_for(formula.part, course)].append((drawn, 1.0))
            self._give(formula, shape, course, n, drawn)
        self.mip.row(all_runs, low=0.0, high=0.0)
        self.mip.row(all_litres, low=0.0, high=0.0)
        if shape.again is not None:
            given = self.mip.variable()
            formula.given.append((given, 1.0))
            for line in shape.again.gives:  # no run gives more than any of the lines says, so neither do all together
                self.mip.row([(given, 1.0), (runs, -line.base), (litres, -line.per_l)], high=0.0)

    def _add_course(self, shape: Shape) -> tuple[int, int]:
        cost = self.measure.run + (self.measure.second if shape.again is not None else 0.0)
        runs = self.mip.variable(cost=cost + self.measure.kwh * shape.kwh.base, high=MOST_RUNS)
        litres = self.mip.variable(cost=self.measure.kwh * shape.kwh.per_l)
        self.mip.row([(litres, 1.0), (runs, -shape.smallest_l)], low=0.0)
        self.mip.row([(litres, 1.0), (runs, -shape.largest_l)], high=0.0)
        return runs, litres

    def _hold(self, shape: Shape, course: Course, runs: int, litres: int) -> None:
        """Pots and hands that a course takes in each span."""
        kind = shape.cell.kind
        for n, stay in course.stays.items():
            self.shared[Limit("pots", n, kind)] += _times(stay.pot_h, runs, litres)
            self.shared[Limit("hands", n)] += _times(stay.hands_h, runs, litres)
        for each in course.between:
            first, last = self.mip.variable(), self.mip.variable()
            self.shared[Limit("pots", each.first, kind)].append((first, 1.0))
            self.shared[Limit("pots", each.last, kind)].append((last, 1.0))
            self.mip.row([(first, 1.0), (last, 1.0), (runs, -each.hours)], low=0.0)
        for n in range(course.spans[0], course.spans[-1]):
            self.shared[Limit("night", n, kind)].append((runs, 1.0))
        if course.cold_until_h < self.spans[course.spans[1]].end_h:
            limit = Limit("before", course.spans[1], kind, course.cold_until_h)
            self.shared[limit] += _times(course.before_cold_h, runs, litres)

    def _give(self, formula: _Formula, shape: Shape, course: Course, runs: int, litres: int) -> None:
        """The reduction of a course: its own, or a part of what is in a pan."""
        again = shape.again
        if again is None:
            return
        gift = _times(again.gives[-1], runs, litres)
        formula.reduced[course.reduced_h] += gift
        if course.in_pan:
            span = course.spans[-1]
            formula.poured[span].append((runs, 1.0))
            formula.liquor[span] += _times(again.liquor_l, runs, litres)
            formula.pooled[span] += gift
        else:
            whole = self.mip.variable()
            self.mip.row([(whole, 1.0), (runs, -again.packed_l)], high=0.0)  # one run by itself fills whole containers
            self.mip.row([(whole, 1.0), *((n, -each) for n, each in gift)], high=0.0)
            formula.packed.append((whole, 1.0))
            formula.twice.append((runs, 1.0))

    def _reduce(self, formula: _Formula) -> None:
        """Second draws give what is wanted of reductions, alone or up to three together in a pan."""
        reductions = wanted_reductions(formula.part)
        if not reductions:
            return
        late, served = serve_reductions(self.mip, reductions, formula.reduced, self.measure, whole=False)
        self.late += late
        self.mip.row([*formula.given, *served], low=0.0)
        for span in formula.liquor:
            formula.packed.append((self._pools(formula, span), 1.0))
        self.mip.row([*formula.packed, *served], low=0.0)
        alone = self.mip.variable(cost=self.measure.reduction)
        self.mip.row([*formula.twice, (alone, -1.0)], high=0.0)

    def _pools(self, formula: _Formula, span: int) -> int:
        """What pools of a span give: they are poured over in one minute, and each fills whole containers."""
        most_l = max(each.again.most_l for each in formula.part.shapes if each.again is not None)
        members: Terms = list(formula.poured[span])
        filled = self.mip.variable()
        packed: Terms = [(filled, 1.0)]
        room: Terms = list(formula.liquor[span])
        for count in range(1, MOST_POOLED + 1):
            pools = self.mip.variable(cost=self.measure.reduction, whole=True, high=MOST_RUNS)
            members.append((pools, -float(count)))
            packed.append((pools, -packed_l(count * most_l, formula.part.nets_l)))
            room.append((pools, -formula.part.pan_l[1]))
        self.mip.row(members, high=0.0)
        self.mip.row(room, high=0.0)  # no pan holds more
        self.mip.row(packed, high=0.0)
        self.mip.row([(filled, 1.0), *((n, -each) for n, each in formula.pooled[span])], high=0.0)
        return filled

    def limit(self) -> None:
        """Rows of what all formulas share."""
        if self.measure.most_late_h < math.inf:
            self.mip.row(self.late, high=self.measure.most_late_h)
        for limit in sorted(self.shared):
            self.mip.row(self.terms_of(limit), high=self.amount_of(limit))

    def terms_of(self, limit: Limit) -> Terms:
        """What runs take of something shared."""
        if limit.what != "before":
            return self.shared.get(limit, [])
        return [
            term
            for each, terms in self.shared.items()
            if each.what == "before" and (each.span, each.kind) == (limit.span, limit.kind)
            if each.until_h <= limit.until_h
            for term in terms
        ]

    def amount_of(self, limit: Limit) -> float:
        """How much there is of something shared."""
        span = self.spans[limit.span]
        if limit.what == "pots":  # runs in one pot follow each other: together they hold it no longer than the span
            return self._pot_hours(limit.kind, span.begin_h, span.end_h)
        if limit.what == "before":  # what is cold by then left its pot before, and was in it since the span began
            return self._pot_hours(limit.kind, span.begin_h, limit.until_h - self.cold_h)
        if limit.what == "night":  # at a moment between two spans a pot holds one run
            return float(len(self.kinds[limit.kind].pots))
        return self._hands_h(span)  # each task takes one cook for its whole time

    def _pot_hours(self, kind: int, begin_h: float, end_h: float) -> float:
        out_h = sum(
            max(0.0, min(end_h, self._hours(each.end)) - max(begin_h, self._hours(each.start)))
            for each in self.kinds[kind].outages
        )
        return len(self.kinds[kind].pots) * max(0.0, end_h - begin_h - out_h)

    def _hands_h(self, span: Span) -> float:
        return sum(
            max(0.0, min(span.end_h, self._hours(each.end)) - max(span.begin_h, self._hours(each.start)))
            for each in self.week.shifts
        )

    def _hours(self, moment: datetime) -> float:
        return (moment - self.week.plan_from).total_seconds() / 3600.0


def _times(line: Line, runs: int, litres: int) -> Iterable[tuple[int, float]]:
    return [(runs, line.base), *([(litres, line.per_l)] if line.per_l else [])]
