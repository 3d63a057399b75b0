"""Temperatures of stores: kept always, asked about where the store is too warm, and told as a deviation in time."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.http import Http404

from production.domain.errors import BadQuantity, Conflict
from production.domain.limits import TempUnit, to_celsius
from production.domain.records.readings import Reading
from production.domain.records.receiving import most_words
from production.domain.records.storage_temps import Excursion, StoreLimit, excursion_remedy, is_too_warm
from production.domain.records.thermometers import standing_words
from production.domain.records.typed import corrected_temp, typed_temp
from production.models import Entry, Kitchen, Membership, StorageReading, Store, Thermometer
from production.models.receiving import MEASURED
from production.selectors.access import Action, require
from production.selectors.care import care_settings
from production.selectors.storage_temps import StoreNow, store_now, stores_now
from production.services.deviations import deviation_open
from production.services.floor_answers import Answer, Question, answer_known, answer_of, question_content
from production.services.program import program_of
from production.services.records import Draft, entries_append

READ, SET_ASIDE = "storage_temp", "storage_temp_excluded"
COLDEST_C, WARMEST_C = -60, 40  # what lies outside is hardly a store (own choice)
LOOKED_BACK = timedelta(days=2)  # for what a new reading begins or goes on with


def storage_temp_take(by: Membership, draft: Draft, now: datetime) -> Answer:
    """Keep the temperature of a store's air, or of food in it; one that corrects another takes its place."""
    require(by, Action.RECORD)
    store = _store_locked(by, draft.subject)
    known = Entry.objects.filter(kitchen_id=by.kitchen_id, key=draft.key).first()
    if known is not None:
        return answer_known(known)
    before = _corrected(store, draft)
    thermometer = _thermometer(by, str(draft.content.get("thermometer", "")))
    reading = _reading(by, draft, thermometer, at=before.measured_at if before else draft.happened_at)
    draft.content["counted"] = f"{reading.temp:f} {reading.unit}"
    _mark(by, draft, thermometer, reading)
    _ask(by, store, draft, reading)
    entry = entries_append(by=by, drafts=[draft], now=now).entries[0]
    if before is not None:
        StorageReading.objects.filter(pk=before.pk).update(excluded=True)
    StorageReading.objects.create(
        kitchen=by.kitchen,
        store=store,
        entry=entry,
        thermometer=thermometer,
        measured_at=reading.at,
        measured=_measured(draft.content),
        temp=f"{reading.temp:f}",
        unit=reading.unit,
    )
    excursions_tell(by=by, found=store_now(by=by, code=store.code, now=now, back=LOOKED_BACK), now=now)
    return answer_of(entry)


def storage_temp_exclude(by: Membership, draft: Draft, now: datetime) -> Answer:
    """Set a reading aside, with the reason: it was of another store, or the probe lay outside."""
    require(by, Action.RECORD)
    store = _store_locked(by, draft.subject)
    known = Entry.objects.filter(kitchen_id=by.kitchen_id, key=draft.key).first()
    if known is not None:
        return answer_known(known)
    row = _corrected(store, draft)
    if row is None:
        raise _no_such_reading()
    draft.content.update({"temp": row.temp, "unit": row.unit, "same_person": row.entry.by_id == by.user_id})
    entry = entries_append(by=by, drafts=[draft], now=now).entries[0]
    StorageReading.objects.filter(pk=row.pk).update(excluded=True)
    return answer_of(entry)


def stores_watch(*, now: datetime) -> int:
    """Look at all stores, as time alone may make a warm one a deviation; returns for how many stores one stands."""
    return sum(
        excursions_tell(by=program_of(kitchen), found=each, now=now)
        for kitchen in Kitchen.objects.filter(storage_readings__measured_at__gte=now - LOOKED_BACK).distinct()
        for each in stores_now(by=_looking(kitchen), now=now, back=LOOKED_BACK)
    )


def _looking(kitchen: Kitchen) -> Membership:
    """The program may do nothing but write what it finds; for looking it stands in a manager's place."""
    return Membership(kitchen=kitchen, role=Membership.Role.MANAGER)


def excursions_tell(*, by: Membership, found: StoreNow, now: datetime) -> bool:
    """Open a deviation about the newest time in which a store was, or may have been, too warm for too long."""
    serious = found.serious
    if not serious:
        return False
    worst = serious[-1]
    facts = {
        "sentence": excursion_sentence(found.store, found.limit, worst),
        "remedy": excursion_remedy(found.limit, worst),
        "measured": worst.measured,
        "warmest": worst.warmest.reading.text,
        "shown_min": worst.shown_s // 60,
        "longest_min": worst.longest_s // 60,
        "entry": worst.first.number,
    }
    key = f"excursion/{worst.first.number}"
    deviation_open(by=by, kind="storage", subject=f"store/{found.store.code}", facts=facts, key=key, now=now)
    return True


def excursion_sentence(store: Store, limit: StoreLimit, excursion: Excursion) -> str:
    """What was too warm, how warm, and for how long surely and perhaps."""
    what = "Food in" if excursion.measured == "food" else "The air of"
    most = most_words(limit.most_c, unit=excursion.warmest.reading.unit)
    return (
        f"{what} {store.name} was {excursion.warmest.reading.text}, above {most}: for {excursion.shown_s // 60} min "
        f"surely, for up to {excursion.longest_s // 60} min as far as readings show."
    )


def _mark(by: Membership, draft: Draft, thermometer: Thermometer | None, reading: Reading) -> None:
    """A reading counts whatever its thermometer is; what speaks against it stands beside it."""
    if not draft.content.get("thermometer"):
        return
    due = thermometer.check_due_on if thermometer is not None else None
    day = reading.at.astimezone(ZoneInfo(by.kitchen.time_zone)).date()
    word = standing_words(known=thermometer is not None, check_due_on=due, day=day)
    if word:
        draft.content["thermometer_is"] = word


def _ask(by: Membership, store: Store, draft: Draft, reading: Reading) -> None:
    """What is kept with a reading that somebody must look at."""
    care = care_settings(kitchen=by.kitchen)
    most_c = care.store_frozen_c if store.kind == "frozen" else care.store_chilled_c
    temp_c = to_celsius(reading.temp, reading.unit)
    question = None
    if not COLDEST_C <= temp_c <= WARMEST_C:
        question = Question(
            code="store-temp-unlikely",
            sentence=f"{reading.text} is unlikely for {store.name}. It was kept.",
            remedy="If it is wrong, correct it with a reason.",
        )
    elif is_too_warm(reading, most_c=most_c):
        is_food = _measured(draft.content) == "food"
        question = Question(
            code="store-too-warm",
            sentence=f"{reading.text} is above the {most_words(most_c, unit=reading.unit)} of {store.name}.",
            remedy="Move or cool the food at once; it is judged by how long it was warm."
            if is_food
            else "Look at the door and the fan, measure the warmest food in it and record that as well.",
        )
    if question is not None:
        draft.content.update(question_content(question))


def _reading(by: Membership, draft: Draft, thermometer: Thermometer | None, *, at: datetime) -> Reading:
    _measured(draft.content)
    usual: TempUnit = "F" if by.kitchen.units == "us" else "C"
    own: TempUnit = usual if thermometer is None else "F" if thermometer.unit == "F" else "C"
    shown = typed_temp(str(draft.content.get("temp", "")), unit=str(draft.content.get("unit", "")) or own)
    if thermometer is None:
        return Reading(at, shown.temp, shown.unit)
    return Reading(at, corrected_temp(shown, correction=thermometer.correction, correction_unit=own), shown.unit)


def _measured(content: dict[str, Any]) -> str:
    said = str(content.get("measured", "")) or "air"
    if said not in MEASURED:
        raise BadQuantity(
            "Say whether the air of the store was measured, or food in it.",
            code="measured-unknown",
            numbers={"measured": said[:20]},
            remedy="Choose air or food.",
        )
    return said


def _store_locked(by: Membership, subject: str) -> Store:
    rows = Store.objects.select_for_update().filter(kitchen_id=by.kitchen_id, retired=False)
    found = rows.filter(code=subject.removeprefix("store/")).first()
    if found is None:
        raise Http404("This kitchen has no such store.")
    return found


def _thermometer(by: Membership, code: str) -> Thermometer | None:
    """A thermometer that nobody knows is kept in the entry by its code; it corrects nothing."""
    return Thermometer.objects.filter(kitchen_id=by.kitchen_id, code=code, retired=False).first() if code else None


def _corrected(store: Store, draft: Draft) -> StorageReading | None:
    if draft.corrects is None:
        return None
    row = StorageReading.objects.select_related("entry").filter(store=store, entry=draft.corrects).first()
    if row is None or row.excluded:
        raise _no_such_reading()
    return row


def _no_such_reading() -> Conflict:
    return Conflict(
        "This store has no such reading any more.",
        code="no-such-store-reading",
        remedy="Look at the log of the store; somebody may have corrected it already.",
    )
