"""The blank cooling log of a draw in a device: limits, predicted curve, what to do when it is too slow."""

from __future__ import annotations

from collections.abc import Iterable

from production.domain.cooling_capacity import CoolingPart
from production.domain.kitchen import CoolingDevice
from production.domain.limits import CoolingRule, rule
from production.domain.plan import Plan, PlannedDraw
from production.domain.sheets.content import CoolingLog, CurvePoint, LimitLine
from production.domain.sheets.page import Page, filled_of, heading_of, log_key, page_of

REHEAT = {"C": "74 °C", "F": "165 °F"}  # all parts for 15 s: FDA Food Code 3-403.11, read in adopted state texts


def cooling_logs(plan: Plan) -> tuple[CoolingLog, ...]:
    """One blank log for each draw and device of a plan.

    Equation: the rule of the kitchen, the device and vessel of the draw, and the predicted curve on both sides.
    Units: plan (record); contents in degC, min, L, mm, kg; limits in the unit the rule prints.
    Valid: every plan.
    Errors: UnknownParameter for a rule that is not known.
    Source: limits from limits.rule; what a log holds follows 21 CFR 117.305 and 9 CFR 417.5, read.
    """
    return tuple(
        _cooling_log(page_of(plan, run), draw, part)
        for run in plan.runs
        for draw in run.draws
        for part in draw.cooling.parts
    )


def _cooling_log(page: Page, draw: PlannedDraw, part: CoolingPart) -> CoolingLog:
    plan, run = page.plan, page.run
    law = rule(plan.week.kitchen.cooling_rule)
    device = plan.week.get("cooling_devices", part.device)
    portions = run.batch.reduction if draw.name == "reduction" else run.batch.first
    whole_l = page.run.charge.first.cold_l
    if draw.name == "reduction" and page.run.charge.reduction is not None:
        whole_l = page.run.charge.reduction.litres
    here_l = whole_l * part.litres / sum(each.litres for each in draw.cooling.parts)
    return CoolingLog(
        kind="cooling_log",
        key=log_key(run, draw, part),
        heading=heading_of(plan),
        run=run.code,
        draw="Reduction" if draw.name == "reduction" else "First draw",
        formula=page.formula.name,
        products=filled_of(plan, portions),
        device=device.name,
        vessel=plan.week.get("containers", device.vessel).name,
        vessels=part.vessels,
        litres=here_l,
        draw_litres=whole_l,
        fill_l=min(part.fill_l, here_l),
        depth_mm=part.depth_mm * min(1.0, here_l / part.fill_l),
        ice_kg=part.ice_kg,
        start_at=draw.start_at,
        start_temp_c=draw.cooling.start_temp_c,
        rule=f"{law.title} ({law.code})",
        jurisdiction=law.jurisdiction,
        rule_source=law.source,
        limits=tuple(_limits(law, draw)),
        notes=tuple(_notes(law)),
        clock_starts=_clock_sentence(law),
        expected=tuple(CurvePoint(minute=minute, temp_c=temp) for minute, temp in part.expected),
        slow=tuple(CurvePoint(minute=minute, temp_c=temp) for minute, temp in part.slow),
        reading_minutes=_reading_minutes(part.minutes),
        corrective=_corrective(law),
        cautions=tuple(_log_cautions(device)),
    )


def _log_cautions(device: CoolingDevice) -> Iterable[str]:
    if device.kind == "ice_sink":
        yield "Ice must be left in the bath until the last limit is reached: top it up."
    if device.kind == "ice_sink" and device.stirred:
        yield (
            "Stir every vessel and the bath at least every 5 minutes, and say so with each reading. The prediction "
            "holds only while it is stirred: left still, broth sets and then takes hours longer."
        )
    yield "Measure at the warmest point: the centre of the fullest vessel, away from wall and ice."
    yield "A missing reading proves nothing. Never fill one in later."


def _limits(law: CoolingRule, draw: PlannedDraw) -> Iterable[LimitLine]:
    margins = {margin.stage: margin for margin in draw.cooling.margins}
    for stage in law.stages:
        if stage.to_temp is None or stage.max_minutes is None:
            continue
        margin = margins[stage.number]
        yield LimitLine(
            stage=stage.number,
            from_temp=stage.from_temp,
            to_temp=stage.to_temp,
            temp_unit=stage.unit,
            limit_min=stage.max_minutes,
            counted_from=_counted_from(law, stage.clock, stage.number),
            inclusive=not stage.strict,
            predicted_min=margin.predicted_min,
            margin_min=margin.margin_min,
        )


def _counted_from(law: CoolingRule, clock: str, number: int) -> str:
    if clock == "from_stage":
        return f"the end of stage {number - 1}"
    if clock == "from_event":
        return law.event
    first = law.stages[0]
    return f"passing {first.from_temp} °{first.unit}"


def _clock_sentence(law: CoolingRule) -> str:
    first = law.stages[0]
    if first.from_temp is None:
        return f"The clock starts at: {law.event}."
    return (
        f"The clock starts at the last reading of {first.from_temp} °{first.unit} or more before the first "
        f"one below it. Time above {first.from_temp} °{first.unit} does not count; pouring and straining do not "
        "stop the clock."
    )


def _reading_minutes(minutes: int) -> tuple[int, ...]:
    step = 15 if minutes <= 120 else 30 if minutes <= 240 else 60
    return tuple(range(0, minutes + step, step))


def _corrective(law: CoolingRule) -> tuple[str, ...]:
    """What may be done; reheating is guidance (sample HACCP procedures), only where the kitchen's plan allows it."""
    first = law.stages[0]
    lines = ["Too slow, limit not yet passed: more ice, stir, split into shallower vessels, or move to the chiller."]
    if first.from_temp is not None and first.max_minutes is not None:
        lines.append(
            f"Not yet {first.max_minutes} min and it will not reach {first.to_temp} °{first.unit}: reheat once to "
            f"{REHEAT[first.unit]} for 15 s if the kitchen's plan allows it, and open a new log."
        )
    lines += [
        f"Above {stage.to_temp} °{stage.unit} after the {stage.max_minutes} min of stage {stage.number}: discard."
        for stage in law.stages
        if stage.to_temp is not None and stage.max_minutes is not None
    ]
    lines.append("History not known, or a second failure: discard.")
    return tuple(lines)


def _notes(law: CoolingRule) -> Iterable[str]:
    """What the rule adds to its minutes, in its own words or ours."""
    for stage in law.stages:
        if stage.to_temp is not None and stage.max_minutes is None:
            yield f"Then without a break to {stage.to_temp} °{stage.unit}; no number of minutes, but before it leaves."
        if stage.note:
            yield f"Stage {stage.number}: {stage.note}."
    if law.note:
        yield f"{law.note[0].upper()}{law.note[1:]}."
