"""Runs as bars in the lanes of a timeline: stages, marks, the lock, how they stood before, and what is poured over."""

from collections.abc import Sequence
from dataclasses import dataclass

from production.drawing.canvas import Canvas, number
from production.drawing.palette import (
    GREY,
    HAIRLINE,
    INK,
    MEANING_COLOUR,
    MEANING_WORDS,
    PAPER,
    STAGE_PATTERN,
)
from production.drawing.timeline_content import BarLane, Pour, Scale, TimelineBar
from production.drawing.typeface import shorten, text_width_px

MIN_BAR_PX = 6.0
BEFORE_PX = 18.0  # height of the row of outlines
LATE_EDGE_PX = 7.0
LOCK_PX = 14.0
MARK_PX = 14.0
LINK_PX = 17.0
CROWDED = 12  # lanes of one kind that all have their full height
EMPTY_SHARE = 0.6
OUT_OF_USE = "#d9dfe4"


@dataclass(frozen=True, slots=True)
class Row:
    """A lane with its place; bars that run at the same time lie on tracks of their own."""

    lane: BarLane
    tracks: tuple[int, ...]
    top: float
    height: float
    track_px: float

    @property
    def bars_top(self) -> float:
        """Where the first track begins, below the outlines of how it was before."""
        return self.top + (BEFORE_PX if self.lane.before else 0.0)


def rows_of(lanes: tuple[BarLane, ...], top: float, track_px: float) -> tuple[list[Row], float]:
    """The lanes one below the other, and where the last ends. Among many lanes those that stay empty are low."""
    rows = []
    crowded = len(lanes) > CROWDED
    for lane in lanes:
        tracks = _tracks(lane.bars)
        height = track_px * (max(tracks, default=0) + 1) + (BEFORE_PX if lane.before else 0.0)
        if crowded and not (lane.bars or lane.before or lane.out_of_use):
            height = track_px * EMPTY_SHARE
        rows.append(Row(lane, tracks, top, height, track_px))
        top += height
    return rows, top


def _tracks(bars: Sequence[TimelineBar]) -> tuple[int, ...]:
    """The first free track of each bar, in the order of `bars`."""
    order = sorted(range(len(bars)), key=lambda index: (bars[index].start_min, bars[index].end_min, index))
    free_at: list[float] = []
    tracks = [0] * len(bars)
    for index in order:
        bar = bars[index]
        track = next((n for n, until in enumerate(free_at) if until <= bar.start_min), len(free_at))
        if track == len(free_at):
            free_at.append(bar.end_min)
        else:
            free_at[track] = bar.end_min
        tracks[index] = track
    return tuple(tracks)


def bar_words(bar: TimelineBar) -> str:
    """A bar in words."""
    meaning = bar.word or (MEANING_WORDS[bar.meaning] if bar.meaning else "")
    said = [f"{bar.label} {bar.when}", "locked" if bar.locked else "", meaning]
    said += [f"number {bar.link} of the chain" if bar.link else ""]
    return ", ".join(filter(None, said))


def draw_row(canvas: Canvas, scale: Scale, row: Row) -> None:
    """Draw a lane: when it is out of use, how it was before, and its bars."""
    canvas.line((0, row.top), (scale.right, row.top), stroke=HAIRLINE, width=1.0)
    for span in row.lane.out_of_use:
        x, width = scale.x(span.start_min), scale.x(span.end_min) - scale.x(span.start_min)
        canvas.rect(x, row.top + 1, width, row.height - 2, fill=OUT_OF_USE)
        words = shorten("out of use", width - 8, canvas.size.small_px)
        if words:
            canvas.text(x + 4, row.top + row.height / 2 + 4, words, size_px=canvas.size.small_px, fill=INK)
    for bar in row.lane.before:
        _outline(canvas, scale, bar, row.top + 2)
    for bar, track in zip(row.lane.bars, row.tracks, strict=True):
        _bar(canvas, scale, bar, row.bars_top + track * row.track_px, row.track_px)


def _outline(canvas: Canvas, scale: Scale, bar: TimelineBar, top: float) -> None:
    x = scale.x(bar.start_min)
    width = scale.x(bar.end_min) - x
    if width <= 0:
        return
    size_px = canvas.size.small_px - 1
    with canvas.link(bar.href, f"before: {bar_words(bar)}"):
        canvas.rect(x, top, max(width, MIN_BAR_PX), BEFORE_PX - 3, fill=PAPER, stroke=GREY, dash="3 2")
        label = shorten(bar.label, width - 6, size_px)
        if label:
            canvas.text(x + 3, top + BEFORE_PX - 7, label, size_px=size_px, fill=GREY)


def _bar(canvas: Canvas, scale: Scale, bar: TimelineBar, top: float, track_px: float) -> None:
    """Name above, stages below; the whole track is the target of the link."""
    x = scale.x(bar.start_min)
    width = max(scale.x(bar.end_min) - x, MIN_BAR_PX)
    strip = track_px * 0.34 if bar.stages else 0.0
    box_top, box_height = top + 3, track_px - 6
    base = box_top + box_height - strip
    grip = {"run": bar.moves, "start": number(bar.start_min)} if bar.moves else {}
    with canvas.link(bar.href, bar_words(bar), **grip):
        colour = MEANING_COLOUR[bar.meaning] if bar.meaning in {"near", "past"} else INK
        canvas.rect(x, box_top, width, box_height, fill=PAPER)
        for stage in bar.stages:
            start, end = scale.x(stage.start_min), scale.x(stage.end_min)
            canvas.hatch(start, base, end - start, strip, STAGE_PATTERN[stage.kind])
        if bar.stages:
            canvas.line((x, base), (x + width, base), stroke=GREY, width=0.7)
        edge = 3.0 if bar.locked else 1.2
        dash = "4 2" if bar.meaning == "near" else ""
        canvas.rect(x, box_top, width, box_height, stroke=colour, stroke_width=edge, dash=dash)
        if bar.link:
            canvas.rect(x - 2.5, box_top - 2.5, width + 5, box_height + 5, stroke=INK, stroke_width=2.0)
        _label(canvas, bar, x, width, (box_top, base))


def _label(canvas: Canvas, bar: TimelineBar, x: float, width: float, strip: tuple[float, float]) -> None:
    """Lock, word and name from the left, mark at the right; what finds no room is in the title of the bar."""
    small, middle = canvas.size.small_px, (strip[0] + strip[1]) / 2
    left, right = x + 4, x + width - 4
    if bar.link:
        _chain_number(canvas, bar.link, x, strip)
        left += LINK_PX
    if bar.meaning == "past" and width > LATE_EDGE_PX:
        edge = strip[1] - strip[0]
        canvas.hatch(left - 4, strip[0], LATE_EDGE_PX, edge, "crossed", colour=MEANING_COLOUR["past"])
        left += LATE_EDGE_PX
    if bar.locked and right - left > LOCK_PX:
        canvas.lock((left + LOCK_PX / 2 - 2, middle))
        left += LOCK_PX
    if bar.meaning in {"near", "past"} and right - left > MARK_PX:
        canvas.mark((right - 5, middle), bar.meaning, radius=4.5)
        right -= MARK_PX
    label = shorten(bar.label, right - left, small)
    if len(label) <= len(_code(bar)):
        label, left = _code_alone(bar, left, right, small)
    if bar.word and text_width_px(f"{bar.word} {bar.label}", small, 600) <= right - left:
        canvas.text(left, middle + small * 0.35, bar.word, size_px=small, weight=600)
        left += text_width_px(f"{bar.word} ", small, 600)
    if label:
        canvas.text(left, middle + small * 0.35, label, size_px=small)


def _code(bar: TimelineBar) -> str:
    return bar.label.split(" ", maxsplit=1)[0]


def _code_alone(bar: TimelineBar, left: float, right: float, small: float) -> tuple[str, float]:
    """The first word of a label where there is room for nothing else, close to the edges."""
    code = _code(bar)
    return (code, left - 2) if text_width_px(code, small) <= right - left + 4 else ("", left)


def _chain_number(canvas: Canvas, link: int, x: float, strip: tuple[float, float]) -> None:
    """A flag of ink at the left of the bar with its number in the chain."""
    small = canvas.size.small_px
    canvas.rect(x, strip[0], LINK_PX, strip[1] - strip[0], fill=INK)
    middle = (strip[0] + strip[1]) / 2 + small * 0.35
    canvas.text(x + LINK_PX / 2, middle, str(link), size_px=small, anchor="middle", weight=600, fill=PAPER)


def draw_pour(canvas: Canvas, scale: Scale, pour: Pour, rows: Sequence[Row]) -> None:
    """A thin line from one pot to the pan in which its draw is reduced, with an arrow at the pan."""
    line = scale.timeline
    if not line.start_min <= pour.at_min <= line.end_min:
        return
    source, target = rows[pour.from_lane], rows[pour.to_lane]
    down = target.top > source.top
    x = scale.x(pour.at_min)
    start = source.top + source.height - 3 if down else source.bars_top + 3
    end = target.bars_top + 3 if down else target.top + target.height - 3
    tip = -5.0 if down else 5.0
    with canvas.link(None, pour.words):
        canvas.line((x, start), (x, end), stroke=INK, width=1.4, dash="2 2")
        canvas.polyline([(x - 3.5, end + tip), (x + 3.5, end + tip), (x, end)], fill=INK, stroke="none", closed=True)
