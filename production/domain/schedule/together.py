"""Runs that are reduced together: all of them are poured over in the same minute, or none of them is made.

One run leads: it goes where it goes best, and the others are poured over with it. Where one of them cannot, the leader
waits until that one could be poured over at the earliest, and so on.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from production.domain.schedule.book import NO_EASE, Book, Ease
from production.domain.schedule.placement import Found, Pouring, best_placement
from production.domain.schedule.problem import Problem, RunJob
from production.domain.schedule.result import PlacedRun

ROUNDS = 12  # minutes of pouring over that are tried under one leader
ROUNDS_EASED = 4  # the same where it is only asked what would help


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """A run by itself, or the runs of one reduction with the host first."""

    jobs: tuple[RunJob, ...]


def groups_of(problem: Problem) -> dict[str, Group]:
    """The group of every run.

    Equation: runs that a join names belong together, every other run stands alone.
    Units: problem (record); returns groups by run.
    Valid: any problem.
    Errors: none.
    Source: own definition.
    """
    jobs = {job.code: job for job in problem.jobs}
    groups = {code: Group((job,)) for code, job in jobs.items()}
    for join in problem.joins:
        group = Group(tuple(jobs[code] for code in (join.host, *join.guests)))
        groups |= {job.code: group for job in group.jobs}
    return groups


def poured_at(job: RunJob, run: PlacedRun) -> int:
    """When a placed run is poured over: in its pan, or as a guest at the end of its chain.

    Equation: start of the pouring over.
    Units: job, run (records); returns [min].
    Valid: a run with a pan, or a guest.
    Errors: none.
    Source: own definition.
    """
    pan = job.options[run.option].pan
    return run.stages[pan.pour_stage if pan else -1].start_min


def best_group(
    book: Book, group: Group, *, ease: Ease = NO_EASE, most_late_h: float = math.inf
) -> tuple[Found, ...] | None:
    """Places for all runs of a group, in their order, or none.

    Equation: under each of two leaders (the host; the run with the fewest pots) the first minute of pouring over that
        suits all, found by letting the leader wait for whoever cannot; the less late of the two.
    Units: most_late_h [h, weighted], of each run.
    Valid: a group of the book's problem.
    Errors: none; nothing found is None.
    Source: own definition.
    """
    if len(group.jobs) == 1:
        found = best_placement(book, group.jobs[0], ease=ease, most_late_h=most_late_h)
        return None if found is None else (found,)
    best: tuple[Found, ...] | None = None
    leaders = [_first_begun(group), _least_choice(group)] if ease == NO_EASE else [_first_begun(group)]
    for leader in dict.fromkeys(leaders):
        if best is None or _late_h(best) > 0:
            placed = _under(book, group, leader, ease, most_late_h)
            if placed is not None and (best is None or _late_h(placed) < _late_h(best)):
                best = placed
    return best


def _late_h(placed: tuple[Found, ...]) -> float:
    return sum(found.late_h for found in placed)


def _first_begun(group: Group) -> int:
    return next((number for number, job in enumerate(group.jobs) if job.start_at_min is not None), 0)


def _least_choice(group: Group) -> int:
    return min(range(len(group.jobs)), key=lambda number: len({option.pot for option in group.jobs[number].options}))


def _under(book: Book, group: Group, leader: int, ease: Ease, most_late_h: float) -> tuple[Found, ...] | None:
    minute = 0
    for _ in range(ROUNDS if ease == NO_EASE else ROUNDS_EASED):
        wish = Pouring(minute, exactly=False)
        led = best_placement(book, group.jobs[leader], ease=ease, most_late_h=most_late_h, pouring=wish)
        if led is None:
            return None
        at = poured_at(group.jobs[leader], led.run)
        placed = {leader: led}
        book.take_run(group.jobs[leader], led.run, 1)
        later = _others(book, group, placed, at, ease, most_late_h)
        for number, found in placed.items():
            book.take_run(group.jobs[number], found.run, -1)
        if later is None:
            ready = len(placed) == len(group.jobs)
            return tuple(placed[number] for number in range(len(group.jobs))) if ready else None
        minute = later
    return None


def _others(book: Book, group: Group, placed: dict[int, Found], at: int, ease: Ease, most_late_h: float) -> int | None:
    """Add the other runs at the minute of pouring; else say when the one that cannot could be poured over."""
    for number, job in enumerate(group.jobs):
        if number in placed:
            continue
        together = Pouring(at, exactly=True)
        found = best_placement(book, job, ease=ease, most_late_h=most_late_h, pouring=together)
        if found is None:
            after = Pouring(at + book.step, exactly=False)
            later = best_placement(book, job, ease=ease, most_late_h=most_late_h, pouring=after)
            return None if later is None else poured_at(job, later.run)
        placed[number] = found
        book.take_run(job, found.run, 1)
    return None
