"""Runs with their pots and times: what a plan is before its papers are written."""

from __future__ import annotations

from dataclasses import dataclass

from production.domain.batches import Sized
from production.domain.demand import Demand
from production.domain.plan.effort import Effort
from production.domain.plan.frame import Frame
from production.domain.plan.jobs import Held, jobs_of
from production.domain.plan.layout import Laid, Scheduler, lay_out
from production.domain.schedule.greedy import greedy_schedule
from production.domain.schedule.problem import Problem
from production.domain.schedule.result import Schedule


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """Runs with their pots and times; the papers are still to be written."""

    frame: Frame
    demand: Demand
    sized: Sized
    held: Held
    laid: Laid


def careful(effort: Effort) -> Scheduler:
    """One careful pass, run after run.

    Equation: greedy_schedule.
    Units: no quantities; effort (record); returns a scheduler.
    Valid: any problem.
    Errors: none.
    Source: own definition.
    """

    def schedule(problem: Problem) -> Schedule:
        return greedy_schedule(problem, seed=effort.seed, explain=False, cancelled=effort.cancelled)

    return schedule


def drafted(frame: Frame, demand: Demand, sized: Sized, *, held: Held, scheduler: Scheduler) -> Draft:
    """Pots and times for sized runs.

    Equation: jobs_of, then lay_out.
    Units: frame, demand, sized, held (records), scheduler (problem to schedule); returns a record.
    Valid: batches of the frame's week.
    Errors: PotwrightError `plan-breaks-a-limit` when the checker finds a fault (a mistake of the program).
    Source: own definition.
    """
    jobs = jobs_of(frame, sized.batches, held)
    return Draft(frame=frame, demand=demand, sized=sized, held=held, laid=lay_out(frame, demand, jobs, held, scheduler))
