"""Washing up as soon as there are hands: a search that weighs only the runs leaves it for any later hour."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from production.domain.schedule.problem import Problem, RunJob
from production.domain.schedule.result import Placed, PlacedRun, Schedule

Minutes = NDArray[np.int64]


def washed_soon(problem: Problem, schedule: Schedule) -> Schedule:
    """The schedule with every wash at the earliest free hands after its vessel is empty; nothing else moves.

    Equation: in the order of their starts, each wash takes the first grid minute, from the end of the last stage in its
        vessel on, at which one more cook is on duty for all of it; never later than it was.
    Units: problem, schedule (records; [min]); returns a record.
    Valid: schedules that keep every limit; washes that have begun stay.
    Errors: none.
    Source: own definition.
    """
    spare = _spare(problem, schedule)
    jobs = {job.code: job for job in problem.jobs}
    runs = {run.job: run for run in schedule.runs}
    washes = [
        (wash.start_min, run.job, which)
        for run in schedule.runs
        for which, wash in (("wash", run.wash), ("pan_wash", run.pan_wash))
        if wash is not None and not _is_fixed(problem, jobs[run.job], which, wash)
    ]
    for _, code, which in sorted(washes):
        run = runs[code]
        wash: Placed = getattr(run, which)
        spare[wash.start_min : wash.end_min] += 1
        start = _earliest(problem, spare, _empty_min(jobs[code], run, which), wash)
        spare[start : start + wash.end_min - wash.start_min] -= 1
        moved = replace(wash, start_min=start, end_min=start + wash.end_min - wash.start_min)
        runs[code] = replace(run, wash=moved) if which == "wash" else replace(run, pan_wash=moved)
    return replace(schedule, runs=tuple(runs[run.job] for run in schedule.runs))


def _is_fixed(problem: Problem, job: RunJob, which: str, wash: Placed) -> bool:
    return wash.start_min < problem.now_min or (which == "wash" and job.washed_at_min is not None)


def _empty_min(job: RunJob, run: PlacedRun, which: str) -> int:
    option = job.options[run.option]
    return run.stages[option.last_pot_stage if which == "wash" else -1].end_min


def _earliest(problem: Problem, spare: Minutes, empty_min: int, wash: Placed) -> int:
    length = wash.end_min - wash.start_min
    first = max(empty_min, problem.now_min)
    first = -(-first // problem.step_min) * problem.step_min
    for start in range(first, wash.start_min, problem.step_min):
        if int(spare[start : start + length].min()) >= 1:
            return start
    return wash.start_min


def _spare(problem: Problem, schedule: Schedule) -> Minutes:
    """Cooks on duty less those at work, minute by minute."""
    spare = np.zeros(problem.horizon_min, dtype=np.int64)
    for window in problem.cooks:
        spare[max(window.start_min, 0) : max(window.end_min, 0)] += window.amount
    jobs = {job.code: job for job in problem.jobs}
    for run in schedule.runs:
        stages = jobs[run.job].options[run.option].stages
        for stage, placed in zip(stages, run.stages, strict=True):
            spare[max(placed.start_min, 0) : max(placed.end_min, 0)] -= stage.cooks
        for task in (*run.additions, *(each for each in (run.wash, run.pan_wash) if each is not None)):
            spare[max(task.start_min, 0) : max(task.end_min, 0)] -= 1
    return spare
