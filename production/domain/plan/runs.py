"""A run of the schedule as a run of the plan, with everything that can be opened about it."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from production.domain.batches import Batch
from production.domain.cooling_capacity import CoolingChoice, choice_in_full
from production.domain.formula import Charge
from production.domain.plan.content import PlannedDraw, PlannedRun, StageLoad
from production.domain.plan.frame import Frame
from production.domain.plan.jobs import Ready
from production.domain.schedule.problem import RunOption
from production.domain.schedule.result import PlacedCooling, PlacedRun
from production.domain.sourcing import Portioned
from production.domain.workings import Figure


def planned_run(
    frame: Frame, batch: Batch, charge: Charge, placed: PlacedRun, ready: Ready, sourced: tuple[Portioned, ...]
) -> PlannedRun:
    """Put together what the stations have found out about a run.

    Equation: minutes become instants; each draw gets the way to cool that the schedule has taken.
    Units: frame, batch, charge, placed, ready, sourced (records); returns a record.
    Valid: a run that is placed.
    Errors: none.
    Source: own definition.
    """
    cooled = [(cooling, _choice(frame, cooling, ready)) for cooling in placed.coolings]
    return PlannedRun(
        code=batch.code,
        batch=batch,
        formula=batch.formula,
        formula_version=frame.formulas[batch.formula].version,
        pot=placed.pot,
        charge=charge,
        placed=placed,
        loads=_loads(placed, ready.job.options[placed.option]),
        draws=tuple(_planned_draw(frame, cooling, choice) for cooling, choice in cooled),
        sourced=tuple(part for part in sourced if part.run == batch.code),
        start_at=frame.at(placed.start_min),
        end_at=frame.at(placed.pot_free_min),
        figures=(*charge.figures, *(each for cooling, choice in cooled for each in _figures(cooling, choice))),
    )


def _choice(frame: Frame, cooling: PlacedCooling, ready: Ready) -> CoolingChoice:
    taken = next(each for each in ready.choices[cooling.draw] if each.mode.name == cooling.mode)
    if taken.parts[0].expected:  # of a plan before, cooling already
        return taken
    hot = ready.hot[cooling.draw]
    full = partial(choice_in_full, week=frame.week, parameters=frame.parameters, hot=hot, choice=taken)
    return frame.once((hot, taken.mode), full)


def _figures(cooling: PlacedCooling, choice: CoolingChoice) -> list[Figure]:
    return [
        replace(each, key=f"{cooling.draw}.{part.device}.{each.key}") for part in choice.parts for each in part.figures
    ]


def _planned_draw(frame: Frame, cooling: PlacedCooling, choice: CoolingChoice) -> PlannedDraw:
    return PlannedDraw(
        name=cooling.draw,
        cooling=choice,
        device_names=tuple(frame.week.get("cooling_devices", device).name for device, _ in cooling.places),
        start_at=frame.at(cooling.start_min),
        end_at=frame.at(cooling.end_min),
        ready_at=frame.at(cooling.ready_min),
    )


def _loads(placed: PlacedRun, option: RunOption) -> tuple[StageLoad, ...]:
    return tuple(
        StageLoad(
            kind=each.name,
            start_min=each.start_min,
            end_min=each.end_min,
            cooks=stage.cooks,
            supply=option.supply_of(number),
            power_kw=stage.power_kw,
        )
        for number, (each, stage) in enumerate(zip(placed.stages, option.stages, strict=True))
    )
