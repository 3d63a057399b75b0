"""The critical chain of a run: what it waits for, and what that waits for, back to the start of the plan."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cache

from production.domain.schedule.book import POTS, Book, Ease, shape_of
from production.domain.schedule.here import first_holder, free_gain
from production.domain.schedule.holding import (
    HOLDERS,
    Barrier,
    Need,
    Slide,
    has_it_from,
    slide,
    unmet_needs,
    users_of,
)
from production.domain.schedule.problem import Problem, RunJob
from production.domain.schedule.result import PlacedRun, Schedule
from production.domain.schedule.together import Group, best_group, groups_of

LONGEST = 6  # links


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """A run waits for a resource from a minute, at which it could have used it, until a minute at which it does."""

    job: str
    resource: str
    code: str  # pot, heat supply, cooling device, tray or store; empty where there is only one of the kind
    what: str  # stage, addition or draw that needs it
    from_min: int
    until_min: int
    blocked_by: tuple[str, ...]  # runs that have the resource meanwhile, the one that keeps it longest first


def critical_chain(problem: Problem, schedule: Schedule, job_code: str, *, short_of: str = "") -> tuple[Link, ...]:
    """Follow a placed run backwards along what binds it.

    Equation: each run is slid towards now with all others in place; the resource without which it could end earliest
        is its link. Of the runs that have that resource, the one that keeps it longest and itself waits for something
        earlier is looked at next. It ends where there is none (nothing holds them, they have begun or are held to
        their start), at hours, goods or shelf life, or after six links. Where a run is late because it is short of
        another resource, the first link is the place where it would be on time with more of that, in whatever pot.
    Units: problem, schedule (records), job_code, short_of (words); returns links with min.
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

    @cache
    def held(code: str) -> Link | None:
        chains = [(job, placed[job.code]) for job in groups[code].jobs if job.code in placed]
        return _link(book, code, chains, jobs, placed)

    links: list[Link] = []
    link = held(job_code) if job_code in placed else None
    if job_code in placed and (link is None or link.resource != short_of):
        link = _short_of(book, groups[job_code], short_of, jobs, placed) or link
    while link is not None and len(links) < LONGEST:
        links.append(link)
        link = next(_earlier(link, held), None)
    return tuple(links)


def _short_of(
    book: Book, group: Group, resource: str, jobs: Mapping[str, RunJob], placed: Mapping[str, PlacedRun]
) -> Link | None:
    """What a late run would need to be on time, and who has it then."""
    if resource not in HOLDERS:
        return None
    chains = [(job, placed[job.code]) for job in group.jobs if job.code in placed]
    with _without(book, chains):
        wished = best_group(book, group, ease=Ease(frozenset([resource])), most_late_h=0.0)
        for (job, run), found in zip(chains, wished or (), strict=False):
            need = next(unmet_needs(book, job, found.run), None)
            if need is not None:
                until_min = has_it_from(book, job, run, need)
                users = _users(book, need, until_min // book.step, jobs, _others(chains, placed))
                return _linked(job.code, need, need.start * book.step, until_min, users)
    return None


def _users(
    book: Book, need: Need, until: int, jobs: Mapping[str, RunJob], others: Sequence[PlacedRun]
) -> tuple[PlacedRun, ...]:
    """Who has what is needed at a wished place; of a vessel, who is in it from there on until it can be had."""
    if need.resource == POTS:
        return users_of(book, replace(need, start=until), until - need.start, jobs, others)
    return users_of(book, need, 0, jobs, others)


def _others(chains: Sequence[tuple[RunJob, PlacedRun]], placed: Mapping[str, PlacedRun]) -> list[PlacedRun]:
    mine = {job.code for job, _ in chains}
    return [run for run in placed.values() if run.job not in mine]


def _linked(code: str, need: Need, from_min: int, until_min: int, users: Sequence[PlacedRun]) -> Link:
    return Link(
        job=code,
        resource=need.resource,
        code=need.code,
        what=need.word,
        from_min=from_min,
        until_min=until_min,
        blocked_by=tuple(run.job for run in users),
    )


@contextmanager
def _without(book: Book, chains: Sequence[tuple[RunJob, PlacedRun]]) -> Iterator[None]:
    for job, run in chains:
        book.take_run(job, run, -1)
    yield
    for job, run in chains:
        book.take_run(job, run, 1)


def _earlier(link: Link, held: Callable[[str], Link | None]) -> Iterator[Link]:
    """What the runs in the way wait for themselves, as far as that lies before: a chain only leads back in time."""
    for code in link.blocked_by:
        before = held(code)
        if before is not None and before.until_min < link.until_min:
            yield before


def _link(
    book: Book,
    code: str,
    chains: Sequence[tuple[RunJob, PlacedRun]],
    jobs: Mapping[str, RunJob],
    placed: Mapping[str, PlacedRun],
) -> Link | None:
    if any(job.start_at_min is not None for job, _ in chains):
        return None
    with _without(book, chains):
        slid = slide(book, chains, shortest=len(chains) == 1)
        barrier = _binding(book, chains, slid)
        if barrier is None:
            return None
        by = int(slid.by[barrier.place])
        users = users_of(book, barrier.need, by, jobs, _others(chains, placed))
    from_min = (barrier.need.start - by) * book.step
    return _linked(code, barrier.need, from_min, barrier.has_it_from * book.step, users)


def _binding(book: Book, chains: Sequence[tuple[RunJob, PlacedRun]], slid: Slide) -> Barrier | None:
    """What holds the chains: the one thing that costs most, or of several together the first."""
    if not (slid.gains > 0).any() or free_gain(book, chains, slid) > 0:
        return None
    held = first_holder(book, chains, slid)
    if held is not None:
        return slid.barrier(held.resource)
    together = slid.held_together()
    return slid.barrier(together[0]) if together else None
