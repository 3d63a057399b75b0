"""The checked schedule of a week, with the ingredients its runs wait for."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from production.domain.batches import Batch
from production.domain.demand import Demand
from production.domain.errors import PotwrightError
from production.domain.formula import Charge
from production.domain.plan.charges import final_charges
from production.domain.plan.frame import Frame, up_min
from production.domain.plan.jobs import Held, Jobs, part_pool, wanted_by
from production.domain.plan.pools import joins_of, members_of
from production.domain.plan.problem import problem_of
from production.domain.plan.refusals import no_supplier
from production.domain.schedule.check import check_schedule
from production.domain.schedule.problem import Problem
from production.domain.schedule.reasons import STOPPED
from production.domain.schedule.result import PlacedRun, Schedule
from production.domain.sourcing import Portioned

Scheduler = Callable[[Problem], Schedule]


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """A schedule with the charges, the starts and the ingredients of its runs, in the order of their starts."""

    problem: Problem
    schedule: Schedule
    kept: tuple[tuple[Batch, PlacedRun], ...]
    charges: Mapping[str, Charge]  # without figures
    starts: Mapping[str, datetime]
    sourced: tuple[Portioned, ...]
    jobs: Jobs  # as they were scheduled, with what was given up on the way


def lay_out(frame: Frame, demand: Demand, jobs: Jobs, held: Held, scheduler: Scheduler) -> Laid:
    """Schedule; and again as long as a pool finds no time together or a run would start before its goods have come.

    Equation: what a run needs is known only with its pot and day; each round parts a pool, delays a run to a delivery
        or gives it up, so this ends.
    Units: frame, demand, jobs, held (records), scheduler (problem to schedule); returns records.
    Valid: jobs of the frame's week.
    Errors: PotwrightError `plan-breaks-a-limit` when the checker finds a fault (a mistake of the program).
    Source: own definition.
    """
    while True:
        ready = tuple(each.job for each in jobs.ready.values())
        joins = joins_of({code: batch for code, batch in jobs.batches.items() if code in jobs.ready})
        problem = problem_of(frame, demand, ready, joins)
        schedule = _checked(problem, scheduler(problem))
        stuck = _stuck_pools(jobs, schedule)
        if stuck:
            for members in stuck:
                jobs = _parted(frame, jobs, members, held)
            continue
        laid = _laid(frame, jobs, held, problem, schedule)
        waiting = list(_waiting(laid, held))
        if not waiting:
            return laid
        for part in waiting:
            jobs = _delayed(frame, jobs, part, held)


def _checked(problem: Problem, schedule: Schedule) -> Schedule:
    violations = check_schedule(problem, schedule)
    if violations:
        raise PotwrightError(
            f"The plan breaks a limit: {violations[0].sentence}",
            code="plan-breaks-a-limit",
            numbers={"violations": len(violations), "first": violations[0].code},
            remedy="This is a fault of the program, not of the kitchen: report it with the week file.",
        )
    return schedule


def _stuck_pools(jobs: Jobs, schedule: Schedule) -> list[tuple[Batch, ...]]:
    """Pools with a member that has found no time; one that nobody has tried is not stuck."""
    found: dict[str, tuple[Batch, ...]] = {}
    for out in schedule.unplaced:
        members = members_of(jobs.batches, out.job)
        if len(members) > 1 and out.resource != STOPPED:
            found[members[0].code] = members
    return list(found.values())


def _parted(frame: Frame, jobs: Jobs, members: tuple[Batch, ...], held: Held) -> Jobs:
    """Each member by itself; a member keeps waiting for the goods that it was waiting for."""
    alone = part_pool(frame, jobs, members, (), held)
    for batch in members:
        if batch.code in alone.ready:
            alone = _released_later(alone, batch.code, jobs.ready[batch.code].job.release_min)
    return alone


def _waiting(laid: Laid, held: Held) -> Iterable[Portioned]:
    for part in laid.sourced:
        late = part.there_at is None or part.there_at > laid.starts[part.run]
        if late and part.run not in held.begun:
            yield part


def _delayed(frame: Frame, jobs: Jobs, part: Portioned, held: Held) -> Jobs:
    if part.run not in jobs.ready:
        return jobs
    if part.there_at is not None:
        return _released_later(jobs, part.run, up_min(frame.minute(part.there_at)))
    members = members_of(jobs.batches, part.run)
    if len(members) > 1:
        jobs = _parted(frame, jobs, members, held)
    batch = jobs.batches[part.run]
    return jobs.without(batch, no_supplier(frame, batch, part))


def _released_later(jobs: Jobs, run: str, minute: int) -> Jobs:
    ready = jobs.ready[run]
    job = replace(ready.job, release_min=max(ready.job.release_min, minute))
    return replace(jobs, ready={**jobs.ready, run: replace(ready, job=job)})


def _laid(frame: Frame, jobs: Jobs, held: Held, problem: Problem, schedule: Schedule) -> Laid:
    placed = sorted(schedule.runs, key=lambda run: (run.start_min, run.job))
    kept = tuple((jobs.batches[run.job], run) for run in placed)
    charges = final_charges(frame, kept, held.begun, keep_figures=False)
    starts = {run.job: frame.at(run.start_min) for run in placed}
    wanted = tuple(
        each
        for batch, _ in kept
        if batch.code not in held.begun
        for each in wanted_by(batch, charges[batch.code], frame.local_date(starts[batch.code]))
    )
    return Laid(
        problem=problem,
        schedule=schedule,
        kept=kept,
        charges=charges,
        starts=starts,
        sourced=(
            *(part for code in starts if code in held.begun for part in held.begun[code].sourced),
            *held.sourced(frame.week, wanted),
        ),
        jobs=jobs,
    )
