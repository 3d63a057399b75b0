"""The plan as lanes over days: pots and pans, cooling devices, and heat, cooks, ice and room against what there is."""

from dataclasses import dataclass, replace

from production.drawing.canvas import Canvas, Size, Svg
from production.drawing.measures import minutes_text
from production.drawing.palette import GREY, HAIRLINE, INK, PAPER
from production.drawing.run_bars import Row, bar_words, draw_pour, draw_row, rows_of
from production.drawing.step_lanes import amount_with_unit, draw_lane, lane_words, most_of
from production.drawing.timeline_content import LevelLane, PlanTimeline, Scale, StepLane
from production.drawing.typeface import day_text, shorten, text_width_px, wrap

NIGHT = "#eef1f4"


def timeline_facts(timeline: PlanTimeline) -> tuple[str, ...]:
    """What the drawing says, in sentences."""
    facts = []
    for lane in (*timeline.pots, *timeline.devices):
        bars = "; ".join(bar_words(bar) for bar in sorted(lane.bars, key=lambda bar: bar.start_min))
        before = "; ".join(bar_words(bar) for bar in lane.before)
        out = minutes_text(sum(span.end_min - span.start_min for span in lane.out_of_use))
        told = [bars or "nothing planned", f"before: {before}" if before else ""]
        told += [f"out of use for {out}" if lane.out_of_use else ""]
        facts.append(f"{lane.name}: {'; '.join(filter(None, told))}.")
    facts += [f"{pour.words}." for pour in timeline.pours]
    facts += [f"{lane.name}: {lane_words(lane)}." for lane in timeline.steps]
    return tuple(facts)


def timeline_width_px(timeline: PlanTimeline, day_width_px: float) -> float:
    """Width of a sheet on which a day of 24 hours takes `day_width_px`."""
    return _label_room(timeline, "page") + (timeline.end_min - timeline.start_min) / 1440 * day_width_px


@dataclass(frozen=True, slots=True)
class LaneGrip:
    """A lane into which bars may be put, from top to bottom in px."""

    pot: str
    name: str
    top: float
    bottom: float


@dataclass(frozen=True, slots=True)
class Grip:
    """What a script of the page must know to let a bar be taken and put elsewhere."""

    px_per_min: float
    lanes: tuple[LaneGrip, ...]


def timeline_grip(timeline: PlanTimeline, size: Size) -> Grip:
    """Where minutes and pots lie on the timeline of this width."""
    left = _label_room(timeline, size.medium)
    lanes = tuple(
        LaneGrip(row.lane.takes, row.lane.name, row.bars_top, row.top + row.height)
        for row in _layout(timeline, size).pots
        if row.lane.takes
    )
    per_min = (size.width_px - 1 - left) / (timeline.end_min - timeline.start_min)
    return Grip(per_min, lanes)


@dataclass(frozen=True, slots=True)
class _Layout:
    head: float
    pots: tuple[Row, ...]
    devices: tuple[Row, ...]
    steps: tuple[tuple[StepLane | LevelLane, float], ...]
    step_px: float
    height: float


def _layout(timeline: PlanTimeline, size: Size) -> _Layout:
    page = size.medium == "page"
    head = size.small_px * 1.5 + (size.small_px * 1.4 if timeline.hours else 0.0) + 4
    pots, below = rows_of(timeline.pots, head, 40.0 if page else 30.0)
    devices, below = rows_of(timeline.devices, below + (10 if timeline.devices else 0), 28.0 if page else 24.0)
    step_px = 48.0 if page else 34.0
    steps = tuple((lane, below + 10 + index * (step_px + 10)) for index, lane in enumerate(timeline.steps))
    height = below + len(steps) * (step_px + 10) + 4
    return _Layout(head, tuple(pots), tuple(devices), steps, step_px, height)


def plan_timeline(timeline: PlanTimeline, size: Size) -> Svg:
    """Draw the plan in the given width; the height follows from the lanes."""
    layout = _layout(timeline, size)
    scale = Scale(left=_label_room(timeline, size.medium), right=size.width_px - 1, timeline=timeline)
    canvas = Canvas(replace(size, height_px=layout.height))
    for night in timeline.nights:
        x, end = scale.x(night.start_min), scale.x(night.end_min)
        canvas.rect(x, layout.head, end - x, layout.height - layout.head, fill=NIGHT)
    _calendar(canvas, scale, layout.head)
    # Behind the bars, so that no name is struck through.
    for pour in timeline.pours:
        draw_pour(canvas, scale, pour, layout.pots)
    for row in (*layout.pots, *layout.devices):
        draw_row(canvas, scale, row)
    for lane, top in layout.steps:
        draw_lane(canvas, scale, lane, top, layout.step_px)
    _names(canvas, layout, scale.left)
    if timeline.now_min is not None:
        x = scale.x(timeline.now_min)
        canvas.line((x, 0), (x, layout.height), stroke=INK, width=1.8)
        canvas.polyline([(x - 6, 0), (x + 6, 0), (x, 9)], fill=INK, stroke="none", closed=True)
    interactive = any(bar.href for lane in (*timeline.pots, *timeline.devices) for bar in lane.bars)
    return canvas.finish(title=f"Timeline of {timeline.name}", facts=timeline_facts(timeline), interactive=interactive)


def timeline_names(timeline: PlanTimeline) -> Svg:
    """The names of the lanes alone, to stay in place while the timeline of a page is moved sideways."""
    width = _label_room(timeline, "page")
    size = Size(width_px=width, height_px=0.0)
    layout = _layout(timeline, size)
    canvas = Canvas(replace(size, height_px=layout.height))
    canvas.rect(0, 0, width - 2, layout.height, fill=PAPER)
    _names(canvas, layout, width)
    return canvas.finish(title=f"Lanes of {timeline.name}", facts=())


def timeline_head(timeline: PlanTimeline, size: Size) -> Svg:
    """Days and hours alone, to stay in sight while a timeline with many lanes is moved up."""
    left = _label_room(timeline, size.medium)
    layout = _layout(timeline, size)
    canvas = Canvas(replace(size, height_px=layout.head))
    canvas.rect(0, 0, size.width_px, layout.head, fill=PAPER)
    _calendar(canvas, Scale(left=left, right=size.width_px - 1, timeline=timeline), layout.head)
    canvas.line((0, layout.head - 0.5), (size.width_px, layout.head - 0.5), stroke=INK)
    return canvas.finish(title=f"Days of {timeline.name}", facts=())


def timeline_corner(timeline: PlanTimeline) -> Svg:
    """What covers the meeting of names and days while both stay in sight."""
    size = Size(width_px=_label_room(timeline, "page") - 2, height_px=0.0)
    canvas = Canvas(replace(size, height_px=_layout(timeline, size).head))
    canvas.rect(0, 0, canvas.size.width_px, canvas.size.height_px, fill=PAPER)
    return canvas.finish(title=f"Corner of {timeline.name}", facts=())


def _names(canvas: Canvas, layout: _Layout, room: float) -> None:
    small = canvas.size.small_px
    for row in (*layout.pots, *layout.devices):
        canvas.line((0, row.top), (room - 2, row.top), stroke=HAIRLINE, width=1.0)
        _lane_name(canvas, row.lane.name, row.top, row.height, room)
    for lane, top in layout.steps:
        base = top + layout.step_px
        _lane_name(canvas, lane.name, top, layout.step_px - small, room)
        canvas.text(0, base - 4, amount_with_unit(most_of(lane), lane.unit), size_px=small, fill=GREY)
        canvas.line((0, base), (room, base), stroke=INK)


def _label_room(timeline: PlanTimeline, medium: str) -> float:
    size_px = 12.5 if medium == "page" else 10.0
    names = [lane.name for lane in (*timeline.pots, *timeline.devices)] + [steps.name for steps in timeline.steps]
    widest = max((text_width_px(name, size_px, 600) for name in names), default=0.0)
    return min(widest, 110.0) + 16


def _calendar(canvas: Canvas, scale: Scale, head: float) -> None:
    small, height = canvas.size.small_px, canvas.size.height_px
    for day in scale.timeline.days:
        x, end = scale.x(day.start_min), scale.x(day.end_min)
        canvas.line((x, 0), (x, height), stroke=GREY, width=1.0)
        label = day_text(day.label, end - x - 8, small)
        canvas.text(x + 5, small, label, size_px=small, weight=600)
    free_from = scale.left
    now_x = scale.x(scale.timeline.now_min) if scale.timeline.now_min is not None else -100.0
    for tick in scale.timeline.hours:
        x = scale.x(tick.at_min)
        canvas.line((x, head), (x, height), stroke=HAIRLINE, width=0.7)
        half = text_width_px(tick.label, small) / 2
        if x - half >= free_from and x + half <= scale.right and abs(x - now_x) > half + 3:
            canvas.text(x, head - 6, tick.label, size_px=small, anchor="middle", fill=GREY)
            free_from = x + half + 6


def _lane_name(canvas: Canvas, name: str, top: float, height: float, left: float) -> None:
    small = canvas.size.small_px
    most = max(1, int(height / (small * 1.15)))
    lines = wrap(name, left - 12, small, 600)
    if len(lines) > most:
        lines = (*lines[: most - 1], shorten("".join(lines[most - 1 :]) + "…", left - 12, small, 600))
    y = top + height / 2 - len(lines) * small * 0.575 + small * 0.85
    for line in lines:
        canvas.text(0, y, line, size_px=small, weight=600)
        y += small * 1.15
