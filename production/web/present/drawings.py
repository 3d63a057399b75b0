"""A run's papers as the drawings of its page."""

from __future__ import annotations

from itertools import groupby

from production.domain.sheets import BatchSheet, PotFill
from production.drawing.extraction_line import ExtractionLine, LineAddition, LineStage
from production.drawing.pot_section import PotSection, VolumeMark
from production.web.present.plan import stage_kind
from production.web.style import Style, minutes_between

_GALLON_L = 3.785411784
_MOST_MARKS = 8


def pot_drawn(fill: PotFill, style: Style) -> PotSection:
    """The pot in cross-section. The heap of solids has gaps that nobody has measured: its height is not drawn."""
    return PotSection(
        name=fill.pot,
        inner_diameter_mm=fill.inner_diameter_mm,
        inner_height_mm=fill.inner_height_mm,
        cold_fill_mm=fill.inner_height_mm - fill.fill_mark_mm,
        hot_level_mm=fill.inner_height_mm - fill.hot_mark_mm,
        freeboard_limit_mm=fill.inner_height_mm - fill.freeboard_mm,
        cold_fill_label=style.amount(fill.cold_fill_l, "L").text,
        volume_marks=_marks(fill, style),
        length_unit="in" if style.units == "us" else "mm",
    )


def course_drawn(sheet: BatchSheet, style: Style) -> ExtractionLine:
    """The run as a line of stages; additions at one time share a tick."""
    late = sorted((line.add_at, line.order, line.name) for line in sheet.charge if line.add_at)
    return ExtractionLine(
        run_name=f"run {sheet.run}",
        stages=tuple(
            LineStage(
                kind=stage_kind(stage.kind),
                start_min=minutes_between(sheet.start_at, stage.start_at),
                end_min=minutes_between(sheet.start_at, stage.end_at),
                start_label=style.clock(stage.start_at),
                name=stage.title,
            )
            for stage in sheet.stages
        ),
        end_label=style.clock(sheet.end_at),
        additions=tuple(
            LineAddition(
                at_min=minutes_between(sheet.start_at, at),
                at_label=style.clock(at),
                name=", ".join(name for _, _, name in added),
            )
            for at, added in groupby(late, key=lambda each: each[0])
        ),
    )


def _marks(fill: PotFill, style: Style) -> tuple[VolumeMark, ...]:
    """Round volumes up the wall."""
    unit_l, name = (_GALLON_L, "gal") if style.units == "us" else (1.0, "L")
    brim = fill.brim_l / unit_l
    step = next(step for step in (1, 2, 5, 10, 20, 25, 50, 100, 200, 500) if brim / step < _MOST_MARKS)
    return tuple(
        VolumeMark(height_mm=fill.inner_height_mm * volume / brim, label=f"{volume} {name}")
        for volume in range(step, int(brim) + 1, step)
    )
