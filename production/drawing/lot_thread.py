"""Where a lot came from (left) and went (right): knots in columns, amounts on the lines between them.

On a phone the thread runs from top to bottom and each column is one knot; the table beside it names everything.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from production.drawing.canvas import Box, Canvas, Labels, Point, Size, Svg
from production.drawing.palette import ACCENT, GREY, INK, PAPER, Meaning
from production.drawing.typeface import shorten

WASH = "#e4e9f0"
MOST_ROWS = 12  # of a column; what is beyond is counted in one knot
MOST_LABELS = 8  # lines between two columns; of more the amounts stand in the tables only
MOST_FACTS = 80  # lines told in words
_STEPS = 14


@dataclass(frozen=True, slots=True, kw_only=True)
class Knot:
    """One thing on the thread."""

    key: str
    title: str
    note: str = ""
    href: str = ""
    meaning: Meaning | None = None
    is_start: bool = False
    is_open: bool = False  # its source is not known


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """All things of one kind, and their sum in words."""

    title: str
    total: str
    knots: tuple[Knot, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """From a knot to one further right; `label` is the amount."""

    source: str
    target: str
    label: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LotThread:
    """The columns from left to right, without empty ones."""

    name: str
    columns: tuple[Column, ...]
    lines: tuple[Line, ...]


def thread_facts(thread: LotThread) -> tuple[str, ...]:
    """What the drawing says, in sentences."""
    names = {knot.key: knot.title for column in thread.columns for knot in column.knots}
    facts = [f"{column.title}: {column.total}." for column in thread.columns]
    for line in thread.lines[:MOST_FACTS]:
        amount = f", {line.label}" if line.label else ""
        facts.append(f"{names[line.source]} went into {names[line.target]}{amount}.")
    if len(thread.lines) > MOST_FACTS:
        facts.append(f"{len(thread.lines) - MOST_FACTS} more lines: the tables name them.")
    return tuple(facts)


def lot_thread_height(thread: LotThread, *, small_px: float = 12.5) -> float:
    """How high the wide drawing has to be for its longest column."""
    rows = max([len(_shown(column)) for column in thread.columns], default=1)
    return small_px * 3.2 + rows * _row_px(small_px)


def _row_px(small_px: float) -> float:
    return small_px * 4.3


def _shown(column: Column) -> tuple[Knot, ...]:
    """The column, the start always among it; the rest as one knot."""
    if len(column.knots) <= MOST_ROWS:
        return column.knots
    first = sorted(column.knots, key=lambda knot: not knot.is_start)[: MOST_ROWS - 1]
    kept = [knot for knot in column.knots if knot in first]
    more = len(column.knots) - len(kept)
    return (*kept, Knot(key=_rest(column), title=f"and {more} more", note="see the table"))


def _rest(column: Column) -> str:
    return f"rest of {column.title}"


def lot_thread(thread: LotThread, size: Size) -> Svg:
    """Draw the thread from left to right; the thing that was asked for has a thick frame."""
    canvas = Canvas(size)
    small = size.small_px
    count = max(len(thread.columns), 1)
    gap = min(90.0, 0.058 * size.width_px)
    width = (size.width_px - gap * (count - 1)) / count
    places: dict[str, Box] = {}
    for at, column in enumerate(thread.columns):
        left = at * (width + gap)
        canvas.text(left, small * 1.1, shorten(column.title, width + gap - 8, small, 600), size_px=small, weight=600)
        places |= _places(column, left, width, size, small)
    _lines(canvas, thread, places, small)
    with_links = False
    for column in thread.columns:
        for knot in _shown(column):
            with_links = with_links or bool(knot.href)
            _knot(canvas, knot, places[knot.key], small)
    return canvas.finish(title=f"Thread of {thread.name}", facts=thread_facts(thread), interactive=with_links)


def _places(column: Column, left: float, width: float, size: Size, small: float) -> dict[str, Box]:
    """Boxes of a column, in the middle of the height."""
    shown = _shown(column)
    row = _row_px(small)
    top = small * 2.2 + max(0.0, (size.height_px - small * 2.6 - row * len(shown)) / 2)
    found = {
        knot.key: Box(left, top + at * row, left + width, top + at * row + small * 3.4) for at, knot in enumerate(shown)
    }
    if len(shown) < len(column.knots):
        rest = found[_rest(column)]
        found |= {knot.key: rest for knot in column.knots if knot.key not in found}
    return found


def _lines(canvas: Canvas, thread: LotThread, places: Mapping[str, Box], small: float) -> None:
    size = canvas.size
    labels = Labels(canvas, Box(0, 0, size.width_px, size.height_px))
    for box in places.values():
        labels.avoid(box)
    drawn: dict[tuple[Box, Box], list[Line]] = {}
    for line in thread.lines:
        drawn.setdefault((places[line.source], places[line.target]), []).append(line)
    for source, target in drawn:
        canvas.polyline(_curve(source, target), stroke=GREY, width=1.4)
        labels.avoid_path(_curve(source, target), reach=1.0)  # so that amounts stand on paper of their own
    for (source, target), lines in drawn.items():
        near = sum(1 for one, other in drawn if (one.left, other.left) == (source.left, target.left))
        if near <= MOST_LABELS and len(lines) == 1 and lines[0].label:
            _label(labels, _curve(source, target), lines[0].label, small * 0.92)


def _label(labels: Labels, curve: Sequence[Point], text: str, size_px: float) -> None:
    places = [curve[at] for at in (7, 9, 5, 11, 3)]
    labels.place(text, [(x, y - 2, "middle") for x, y in places], size_px=size_px, fill=INK)


def _curve(source: Box, target: Box) -> list[Point]:
    """Leaves and arrives level."""
    x0, y0 = source.right, (source.top + source.bottom) / 2
    x1, y1 = target.left, (target.top + target.bottom) / 2
    if x1 <= x0:  # back into the same or an earlier column
        x0, x1 = source.right, target.right
    steps = [at / _STEPS for at in range(_STEPS + 1)]
    return [(x0 + (x1 - x0) * t, y0 + (y1 - y0) * t * t * (3 - 2 * t)) for t in steps]


def _knot(canvas: Canvas, knot: Knot, box: Box, small: float) -> None:
    width = box.right - box.left
    title = f"{knot.title}, {knot.note}" if knot.note else knot.title
    with canvas.link(knot.href or None, title):
        stroke, thick = (ACCENT, 3.0) if knot.is_start else (INK, 1.2)
        canvas.rect(
            box.left,
            box.top,
            width,
            box.bottom - box.top,
            fill=WASH if knot.is_start else PAPER,
            stroke=stroke,
            stroke_width=thick,
            dash="5 3" if knot.is_open else "",
        )
        room = width - 12 - (14 if knot.meaning else 0)
        canvas.text(
            box.left + 6, box.top + small * 1.35, shorten(knot.title, room, small, 600), size_px=small, weight=600
        )
        canvas.text(
            box.left + 6,
            box.top + small * 2.75,
            shorten(knot.note, width - 12, small * 0.92),
            size_px=small * 0.92,
            fill=GREY,
        )
        if knot.meaning:
            canvas.mark((box.right - 11, box.top + small), knot.meaning, radius=4.5)


def lot_thread_narrow(thread: LotThread, *, width_px: float = 350) -> Svg:
    """Draw the columns below each other, one knot each."""
    small, row = 12.5, 74.0
    canvas = Canvas(Size(width_px=width_px, height_px=row * len(thread.columns) + 4))
    for at, column in enumerate(thread.columns):
        top = 2 + at * row
        start = any(knot.is_start for knot in column.knots)
        if at + 1 < len(thread.columns):
            canvas.line((20, top + 54), (20, top + row), stroke=INK, width=2.0)
            canvas.polyline([(15, top + row - 7), (20, top + row - 1), (25, top + row - 7)], stroke=INK, width=2.0)
        canvas.rect(
            1.5,
            top,
            width_px - 3,
            54,
            fill=WASH if start else PAPER,
            stroke=ACCENT if start else INK,
            stroke_width=3.0 if start else 1.2,
        )
        canvas.text(
            10, top + 20, shorten(f"{column.title}: {column.total}", width_px - 20, 14, 600), size_px=14, weight=600
        )
        names = ", ".join(dict.fromkeys(knot.title for knot in column.knots))
        canvas.text(10, top + 42, shorten(names, width_px - 20, small), size_px=small, fill=GREY)
    return canvas.finish(title=f"Thread of {thread.name}", facts=thread_facts(thread))
