"""A completed batch record as the words and numbers that its template sets."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from production.documents.words import Clock, Units, day_text, foot_words, issue_words, joined
from production.drawing.measures import minutes_text

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

    from production.domain.sheets import CompletedBatchRecord
    from production.domain.sheets.batch_record import (
        RecordedCooling,
        RecordedDeviation,
        RecordedDraw,
        RecordedLine,
        RecordedLot,
        RecordedNumber,
    )

ON_TIME_MIN = 5.0  # the grid of the schedule
SAME_SHARE = 0.005  # a smaller difference is none that scales and marks show (own choice)
SAME_K = 0.5
STATES = {"finished": ("✓", "Finished"), "broken_off": ("✕", "Broken off")}
VERDICTS = {
    "met": "✓ limits met",
    "breached": "✕ limit missed",
    "not_shown": "? not shown that the limits were met",
    "": "still cooling when this was issued",
}
LOTS = {"held": "held", "free": "released", "discarded": "discarded"}
_DRAWS = {"first": "First draw", "second": "Second draw", "reduction": "Reduction"}
_ENDED = {"discard": "discarded", "release": "released", "reheat": "re-heated", "none": "nothing to be done with food"}


def batch_record_view(record: CompletedBatchRecord) -> dict[str, object]:
    """Everything the template needs, already said in the kitchen's units and time."""
    units = Units.of(record.heading)
    clock = Clock.spanning(record.heading.time_zone, record.begun_at, _last(record))
    mark, state = STATES[record.state]
    return {
        "title": f"Completed batch record, run {record.run}: {record.formula}",
        "heading": record.heading,
        "week": day_text(record.heading.week),
        "foot": foot_words(record.heading),
        "issue": issue_words(record.heading),
        "record": record,
        "mark": mark,
        "state": state,
        "day": clock.day(record.begun_at),
        "begun": clock.time(record.begun_at),
        "ended": clock.time(record.ended_at),
        "begun_late": _late(record.planned_start_at, record.begun_at),
        "ended_late": _late(record.planned_end_at, record.ended_at),
        "planned": f"{clock.time(record.planned_start_at)} to {clock.time(record.planned_end_at)}",
        "charge": list(_charge(record, units)),
        "lines": [_line(each, units, clock) for each in record.lines],
        "missing": sum(each.done_at is None for each in record.lines),
        "struck": sum(each.struck for each in record.lines),
        "draws": [_draw(each, units) for each in record.draws],
        "coolings": [_cooling(each, clock) for each in record.coolings],
        "lots": [_lot(each) for each in record.lots],
        "deviations": [_deviation(each, clock) for each in record.deviations],
        "allergens": joined(record.allergens),
        "people": joined(record.people),
    }


def _last(record: CompletedBatchRecord) -> datetime:
    closed = [each.closed_at or each.opened_at for each in record.coolings]
    done = [each.done_at for each in record.lines if each.done_at is not None]
    return max([record.ended_at, record.planned_end_at, *closed, *done])


def _late(planned: datetime, done: datetime) -> str:
    minutes = (done - planned) / timedelta(minutes=1)
    if abs(minutes) < ON_TIME_MIN:
        return "on time"
    return f"{minutes_text(abs(minutes))} {'later' if minutes > 0 else 'earlier'} than planned"


def _short_late(planned: datetime, done: datetime) -> str:
    """For a narrow column; nothing where it was on time."""
    minutes = (done - planned) / timedelta(minutes=1)
    if abs(minutes) < ON_TIME_MIN:
        return ""
    return f"{minutes_text(abs(minutes))} {'late' if minutes > 0 else 'early'}"


def _charge(record: CompletedBatchRecord, units: Units) -> Iterable[tuple[str, str, str, str]]:
    charge = record.charge
    for what, now, was, unit in (
        ("Solids", charge.solids_kg, charge.planned_solids_kg, "kg"),
        ("Water", charge.water_l, charge.planned_water_l, "L"),
        ("Cold fill below the rim", charge.fill_mark_mm, charge.planned_fill_mark_mm, "mm"),
    ):
        shown = units.text if unit != "mm" else lambda value, _unit: str(units.from_rim(value))
        yield what, shown(was, unit), shown(now, unit), _difference(now, was, unit, units)


def _difference(now: float, was: float, unit: str, units: Units) -> str:
    """How far from the sheet; nothing where nobody would see it."""
    change = now - was
    sign = "+" if change > 0 else "−"
    if unit == "degC":
        if abs(change) < SAME_K:
            return ""
        return f"{sign}{abs(change) * (1.8 if units.system == 'us' else 1.0):.1f} °{units.temp_unit}"
    if abs(change) <= SAME_SHARE * abs(was):
        return ""
    size = {"pieces": f"{abs(change):.0f}", "Bx": f"{abs(change):.1f} °Bx"}.get(unit) or units.text(abs(change), unit)
    share = f" ({100 * change / was:+.0f} %)".replace("-", "−") if was else ""
    return f"{sign}{size}{share}"


def _line(each: RecordedLine, units: Units, clock: Clock) -> dict[str, object]:
    planned, done = each.planned_at, each.done_at
    return {
        "title": each.title,
        "planned": "" if planned is None else clock.time(planned),
        "done": "" if done is None else clock.time(done),
        "late": "" if planned is None or done is None else _short_late(planned, done),
        "number": each.number,
        "by": each.by,
        "numbers": [_number(number, units) for number in each.numbers],
        "remarks": each.remarks,
        "struck": each.struck,
        "why": each.struck_why,
    }


def _number(each: RecordedNumber, units: Units) -> dict[str, str]:
    planned = "" if each.planned is None else _amount(each.planned, each.unit, units)
    off = "" if each.value is None or each.planned is None else _difference(each.value, each.planned, each.unit, units)
    return {"label": each.label, "typed": each.typed, "planned": planned, "off": off}


def _amount(value: float, unit: str, units: Units) -> str:
    return f"{value:.0f}" if unit == "pieces" else units.text(value, unit)


def _draw(each: RecordedDraw, units: Units) -> dict[str, object]:
    return {
        "name": _DRAWS.get(each.name, each.name),
        "planned": f"{units.text(each.planned_kg, 'kg')}, {units.text(each.planned_cold_l, 'L')} cold",
        "gave": f"{units.text(each.mass_kg, 'kg')}, {units.text(each.cold_l, 'L')} cold",
        "share": f"{100 * each.mass_kg / each.planned_kg:.0f} %",
        "brix": "" if each.solids_bx is None else f"{each.solids_bx:.1f} °Bx",
        "filled": [
            f"{filled.product}: {filled.possible} of {filled.planned} × {filled.container}" for filled in each.filled
        ],
        "sentence": each.sentence,
    }


def _cooling(each: RecordedCooling, clock: Clock) -> dict[str, object]:
    again = f", attempt {each.attempt}" if each.attempt > 1 else ""
    return {
        "what": f"{_DRAWS.get(each.draw, each.draw)}, {each.device}{again}",
        "key": each.key,
        "vessels": each.vessels,
        "opened": clock.time(each.opened_at),
        "closed": "" if each.closed_at is None else clock.time(each.closed_at),
        "readings": each.readings,
        "verdict": VERDICTS[each.verdict],
    }


def _lot(each: RecordedLot) -> dict[str, object]:
    return {
        "code": each.code,
        "product": each.product,
        "containers": each.containers,
        "made_on": each.made_on.isoformat(),
        "use_by": each.use_by.isoformat(),
        "store": each.store,
        "status": LOTS[each.status],
        "reason": each.reason,
    }


def _deviation(each: RecordedDeviation, clock: Clock) -> dict[str, object]:
    if each.closed_at is None:
        became = "open"
    else:
        became = f"{_ENDED.get(each.disposition, each.disposition)}; closed {clock.moment(each.closed_at)}"
        became += f" by {each.closed_by}" if each.closed_by else ""
    return {
        "number": each.number,
        "sentence": each.sentence,
        "opened": clock.moment(each.opened_at),
        "became": became,
    }
