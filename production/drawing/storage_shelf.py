"""A freezer or fridge as filled volume, one column for each day ahead."""

from dataclasses import dataclass

from production.drawing.canvas import Canvas, Size, Svg
from production.drawing.measures import plain
from production.drawing.palette import GREY, INK, MEANING_COLOUR, MEANING_WORDS, PAPER, Meaning
from production.drawing.typeface import shorten, text_width_px

FILL = "#c3d0e2"
MOST_SHARE = 1.25


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfDay:
    label: str
    used_l: float
    meaning: Meaning = "within"


@dataclass(frozen=True, slots=True, kw_only=True)
class StorageShelf:
    name: str
    capacity_l: float
    days: tuple[ShelfDay, ...]


def shelf_facts(shelf: StorageShelf) -> tuple[str, ...]:
    """What the drawing says, in sentences."""
    facts = [f"Room for {plain(shelf.capacity_l)} L."]
    for day in shelf.days:
        share = f", {plain(100 * day.used_l / shelf.capacity_l)} %" if shelf.capacity_l else ""
        facts.append(f"{day.label}: {plain(day.used_l)} L used{share}, {MEANING_WORDS[day.meaning]}.")
    return tuple(facts)


def storage_shelf(shelf: StorageShelf, size: Size) -> Svg:
    """Draw the shelf; what lies above the line of capacity has no room."""
    canvas = Canvas(size)
    small = size.small_px
    left = max(text_width_px(f"{plain(shelf.capacity_l)} L", small), 20.0) + 8
    bottom = size.height_px - small * 1.8
    top = small * 0.8
    most_l = min(max([shelf.capacity_l, *(day.used_l for day in shelf.days)]), shelf.capacity_l * MOST_SHARE)
    px_per_l = (bottom - top) / most_l if most_l else 0.0
    ceiling = bottom - shelf.capacity_l * px_per_l
    step = (size.width_px - left) / max(len(shelf.days), 1)
    for index, day in enumerate(shelf.days):
        x, width = left + index * step + 3, step - 6
        drawn_l = min(day.used_l, most_l)
        within_l = min(drawn_l, shelf.capacity_l)
        canvas.rect(x, ceiling, width, bottom - ceiling, fill=PAPER)
        canvas.rect(x, bottom - within_l * px_per_l, width, within_l * px_per_l, fill=FILL)
        if drawn_l > within_l:
            over = (drawn_l - within_l) * px_per_l
            canvas.hatch(x, ceiling - over, width, over, "crossed", colour=MEANING_COLOUR["past"])
            canvas.rect(x, ceiling - over, width, over, stroke=MEANING_COLOUR["past"], stroke_width=2.0)
        canvas.rect(x, ceiling, width, bottom - ceiling, stroke=INK, stroke_width=1.2)
        _amount(canvas, x + width / 2, width, bottom - within_l * px_per_l, bottom, day)
        label = shorten(day.label, step - 2, small)
        canvas.text(x + width / 2, size.height_px - small * 0.4, label, size_px=small, anchor="middle")
    canvas.line((left, ceiling), (size.width_px, ceiling), stroke=INK, width=2.5)
    capacity = f"{plain(shelf.capacity_l)} L"
    canvas.text(left - 6, ceiling + small * 0.35, capacity, size_px=small, anchor="end", fill=GREY)
    canvas.text(left - 6, bottom, "0", size_px=small, anchor="end", fill=GREY)
    return canvas.finish(title=f"Room in {shelf.name}", facts=shelf_facts(shelf))


def _amount(canvas: Canvas, centre: float, width: float, fill_top: float, bottom: float, day: ShelfDay) -> None:
    """The number stands just above the fill, or inside it where there is no room above."""
    small = canvas.size.small_px
    text = shorten(plain(day.used_l), width - 4, small, 600)
    baseline = fill_top + small * 1.3
    if bottom - fill_top < small * 1.6:
        baseline = fill_top - 5
    canvas.text(centre, baseline, text, size_px=small, anchor="middle", weight=600)
    if day.meaning in {"near", "past"} and bottom - baseline > small * 1.5:
        canvas.mark((centre, baseline + small * 0.9), day.meaning, radius=small * 0.42)
