"""The week at a glance: orders above the line, runs below it, stock between."""

from dataclasses import dataclass

from production.drawing.canvas import Canvas, Size, Svg
from production.drawing.measures import plain
from production.drawing.palette import ACCENT, GREY, HAIRLINE, INK, MEANING_COLOUR, PAPER
from production.drawing.typeface import day_text, text_width_px

FILL = "#dfe7f1"


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekDay:
    """Amounts of one day; a negative stock at the end of the day is a gap."""

    label: str
    ordered: float
    made: float
    stock_end: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekStrip:
    name: str
    unit: str
    days: tuple[WeekDay, ...]


def amount_text(value: float) -> str:
    """One decimal under ten, none above."""
    return plain(value, 1 if abs(value) < 10 else 0)


def week_facts(week: WeekStrip) -> tuple[str, ...]:
    """What the drawing says, in sentences."""
    facts = []
    for day in week.days:
        stock = (
            f"{amount_text(day.stock_end)} {week.unit} in stock at the end of the day"
            if day.stock_end >= 0
            else f"{amount_text(-day.stock_end)} {week.unit} short at the end of the day"
        )
        facts.append(
            f"{day.label}: {amount_text(day.ordered)} {week.unit} ordered,"
            f" {amount_text(day.made)} {week.unit} made, {stock}."
        )
    return tuple(facts)


def week_strip(week: WeekStrip, size: Size) -> Svg:
    """Draw the strip; orders and runs share one scale."""
    canvas = Canvas(size)
    small = size.small_px
    left = max(text_width_px(word, small) for word in ("ordered", "stock", "made")) + 10
    header, band = small * 2.2, small * 3.6
    room = (size.height_px - header - band - 2 * small * 1.4 - 4) / 2
    upper = header + small * 1.4 + room
    lower = upper + band
    top_amount = max([1e-9, *(d.ordered for d in week.days), *(d.made for d in week.days)])
    top_stock = max([1e-9, *(abs(d.stock_end) for d in week.days)])
    step = (size.width_px - left) / max(len(week.days), 1)

    canvas.text(0, small, week.unit, size_px=small, fill=GREY)
    for words, y in (("ordered", upper - 6), ("stock", upper + band / 2 + small * 0.35), ("made", lower + small * 1.2)):
        canvas.text(0, y, words, size_px=small, fill=GREY)
    for index, day in enumerate(week.days):
        x = left + index * step
        if index:
            canvas.line((x, 0), (x, size.height_px), stroke=HAIRLINE)
        centre, width = x + step / 2, min(step * 0.56, 64.0)
        label = day_text(day.label, step - 6, small)
        canvas.text(centre, small, label, size_px=small, anchor="middle", weight=600)
        _bar(canvas, centre, width, upper, -day.ordered / top_amount * room, day.ordered, ordered=True)
        _bar(canvas, centre, width, lower, day.made / top_amount * room, day.made, ordered=False)
        _stock(canvas, (x, step), (upper, band), day.stock_end, top_stock)
    for y in (upper, lower):
        canvas.line((left, y), (size.width_px, y), stroke=INK, width=1.5)
    return canvas.finish(title=f"Week of {week.name}", facts=week_facts(week))


def _bar(
    canvas: Canvas, centre: float, width: float, base: float, length: float, amount: float, *, ordered: bool
) -> None:
    small = canvas.size.small_px
    if amount > 0:
        x, y = centre - width / 2, min(base, base + length)
        canvas.rect(x, y, width, abs(length), fill=INK if ordered else PAPER, stroke=INK, stroke_width=1.5)
        if not ordered:
            canvas.hatch(x, y, width, abs(length), "rising")
        at = base + length + (-4 if ordered else small * 1.05)
        canvas.text(centre, at, amount_text(amount), size_px=small, anchor="middle")


def _stock(
    canvas: Canvas, column: tuple[float, float], row: tuple[float, float], stock: float, top_stock: float
) -> None:
    small = canvas.size.small_px
    x, step = column
    top, band = row
    share = abs(stock) / top_stock
    room = band - 6
    colour = ACCENT if stock >= 0 else MEANING_COLOUR["past"]
    fill_top = top + 3 + room * (1 - share)
    if stock >= 0:
        canvas.rect(x + 1, fill_top, step - 2, room * share, fill=FILL)
        words = amount_text(stock)
    else:
        canvas.hatch(x + 1, top + 3, step - 2, room, "crossed", colour=HAIRLINE)
        words = f"short {amount_text(-stock)}"
    y = top + band / 2
    baseline = y + small * 0.35
    if stock >= 0:
        canvas.text(x + step / 2, baseline, words, size_px=small, anchor="middle", weight=600, fill=colour)
        return
    if text_width_px(words, small, 600) + 20 > step:
        words = amount_text(stock)
    half = text_width_px(words, small, 600) / 2
    centre = x + step / 2 + 8
    canvas.rect(centre - half - 18, y - small * 0.8, 2 * half + 20, small * 1.6, fill=PAPER)
    canvas.mark((centre - half - 9, y), "past", radius=small * 0.36)
    canvas.text(centre, baseline, words, size_px=small, anchor="middle", weight=600, fill=colour)
