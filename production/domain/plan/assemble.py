"""From runs to a plan: pots and times, then everything that is told about them."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace

from production.domain.batches import Sized, storage_first
from production.domain.demand import Demand
from production.domain.plan.cautions import cautions_of
from production.domain.plan.charges import final_charges
from production.domain.plan.content import FORMAT, VERSION, Plan, PlannedRun
from production.domain.plan.draft import Draft, careful, drafted
from production.domain.plan.effort import Better, Cancelled, Effort, Progress
from production.domain.plan.file import mark_of
from production.domain.plan.frame import Frame
from production.domain.plan.jobs import Adjust, Held, Source
from production.domain.plan.layout import Scheduler
from production.domain.plan.outcome import late_of, unserved_of
from production.domain.plan.runs import planned_run
from production.domain.plan.search import improved
from production.domain.purchasing import build_purchases
from production.domain.schedule.reasons import explained

REASONS_S = 0.3  # for the reasons of a plan that was stopped (own choice, like the next)
MOST_REASONS_S, REASONS_SHARE = 0.5, 0.1  # for those of one that was searched for, or so much of its time


def plan_batches(
    frame: Frame,
    demand: Demand,
    sized: Sized,
    *,
    adjust: Adjust | None = None,
    begun: Mapping[str, PlannedRun] | None = None,
    source: Source | None = None,
    first: Scheduler | None = None,
    seconds: float = 0.0,
    workers: int = 1,
    seed: int = 0,
    progress: Progress | None = None,
    better: Better | None = None,
    cancelled: Cancelled | None = None,
) -> Plan:
    """Everything after the sizing: jobs, schedule, check, reasons, charges, purchases.

    Equation: batches become jobs, each changed by `adjust`; runs in `begun` keep what is in their pots and buy nothing;
        `source` says where the goods of the others come from;
        `first` makes the schedule that a search may improve (the greedy one where none is given).
    Units: frame, demand, sized, begun (records); seconds [s], workers, seed [count]; returns a Plan.
    Valid: batches of the frame's week.
    Errors: PotwrightError `plan-breaks-a-limit` when the checker finds a fault (a mistake of the program).
    Source: own definition.
    """
    effort = Effort(seconds=seconds, workers=workers, seed=seed, progress=progress, better=better, cancelled=cancelled)
    held = Held(adjust=adjust, begun=begun or {}, source=source)
    draft = drafted(frame, demand, sized, held=held, scheduler=first or careful(effort))
    return finished(improved(draft, effort), effort)


def finished(draft: Draft, effort: Effort) -> Plan:
    """The plan of a draft, with reasons, sheets and purchases.

    Equation: what the stations have found out, put together; what has begun is not bought again.
    Units: draft, effort (records); returns a Plan.
    Valid: drafts that have passed the checker.
    Errors: none.
    Source: own definition.
    """
    effort.tell("work out sheets and purchases", 3)
    frame, laid, jobs = draft.frame, draft.laid, draft.laid.jobs
    told = explained(laid.problem, laid.schedule, enough=_patience(effort))
    schedule = replace(told, seconds=effort.counted_s)
    placed = {run.job: run for run in schedule.runs}
    charges = final_charges(frame, laid.kept, draft.held.begun, keep_figures=True)
    to_buy = tuple(part for part in laid.sourced if part.run not in draft.held.begun)
    plan = Plan(
        format=FORMAT,
        version=VERSION,
        week=frame.week,
        parameter_set=frame.parameters.version,
        origin=frame.origin,
        demand=draft.demand,
        runs=tuple(
            planned_run(frame, batch, charges[batch.code], placed[batch.code], jobs.ready[batch.code], laid.sourced)
            for batch, _ in laid.kept
        ),
        schedule=schedule,
        purchases=build_purchases(week=frame.week, sourced=to_buy, starts=laid.starts),
        unserved=tuple(unserved_of(jobs.batches, draft.sized.unmakeable, jobs.refused, schedule)),
        late=tuple(late_of(frame, schedule)),
        storage_choices=storage_first(week=frame.week, parameters=frame.parameters),
        cautions=cautions_of(frame.week, draft.demand),
        mark="",
        violations=(),
        sizing=draft.sized.sizing,
    )
    effort.tell("done", 5)
    return replace(plan, mark=mark_of(plan))


def _patience(effort: Effort) -> Callable[[], bool]:
    """A search that has a limit or is stopped does not wait for all reasons: they can be asked for run by run."""
    began_s = effort.passed_s
    most_s = max(MOST_REASONS_S, REASONS_SHARE * effort.seconds) if effort.seconds > 0.0 else math.inf

    def is_enough() -> bool:
        asked_s = effort.passed_s - began_s
        return asked_s > most_s or (asked_s > REASONS_S and effort.is_stopped)

    return is_enough
