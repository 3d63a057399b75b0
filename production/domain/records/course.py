"""The live batch sheet: a frozen sheet, its plan, and what was recorded, folded into the run as it stands now."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from production.domain.plan import Ask, Plan, PlannedRun
from production.domain.records.course_basis import REDUCED, Basis
from production.domain.records.course_content import Course, Noted, ReductionNow, State, Step, StepNow
from production.domain.records.course_late import asks_of, lateness_of, lost_of
from production.domain.records.course_numbers import Numbers, Recorded, charge_recorded
from production.domain.records.course_state import records_of, steps_now, timers_of
from production.domain.records.course_steps import steps_of
from production.domain.sheets import BatchSheet

BROKEN_OFF = "run_broken_off"


@dataclass(frozen=True, slots=True)
class Running:
    """A run that is cooked: the sheet it was begun with, the plan that sheet was made from, and its entries."""

    plan: Plan
    sheet: BatchSheet
    state: State
    notes: tuple[Noted, ...]

    @property
    def run(self) -> PlannedRun:
        """The run as it was planned."""
        return next(run for run in self.plan.runs if run.code == self.sheet.run)


def planned_steps(plan: Plan, sheet: BatchSheet) -> tuple[Step, ...]:
    """The steps of a sheet before anything is recorded.

    Equation: steps_of with the planned charge.
    Units: plan, sheet (records); returns records.
    Valid: sheets of the plan.
    Errors: none.
    Source: own definition.
    """
    run = next(run for run in plan.runs if run.code == sheet.run)
    return steps_of(Basis(sheet, plan.week, run, run.charge))


def course_of(running: Running, *, now: datetime) -> Course:
    """A run as it stands: steps with who and when, numbers from what was weighed, times pushed by what was late.

    Equation: entries put to the steps of the sheet; the charge as weighed gives the steps their new amounts; the
        reduction's end by its last two readings; then times, and who else has to wait.
    Units: running (record), now [instant]; returns a record.
    Valid: entries of this run, in any order of arrival; now not before them.
    Errors: none.
    Source: own definition.
    """
    plan, sheet, run = running.plan, running.sheet, running.run
    before = planned_steps(plan, sheet)
    records = records_of(before, running.notes)
    charge, told = charge_recorded(plan, run, sheet, Recorded(before, records))
    steps = steps_of(Basis(sheet, plan.week, run, charge))
    numbers = Numbers(plan, run, charge, Recorded(steps, records))
    draws = numbers.draws()
    reduction = numbers.reduction(draws)
    predicted = {REDUCED: reduction.end_at} if reduction is not None and reduction.end_at is not None else {}
    stand = steps_now(steps, records, state=running.state, predicted=predicted, now=now)
    return Course(
        run=run.code,
        formula=sheet.formula,
        pot=sheet.fill.pot,
        state=running.state,
        steps=stand,
        timers=timers_of(stand) if running.state == "under_way" else (),
        charge=told,
        draws=draws,
        reduction=_with_planned_end(reduction, stand),
        lateness=(lost_of if running.state == "broken_off" else lateness_of)(plan, run, stand),
        cautions=sheet.cautions,
        others=records.others,
        withdrawn=records.dead,
        log=tuple(sorted(running.notes, key=lambda note: (note.happened_at, note.number))),
    )


def asks_suggested(running: Running, course: Course) -> tuple[Ask, ...]:
    """What a manager may tell the planner about this run; nothing is told by itself.

    Equation: asks_of with the reason of breaking off.
    Units: running, course (records); returns records.
    Valid: the course of this run.
    Errors: none.
    Source: own definition.
    """
    broken = next((note for note in course.others if note.kind == BROKEN_OFF), None)
    reason = (broken.text("why") or "broken off") if broken is not None else None
    return asks_of(running.run, course.steps, broken_off=reason)


def _with_planned_end(reduction: ReductionNow | None, steps: Sequence[StepNow]) -> ReductionNow | None:
    """Without a reading the end is as planned, pushed by what was late."""
    if reduction is None or reduction.levels:
        return reduction
    end = next((each.expected_at for each in steps if each.step.code == REDUCED), None)
    return replace(reduction, end_at=end)
