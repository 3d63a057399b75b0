"""A blank cooling log as the words, numbers and drawing that its template sets."""

from __future__ import annotations

import math
from datetime import timedelta
from typing import TYPE_CHECKING

from production.documents.pictures import corridor_drawn, temp_unit_of
from production.documents.words import Amount, Clock, Units, day_text, foot_words, issue_words, margin_text
from production.drawing.canvas import Size
from production.drawing.cooling_corridor import cooling_corridor
from production.drawing.measures import minutes_text, temp_text

if TYPE_CHECKING:
    from production.domain.sheets import CoolingLog, LimitLine

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
        "foot": foot_words(log.heading),
        "issue": issue_words(log.heading),
        "log": log,
        "vessels": f"{log.vessels} ×",
        "day": clock.day(log.start_at),
        "start": clock.time(log.start_at),
        "start_temp": Amount(*temp_text(log.start_temp_c, temp_unit_of(log, units)).split(" ", 1)),
        "fill": units.amount(log.fill_l, "L"),
        "depth": units.amount(log.depth_mm, "mm"),
        "ice": units.amount(log.ice_kg, "kg") if log.ice_kg > 0 else None,
        "temp_unit": f"°{temp_unit_of(log, units)}",
        "part": _part(log, units),
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
        "corridor": cooling_corridor(corridor_drawn(log, units, clock), CORRIDOR_SIZE),
        "readings": [
            {"after": minutes_text(minute), "clock": clock.time(log.start_at + timedelta(minutes=minute))}
            for minute in log.reading_minutes
        ],
        "empty_rows": range(max(EMPTY_ROWS, ROWS - len(log.reading_minutes))),
    }


def _part(log: CoolingLog, units: Units) -> dict[str, str] | None:
    """What this device takes of a draw that is split."""
    if math.isclose(log.litres, log.draw_litres):
        return None
    return {"here": units.text(log.litres, "L"), "whole": units.text(log.draw_litres, "L")}


def limit_words(limit: LimitLine) -> str:
    """A critical limit as a sentence, in the very figures of the rule."""
    start = f"From {limit.from_temp} °{limit.temp_unit} to" if limit.from_temp is not None else "To"
    within = "within" if limit.inclusive else "in less than"
    return f"{start} {limit.to_temp} °{limit.temp_unit} or lower {within} {minutes_text(limit.limit_min)}"
