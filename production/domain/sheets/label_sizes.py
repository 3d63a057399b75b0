"""Sheets of labels and single labels from a roll, as their makers measure them; common practice, no source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from production.domain.errors import OutOfRange


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelSize:
    """Where labels lie on their sheet; a label from a roll is a sheet of its own."""

    code: str
    name: str
    sheet_width_mm: float
    sheet_height_mm: float
    columns: int
    rows: int
    width_mm: float
    height_mm: float
    left_mm: float = 0.0
    top_mm: float = 0.0
    step_x_mm: float = 0.0  # from the left edge of one label to that of the next
    step_y_mm: float = 0.0

    @property
    def places(self) -> int:
        """Labels on one sheet."""
        return self.columns * self.rows

    @property
    def is_roll(self) -> bool:
        """Whether it comes from a roll, one by one."""
        return self.places == 1

    def corner_mm(self, place: int) -> tuple[float, float]:
        """Left and top of a place, counted from 0, row by row."""
        row, column = divmod(place, self.columns)
        return self.left_mm + column * self.step_x_mm, self.top_mm + row * self.step_y_mm


def _sheet(
    code: str, name: str, paper: tuple[float, float], grid: tuple[int, int], size: tuple[float, float], gap_x_mm: float
) -> LabelSize:
    """A grid in the middle of its sheet, without gaps between the rows."""
    (width, height), (columns, rows) = paper, grid
    used_x = columns * size[0] + (columns - 1) * gap_x_mm
    return LabelSize(
        code=code,
        name=name,
        sheet_width_mm=width,
        sheet_height_mm=height,
        columns=columns,
        rows=rows,
        width_mm=size[0],
        height_mm=size[1],
        left_mm=(width - used_x) / 2.0,
        top_mm=(height - rows * size[1]) / 2.0,
        step_x_mm=size[0] + gap_x_mm,
        step_y_mm=size[1],
    )


def _roll(code: str, name: str, width_mm: float, height_mm: float) -> LabelSize:
    return LabelSize(
        code=code,
        name=name,
        sheet_width_mm=width_mm,
        sheet_height_mm=height_mm,
        columns=1,
        rows=1,
        width_mm=width_mm,
        height_mm=height_mm,
    )


_A4, _LETTER = (210.0, 297.0), (215.9, 279.4)
LABEL_SIZES: Mapping[str, LabelSize] = MappingProxyType(
    {
        each.code: each
        for each in (
            _sheet("a4-14", "A4, 14 labels of 99.1 × 38.1 mm", _A4, (2, 7), (99.1, 38.1), 2.5),
            _sheet("a4-8", "A4, 8 labels of 99.1 × 67.7 mm", _A4, (2, 4), (99.1, 67.7), 2.5),
            _sheet("letter-10", "Letter, 10 labels of 4 × 2 in", _LETTER, (2, 5), (101.6, 50.8), 4.76),
            _sheet("letter-6", "Letter, 6 labels of 4 × 3⅓ in", _LETTER, (2, 3), (101.6, 84.67), 4.76),
            _roll("roll-100x60", "Roll, 100 × 60 mm", 100.0, 60.0),
            _roll("roll-4x3", "Roll, 4 × 3 in", 101.6, 76.2),
        )
    }
)


def label_size(code: str) -> LabelSize:
    """The sheet or roll with this code.

    Equation: a look-up.
    Units: no quantities; code (word); returns a record in mm.
    Valid: the codes of LABEL_SIZES.
    Errors: OutOfRange for any other.
    Source: own table; common practice, no source.
    """
    if code not in LABEL_SIZES:
        raise OutOfRange(
            "There is no such sheet of labels.",
            code="unknown-label-size",
            numbers={"size": code[:40]},
            remedy=f"Choose one of {', '.join(LABEL_SIZES)}.",
        )
    return LABEL_SIZES[code]
