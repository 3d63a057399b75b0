"""A run in one pot as a chain of stages."""

from __future__ import annotations

from collections.abc import Mapping

from production.domain.batches import Batch
from production.domain.cooling_capacity import STEP_MIN, CoolingChoice
from production.domain.formula import Charge
from production.domain.kitchen import Formula, SecondDraw
from production.domain.plan.charges import Ends
from production.domain.plan.draws import draw_of
from production.domain.plan.frame import Frame, down_min, up_min
from production.domain.schedule.problem import AdditionTask, Pan, RunOption, Stage
from production.domain.schedule.result import POUR_OVER

Choices = Mapping[str, tuple[CoolingChoice, ...]]  # by draw
_SIMMER, _DRAW_OFF = 3, 4  # places of the stages that additions and the first draw hang on


def option_of(frame: Frame, batch: Batch, ends: Ends, choices: Choices) -> RunOption:
    """The run in one pot, and perhaps a pan; each stage is long enough for the charge at either end of the simmers.

    Equation: times of the charge and of the kitchen's tasks, rounded up to the grid; pouring over takes as long as
        drawing off all that goes into the pan.
    Units: frame, batch, ends, choices (records); returns a RunOption with min and kW.
    Valid: charges of one pot, longest simmer first.
    Errors: OutOfRange where a freezer cannot freeze.
    Source: own definition.
    """
    charge, formula = ends[0], frame.formulas[batch.formula]
    source = frame.week.get("heat_sources", frame.pots[charge.pot].heat_source)
    stages = _first_stages(frame, formula, ends, source.input_kw)
    draws = [draw_of(frame, "first", batch.first, charge, choices["first"], stage=_DRAW_OFF)]
    second = formula.second_draw if batch.has_second_draw else None
    pan: Pan | None = None
    if second is not None:
        stages += _second_stages(frame, second, ends, source.input_kw)
        pan = _pan(frame, charge, pour_stage=len(stages))
        pan_source = frame.week.get("heat_sources", frame.pots[charge.pan].heat_source) if charge.pan else source
        if charge.pan or batch.pours_into:
            stages.append(_pour_over(frame, ends))
        if batch.reduction:
            stages += _reduction_stages(frame, ends, pan_source.input_kw)
            last = len(stages) - 1
            draws.append(draw_of(frame, "reduction", batch.reduction, charge, choices["reduction"], stage=last))
    return RunOption(
        pot=charge.pot,
        supply=source.supply,
        stages=tuple(stages),
        draws=tuple(draws),
        additions=tuple(
            AdditionTask(
                name=item.ingredient,
                stage=_SIMMER,
                before_end_min=up_min(item.minutes_before_end),
                cook_min=up_min(item.cook_minutes),
            )
            for item in charge.items
            if item.minutes_before_end is not None
        ),
        wash_min=up_min(frame.week.kitchen.tasks.wash_min),
        pan=pan,
    )


def _pan(frame: Frame, charge: Charge, *, pour_stage: int) -> Pan | None:
    if not charge.pan:
        return None
    return Pan(
        code=charge.pan,
        supply=frame.week.get("heat_sources", frame.pots[charge.pan].heat_source).supply,
        pour_stage=pour_stage,
        wash_min=up_min(frame.week.kitchen.tasks.wash_min),
    )


def _pour_over(frame: Frame, ends: Ends) -> Stage:
    tasks = frame.week.kitchen.tasks
    liquors = [each.reduction.liquor if each.reduction is not None else each.liquor for each in ends]
    poured_l = max(liquor.cold_l for liquor in liquors if liquor is not None)
    return _fixed(POUR_OVER, tasks.draw_base_min + tasks.draw_min_per_l * poured_l, cooks=1)


def _first_stages(frame: Frame, formula: Formula, ends: Ends, full_kw: float) -> list[Stage]:
    tasks, low_kw = frame.week.kitchen.tasks, _simmer_kw(ends)
    return [
        _fixed("load", tasks.load_min, cooks=1),
        _fixed("heat_up", max(each.heat_up_min for each in ends), on_site=True, power_kw=full_kw),
        _fixed("skim", tasks.skim_min, cooks=1, power_kw=low_kw),
        _simmer("simmer", formula.simmer_min_h, formula.simmer_max_h, power_kw=low_kw),
        _fixed("draw_off", tasks.draw_base_min + tasks.draw_min_per_l * ends[0].first.cold_l, cooks=1),
    ]


def _second_stages(frame: Frame, second: SecondDraw, ends: Ends, full_kw: float) -> list[Stage]:
    tasks, low_kw = frame.week.kitchen.tasks, _simmer_kw(ends)
    liquor_l = max(each.liquor.cold_l for each in ends if each.liquor is not None)
    return [
        _fixed("refill", tasks.refill_min, cooks=1),
        _fixed("second_heat_up", max(each.second_heat_up_min for each in ends), on_site=True, power_kw=full_kw),
        _simmer("second_simmer", second.simmer_min_h, second.simmer_max_h, power_kw=low_kw),
        _fixed("second_draw_off", tasks.draw_base_min + tasks.draw_min_per_l * liquor_l, cooks=1),
        Stage(
            kind="hot_hold",
            shortest_min=STEP_MIN,
            longest_min=max(STEP_MIN, down_min(60 * frame.week.kitchen.hot_hold_max_h)),
            power_kw=low_kw,
        ),
    ]


def _reduction_stages(frame: Frame, ends: Ends, full_kw: float) -> list[Stage]:
    tasks = frame.week.kitchen.tasks
    reductions = [each.reduction for each in ends if each.reduction is not None]
    reduce_min = max(each.reduce_min for each in reductions)
    reduced_l = max(each.litres for each in reductions)
    return [
        _fixed("reduce", max(STEP_MIN, reduce_min - tasks.finish_min), on_site=True, power_kw=full_kw),
        _fixed("finish", tasks.finish_min, cooks=1, power_kw=full_kw),
        _fixed("portion", tasks.portion_base_min + tasks.portion_min_per_l * reduced_l, cooks=1),
    ]


def _simmer_kw(ends: Ends) -> float:
    return max(each.simmer_kw for each in ends)


def _simmer(kind: str, shortest_h: float, longest_h: float, *, power_kw: float) -> Stage:
    """A simmer on the grid, or to the minute where its window is too narrow for the grid."""
    shortest, longest = up_min(60 * shortest_h), down_min(60 * longest_h)
    if shortest > longest:
        shortest = longest = round(60 * longest_h)
    return Stage(kind=kind, shortest_min=shortest, longest_min=longest, power_kw=power_kw)


def _fixed(kind: str, minutes: float, *, cooks: int = 0, on_site: bool = False, power_kw: float = 0.0) -> Stage:
    whole = up_min(minutes)
    return Stage(kind=kind, shortest_min=whole, longest_min=whole, cooks=cooks, on_site=on_site, power_kw=power_kw)
