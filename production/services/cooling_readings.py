"""Readings of coolings: kept always, asked about where they are unlikely, confirmed, entered again or set aside."""

from __future__ import annotations

from bisect import insort
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from production.domain.errors import Conflict, NotAllowed
from production.domain.records.logs import Kept, in_order, questions_about
from production.domain.records.questions import Around, Named, Question
from production.domain.records.readings import Reading as Taken
from production.domain.records.typed import typed_temp
from production.models import CoolingRecord, Entry, Membership, Reading, SafetyPlan, Thermometer
from production.services.cooling_closing import cooling_judge_again, parts_judge_again
from production.services.cooling_rows import (
    around_of,
    cooling_locked,
    cooling_refresh,
    counted_temp,
    kept_readings,
    thermometers_of,
    zone_of,
)
from production.services.floor_answers import Answer, answer_known, answer_of, question_content
from production.services.floor_answers import Question as Asked
from production.services.records import Draft, entries_append

READING, EXCLUDED = "reading", "reading_excluded"


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One reading on its way into a log: what to write down, when it was measured, what it counts as."""

    draft: Draft
    taken: Taken
    thermometer: Thermometer | None
    named: Named
    is_from_probe: bool = False
    is_confirmed: bool = False


def reading_add(by: Membership, draft: Draft, now: datetime) -> Answer:
    """A reading of a log; one that answers a question confirms or replaces the reading that it corrects."""
    cooling = cooling_locked(by=by, subject=draft.subject)
    known = entry_of_key(by, draft)
    if known is not None:
        return answer_known(known)
    at = draft.happened_at if draft.corrects is None else _measured_at(draft.corrects)
    item = item_of(cooling, draft, at=at, thermometers=thermometers_of(by.kitchen_id))
    if draft.corrects is not None:
        return _answer_question(by, cooling, item, now)
    return readings_write(by=by, cooling=cooling, items=[item], now=now)[0]


def reading_exclude(by: Membership, draft: Draft, now: datetime) -> Answer:
    """Set a reading aside: it stays in the log, struck through, and is no evidence any more."""
    cooling = cooling_locked(by=by, subject=draft.subject)
    known = entry_of_key(by, draft)
    if known is not None:
        return answer_known(known)
    row = _corrected_reading(cooling, draft)
    draft.content.update({"temp": row.temp, "unit": row.unit, "same_person": _same_person(by, row)})
    entry = entries_append(by=by, drafts=[draft], now=now).entries[0]
    Reading.objects.filter(pk=row.pk).update(excluded=True)
    _settled(by, cooling, row, entry, now)
    return answer_of(entry)


def _answer_question(by: Membership, cooling: CoolingRecord, item: Item, now: datetime) -> Answer:
    """The same temperature again confirms it; another one takes its place, and the first is set aside."""
    row = _corrected_reading(cooling, item.draft)
    if (row.temp, row.unit) == (f"{item.taken.temp:f}", item.taken.unit):
        draft = replace(item.draft, content=item.draft.content | {"confirms": row.entry.number})
        entry = entries_append(by=by, drafts=[draft], now=now).entries[0]
        Reading.objects.filter(pk=row.pk).update(confirmed=True)
        _settled(by, cooling, row, entry, now)
        return answer_of(entry)
    item.draft.content["same_person"] = _same_person(by, row)
    Reading.objects.filter(pk=row.pk).update(excluded=True)
    return readings_write(by=by, cooling=cooling, items=[item], now=now)[0]


def _settled(by: Membership, cooling: CoolingRecord, row: Reading, entry: Entry, now: datetime) -> None:
    cooling_refresh(cooling)
    cooling_judge_again(by=by, cooling=cooling, because=entry, now=now)
    parts_judge_again(by=by, cooling=cooling, because=entry, measured_at=row.measured_at, now=now)


def _corrected_reading(cooling: CoolingRecord, draft: Draft) -> Reading:
    found = None
    if draft.corrects is not None:
        rows = Reading.objects.select_for_update(of=("self",)).select_related("entry")
        found = rows.filter(cooling=cooling, entry=draft.corrects).first()
    if found is None:
        raise Conflict(
            "This log has no such reading.",
            code="no-such-reading",
            remedy="Open the log again and choose the reading.",
        )
    if found.excluded:
        raise Conflict(
            "This reading has been set aside already.",
            code="reading-set-aside-already",
            numbers={"number": found.entry.number},
            remedy="Look at the log. If a temperature is missing, measure again.",
        )
    return found


def _measured_at(corrected: Entry) -> datetime:
    """A reading that is entered again was still measured when the first was."""
    said = corrected.content.get("measured_at")
    return datetime.fromisoformat(said) if said else corrected.happened_at


def _same_person(by: Membership, row: Reading) -> bool:
    """Whether who took the reading now sets it aside; refused where the plan of the kitchen wants a second person."""
    if row.entry.by_id != by.user_id:
        return False
    if SafetyPlan.objects.filter(kitchen_id=by.kitchen_id, second_person_excludes=True).exists():
        raise NotAllowed(
            "Who took a reading may not set it aside alone.",
            code="second-person-needed",
            numbers={"number": row.entry.number},
            remedy="Ask somebody else to set it aside. Until then it counts.",
        )
    return True


def entry_of_key(by: Membership, draft: Draft) -> Entry | None:
    """What this key has led to already, looked up while the cooling is held."""
    known = Entry.objects.filter(kitchen_id=by.kitchen_id, key=draft.key).first()
    if known is not None and (known.kind, known.subject) != (draft.kind, draft.subject):
        raise Conflict(
            f"The key {draft.key!r} was already used for another record.",
            code="key-used-for-other-record",
            numbers={"number": known.number},
            remedy="Send the new record with a new key.",
        )
    return known


def item_of(cooling: CoolingRecord, draft: Draft, *, at: datetime, thermometers: Mapping[str, Thermometer]) -> Item:
    """Read what was typed, correct it by the thermometer, and keep both."""
    content = draft.content
    usual = "F" if cooling.kitchen.units == "us" else "C"
    shown = typed_temp(str(content.get("temp", "")), unit=str(content.get("unit", "")) or usual)
    code = str(content.get("thermometer", ""))
    thermometer = thermometers.get(code)
    taken = Taken(at=at, temp=counted_temp(shown, thermometer), unit=shown.unit)
    content["counted"] = f"{taken.temp:f} {taken.unit}"
    if at != draft.happened_at:
        content["measured_at"] = at.isoformat()
    return Item(
        draft=draft,
        taken=taken,
        thermometer=thermometer,
        named=_named(cooling, code, thermometer, at, has_list=bool(thermometers)),
        is_from_probe=thermometer is not None and thermometer.kind == Thermometer.Kind.PROBE,
        is_confirmed=content.get("confirmed") is True,
    )


def _named(
    cooling: CoolingRecord, code: str, thermometer: Thermometer | None, at: datetime, *, has_list: bool
) -> Named:
    if not code:
        return "unnamed" if has_list else "known"
    if thermometer is None:
        return "unknown"
    due = thermometer.check_due_on
    return "overdue" if due is None or at.astimezone(zone_of(cooling)).date() > due else "known"


def readings_write(*, by: Membership, cooling: CoolingRecord, items: Sequence[Item], now: datetime) -> list[Answer]:
    """Write new readings of one log down, all at once: entries, rows, and what is read off from them."""
    before = kept_readings(cooling)
    log, around = list(before), around_of(cooling)
    asked = [_asked(log, around, item) for item in items]
    for item, questions in zip(items, asked, strict=True):
        _tell(cooling, item, questions)
    entries = entries_append(by=by, drafts=[item.draft for item in items], now=now).entries
    rows = Reading.objects.bulk_create(
        [_row(cooling, item, entry, questions) for item, entry, questions in zip(items, entries, asked, strict=True)],
        batch_size=500,
    )
    fresh = (_kept(item, row.question, row.pk) for item, row in zip(items, rows, strict=True))
    cooling_refresh(cooling, in_order([*before, *fresh]))
    cooling_judge_again(by=by, cooling=cooling, because=entries[-1], now=now)
    first_at = min(item.taken.at for item in items)
    parts_judge_again(by=by, cooling=cooling, because=entries[-1], measured_at=first_at, now=now)
    return [answer_of(each) for each in entries]


def _kept(item: Item, question: str, row: int = 0) -> Kept:
    return Kept(item.taken, question, item.is_confirmed, item.is_from_probe, row)


def _asked(log: list[Kept], around: Around, item: Item) -> tuple[Question, ...]:
    """What is asked about a reading; it then stands in the log for those after it."""
    here = replace(around, thermometer=item.named, from_probe=item.is_from_probe)
    questions = questions_about(item.taken, log, here)
    kept = _kept(item, questions[0].code if questions else "")
    insort(log, kept, key=lambda each: each.reading.at)
    return questions


def _tell(cooling: CoolingRecord, item: Item, questions: Sequence[Question]) -> None:
    """Questions are kept with the entry: they are asked again whenever it is sent again."""
    content = item.draft.content
    if cooling.closed_at is not None:
        content["added_after_closing"] = True
    if item.named != "known":
        content["thermometer_is"] = item.named
    if questions and item.is_confirmed:
        content["confirmed_against"] = [each.code for each in questions]
    elif questions:
        sentence = " ".join(each.sentence for each in questions)
        content.update(question_content(Asked(code=questions[0].code, sentence=sentence, remedy=questions[0].remedy)))


def _row(cooling: CoolingRecord, item: Item, entry: Entry, questions: Sequence[Question]) -> Reading:
    return Reading(
        cooling=cooling,
        entry=entry,
        thermometer=item.thermometer,
        measured_at=item.taken.at,
        temp=f"{item.taken.temp:f}",
        unit=item.taken.unit,
        question=questions[0].code if questions else "",
        confirmed=item.is_confirmed,
    )
