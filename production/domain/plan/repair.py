"""A schedule after something has changed: every run that can stay stays, the others find a new place around them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

from production.domain.schedule.check import check_schedule
from production.domain.schedule.greedy import greedy_schedule
from production.domain.schedule.levels import is_better, schedule_key
from production.domain.schedule.problem import AdditionTask, Draw, Problem, RunJob, RunOption
from production.domain.schedule.result import Late, PlacedRun, Schedule

Before = Mapping[str, PlacedRun]  # where runs were, or are, by code


def repaired(
    problem: Problem, before: Before, *, seed: int = 0, cancelled: Callable[[], bool] | None = None
) -> Schedule:
    """A schedule that leaves runs where they were as far as they fit, and places the others around them.

    Equation: all runs exactly as before, if that is allowed; else those that no longer fit may change their lengths at
        their start, then also their start and pot. Where a run is late or left out three more schedules are made: it
        may move too; those in its way make way; all that has not begun is placed anew. The best in the levels is kept.
    Units: no quantities; problem, before (records), seed, cancelled (asks whether to stop); returns a schedule in min.
    Valid: any problem; runs that were nowhere before are placed last.
    Errors: none.
    Source: own definition.
    """
    exact = {job.code: fixed for job in problem.jobs if (fixed := _exact(job, before.get(job.code))) is not None}
    found = _as_before(problem, exact, before, seed)
    if found is None:
        found = _around(problem, exact, before, seed, cancelled)
    if not found.unplaced and found.lateness_h <= 0:
        return found
    late = {each.job for each in found.late} | _unplaced(found)
    for other in (
        greedy_schedule(problem, seed=seed, explain=False, cancelled=cancelled),
        _placed_around(problem, _without(problem, exact, late), seed, cancelled),
        _making_way(problem, exact, before, late, seed, cancelled),
    ):
        if is_better(schedule_key(problem, other), schedule_key(problem, found)):
            found = other
    return found


def placed_around(problem: Problem, before: Before, *, seed: int = 0) -> Schedule:
    """A schedule that leaves runs where they were, and places the others around them.

    Equation: runs exactly as before, where they may be; then one careful pass over the others.
    Units: no quantities; problem, before (records), seed; returns a schedule in min.
    Valid: any problem.
    Errors: none.
    Source: own definition.
    """
    exact = {job.code: fixed for job in problem.jobs if (fixed := _exact(job, before.get(job.code))) is not None}
    return _placed_around(problem, exact, seed, None)


def _around(
    problem: Problem,
    exact: Mapping[str, RunJob],
    before: Before,
    seed: int,
    cancelled: Callable[[], bool] | None,
) -> Schedule:
    """Runs exactly as before; those that do not fit get other lengths at their start, then any place."""
    found = _placed_around(problem, exact, seed, cancelled)
    stuck = _unplaced(found) & exact.keys()
    if not stuck:
        return found
    pinned = {job.code: _pinned(job, before[job.code]) for job in problem.jobs if job.code in stuck and job.was}
    settled = {**_without(problem, exact, stuck), **pinned}
    found = _placed_around(problem, settled, seed, cancelled)
    stuck = _unplaced(found) & settled.keys()
    return _placed_around(problem, _without(problem, settled, stuck), seed, cancelled) if stuck else found


def _making_way(
    problem: Problem,
    exact: Mapping[str, RunJob],
    before: Before,
    wanted: set[str],
    seed: int,
    cancelled: Callable[[], bool] | None,
) -> Schedule:
    """The wanted runs first, after what stands; then all as before that do not stand in their way, then the others."""
    firm = {job.code for job in problem.jobs if job.code in exact and job.start_at_min is not None} - wanted
    first = _placed_around(_only(problem, firm | wanted), {code: exact[code] for code in firm}, seed, cancelled)
    jobs = {job.code: job for job in problem.jobs}
    settled = {run.job: fixed for run in first.runs if (fixed := _exact(jobs[run.job], run)) is not None}
    for code, job in exact.items():
        if code in firm | wanted:
            continue
        with_it = _only(problem, {*(run.job for run in first.runs), code})
        run = _in_options(replace(before[code], option=0), job, jobs[code])
        if not check_schedule(with_it, schedule_of(with_it, [*first.runs, run])):
            settled[code] = job
    return _placed_around(problem, _without(problem, settled, exact.keys() - settled.keys()), seed, cancelled)


def _only(problem: Problem, codes: set[str]) -> Problem:
    """The problem with some of its runs; a pool is kept where all of it is among them."""
    return replace(
        problem,
        jobs=tuple(job for job in problem.jobs if job.code in codes),
        joins=tuple(join for join in problem.joins if codes >= {join.host, *join.guests}),
    )


def _unplaced(schedule: Schedule) -> set[str]:
    return {out.job for out in schedule.unplaced}


def _placed_around(
    problem: Problem, settled: Mapping[str, RunJob], seed: int, cancelled: Callable[[], bool] | None
) -> Schedule:
    """A careful schedule with some jobs narrowed down, in the options of the jobs as they are."""
    jobs = tuple(settled.get(job.code, job) for job in problem.jobs)
    schedule = greedy_schedule(replace(problem, jobs=jobs), seed=seed, explain=False, cancelled=cancelled)
    narrowed = {job.code: job for job in jobs}
    known = {job.code: job for job in problem.jobs}
    return replace(schedule, runs=tuple(_in_options(run, narrowed[run.job], known[run.job]) for run in schedule.runs))


def _in_options(run: PlacedRun, narrowed: RunJob, job: RunJob) -> PlacedRun:
    option = narrowed.options[run.option]
    return replace(run, option=_option_index(job, option.pot, option.pan.code if option.pan else ""))


def _option_index(job: RunJob, pot: str, pan: str) -> int:
    return next(
        (
            index
            for index, option in enumerate(job.options)
            if option.pot == pot and (option.pan.code if option.pan else "") == pan
        ),
        -1,
    )


def _without(problem: Problem, settled: Mapping[str, RunJob], free: set[str]) -> dict[str, RunJob]:
    """What stays settled: not these runs, nor those they are poured together with."""
    freed = set(free)
    for join in problem.joins:
        members = {join.host, *join.guests}
        if members & free:
            freed |= members
    return {code: job for code, job in settled.items() if code not in freed}


# Runs exactly as before


def _exact(job: RunJob, placed: PlacedRun | None) -> RunJob | None:
    """The job with nothing left to choose, or None where it may not be as before any more."""
    index = -1 if placed is None else _option_index(job, placed.pot, placed.pan)
    if placed is None or index < 0 or job.start_at_min not in (None, placed.start_min):
        return None
    option = job.options[index]
    lengths = [stage.end_min - stage.start_min for stage in placed.stages]
    if [stage.name for stage in placed.stages] != [stage.kind for stage in option.stages] or any(
        not stage.shortest_min <= length <= stage.longest_min
        for stage, length in zip(option.stages, lengths, strict=True)
    ):
        return None
    draws = tuple(_exact_draw(draw, placed) for draw in option.draws)
    narrowed = replace(
        option,
        stages=tuple(
            replace(stage, shortest_min=length, longest_min=length)
            for stage, length in zip(option.stages, lengths, strict=True)
        ),
        draws=draws,
        additions=_exact_additions(option, placed),
    )
    washed = placed.wash.start_min if placed.wash is not None and option.wash_min else None
    return replace(job, options=(narrowed,), start_at_min=placed.start_min, washed_at_min=washed)


def _exact_draw(draw: Draw, placed: PlacedRun) -> Draw:
    """The draw with the way it was cooled, where it still has it."""
    used = {cooling.mode for cooling in placed.coolings if cooling.draw == draw.name}
    return replace(draw, modes=tuple(mode for mode in draw.modes if mode.name in used) or draw.modes)


def _exact_additions(option: RunOption, placed: PlacedRun) -> tuple[AdditionTask, ...]:
    """Additions at the minutes at which they were, counted from the end of their stage."""
    left = list(placed.additions)
    tasks = []
    for task in option.additions:
        at = next((each for each in left if each.name == task.name), None)
        if at is not None:
            left.remove(at)
        if at is None or task.done_at_min is not None:
            tasks.append(task)
        else:
            before_end_min = placed.stages[task.stage].end_min - at.start_min
            tasks.append(replace(task, before_end_min=before_end_min, tolerance_min=0))
    return tuple(tasks)


def _pinned(job: RunJob, placed: PlacedRun) -> RunJob:
    """The job in its pot at its start; its lengths may change."""
    index = _option_index(job, placed.pot, placed.pan)
    return replace(job, options=(job.options[index],), start_at_min=placed.start_min)


def _as_before(problem: Problem, exact: Mapping[str, RunJob], before: Before, seed: int) -> Schedule | None:
    """All runs as they were, where every run was somewhere and nothing stands against it."""
    if len(exact) < len(problem.jobs):
        return None
    known = {job.code: job for job in problem.jobs}
    runs = [_in_options(replace(before[code], option=0), job, known[code]) for code, job in exact.items()]
    schedule = schedule_of(problem, runs, seed=seed)
    return None if check_schedule(problem, schedule) else schedule


def schedule_of(problem: Problem, runs: Iterable[PlacedRun], *, seed: int = 0) -> Schedule:
    """Placed runs as a schedule, with the dispatches they miss; reasons are left open.

    Equation: late where ready after due; lateness = sum of weight x share x hours late.
    Units: no quantities; problem, runs (records, in min), seed; returns a record.
    Valid: runs with an option of their job each; jobs without a run are not told of.
    Errors: none.
    Source: own definition.
    """
    ordered = sorted(runs, key=lambda run: (run.start_min, run.job))
    jobs = {job.code: job for job in problem.jobs}
    missed = [
        (run, due, cooling.ready_min)
        for run in ordered
        for draw, cooling in zip(jobs[run.job].options[run.option].draws, run.coolings, strict=True)
        for due in draw.dues
        if cooling.ready_min > due.minute
    ]
    late = [
        Late(job=run.job, label=due.label, due_min=due.minute, ready_min=ready_min, resource="", sentence="")
        for run, due, ready_min in missed
    ]
    return Schedule(
        status="complete" if ordered else "empty",
        method="greedy",
        runs=tuple(ordered),
        unplaced=(),
        late=tuple(sorted(late, key=lambda each: (each.due_min, each.label, each.job))),
        lateness_h=sum(due.weight * due.share * (ready_min - due.minute) / 60 for _, due, ready_min in missed),
        seconds=0.0,
        seed=seed,
    )
