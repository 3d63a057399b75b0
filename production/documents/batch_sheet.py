"""A batch sheet as the words, numbers and drawings that its template sets."""

from __future__ import annotations

from datetime import datetime
from itertools import groupby
from typing import TYPE_CHECKING

from production.documents.words import Clock, Units, day_text, joined
from production.drawing.canvas import Size, Svg
from production.drawing.extraction_line import ExtractionLine, LineAddition, LineStage, extraction_line
from production.drawing.palette import STAGE_PATTERN, StageKind
from production.drawing.pot_section import PotSection, VolumeMark, pot_section

if TYPE_CHECKING:
    from production.domain.sheets import BatchSheet, ChargeLine, ExpectedDraw, PotFill, StageLine

POT_SIZE = Size(width_px=330, height_px=160, medium="print")
LINE_SIZE = Size(width_px=704, height_px=0, medium="print")
_LITRES_PER_MARK = {"metric": 1.0, "us": 3.785411784}
_KIND_OF_STAGE: dict[str, StageKind] = {kind.replace("-", "_"): kind for kind in STAGE_PATTERN} | {
    "hot_hold": "hold",
    "finish": "reduce",
    "wash": "clean",
}


def batch_sheet_view(sheet: BatchSheet) -> dict[str, object]:
    """Everything the template needs, already said in the kitchen's units and time."""
    units = Units.of(sheet.heading)
    clock = Clock.spanning(sheet.heading.time_zone, sheet.start_at, sheet.end_at)
    return {
        "title": f"Batch sheet, run {sheet.run}: {sheet.formula}",
        "heading": sheet.heading,
        "week": day_text(sheet.heading.week),
        "made_at": clock.moment(sheet.heading.plan_made_at),
        "sheet": sheet,
        "version": f"v{sheet.formula_version}",
        "day": clock.day(sheet.start_at),
        "start": clock.time(sheet.start_at),
        "end": clock.time(sheet.end_at),
        "boil": units.amount(sheet.boil_temp_c, "degC"),
        "simmer": units.amount(sheet.simmer_temp_c, "degC"),
        "evaporation": units.amount(sheet.evaporation_kg_h, "kg/h"),
        "fill_mark": units.amount(sheet.fill.fill_mark_mm, "mm"),
        "cold_fill": units.amount(sheet.fill.cold_fill_l, "L"),
        "solids": units.amount(sheet.fill.solids_l, "L"),
        "water": units.amount(sheet.fill.water_l, "L"),
        "hot_mark": units.amount(sheet.fill.hot_mark_mm, "mm"),
        "freeboard": units.amount(sheet.fill.freeboard_mm, "mm"),
        "pot_drawing": pot_section(_pot(sheet.fill, units), POT_SIZE),
        "charge": [_charge(line, units, clock) for line in sorted(sheet.charge, key=lambda line: line.order)],
        "line_drawing": _line(sheet, clock),
        "steps": _steps(sheet, units, clock),
        "draws": [_draw(draw, units, clock) for draw in sheet.draws],
        "allergens": joined(sheet.allergens),
    }


def _pot(fill: PotFill, units: Units) -> PotSection:
    """The heap of solids has gaps that nobody has measured, so the drawing does not claim its height."""
    return PotSection(
        name=fill.pot,
        inner_diameter_mm=fill.inner_diameter_mm,
        inner_height_mm=fill.inner_height_mm,
        cold_fill_mm=fill.inner_height_mm - fill.fill_mark_mm,
        hot_level_mm=fill.inner_height_mm - fill.hot_mark_mm,
        freeboard_limit_mm=fill.inner_height_mm - fill.freeboard_mm,
        volume_marks=_marks(fill, units),
        length_unit=units.length_unit,
    )


def _marks(fill: PotFill, units: Units) -> tuple[VolumeMark, ...]:
    """Four to eight round marks up the wall, litres or gallons."""
    unit_l, name = _LITRES_PER_MARK[units.system], "gal" if units.system == "us" else "L"
    brim = fill.brim_l / unit_l
    step = next(step for step in (1, 2, 5, 10, 20, 25, 50, 100, 200, 500) if brim / step < 8)
    return tuple(
        VolumeMark(height_mm=fill.inner_height_mm * volume / brim, label=f"{volume} {name}")
        for volume in range(step, int(brim) + 1, step)
    )


def _charge(line: ChargeLine, units: Units, clock: Clock) -> dict[str, object]:
    return {
        "mass": units.amount(line.mass_kg, "kg"),
        "name": line.name,
        "what": line.role if line.role and line.role != line.what else line.what,
        "volume": units.text(line.volume_l, "L") if line.volume_l is not None else "",
        "bank": units.text(line.from_bank_kg, "kg") if line.from_bank_kg > 0 else "",
        "add_at": clock.time(line.add_at) if line.add_at is not None else "",
        "allergens": joined(line.allergens),
    }


def _minutes(start: datetime, at: datetime) -> float:
    return (at - start).total_seconds() / 60


def _line(sheet: BatchSheet, clock: Clock) -> Svg:
    stages = tuple(
        LineStage(
            kind=_kind(stage),
            start_min=_minutes(sheet.start_at, stage.start_at),
            end_min=_minutes(sheet.start_at, stage.end_at),
            start_label=clock.time(stage.start_at),
            name=stage.title,
        )
        for stage in sheet.stages
    )
    additions = tuple(
        LineAddition(
            at_min=_minutes(sheet.start_at, at), at_label=clock.time(at), name=joined(line.name for line in lines)
        )
        for at, lines in _added(sheet)
    )
    line = ExtractionLine(
        run_name=f"run {sheet.run}", stages=stages, end_label=clock.time(sheet.end_at), additions=additions
    )
    return extraction_line(line, LINE_SIZE)


def _kind(stage: StageLine) -> StageKind:
    return _KIND_OF_STAGE[stage.kind.removeprefix("second_")]


def _added(sheet: BatchSheet) -> list[tuple[datetime, list[ChargeLine]]]:
    """What goes in late, by the time it goes in."""
    late = [(line.add_at, line) for line in sheet.charge if line.add_at is not None]
    late.sort(key=lambda pair: (pair[0], pair[1].order))
    return [(at, [line for _, line in pairs]) for at, pairs in groupby(late, key=lambda pair: pair[0])]


def _steps(sheet: BatchSheet, units: Units, clock: Clock) -> list[dict[str, str]]:
    """Stages and additions in the order of the clock."""
    told = {stage.start_at for stage in sheet.stages if _kind(stage) == "additions"}
    timed = [
        (
            stage.start_at,
            {
                "start": clock.time(stage.start_at),
                "end": clock.end(stage.start_at, stage.end_at),
                "title": stage.title,
                "do": stage.do,
                "record": stage.record,
                "caution": stage.caution,
            },
        )
        for stage in sheet.stages
    ]
    timed += [
        (
            at,
            {
                "start": clock.time(at),
                "end": "",
                "title": "Add",
                "do": joined(f"{line.name} {units.text(line.mass_kg, 'kg')}" for line in lines),
                "record": "time",
                "caution": "",
            },
        )
        for at, lines in _added(sheet)
        if at not in told
    ]
    return [step for _, step in sorted(timed, key=lambda pair: pair[0])]


def _draw(draw: ExpectedDraw, units: Units, clock: Clock) -> dict[str, object]:
    return {
        "name": draw.name,
        "at": clock.time(draw.at),
        "mass": units.amount(draw.mass_kg, "kg"),
        "hot": units.amount(draw.hot_l, "L"),
        "hot_temp": units.text(draw.hot_temp_c, "degC"),
        "cold": units.amount(draw.cold_l, "L"),
        "strength": units.text(draw.solids_bx, "Bx"),
        "filled": [{"product": each.product, "what": units.filled(each)} for each in draw.filled],
        "cooled_in": draw.cooled_in,
        "ice": units.text(draw.ice_kg, "kg") if draw.ice_kg > 0 else "",
        "log": draw.log_key,
    }
