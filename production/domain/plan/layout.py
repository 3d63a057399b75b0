"""The checked schedule of a week, with the ingredients its runs wait for."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime

from production.domain.batches import Batch
from production.domain.demand import Demand
from production.domain.errors import PotwrightError
from production.domain.formula import Charge
from production.domain.plan.charges import final_charge
from production.domain.plan.frame import Frame, up_min
from production.domain.plan.jobs import Ready, Refused
from production.domain.plan.problem import problem_of
from production.domain.plan.refusals import no_supplier
from production.domain.schedule.check import check_schedule
from production.domain.schedule.greedy import greedy_schedule
from production.domain.schedule.result import PlacedRun, Schedule
from production.domain.sourcing import Portioned, Wanted, source_ingredients

Cancelled = Callable[[], bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """A schedule with the charges, the starts and the ingredients of its runs, in the order of their starts."""

    schedule: Schedule
    kept: tuple[tuple[Batch, PlacedRun], ...]
    charges: Mapping[str, Charge]
    starts: Mapping[str, datetime]
    sourced: tuple[Portioned, ...]
    jobs: Mapping[str, Ready]  # as they were scheduled
    refused: Refused  # given up on the way


def lay_out(
    frame: Frame,
    demand: Demand,
    batches: Iterable[Batch],
    jobs: Mapping[str, Ready],
    *,
    seed: int,
    cancelled: Cancelled | None,
) -> Laid:
    """Schedule; and again with later releases as long as a run would start before all that it needs has come.

    Equation: what a run needs is known only with its pot and day; each round delays a run to a delivery or gives it
        up, so this ends.
    Units: frame, demand, batches, jobs (records), seed (count), cancelled (asks whether to stop); returns records.
    Valid: jobs of the batches.
    Errors: PotwrightError `plan-breaks-a-limit` when the checker finds a fault (a mistake of the program).
    Source: own definition.
    """
    by_code = {batch.code: batch for batch in batches}
    ready, refused = dict(jobs), Refused()
    while True:
        schedule = _checked_schedule(frame, demand, ready, seed, cancelled)
        laid = _laid(frame, by_code, schedule, ready, refused)
        waiting = [part for part in laid.sourced if part.there_at is None or part.there_at > laid.starts[part.run]]
        if not waiting:
            return laid
        for part in waiting:
            if part.run not in ready:
                continue
            if part.there_at is None:
                del ready[part.run]
                refused.append((by_code[part.run], no_supplier(frame, by_code[part.run], part)))
            else:
                ready[part.run] = _released_later(ready[part.run], up_min(frame.minute(part.there_at)))


def _released_later(ready: Ready, minute: int) -> Ready:
    return replace(ready, job=replace(ready.job, release_min=max(ready.job.release_min, minute)))


def _checked_schedule(
    frame: Frame, demand: Demand, ready: Mapping[str, Ready], seed: int, cancelled: Cancelled | None
) -> Schedule:
    problem = problem_of(frame, demand, tuple(each.job for each in ready.values()))
    schedule = greedy_schedule(problem, seed=seed, cancelled=cancelled)
    violations = check_schedule(problem, schedule)
    if violations:
        raise PotwrightError(
            f"The plan breaks a limit: {violations[0].sentence}",
            code="plan-breaks-a-limit",
            numbers={"violations": len(violations), "first": violations[0].code},
            remedy="This is a fault of the program, not of the kitchen: report it with the week file.",
        )
    return schedule


def _laid(
    frame: Frame, by_code: Mapping[str, Batch], schedule: Schedule, ready: Mapping[str, Ready], refused: Refused
) -> Laid:
    placed = sorted(schedule.runs, key=lambda run: (run.start_min, run.job))
    kept = tuple((by_code[run.job], run) for run in placed)
    charges = {batch.code: final_charge(frame, batch, run) for batch, run in kept}
    starts = {run.job: frame.at(run.start_min) for run in placed}
    wanted = tuple(
        each
        for batch, _ in kept
        for each in wanted_by(batch, charges[batch.code], frame.local_date(starts[batch.code]))
    )
    return Laid(
        schedule=schedule,
        kept=kept,
        charges=charges,
        starts=starts,
        sourced=source_ingredients(week=frame.week, wanted=wanted),
        jobs=ready,
        refused=refused,
    )


def wanted_by(batch: Batch, charge: Charge, use_on: date) -> Iterable[Wanted]:
    """What a run wants of each ingredient on its day.

    Equation: the weighings of the charge.
    Units: batch, charge (records; [kg]), use_on [calendar day]; returns records.
    Valid: any charge.
    Errors: none.
    Source: own definition.
    """
    for item in charge.items:
        yield Wanted(run=batch.code, ingredient=item.ingredient, mass_kg=item.mass_kg, use_on=use_on)
