"""Logs as an inspector reads them: the list of what waits, and one log with everything about it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from production.documents.cooling_record import MOST_IN_FULL, cooling_record_view, log_corridor
from production.documents.words import Clock
from production.domain.records.reviews import working_days_after
from production.drawing.canvas import Size, Svg
from production.drawing.cooling_glance import cooling_glance
from production.web.present.deviations import DeviationView, deviation_view
from production.web.style import Style, duration_text, minutes_between

if TYPE_CHECKING:
    from production.domain.sheets import CompletedCoolingLog
    from production.drawing.palette import Meaning
    from production.models import CoolingRecord, Entry, Lot, LotMove, Review
    from production.selectors.reviewed_log import Check, CheckState, Place, ReviewedLog

_WIDE = Size(width_px=960, height_px=280)
_NARROW = Size(width_px=350, height_px=240)
VERDICTS: dict[str, tuple[Meaning, str]] = {
    "met": ("within", "limits met"),
    "breached": ("past", "limit missed"),
    "not_shown": ("near", "not shown"),
}
LOT_STATES = {"held": "on hold", "free": "free", "discarded": "thrown away"}
_MOVED = {
    "made": "packed",
    "dispatched": "sent to",
    "discarded": "thrown away",
    "counted": "counted otherwise",
    "returned": "came back",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class LogRow:
    """One line of the list."""

    kitchen: str  # code
    kitchen_name: str
    path: str
    title: str
    formula: str
    place: str
    closed: str
    meaning: Meaning
    verdict: str
    deviations: tuple[tuple[int, str], ...]
    review: str
    is_urgent: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TalkLine:
    """Something that was said about a log: signed, asked, answered, refused."""

    number: int
    head: str
    by: str
    at: str
    text: str
    struck: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LotLine:
    """What became of a lot."""

    code: str
    product: str
    state: str
    left: str
    moves: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LogView:
    """One log on one screen."""

    path: str
    title: str
    meaning: Meaning
    told: dict[str, Any]  # as on the printed log
    wide: Svg
    narrow: Svg
    late: str  # about readings of probes that came in late
    pot: str
    state: str  # waiting, signed, lost, refused
    state_head: str
    state_text: str
    talk: tuple[TalkLine, ...]
    checks: tuple[tuple[str, str], ...]
    deviations: tuple[DeviationView, ...]
    lots: tuple[LotLine, ...]
    place: Place
    checkpoint: str
    is_covered: bool


def log_row(row: CoolingRecord, *, days: int, style: Style) -> LogRow:
    """A log in the list, with what is to be done and until when."""
    meaning, words = VERDICTS[row.verdict]
    closed_at = row.closed_at or row.opened_at
    review = getattr(row, "review", None)
    due_on = working_days_after(day=style.day_of(closed_at), days=days)
    told, is_urgent = _review_words(review, due_on, style)
    return LogRow(
        kitchen=row.kitchen.code,
        kitchen_name=row.kitchen.name,
        path=row.subject.removeprefix("cooling/"),
        title=_title(row),
        formula=str(row.sheet.get("formula", "")),
        place=", ".join(
            part for part in (row.run.pot.name if row.run.pot else "", row.device.name if row.device else "") if part
        ),
        closed=style.when(closed_at),
        meaning=meaning,
        verdict=words,
        deviations=tuple((each.number, each.state) for each in row.deviations.all()),
        review=told,
        is_urgent=is_urgent,
    )


def _title(row: CoolingRecord) -> str:
    title = f"{row.run.code} {row.draw} draw" if row.draw != "reduction" else f"{row.run.code} reduction"
    if row.group > 1:
        title += f", group {row.group}"
    return title if row.attempt == 1 else f"{title}, attempt {row.attempt}"


def _review_words(review: Review | None, due_on: date, style: Style) -> tuple[str, bool]:
    state = "waiting" if review is None else review.state
    if state == "signed" and review is not None and review.signature is not None:
        return f"signed by {review.signature.by_name}, {style.when(review.signature.made_at)}", False
    if state == "refused":
        return "refused", False
    late = due_on < style.day_of(style.now)
    when = f"overdue since {style.day(due_on + timedelta(days=1))}" if late else f"due {style.day(due_on)}"
    parts = ["signature lost" if state == "lost" else "", "question open" if review and review.asked else "", when]
    return ", ".join(part for part in parts if part), late


def log_view(found: ReviewedLog, *, style: Style) -> LogView:
    """Put one log into words and a drawing."""
    log, late = _calm(found.log)
    clock = Clock.spanning(log.heading.time_zone, log.opened_at, log.closed_at)
    corridor = log_corridor(log, clock)
    state = "waiting" if found.review is None else found.review.state
    head, text = _state_words(found, style)
    return LogView(
        path=found.subject.removeprefix("cooling/"),
        title=_title(found.row),
        meaning=VERDICTS[log.verdict][0],
        told=cooling_record_view(log),
        wide=cooling_glance(corridor, _WIDE),
        narrow=cooling_glance(corridor, _NARROW),
        late=late,
        pot=found.row.run.pot.name if found.row.run.pot else "",
        state=state,
        state_head=head,
        state_text=text,
        talk=tuple(_talk(found, style)),
        checks=tuple(_check_words(each, style) for each in found.checks),
        deviations=tuple(deviation_view(each, found.actions[each.number], style=style) for each in found.deviations),
        lots=tuple(_lot(each) for each in found.lots),
        place=found.place,
        checkpoint=style.when(found.place.checkpoint.signed_at) if found.place.checkpoint else "",
        is_covered=found.place.checkpoint is not None and found.place.checkpoint.size >= found.place.last,
    )


def _calm(log: CompletedCoolingLog) -> tuple[CompletedCoolingLog, str]:
    """Of many readings of probes that came in late, that is said once and not beside each of them."""
    late = [each for each in log.readings if each.from_probe and any(map(_is_lateness, each.notes))]
    if len(log.readings) <= MOST_IN_FULL or not late:
        return log, ""
    calm = tuple(
        replace(each, notes=tuple(note for note in each.notes if not _is_lateness(note))) if each.from_probe else each
        for each in log.readings
    )
    most = max(minutes_between(each.measured_at, each.entered_at) for each in late)
    return replace(log, readings=calm), f"{len(late)} readings of probes came in late, up to {duration_text(most)}."


def _is_lateness(note: str) -> bool:
    return note.startswith("entered ") and note.endswith(" min after measuring")


def _state_words(found: ReviewedLog, style: Style) -> tuple[str, str]:
    review = found.review
    if review is None or review.signature is None or review.state in ("waiting", "refused"):
        refused = review is not None and review.state == "refused"
        return ("Refused", "An inspector has refused to verify this log.") if refused else ("", "")
    entry = review.signature
    when = f"{entry.content['printed_name']}, {style.when(entry.made_at)}: {entry.content['says']}"
    if review.state == "lost":
        return "Signature lost", f"Something was added after it was signed by {when} It waits to be signed again."
    return "Signed", when


# --- what was said ----------------------------------------------------------------------------------------------------


def _talk(found: ReviewedLog, style: Style) -> Iterable[TalkLine]:
    stands = found.review.signature_id if found.review and found.review.state == "signed" else None
    for each in found.talk:
        head, text = _said(each)
        struck = each.kind == "verified" and each.pk != stands
        yield TalkLine(
            number=each.number,
            head=f"{head} – does not stand any more" if struck else head,
            by=each.by_name,
            at=style.when(each.made_at),
            text=text,
            struck=struck,
        )


def _said(entry: Entry) -> tuple[str, str]:
    said = entry.content
    match entry.kind:
        case "verified":
            findings = f" Findings: {said['findings']}" if said.get("findings") else ""
            return "Signed", f"{said.get('says', '')}{findings}"
        case "question_asked":
            return "Asked", str(said.get("question", ""))
        case "question_answered":
            return "Answered", str(said.get("answer", ""))
        case _:
            return "Refused", str(said.get("why", ""))


# --- thermometers and lots --------------------------------------------------------------------------------------------


def _check_words(state: CheckState, style: Style) -> tuple[str, str]:
    """A thermometer and how far its readings can be trusted."""
    before = "never checked before this log" if state.before is None else _found(state.before, "last checked", style)
    after = "" if state.after is None else f"; {_found(state.after, 'checked again', style)}"
    doubt = state.after is not None and not state.after.passed
    ends = ". Its readings since the last good check are in doubt." if doubt else ""
    return state.name, f"{before}{after}{ends}"


def _found(check: Check, what: str, style: Style) -> str:
    off = f", {check.off.replace('-', '−')}° off" if check.off else ""
    return f"{what} {style.when(check.at)}{off}: {'good' if check.passed else 'failed'} (entry {check.number})"


def _lot(lot: Lot) -> LotLine:
    return LotLine(
        code=lot.code,
        product=lot.product.name,
        state=LOT_STATES[lot.status],
        left=f"{lot.left} of {lot.containers} left",
        moves=tuple(_move(each) for each in lot.moves.all()),
    )


def _move(move: LotMove) -> str:
    to = f" {move.outlet.name}" if move.outlet is not None else ""
    return f"{abs(move.containers)} {_MOVED[move.kind]}{to}"


def titles(rows: Sequence[CoolingRecord]) -> tuple[tuple[str, str], ...]:
    """Paths and names of logs for a short list."""
    return tuple((each.subject.removeprefix("cooling/"), _title(each)) for each in rows)
