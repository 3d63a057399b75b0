"""One run as one horizontal line: stages, additions as ticks with names, now as a plumb line."""

from dataclasses import dataclass

from production.drawing.canvas import Box, Canvas, Size, Svg
from production.drawing.measures import minutes_text
from production.drawing.palette import (
    ACCENT,
    GREY,
    INK,
    PAPER,
    PATTERN_WORDS,
    STAGE_PATTERN,
    STAGE_WORDS,
    Pattern,
    StageKind,
)
from production.drawing.typeface import shorten, text_width_px, wrap

SIDE_PX = 10.0
BAR_PX = 26.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LineStage:
    kind: StageKind
    start_min: float
    end_min: float
    start_label: str
    name: str = ""

    @property
    def words(self) -> str:
        return self.name or STAGE_WORDS[self.kind]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineAddition:
    at_min: float
    at_label: str
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtractionLine:
    """Minutes run from any common zero; labels are clock times in the kitchen's own style."""

    run_name: str
    stages: tuple[LineStage, ...]
    end_label: str
    additions: tuple[LineAddition, ...] = ()
    now_min: float | None = None
    now_label: str = ""


def extraction_facts(line: ExtractionLine) -> tuple[str, ...]:
    """What the drawing says, in sentences."""
    stages = [
        f"{stage.start_label} {stage.words}, {minutes_text(stage.end_min - stage.start_min)}." for stage in line.stages
    ]
    additions = [f"{addition.at_label} add {addition.name}." for addition in line.additions]
    now = [f"Now {line.now_label}."] if line.now_min is not None else []
    return (*stages, f"Ends {line.end_label}.", *additions, *now)


def extraction_line(line: ExtractionLine, size: Size) -> Svg:
    """Draw the run; the height grows with the rows that the names need."""
    start = min(stage.start_min for stage in line.stages)
    end = max(stage.end_min for stage in line.stages)
    px_per_min = (size.width_px - 2 * SIDE_PX) / max(end - start, 1.0)

    def x(at_min: float) -> float:
        return SIDE_PX + (at_min - start) * px_per_min

    gap = size.small_px * 0.9
    line_px = size.small_px * 1.25
    above = _rows([(x(item.at_min), f"{item.at_label} {item.name}") for item in line.additions], size, gap)
    below = _rows([(x(stage.start_min), f"{stage.start_label} {stage.words}") for stage in line.stages], size, gap)
    rows_above = max((row for _, row, _ in above), default=-1) + 1
    rows_below = max((row for _, row, _ in below), default=-1) + 1
    now_room = line_px if line.now_min is not None else 0.0
    bar_top = now_room + rows_above * line_px + 10
    height = bar_top + BAR_PX + rows_below * line_px + line_px + 10
    canvas = Canvas(Size(width_px=size.width_px, height_px=height, medium=size.medium))

    for stage in line.stages:
        left, width = x(stage.start_min), x(stage.end_min) - x(stage.start_min)
        canvas.rect(left, bar_top, width, BAR_PX, fill=PAPER)
        canvas.hatch(left, bar_top, width, BAR_PX, STAGE_PATTERN[stage.kind])
        canvas.rect(left, bar_top, width, BAR_PX, stroke=INK)
    for left, row, _ in above:
        canvas.line((left, bar_top - 6 - row * line_px), (left, bar_top + BAR_PX), stroke=ACCENT, width=2.0)
    for left, row, _ in below:
        foot = bar_top + BAR_PX + 4 + (row + 1) * line_px - size.small_px * 0.75
        canvas.line((left, bar_top + BAR_PX), (left, foot), stroke=GREY, width=0.8)
    end_y = bar_top + BAR_PX + 4 + (rows_below + 1) * line_px
    canvas.line((x(end), bar_top + BAR_PX), (x(end), end_y - size.small_px * 0.8), stroke=GREY, width=0.8)
    if line.now_min is not None:
        _now(canvas, min(max(x(line.now_min), SIDE_PX), size.width_px - SIDE_PX), f"now {line.now_label}", bar_top)
    for left, row, label in above:
        _label(canvas, left, bar_top - 8 - row * line_px, label, ACCENT)
    for left, row, label in below:
        _label(canvas, left, bar_top + BAR_PX + 4 + (row + 1) * line_px, label, INK)
    canvas.text(x(end), end_y, f"ends {line.end_label}", size_px=size.small_px, anchor="end", fill=GREY)
    return canvas.finish(title=f"Stages of {line.run_name}", facts=extraction_facts(line))


def _now(canvas: Canvas, at_x: float, label: str, bar_top: float) -> None:
    size_px = canvas.size.small_px
    half = text_width_px(label, size_px, 600) / 2
    text_x = min(max(at_x, half + 1), canvas.size.width_px - half - 1)
    canvas.text(text_x, size_px, label, size_px=size_px, anchor="middle", weight=600)
    canvas.line((at_x, size_px + 4), (at_x, bar_top + BAR_PX + 6), stroke=INK, width=2.5)
    bob = bar_top + BAR_PX + 6
    canvas.polyline([(at_x - 5, bob), (at_x + 5, bob), (at_x, bob + 9)], fill=INK, stroke="none", closed=True)


def _label(canvas: Canvas, left: float, baseline: float, label: str, fill: str) -> None:
    """A name on its own piece of paper, so that no tick of a farther row runs through it."""
    size_px = canvas.size.small_px
    x = _anchor_x(left, label, canvas.size)
    canvas.rect(x - 1, baseline - size_px * 0.82, text_width_px(label, size_px) + 2, size_px * 1.08, fill=PAPER)
    canvas.text(x, baseline, label, size_px=size_px, fill=fill)


def _anchor_x(left: float, label: str, size: Size) -> float:
    """Start of a label that begins at its tick but stays on the sheet."""
    return max(0.0, min(left, size.width_px - text_width_px(label, size.small_px) - 1))


def _rows(items: list[tuple[float, str]], size: Size, gap: float) -> list[tuple[float, int, str]]:
    """Give each label the first row in which it is clear of the labels and of their ticks."""
    placed: list[tuple[float, int, str]] = []
    boxes: list[tuple[int, Box]] = []
    for left, text in sorted(items, key=lambda item: (-item[0], item[1])):
        label = shorten(text, size.width_px - 2, size.small_px)
        begin = _anchor_x(left, label, size)
        box = Box(begin, 0.0, begin + text_width_px(label, size.small_px) + gap, 1.0)
        row = 0
        while _blocked(box, row, boxes, placed):
            row += 1
        placed.append((left, row, label))
        boxes.append((row, box))
    return placed


def _blocked(box: Box, row: int, boxes: list[tuple[int, Box]], placed: list[tuple[float, int, str]]) -> bool:
    if any(other_row == row and box.overlap(other) for other_row, other in boxes):
        return True
    # A tick that reaches a farther row runs through this one.
    return any(other_row > row and box.left - 2 < left < box.right for left, other_row, _ in placed)


def stage_key(size: Size, kinds: tuple[StageKind, ...]) -> Svg:
    """The key to the stage patterns, for a page or a sheet that shows them."""
    stages_of: dict[Pattern, list[str]] = {}
    for kind in kinds:
        stages_of.setdefault(STAGE_PATTERN[kind], []).append(STAGE_WORDS[kind])
    swatch, line_px = 34.0, size.small_px * 1.25
    entries: list[tuple[Pattern, tuple[str, ...], float, float]] = []
    x, y, row_px = 1.0, 1.0, 0.0
    for pattern, words in stages_of.items():
        lines = wrap(", ".join(words), size.width_px - swatch - 10, size.small_px)
        width = swatch + 8 + max(text_width_px(text, size.small_px) for text in lines) + 22
        if x > 1.0 and x + width - 22 > size.width_px:
            x, y, row_px = 1.0, y + row_px, 0.0
        entries.append((pattern, lines, x, y))
        x += width
        row_px = max(row_px, len(lines) * line_px + 8)
    canvas = Canvas(Size(width_px=size.width_px, height_px=y + row_px, medium=size.medium))
    for pattern, lines, left, top in entries:
        canvas.rect(left, top, swatch, 16, fill=PAPER)
        canvas.hatch(left, top, swatch, 16, pattern)
        canvas.rect(left, top, swatch, 16, stroke=INK)
        for index, text in enumerate(lines):
            canvas.text(left + swatch + 8, top + 12.5 + index * line_px, text, size_px=size.small_px)
    facts = tuple(f"{PATTERN_WORDS[pattern]}: {', '.join(words)}." for pattern, words in stages_of.items())
    return canvas.finish(title="Key to the stages", facts=facts)
