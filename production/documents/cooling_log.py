"""A blank cooling log as the words, numbers and drawing that its template sets."""

from __future__ import annotations

from datetime import timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

from production.documents.words import Clock, Units, day_text, margin_text
from production.domain.quantities import fahrenheit_to_celsius
from production.drawing.canvas import Size, Svg
from production.drawing.cooling_corridor import BandPoint, CoolingCorridor, CurvePoint, LimitStep, cooling_corridor
from production.drawing.measures import minutes_text

if TYPE_CHECKING:
    from decimal import Decimal

    from production.domain.sheets import CoolingLog, LimitLine
    from production.domain.sheets import CurvePoint as SheetPoint

CORRIDOR_SIZE = Size(width_px=704, height_px=176, medium="print")
ROWS, EMPTY_ROWS = 10, 2  # cooling may take longer than predicted: room for readings that nobody planned


def cooling_log_view(log: CoolingLog) -> dict[str, object]:
    """Everything the template needs, already said in the kitchen's units and time."""
    units = Units.of(log.heading)
    last = log.start_at + timedelta(minutes=max((*log.reading_minutes, 0)))
    clock = Clock.spanning(log.heading.time_zone, log.start_at, last)
    return {
        "title": f"Cooling log, run {log.run}, {log.draw}: {log.formula}",
        "heading": log.heading,
        "week": day_text(log.heading.week),
        "made_at": clock.moment(log.heading.plan_made_at),
        "log": log,
        "vessels": f"{log.vessels} ×",
        "day": clock.day(log.start_at),
        "start": clock.time(log.start_at),
        "start_temp": units.amount(log.start_temp_c, "degC"),
        "fill": units.amount(log.fill_l, "L"),
        "depth": units.amount(log.depth_mm, "mm"),
        "ice": units.amount(log.ice_kg, "kg") if log.ice_kg > 0 else None,
        "temp_unit": f"°{units.temp_unit}",
        "products": [{"product": each.product, "what": units.filled(each)} for each in log.products],
        "limits": [
            {
                "stage": str(limit.stage),
                "words": limit_words(limit),
                "counted": f"counted from {limit.counted_from}",
                "predicted": minutes_text(limit.predicted_min),
                "margin": margin_text(limit.margin_min),
                "past": limit.margin_min < 0,
            }
            for limit in log.limits
        ],
        "corridor": _corridor(log, units, clock),
        "readings": [
            {"after": minutes_text(minute), "clock": clock.time(log.start_at + timedelta(minutes=minute))}
            for minute in log.reading_minutes
        ],
        "empty_rows": range(max(EMPTY_ROWS, ROWS - len(log.reading_minutes))),
    }


def limit_words(limit: LimitLine) -> str:
    """A critical limit as a sentence, in the very figures of the rule."""
    start = f"From {limit.from_temp} °{limit.temp_unit} to" if limit.from_temp is not None else "To"
    within = "within" if limit.inclusive else "in less than"
    return f"{start} {limit.to_temp} °{limit.temp_unit} or lower {within} {minutes_text(limit.limit_min)}"


def _corridor(log: CoolingLog, units: Units, clock: Clock) -> Svg:
    """Expected and slow curve, each from the moment at which it starts the clock, against the limits of the rule."""
    first = log.limits[0] if log.limits else None
    expected, slow = _from_clock_start(log.expected, first), _from_clock_start(log.slow, first)
    starts = log.start_at + timedelta(minutes=_passes(log.expected, first))
    corridor = CoolingCorridor(
        name=f"run {log.run}, {log.draw}",
        start_label=f"about {clock.time(starts)}",
        expected=expected,
        limits=_steps(log),
        forecast=tuple(
            BandPoint(at_min=point.at_min, low_c=min(_at(expected, point.at_min), point.temp_c), high_c=point.temp_c)
            for point in slow
        ),
        temp_unit=units.temp_unit,
    )
    return cooling_corridor(corridor, CORRIDOR_SIZE)


def _steps(log: CoolingLog) -> tuple[LimitStep, ...]:
    """Where each limit lies on the axis; a stage that counts from its own temperature begins where that is reached."""
    return tuple(
        LimitStep(
            by_min=_passes(log.expected, limit) - _passes(log.expected, log.limits[0]) + limit.limit_min,
            at_most_c=_celsius(limit.to_temp, limit),
            margin_min=limit.margin_min,
            meaning="past" if limit.margin_min < 0 else "open",
        )
        for limit in log.limits
    )


def _celsius(temp: Decimal, limit: LimitLine) -> float:
    return fahrenheit_to_celsius(float(temp)) if limit.temp_unit == "F" else float(temp)


def _passes(curve: tuple[SheetPoint, ...], limit: LimitLine | None) -> float:
    """Minute at which a falling curve passes the first temperature of a limit, else 0."""
    if limit is None or limit.from_temp is None:
        return 0.0
    warm = _celsius(limit.from_temp, limit)
    for before, after in pairwise(curve):
        if before.temp_c >= warm > after.temp_c:
            share = (before.temp_c - warm) / (before.temp_c - after.temp_c)
            return before.minute + share * (after.minute - before.minute)
    return 0.0


def _from_clock_start(curve: tuple[SheetPoint, ...], first: LimitLine | None) -> tuple[CurvePoint, ...]:
    start = _passes(curve, first)
    points = tuple(CurvePoint(at_min=point.minute - start, temp_c=point.temp_c) for point in curve)
    begin = CurvePoint(at_min=0.0, temp_c=_at(points, 0.0))
    return (begin, *(point for point in points if point.at_min > 0))


def _at(curve: tuple[CurvePoint, ...], minute: float) -> float:
    """Temperature of a curve at a minute, straight between its points, level beyond its ends."""
    for before, after in pairwise(curve):
        if before.at_min <= minute <= after.at_min:
            share = (minute - before.at_min) / (after.at_min - before.at_min)
            return before.temp_c + share * (after.temp_c - before.temp_c)
    return curve[-1].temp_c
