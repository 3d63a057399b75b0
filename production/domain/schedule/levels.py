"""What a schedule is worth: levels that are compared one after another and never traded against each other."""

from __future__ import annotations

from collections.abc import Sequence

from production.domain.schedule.calendar import Span, closed_spans
from production.domain.schedule.problem import Problem, RunJob
from production.domain.schedule.result import PlacedRun, Schedule

LEVELS = ("unserved", "lateness", "moved", "calm")
UNITS = {"unserved": "weighted share", "lateness": "h", "moved": "points", "calm": "h"}
LEAST_UNSERVED = 0.001  # a run that nobody waits for is still worth making
MOVED, OTHER_POT = 50, 30  # points; a shift counts one per hour
ROUNDING = 1e-6


def schedule_key(problem: Problem, schedule: Schedule) -> tuple[float, ...]:
    """The values of the levels: unserved, lateness, moved, calm; smaller is better, the first difference decides.

    Equation: unserved = sum over runs left out of max(weight x share of their dues, 0.001); lateness = weighted hours
        late; moved = per run that was somewhere before: 50 when its pot or start differ, 30 more for another pot, one
        per hour of shift; calm = (sum of chain ends, counted from now, + minutes of chains with nobody on site) / 60.
    Units: problem, schedule (records); returns [weighted share, weighted h, points, h].
    Valid: a schedule of this problem.
    Errors: none.
    Source: own definition.
    """
    jobs = {job.code: job for job in problem.jobs}
    closed = closed_spans(problem)
    unserved = sum(unserved_of(jobs[item.job]) for item in schedule.unplaced)
    moved = sum(moved_of(jobs[run.job], run) for run in schedule.runs)
    calm_min = sum(calm_minutes(run, problem.now_min, closed) for run in schedule.runs)
    return unserved, schedule.lateness_h, moved, calm_min / 60


def is_better(key: Sequence[float], than: Sequence[float]) -> bool:
    """Whether one key is smaller than another in the first level in which they differ.

    Equation: lexicographic order; levels within 10^-6 of each other are equal.
    Units: no quantities.
    Valid: keys of one problem.
    Errors: none.
    Source: own definition.
    """
    for mine, other in zip(key, than, strict=True):
        if abs(mine - other) > ROUNDING:
            return mine < other
    return False


def unserved_of(job: RunJob) -> float:
    """What is lost when a run is left out.

    Equation: max(sum of weight x share over the dues of its first option, 0.001).
    Units: job (record); returns [weighted share].
    Valid: any run.
    Errors: none.
    Source: own definition.
    """
    dues = [due for option in job.options[:1] for draw in option.draws for due in draw.dues]
    return max(sum(due.weight * due.share for due in dues), LEAST_UNSERVED)


def moved_of(job: RunJob, run: PlacedRun) -> float:
    """How far a run is from where it was.

    Equation: 0 where it was; 50 elsewhere, 30 more in another pot, and one per hour of shift.
    Units: job, run (records); returns [points].
    Valid: a run of this job.
    Errors: none.
    Source: own definition.
    """
    if job.was is None:
        return 0.0
    shift_min, other_pot = abs(run.start_min - job.was.start_min), run.pot != job.was.pot
    return MOVED * (shift_min > 0 or other_pot) + OTHER_POT * other_pot + shift_min / 60


def calm_minutes(run: PlacedRun, now_min: int, closed: Sequence[Span]) -> int:
    """End of a chain, counted from now, and the minutes of it with nobody on site.

    Equation: end - now + overlap of [start, end) with closed time.
    Units: run (record), now_min [min], closed [min]; returns [min].
    Valid: any placed run.
    Errors: none.
    Source: own definition.
    """
    start, end = run.stages[0].start_min, run.stages[-1].end_min
    alone = sum(max(0, min(end, last) - max(start, first)) for first, last in closed)
    return end - now_min + alone
