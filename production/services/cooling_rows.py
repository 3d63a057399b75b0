"""A cooling's row under lock, its readings in the order of measuring, and what is read off from them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from decimal import Decimal
from functools import cache
from hashlib import sha256
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet
from django.http import Http404

from production.domain.limits import CoolingRule, TempUnit, rule
from production.domain.records.logs import (
    Facts,
    Kept,
    asked_anew,
    in_order,
    judge_log,
    log_digest,
    log_digest_from_json,
    log_digest_to_json,
    thin_curve,
)
from production.domain.records.questions import Around, doubted_side, planned_rate_per_h
from production.domain.records.readings import Reading as Taken
from production.domain.records.typed import Typed, corrected_temp
from production.domain.records.verdicts import Verdict
from production.domain.thermal.properties import boiling_point_c
from production.models import CoolingDevice, CoolingRecord, Entry, Lot, Membership, Reading, Thermometer

MOST_RANGES = 60
UNKNOWN_COOLANT_C = -40.0  # colder than any device: nothing is asked
_COLUMNS = (
    "pk", "measured_at", "temp", "unit", "excluded", "question", "confirmed", "thermometer__kind",
)  # fmt: skip


def cooling_locked(*, by: Membership, subject: str) -> CoolingRecord:
    """The cooling of this name, for this transaction alone; whoever writes to a cooling holds it first."""
    found = (
        CoolingRecord.objects.select_for_update(of=("self",))
        .select_related("kitchen", "device", "run", "week")
        .filter(kitchen_id=by.kitchen_id, subject=subject)
        .first()
    )
    if found is None:
        raise Http404("This kitchen has no such cooling.")
    _lots_locked(found)
    return found


def _lots_locked(cooling: CoolingRecord) -> None:
    """Its lots may have to be held; whoever sends them out takes the lots before the book too."""
    parts = Q(coolings__run=cooling.run_id, coolings__sheet__parted_from=cooling.subject)
    lots = Lot.objects.filter(Q(coolings=cooling) | parts).order_by()
    list(Lot.objects.select_for_update().filter(pk__in=lots.values("pk")).order_by("pk").values_list("pk"))


def parts_locked(cooling: CoolingRecord, *, since: datetime) -> list[CoolingRecord]:
    """Groups that were parted from it since then, for this transaction alone: they rest on its readings too."""
    rows = CoolingRecord.objects.select_for_update(of=("self",)).select_related("kitchen", "device", "run", "week")
    parts = rows.filter(run=cooling.run_id, sheet__parted_from=cooling.subject, opened_at__gte=since)
    return list(parts.order_by("pk"))


def attempts_of(cooling: CoolingRecord) -> int:
    """How often it has been cooled, with what it went through before it was parted from a group."""
    attempts, parted = cooling.attempt, str(cooling.sheet.get("parted_from", ""))
    while parted:
        whole = CoolingRecord.objects.get(kitchen_id=cooling.kitchen_id, subject=parted)
        attempts, parted = attempts + whole.attempt - 1, str(whole.sheet.get("parted_from", ""))
    return attempts


def law_of(cooling: CoolingRecord) -> CoolingRule:
    """The rule it was opened under."""
    return rule(cooling.rule)


def zone_of(cooling: CoolingRecord) -> ZoneInfo:
    """The kitchen's clock."""
    return ZoneInfo(cooling.kitchen.time_zone)


def kept_readings(cooling: CoolingRecord) -> list[Kept]:
    """All readings of the log in the order of measuring; of a part, those of the whole up to the parting too."""
    rows = _columns(Reading.objects.filter(cooling=cooling))
    parted = str(cooling.sheet.get("parted_from", ""))
    if parted:
        whole = Reading.objects.filter(cooling__kitchen_id=cooling.kitchen_id, cooling__subject=parted)
        rows += _columns(whole.filter(measured_at__lte=cooling.opened_at))
    return in_order(rows)


def _columns(readings: QuerySet[Reading]) -> list[Kept]:
    return [
        Kept(Taken(at, Decimal(temp), unit, excluded), question, confirmed, kind == Thermometer.Kind.PROBE, pk)
        for pk, at, temp, unit, excluded, question, confirmed, kind in readings.values_list(*_COLUMNS)
    ]


def facts_of(cooling: CoolingRecord) -> Facts:
    """What is on record besides the readings."""
    return Facts(event_at=cooling.event_at, hot_fact_at=cooling.hot_fact_at)


def around_of(cooling: CoolingRecord) -> Around:
    """What surrounds the vessels and what was planned, for judging whether a reading is likely."""
    coolant_c = _coolant_c(cooling)
    curve = tuple((float(each["minute"]), float(each["temp_c"])) for each in cooling.sheet.get("expected", ()))
    rate = planned_rate_per_h(curve, coolant_c=coolant_c) if curve else None
    return Around(
        boiling_c=_boiling_c(cooling.kitchen.altitude_m),
        coolant_c=coolant_c,
        rate_per_h=rate,
        opened_at=cooling.opened_at,
        drawn_c=float(cooling.sheet["start_temp_c"]) if curve else None,
        chilled_at=_chilled_at(cooling),
    )


@cache
def _boiling_c(altitude_m: float) -> float:
    return boiling_point_c(altitude_m=altitude_m)


def _coolant_c(cooling: CoolingRecord) -> float:
    """The coldest place in which it has been."""
    devices = [cooling.device] if cooling.device is not None else []
    codes = {str(content.get("device", "")) for content in _told(cooling, "moved").values_list("content", flat=True)}
    if codes:
        devices += CoolingDevice.objects.filter(kitchen_id=cooling.kitchen_id, code__in=codes)
    return min((_device_c(each) for each in devices), default=UNKNOWN_COOLANT_C)


def _device_c(device: CoolingDevice) -> float:
    if device.kind == "ice_sink":
        return 0.0
    return UNKNOWN_COOLANT_C if device.air_temp_c is None else device.air_temp_c


def _chilled_at(cooling: CoolingRecord) -> tuple[datetime, ...]:
    """When ice went into the broth itself."""
    told = _told(cooling, "ice_added").order_by("happened_at").values_list("happened_at", "content")
    return tuple(at for at, content in told if content.get("into") == "broth")


def _told(cooling: CoolingRecord, kind: str) -> QuerySet[Entry]:
    """What was done to it, without what was taken back."""
    return Entry.objects.filter(
        kitchen_id=cooling.kitchen_id, subject=cooling.subject, kind=kind, corrections__isnull=True
    )


def cooling_refresh(cooling: CoolingRecord, kept: Sequence[Kept] | None = None) -> Sequence[Kept]:
    """Read everything off from the readings again: questions that stand, digest, curve, count."""
    before = kept_readings(cooling) if kept is None else kept
    after = asked_anew(before, around_of(cooling))
    _questions_store(cooling, before, after)
    cooling.reading_count = len(after)
    cooling.digest = log_digest_to_json(log_digest(law_of(cooling), after, facts_of(cooling)))
    cooling.curve = thin_curve(after, since=cooling.opened_at)
    cooling.save(update_fields=["reading_count", "digest", "curve"])
    return after


def _questions_store(cooling: CoolingRecord, before: Sequence[Kept], after: Sequence[Kept]) -> None:
    changed = [each for was, each in zip(before, after, strict=True) if was.question != each.question]
    for question in {each.question for each in changed}:
        rows = [each.row for each in changed if each.question == question]
        Reading.objects.filter(cooling=cooling, pk__in=rows).update(question=question)


def doubted_in(cooling: CoolingRecord) -> dict[str, list[list[int]]]:
    """Entries of readings that were in doubt: no evidence at all, or judged both without and with them."""
    sides: dict[str, list[int]] = {"cold": [], "either": []}
    for each in asked_anew(kept_readings(cooling), around_of(cooling)):
        side = "none" if each.reading.excluded else doubted_side(each.question, confirmed=each.confirmed)
        if side != "none":
            sides[side].append(each.row)
    rows = Reading.objects.filter(pk__in=[*sides["cold"], *sides["either"]])
    numbers = dict(rows.values_list("pk", "entry__number"))
    cold, either = ([numbers[row] for row in sides[side]] for side in ("cold", "either"))
    return {"no_evidence": _in_ranges(cold), "both_ways": _in_ranges(either)}


def verdict_on(cooling: CoolingRecord, *, now: datetime, closed: bool = False) -> Verdict:
    """How the log stands, by what was read off from its readings."""
    found = log_digest_from_json(cooling.digest)
    return judge_log(law_of(cooling), found, now=now, closed=closed, zone=zone_of(cooling))


def thermometers_of(kitchen_id: int) -> dict[str, Thermometer]:
    """The thermometers on the kitchen's list, by code."""
    return {each.code: each for each in Thermometer.objects.filter(kitchen_id=kitchen_id, retired=False)}


def counted_temp(shown: Typed, thermometer: Thermometer | None) -> Decimal:
    """What counts of what a thermometer has shown."""
    if thermometer is None:
        return shown.temp
    unit: TempUnit = "F" if thermometer.unit == "F" else "C"
    return corrected_temp(shown, correction=thermometer.correction, correction_unit=unit)


def rests_on(numbers: Iterable[int]) -> dict[str, Any]:
    """The numbers of entries as ranges; too many ranges are named by their count and fingerprint."""
    ordered = sorted(numbers)
    ranges = _in_ranges(ordered)
    if len(ranges) <= MOST_RANGES:
        return {"count": len(ordered), "entries": ranges}
    named = ",".join(map(str, ordered)).encode()
    return {"count": len(ordered), "first": ordered[0], "last": ordered[-1], "sha256": sha256(named).hexdigest()}


def _in_ranges(numbers: Iterable[int]) -> list[list[int]]:
    ranges: list[list[int]] = []
    for number in sorted(numbers):
        if ranges and number == ranges[-1][1] + 1:
            ranges[-1][1] = number
        else:
            ranges.append([number, number])
    return ranges
