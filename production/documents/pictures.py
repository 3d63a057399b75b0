"""What sheets and logs say, as drawings: the same builders serve paper and pages."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import groupby, pairwise
from typing import TYPE_CHECKING

from production.documents.words import joined
from production.domain.quantities import fahrenheit_to_celsius
from production.drawing.cooling_corridor import BandPoint, CoolingCorridor, CurvePoint, LimitStep
from production.drawing.extraction_line import ExtractionLine, LineAddition, LineStage
from production.drawing.palette import STAGE_PATTERN, StageKind
from production.drawing.pot_section import PotSection, VolumeMark

if TYPE_CHECKING:
    from decimal import Decimal

    from production.documents.words import Clock, Units
    from production.domain.sheets import BatchSheet, ChargeLine, CoolingLog, LimitLine, PotFill
    from production.domain.sheets import CurvePoint as SheetPoint
    from production.drawing.measures import TempUnit

_LITRES_PER_MARK = {"metric": 1.0, "us": 3.785411784}
_MOST_MARKS = 8
_KIND_OF_STAGE: dict[str, StageKind] = {kind.replace("-", "_"): kind for kind in STAGE_PATTERN} | {
    "hot_hold": "hold",
    "finish": "reduce",
    "pour_over": "draw-off",
    "wash": "clean",
}


def stage_kind(kind: str) -> StageKind:
    """The stage's name in drawings; the stages of the second draw look like those of the first."""
    return _KIND_OF_STAGE[kind.removeprefix("second_")]


def pot_drawn(fill: PotFill, units: Units) -> PotSection:
    """The pot in cross-section; solids at the height that they displace, for the gaps in the heap are not measured."""
    return PotSection(
        name=fill.pot,
        inner_diameter_mm=fill.inner_diameter_mm,
        inner_height_mm=fill.inner_height_mm,
        cold_fill_mm=fill.inner_height_mm - fill.fill_mark_mm,
        hot_level_mm=fill.inner_height_mm - fill.hot_mark_mm,
        freeboard_limit_mm=fill.inner_height_mm - fill.freeboard_mm,
        solids_level_mm=fill.inner_height_mm * fill.solids_l / fill.brim_l,
        cold_fill_label=units.text(fill.cold_fill_l, "L"),
        solids_label=units.text(fill.solids_l, "L"),
        volume_marks=_marks(fill, units),
        length_unit=units.length_unit,
    )


def _marks(fill: PotFill, units: Units) -> tuple[VolumeMark, ...]:
    """Four to eight round marks up the wall, litres or gallons."""
    unit_l, name = _LITRES_PER_MARK[units.system], "gal" if units.system == "us" else "L"
    brim = fill.brim_l / unit_l
    step = next(step for step in (1, 2, 5, 10, 20, 25, 50, 100, 200, 500) if brim / step < _MOST_MARKS)
    return tuple(
        VolumeMark(height_mm=fill.inner_height_mm * volume / brim, label=f"{volume} {name}")
        for volume in range(step, int(brim) + 1, step)
    )


def course_drawn(sheet: BatchSheet, clock: Clock) -> ExtractionLine:
    """The run as a line of stages; additions at one time share a tick, weekdays stand where the day changes."""
    added = added_late(sheet)
    starts = [sheet.start_at, *(stage.start_at for stage in sheet.stages)]
    adds = [sheet.start_at, *(at for at, _ in added)]
    return ExtractionLine(
        run_name=f"run {sheet.run}",
        stages=tuple(
            LineStage(
                kind=stage_kind(stage.kind),
                start_min=_minutes(sheet.start_at, stage.start_at),
                end_min=_minutes(sheet.start_at, stage.end_at),
                start_label=clock.after(before, stage.start_at),
                name=stage.title,
            )
            for before, stage in zip(starts, sheet.stages, strict=False)
        ),
        end_label=clock.after(starts[-1], sheet.end_at),
        additions=tuple(
            LineAddition(
                at_min=_minutes(sheet.start_at, at),
                at_label=clock.after(before, at),
                name=joined(line.name for line in lines),
            )
            for before, (at, lines) in zip(adds, added, strict=False)
        ),
    )


def added_late(sheet: BatchSheet) -> list[tuple[datetime, list[ChargeLine]]]:
    """What goes in late, by the time it goes in."""
    late = [(line.add_at, line) for line in sheet.charge if line.add_at is not None]
    late.sort(key=lambda pair: (pair[0], pair[1].order))
    return [(at, [line for _, line in pairs]) for at, pairs in groupby(late, key=lambda pair: pair[0])]


def _minutes(start: datetime, at: datetime) -> float:
    return (at.timestamp() - start.timestamp()) / 60


def temp_unit_of(log: CoolingLog, units: Units) -> TempUnit:
    """The unit of the rule, so that limits, chart and readings agree; the kitchen's own where there is no limit."""
    if not log.limits:
        return units.temp_unit
    return "F" if log.limits[0].temp_unit == "F" else "C"


def corridor_drawn(log: CoolingLog, units: Units, clock: Clock) -> CoolingCorridor:
    """Expected and slow curve, each from the moment at which it starts the clock, against the limits of the rule."""
    first = log.limits[0] if log.limits else None
    expected, slow = _from_clock_start(log.expected, first), _from_clock_start(log.slow, first)
    starts = log.start_at + timedelta(minutes=_passes(log.expected, first))
    return CoolingCorridor(
        name=f"run {log.run}, {log.draw}",
        start_label=f"about {clock.time(starts)}",
        expected=expected,
        limits=_steps(log),
        forecast=tuple(
            BandPoint(at_min=point.at_min, low_c=min(_at(expected, point.at_min), point.temp_c), high_c=point.temp_c)
            for point in slow
        ),
        temp_unit=temp_unit_of(log, units),
    )


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
