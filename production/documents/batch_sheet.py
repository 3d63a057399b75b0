"""A batch sheet as the words, numbers and drawings that its template sets."""

from __future__ import annotations

from typing import TYPE_CHECKING

from production.documents.pictures import added_late, course_drawn, pot_drawn, stage_kind
from production.documents.words import Clock, Units, day_text, foot_words, issue_words, joined
from production.drawing.canvas import Size
from production.drawing.extraction_line import extraction_line
from production.drawing.pot_section import pot_section

if TYPE_CHECKING:
    from production.domain.sheets import BatchSheet, ChargeLine, ExpectedDraw

POT_SIZE = Size(width_px=312, height_px=140, medium="print")
LINE_SIZE = Size(width_px=704, height_px=0, medium="print")


def batch_sheet_view(sheet: BatchSheet) -> dict[str, object]:
    """Everything the template needs, already said in the kitchen's units and time."""
    units = Units.of(sheet.heading)
    clock = Clock.spanning(sheet.heading.time_zone, sheet.start_at, sheet.end_at)
    return {
        "title": f"Batch sheet, run {sheet.run}: {sheet.formula}",
        "heading": sheet.heading,
        "week": day_text(sheet.heading.week),
        "foot": foot_words(sheet.heading),
        "issue": issue_words(sheet.heading),
        "sheet": sheet,
        "version": f"v{sheet.formula_version}",
        "day": clock.day(sheet.start_at),
        "start": clock.time(sheet.start_at),
        "end": clock.time(sheet.end_at),
        "boil": units.amount(sheet.boil_temp_c, "degC"),
        "simmer": units.amount(sheet.simmer_temp_c, "degC"),
        "evaporation": units.amount(sheet.evaporation_kg_h, "kg/h"),
        "fill_mark": units.from_rim(sheet.fill.fill_mark_mm),
        "cold_fill": units.amount(sheet.fill.cold_fill_l, "L"),
        "solids": units.amount(sheet.fill.solids_l, "L"),
        "water": units.amount(sheet.fill.water_l, "L"),
        "hot_mark": units.from_rim(sheet.fill.hot_mark_mm),
        "freeboard": units.from_rim(sheet.fill.freeboard_mm),
        "pot_drawing": pot_section(pot_drawn(sheet.fill, units), POT_SIZE),
        "charge": [_charge(line, units, clock) for line in in_order_of_use(sheet)],
        "line_drawing": extraction_line(course_drawn(sheet, clock), LINE_SIZE),
        "steps": _steps(sheet, units, clock),
        "draws": [_draw(draw, units, clock) for draw in sheet.draws],
        "allergens": joined(sheet.allergens),
    }


def in_order_of_use(sheet: BatchSheet) -> list[ChargeLine]:
    """Weighings as they go in: a cook who is needed elsewhere may have moved an addition before or after another."""
    return sorted(sheet.charge, key=lambda line: (line.add_at or sheet.start_at, line.order))


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


def _steps(sheet: BatchSheet, units: Units, clock: Clock) -> list[dict[str, str]]:
    """Stages and additions in the order of the clock."""
    told = {stage.start_at for stage in sheet.stages if stage_kind(stage.kind) == "additions"}
    timed = [
        (
            stage.start_at,
            {
                "start": clock.time(stage.start_at),
                "end": clock.after(stage.start_at, stage.end_at),
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
        for at, lines in added_late(sheet)
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
