"""Ways to cool a whole draw that keep every critical limit, and the most that any of them takes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from production.domain.cooling_capacity.content import STEP_MIN, CoolingChoice, CoolingPart, LimitMargin
from production.domain.cooling_capacity.devices import MinutesAt
from production.domain.cooling_capacity.parts import part_of
from production.domain.cooling_capacity.splits import splits
from production.domain.cooling_capacity.vessels import Load, Standing
from production.domain.kitchen import CoolingDevice, Week
from production.domain.limits import CoolingRule, predict_verdict, rule
from production.domain.parameters import ParameterSet
from production.domain.schedule.problem import CoolingMode

FREEZES_C = -0.3  # a broth may begin to freeze here; the models here know no freezing (common practice, no source)
_CHILLING_IS_THE_EVENT = "start of chilling"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hot:
    """A draw as it comes out of the pot."""

    litres: float
    density_kg_m3: float
    start_c: float
    glaze: bool


def cooling_choices(
    *, week: Week, parameters: ParameterSet, hot: Hot, in_full: bool = True
) -> tuple[CoolingChoice, ...]:
    """All ways to cool a draw at once that are predicted, on the slow side, to keep every critical limit.

    Equation: the volume goes into ice sinks alone, a chiller alone, or one filled first and the rest in the other; each
        part's time comes from the thermal model for its vessel and device; ways that miss a limit are left out. A part
        of a chiller's places counts on that part of its power, since another draw may stand beside it. Where a rule
        counts from an event before the chilling, the minutes of drawing off or portioning have gone by already.
    Units: week, parameters (records), hot (record with [L], [kg/m3], [degC]), in_full (with curves and figures or not);
        returns choices with times [min], ice [kg].
    Valid: start above the final limit of the rule; no choice for a rule that asks for freezing, which is not modelled.
    Errors: UnknownParameter; PotwrightError for a rule that is not known.
    Source: thermal.cooling and its sources; limits from limits.rule.
    """
    cooler = _Cooler(week, parameters, rule(week.kitchen.cooling_rule), hot, in_full)
    if cooler.load.end_c < FREEZES_C:
        return ()
    choices: dict[tuple[tuple[str, int], ...], CoolingChoice] = {}
    for plan in splits(week, hot.litres):
        choice = cooler.choice(plan)
        if choice is not None:
            choices.setdefault(choice.mode.places, choice)
    return tuple(choices.values())


def choice_in_full(*, week: Week, parameters: ParameterSet, hot: Hot, choice: CoolingChoice) -> CoolingChoice:
    """A way to cool a draw that was worked out without curves and figures, with them.

    Equation: as cooling_choices, for the devices of the choice.
    Units: week, parameters, hot, choice (records); returns a choice with times [min], ice [kg].
    Valid: choices that cooling_choices gave for this draw.
    Errors: UnknownParameter.
    Source: as cooling_choices.
    """
    plan = [(week.get("cooling_devices", part.device), part.litres) for part in choice.parts]
    return _Cooler(week, parameters, rule(week.kitchen.cooling_rule), hot, in_full=True).choice(plan) or choice


class _Cooler:
    """A draw with what it stands in while it cools; like devices are worked out once."""

    def __init__(self, week: Week, parameters: ParameterSet, law: CoolingRule, hot: Hot, in_full: bool) -> None:
        name = "cooling.glaze_cp_kj_kg_k" if hot.glaze else "cooling.broth_cp_kj_kg_k"
        self.law, self.parameters, self.in_full = law, parameters, in_full
        self.vessels = {each.code: each for each in week.containers}
        self.known: dict[tuple[CoolingDevice, float], tuple[CoolingPart, MinutesAt] | None] = {}
        self.load = Load(
            is_glaze=hot.glaze,
            since_event_min=_since_event_min(week, law, hot.litres, glaze=hot.glaze),
            density_kg_l=hot.density_kg_m3 / 1000.0,
            cp_kj_kg_k=parameters.value(name),
            start_c=hot.start_c,
            end_c=_last_target_c(law),
        )

    def choice(self, plan: list[tuple[CoolingDevice, float]]) -> CoolingChoice | None:
        parts = [self.part(device, litres) for device, litres in plan]
        if None in parts:
            return None
        return _choice(self.law, self.load, [part for part in parts if part is not None])

    def part(self, device: CoolingDevice, litres: float) -> tuple[CoolingPart, MinutesAt] | None:
        like = (replace(device, code="", name=""), litres)
        if like not in self.known:
            standing = Standing(device, self.vessels[device.vessel], litres)
            self.known[like] = part_of(self.parameters, self.load, standing, in_full=self.in_full)
        found = self.known[like]
        return found and (replace(found[0], device=device.code), found[1])


def _since_event_min(week: Week, law: CoolingRule, litres: float, *, glaze: bool) -> float:
    """Minutes of hands-on work between the end of cooking and the cooling device."""
    if law.event == _CHILLING_IS_THE_EVENT:
        return 0.0
    tasks = week.kitchen.tasks
    if glaze:
        return STEP_MIN + tasks.portion_base_min + tasks.portion_min_per_l * litres
    return STEP_MIN + tasks.draw_base_min + tasks.draw_min_per_l * litres


def _last_target_c(law: CoolingRule) -> float:
    """The coldest temperature that the rule asks for."""
    return min(stage.to_c for stage in law.stages if stage.to_c is not None)


def _choice(law: CoolingRule, load: Load, parts: list[tuple[CoolingPart, MinutesAt]]) -> CoolingChoice | None:
    margins = _margins(law, load, [minutes_at for _, minutes_at in parts])
    if margins is None:
        return None
    return CoolingChoice(
        mode=CoolingMode(
            name=" + ".join(part.device for part, _ in parts),
            places=tuple((part.device, part.vessels) for part, _ in parts),
            minutes=max(part.minutes for part, _ in parts),
            ice_kg=sum(part.ice_kg for part, _ in parts),
        ),
        start_temp_c=load.start_c,
        parts=tuple(part for part, _ in parts),
        margins=margins,
    )


def _margins(law: CoolingRule, load: Load, parts: list[MinutesAt]) -> tuple[LimitMargin, ...] | None:
    """The smallest margin at each stage of the rule; none where a part misses a limit."""
    worst: dict[int, LimitMargin] = {}
    for minutes_at in parts:
        for each in predict_verdict(law, minutes_at, since_event_min=load.since_event_min):
            if not each.within:
                return None
            number = each.stage.number
            if each.limit_min is None or each.margin_min is None:
                continue
            if number not in worst or each.margin_min < worst[number].margin_min:
                worst[number] = LimitMargin(
                    stage=number,
                    limit_min=each.limit_min,
                    predicted_min=each.predicted_min,
                    margin_min=each.margin_min,
                )
    return tuple(worst[stage] for stage in sorted(worst))


def largest_coolable_l(*, week: Week, parameters: ParameterSet, density_kg_m3: float, start_c: float) -> float:
    """Most litres of one draw that any combination of the kitchen's devices takes at once through the limits.

    Equation: the largest volume, to 0.1 L, for which cooling_choices is not empty and whose ice the full bin holds;
        found by halving between 0 and the sum of all places.
    Units: week, parameters (records); density_kg_m3 [kg/m3], start_c [degC]; returns [L], 0 when nothing can be cooled.
    Valid: devices empty and bin full.
    Errors: as cooling_choices.
    Source: own definition.
    """
    bin_kg = week.ice_machine.bin_kg if week.ice_machine else 0.0

    def fits(litres: float) -> bool:
        hot = Hot(litres=litres, density_kg_m3=density_kg_m3, start_c=start_c, glaze=False)
        ways = cooling_choices(week=week, parameters=parameters, hot=hot, in_full=False)
        return any(way.mode.ice_kg <= bin_kg for way in ways)

    low, high = 0.0, sum(device.places * device.vessel_fill_l for device in week.cooling_devices)
    if not high or not fits(0.5):
        return 0.0
    if fits(high):
        return high
    while high - low > 0.1:
        middle = (low + high) / 2.0
        low, high = (middle, high) if fits(middle) else (low, middle)
    return math.floor(low * 10.0) / 10.0
