"""Lots, and the stores they stand in, as the pages show them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from production.drawing.canvas import Size, Svg
from production.drawing.storage_shelf import ShelfDay, StorageShelf, storage_shelf
from production.web.style import Style, duration_text

if TYPE_CHECKING:
    from production.drawing.palette import Meaning
    from production.models import CoolingRecord, Entry, Lot
    from production.selectors.stock import StoreAhead

NEARLY_FULL = 0.9
FREEZING_DAY_H = 24.0
VERDICTS: dict[str, tuple[Meaning, str]] = {
    "met": ("within", "limits met"),
    "breached": ("past", "limit broken"),
    "not_shown": ("near", "not shown"),
}
STATUSES = {"held": "on hold", "free": "free", "discarded": "discarded"}
_SAID = {
    "lot_made": "Packed",
    "lot_released": "Released",
    "lot_held": "Held",
    "lot_discarded": "Thrown away",
    "lot_dispatched": "Sent out",
    "lot_counted": "Counted",
    "lot_returned": "Came back, thrown away",
    "labels_printed": "Labels printed",
    "corrective_action": "Evaluated",
    "withdrawn": "Taken back",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class LotRow:
    """One lot of the list."""

    code: str
    product: str
    left: int
    containers: int
    life: str  # use by, or best before
    days: str
    is_past: bool
    store: str
    status: str
    is_held: bool
    meaning: Meaning
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfPicture:
    """A store drawn for tablet and phone, with what must be said about it."""

    name: str
    facts: str
    wide: Svg
    narrow: Svg
    freezing: str
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StoryLine:
    """One entry about a lot."""

    number: int
    at: str
    by: str
    said: str
    detail: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ToPack:
    """A draw whose cooling is done."""

    subject: str  # of one of its logs
    run: str
    draw: str
    logs: int
    meaning: Meaning
    verdict: str
    closed: str


def lot_row(*, lot: Lot, verdict: str, style: Style) -> LotRow:
    """A lot as one line."""
    meaning, words = VERDICTS[verdict]
    today = style.day_of(style.now)
    return LotRow(
        code=lot.code,
        product=lot.product.name,
        left=lot.left,
        containers=lot.containers,
        life=style.day(lot.use_by),
        days=days_left(lot.use_by, today),
        is_past=lot.use_by < today,
        store=lot.store.name,
        status=STATUSES[lot.status],
        is_held=lot.status == "held",
        meaning=meaning,
        verdict=words,
    )


def days_left(use_by: date, today: date) -> str:
    """How long it may still be used."""
    left = (use_by - today).days
    if left < 0:
        return "past its last day"
    return "last day today" if left == 0 else f"{left} day{'' if left == 1 else 's'} left"


def shelf_picture(*, ahead: StoreAhead, style: Style) -> ShelfPicture:
    """A store with the days ahead."""
    days = tuple(
        ShelfDay(
            label=f"{each.day:%a} {each.day.day}", used_l=each.litres, meaning=_fullness(each.litres, ahead.usable_l)
        )
        for each in ahead.days
    )
    shelf = StorageShelf(name=ahead.store.name, capacity_l=ahead.usable_l, days=days)
    return ShelfPicture(
        name=ahead.store.name,
        facts=f"{ahead.store.kind}, {style.amount(ahead.store.air_temp_c, 'degC').text}, "
        f"{style.amount(ahead.usable_l, 'L').text} of shelf room",
        wide=storage_shelf(shelf, Size(width_px=560, height_px=190)),
        narrow=storage_shelf(shelf, Size(width_px=350, height_px=190)),
        freezing=_freezing(ahead),
        warnings=tuple(_warnings(ahead, style)),
    )


def _fullness(litres: float, usable_l: float) -> Meaning:
    if litres > usable_l:
        return "past"
    return "near" if litres > NEARLY_FULL * usable_l else "within"


def _freezing(ahead: StoreAhead) -> str:
    """For how long a freezer's spare power is needed on the days on which something goes in."""
    busy = [
        f"{day:%a} {day.day}: {duration_text(60 * hours)}" for day, hours in ahead.freezing_h.items() if hours > 0.0
    ]
    return f"Freezing, at all its spare power: {', '.join(busy)}." if busy else ""


def _warnings(ahead: StoreAhead, style: Style) -> Iterable[str]:
    over = [each for each in ahead.days if each.litres > ahead.usable_l]
    if over:
        most = max(over, key=lambda each: each.litres)
        yield (
            f"{ahead.store.name} overflows on {style.day(over[0].day)}: at the worst "
            f"{style.amount(most.litres - ahead.usable_l, 'L').text} have no room on {style.day(most.day)}. "
            "Send something out, move it, or plan less."
        )
    for day, hours in ahead.freezing_h.items():
        if hours > FREEZING_DAY_H:
            yield (
                f"On {style.day(day)} more goes into {ahead.store.name} than its spare power can freeze in a day: "
                f"it would take {hours:.0f} h. Spread it over more days."
            )


def story_line(*, entry: Entry, style: Style) -> StoryLine:
    """An entry in words."""
    said = entry.content
    parts = [
        f"{said['containers']} containers" if "containers" in said else "",
        f"{said['found']} found, {said['before']} expected" if "found" in said else "",
        f"{said['copies']} copies" if "copies" in said else "",
        f"for {said['outlet_name']}" if "outlet_name" in said else "",
        str(said.get("cause", "")),
        str(said.get("action", "")),
        str(said.get("evaluation", "")),
        f"to be {said['disposition']}d" if "disposition" in said else "",
        entry.reason,
    ]
    return StoryLine(
        number=entry.number,
        at=style.when(entry.happened_at),
        by=entry.by_name,
        said=_SAID.get(entry.kind, entry.kind.replace("_", " ").capitalize()),
        detail=", ".join(part for part in parts if part),
    )


def to_pack(*, coolings: Sequence[CoolingRecord], verdict_of: dict[int, str], style: Style) -> tuple[ToPack, ...]:
    """Draws that can be packed, one line for all logs of a draw."""
    groups: dict[tuple[int, str], list[CoolingRecord]] = {}
    for each in coolings:
        groups.setdefault((each.run_id, each.draw), []).append(each)
    rows = []
    for logs in groups.values():
        worst = next(
            word for word in ("breached", "not_shown", "met") if word in {verdict_of[each.pk] for each in logs}
        )
        meaning, words = VERDICTS[worst]
        closed = max(each.closed_at for each in logs if each.closed_at is not None)
        rows.append(
            ToPack(
                subject=logs[0].subject,
                run=logs[0].run.code,
                draw=logs[0].draw,
                logs=len(logs),
                meaning=meaning,
                verdict=words,
                closed=style.when(closed),
            )
        )
    return tuple(rows)
