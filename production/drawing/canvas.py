"""The sheet a drawing is made on: escaped, deterministic SVG elements and care for labels."""

from collections.abc import Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal
from xml.sax.saxutils import escape, quoteattr

from production.drawing.palette import GREY, INK, MEANING_COLOUR, PAPER, Meaning, Pattern
from production.drawing.typeface import SANS, Weight, text_width_px

if TYPE_CHECKING:
    from collections.abc import Iterator

Medium = Literal["page", "print"]
Anchor = Literal["start", "middle", "end"]
Point = tuple[float, float]

# XML 1.0 knows no control characters but tab, line feed and return.
_FORBIDDEN = dict.fromkeys(range(32), " ") | {0x7F: " ", 0xFFFE: None, 0xFFFF: None}


class Svg(str):
    """Finished, escaped SVG; template engines that honour `__html__` insert it as it is."""

    __slots__ = ()

    def __html__(self) -> str:
        return str(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """Width and height of a drawing in px (1/96 inch) and what it is for."""

    width_px: float
    height_px: float
    medium: Medium = "page"

    @property
    def label_px(self) -> float:
        return 14.0 if self.medium == "page" else 11.5

    @property
    def small_px(self) -> float:
        return 12.5 if self.medium == "page" else 10.0


def number(value: float) -> str:
    """A coordinate with at most two decimals, so that the same facts give the same bytes."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def clean(text: str) -> str:
    """The text without characters that XML forbids."""
    return text.translate(_FORBIDDEN)


class Canvas:
    """Collects elements; styles are attributes because strict content policies refuse inline styles."""

    def __init__(self, size: Size) -> None:
        self.size = size
        self._parts: list[str] = []

    def _element(self, name: str, attributes: dict[str, str | float | None], content: str = "") -> None:
        pairs = "".join(
            f" {key.replace('_', '-')}={quoteattr(number(value) if isinstance(value, int | float) else clean(value))}"
            for key, value in attributes.items()
            if value is not None and value != ""
        )
        self._parts.append(f"<{name}{pairs}>{content}</{name}>" if content else f"<{name}{pairs}/>")

    def line(self, start: Point, end: Point, *, stroke: str = INK, width: float = 1.0, dash: str = "") -> None:
        self._element(
            "line",
            {
                "x1": start[0],
                "y1": start[1],
                "x2": end[0],
                "y2": end[1],
                "stroke": stroke,
                "stroke_width": width,
                "stroke_dasharray": dash,
            },
        )

    def rect(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        *,
        fill: str = "none",
        stroke: str = "none",
        stroke_width: float = 1.0,
        dash: str = "",
    ) -> None:
        self._element(
            "rect",
            {
                "x": x,
                "y": y,
                "width": max(width, 0.0),
                "height": max(height, 0.0),
                "fill": fill,
                "stroke": stroke,
                "stroke_width": stroke_width if stroke != "none" else None,
                "stroke_dasharray": dash,
            },
        )

    def polyline(
        self,
        points: Sequence[Point],
        *,
        stroke: str = INK,
        width: float = 1.0,
        dash: str = "",
        fill: str = "none",
        closed: bool = False,
    ) -> None:
        self._element(
            "polygon" if closed else "polyline",
            {
                "points": " ".join(f"{number(x)},{number(y)}" for x, y in points),
                "fill": fill,
                "stroke": stroke,
                "stroke_width": width if stroke != "none" else None,
                "stroke_dasharray": dash,
                "stroke_linejoin": "round",
            },
        )

    def circle(
        self, centre: Point, radius: float, *, fill: str = "none", stroke: str = INK, width: float = 1.0
    ) -> None:
        self._element(
            "circle",
            {
                "cx": centre[0],
                "cy": centre[1],
                "r": radius,
                "fill": fill,
                "stroke": stroke,
                "stroke_width": width if stroke != "none" else None,
            },
        )

    def text(
        self,
        x: float,
        y: float,
        text: str,
        *,
        size_px: float | None = None,
        anchor: Anchor = "start",
        weight: Weight = 400,
        fill: str = INK,
    ) -> None:
        """A line of text on its base line."""
        self._element(
            "text",
            {
                "x": x,
                "y": y,
                "font_size": size_px if size_px is not None else self.size.label_px,
                "text_anchor": anchor if anchor != "start" else None,
                "font_weight": weight if weight != 400 else None,
                "fill": fill,
            },
            escape(clean(text)),
        )

    def hatch(self, x: float, y: float, width: float, height: float, pattern: Pattern, *, colour: str = GREY) -> None:
        """Fill a box with a pattern that survives a grey print; drawn as lines, so that it needs no ids."""
        if width <= 0 or height <= 0 or pattern == "plain":
            return
        if pattern == "solid":
            self.rect(x, y, width, height, fill=colour)
            return
        if pattern == "dots":
            self._dots(x, y, width, height, colour)
            return
        segments: list[tuple[Point, Point]] = []
        if pattern in {"rising", "crossed"}:
            segments += _diagonals(x, y, width, height, rising=True)
        if pattern in {"falling", "crossed"}:
            segments += _diagonals(x, y, width, height, rising=False)
        if pattern == "level":
            segments += [((x, y + at), (x + width, y + at)) for at in _steps(height, 4.0)]
        if pattern == "upright":
            segments += [((x + at, y), (x + at, y + height)) for at in _steps(width, 4.0)]
        data = "".join(f"M{number(a[0])} {number(a[1])}L{number(b[0])} {number(b[1])}" for a, b in segments)
        if data:
            self._element("path", {"d": data, "stroke": colour, "stroke_width": 1.0, "fill": "none"})

    def _dots(self, x: float, y: float, width: float, height: float, colour: str) -> None:
        rows = _steps(height, 5.0)
        data = "".join(
            f"M{number(x + across)} {number(y + down)}h1.4"
            for index, down in enumerate(rows)
            for across in _steps(width - 1.4, 6.0, shift=3.0 * (index % 2))
        )
        if data:
            self._element("path", {"d": data, "stroke": colour, "stroke_width": 1.4, "fill": "none"})

    def mark(self, centre: Point, meaning: Meaning, *, radius: float = 5.0) -> None:
        """The sign of a meaning: full disc, open triangle, barred square, open ring."""
        x, y = centre
        colour = MEANING_COLOUR[meaning]
        if meaning == "within":
            self.circle(centre, radius, fill=colour, stroke="none")
        elif meaning == "near":
            points = [(x, y - radius), (x + radius, y + radius * 0.8), (x - radius, y + radius * 0.8)]
            self.polyline(points, stroke=colour, width=1.8, fill=PAPER, closed=True)
        elif meaning == "past":
            self.rect(x - radius, y - radius, 2 * radius, 2 * radius, fill=colour)
            inner = radius * 0.5
            self.line((x - inner, y - inner), (x + inner, y + inner), stroke=PAPER, width=radius * 0.32)
            self.line((x - inner, y + inner), (x + inner, y - inner), stroke=PAPER, width=radius * 0.32)
        else:
            self.circle(centre, radius - 0.5, fill=PAPER, stroke=colour, width=1.5)

    def lock(self, centre: Point) -> None:
        """A closed padlock: what is locked stays where it is."""
        x, y = centre
        bow = f"M{number(x - 2.5)} {number(y - 1)}v-2a2.5 2.5 0 0 1 5 0v2"
        self._element("path", {"d": bow, "stroke": INK, "stroke_width": 1.4, "fill": "none"})
        self.rect(x - 4, y - 1, 8, 6, fill=INK)

    @contextmanager
    def link(self, href: str | None, title: str, **data: str) -> "Iterator[None]":
        """Group what is drawn inside, with its own title, as a link when there is somewhere to go.

        `data` is for scripts of the page; what is empty is left out.
        """
        tag = "a" if href else "g"
        target = f" href={quoteattr(clean(href))}" if href else ""
        target += "".join(f" data-{name}={quoteattr(clean(value))}" for name, value in data.items() if value)
        self._parts.append(f"<{tag}{target}><title>{escape(clean(title))}</title>")
        yield
        self._parts.append(f"</{tag}>")

    def finish(self, *, title: str, facts: Sequence[str], interactive: bool = False) -> Svg:
        """Close the sheet with the text alternative; a drawing with links stays open to the keyboard."""
        width, height = number(self.size.width_px), number(self.size.height_px)
        role = "group" if interactive else "img"
        description = " ".join(clean(fact) for fact in facts)
        return Svg(
            f'<svg xmlns="http://www.w3.org/2000/svg" role="{role}" viewBox="0 0 {width} {height}" '
            f'width="{width}" height="{height}" font-family="{SANS}, sans-serif">'
            f"<title>{escape(clean(title))}</title><desc>{escape(description)}</desc>{''.join(self._parts)}</svg>"
        )


def _steps(length: float, gap: float, *, shift: float = 0.0) -> list[float]:
    count = int(max(length - shift, 0.0) / gap)
    return [shift + gap * (index + 0.5) for index in range(count)]


def _diagonals(x: float, y: float, width: float, height: float, *, rising: bool) -> list[tuple[Point, Point]]:
    """Lines at 45 degrees, cut at the edges of the box."""
    segments: list[tuple[Point, Point]] = []
    offset = 4.0
    while offset < width + height:
        left, right = max(0.0, offset - height), min(width, offset)
        low, high = offset - left, offset - right
        if rising:
            segments.append(((x + left, y + low), (x + right, y + high)))
        else:
            segments.append(((x + left, y + height - low), (x + right, y + height - high)))
        offset += 6.0
    return segments


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Move positions apart until neighbours keep the gap, in their order, inside low..high where they fit."""
    order = sorted(range(len(wanted)), key=lambda index: (wanted[index], index))
    placed: list[float] = []
    for index in order:
        floor = placed[-1] + gap if placed else low
        placed.append(max(wanted[index], floor))
    ceiling = high
    for position in range(len(placed) - 1, -1, -1):
        placed[position] = min(placed[position], ceiling)
        ceiling = placed[position] - gap
    result = [0.0] * len(wanted)
    for index, value in zip(order, placed, strict=True):
        result[index] = value
    return result


@dataclass(frozen=True, slots=True)
class Box:
    left: float
    top: float
    right: float
    bottom: float

    def overlap(self, other: "Box") -> float:
        across = min(self.right, other.right) - max(self.left, other.left)
        down = min(self.bottom, other.bottom) - max(self.top, other.top)
        return across * down if across > 0 and down > 0 else 0.0


class Labels:
    """Places labels one after another where they cover neither each other nor what is drawn."""

    def __init__(self, canvas: Canvas, frame: Box) -> None:
        self._canvas = canvas
        self._frame = frame
        self._taken: list[Box] = []

    def avoid(self, box: Box) -> None:
        self._taken.append(box)

    def avoid_path(self, points: Sequence[Point], *, reach: float = 3.0) -> None:
        for (x0, y0), (x1, y1) in pairwise(points):
            count = max(1, int(max(abs(x1 - x0), abs(y1 - y0)) / 6))
            for step in range(count + 1):
                x, y = x0 + (x1 - x0) * step / count, y0 + (y1 - y0) * step / count
                self.avoid(Box(x - reach, y - reach, x + reach, y + reach))

    def place(
        self,
        text: str,
        candidates: Sequence[tuple[float, float, Anchor]],
        *,
        size_px: float | None = None,
        weight: Weight = 400,
        fill: str = INK,
    ) -> Box:
        """Write the text at the first free candidate (base line), else on paper of its own where it covers least."""
        size = size_px if size_px is not None else self._canvas.size.label_px
        width = text_width_px(text, size, weight)
        boxes = [self._box(x, y, anchor, width, size) for x, y, anchor in candidates]
        costs = [self._cost(box) for box in boxes]
        best = costs.index(min(costs))
        x, y, anchor = candidates[best]
        if costs[best] > 0:
            box = boxes[best]
            self._canvas.rect(box.left, box.top, box.right - box.left, box.bottom - box.top, fill=PAPER)
        self._canvas.text(x, y, text, size_px=size, anchor=anchor, weight=weight, fill=fill)
        self.avoid(boxes[best])
        return boxes[best]

    def freest(self, corners: Sequence[Point], width: float, height: float) -> Box:
        """The first free box among those with these upper left corners, else the one that covers least."""
        boxes = [Box(left, top, left + width, top + height) for left, top in corners]
        return min(boxes, key=self._cost)

    def _cost(self, box: Box) -> float:
        return sum(box.overlap(taken) for taken in self._taken) + self._outside(box) * 50

    def _box(self, x: float, y: float, anchor: Anchor, width: float, size: float) -> Box:
        left = {"start": x, "middle": x - width / 2, "end": x - width}[anchor]
        return Box(left - 2, y - size * 0.8, left + width + 2, y + size * 0.28)

    def _outside(self, box: Box) -> float:
        frame = self._frame
        return (
            max(frame.left - box.left, 0)
            + max(box.right - frame.right, 0)
            + max(frame.top - box.top, 0)
            + max(box.bottom - frame.bottom, 0)
        )
