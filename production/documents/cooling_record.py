"""A completed cooling log as the words, numbers and drawing that its template sets."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from production.documents.words import Clock, Units, day_text, foot_words, issue_words
from production.drawing.canvas import Size
from production.drawing.cooling_corridor import CoolingCorridor, CurveReading, LimitStep
from production.drawing.cooling_glance import cooling_glance
from production.drawing.measures import TempUnit, minutes_text
from production.drawing.palette import Meaning

if TYPE_CHECKING:
    from collections.abc import Iterable

    from production.domain.sheets.content import CompletedCoolingLog, LoggedReading, LoggedStage

CURVE_SIZE = Size(width_px=704, height_px=210, medium="print")
MOST_IN_FULL = 60  # more readings of probes are set close, so that none is left out
ACROSS = 6
VERDICTS = {
    "met": "Limits met",
    "breached": "Limit missed",
    "not_shown": "Not shown that the limits were met",
}
MEANS = {
    "met": "The readings show that every critical limit was kept, whatever happened between them.",
    "breached": "The readings show that a critical limit was missed. What was cooled here is held or discarded.",
    "not_shown": "The readings do not show that every critical limit was kept. What was cooled here is held.",
}
_STAGE_WORDS = {"met": "met", "breached": "missed", "not_shown": "not shown"}
_MEANING: dict[str, Meaning] = {"met": "within", "breached": "past", "not_shown": "near"}


def cooling_record_view(log: CompletedCoolingLog) -> dict[str, object]:
    """Everything the template needs, already said in the kitchen's units and time."""
    units = Units.of(log.heading)
    clock = Clock.spanning(log.heading.time_zone, log.opened_at, _last(log))
    full, close = _split(log.readings)
    return {
        "title": f"Completed cooling log, run {log.run}, {log.draw}: {log.formula}",
        "heading": log.heading,
        "week": day_text(log.heading.week),
        "foot": foot_words(log.heading),
        "issue": issue_words(log.heading),
        "log": log,
        "day": clock.day(log.opened_at),
        "opened": clock.time(log.opened_at),
        "closed": clock.time(log.closed_at),
        "verdict": VERDICTS[log.verdict],
        "means": MEANS[log.verdict],
        "mark": _mark(log.verdict),
        "fill": units.amount(log.fill_l, "L"),
        "litres": units.amount(log.litres, "L"),
        "depth": units.amount(log.depth_mm, "mm"),
        "ice": units.amount(log.ice_kg, "kg") if log.ice_kg > 0 else None,
        "products": [{"product": each.product, "what": units.filled(each)} for each in log.products],
        "lots": ", ".join(log.lots),
        "facts": list(_facts(log, clock)),
        "stages": [_stage(each, clock) for each in log.stages],
        "curve": cooling_glance(log_corridor(log, clock), CURVE_SIZE),
        "readings": [_reading(each, log, clock) for each in full],
        "close": [_close(row, clock) for row in _rows_of(close)],
        "close_count": len(close),
        "probes": sorted({each.thermometer for each in close}),
        "acts": [
            {"number": act.number, "at": clock.time(act.at), "by": act.by, "words": act.words} for act in log.acts
        ],
        "said": [
            {
                "number": each.number,
                "at": f"{clock.day(each.at)}, {_hour(each.at, clock)}",
                "by": each.by,
                "words": each.words,
            }
            for each in log.said
        ],
        "verdicts": [
            {
                "number": each.number,
                "at": clock.time(each.at),
                "by": each.by,
                "verdict": VERDICTS[each.verdict],
                "why": "judged again after an addition" if each.added_later else "at closing",
                "reasons": each.reasons,
            }
            for each in log.verdicts
        ],
    }


def _last(log: CompletedCoolingLog) -> datetime:
    return max([log.closed_at, *(each.measured_at for each in log.readings), *(each.at for each in log.acts)])


def _hour(at: datetime, clock: Clock) -> str:
    return f"{at.astimezone(clock.zone):%H:%M}"


def _mark(verdict: str) -> str:
    return {"met": "✓", "breached": "✕", "not_shown": "?"}[verdict]


def _facts(log: CompletedCoolingLog, clock: Clock) -> Iterable[str]:
    if log.hot_fact_at is not None:
        yield f"On record as hot at {clock.time(log.hot_fact_at)}."
    if log.event_at is not None:
        yield f"{log.event.capitalize()} at {clock.time(log.event_at)}."
    if log.attempt > 1:
        yield f"Attempt {log.attempt}, after re-heating: the log before it is part of the record."


def _stage(stage: LoggedStage, clock: Clock) -> dict[str, object]:
    times = [
        ("clock from", stage.start_at),
        ("reached", stage.reached_at),
        ("last moment", stage.deadline_at),
    ]
    return {
        "stage": stage.stage,
        "words": _limit_words(stage),
        "counted": f"counted from {stage.counted_from}",
        "verdict": _STAGE_WORDS[stage.verdict],
        "mark": _mark(stage.verdict),
        "reasons": stage.reasons,
        "times": " · ".join(f"{what} {clock.time(at)}" for what, at in times if at is not None),
    }


def _limit_words(stage: LoggedStage) -> str:
    if stage.to_temp is None:
        return "The rule states no numbers"
    start = f"From {stage.from_temp} °{stage.temp_unit} to" if stage.from_temp is not None else "To"
    to = f"{start} {stage.to_temp} °{stage.temp_unit} or lower"
    if stage.limit_min is None:
        return to
    return f"{to} {'within' if stage.inclusive else 'in less than'} {minutes_text(stage.limit_min)}"


def _split(readings: tuple[LoggedReading, ...]) -> tuple[list[LoggedReading], list[LoggedReading]]:
    """Readings with a line of their own, and those of probes that are set close together."""
    if len(readings) <= MOST_IN_FULL:
        return list(readings), []
    plain = [each for each in readings if each.from_probe and not each.struck and not each.notes]
    close = {each.number for each in plain}
    return [each for each in readings if each.number not in close], plain


def _reading(each: LoggedReading, log: CompletedCoolingLog, clock: Clock) -> dict[str, object]:
    after = (each.measured_at - log.opened_at) / timedelta(minutes=1)
    return {
        "number": each.number,
        "at": clock.time(each.measured_at),
        "after": minutes_text(after) if after >= 0 else f"{minutes_text(-after)} before",
        "counted": each.counted,
        "shown": "" if each.shown == each.counted else each.shown,
        "thermometer": each.thermometer,
        "by": each.by,
        "entered": clock.time(each.entered_at),
        "notes": each.notes,
        "struck": each.struck,
        "why": each.struck_why,
    }


def _rows_of(readings: list[LoggedReading]) -> Iterable[list[LoggedReading]]:
    """Read down the columns, as a list in several columns is."""
    height = -(-len(readings) // ACROSS)
    return ([readings[at] for at in range(row, len(readings), height)] for row in range(height))


def _close(row: list[LoggedReading], clock: Clock) -> list[tuple[str, str]]:
    return [(clock.time(each.measured_at), each.counted) for each in row]


def log_corridor(log: CompletedCoolingLog, clock: Clock) -> CoolingCorridor:
    """What counts, against the limits, from the moment at which the clock started at the earliest."""
    zero = next((each.start_at for each in log.stages if each.start_at is not None), log.opened_at)
    unit: TempUnit = "F" if any(each.temp_unit == "F" for each in log.stages) else "C"
    return CoolingCorridor(
        name=f"run {log.run}, {log.draw}",
        start_label=clock.time(zero),
        expected=(),
        limits=tuple(_steps(log, zero)),
        readings=tuple(
            CurveReading(
                at_min=_minutes(each.measured_at, zero), temp_c=each.temp_c, at_label=clock.time(each.measured_at)
            )
            for each in log.readings
            if not each.struck and each.measured_at >= zero
        ),
        temp_unit=unit,
    )


def _steps(log: CompletedCoolingLog, zero: datetime) -> Iterable[LimitStep]:
    before_min = 0.0
    for stage in log.stages:
        if stage.to_c is None or stage.limit_min is None:
            continue
        by_min = before_min + stage.limit_min if stage.deadline_at is None else _minutes(stage.deadline_at, zero)
        yield LimitStep(by_min=by_min, at_most_c=stage.to_c, meaning=_MEANING[stage.verdict])
        before_min = by_min


def _minutes(at: datetime, since: datetime) -> float:
    return (at - since) / timedelta(minutes=1)
