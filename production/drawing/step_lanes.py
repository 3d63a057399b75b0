"""What is used against what there is, as steps, and how full something is, as a line: drawn and in words."""

from collections.abc import Sequence

from production.drawing.canvas import Canvas, Point
from production.drawing.measures import plain
from production.drawing.palette import ACCENT, INK, MEANING_COLOUR
from production.drawing.timeline_content import LaneStep, LevelLane, Scale, StepLane

FILL = "#c3d0e2"
LARGE = 100.0
ROUNDING = 1e-9  # sums of powers and litres differ from their limit by no more than this


def most_of(lane: StepLane | LevelLane) -> float:
    """The value at the top of the lane."""
    if isinstance(lane, LevelLane):
        return lane.full
    return max((step.value for step in (*lane.used, *lane.available)), default=0.0)


def amount(value: float) -> str:
    """A number to one decimal, large ones whole."""
    return plain(value, 0 if abs(value) >= LARGE else 1)


def amount_with_unit(value: float, unit: str) -> str:
    """A number and its unit; of cooks, places and trays there may be one."""
    told = amount(value)
    return f"{told} {unit.removesuffix('s') if told == '1' else unit}"


def lane_words(lane: StepLane | LevelLane) -> str:
    """What the lane says, without its name."""
    if isinstance(lane, LevelLane):
        values = [point.value for point in lane.points]
        low, high = min(values, default=0.0), max(values, default=0.0)
        return f"between {amount(low)} and {amount(high)} of {amount_with_unit(lane.full, lane.unit)}"
    most_used = max((step.value for step in lane.used), default=0.0)
    most = max((step.value for step in lane.available), default=0.0)
    over = ", more than there is at times" if _over_spans(lane) else ""
    return f"at most {amount(most_used)} of {amount_with_unit(most, lane.unit)} in use{over}"


def draw_lane(canvas: Canvas, scale: Scale, lane: StepLane | LevelLane, top: float, height: float) -> None:
    """Draw a lane of either kind into its strip."""
    most = max(most_of(lane), ROUNDING)
    base = top + height
    if isinstance(lane, LevelLane):
        used = [(scale.x(each.at_min), base - each.value / most * height) for each in lane.points]
        _filled(canvas, scale, used, base)
        canvas.line((scale.left, top), (scale.right, top), stroke=INK, width=1.8, dash="6 3")
    else:
        _filled(canvas, scale, _step_points(lane.used, scale, top, height, most), base)
        for start, end in _over_spans(lane):
            x = scale.x(start)
            canvas.hatch(x, top, scale.x(end) - x, height, "crossed", colour=MEANING_COLOUR["past"])
        canvas.polyline(_step_points(lane.available, scale, top, height, most), stroke=INK, width=1.8, dash="6 3")
    canvas.line((scale.left, base), (scale.right, base), stroke=INK)


def _filled(canvas: Canvas, scale: Scale, used: list[Point], base: float) -> None:
    if used:
        canvas.polyline([(used[0][0], base), *used, (used[-1][0], base)], fill=FILL, stroke="none", closed=True)
        canvas.polyline(used, stroke=ACCENT, width=1.2)


def _step_points(steps: Sequence[LaneStep], scale: Scale, top: float, height: float, most: float) -> list[Point]:
    points: list[Point] = []
    level = top + height
    for step in steps:
        x = scale.x(step.at_min)
        if points or x > scale.left:
            points.append((x, level))
        level = top + height - step.value / most * height
        points.append((x, level))
    points.append((scale.right, level))
    return points


def _over_spans(lane: StepLane) -> tuple[tuple[float, float], ...]:
    """Spans in which more is used than there is; the last may be open to the end."""
    times = sorted({step.at_min for step in (*lane.used, *lane.available)})
    used, there = _values_at(lane.used, times), _values_at(lane.available, times)
    ends = [*times[1:], float("inf")]
    return tuple(
        (at, end) for at, end, use, room in zip(times, ends, used, there, strict=False) if use > room + ROUNDING
    )


def _values_at(steps: Sequence[LaneStep], times: Sequence[float]) -> list[float]:
    """The value at each of the times, which rise."""
    values, value, index = [], 0.0, 0
    for at in times:
        while index < len(steps) and steps[index].at_min <= at:
            value = steps[index].value
            index += 1
        values.append(value)
    return values
