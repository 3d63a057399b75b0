"""Temperature against time from the clock start: limits as steps, readings as dots, forecast as a band."""

from dataclasses import dataclass

from production.drawing.canvas import Anchor, Box, Canvas, Labels, Point, Size, Svg
from production.drawing.measures import TempUnit, minutes_text, plain, temp_shown, temp_text
from production.drawing.palette import (
    ACCENT,
    GREY,
    HAIRLINE,
    INK,
    MEANING_COLOUR,
    MEANING_LINE,
    MEANING_WORDS,
    PAPER,
    Meaning,
)
from production.drawing.typeface import text_width_px

BAND = "#dfe7f1"


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePoint:
    at_min: float
    temp_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitStep:
    """By `by_min` the food must be at or under `at_most_c`; the margin is what the forecast leaves."""

    by_min: float
    at_most_c: float
    margin_min: float | None = None
    meaning: Meaning = "open"


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveReading:
    at_min: float
    temp_c: float
    at_label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BandPoint:
    at_min: float
    low_c: float
    high_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingCorridor:
    name: str
    start_label: str
    expected: tuple[CurvePoint, ...]
    limits: tuple[LimitStep, ...]
    readings: tuple[CurveReading, ...] = ()
    forecast: tuple[BandPoint, ...] = ()
    now_min: float | None = None
    now_label: str = ""
    temp_unit: TempUnit = "C"


@dataclass(frozen=True, slots=True)
class _Frame:
    left: float
    top: float
    right: float
    bottom: float
    span_min: float
    low_c: float
    high_c: float

    def x(self, at_min: float) -> float:
        return self.left + at_min / self.span_min * (self.right - self.left)

    def y(self, temp_c: float) -> float:
        return self.bottom - (temp_c - self.low_c) / (self.high_c - self.low_c) * (self.bottom - self.top)

    @property
    def box(self) -> Box:
        return Box(self.left, self.top, self.right, self.bottom)


def limit_sentence(limit: LimitStep, unit: TempUnit) -> str:
    """A limit and what is left of it, in the words used on the drawing."""
    text = f"{temp_text(limit.at_most_c, unit)} within {minutes_text(limit.by_min)}"
    if limit.margin_min is None:
        return f"{text}: {MEANING_WORDS[limit.meaning]}"
    side = "to spare" if limit.margin_min >= 0 else "too late"
    return f"{text}: {minutes_text(abs(limit.margin_min))} {side}, {MEANING_WORDS[limit.meaning]}"


def corridor_facts(corridor: CoolingCorridor) -> tuple[str, ...]:
    """What the drawing says, in sentences."""
    unit = corridor.temp_unit
    facts = [f"The clock starts at {corridor.start_label}."]
    if corridor.expected:
        first, last = corridor.expected[0], corridor.expected[-1]
        facts.append(
            f"Expected to fall from {temp_text(first.temp_c, unit)} to {temp_text(last.temp_c, unit)}"
            f" in {minutes_text(last.at_min - first.at_min)}."
        )
    facts += [f"{limit_sentence(limit, unit)}." for limit in corridor.limits]
    facts += [
        f"Reading {reading.at_label}: {temp_text(reading.temp_c, unit)} after {minutes_text(reading.at_min)}."
        for reading in corridor.readings
    ]
    if corridor.forecast:
        last_band = corridor.forecast[-1]
        facts.append(
            f"Forecast after {minutes_text(last_band.at_min)}: {temp_text(last_band.low_c, unit)}"
            f" to {temp_text(last_band.high_c, unit)}."
        )
    if corridor.now_min is not None:
        facts.append(f"Now {corridor.now_label}, {minutes_text(corridor.now_min)} after the start.")
    return tuple(facts)


def cooling_corridor(corridor: CoolingCorridor, size: Size) -> Svg:
    """Draw the corridor of one cooling."""
    canvas = Canvas(size)
    frame = _frame(corridor, size)
    limits = tuple(sorted(corridor.limits, key=lambda limit: limit.by_min))
    _forbidden(canvas, frame, limits)
    _axes(canvas, frame, corridor)
    _band(canvas, frame, corridor)
    curve = [(frame.x(p.at_min), frame.y(p.temp_c)) for p in corridor.expected]
    if curve:
        canvas.polyline(curve, stroke=GREY if corridor.readings else INK, width=2.0, dash="5 4")
    _limit_steps(canvas, frame, limits)
    labels = Labels(canvas, frame.box)
    labels.avoid_path(curve)
    _now(canvas, frame, corridor, labels)
    _readings(canvas, frame, corridor, labels)
    _limit_labels(canvas, frame, limits, corridor, labels)
    _reading_labels(frame, corridor, labels, size)
    return canvas.finish(title=f"Cooling of {corridor.name}", facts=corridor_facts(corridor))


def _frame(corridor: CoolingCorridor, size: Size) -> _Frame:
    times = [p.at_min for p in corridor.expected] + [r.at_min for r in corridor.readings]
    times += [b.at_min for b in corridor.forecast] + [limit.by_min for limit in corridor.limits]
    temps = [p.temp_c for p in corridor.expected] + [r.temp_c for r in corridor.readings]
    temps += [b.high_c for b in corridor.forecast] + [limit.at_most_c for limit in corridor.limits]
    span = max([*times, corridor.now_min or 0.0, 60.0]) * 1.06
    left = text_width_px("200°", size.small_px) + 8
    return _Frame(
        left=left,
        top=size.small_px * 1.6,
        right=size.width_px - 4,
        bottom=size.height_px - size.small_px * 2.9,
        span_min=span,
        low_c=min(0.0, *temps),
        high_c=max([*temps, 20.0]) + 5.0,
    )


def _forbidden(canvas: Canvas, frame: _Frame, limits: tuple[LimitStep, ...]) -> None:
    """Hatch what is past each limit: later than its time and warmer than its temperature."""
    ceiling_c = frame.high_c
    for index, limit in enumerate(limits):
        end = limits[index + 1].by_min if index + 1 < len(limits) else frame.span_min
        left, top = frame.x(limit.by_min), frame.y(ceiling_c)
        canvas.hatch(left, top, frame.x(end) - left, frame.y(limit.at_most_c) - top, "falling", colour=HAIRLINE)


def _limit_steps(canvas: Canvas, frame: _Frame, limits: tuple[LimitStep, ...]) -> None:
    ceiling = frame.top
    for index, limit in enumerate(limits):
        end = limits[index + 1].by_min if index + 1 < len(limits) else frame.span_min
        x, y = frame.x(limit.by_min), frame.y(limit.at_most_c)
        width, dash = MEANING_LINE[limit.meaning]
        points = [(x, ceiling), (x, y), (frame.x(end), y)]
        canvas.polyline(points, stroke=MEANING_COLOUR[limit.meaning], width=max(width, 2.0), dash=dash)
        ceiling = y


def _nice_step(span: float, room_px: float, wanted_px: float, steps: tuple[float, ...]) -> float:
    for step in steps:
        if room_px * step / span >= wanted_px:
            return step
    return steps[-1]


def _axes(canvas: Canvas, frame: _Frame, corridor: CoolingCorridor) -> None:
    size = canvas.size
    unit = corridor.temp_unit
    low, high = temp_shown(frame.low_c, unit), temp_shown(frame.high_c, unit)
    step = _nice_step(high - low, frame.bottom - frame.top, 34.0, (5.0, 10.0, 20.0, 50.0, 100.0))
    per_degree = (frame.bottom - frame.top) / (high - low)
    value = -(-low // step) * step
    while value <= high:
        y = frame.bottom - (value - low) * per_degree
        canvas.line((frame.left, y), (frame.right, y), stroke=HAIRLINE, width=0.7)
        canvas.text(
            frame.left - 6, y + size.small_px * 0.35, f"{plain(value)}°", size_px=size.small_px, anchor="end", fill=GREY
        )
        value += step
    room = frame.right - frame.left
    minutes = _nice_step(frame.span_min, room, 46.0, (15.0, 30.0, 60.0, 120.0, 240.0, 480.0, 1440.0))
    at = 0.0
    baseline = frame.bottom + size.small_px * 1.3
    while at <= frame.span_min:
        x = frame.x(at)
        canvas.line((x, frame.bottom), (x, frame.bottom + 4), stroke=GREY)
        text = "0" if at == 0 else _short_time(at)
        anchor: Anchor = "middle" if at and x < frame.right - 16 else ("end" if at else "start")
        canvas.text(x, baseline, text, size_px=size.small_px, anchor=anchor, fill=GREY)
        at += minutes
    canvas.line((frame.left, frame.bottom), (frame.right, frame.bottom), stroke=INK, width=1.2)
    canvas.line((frame.left, frame.top), (frame.left, frame.bottom), stroke=INK, width=1.2)
    canvas.text(frame.left, size.small_px, f"°{unit}", size_px=size.small_px, anchor="end", fill=GREY)
    canvas.text(
        frame.left,
        baseline + size.small_px * 1.25,
        f"time since {corridor.start_label}, when the clock starts",
        size_px=size.small_px,
        fill=GREY,
    )


def _short_time(at_min: float) -> str:
    hours, rest = divmod(round(at_min), 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h" if not rest else f"{hours}:{rest:02d}"


def _band(canvas: Canvas, frame: _Frame, corridor: CoolingCorridor) -> None:
    if len(corridor.forecast) < 2:
        return
    low = [(frame.x(b.at_min), frame.y(b.low_c)) for b in corridor.forecast]
    high = [(frame.x(b.at_min), frame.y(b.high_c)) for b in corridor.forecast]
    canvas.polyline([*high, *reversed(low)], fill=BAND, stroke="none", closed=True)
    canvas.polyline(high, stroke=ACCENT, width=1.2)
    canvas.polyline(low, stroke=ACCENT, width=1.2)


def _now(canvas: Canvas, frame: _Frame, corridor: CoolingCorridor, labels: Labels) -> None:
    if corridor.now_min is None:
        return
    size = canvas.size
    x = frame.x(corridor.now_min)
    canvas.line((x, frame.top - 2), (x, frame.bottom), stroke=INK, width=2.0)
    text = f"now {corridor.now_label}"
    half = text_width_px(text, size.small_px, 600) / 2
    centre = min(max(x, half + 2), size.width_px - half - 2)
    canvas.text(centre, size.small_px, text, size_px=size.small_px, anchor="middle", weight=600)
    labels.avoid(Box(x - 3, 0, x + 3, frame.bottom))


def _readings(canvas: Canvas, frame: _Frame, corridor: CoolingCorridor, labels: Labels) -> None:
    points = [(frame.x(r.at_min), frame.y(r.temp_c)) for r in corridor.readings]
    if len(points) > 1:
        canvas.polyline(points, stroke=ACCENT, width=1.5)
        labels.avoid_path(points)
    for x, y in points:
        canvas.circle((x, y), 5.0, fill=ACCENT, stroke=PAPER, width=1.5)
        labels.avoid(Box(x - 6, y - 6, x + 6, y + 6))


def _limit_labels(
    canvas: Canvas, frame: _Frame, limits: tuple[LimitStep, ...], corridor: CoolingCorridor, labels: Labels
) -> None:
    """Two lines at each step: the rule, and what is left of it with the mark of its meaning."""
    size = canvas.size
    for limit in limits:
        labels.avoid_path([(frame.x(limit.by_min), frame.top), (frame.x(limit.by_min), frame.y(limit.at_most_c))])
        labels.avoid_path([(frame.x(limit.by_min), frame.y(limit.at_most_c)), (frame.right, frame.y(limit.at_most_c))])
    for limit in limits:
        rule = f"{temp_text(limit.at_most_c, corridor.temp_unit)} within {minutes_text(limit.by_min)}"
        left = margin_words(limit)
        width = max(text_width_px(rule, size.small_px), text_width_px(left, size.small_px, 600) + 18)
        box = _free_box(frame, limit, width, size.small_px * 2.9, labels)
        _leader(canvas, box, (frame.x(limit.by_min), frame.y(limit.at_most_c)), MEANING_COLOUR[limit.meaning])
        canvas.rect(box.left - 3, box.top, width + 6, size.small_px * 2.8, fill=PAPER)
        canvas.text(box.left, box.top + size.small_px, rule, size_px=size.small_px, fill=INK)
        canvas.mark((box.left + 6, box.top + size.small_px * 2.05), limit.meaning, radius=size.small_px * 0.4)
        canvas.text(
            box.left + 17,
            box.top + size.small_px * 2.4,
            left,
            size_px=size.small_px,
            weight=600,
            fill=MEANING_COLOUR[limit.meaning],
        )
        labels.avoid(box)


def _leader(canvas: Canvas, box: Box, corner: Point, colour: str) -> None:
    """Tie a label to the corner of its step where it had to move away from it."""
    x = min(max(corner[0], box.left), box.right)
    y = min(max(corner[1], box.top), box.bottom)
    if abs(x - corner[0]) + abs(y - corner[1]) > 24:
        canvas.line(corner, (x, y), stroke=colour, width=0.8)
        canvas.circle(corner, 2.5, fill=colour, stroke="none")


def margin_words(limit: LimitStep) -> str:
    """What is left of a limit, short enough for the drawing."""
    if limit.margin_min is None:
        return MEANING_WORDS[limit.meaning]
    return f"{minutes_text(abs(limit.margin_min))} {'to spare' if limit.margin_min >= 0 else 'too late'}"


def _free_box(frame: _Frame, limit: LimitStep, width: float, height: float, labels: Labels) -> Box:
    x, y = frame.x(limit.by_min), frame.y(limit.at_most_c)
    lefts = (x + 10, x - width - 12, frame.right - width - 4)
    tops = [y - height - 8 - 18 * step for step in range(8)] + [y + 8]
    return labels.freest([(left, top) for top in tops for left in lefts], width, height)


def _reading_labels(frame: _Frame, corridor: CoolingCorridor, labels: Labels, size: Size) -> None:
    for reading in corridor.readings:
        x, y = frame.x(reading.at_min), frame.y(reading.temp_c)
        text = f"{temp_text(reading.temp_c, corridor.temp_unit)} {reading.at_label}"
        labels.place(text, _around(x, y, size.small_px), size_px=size.small_px, fill=ACCENT)


def _around(x: float, y: float, size_px: float) -> list[tuple[float, float, Anchor]]:
    drop = size_px * 0.35
    return [
        (x + 9, y - 7, "start"),
        (x - 9, y + size_px + 4, "end"),
        (x + 9, y + drop, "start"),
        (x - 9, y + drop, "end"),
        (x + 9, y + size_px + 8, "start"),
        (x, y - 12, "middle"),
        (x, y + size_px + 10, "middle"),
        (x + 9, y - size_px * 2.2, "start"),
    ]
