"""What the steps of a run are made from, the codes of those that others speak of, and how one is made."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from production.domain.formula import Charge
from production.domain.kitchen import Week
from production.domain.plan import PlannedRun
from production.domain.quantities import display_quantity, rounded_text
from production.domain.records.course_boxes import Boxes
from production.domain.records.course_content import Step
from production.domain.sheets import BatchSheet, StageLine

FINISH, FIRST, SECOND, REDUCED = "finish", "draw.first", "draw.second", "reduced"
BEGIN, FILL, BOIL, SECOND_BOIL, REDUCE = "begin", "fill", "boil", "boil.second", "reduce"


@dataclass(frozen=True, slots=True)
class Basis:
    """What the steps are made from: the frozen sheet, the planned run, and its charge as it is now."""

    sheet: BatchSheet
    week: Week
    run: PlannedRun
    charge: Charge

    def show(self, value: float, unit: str) -> str:
        """A quantity in the kitchen's units."""
        number, shown = display_quantity(value, unit, "us" if self.sheet.heading.units == "us" else "metric")
        return f"{number} {'°' if unit == 'degC' else ''}{shown}"

    def weight(self, mass_kg: float) -> str:
        """A weight in the kitchen's units; in grams where a kilogram says too little."""
        if self.sheet.heading.units == "us" or mass_kg >= 1.0:
            return self.show(mass_kg, "kg")
        return f"{rounded_text(1000.0 * mass_kg, '5' if mass_kg >= 0.1 else '1')} g"


def plain_step(
    stage: StageLine,
    code: str,
    kind: str,
    made: Boxes,
    *,
    ways: tuple[tuple[str, ...], ...] = (),
    do: str = "",
    title: str = "",
    open_until: str = "",
    moves: bool = False,
    repeats: bool = False,
    at: datetime | None = None,
) -> Step:
    """A step of a stage, in the words of the stage where it has none of its own; due at the stage's end.

    Equation: fields as given.
    Units: no quantities; stage, made (records), code, kind, do, title, open_until (texts), moves, repeats (yes or no),
        at [instant]; returns a record.
    Valid: any stage.
    Errors: none.
    Source: own definition.
    """
    return Step(
        code=code,
        kind=kind,
        stage=stage.kind,
        title=title or stage.title,
        do=do or stage.do,
        caution=stage.caution,
        planned_at=at or stage.end_at,
        fields=made,
        ways=ways,
        open_until=open_until,
        moves_times=moves,
        repeats=repeats,
    )
