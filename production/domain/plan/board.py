"""The runs of a week as they are put up and taken down again, each with its containers, its pot and its time."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from production.domain.batches import Batch
from production.domain.demand import Demand
from production.domain.kitchen import Week
from production.domain.plan.filling import Filled, PotKind, kinds_for
from production.domain.plan.frame import Frame
from production.domain.plan.jobs import Held, Source, jobs_of
from production.domain.plan.problem import problem_of
from production.domain.schedule.book import COARSEST_MIN, Book, Shape
from production.domain.schedule.placement import Found, best_placement
from production.domain.schedule.problem import RunJob
from production.domain.schedule.result import PlacedRun
from production.domain.sourcing import Portioned, Wanted, source_ingredients

FINEST_MIN = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A run on the board; its job is known by its formula, whose allergens it has."""

    batch: Batch  # known by its formula
    taken: Mapping[int, int]  # containers, by the number of the need
    job: RunJob  # in the pots that it was meant for
    run: PlacedRun
    late_h: float
    kwh: float

    @property
    def runs(self) -> int:
        """One, or two with a reduction."""
        return 1 + bool(self.batch.reduction)


@dataclass(frozen=True, slots=True)
class Shot:
    """What stood on a board at a moment."""

    standing: Mapping[str, Standing]
    left: Mapping[int, int]


class Board:
    """What stands, what is still wanted, and what is free around it."""

    def __init__(self, frame: Frame, demand: Demand, coolable_l: Mapping[str, float]) -> None:
        self.frame, self.needs = frame, demand.needs
        self.needs_of: dict[str, list[int]] = {each.code: [] for each in frame.week.formulas}  # by formula
        for n, need in enumerate(self.needs):
            self.needs_of[frame.products[need.product].formula].append(n)
        self.kinds = {each.code: kinds_for(frame, each, coolable_l.get(each.code, 0.0)) for each in frame.week.formulas}
        self.left = {n: need.containers for n, need in enumerate(self.needs)}
        self.standing: dict[str, Standing] = {}
        self.tries = 0  # places looked for
        self._problem = problem_of(frame, demand, ())
        self._book = Book(self._problem, Shape(COARSEST_MIN, {}))
        self._jobs: dict[Batch, RunJob | None] = {}
        self._held = Held(source=_bought_source(frame.week))
        self._codes = 0

    def worth(self) -> tuple[float, float, int, float, float]:
        """Unserved share, weighted hours late, runs and reductions, kWh, litres that nobody waits for."""
        stands = self.standing.values()
        return (
            round(self.unserved(), 9),
            round(sum(each.late_h for each in stands), 6),
            sum(each.runs for each in stands),
            round(sum(each.kwh for each in stands), 6),
            round(sum(each.batch.surplus_l for each in stands), 6),
        )

    def unserved(self) -> float:
        """Weight x share of the order lines that nothing on the board serves."""
        return sum(self.unserved_of(n) for n, need in enumerate(self.needs) if not need.is_wish)

    def unserved_of(self, n: int) -> float:
        """Weight x share of a need that nothing on the board serves."""
        need = self.needs[n]
        return need.weight * self.left[n] / need.of_containers

    def open_needs(self) -> list[int]:
        """Ordered needs of which containers are still wanted, by dispatch."""
        return [n for n, need in enumerate(self.needs) if self.left[n] and not need.is_wish]

    def tried(self, filled: Filled, kind: PotKind, most_late_h: float = math.inf) -> Standing | None:
        """The run in the best place that a kind of pot has for it, in a pan only where it is late otherwise."""
        job = self._job(filled.batch)
        if job is None:
            return None
        inside = [option for option in job.options if option.pot in kind.pots]
        alone = replace(job, options=tuple(option for option in inside if option.pan is None))
        found = self._place(alone, most_late_h) if alone.options else None
        chosen = alone
        if len(inside) > len(alone.options) and (found is None or found.late_h > 0.0):
            other = replace(job, options=tuple(option for option in inside if option.pan is not None))
            with_pan = self._place(other, most_late_h)
            if with_pan is not None and (found is None or with_pan.late_h < found.late_h):
                found, chosen = with_pan, other
        if found is None:
            return None
        return Standing(
            batch=filled.batch,
            taken=filled.taken,
            job=chosen,
            run=found.run,
            late_h=found.late_h,
            kwh=kwh_of(chosen, found.run),
        )

    def _place(self, job: RunJob, most_late_h: float) -> Found | None:
        self.tries += 1
        self._welcome(job)
        return best_placement(self._book, job, most_late_h=most_late_h)

    def _welcome(self, job: RunJob) -> None:
        if not self._book.welcome(job):
            self._use_finest_steps()
            self._book.welcome(job)

    def _use_finest_steps(self) -> None:
        """A run has times between the steps of the book: begin the book anew."""
        self._book = Book(self._problem, Shape(FINEST_MIN, {}))
        for each in self.standing.values():
            self._book.welcome(each.job)
            self._book.take_run(each.job, each.run, 1)

    def _job(self, batch: Batch) -> RunJob | None:
        """The run as a job in all its pots; none where it can never run."""
        if batch not in self._jobs:
            made = jobs_of(self.frame, [batch], self._held).ready.get(batch.code)
            self._jobs[batch] = None if made is None else made.job
        return self._jobs[batch]

    def put_up(self, each: Standing) -> str:
        """Let a run stand, and say by which code it is known here."""
        self._welcome(each.job)
        self._codes += 1
        code = f"T{self._codes}"
        self._restore(code, each)
        return code

    def _restore(self, code: str, each: Standing) -> None:
        self.standing[code] = each
        self._book.take_run(each.job, each.run, 1)
        for n, containers in each.taken.items():
            self.left[n] -= containers

    def take_down(self, codes: Iterable[str]) -> None:
        """Take runs off the board; what they served is wanted again."""
        for code in codes:
            each = self.standing.pop(code)
            self._book.take_run(each.job, each.run, -1)
            for n, containers in each.taken.items():
                self.left[n] += containers

    def shot(self) -> Shot:
        """What stands now."""
        return Shot(dict(self.standing), dict(self.left))

    def back_to(self, shot: Shot) -> None:
        """Let stand what stood then, and nothing else."""
        self.take_down([code for code in self.standing if shot.standing.get(code) is not self.standing[code]])
        for code, each in shot.standing.items():
            if code not in self.standing:
                self._restore(code, each)


def kwh_of(job: RunJob, run: PlacedRun) -> float:
    """Energy that the heat sources of a run take in, as it is placed.

    Equation: sum of power x time over its stages.
    Units: job, run (records); returns [kWh].
    Valid: a run of this job.
    Errors: none.
    Source: definition of energy.
    """
    stages = job.options[run.option].stages
    return sum(
        stage.power_kw * (placed.end_min - placed.start_min) / 60.0
        for stage, placed in zip(stages, run.stages, strict=True)
    )


def _bought_source(week: Week) -> Source:
    """All goods bought, because what is at hand is given out later; what nobody sells is taken from what is there."""
    bare = replace(week, saved_bones=(), ingredient_stock=())

    def source(_: Week, wanted: tuple[Wanted, ...]) -> tuple[Portioned, ...]:
        bought = source_ingredients(week=bare, wanted=wanted)
        if all(part.there_at is not None for part in bought):
            return bought
        return source_ingredients(week=week, wanted=wanted)

    return source
