"""A run of a plan with what the lines of its papers look things up in."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from production.domain.batches import Portion
from production.domain.cooling_capacity import CoolingPart
from production.domain.formula import Draw
from production.domain.kitchen import ALLERGENS, Formula, Ingredient, Pot
from production.domain.plan import Plan, PlannedDraw, PlannedRun
from production.domain.quantities import display_quantity
from production.domain.schedule.result import Placed
from production.domain.sheets.content import Filled
from production.domain.sheets.heading import Heading


@dataclass(frozen=True, slots=True)
class Page:
    """A run with its plan, its formula, its pot and its ingredients."""

    plan: Plan
    run: PlannedRun
    names: Mapping[str, Ingredient]
    formula: Formula
    pot: Pot

    @property
    def is_us(self) -> bool:
        """Whether the kitchen reads US customary units."""
        return bool(self.plan.week.kitchen.units == "us")

    @property
    def allergens(self) -> tuple[str, ...]:
        """Allergens of everything that goes in, in the order of the law's list."""
        found = {name for item in self.run.charge.items for name in self.names[item.ingredient].allergens}
        return tuple(name for name in ALLERGENS if name in found)

    @property
    def is_on_gas(self) -> bool:
        """Whether the pot is heated by gas."""
        week = self.plan.week
        source = week.get("heat_sources", self.pot.heat_source)
        return bool(week.get("heat_supplies", source.supply).kind == "gas")

    @property
    def liquor(self) -> Draw | None:
        """The second draw of this run."""
        reduction = self.run.charge.reduction
        return self.run.charge.liquor or (reduction.liquor if reduction is not None else None)

    @property
    def guests(self) -> tuple[PlannedRun, ...]:
        """Runs whose second draws are reduced with this one's."""
        return tuple(run for run in self.plan.runs if run.batch.pours_into == self.run.code)

    @property
    def pan_name(self) -> str:
        """The pan that the second draw is poured over into; nothing where it stays in its pot."""
        host = self.run.batch.pours_into or self.run.code
        pan = next((run.placed.pan for run in self.plan.runs if run.code == host), "")
        return self.pot_name(pan) if pan else ""

    @property
    def reduced_in(self) -> Pot:
        """The vessel that the reduction is made in."""
        pan: Pot = self.plan.week.get("pots", self.run.placed.pan) if self.run.placed.pan else self.pot
        return pan

    def pot_name(self, code: str) -> str:
        """What is painted on a pot or pan."""
        return str(self.plan.week.get("pots", code).name)

    def show(self, value: float, unit: str) -> str:
        """A quantity in the kitchen's units."""
        number, shown = display_quantity(value, unit, "us" if self.is_us else "metric")
        return f"{number} {'°' if unit == 'degC' else ''}{shown}"

    def from_rim(self, length_mm: float) -> str:
        """A distance below the rim, rounded to the safe side."""
        return self.show(safe_mark_mm(length_mm=length_mm, is_us=self.is_us), "mm")

    def is_unattended(self, stage: Placed) -> bool:
        """Whether some of a stage falls outside every shift."""
        covered, end = self.plan.at(stage.start_min), self.plan.at(stage.end_min)
        for shift in sorted(self.plan.week.shifts, key=lambda each: each.start):
            if shift.start <= covered < shift.end:
                covered = shift.end
        return covered < end


def safe_mark_mm(*, length_mm: float, is_us: bool) -> float:
    """A distance below the rim as it can be measured, never less than it is.

    Equation: rounded up to the millimetre, or to the eighth of an inch.
    Units: length_mm [mm], is_us (yes or no); returns [mm].
    Valid: any distance.
    Errors: none.
    Source: own definition.
    """
    step_mm = 25.4 / 8.0 if is_us else 1.0
    return math.ceil(length_mm / step_mm - 1e-6) * step_mm


def page_of(plan: Plan, run: PlannedRun) -> Page:
    """A run with its formula, its pot and its ingredients.

    Equation: the entries of the plan's own week.
    Units: no quantities; plan, run (records); returns a record.
    Valid: runs of the plan.
    Errors: none.
    Source: own definition.
    """
    week = plan.week
    return Page(
        plan=plan,
        run=run,
        names={each.code: each for each in week.ingredients},
        formula=week.get("formulas", run.formula),
        pot=week.get("pots", run.pot),
    )


def heading_of(plan: Plan) -> Heading:
    """What every paper of a plan says about itself.

    Equation: fields of the plan and its kitchen.
    Units: no quantities; plan (record); returns a record.
    Valid: every plan.
    Errors: none.
    Source: own definition.
    """
    kitchen = plan.week.kitchen
    return Heading(
        kitchen=kitchen.name,
        time_zone=kitchen.time_zone,
        units=kitchen.units,
        week=plan.week.starts_on,
        plan_made_at=plan.week.plan_from,
        parameter_set=plan.parameter_set,
        plan_mark=plan.mark,
    )


def filled_of(plan: Plan, portions: Iterable[Portion]) -> tuple[Filled, ...]:
    """Portions with the names of product and container.

    Equation: containers and net litres of the product; cubes are counted in pieces.
    Units: plan, portions (records); returns records with litres [L].
    Valid: portions of the plan.
    Errors: none.
    Source: own definition.
    """
    week = plan.week
    found = []
    for portion in portions:
        product = week.get("products", portion.product)
        found.append(
            Filled(
                product=product.name,
                container=week.get("containers", product.container).name,
                containers=portion.containers,
                net_l=product.net_l,
                pieces=portion.containers * product.cubes_per_container if product.cubes_per_container else None,
            )
        )
    return tuple(found)


def log_key(run: PlannedRun, draw: PlannedDraw, part: CoolingPart) -> str:
    """Key of the cooling log of a draw in one device.

    Equation: run and draw, and the device where there is more than one.
    Units: no quantities; run, draw, part (records); returns a key.
    Valid: draws of the run.
    Errors: none.
    Source: own definition.
    """
    return f"{run.code}-{draw.name}" if len(draw.cooling.parts) == 1 else f"{run.code}-{draw.name}-{part.device}"
