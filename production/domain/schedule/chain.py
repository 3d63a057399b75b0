"""The critical chain of a run: what it waits for, and what that waits for, back to the start of the plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from production.domain.schedule.book import Book, shape_of
from production.domain.schedule.holding import Barrier, Slide, slide, users_of
from production.domain.schedule.problem import Problem, RunJob
from production.domain.schedule.result import PlacedRun, Schedule
from production.domain.schedule.together import groups_of

LONGEST = 6  # links


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """A run waits for a resource from a minute, at which it could have used it, until a minute at which it does."""

    job: str
    resource: str
    code: str  # pot, heat supply, cooling device, tray or store; empty where there is only one of the kind
    from_min: int
    until_min: int
    blocked_by: tuple[str, ...]  # runs that have the resource meanwhile, the one that keeps it longest first


def critical_chain(problem: Problem, schedule: Schedule, job_code: str) -> tuple[Link, ...]:
    """Follow a placed run backwards along what binds it.

    Equation: each run is slid towards now with all others in place; the resource without which it could end earliest
        is its link, and the run that keeps that resource longest is looked at next. It ends at a run that nothing
        holds, that has begun or is held to its start, at hours, goods or shelf life, or after six links.
    Units: problem, schedule (records), job_code [no quantities]; returns links with min.
    Valid: a run placed in a schedule that passes the check; a run that is left out has no chain.
    Errors: none.
    Source: own definition (the critical chain of a schedule is a standard notion of operations research).
    """
    book = Book(problem, shape_of(problem, schedule.runs))
    jobs = {job.code: job for job in problem.jobs}
    placed = {run.job: run for run in schedule.runs}
    for run in schedule.runs:
        book.take_run(jobs[run.job], run, 1)
    groups = groups_of(problem)
    links: list[Link] = []
    seen: set[str] = set()
    at: str | None = job_code if job_code in placed else None
    while at is not None and len(links) < LONGEST:
        chains = [(job, placed[job.code]) for job in groups[at].jobs if job.code in placed]
        seen |= {job.code for job, _ in chains}
        link = _link(book, at, chains, jobs, placed)
        if link is None:
            break
        links.append(link)
        at = next((code for code in link.blocked_by if code not in seen), None)
    return tuple(links)


def _link(
    book: Book,
    code: str,
    chains: Sequence[tuple[RunJob, PlacedRun]],
    jobs: Mapping[str, RunJob],
    placed: Mapping[str, PlacedRun],
) -> Link | None:
    if any(job.start_at_min is not None for job, _ in chains):
        return None
    for job, run in chains:
        book.take_run(job, run, -1)
    slid = slide(book, chains, shortest=len(chains) == 1)
    barrier = _binding(slid)
    mine = {job.code for job, _ in chains}
    others = [run for run in placed.values() if run.job not in mine]
    by = int(slid.by[barrier.place]) if barrier else 0
    users = users_of(book, barrier.need, by, jobs, others) if barrier else ()
    for job, run in chains:
        book.take_run(job, run, 1)
    if barrier is None:
        return None
    return Link(
        job=code,
        resource=barrier.need.resource,
        code=barrier.need.code,
        from_min=(barrier.need.start - by) * book.step,
        until_min=barrier.has_it_from * book.step,
        blocked_by=tuple(run.job for run in users),
    )


def _binding(slid: Slide) -> Barrier | None:
    """What holds the chains: the one thing that costs most, or of several together the first."""
    if slid.free_gain() > 0:
        return None
    held = [each.resource for each in slid.held_by()] or (slid.held_together() if (slid.gains > 0).any() else [])
    return slid.barrier(held[0]) if held else None
