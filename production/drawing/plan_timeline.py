"""The plan as lanes over days: pots, cooling devices, heat and cooks as steps against what there is."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from production.drawing.canvas import Canvas, Point, Size, Svg
from production.drawing.measures import plain
from production.drawing.palette import (
    ACCENT,
    GREY,
    HAIRLINE,
    INK,
    MEANING_COLOUR,
    MEANING_WORDS,
    PAPER,
    STAGE_PATTERN,
    Meaning,
    StageKind,
)
from production.drawing.typeface import day_text, shorten, text_width_px, wrap

NIGHT = "#eef1f4"
FILL = "#c3d0e2"
MIN_BAR_PX = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DayBand:
    """One local day in minutes of the plan; it need not have 24 hours."""

    start_min: float
    end_min: float
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShadedSpan:
    """Hours in which nobody is there."""

    start_min: float
    end_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HourTick:
    at_min: float
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BarStage:
    kind: StageKind
    start_min: float
    end_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TimelineBar:
    """One run in a lane; `when` is its time in the kitchen's own style, for the words."""

    label: str
    start_min: float
    end_min: float
    when: str
    stages: tuple[BarStage, ...] = ()
    href: str | None = None
    meaning: Meaning | None = None
    locked: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class BarLane:
    name: str
    bars: tuple[TimelineBar, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LaneStep:
    """The value from this minute on, until the next step."""

    at_min: float
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StepLane:
    """What is used and what there is; both are steps, so that shifts can be shown."""

    name: str
    unit: str
    used: tuple[LaneStep, ...]
    available: tuple[LaneStep, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanTimeline:
    name: str
    start_min: float
    end_min: float
    days: tuple[DayBand, ...]
    pots: tuple[BarLane, ...]
    devices: tuple[BarLane, ...] = ()
    steps: tuple[StepLane, ...] = ()
    nights: tuple[ShadedSpan, ...] = ()
    hours: tuple[HourTick, ...] = ()
    now_min: float | None = None


@dataclass(frozen=True, slots=True)
class _Scale:
    left: float
    right: float
    timeline: PlanTimeline

    def x(self, at_min: float) -> float:
        line = self.timeline
        inside = min(max(at_min, line.start_min), line.end_min)
        return self.left + (inside - line.start_min) / (line.end_min - line.start_min) * (self.right - self.left)


@dataclass(frozen=True, slots=True)
class _Row:
    """A lane with its place; bars that run at the same time lie on tracks of their own."""

    lane: BarLane
    tracks: tuple[int, ...]
    top: float
    height: float
    track_px: float


def timeline_facts(timeline: PlanTimeline) -> tuple[str, ...]:
    """What the drawing says, in sentences."""
    facts = []
    for lane in (*timeline.pots, *timeline.devices):
        bars = "; ".join(_bar_words(bar) for bar in sorted(lane.bars, key=lambda bar: bar.start_min))
        facts.append(f"{lane.name}: {bars or 'nothing planned'}.")
    facts += [f"{steps.name}: {_step_words(steps)}." for steps in timeline.steps]
    return tuple(facts)


def _bar_words(bar: TimelineBar) -> str:
    meaning = f", {MEANING_WORDS[bar.meaning]}" if bar.meaning else ""
    return f"{bar.label} {bar.when}{', locked' if bar.locked else ''}{meaning}"


def _step_words(lane: StepLane) -> str:
    most_used = max((step.value for step in lane.used), default=0.0)
    most = max((step.value for step in lane.available), default=0.0)
    over = ", more than there is at times" if _over_spans(lane) else ""
    return f"at most {plain(most_used, 1)} of {plain(most, 1)} {lane.unit} in use{over}"


def timeline_width_px(timeline: PlanTimeline, day_width_px: float) -> float:
    """Width of a sheet on which a day of 24 hours takes `day_width_px`."""
    return _label_room(timeline, "page") + (timeline.end_min - timeline.start_min) / 1440 * day_width_px


@dataclass(frozen=True, slots=True)
class _Layout:
    head: float
    pots: tuple[_Row, ...]
    devices: tuple[_Row, ...]
    steps: tuple[tuple[StepLane, float], ...]
    step_px: float
    height: float


def _layout(timeline: PlanTimeline, size: Size) -> _Layout:
    page = size.medium == "page"
    head = size.small_px * 1.5 + (size.small_px * 1.4 if timeline.hours else 0.0) + 4
    pots, below = _rows(timeline.pots, head, 40.0 if page else 30.0)
    devices, below = _rows(timeline.devices, below + (10 if timeline.devices else 0), 28.0 if page else 24.0)
    step_px = 56.0 if page else 34.0
    steps = tuple((lane, below + 10 + index * (step_px + 10)) for index, lane in enumerate(timeline.steps))
    height = below + len(steps) * (step_px + 10) + 4
    return _Layout(head, tuple(pots), tuple(devices), steps, step_px, height)


def plan_timeline(timeline: PlanTimeline, size: Size) -> Svg:
    """Draw the plan in the given width; the height follows from the lanes."""
    layout = _layout(timeline, size)
    scale = _Scale(left=_label_room(timeline, size.medium), right=size.width_px - 1, timeline=timeline)
    canvas = Canvas(replace(size, height_px=layout.height))
    for night in timeline.nights:
        x, end = scale.x(night.start_min), scale.x(night.end_min)
        canvas.rect(x, layout.head, end - x, layout.height - layout.head, fill=NIGHT)
    _calendar(canvas, scale, layout.head)
    for row in (*layout.pots, *layout.devices):
        canvas.line((0, row.top), (scale.right, row.top), stroke=HAIRLINE, width=1.0)
        for bar, track in zip(row.lane.bars, row.tracks, strict=True):
            _bar(canvas, scale, bar, row.top + track * row.track_px, row.track_px)
    for lane, top in layout.steps:
        _step_lane(canvas, scale, lane, top, layout.step_px)
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


def _names(canvas: Canvas, layout: _Layout, room: float) -> None:
    small = canvas.size.small_px
    for row in (*layout.pots, *layout.devices):
        canvas.line((0, row.top), (room - 2, row.top), stroke=HAIRLINE, width=1.0)
        _lane_name(canvas, row.lane.name, row.top, row.height, room)
    for lane, top in layout.steps:
        base = top + layout.step_px
        _lane_name(canvas, lane.name, top, layout.step_px - small, room)
        canvas.text(0, base - 4, f"{plain(_most(lane), 1)} {lane.unit}", size_px=small, fill=GREY)
        canvas.line((0, base), (room, base), stroke=INK)


def _label_room(timeline: PlanTimeline, medium: str) -> float:
    size_px = 12.5 if medium == "page" else 10.0
    names = [lane.name for lane in (*timeline.pots, *timeline.devices)] + [steps.name for steps in timeline.steps]
    widest = max((text_width_px(name, size_px, 600) for name in names), default=0.0)
    return min(widest, 110.0) + 12


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


def _rows(lanes: tuple[BarLane, ...], top: float, track_px: float) -> tuple[list[_Row], float]:
    rows = []
    for lane in lanes:
        tracks = _tracks(lane.bars)
        height = track_px * (max(tracks, default=0) + 1)
        rows.append(_Row(lane, tracks, top, height, track_px))
        top += height
    return rows, top


def _calendar(canvas: Canvas, scale: _Scale, head: float) -> None:
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
    lines = wrap(name, left - 8, small, 600)
    if len(lines) > most:
        lines = (*lines[: most - 1], shorten("".join(lines[most - 1 :]) + "…", left - 8, small, 600))
    y = top + height / 2 - len(lines) * small * 0.575 + small * 0.85
    for line in lines:
        canvas.text(0, y, line, size_px=small, weight=600)
        y += small * 1.15


def _bar(canvas: Canvas, scale: _Scale, bar: TimelineBar, top: float, track_px: float) -> None:
    """Name above, stages below; the whole track is the target of the link."""
    small = canvas.size.small_px
    x = scale.x(bar.start_min)
    width = max(scale.x(bar.end_min) - x, MIN_BAR_PX)
    strip = track_px * 0.34
    box_top, box_height = top + 3, track_px - 6
    with canvas.link(bar.href, _bar_words(bar)):
        colour = MEANING_COLOUR[bar.meaning] if bar.meaning in {"near", "past"} else INK
        canvas.rect(x, box_top, width, box_height, fill=PAPER)
        base = box_top + box_height - strip
        for stage in bar.stages:
            start, end = scale.x(stage.start_min), scale.x(stage.end_min)
            canvas.hatch(start, base, end - start, strip, STAGE_PATTERN[stage.kind])
        canvas.line((x, base), (x + width, base), stroke=GREY, width=0.7)
        edge = 3.0 if bar.locked else 1.2
        dash = "4 2" if bar.meaning == "near" else ""
        canvas.rect(x, box_top, width, box_height, stroke=colour, stroke_width=edge, dash=dash)
        room = width - 8
        if bar.meaning in {"near", "past"} and room > 14:
            canvas.mark((x + width - 9, box_top + (box_height - strip) / 2), bar.meaning, radius=4.5)
            room -= 14
        label = shorten(bar.label, room, small)
        if label:
            canvas.text(x + 4, box_top + (box_height - strip) / 2 + small * 0.35, label, size_px=small)


def _step_points(steps: Sequence[LaneStep], scale: _Scale, top: float, height: float, most: float) -> list[Point]:
    points: list[Point] = []
    level = top + height
    for step in steps:
        x = scale.x(step.at_min)
        points.append((x, level))
        level = top + height - step.value / most * height
        points.append((x, level))
    points.append((scale.right, level))
    return points


def _over_spans(lane: StepLane) -> tuple[tuple[float, float], ...]:
    """Spans in which more is used than there is; the last may be open to the end."""
    times = sorted({step.at_min for step in (*lane.used, *lane.available)})
    spans = []
    for index, at in enumerate(times):
        if _value_at(lane.used, at) > _value_at(lane.available, at) + 1e-9:
            spans.append((at, times[index + 1] if index + 1 < len(times) else float("inf")))
    return tuple(spans)


def _value_at(steps: Sequence[LaneStep], at_min: float) -> float:
    value = 0.0
    for step in steps:
        if step.at_min > at_min:
            break
        value = step.value
    return value


def _most(lane: StepLane) -> float:
    return max((step.value for step in (*lane.used, *lane.available)), default=0.0)


def _step_lane(canvas: Canvas, scale: _Scale, lane: StepLane, top: float, height: float) -> None:
    most = max(_most(lane), 1e-9)
    base = top + height
    used = _step_points(lane.used, scale, top, height, most)
    canvas.polyline([*used, (scale.right, base)], fill=FILL, stroke="none", closed=True)
    canvas.polyline(used, stroke=ACCENT, width=1.2)
    for start, end in _over_spans(lane):
        x = scale.x(start)
        canvas.hatch(x, top, scale.x(end) - x, height, "crossed", colour=MEANING_COLOUR["past"])
    canvas.polyline(_step_points(lane.available, scale, top, height, most), stroke=INK, width=1.8, dash="6 3")
    canvas.line((scale.left, base), (scale.right, base), stroke=INK)
