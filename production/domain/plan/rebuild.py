"""The scheduling problem that a plan is an answer to, made again from the plan."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, replace

from production.domain.errors import PotwrightError
from production.domain.plan.begun import begun_job
from production.domain.plan.coefficients import parameters_of
from production.domain.plan.content import Plan, PlannedRun
from production.domain.plan.frame import Frame, frame_of, up_min
from production.domain.plan.holds import LockRun
from production.domain.plan.jobs import Held, jobs_of
from production.domain.plan.pools import joins_of
from production.domain.plan.problem import problem_of
from production.domain.schedule.problem import Problem, RunJob, Was
from production.domain.schedule.result import PlacedRun, Schedule

KEPT_PLANS = 4  # that are held ready for the next question (own choice)


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """A plan's problem with its schedule; runs that found no place are in neither."""

    frame: Frame
    problem: Problem
    schedule: Schedule
    begun: frozenset[str]


_recent: OrderedDict[str, Rebuilt] = OrderedDict()


def rebuilt(plan: Plan) -> Rebuilt:
    """The problem of a plan; asked again about the same plan, the answer is at hand.

    Equation: jobs_of and problem_of for the plan's runs; what has begun when it was planned stands; goods are there
        when the plan says so.
    Units: no quantities; plan (record); returns records, times in min.
    Valid: plans made with the coefficients of their week.
    Errors: PotwrightError `plan-of-other-coefficients` where a run could not be planned like that any more.
    Source: own definition.
    """
    if plan.mark not in _recent:
        _recent[plan.mark] = _rebuilt(plan)
        while len(_recent) > KEPT_PLANS:
            _recent.popitem(last=False)
    return _recent[plan.mark]


def _rebuilt(plan: Plan) -> Rebuilt:
    frame = frame_of(plan.week, parameters_of(week=plan.week), origin=plan.origin)
    now_min = up_min(frame.minute(plan.week.plan_from))
    runs = {run.code: run for run in plan.runs}
    begun = {code: run for code, run in runs.items() if run.placed.start_min < now_min}

    def adjusted(job: RunJob) -> RunJob:
        run = runs[job.code]
        if job.code in begun:
            return begun_job(job, run.placed, now_min=now_min)
        return _waiting(frame, plan, job, run)

    batches = [run.batch for run in plan.runs]
    jobs = jobs_of(frame, batches, Held(adjust=adjusted, begun=begun))
    ready = tuple(each.job for each in jobs.ready.values())
    problem = problem_of(frame, plan.demand, ready, joins_of(jobs.batches))
    known = {job.code: job for job in ready}
    placed = tuple(_in_option(run, known.get(run.job)) for run in plan.schedule.runs)
    status = "complete" if placed else "empty"
    return Rebuilt(frame, problem, replace(plan.schedule, runs=placed, unplaced=(), status=status), frozenset(begun))


def _waiting(frame: Frame, plan: Plan, job: RunJob, run: PlannedRun) -> RunJob:
    """A run to come: its goods are there when the plan has found them, and a locked start stays."""
    there = [part.there_at for part in run.sourced if part.there_at is not None]
    locks = [ask for ask in plan.asks if isinstance(ask, LockRun) and ask.run == run.code and ask.start_at]
    return replace(
        job,
        release_min=up_min(frame.minute(max([plan.week.plan_from, *there]))),
        start_at_min=run.placed.start_min if locks else None,
        was=Was(pot=run.pot, start_min=run.placed.start_min),
    )


def _in_option(run: PlacedRun, job: RunJob | None) -> PlacedRun:
    """The run with the index that its pot and pan have among the job's options."""
    options = () if job is None else job.options
    for index, option in enumerate(options):
        if (option.pot, option.pan.code if option.pan else "") == (run.pot, run.pan):
            return replace(run, option=index)
    raise PotwrightError(
        f"{run.job} would no longer be planned as it stands: the coefficients have changed since this plan was made.",
        code="plan-of-other-coefficients",
        numbers={"run": run.job, "pot": run.pot},
        remedy="Re-plan, and ask again.",
    )
