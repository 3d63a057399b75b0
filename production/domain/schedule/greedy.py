"""Serial schedule generation: one run after another, by first dispatch, each where it is least late and ends earliest.

Further passes shake the order with seeded noise; the best plan is kept. The result is a careful plan, not a proven
best one.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

from production.domain.schedule.book import Book
from production.domain.schedule.placement import best_placement
from production.domain.schedule.problem import Problem, RunJob
from production.domain.schedule.reasons import stopped, why_here, why_late, why_unplaced
from production.domain.schedule.result import Late, PlacedRun, Schedule, Unplaced

NOISE_MIN = 600.0  # spread of the noise on a first dispatch
NOISE_SHARE = 0.3  # share of runs whose place in the order is shaken in a further pass


@dataclass(frozen=True, slots=True)
class _Pass:
    book: Book
    runs: dict[str, PlacedRun]
    tried: set[str]
    lateness_h: float

    @property
    def key(self) -> tuple[int, float, int]:
        ends = sum(run.stages[-1].end_min for run in self.runs.values())
        return -len(self.runs), round(self.lateness_h, 9), ends


def greedy_schedule(
    problem: Problem,
    *,
    seed: int = 0,
    passes: int = 1,
    progress: Callable[[float], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Schedule:
    """Place the runs of a problem one after another and say why each is where it is, late, or left out.

    `progress` hears the share done, 0 to 1. When `cancelled` says so, the best of the finished passes is kept, or what
    the first pass has placed so far.

    Equation: passes are compared by (runs left out, lateness, sum of the ends of all chains); the first pass goes by
        first dispatch, further passes add Gaussian noise to some dispatches.
    Units: passes [count], seed [no quantities]; the schedule is in minutes from the problem's origin; its `seconds`
        are left at 0.
    Valid: any problem; the same problem, seed and passes give the same schedule.
    Errors: none.
    Source: own definition (serial schedule generation is a standard method of operations research).
    """
    stop = cancelled or (lambda: False)
    noise = random.Random(seed)  # noqa: S311 - noise of a search, not a secret
    passes = max(passes, 1)
    best = _one_pass(problem, _order(problem, None), partial(_tell_share, progress, 0, passes), stop)
    for number in range(1, passes):
        attempt = _one_pass(problem, _order(problem, noise), partial(_tell_share, progress, number, passes), stop)
        if len(attempt.tried) == len(problem.jobs) and attempt.key < best.key:
            best = attempt
    return _schedule(problem, best, seed)


def _tell_share(progress: Callable[[float], None] | None, done: int, passes: int, share: float) -> None:
    if progress is not None:
        progress((done + share) / passes)


def _order(problem: Problem, noise: random.Random | None) -> list[RunJob]:
    def rank(job: RunJob) -> tuple[float, int, str]:
        due = job.first_due_min
        at = float(problem.horizon_min if due is None else due)
        if noise is not None and noise.random() < NOISE_SHARE:
            at += noise.gauss(0.0, NOISE_MIN)
        return at, job.release_min, job.code

    return sorted(problem.jobs, key=rank)


def _one_pass(problem: Problem, order: list[RunJob], tell: Callable[[float], None], stop: Callable[[], bool]) -> _Pass:
    book = Book(problem)
    runs: dict[str, PlacedRun] = {}
    tried: set[str] = set()
    late_h = 0.0
    for job in order:
        if stop():
            break
        tried.add(job.code)
        found = best_placement(book, job)
        if found is not None:
            book.take_run(job, found.run, 1)
            runs[job.code] = found.run
            late_h += found.late_h
        tell(len(tried) / len(order))
    return _Pass(book, runs, tried, late_h)


def _schedule(problem: Problem, best: _Pass, seed: int) -> Schedule:
    runs: list[PlacedRun] = []
    late: list[Late] = []
    unplaced: list[Unplaced] = []
    for job in problem.jobs:
        run = best.runs.get(job.code)
        if run is not None:
            late.extend(why_late(best.book, job, run))
            runs.append(replace(run, why_here=why_here(best.book, job, run)))
        else:
            unplaced.append(why_unplaced(best.book, job) if job.code in best.tried else stopped(job))
    status = "partial" if runs and unplaced else "empty" if not runs else "complete"
    return Schedule(
        status=status,
        method="greedy",
        runs=tuple(sorted(runs, key=lambda run: (run.start_min, run.job))),
        unplaced=tuple(unplaced),
        late=tuple(sorted(late, key=lambda item: (item.due_min, item.label, item.job))),
        lateness_h=best.lateness_h,
        seconds=0.0,
        seed=seed,
    )
