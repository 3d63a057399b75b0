"""Serial schedule generation: one run after another, by first dispatch, each where it is least late and ends earliest.

What has begun or is held to its start goes first. Further passes shake the order with seeded noise; the best plan is
kept. The result is a careful plan, not a proven best one.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from production.domain.schedule.book import Book, Shape, shape_of
from production.domain.schedule.levels import is_better, schedule_key
from production.domain.schedule.placement import lateness_h
from production.domain.schedule.problem import Problem, RunJob
from production.domain.schedule.reasons import explained, left_out
from production.domain.schedule.result import Late, PlacedRun, Schedule
from production.domain.schedule.spelling import spell_minutes
from production.domain.schedule.together import Group, best_group, groups_of

NOISE_MIN = 600.0  # spread of the noise on a first dispatch
NOISE_SHARE = 0.3  # share of runs whose place in the order is shaken in a further pass
RESTARTS = 6  # of a pass, each with one more of the begun or held runs ahead of the others


@dataclass(frozen=True, slots=True)
class _Pass:
    runs: dict[str, PlacedRun]
    tried: set[str]


def greedy_schedule(
    problem: Problem,
    *,
    seed: int = 0,
    passes: int = 1,
    seconds: float | None = None,
    explain: bool = True,
    progress: Callable[[float], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Schedule:
    """Place the runs of a problem one after another and say why each is where it is, late, or left out.

    `progress` hears the share done, 0 to 1. When `cancelled` says so, the best of the finished passes is kept, or what
    the first pass has placed so far. After `seconds` no further pass is begun or finished; the first one always is.
    Without `explain` the reasons are left to be given later.

    Equation: passes are compared level by level (left out, lateness, moved, calm); the first pass goes by first
        dispatch, further passes add Gaussian noise to some dispatches. Runs that are reduced together go together.
    Units: passes [count], seconds [s], seed [no quantities]; the schedule is in minutes from the problem's origin; its
        `seconds` are left at 0.
    Valid: any problem; the same problem, seed and passes give the same schedule where no `seconds` are given.
    Errors: none.
    Source: own definition (serial schedule generation is a standard method of operations research).
    """
    stop = cancelled or (lambda: False)
    end_s = None if seconds is None else time.monotonic() + seconds
    noise = random.Random(seed)  # noqa: S311 - noise of a search, not a secret
    shape, passes = shape_of(problem), max(passes, 1)

    def over() -> bool:
        return stop() or (end_s is not None and time.monotonic() >= end_s)

    tell = partial(_tell_share, progress, 0, passes)
    first = _one_pass(problem, shape, _order(problem, None), tell, stop)
    best = _bare(problem, first, seed)
    for number in range(1, passes):
        if over():
            break
        tell = partial(_tell_share, progress, number, passes)
        attempt = _one_pass(problem, shape, _order(problem, noise), tell, over)
        schedule = _bare(problem, attempt, seed)
        done = len(attempt.tried) == len(problem.jobs)
        if done and is_better(schedule_key(problem, schedule), schedule_key(problem, best)):
            best = schedule
    return explained(problem, best) if explain else best


def _tell_share(progress: Callable[[float], None] | None, done: int, passes: int, share: float) -> None:
    if progress is not None:
        progress((done + share) / passes)


def _order(problem: Problem, noise: random.Random | None) -> list[Group]:
    """Groups in the order in which they are placed: by the first of their runs."""

    def rank(job: RunJob) -> tuple[bool, float, int, str]:
        due = job.first_due_min
        at = float(problem.horizon_min if due is None else due)
        if noise is not None and noise.random() < NOISE_SHARE:
            at += noise.gauss(0.0, NOISE_MIN)
        if job.start_at_min is not None:
            at = job.start_at_min
        return job.start_at_min is None, at, job.release_min, job.code

    groups = groups_of(problem)
    ranked = sorted(problem.jobs, key=rank)
    return list(dict.fromkeys(groups[job.code] for job in ranked))


def _one_pass(
    problem: Problem, shape: Shape, order: list[Group], tell: Callable[[float], None], stop: Callable[[], bool]
) -> _Pass:
    """A pass in which what has begun or is held finds its place: whoever does not goes ahead of the others."""
    for _ in range(RESTARTS):
        made = _place_in_order(problem, shape, order, tell, stop)
        homeless = [group for group in order if _is_held(group) and not made.runs.keys() & _codes(group)]
        if not homeless or stop() or homeless[0] is order[0]:
            break
        order = [homeless[0], *(group for group in order if group is not homeless[0])]
    return made


def _is_held(group: Group) -> bool:
    return any(job.start_at_min is not None for job in group.jobs)


def _codes(group: Group) -> set[str]:
    return {job.code for job in group.jobs}


def _place_in_order(
    problem: Problem, shape: Shape, order: list[Group], tell: Callable[[float], None], stop: Callable[[], bool]
) -> _Pass:
    book = Book(problem, shape)
    runs: dict[str, PlacedRun] = {}
    tried: set[str] = set()
    for group in order:
        if stop():
            break
        tried |= _codes(group)
        placed = best_group(book, group)
        for job, found in zip(group.jobs, placed or (), strict=placed is not None):
            book.take_run(job, found.run, 1)
            runs[job.code] = found.run
        tell(len(tried) / len(problem.jobs))
    return _Pass(runs, tried)


def _bare(problem: Problem, made: _Pass, seed: int) -> Schedule:
    """The schedule of a pass, its reasons not given yet."""
    late: list[Late] = []
    lateness = 0.0
    for job in problem.jobs:
        run = made.runs.get(job.code)
        for draw, cooling in zip(job.options[run.option].draws, run.coolings, strict=True) if run else ():
            lateness += lateness_h(draw, cooling.ready_min)
            late += [
                Late(
                    job=job.code,
                    label=due.label,
                    due_min=due.minute,
                    ready_min=cooling.ready_min,
                    resource="",
                    sentence=f"Ready {spell_minutes(cooling.ready_min - due.minute)} after its dispatch.",
                )
                for due in draw.dues
                if cooling.ready_min > due.minute
            ]
    runs = made.runs.values()
    unplaced = [left_out(job, tried=job.code in made.tried) for job in problem.jobs if job.code not in made.runs]
    return Schedule(
        status="partial" if runs and unplaced else "empty" if not runs else "complete",
        method="greedy",
        runs=tuple(sorted(runs, key=lambda run: (run.start_min, run.job))),
        unplaced=tuple(unplaced),
        late=tuple(sorted(late, key=lambda item: (item.due_min, item.label, item.job))),
        lateness_h=lateness,
        seconds=0.0,
        seed=seed,
    )
