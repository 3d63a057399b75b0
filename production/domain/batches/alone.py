"""The runs of one formula as if it had the kitchen for itself, fill by fill: to choose them, and to prove how few do.

Every plan that passes the checker has runs, pools and containers that satisfy every row, as long as what comes of a
second draw is the most that any gives. To choose runs it is what each surely gives.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from production.domain.batches.courses import Course
from production.domain.batches.flow import Terms, late_for, serve_broths, serve_reductions, wanted_reductions
from production.domain.batches.highs import Mip
from production.domain.batches.parts import Part
from production.domain.batches.pooling import Pool, least_pools
from production.domain.batches.prices import MOST_RUNS, Measure
from production.domain.batches.shapes import Again, Fill, Shape, packed_l

FINE, COARSE = 350, 20  # kinds of pools; with more the fills are told apart less finely (own choice, like the next two)
_FINE_OF_SEVERAL = 120  # where containers differ, little is lost by filling a pool, and the program is slow
_FILLS = (16, 12, 8, 6, 4, 3, 2, 1)
_LONG_H = 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """A course that runs of a shape may take, and the fills they have, with their number and litres in the program."""

    shape: Shape
    course: Course
    least_l: float
    most_l: float
    runs: int
    litres: Terms


class Alone:
    """The program of one formula."""

    def __init__(self, part: Part, measure: Measure, *, surely: bool, most_pools: int = FINE) -> None:
        self.part, self.measure, self.surely = part, measure, surely
        self.mip = Mip()
        self.choices: list[Choice] = []
        self.pools: list[tuple[Pool, int]] = []
        self.fills, self.kinds_of_pools = _fills_and_pools(part, most_pools, surely=surely)
        self._cold: dict[tuple[float, ...], Terms] = defaultdict(list)  # first draws, by how late for whom
        self._reduced: dict[float, Terms] = defaultdict(list)  # reductions, by when they are cold
        self._packed: Terms = []  # in whole containers
        self._poured: dict[int, list[tuple[int, int]]] = defaultdict(list)  # place of the fill and runs, by kind of pot
        for shape in part.shapes:
            self._add_shape(shape)
        late = serve_broths(self.mip, part, self._cold, measure, whole=True)
        late += self._reduce()
        if measure.most_late_h < math.inf:
            self.mip.row(late, high=measure.most_late_h)

    @property
    def is_exact(self) -> bool:
        """Whether what is sure is also the most: then the program to choose runs proves as much as the other."""
        return all(fill.least_l == fill.most_l for own in self.fills.values() for fill in own)

    def _add_shape(self, shape: Shape) -> None:
        first = len(self.choices)
        for course in self._best(self.part.ways.courses(shape)):
            if shape.again is None:
                self._add_runs(shape, course, shape.smallest_l, shape.largest_l)
                continue
            for place, fill in enumerate(self.fills[shape.cell.kind]):
                runs, litres = self._add_runs(shape, course, fill.least_l, fill.most_l)
                given = self._given(shape.again, fill, runs, litres)
                self._reduced[course.reduced_h] += given
                if course.in_pan:
                    self._poured[shape.cell.kind].append((place, runs))
                else:  # one run by itself fills whole containers
                    self._packed.append((runs, packed_l(fill.gives_l, self.part.nets_l)))
                    self.mip.cost[runs] += self.measure.reduction
        self._all(each.runs for each in self.choices[first:])

    def _all(self, places: Iterable[int]) -> None:
        """How many in all, for the solver to decide first."""
        total = self.mip.variable(whole=True)
        self.mip.row([*((place, 1.0) for place in places), (total, -1.0)], low=0.0, high=0.0)

    def _best(self, courses: Iterable[Course]) -> list[Course]:
        """Courses that no other is as good as for every need: with the kitchen for itself a run takes one of them."""
        kept: list[tuple[bool, tuple[float, ...], Course]] = []
        late = [(course.in_pan, (*late_for(self.part, course), course.reduced_h), course) for course in courses]
        for in_pan, all_late, course in sorted(late, key=lambda each: sum(min(_LONG_H, late) for late in each[1])):
            as_good = (other for is_in, other, _ in kept if is_in == in_pan)
            if not any(all(a <= b for a, b in zip(other, all_late, strict=True)) for other in as_good):
                kept.append((in_pan, all_late, course))
        return [course for *_, course in kept]

    def _add_runs(self, shape: Shape, course: Course, least_l: float, most_l: float) -> tuple[int, Terms]:
        """So many runs between two fills on a course, and their litres; each draw fills whole containers."""
        measure, mip = self.measure, self.mip
        cost = measure.run + measure.kwh * shape.kwh.base + (measure.second if shape.again is not None else 0.0)
        runs = mip.variable(cost=cost, whole=True, high=MOST_RUNS)
        if least_l == most_l:
            litres = [(runs, least_l)]
        else:
            litres = [(mip.variable(whole=True), self.part.step_l)]
            mip.row([*litres, (runs, -least_l)], low=0.0)
            mip.row([*litres, (runs, -most_l)], high=0.0)
        for place, each_l in litres:
            mip.cost[place] += measure.kwh * shape.kwh.per_l * each_l
        self._cold[late_for(self.part, course)] += litres
        choice = Choice(shape=shape, course=course, least_l=least_l, most_l=most_l, runs=runs, litres=litres)
        self.choices.append(choice)
        return runs, litres

    def _given(self, again: Again, fill: Fill, runs: int, litres: Terms) -> Terms:
        """What second draws of some fills give."""
        if fill.least_l == fill.most_l:
            return [(runs, fill.gives_l)]
        given = self.mip.variable()
        self.mip.row([(given, 1.0), (runs, -fill.gives_l)], high=0.0)
        for line in again.surely if self.surely else again.gives:  # what holds for each run holds for all together
            less = [(place, -line.per_l * each_l) for place, each_l in litres]
            self.mip.row([(given, 1.0), (runs, -line.base), *less], high=0.0)
        return [(given, 1.0)]

    def _reduce(self) -> Terms:
        """Second draws give what is wanted of reductions, alone or up to three together in a pan."""
        reductions = wanted_reductions(self.part)
        if not reductions:
            return []
        # what is in a pan together is not ready together, so a container may be of draws of several times
        whole = not self._poured
        late, served = serve_reductions(self.mip, reductions, self._reduced, self.measure, whole=whole)
        taken: dict[tuple[int, int], Terms] = defaultdict(list)
        for pool in self.kinds_of_pools if self._poured else ():
            count = self.mip.variable(cost=self.measure.reduction, whole=True, high=MOST_RUNS)
            self.pools.append((pool, count))
            self._packed.append((count, pool.packed_l))
            for kind, place in set(pool.members):
                taken[kind, place].append((count, -float(pool.members.count((kind, place)))))
        for kind, poured in self._poured.items():
            for place in range(len(self.fills[kind])):  # a draw may stand for a smaller one
                members = [term for at in range(place, len(self.fills[kind])) for term in taken[kind, at]]
                self.mip.row([*((runs, 1.0) for at, runs in poured if at >= place), *members], low=0.0)
        self.mip.row([*self._packed, *served], low=0.0)
        liquor = [(runs, self.fills[kind][at].liquor_l) for kind, poured in self._poured.items() for at, runs in poured]
        self.mip.row([*liquor, *((count, -self.part.pan_l[1]) for _, count in self.pools)], high=0.0)
        self._all(count for _, count in self.pools)
        return late


def _fills_and_pools(part: Part, most_pools: int, *, surely: bool) -> tuple[dict[int, list[Fill]], list[Pool]]:
    """Fills of second draws by kind of pot, told apart as finely as the number of their pools allows."""
    fills, pools = dict[int, list[Fill]](), list[Pool]()
    if len(part.nets_l) > 1:
        most_pools = min(most_pools, _FINE_OF_SEVERAL)
    for most in _FILLS:
        fills = {
            shape.cell.kind: list(_coarse(shape.again, most, surely=surely)) for shape in part.shapes if shape.again
        }
        pools = least_pools(fills, part.nets_l, part.pan_l[1])
        if len(pools) <= most_pools:
            break
    return fills, pools


def _coarse(again: Again, most: int, *, surely: bool) -> Iterable[Fill]:
    """Neighbours as one that gives as much as the best of them; to be sure only where lines say how much."""
    each = math.ceil(len(again.fills) / most)
    fills = [fill for fill in again.fills if each == 1 or not surely or fill.least_l >= again.surely_from_l]
    for group in (fills[n : n + each] for n in range(0, len(fills), each)):
        yield Fill(
            least_l=group[0].least_l,
            most_l=group[-1].most_l,
            gives_l=max(fill.gives_l for fill in group),
            liquor_l=min(fill.liquor_l for fill in group),
        )
