"""Readings in bulk from a gateway: each probe's readings go to the cooling in which it stood at that time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any

from django.db import transaction

from production.domain.errors import BadQuantity, Conflict, DoesNotFit, PotwrightError
from production.domain.records.settling import settled_at
from production.models import CoolingRecord, Entry, Membership, Thermometer
from production.selectors.access import Action, require
from production.services.cooling_closing import cooling_close_settled
from production.services.cooling_readings import READING, Item, item_of, readings_write
from production.services.cooling_rows import cooling_locked, kept_readings, law_of, thermometers_of
from production.services.floor_answers import Answer, answer_known, refused
from production.services.records import Draft
from production.services.thermometers import PLACED, subject_of

MOST_READINGS = 5000
LONGEST_PLACING = timedelta(days=30)  # who left a probe in place for longer says so again (own choice)
AHEAD = timedelta(minutes=2)


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeReading:
    """One reading as a gateway sends it; without a key, probe and time are its key."""

    probe: str
    at: datetime
    temp: str
    unit: str = ""
    key: str = ""

    @property
    def own_key(self) -> str:
        """What makes it the same reading when it is sent again."""
        return self.key or f"probe/{self.probe}/{self.at.astimezone(UTC).isoformat()}"


@dataclass(frozen=True, slots=True)
class _Placing:
    since: datetime
    cooling: str


def readings_bulk(*, by: Membership, readings: Sequence[ProbeReading], now: datetime) -> list[Answer]:
    """Keep what a gateway has measured; every reading is answered, in the order in which they came."""
    require(by, Action.RECORD)
    if len(readings) > MOST_READINGS:
        raise DoesNotFit(
            f"{len(readings)} readings were sent at once.",
            code="too-many-readings",
            numbers={"readings": len(readings), "most": MOST_READINGS},
            remedy=f"Send at most {MOST_READINGS} at a time.",
        )
    probes = thermometers_of(by.kitchen_id)
    placings = _placings(by, {each.probe for each in readings}, readings)
    refusals: dict[int, Answer] = {}
    answers: dict[str, Answer] = {}
    firsts: dict[str, ProbeReading] = {}
    of_cooling: dict[str, list[ProbeReading]] = defaultdict(list)
    for at, each in enumerate(readings):
        try:
            if firsts.setdefault(each.own_key, each) != each:
                raise _key_used(each)
            of_cooling[_place(each, probes, placings, now)].append(each)
        except PotwrightError as error:
            refusals[at] = refused(each.own_key, error)
    for subject, group in of_cooling.items():
        answers |= _into(by, subject, group, probes, now)
    return [refusals.get(at) or answers[each.own_key] for at, each in enumerate(readings)]


def _place(
    reading: ProbeReading, probes: Mapping[str, Thermometer], placings: Mapping[str, list[_Placing]], now: datetime
) -> str:
    """The cooling in which the probe stood when it measured."""
    if reading.at > now + AHEAD:
        raise BadQuantity(
            "What is recorded lies in the future.",
            code="in-the-future",
            numbers={"ahead_s": round((reading.at - now).total_seconds())},
            remedy="Set the clock of the gateway, then send it again.",
        )
    probe = probes.get(reading.probe)
    if probe is None or probe.kind != Thermometer.Kind.PROBE:
        raise BadQuantity(
            f"The kitchen has no probe {reading.probe[:40]!r}.",
            code="probe-unknown",
            numbers={"probe": reading.probe[:40]},
            remedy="Put it on the list of thermometers, then send its readings again.",
        )
    before = [each for each in placings[reading.probe] if each.since <= reading.at]
    if not before or not before[-1].cooling:
        raise BadQuantity(
            f"{probe.name} stood in no cooling at that time.",
            code="probe-not-placed",
            numbers={"probe": probe.code, "at": reading.at.isoformat()},
            remedy="Say which cooling it stood in and since when, then send its readings again.",
        )
    return before[-1].cooling


def _placings(by: Membership, codes: Iterable[str], readings: Sequence[ProbeReading]) -> dict[str, list[_Placing]]:
    """Where each probe has stood, in the order of time; what was taken back does not count."""
    found: dict[str, list[_Placing]] = defaultdict(list)
    if not readings:
        return found
    entries = Entry.objects.filter(
        kitchen_id=by.kitchen_id,
        kind=PLACED,
        subject__in=[subject_of(code) for code in codes],
        happened_at__gte=min(each.at for each in readings) - LONGEST_PLACING,
        corrections=None,
    )
    for subject, at, content in entries.order_by("happened_at", "number").values_list(
        "subject", "happened_at", "content"
    ):
        found[subject.removeprefix(subject_of(""))].append(_Placing(at, str(content.get("cooling", ""))))
    return found


@transaction.atomic
def _into(
    by: Membership, subject: str, group: Sequence[ProbeReading], probes: Mapping[str, Thermometer], now: datetime
) -> dict[str, Answer]:
    """All new readings of one cooling, in one transaction of its own."""
    cooling = cooling_locked(by=by, subject=subject)
    sent = {each.own_key: each for each in group}
    known = Entry.objects.filter(kitchen_id=by.kitchen_id, key__in=list(sent))
    answers = {entry.key: _answer_again(entry, sent[entry.key]) for entry in known}
    items: dict[str, Item] = {}
    for each in group:
        if each.own_key in answers or each.own_key in items:
            continue
        try:
            items[each.own_key] = _item(cooling, each, probes)
        except PotwrightError as error:
            answers[each.own_key] = refused(each.own_key, error)
    if items:
        ordered = sorted(items.values(), key=lambda item: item.taken.at)
        written = _write(by, cooling, ordered, now)
        answers |= {answer.key: answer for answer in written}
    return answers


def _answer_again(entry: Entry, reading: ProbeReading) -> Answer:
    """The same reading sent again is known; another one under its key would be lost without a word."""
    said = entry.content
    same = (entry.kind, entry.happened_at, said.get("thermometer"), said.get("temp")) == (
        READING,
        reading.at,
        reading.probe,
        reading.temp,
    )
    if same and reading.unit in ("", said.get("unit")):
        return answer_known(entry)
    return refused(entry.key, _key_used(reading))


def _key_used(reading: ProbeReading) -> Conflict:
    return Conflict(
        f"The key {reading.own_key!r} was already used for another record.",
        code="key-used-for-other-record",
        numbers={"probe": reading.probe, "at": reading.at.isoformat()},
        remedy="Send the reading with a new key, or without one: then probe and time are its key.",
    )


def _write(by: Membership, cooling: CoolingRecord, items: Sequence[Item], now: datetime) -> list[Answer]:
    """Write them down up to the moment at which the log is done and closes; what comes later does not belong to it."""
    at = None if cooling.closed_at is not None else _settled_at(cooling, items)
    inside = [item for item in items if at is None or item.taken.at <= at]
    written = readings_write(by=by, cooling=cooling, items=inside, now=now) if inside else []
    if at is None:
        return written
    after = items[len(inside) :]
    if cooling_close_settled(by=by, cooling=cooling, at=at, now=now):
        return written + [
            refused(item.draft.key, _closed_before(str(item.draft.content["thermometer"]), item.taken.at))
            for item in after
        ]
    return written + (readings_write(by=by, cooling=cooling, items=after, now=now) if after else [])


def _settled_at(cooling: CoolingRecord, items: Sequence[Item]) -> datetime | None:
    """When the log, with these readings, has shown its last target for good."""
    kept = [each.reading for each in kept_readings(cooling)]
    return settled_at(law_of(cooling), [*kept, *(item.taken for item in items)])


def _item(cooling: CoolingRecord, each: ProbeReading, probes: Mapping[str, Thermometer]) -> Item:
    if cooling.closed_at is not None and each.at > cooling.closed_at:
        raise _closed_before(each.probe, each.at)
    content: dict[str, Any] = {
        "temp": each.temp,
        "unit": each.unit or probes[each.probe].unit,
        "thermometer": each.probe,
    }
    draft = Draft(kind=READING, subject=cooling.subject, content=content, happened_at=each.at, key=each.own_key)
    return replace(item_of(cooling, draft, at=each.at, thermometers=probes), is_from_probe=True)


def _closed_before(probe: str, at: datetime) -> BadQuantity:
    return BadQuantity(
        "The cooling in which this probe stood was closed before that.",
        code="probe-not-placed",
        numbers={"probe": probe, "at": at.isoformat()},
        remedy="Say which cooling it stands in now.",
    )
