"""How cold a store was: what was read over some days, its limit, and the times in which it was too warm."""

from dataclasses import dataclass
from itertools import pairwise
from math import ceil

from production.drawing.canvas import Canvas, Point, Size, Svg
from production.drawing.measures import TempUnit, temp_text
from production.drawing.palette import ACCENT, GREY, HAIRLINE, INK, MEANING_COLOUR, MEANING_LINE, PAPER, Meaning
from production.drawing.typeface import text_width_px

MOST_TOLD = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class StorePoint:
    """A reading, in hours since the start of the drawing."""

    at_h: float
    temp_c: float
    at_label: str
    is_food: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class WarmTime:
    """A time that was too warm, from the last good reading before to the first good one after."""

    from_h: float
    to_h: float
    meaning: Meaning
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StoreCurve:
    """What is drawn of a store."""

    name: str
    unit: TempUnit
    hours: float
    limit_c: float
    gap_h: float  # readings further apart are not joined
    points: tuple[StorePoint, ...]
    warm: tuple[WarmTime, ...] = ()
    days: tuple[tuple[float, str], ...] = ()  # midnights


@dataclass(frozen=True, slots=True)
class _Frame:
    left: float
    right: float
    top: float
    bottom: float
    hours: float
    low_c: float
    high_c: float

    def point(self, at_h: float, temp_c: float) -> Point:
        x = self.left + min(max(at_h, 0.0), self.hours) / self.hours * (self.right - self.left)
        share = (min(max(temp_c, self.low_c), self.high_c) - self.low_c) / (self.high_c - self.low_c)
        return round(x, 1), round(self.bottom - share * (self.bottom - self.top), 1)


def store_facts(curve: StoreCurve) -> tuple[str, ...]:
    """What the drawing says, in sentences; of many readings the coldest and the warmest."""
    facts = [f"Limit {temp_text(curve.limit_c, curve.unit)}."]
    told = curve.points
    if len(told) > MOST_TOLD:
        by_temp = sorted(told, key=lambda each: each.temp_c)
        facts.append(f"{len(told)} readings; the coldest, the warmest and the last are told.")
        told = (by_temp[0], by_temp[-1], told[-1])
    for each in told:
        what = "food" if each.is_food else "air"
        facts.append(f"{each.at_label}: {what} {temp_text(each.temp_c, curve.unit)}.")
    facts += [each.words for each in curve.warm]
    return tuple(facts) if curve.points else (*facts, "Nothing was read.")


def store_curve(curve: StoreCurve, size: Size) -> Svg:
    """Draw the readings under their limit; what is above it stands out by a mark, not by colour alone."""
    canvas = Canvas(size)
    frame = _frame(curve, size)
    for warm in curve.warm:
        _warm(canvas, frame, warm)
    _axes(canvas, frame, curve)
    air = [each for each in curve.points if not each.is_food]
    for one, other in pairwise(air):
        if other.at_h - one.at_h <= curve.gap_h:
            canvas.line(_at(frame, one), _at(frame, other), stroke=ACCENT, width=1.8)
    for each in curve.points:
        _dot(canvas, frame, each, is_warm=each.temp_c > curve.limit_c, size_px=size.small_px)
    return canvas.finish(title=f"Temperatures of {curve.name}", facts=store_facts(curve))


def _frame(curve: StoreCurve, size: Size) -> _Frame:
    small = size.small_px
    temps = [each.temp_c for each in curve.points]
    low_c, high_c = min([curve.limit_c - 6.0, *temps]), max([curve.limit_c + 4.0, *temps])
    return _Frame(
        left=round(text_width_px(temp_text(curve.limit_c, curve.unit), small) + 8),
        right=size.width_px - 4.0,
        top=small * 1.6,
        bottom=size.height_px - small * 1.7,
        hours=max(curve.hours, 1.0),
        low_c=low_c - 1.0,
        high_c=high_c + 1.0,
    )


def _at(frame: _Frame, each: StorePoint) -> Point:
    return frame.point(each.at_h, each.temp_c)


def _warm(canvas: Canvas, frame: _Frame, each: WarmTime) -> None:
    start, _ = frame.point(each.from_h, frame.low_c)
    end, _ = frame.point(each.to_h, frame.low_c)
    width = max(end - start, 3.0)
    colour = MEANING_COLOUR[each.meaning]
    canvas.hatch(start, frame.top, width, frame.bottom - frame.top, "rising", colour=HAIRLINE)
    line, dash = MEANING_LINE[each.meaning]
    canvas.line((start, frame.bottom), (start + width, frame.bottom), stroke=colour, width=line + 1.5, dash=dash)
    canvas.mark((start + width / 2, frame.top - 1), each.meaning, radius=canvas.size.small_px * 0.42)


def _axes(canvas: Canvas, frame: _Frame, curve: StoreCurve) -> None:
    small = canvas.size.small_px
    canvas.line((frame.left, frame.bottom), (frame.right, frame.bottom), stroke=INK)
    widest = max((text_width_px(label, small) for _, label in curve.days), default=0.0) + 8
    every = max(1, ceil(widest * len(curve.days) / (frame.right - frame.left)))
    for n, (at_h, label) in enumerate(curve.days):
        x, _ = frame.point(at_h, frame.low_c)
        canvas.line((x, frame.top), (x, frame.bottom), stroke=HAIRLINE)
        if n % every == 0 and x + widest < frame.right:
            canvas.text(x + 3, frame.bottom + small * 1.25, label, size_px=small, fill=GREY)
    limit = frame.point(0.0, curve.limit_c)
    canvas.line(limit, (frame.right, limit[1]), stroke=INK, width=2.0)
    words = temp_text(curve.limit_c, curve.unit)
    canvas.text(frame.left - 5, limit[1] + small * 0.35, words, size_px=small, anchor="end", weight=600)


def _dot(canvas: Canvas, frame: _Frame, each: StorePoint, *, is_warm: bool, size_px: float) -> None:
    centre = _at(frame, each)
    if is_warm:
        canvas.mark(centre, "past", radius=size_px * 0.4)
    elif each.is_food:
        canvas.rect(centre[0] - 4, centre[1] - 4, 8, 8, fill=PAPER, stroke=ACCENT, stroke_width=2.0)
    else:
        canvas.circle(centre, 3.0, fill=ACCENT, stroke="none")
