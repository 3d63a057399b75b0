"""The live batch sheet: a frozen sheet, its plan, and what was recorded, folded into the run as it stands now."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from production.domain.formula import Charge
from production.domain.plan import Ask, Plan, PlannedRun, parameters_of
from production.domain.records.course_charge import charge_now, part_of
from production.domain.records.course_content import (
    ChargeNow,
    Course,
    DrawNow,
    Level,
    Noted,
    ReductionNow,
    State,
    Step,
    StepNow,
)
from production.domain.records.course_draws import Drawn, draw_now, drawn_from, planned_of
from production.domain.records.course_late import asks_of, lateness_of
from production.domain.records.course_reduction import aim_of, level_mass_kg, reduced_from, reduction_now
from production.domain.records.course_state import Records, records_of, steps_now, timers_of
from production.domain.records.course_steps import FILL, FIRST, REDUCE, REDUCED, SECOND, Basis, steps_of
from production.domain.records.course_typed import amounts_that_count
from production.domain.sheets import BatchSheet

BROKEN_OFF = "run_broken_off"
_BRIX = {FIRST: "brix.first", SECOND: "brix.second"}


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
    charge, told = _charge(plan, run, sheet, before, records)
    steps = steps_of(Basis(sheet, plan.week, run, charge))
    draws = tuple(_draws(plan, run, charge, steps, records))
    reduction = _reduction(plan, run, charge, draws, steps, records)
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
        lateness=lateness_of(plan, run, stand),
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


def _amounts(steps: Sequence[Step], records: Records, code: str) -> dict[str, float]:
    step = next((each for each in steps if each.code == code), None)
    return amounts_that_count(step, records.first(code)) if step is not None else {}


def _charge(
    plan: Plan, run: PlannedRun, sheet: BatchSheet, steps: Sequence[Step], records: Records
) -> tuple[Charge, ChargeNow]:
    masses: dict[str, float] = {}
    for line in sheet.charge:
        code = f"charge.{line.order}" if line.add_at is None else f"add.{line.order}"
        mass = _amounts(steps, records, code).get("mass")
        if mass is not None:
            masses[part_of(line.figure)] = mass
    return charge_now(plan, run, masses_kg=masses, filled=_amounts(steps, records, FILL))


def _draws(plan: Plan, run: PlannedRun, charge: Charge, steps: Sequence[Step], records: Records) -> list[DrawNow]:
    per_bx = parameters_of(week=plan.week).value("brix.protein_per_bx")
    found = []
    for name, code, expected in (("first", FIRST, charge.first), ("second", SECOND, charge.liquor)):
        amounts, planned = _amounts(steps, records, code), planned_of(run, name)
        if not amounts or expected is None or planned is None:
            continue
        brix_bx = _amounts(steps, records, _BRIX[code]).get("brix")
        drawn = drawn_from(amounts, expected=expected, brix_bx=brix_bx, per_bx_share=per_bx)
        portions = run.batch.first if name == "first" else ()
        found.append(draw_now(name, drawn, planned=planned, brix_bx=brix_bx, week=plan.week, portions=portions))
    made = _reduced(plan, run, charge, steps, records, per_bx)
    return [*found, made] if made is not None else found


def _reduced(
    plan: Plan, run: PlannedRun, charge: Charge, steps: Sequence[Step], records: Records, per_bx: float
) -> DrawNow | None:
    amounts, planned = _amounts(steps, records, REDUCED), planned_of(run, "reduction")
    if charge.reduction is None or planned is None:
        return None
    made = reduced_from(amounts, charge.reduction, per_bx_share=per_bx)
    if made is None:
        return None
    brix_bx = amounts.get("brix")
    strength = (charge.reduction.solids_bx if brix_bx is None else brix_bx) * per_bx
    drawn = Drawn(mass_kg=made[0], cold_l=made[1], solids_percent=strength)
    return draw_now("reduction", drawn, planned=planned, brix_bx=brix_bx, week=plan.week, portions=run.batch.reduction)


def _reduction(
    plan: Plan,
    run: PlannedRun,
    charge: Charge,
    draws: Sequence[DrawNow],
    steps: Sequence[Step],
    records: Records,
) -> ReductionNow | None:
    second = next((draw for draw in draws if draw.name == "second"), None)
    own_kg, own_bx = (second.mass_kg, second.solids_bx) if second is not None else (None, None)
    aim = aim_of(plan, run, charge, own_kg=own_kg, own_bx=own_bx)
    step = next((each for each in steps if each.code == REDUCE), None)
    if aim is None or step is None:
        return None
    per_bx = parameters_of(week=plan.week).value("brix.protein_per_bx")
    diameter_m = plan.week.get("pots", run.placed.pan or run.pot).inner_diameter_mm / 1000.0
    levels = []
    for note in records.by_step.get(REDUCE, ()):
        amounts = amounts_that_count(step, note)
        mass = level_mass_kg(amounts, aim=aim, per_bx_share=per_bx, inner_diameter_m=diameter_m)
        if mass is not None:
            levels.append(Level(note.happened_at.astimezone(UTC), mass))
    return reduction_now(aim, levels, per_bx_share=per_bx)


def _with_planned_end(reduction: ReductionNow | None, steps: Sequence[StepNow]) -> ReductionNow | None:
    """Without a reading the end is as planned, pushed by what was late."""
    if reduction is None or reduction.levels:
        return reduction
    end = next((each.expected_at for each in steps if each.step.code == REDUCED), None)
    return replace(reduction, end_at=end)
