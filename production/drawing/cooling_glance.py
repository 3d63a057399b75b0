"""One cooling among many: the corridor small enough for thirty on a page, with few labels."""

from dataclasses import dataclass, replace

from production.drawing.canvas import Anchor, Canvas, Point, Size, Svg
from production.drawing.cooling_corridor import BAND, CoolingCorridor, CurveReading, LimitStep, corridor_facts
from production.drawing.measures import TempUnit, plain, temp_shown, temp_text
from production.drawing.palette import ACCENT, GREY, HAIRLINE, INK, MEANING_COLOUR, MEANING_LINE, PAPER
from production.drawing.typeface import text_width_px

FORBIDDEN = "#eef1f4"
MOST_DOTS = 12
TOLD_APART_PX, BAND_APART_PX = 4.0, 12.0
TICK_PX = 100.0


@dataclass(frozen=True, slots=True)
class _Frame:
    left: float
    top: float
    right: float
    bottom: float
    span_min: float
    low_c: float
    high_c: float

    def point(self, at_min: float, temp_c: float) -> Point:
        x = self.left + min(max(at_min, 0.0), self.span_min) / self.span_min * (self.right - self.left)
        share = (min(max(temp_c, self.low_c), self.high_c) - self.low_c) / (self.high_c - self.low_c)
        return round(x, 1), round(self.bottom - share * (self.bottom - self.top), 1)


def cooling_glance(corridor: CoolingCorridor, size: Size) -> Svg:
    """Draw what matters of one cooling: limits, what was read, what is to be expected, and now."""
    canvas = Canvas(size)
    frame = _frame(corridor, size)
    limits = tuple(sorted(corridor.limits, key=lambda limit: limit.by_min))
    _limits(canvas, frame, limits, corridor.temp_unit)
    _axis(canvas, frame)
    _band(canvas, frame, corridor)
    _read(canvas, frame, corridor)
    _now(canvas, frame, corridor)
    return _lean(canvas.finish(title=f"Cooling of {corridor.name}", facts=_facts(corridor)), size)


def _lean(svg: Svg, size: Size) -> Svg:
    """Without what is said again and again: thirty of these stand on one page."""
    font = f' font-size="{size.small_px}"'
    for said in (font, ' stroke-width="1"', ' stroke-linejoin="round"', ' xmlns="http://www.w3.org/2000/svg"'):
        svg = Svg(svg.replace(said, ""))
    return Svg(svg.replace("<svg", f"<svg{font}", 1))


def _facts(corridor: CoolingCorridor) -> tuple[str, ...]:
    """Of the readings only the last one is told; all of them stand on the page of the cooling."""
    return corridor_facts(replace(corridor, readings=corridor.readings[-1:], expected=()))


def _frame(corridor: CoolingCorridor, size: Size) -> _Frame:
    times = [limit.by_min for limit in corridor.limits] + [reading.at_min for reading in corridor.readings]
    temps = [reading.temp_c for reading in corridor.readings] + [limit.at_most_c + 15.0 for limit in corridor.limits]
    return _Frame(
        left=round(text_width_px("200°", size.small_px) + 4),
        top=size.small_px * 1.4,
        right=size.width_px - 2,
        bottom=size.height_px - size.small_px * 1.4,
        span_min=max([*times, corridor.now_min or 0.0, 60.0]) * 1.04,
        low_c=min([0.0, *temps]),
        high_c=max([*temps, 60.0]) + 5.0,
    )


def _limits(canvas: Canvas, frame: _Frame, limits: tuple[LimitStep, ...], unit: TempUnit) -> None:
    """What is past each limit is shaded; its line repeats how it stands, its number stands at the axis."""
    small = canvas.size.small_px
    before_c = frame.high_c
    for index, limit in enumerate(limits):
        end = limits[index + 1].by_min if index + 1 < len(limits) else frame.span_min
        corner, far = frame.point(limit.by_min, limit.at_most_c), frame.point(end, limit.at_most_c)
        canvas.rect(corner[0], frame.top, far[0] - corner[0], corner[1] - frame.top, fill=FORBIDDEN)
        width, dash = MEANING_LINE[limit.meaning]
        path = [frame.point(limit.by_min, before_c), corner, far]
        canvas.polyline(path, stroke=MEANING_COLOUR[limit.meaning], width=max(width, 2.0), dash=dash)
        canvas.line((frame.left, corner[1]), corner, stroke=HAIRLINE, dash="3 3")
        degrees = f"{plain(temp_shown(limit.at_most_c, unit), 1)}°"
        canvas.text(frame.left - 4, round(corner[1] + small * 0.35, 1), degrees, size_px=small, anchor="end", fill=INK)
        before_c = limit.at_most_c


def _axis(canvas: Canvas, frame: _Frame) -> None:
    small = canvas.size.small_px
    step = next(
        each
        for each in (30, 60, 120, 240, 480, 1440, 14400)
        if frame.span_min / each <= (frame.right - frame.left) / TICK_PX
    )
    canvas.line((frame.left, frame.bottom), (frame.right, frame.bottom), stroke=INK)
    for at in range(0, int(frame.span_min) + 1, step):
        x, y = frame.point(at, frame.low_c)
        text = f"{at // 60} h" if at % 60 == 0 else f"{at} min"
        anchor: Anchor = "start" if at == 0 else "end" if x > frame.right - 14 else "middle"
        canvas.text(x, round(y + small * 1.2, 1), text, size_px=small, anchor=anchor, fill=GREY)


def _band(canvas: Canvas, frame: _Frame, corridor: CoolingCorridor) -> None:
    band = [each for each in corridor.forecast if each.at_min <= frame.span_min]
    if len(band) < 2:
        return
    high = _told_apart([frame.point(each.at_min, each.high_c) for each in band], BAND_APART_PX)
    low = _told_apart([frame.point(each.at_min, each.low_c) for each in band], BAND_APART_PX)
    canvas.polyline([*high, *reversed(low)], fill=BAND, stroke=ACCENT, width=0.8, closed=True)


def _read(canvas: Canvas, frame: _Frame, corridor: CoolingCorridor) -> None:
    readings = _since_clock(corridor)
    points = [frame.point(each.at_min, each.temp_c) for each in readings]
    if not points:
        return
    if len(points) > 1:
        canvas.polyline(_told_apart(points, TOLD_APART_PX), stroke=ACCENT, width=2.0)
    if len(points) <= MOST_DOTS:
        for point in points[:-1]:
            canvas.circle(point, 3.0, fill=ACCENT, stroke="none")
    last, small = points[-1], canvas.size.small_px
    canvas.circle(last, 5.0, fill=ACCENT, stroke=PAPER, width=1.5)
    text = f"{temp_text(readings[-1].temp_c, corridor.temp_unit)} {readings[-1].at_label}"
    to_right = last[0] + 10 + text_width_px(text, small, 600) < frame.right
    anchor: Anchor = "start" if to_right else "end"
    x = last[0] + (9 if to_right else -9)
    canvas.text(
        round(x, 1), max(last[1] - 6, frame.top + small), text, size_px=small, weight=600, fill=ACCENT, anchor=anchor
    )


def _since_clock(corridor: CoolingCorridor) -> tuple[CurveReading, ...]:
    """What was read before the clock started is left out, but for the last of it."""
    early = [each for each in corridor.readings if each.at_min < 0]
    return tuple(early[-1:]) + tuple(each for each in corridor.readings if each.at_min >= 0)


def _told_apart(points: list[Point], apart_px: float) -> list[Point]:
    """Points too near to the one before to be told apart are left out, but for the last."""
    kept = [points[0]]
    for point in points[1:-1]:
        if abs(point[0] - kept[-1][0]) + abs(point[1] - kept[-1][1]) >= apart_px:
            kept.append(point)
    return [*kept, points[-1]]


def _now(canvas: Canvas, frame: _Frame, corridor: CoolingCorridor) -> None:
    if corridor.now_min is None:
        return
    x, _ = frame.point(corridor.now_min, frame.low_c)
    small, text = canvas.size.small_px, f"now {corridor.now_label}"
    canvas.line((x, frame.top), (x, frame.bottom), stroke=INK, width=1.5)
    half = text_width_px(text, small, 600) / 2
    centre = min(max(x, half + 1), canvas.size.width_px - half - 1)
    canvas.text(round(centre, 1), round(small, 1), text, size_px=small, anchor="middle", weight=600)
