"""Whole containers into the runs that were chosen, exactly: what is made in the end."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from production.domain.batches.cells import Cell
from production.domain.batches.content import Batch
from production.domain.batches.courses import Course
from production.domain.batches.highs import Mip
from production.domain.batches.parts import Part
from production.domain.batches.prices import Measure
from production.domain.batches.shapes import Shape
from production.domain.batches.units import Unit, needs_of, portions_of, units_of, with_surplus
from production.domain.demand import Need
from production.domain.kitchen import Product

Cancelled = Callable[[], bool]
Member = tuple[int, float]  # kind of pot, least litres
_GAP_SHARE = 5e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """So many runs of a shape on a course, with fills between two litres."""

    shape: Shape
    course: Course
    runs: int
    least_l: float
    most_l: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A run with the kind of pot it is reckoned with."""

    batch: Batch
    cell: Cell


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """Runs with their containers, what lateness and unmade orders cost, and the needs without a run."""

    made: tuple[Made, ...]
    late_cost: float
    left: tuple[Need, ...]


@dataclass(slots=True)
class _Run:
    """A run that may be made, with its places in the program."""

    taken: Taken
    is_more: bool  # than were chosen
    on: int
    litres: int
    containers: dict[int, int] = field(default_factory=dict)  # by group
    surplus: dict[str, int] = field(default_factory=dict)  # by product


@dataclass(slots=True)
class _Kettle:
    """Runs whose second draws are reduced together, the first of them the host."""

    runs: list[_Run]
    containers: dict[int, int] = field(default_factory=dict)  # by group


def fill_containers(
    part: Part,
    taken: Sequence[Taken],
    measure: Measure,
    products: Mapping[str, Product],
    *,
    pools: Sequence[Sequence[Member]],
    freely: bool,
    seconds: float,
    seed: int,
    cancelled: Cancelled | None,
) -> Filled | None:
    """Give every container of a formula's needs a run; one more run of each choice is at hand.

    Equation: minimise what is measured over whole containers in each run; each second draw gives what it surely gives.
    Units: part, taken, measure, products (records), pools (kinds of pots that are poured over together, and their least
        fills in [L]), freely (whether runs may have other fills than were chosen), seconds [s], seed (count), cancelled
        (asks whether to stop); returns records with L; nothing where none is found in the time.
    Valid: courses of the part.
    Errors: none.
    Source: own definition.
    """
    filling = _Filling(part, measure, products, pools, freely=freely)
    return filling.filled(taken, seconds=seconds, seed=seed, cancelled=cancelled)


class _Filling:
    """The program of a formula's containers."""

    def __init__(
        self,
        part: Part,
        measure: Measure,
        products: Mapping[str, Product],
        pools: Sequence[Sequence[Member]],
        *,
        freely: bool,
    ) -> None:
        self.part, self.measure, self.products, self.pools, self.freely = part, measure, products, pools, freely
        self.mip = Mip()
        self.broths = [each for each in products.values() if each.formula == part.code and each.kind == "broth"]
        self.holding: list[list[tuple[int, float]]] = [[] for _ in part.groups]
        self.late: list[int] = []

    def filled(
        self, taken: Sequence[Taken], *, seconds: float, seed: int, cancelled: Cancelled | None
    ) -> Filled | None:
        runs = [self._run(each, is_more=n == each.runs) for each in taken for n in range(each.runs + 1)]
        kettles = [self._kettle(members) for members in self._pools(runs)]
        for group, holding in zip(self.part.groups, self.holding, strict=True):
            share = 0.0 if group.is_wish else (self.measure.unmade or 0.0) * group.weight_share / group.containers
            left = self.mip.variable(cost=share, whole=True, high=group.containers)
            self.late.append(left)
            self.mip.row([*holding, (left, 1.0)], low=group.containers, high=group.containers)
        answer = self.mip.solve(seconds=seconds, seed=seed, gap_share=_GAP_SHARE, cancelled=cancelled)
        return None if answer is None else self._read(runs, kettles, answer.values)

    def _run(self, taken: Taken, *, is_more: bool) -> _Run:
        shape, measure, mip = taken.shape, self.measure, self.mip
        cost = measure.run + measure.kwh * shape.kwh.base + (measure.second if shape.again is not None else 0.0)
        run = _Run(
            taken=taken,
            is_more=is_more,
            on=mip.variable(cost=cost, high=1.0, whole=True),
            litres=mip.variable(cost=measure.kwh * shape.kwh.per_l),
        )
        course = taken.course
        for n, group in enumerate(self.part.groups):
            if group.is_broth and course.cold_until_h >= group.not_before_h:
                late_h = max(0.0, max(course.cold_from_h, group.not_before_h) - group.leaves_h)
                self._hold(run.containers, n, late_h)
        for each in self.broths:
            run.surplus[each.code] = mip.variable(cost=measure.surplus_l * each.net_l, high=1000.0, whole=True)
        drawn = [(index, self.part.groups[n].net_l) for n, index in run.containers.items()]
        extra = [(index, self.products[code].net_l) for code, index in run.surplus.items()]
        mip.row([*drawn, *extra, (run.litres, -1.0)], low=0.0, high=0.0)
        least_l, most_l = (shape.sure_smallest_l, shape.largest_l) if self.freely else (taken.least_l, taken.most_l)
        mip.row([(run.litres, 1.0), (run.on, -least_l)], low=0.0)
        mip.row([(run.litres, 1.0), (run.on, -most_l)], high=0.0)
        return run

    def _hold(self, containers: dict[int, int], n: int, late_h: float) -> None:
        """Containers of a group that a draw may be filled into."""
        group = self.part.groups[n]
        each_h = 0.0 if group.is_wish else group.weight_share * late_h / group.containers
        containers[n] = self.mip.variable(cost=self.measure.late_h * each_h, whole=True, high=group.containers)
        self.holding[n].append((containers[n], 1.0))
        self.late.append(containers[n])

    def _pools(self, runs: Sequence[_Run]) -> Iterable[list[_Run]]:
        """Each run by itself in its own pot, or in a pan with those that were chosen to be poured over with it."""
        twice = [run for run in runs if run.taken.shape.again is not None]
        yield from ([run] for run in twice if not run.taken.course.in_pan)
        poured = [run for run in twice if run.taken.course.in_pan]
        free = sorted(poured, key=lambda run: (run.is_more, run.taken.course.reduced_h, run.taken.least_l))
        members: list[list[_Run]] = [[] for _ in self.pools]
        wanted = [(member, n) for n, pool in enumerate(self.pools) for member in pool]
        for (kind, least_l), n in sorted(wanted, key=lambda each: each[0][1], reverse=True):  # the largest draws first
            found = (
                run
                for run in free
                if run.taken.shape.cell.kind == kind and (self.freely or run.taken.least_l >= least_l)
            )
            run = next(found, None)
            if run is not None:
                free.remove(run)
                members[n].append(run)
        yield from (pool for pool in members if pool)
        yield from ([run] for run in free)

    def _kettle(self, runs: list[_Run]) -> _Kettle:
        kettle = _Kettle(runs)
        ready_h = max(run.taken.course.reduced_h for run in runs)
        for n, group in enumerate(self.part.groups):
            if not group.is_broth:
                self._hold(kettle.containers, n, max(0.0, ready_h - group.leaves_h))
        used = self.mip.variable(cost=self.measure.reduction, high=1.0, whole=True)
        filled = [(index, -self.part.groups[n].net_l) for n, index in kettle.containers.items()]
        self.mip.row([*((self._gift(run), 1.0) for run in runs), *filled], low=0.0)
        if runs[0].taken.course.in_pan:
            self.mip.row(self._poured(runs), high=self.part.pan_l[1])
        self.mip.row([*((index, 1.0) for index in kettle.containers.values()), (used, -1000.0)], high=0.0)
        return kettle

    def _gift(self, run: _Run) -> int:
        """Litres of reduction that a run gives."""
        gift, again = self.mip.variable(), run.taken.shape.again
        if again is None:
            return gift
        own = next((each for each in again.fills if each.least_l == each.most_l == run.taken.most_l), None)
        if own is not None and not self.freely and run.taken.least_l == run.taken.most_l:
            self.mip.row([(gift, 1.0), (run.on, -own.gives_l)], high=0.0)
            return gift
        for line in again.surely:
            self.mip.row([(gift, 1.0), (run.on, -line.base), (run.litres, -line.per_l)], high=0.0)
        return gift

    def _poured(self, runs: Iterable[_Run]) -> Iterable[tuple[int, float]]:
        """What is in the pan of runs that are poured over together."""
        for run in runs:
            again = run.taken.shape.again
            if again is not None:
                yield from ((run.on, again.liquor_l.base), (run.litres, again.liquor_l.per_l))

    def _read(self, runs: Sequence[_Run], kettles: Sequence[_Kettle], values: Sequence[float]) -> Filled:
        queues = [units_of(group.needs, self.products) for group in self.part.groups]

        def take(containers: Mapping[int, int]) -> list[Unit]:
            found = []
            for n, index in containers.items():
                count = round(values[index])
                found += queues[n][:count]
                del queues[n][:count]
            return found

        made: dict[int, Made] = {}
        for n, run in enumerate(runs):
            extra = {code: round(values[index]) for code, index in run.surplus.items() if round(values[index])}
            first = with_surplus(portions_of(take(run.containers), self.products), extra, self.products)
            if first:
                batch = Batch(code=f"{self.part.code}-{n}", formula=self.part.code, first=first, reduction=())
                made[id(run)] = Made(batch=batch, cell=run.taken.shape.cell)
        for kettle in kettles:
            self._reduce(made, [run for run in kettle.runs if id(run) in made], take(kettle.containers))
        cost = math.fsum(self.mip.cost[index] * values[index] for index in self.late)
        left = needs_of(unit for queue in queues for unit in queue)
        kept = tuple(each for each in made.values() if _is_wanted(each.batch))
        return Filled(made=kept, late_cost=cost, left=tuple(left))

    def _reduce(self, made: dict[int, Made], runs: Sequence[_Run], units: list[Unit]) -> None:
        """The first run is the host of the reduction, the others pour theirs over; without any all are drawn once."""
        if not units:
            return
        host, *guests = runs
        codes = tuple(made[id(run)].batch.code for run in guests)
        batch = replace(made[id(host)].batch, reduction=portions_of(units, self.products), guests=codes)
        made[id(host)] = replace(made[id(host)], batch=batch)
        for run in guests:
            first_at = min(unit.need.dispatch_at for unit in units)
            poured = replace(made[id(run)].batch, pours_into=batch.code, poured_for=first_at)
            made[id(run)] = replace(made[id(run)], batch=poured)


def _is_wanted(batch: Batch) -> bool:
    """Whether somebody waits for anything of a run."""
    return bool(batch.pours_into) or any(portion.pegs for portion in batch.portions)
