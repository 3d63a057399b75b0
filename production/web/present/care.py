"""Thermometers, deliveries and stores as pages show them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from production.domain.limits import to_celsius
from production.domain.records.receiving import most_words
from production.domain.records.storage_temps import Excursion, excursion_remedy
from production.domain.records.thermometers import if_off_words
from production.domain.records.verdicts import State
from production.drawing.canvas import Size, Svg
from production.drawing.palette import Meaning
from production.drawing.store_curve import StoreCurve, StorePoint, WarmTime, store_curve
from production.web.style import Amount, Style, duration_text

if TYPE_CHECKING:
    from production.models import Receipt, StorageReading, Thermometer, ThermometerCheck
    from production.selectors.storage_temps import StoreNow
    from production.selectors.thermometer_checks import Doubtful, LogAgain, Measured
    from production.selectors.thermometers import ThermometerNow

METHODS = {"ice": "ice water", "boiling": "boiling water", "reference": "a reference thermometer"}
SOON = timedelta(days=1)
BESIDE, WHOLE = Size(width_px=560, height_px=190), Size(width_px=960, height_px=240)  # a form beside it, or not
GAP_H = 13.0  # twice a day and a little later
_NARROW = Size(width_px=340, height_px=190)
_WARM_WORDS = {
    "over": "too warm for too long",
    "possible": "perhaps too warm for too long",
    "brief": "warm for a short time",
}
_VERDICTS: dict[State, tuple[Meaning, str]] = {
    State.MET: ("within", "met"),
    State.NOT_SHOWN: ("open", "not shown"),
    State.BREACHED: ("past", "breached"),
    State.RUNNING: ("open", "running"),
    State.NOT_STARTED: ("open", "not started"),
}
_STATES: dict[str, Meaning] = {"over": "past", "possible": "near", "brief": "open"}


def degrees(text: str, unit: str) -> str:
    """A temperature as it was read: a true minus, and every digit that was typed."""
    return f"{text.replace('-', '−')} °{unit}" if text else ""


def limit_words(most_c: Decimal, style: Style) -> str:
    """A limit in the kitchen's own unit, exactly."""
    return most_words(most_c, unit="F" if style.units == "us" else "C").replace("-", "−")


def off_words(off: str, unit: str) -> str:
    """How far off, with its sign."""
    value = Decimal(off)
    return "exact" if not value else degrees(f"{value:+f}", unit)


# --- thermometers ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class ThermometerRow:
    """A thermometer of the list."""

    code: str
    name: str
    what: str
    correction: str
    last: str
    due: str
    meaning: Meaning
    words: str
    stands_in: str


def thermometer_row(found: ThermometerNow, *, last: ThermometerCheck | None, style: Style) -> ThermometerRow:
    """One line of the list, with how its check stands."""
    today = style.day_of(style.now)
    meaning, words = due_words(found.check_due_on, today)
    return ThermometerRow(
        code=found.code,
        name=found.name,
        what=f"{'probe' if found.kind == 'probe' else 'hand'}, {scale_words(found.unit, both=found.both_scales)}",
        correction=degrees(f"{found.correction.normalize():+f}", found.unit) if found.correction else "",
        last=f"{off_words(last.off, last.unit)} in {METHODS[last.method]}, {style.when(last.checked_at)}"
        if last
        else "",
        due=style.day(found.check_due_on) if found.check_due_on else "",
        meaning=meaning,
        words=words,
        stands_in=found.stands_in,
    )


def scale_words(unit: str, *, both: bool) -> str:
    """What it shows."""
    return "°C and °F" if both else "°F only" if unit == "F" else "°C"


def due_words(due_on: date | None, today: date) -> tuple[Meaning, str]:
    """How the check of a thermometer stands."""
    if due_on is None:
        return "past", "no good check"
    if due_on < today:
        return "past", "check overdue"
    return ("near", "check due") if due_on - today <= SOON else ("within", "checked")


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckRow:
    """One check."""

    number: int
    at: str
    by: str
    method: str
    target: str
    found: str
    off: str
    allowed: str
    left: str
    meaning: Meaning
    words: str
    failed: bool
    is_taken_back: bool


def check_row(check: ThermometerCheck, style: Style) -> CheckRow:
    """A check as one line."""
    words = "passed" if check.passed else "failed, set right" if check.fit else "failed"
    if check.passed and not check.fit:
        words = "passed, but left wrong"
    return CheckRow(
        number=check.entry.number,
        at=style.when(check.checked_at),
        by=check.entry.by_name,
        method=METHODS[check.method],
        target=degrees(check.reference, check.unit),
        found=degrees(check.as_found, check.unit),
        off=off_words(check.off, check.unit),
        allowed=f"±{check.allowed} °{check.unit}",
        left=degrees(check.as_left, check.unit),
        meaning="within" if check.passed and check.fit else "near" if check.fit else "past",
        words=words,
        failed=not check.passed,
        is_taken_back=bool(getattr(check, "taken_back", False)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class LogRow:
    """A log with readings of a thermometer that was wrong."""

    name: str  # the part of its address
    run: str
    where: str
    at: str
    readings: int
    stands: tuple[Meaning, str]
    would_be: tuple[Meaning, str]
    in_doubt: bool
    lots: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredRow:
    """A store or a delivery that was measured with it."""

    name: str
    at: str
    temp: str
    words: str
    meaning: Meaning


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtPage:
    """What a failed check puts in doubt."""

    since: str
    until: str
    off: str
    logs: tuple[LogRow, ...]
    others: tuple[MeasuredRow, ...]
    in_doubt: int
    lots: tuple[str, ...]


def doubt_page(found: Doubtful, style: Style) -> DoubtPage:
    """Everything measured between the last good check and the failed one, what is in doubt first."""
    logs = sorted(found.logs, key=lambda each: (not each.is_in_doubt, each.opened_at))
    measured = sorted((*found.stores, *found.deliveries), key=lambda each: (not each.is_in_doubt, each.at))
    return DoubtPage(
        since=style.when(found.since) if found.since else "",
        until=style.when(found.until),
        off=off_words(f"{found.off:f}", found.unit),
        logs=tuple(_log_row(each, style) for each in logs),
        others=tuple(_measured_row(each, style) for each in measured),
        in_doubt=sum(each.is_in_doubt for each in found.logs) + sum(each.is_in_doubt for each in measured),
        lots=found.lots_in_doubt,
    )


def _log_row(log: LogAgain, style: Style) -> LogRow:
    return LogRow(
        name=log.subject.removeprefix("cooling/"),
        run=f"{log.run}, {log.draw} draw",
        where=log.device,
        at=style.when(log.opened_at),
        readings=log.readings,
        stands=_VERDICTS[log.stands],
        would_be=(_VERDICTS[log.would_be][0], if_off_words(log.would_be)),
        in_doubt=log.is_in_doubt,
        lots=log.lots,
    )


def _measured_row(found: Measured, style: Style) -> MeasuredRow:
    words, meaning = _measured_words(found)
    return MeasuredRow(
        name=found.name, at=style.when(found.at), temp=degrees(found.temp, found.unit), words=words, meaning=meaning
    )


def _measured_words(found: Measured) -> tuple[str, Meaning]:
    if found.is_in_doubt:
        return "would be too warm", "near"
    if found.would_be_too_warm:
        return "was too warm, and would still be", "past"
    return ("would be cold enough" if found.was_too_warm else "would still be cold enough"), "within"


# --- deliveries --------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class ReceiptRow:
    """One receipt as a line."""

    code: str
    ingredient: str
    supplier: str
    lot: str
    supplier_lot: str
    at: str
    mass: Amount
    packs: int
    temp: str
    came_as: str
    use_by: str
    left: Amount | None
    over: str  # more was used than came
    meaning: Meaning
    words: str
    reason: str


def receipt_row(row: Receipt, style: Style) -> ReceiptRow:
    """A receipt: what came, how cold, taken or sent back, and what is left."""
    lot = getattr(row, "lot", None)
    left = None if lot is None else lot.left_kg
    return ReceiptRow(
        code=row.code,
        ingredient=row.ingredient.name,
        supplier=row.supplier.name,
        lot="" if lot is None else lot.code,
        supplier_lot=row.supplier_lot,
        at=style.when(row.received_at),
        mass=style.amount(float(row.mass_kg), "kg"),
        packs=row.packs,
        temp=degrees(row.temp, row.unit),
        came_as="needs no cold" if row.came_as == "ambient" else row.came_as,
        use_by=style.day(row.use_by) if row.use_by else "",
        left=None if left is None else style.amount(float(max(left, Decimal(0))), "kg"),
        over=style.amount(float(-left), "kg").text if left is not None and left < 0 else "",
        meaning=receipt_meaning(row),
        words=receipt_words(row),
        reason=row.reason,
    )


def receipt_words(row: Receipt) -> str:
    """What was decided."""
    if not row.accepted:
        return "sent back"
    return "taken in" if row.in_limits else "taken in past a limit"


def receipt_meaning(row: Receipt) -> Meaning:
    if not row.accepted:
        return "open"
    return "within" if row.in_limits else "past"


# --- stores ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class WarmRow:
    """A time in which a store was too warm."""

    head: str
    words: str
    remedy: str
    meaning: Meaning


@dataclass(frozen=True, slots=True, kw_only=True)
class StoreCard:
    """A store with its curve and how it stands."""

    code: str
    name: str
    asked: str  # what it must keep
    last: str
    last_at: str
    meaning: Meaning
    words: str
    is_overdue: bool
    warm: tuple[WarmRow, ...]
    wide: Svg
    narrow: Svg


def store_card(found: StoreNow, *, back: timedelta, size: Size, style: Style) -> StoreCard:
    """A store as the page shows it."""
    unit = "F" if style.units == "us" else "C"
    last = found.last
    meaning, words = _standing(found)
    drawn = _curve(found, back, style, unit)
    return StoreCard(
        code=found.store.code,
        name=found.store.name,
        asked=f"{found.limit.kind}, at most {limit_words(found.limit.most_c, style)}",
        last="" if last is None else degrees(f"{last.reading.temp:f}", last.reading.unit),
        last_at="" if last is None else f"{last.measured}, {style.when(last.reading.at)}",
        meaning=meaning,
        words=words,
        is_overdue=found.is_overdue,
        warm=tuple(_warm_row(each, found, style) for each in reversed(found.excursions)),
        wide=store_curve(drawn, size),
        narrow=store_curve(drawn, _NARROW),
    )


def _standing(found: StoreNow) -> tuple[Meaning, str]:
    now = [each for each in found.excursions if each.is_over_now]
    if any(each.state != "brief" for each in now):
        return "past", "too warm"
    if now:
        return "near", "warm at the last reading"
    if found.last is None:
        return "open", "never read"
    return ("near", "nobody has looked lately") if found.is_overdue else ("within", "cold enough")


def _warm_row(each: Excursion, found: StoreNow, style: Style) -> WarmRow:
    warmest = each.warmest.reading
    longest, shown = (duration_text(span.total_seconds() / 60) for span in (each.longest, each.shown))
    span = f"for up to {longest}" + (f", {shown} of it surely" if each.shown else "")
    until = f"until {style.when(each.good_after)}" if each.good_after else "and still so"
    what = "Food" if each.measured == "food" else "Air"
    return WarmRow(
        head=_WARM_WORDS[each.state],
        words=f"{what} up to {degrees(f'{warmest.temp:f}', warmest.unit)} from {style.when(each.first.reading.at)} "
        f"{until}: {span}.",
        remedy=_warm_remedy(each, found),
        meaning=_STATES[each.state],
    )


def _warm_remedy(each: Excursion, found: StoreNow) -> str:
    if each.state == "brief":
        return "Not for longer than the air may be warmer."
    if each.is_over_now:
        return excursion_remedy(found.limit, each)
    return "It is over. What becomes of the food that was in it is decided with its deviation."


def _curve(found: StoreNow, back: timedelta, style: Style, unit: str) -> StoreCurve:
    start = style.now - back

    def hours(at: datetime) -> float:
        return (at.timestamp() - start.timestamp()) / 3600.0

    return StoreCurve(
        name=found.store.name,
        unit="F" if unit == "F" else "C",
        hours=back.total_seconds() / 3600.0,
        limit_c=float(found.limit.most_c),
        gap_h=GAP_H,
        points=tuple(
            StorePoint(
                at_h=hours(each.reading.at),
                temp_c=float(to_celsius(each.reading.temp, each.reading.unit)),
                at_label=style.when(each.reading.at),
                is_food=each.measured == "food",
            )
            for each in found.readings
            if not each.reading.excluded
        ),
        warm=tuple(_warm_time(each, found, hours, style) for each in found.excursions),
        days=_midnights(start, style),
    )


def _warm_time(each: Excursion, found: StoreNow, hours: Callable[[datetime], float], style: Style) -> WarmTime:
    return WarmTime(
        from_h=hours(each.good_before or each.first.reading.at),
        to_h=hours(each.good_after or style.now),
        meaning=_STATES[each.state],
        words=f"{_WARM_WORDS[each.state].capitalize()}. {_warm_row(each, found, style).words}",
    )


def _midnights(start: datetime, style: Style) -> tuple[tuple[float, str], ...]:
    first = style.day_of(start)
    days = (first + timedelta(days=n) for n in range(1, (style.day_of(style.now) - first).days + 1))
    return tuple(
        (
            (datetime.combine(day, datetime.min.time(), style.zone).timestamp() - start.timestamp()) / 3600.0,
            f"{day:%a} {day.day}",
        )
        for day in days
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class StoreLine:
    """One reading of a store in its log."""

    number: int
    at: str
    what: str
    temp: str
    thermometer: str
    by: str
    excluded: bool
    question: str


def thermometer_words(row: Thermometer | None, content: Mapping[str, Any]) -> str:
    """Which thermometer, and what speaks against it."""
    name = row.name if row is not None else str(content.get("thermometer", ""))
    told = {"unknown": ", not on the list", "overdue": ", check overdue"}.get(
        str(content.get("thermometer_is", "")), ""
    )
    return f"{name}{told}"


def store_lines(rows: Sequence[StorageReading], style: Style) -> tuple[StoreLine, ...]:
    """The log of a store, the newest first."""
    return tuple(
        StoreLine(
            number=each.entry.number,
            at=style.when(each.measured_at),
            what=each.measured,
            temp=degrees(each.temp, each.unit),
            thermometer=thermometer_words(each.thermometer, each.entry.content),
            by=each.entry.by_name,
            excluded=each.excluded,
            question=str(each.entry.content.get("question_says", "")),
        )
        for each in rows
    )
