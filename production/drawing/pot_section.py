"""The pot to scale in cross-section: solids, cold fill, level at the boil, freeboard, scale on the wall."""

from dataclasses import dataclass, replace

from production.drawing.canvas import Canvas, Point, Size, Svg, spread
from production.drawing.measures import LengthUnit, down_to_mark_mm, length_text, up_to_mark_mm
from production.drawing.palette import ACCENT, GREY, HAIRLINE, INK, MEANING_COLOUR, Meaning
from production.drawing.typeface import text_width_px, wrap

LIQUID = "#dfe7f1"
SWELL = "#f0f3f8"
WALL_PX = 3.0
LABEL_GAP_PX = 40.0
BLOCK_GAP_PX = 5.0
HEAD_RATIO = 1.7
LINE_RATIO = 1.2


@dataclass(frozen=True, slots=True, kw_only=True)
class VolumeMark:
    height_mm: float
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PotSection:
    """Heights are measured from the inside of the bottom; labels come in the kitchen's units."""

    name: str
    inner_diameter_mm: float
    inner_height_mm: float
    cold_fill_mm: float
    hot_level_mm: float
    freeboard_limit_mm: float
    solids_level_mm: float | None = None
    cold_fill_label: str = ""
    solids_label: str = ""
    volume_marks: tuple[VolumeMark, ...] = ()
    length_unit: LengthUnit = "mm"

    @property
    def from_rim_mm(self) -> float:
        return self.inner_height_mm - self.cold_fill_mm

    @property
    def hot_meaning(self) -> Meaning:
        return "past" if self.hot_level_mm > self.freeboard_limit_mm else "within"


@dataclass(frozen=True, slots=True)
class _Scale:
    left: float
    bottom: float
    px_per_mm: float
    pot: PotSection

    def y(self, height_mm: float) -> float:
        return self.bottom - height_mm * self.px_per_mm

    @property
    def right(self) -> float:
        return self.left + self.pot.inner_diameter_mm * self.px_per_mm

    @property
    def width(self) -> float:
        return self.right - self.left


@dataclass(frozen=True, slots=True)
class _Level:
    at_mm: float
    head: str
    notes: tuple[str, ...]
    colour: str
    dash: str
    height: float


def from_rim(pot: PotSection, level_mm: float) -> str:
    """A level as a cook measures it: from the rim, on the safe side."""
    return length_text(up_to_mark_mm(pot.inner_height_mm - level_mm, pot.length_unit), pot.length_unit)


def pot_facts(pot: PotSection) -> tuple[str, ...]:
    """What the drawing says, in sentences."""

    def text(length_mm: float) -> str:
        return length_text(length_mm, pot.length_unit)

    def height(level_mm: float) -> str:
        return text(down_to_mark_mm(level_mm, pot.length_unit))

    def both(level_mm: float, between: str = "") -> str:
        return f"{height(level_mm)}{between}, {from_rim(pot, level_mm)} from the rim"

    volume = f" ({pot.cold_fill_label})" if pot.cold_fill_label else ""
    facts = [
        f"Inside {text(pot.inner_diameter_mm)} wide and {text(pot.inner_height_mm)} high.",
        f"Fill cold to {both(pot.cold_fill_mm, f' above the bottom{volume}')}.",
        f"At the boil the level is {both(pot.hot_level_mm)}.",
        f"Highest allowed level {both(pot.freeboard_limit_mm)}.",
    ]
    if pot.solids_level_mm is not None:
        solids = f" ({pot.solids_label})" if pot.solids_label else ""
        facts.append(f"Solids displace the lowest {text(pot.solids_level_mm)}{solids}.")
    if pot.hot_meaning == "past":
        facts.append(
            f"Past the limit: the boil is {text(pot.hot_level_mm - pot.freeboard_limit_mm)} above the freeboard."
        )
    if pot.volume_marks:
        marks = ", ".join(f"{mark.label} at {text(mark.height_mm)}" for mark in pot.volume_marks)
        facts.append(f"Scale on the wall: {marks}.")
    return tuple(facts)


def pot_section(pot: PotSection, size: Size) -> Svg:
    """Draw the section; one millimetre of pot is the same length across and down."""
    scale = _scale(pot, size)
    levels = _level_blocks(scale, size)
    height = min(size.height_px, max(scale.bottom + 12.0, _stacked_height(levels)))
    canvas = Canvas(replace(size, height_px=height))
    _contents(canvas, scale)
    _walls(canvas, scale)
    _volume_scale(canvas, scale)
    _level_lines(canvas, scale, levels)
    _dimension(canvas, scale)
    _level_labels(canvas, scale, levels)
    return canvas.finish(title=f"{pot.name} in section", facts=pot_facts(pot))


def _scale(pot: PotSection, size: Size) -> _Scale:
    mark_room = max((text_width_px(mark.label, size.small_px) for mark in pot.volume_marks), default=0.0) + 18
    label_room = min(size.width_px * 0.44, 190.0)
    top = 14.0
    px_per_mm = min(
        (size.height_px - 12.0 - top) / pot.inner_height_mm,
        (size.width_px - mark_room - label_room) / pot.inner_diameter_mm,
    )
    return _Scale(left=mark_room, bottom=top + pot.inner_height_mm * px_per_mm, px_per_mm=px_per_mm, pot=pot)


def _contents(canvas: Canvas, scale: _Scale) -> None:
    pot = scale.pot
    hot, cold, floor = scale.y(pot.hot_level_mm), scale.y(pot.cold_fill_mm), scale.bottom
    canvas.rect(scale.left, hot, scale.width, cold - hot, fill=SWELL)
    canvas.rect(scale.left, cold, scale.width, floor - cold, fill=LIQUID)
    rim, limit = scale.y(pot.inner_height_mm), scale.y(pot.freeboard_limit_mm)
    canvas.hatch(scale.left, rim, scale.width, limit - rim, "falling", colour=HAIRLINE)
    if pot.solids_level_mm is not None:
        solids = scale.y(pot.solids_level_mm)
        canvas.hatch(scale.left, solids, scale.width, floor - solids, "dots", colour=GREY)
        canvas.line((scale.left, solids), (scale.right, solids), stroke=GREY, dash="1.5 3")


def _walls(canvas: Canvas, scale: _Scale) -> None:
    rim, floor, half = scale.y(scale.pot.inner_height_mm), scale.bottom, WALL_PX / 2
    left, right = scale.left - half, scale.right + half
    lip = 6.0
    wall: list[Point] = [
        (left - lip, rim),
        (left, rim),
        (left, floor + half),
        (right, floor + half),
        (right, rim),
        (right + lip, rim),
    ]
    canvas.polyline(wall, stroke=INK, width=WALL_PX)


def _volume_scale(canvas: Canvas, scale: _Scale) -> None:
    pot, size = scale.pot, canvas.size
    last_label = scale.bottom + size.small_px
    for mark in sorted(pot.volume_marks, key=lambda mark: mark.height_mm):
        y = scale.y(mark.height_mm)
        canvas.line((scale.left, y), (scale.left + 8, y), stroke=INK)
        if last_label - y >= size.small_px * 1.05:
            canvas.text(
                scale.left - 9, y + size.small_px * 0.35, mark.label, size_px=size.small_px, anchor="end", fill=GREY
            )
            last_label = y


def _level_blocks(scale: _Scale, size: Size) -> list[_Level]:
    """Levels from top to bottom; on the drawing every length is read from the rim, as a cook measures it."""
    pot = scale.pot

    def shown(level_mm: float) -> str:
        return from_rim(pot, level_mm).replace(" ", "\u00a0")

    over = ", past the limit" if pot.hot_meaning == "past" else ""
    volume = pot.cold_fill_label.replace(" ", "\u00a0")
    cold = f"from the rim, cold: {volume}" if volume else "from the rim, cold"
    hot_colour = MEANING_COLOUR[pot.hot_meaning]
    rows = [
        (pot.freeboard_limit_mm, "", f"highest allowed: {shown(pot.freeboard_limit_mm)}", GREY, "6 3"),
        (pot.hot_level_mm, "", f"at the boil: {shown(pot.hot_level_mm)}{over}", hot_colour, "3 2"),
        (pot.cold_fill_mm, shown(pot.cold_fill_mm), cold, ACCENT, ""),
    ]
    if pot.solids_level_mm is not None:
        solids = pot.solids_label.replace(" ", "\u00a0")
        words = f"solids, displaced: {solids}" if solids else "solids, displaced"
        rows.append((pot.solids_level_mm, "", words, GREY, "1.5 3"))
    room = size.width_px - scale.right - LABEL_GAP_PX
    blocks = []
    for at_mm, head, note, colour, dash in sorted(rows, key=lambda row: -row[0]):
        notes = wrap(note, room, size.small_px)
        height = (size.label_px * HEAD_RATIO if head else 0.0) + len(notes) * size.small_px * LINE_RATIO
        blocks.append(_Level(at_mm, head, notes, colour, dash, height))
    return blocks


def _level_lines(canvas: Canvas, scale: _Scale, levels: list[_Level]) -> None:
    for level in levels:
        width = 2.5 if level.head else 1.5
        y = scale.y(level.at_mm)
        canvas.line((scale.left, y), (scale.right, y), stroke=level.colour, width=width, dash=level.dash)


def _dimension(canvas: Canvas, scale: _Scale) -> None:
    """The one length a cook measures: rim to cold fill, beside the wall."""
    x = scale.right + 16
    rim, cold = scale.y(scale.pot.inner_height_mm), scale.y(scale.pot.cold_fill_mm)
    canvas.line((x, rim), (x, cold), stroke=ACCENT, width=2.0)
    for y in (rim, cold):
        canvas.line((x - 5, y), (x + 5, y), stroke=ACCENT, width=2.0)


def _level_labels(canvas: Canvas, scale: _Scale, levels: list[_Level]) -> None:
    size = canvas.size
    x = scale.right + LABEL_GAP_PX
    tops = _stack([scale.y(level.at_mm) - level.height / 2 for level in levels], levels, size)
    for level, top in zip(levels, tops, strict=True):
        start = scale.right + (21 if level.head else WALL_PX + 2)
        elbow = (x - 6, top + level.height / 2)
        canvas.polyline([(start, scale.y(level.at_mm)), elbow], stroke=level.colour, width=0.8)
        y = top
        if level.head:
            head_px = size.label_px * HEAD_RATIO
            canvas.text(x, y + head_px * 0.82, level.head, size_px=head_px, weight=600, fill=level.colour)
            y += head_px
        for note in level.notes:
            canvas.text(x, y + size.small_px, note, size_px=size.small_px, fill=INK if level.head else level.colour)
            y += size.small_px * LINE_RATIO


def _stacked_height(levels: list[_Level]) -> float:
    return sum(level.height for level in levels) + BLOCK_GAP_PX * (len(levels) - 1)


def _stack(wanted_tops: list[float], levels: list[_Level], size: Size) -> list[float]:
    """Blocks from top to bottom without overlap, kept on the sheet; `spread` with blocks of unequal height."""
    offsets = [_stacked_height(levels[:index]) + BLOCK_GAP_PX if index else 0.0 for index in range(len(levels))]
    room = max(size.height_px - _stacked_height(levels), 0.0)
    shifted = spread([top - offset for top, offset in zip(wanted_tops, offsets, strict=True)], 0.0, 0.0, room)
    return [shift + offset for shift, offset in zip(sorted(shifted), offsets, strict=True)]
