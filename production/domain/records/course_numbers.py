"""The numbers of a run from what was recorded: its charge, its draws, its reduction."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC

from production.domain.errors import PotwrightError
from production.domain.formula import Charge, Draw
from production.domain.plan import Plan, PlannedRun, parameters_of
from production.domain.records.course_basis import FILL, FIRST, REDUCE, REDUCED, SECOND
from production.domain.records.course_charge import charge_now, part_of
from production.domain.records.course_content import ChargeNow, DrawNow, Level, ReductionNow, Step
from production.domain.records.course_draws import Drawn, draw_now, drawn_from, planned_of
from production.domain.records.course_reduction import Aim, aim_of, level_mass_kg, reduced_from, reduction_now
from production.domain.records.course_state import Records
from production.domain.records.course_typed import amounts_that_count
from production.domain.sheets import BatchSheet

_BRIX = {FIRST: "brix.first", SECOND: "brix.second"}


@dataclass(frozen=True, slots=True)
class Recorded:
    """The steps of a run with the records that count."""

    steps: Sequence[Step]
    records: Records

    def amounts(self, code: str) -> dict[str, float]:
        """The numbers of a step, each in the unit of its box; empty where nothing counts."""
        step = self.step(code)
        return amounts_that_count(step, self.records.first(code)) if step is not None else {}

    def step(self, code: str) -> Step | None:
        """The step of this code."""
        return next((each for each in self.steps if each.code == code), None)


def charge_recorded(plan: Plan, run: PlannedRun, sheet: BatchSheet, recorded: Recorded) -> tuple[Charge, ChargeNow]:
    """The charge from the weighings and the fill that were recorded.

    Equation: charge_now.
    Units: plan, run, sheet, recorded (records); returns records.
    Valid: records of this run.
    Errors: none.
    Source: as charge_now.
    """
    masses: dict[str, float] = {}
    for line in sheet.charge:
        code = f"charge.{line.order}" if line.add_at is None else f"add.{line.order}"
        mass = recorded.amounts(code).get("mass")
        if mass is not None:
            masses[part_of(line.figure)] = mass
    return charge_now(plan, run, masses_kg=masses, filled=recorded.amounts(FILL))


@dataclass(frozen=True, slots=True)
class Numbers:
    """Draws and reduction of a run. What was confirmed but cannot be reckoned with gives no number."""

    plan: Plan
    run: PlannedRun
    charge: Charge
    recorded: Recorded

    @property
    def per_bx_share(self) -> float:
        """True solids for each Brix."""
        return parameters_of(week=self.plan.week).value("brix.protein_per_bx")

    def draws(self) -> tuple[DrawNow, ...]:
        """The draws that were recorded."""
        return tuple(self._draws())

    def _draws(self) -> Iterable[DrawNow]:
        for name, code, expected in (("first", FIRST, self.charge.first), ("second", SECOND, self.charge.liquor)):
            try:
                draw = self._draw(name, code, expected)
            except PotwrightError:
                continue
            if draw is not None:
                yield draw
        try:
            made = self._reduced()
        except PotwrightError:
            return
        if made is not None:
            yield made

    def _draw(self, name: str, code: str, expected: Draw | None) -> DrawNow | None:
        amounts, planned = self.recorded.amounts(code), planned_of(self.run, name)
        if not amounts or expected is None or planned is None:
            return None
        brix_bx = self.recorded.amounts(_BRIX[code]).get("brix")
        drawn = drawn_from(amounts, expected=expected, brix_bx=brix_bx, per_bx_share=self.per_bx_share)
        portions = self.run.batch.first if name == "first" else ()
        return draw_now(name, drawn, planned=planned, brix_bx=brix_bx, week=self.plan.week, portions=portions)

    def _reduced(self) -> DrawNow | None:
        amounts, planned = self.recorded.amounts(REDUCED), planned_of(self.run, "reduction")
        if self.charge.reduction is None or planned is None:
            return None
        made = reduced_from(amounts, self.charge.reduction, per_bx_share=self.per_bx_share)
        if made is None:
            return None
        brix_bx = amounts.get("brix")
        strength = (self.charge.reduction.solids_bx if brix_bx is None else brix_bx) * self.per_bx_share
        drawn = Drawn(mass_kg=made[0], cold_l=made[1], solids_percent=strength)
        portions = self.run.batch.reduction
        return draw_now("reduction", drawn, planned=planned, brix_bx=brix_bx, week=self.plan.week, portions=portions)

    def reduction(self, draws: Iterable[DrawNow]) -> ReductionNow | None:
        """The reduction on its way; nothing where there is none."""
        second = next((draw for draw in draws if draw.name == "second"), None)
        own_kg, own_bx = (second.mass_kg, second.solids_bx) if second is not None else (None, None)
        try:
            aim = aim_of(self.plan, self.run, self.charge, own_kg=own_kg, own_bx=own_bx)
            step = self.recorded.step(REDUCE)
            if aim is None or step is None:
                return None
            return reduction_now(aim, tuple(self._levels(aim, step)), per_bx_share=self.per_bx_share)
        except PotwrightError:
            return None

    def _levels(self, aim: Aim, step: Step) -> Iterable[Level]:
        vessel = self.plan.week.get("pots", self.run.placed.pan or self.run.pot)
        for note in self.recorded.records.by_step.get(REDUCE, ()):
            mass = level_mass_kg(
                amounts_that_count(step, note),
                aim=aim,
                per_bx_share=self.per_bx_share,
                inner_diameter_m=vessel.inner_diameter_mm / 1000.0,
            )
            if mass is not None:
                yield Level(note.happened_at.astimezone(UTC), mass)
