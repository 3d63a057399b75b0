"""A better plan within a time: other sizings and other times; the best by the levels of the objective is kept."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from typing import Protocol

from production.domain.batches import Sized
from production.domain.demand import Demand
from production.domain.plan.content import Preview, PreviewRun
from production.domain.plan.draft import Draft, careful, drafted
from production.domain.plan.effort import Effort
from production.domain.plan.frame import Frame
from production.domain.plan.jobs import Held
from production.domain.plan.layout import lay_out
from production.domain.plan.worth import improves, worth_of
from production.domain.schedule.greedy import greedy_schedule
from production.domain.schedule.problem import Problem
from production.domain.schedule.result import Schedule
from production.domain.schedule.solve import solve_schedule


class Sizer(Protocol):
    """Runs for the week's needs, searched for in some seconds."""

    def __call__(self, *, seconds: float, slack_share: float, pools: bool) -> Sized: ...


SIZING_SHARE, SIZING_S = 0.25, 8.0  # of the time that is left, and never more than so long (own choice)
USUAL_SLACK, MORE_SLACK = 0.15, 0.35  # share of time and cooling that a sizing leaves free (own choice)
SLICES = {"few": 0.4, "rule": 0.35, "slack": 0.5, "again": 0.6}  # of the time that is left then (own choice)
PASSES, PASSES_SHARE = 200, 0.1  # further careful passes, and their share of the time for one sizing (own choice)
POOLS_SHARE = 0.5  # of the time for one sizing, before pools that found no time are parted (own choice)
LEAST_S = 0.2  # less time than this is not worth a search (own choice)
ROUNDS_SHARE = 0.85  # of the time of a sizing; the rest for runs that turn out to wait for goods (own choice)
PAPERS_TIMES, PAPERS_SHARE = 3.0, 0.3  # reasons and papers take so many times the first draft (measured), at most


def searched(frame: Frame, demand: Demand, simple: Sized, sizer: Sizer, effort: Effort) -> Draft:
    """The best draft that is found in the time, never worth less than the simple one.

    Equation: the simple runs by one careful pass are the first draft. Then the runs of the sizing's search get times
        by search; where that leaves orders late or unserved, the simple runs and a sizing with more slack and without
        pools; where it does not yet match the simple runs, that sizing and more time. What is best gets the time that
        is left while anything is late or unserved.
    Units: frame, demand, simple (records), sizer (makes runs), effort (record); returns a record.
    Valid: simple runs of the frame's week.
    Errors: PotwrightError as plan_batches.
    Source: own definition.
    """
    search = _Search(frame, demand, effort)
    before_s = effort.passed_s
    search.consider(drafted(frame, demand, simple, held=Held(), scheduler=careful(effort)), "first plan")
    search.begin(effort.passed_s - before_s)
    if search.is_worth_a_search():
        few = search.times_for(search.sized(sizer, USUAL_SLACK, pools=True), "few", "fewer runs")
        if search.is_short():
            search.times_for(simple, "rule", "runs by rule")
        if search.is_short() or search.best.sized is simple:
            search.times_for(search.sized(sizer, MORE_SLACK, pools=False), "slack", "runs with more slack")
        if search.best.sized is simple and not search.is_short():
            search.improve(few, "again", "fewer runs")
    search.finish()
    return search.best


def improved(draft: Draft, effort: Effort) -> Draft:
    """A draft with better times, if any are found in the time.

    Equation: solve_schedule from the times of the draft.
    Units: draft, effort (records); returns a record.
    Valid: drafts that have passed the checker.
    Errors: PotwrightError as plan_batches.
    Source: own definition.
    """
    search = _Search(draft.frame, draft.demand, effort)
    search.consider(draft, "first plan")
    search.begin(effort.passed_s)
    search.finish()
    return search.best


class _Search:
    """The best draft so far, and who hears of it."""

    best: Draft

    def __init__(self, frame: Frame, demand: Demand, effort: Effort) -> None:
        self.frame, self.demand, self.effort = frame, demand, effort
        self.told: tuple[int, float] | None = None  # runs without a time and lateness of the last preview
        self.papers_s = 0.0

    def begin(self, first_s: float) -> None:
        """Know from the time of the first draft how long the papers will take."""
        self.papers_s = min(PAPERS_TIMES * first_s, PAPERS_SHARE * self.effort.seconds)

    @property
    def left_s(self) -> float:
        """Seconds that the search may still take."""
        return max(0.0, self.effort.seconds - self.papers_s - self.effort.passed_s)

    def is_worth_a_search(self) -> bool:
        """Whether there is time, and nobody has asked to stop."""
        return self.left_s > LEAST_S and not self.effort.is_stopped

    def is_short(self) -> bool:
        """Whether the best plan leaves an order late or unserved."""
        unserved, late_h, *_ = worth_of(self.best)
        return unserved > 0.0 or late_h > 0.0

    def consider(self, draft: Draft, doing: str) -> None:
        """Keep a draft where it is the first or worth no less than the best: a later one knows its bounds."""
        if not hasattr(self, "best") or not improves(self.best, draft):
            self.best = draft
            self.tell(draft, draft.laid.schedule, doing)

    def sized(self, sizer: Sizer, slack_share: float, *, pools: bool) -> Sized:
        """Runs by a search of their own."""
        return sizer(seconds=min(SIZING_S, SIZING_SHARE * self.left_s), slack_share=slack_share, pools=pools)

    def times_for(self, sized: Sized, part: str, doing: str) -> Draft:
        """Give times to sized runs: careful passes, then search, at once where a pool has found no time together."""
        slice_s = SLICES[part] * self.left_s

        def schedule(problem: Problem) -> Schedule:
            start = self.careful(problem, passes=PASSES, seconds=PASSES_SHARE * slice_s)
            if problem.joins and start.unplaced:
                return self.by_search(problem, start, POOLS_SHARE * slice_s)
            return start

        draft = drafted(self.frame, self.demand, sized, held=Held(), scheduler=schedule)
        self.consider(draft, doing)
        return self.improve(draft, part, doing)

    def improve(self, draft: Draft, part: str, doing: str) -> Draft:
        """Better times for a draft in a part of the time that is left."""
        if not self.is_worth_a_search():
            return draft
        solved = self.solved(draft, doing, time.monotonic() + SLICES[part] * self.left_s)
        self.consider(solved, doing)
        return draft if improves(draft, solved) else solved

    def finish(self) -> None:
        """Better times for the best draft in the time that is left, as long as there is something to gain."""
        if self.is_worth_a_search() and (self.is_short() or not self.best.laid.schedule.levels):
            doing = "the best plan so far"
            self.consider(self.solved(self.best, doing, time.monotonic() + self.left_s), doing)

    def solved(self, draft: Draft, doing: str, until_s: float) -> Draft:
        """A draft with times by search, from its own times on."""

        def schedule(problem: Problem) -> Schedule:
            is_known = problem == draft.laid.problem
            start = draft.laid.schedule if is_known else self.careful(problem)
            seconds = ROUNDS_SHARE * (until_s - time.monotonic())
            return self.by_search(problem, start, seconds, lambda found: self.tell(draft, found, doing))

        return replace(draft, laid=lay_out(draft.frame, draft.demand, draft.laid.jobs, draft.held, schedule))

    def careful(self, problem: Problem, *, passes: int = 1, seconds: float | None = None) -> Schedule:
        """Careful passes over a problem."""
        effort = self.effort
        return greedy_schedule(
            problem, seed=effort.seed, passes=passes, seconds=seconds, explain=False, cancelled=effort.cancelled
        )

    def by_search(
        self, problem: Problem, start: Schedule, seconds: float, better: Callable[[Schedule], None] | None = None
    ) -> Schedule:
        """Better times for a problem, where there is time to look for them."""
        effort = self.effort
        if seconds < LEAST_S or effort.is_stopped:
            return start
        return solve_schedule(
            problem,
            start,
            seconds=seconds,
            workers=effort.workers,
            seed=effort.seed,
            better=better,
            cancelled=effort.cancelled,
        )

    def tell(self, draft: Draft, schedule: Schedule, doing: str) -> None:
        """Show a schedule where it leaves out and delays no more than the last that was shown."""
        shown = (len(schedule.unplaced) + len(draft.laid.jobs.refused), schedule.lateness_h)
        if self.told is not None and shown > self.told:
            return
        self.told = shown
        bound_h = next((level.bound for level in schedule.levels if level.name == "lateness"), None)
        at_best = "" if bound_h is None else f", at best {bound_h:.1f} h"
        self.effort.tell(f"find pots and times, {doing}: late {schedule.lateness_h:.1f} h{at_best}", 2)
        if self.effort.better is not None:
            self.effort.better(_preview(draft, schedule, bound_h, self.effort.passed_s, doing))


def _preview(draft: Draft, schedule: Schedule, bound_h: float | None, seconds: float, doing: str) -> Preview:
    late = {each.job for each in schedule.late}
    return Preview(
        origin=draft.frame.origin,
        runs=tuple(
            PreviewRun(
                code=run.job,
                formula=draft.laid.jobs.batches[run.job].formula,
                pot=run.pot,
                pan=run.pan,
                start_min=run.start_min,
                end_min=run.stages[-1].end_min,
                is_late=run.job in late,
            )
            for run in schedule.runs
        ),
        without_time=len(schedule.unplaced),
        lateness_h=schedule.lateness_h,
        bound_h=bound_h,
        seconds=seconds,
        doing=doing,
    )
