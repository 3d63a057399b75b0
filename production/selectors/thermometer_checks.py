"""Checks of thermometers, and everything that was measured with one before it was found wrong."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.http import Http404

from production.domain.limits import TempUnit, rule
from production.domain.records.logs import Facts, Kept, in_order, judge_log, log_digest
from production.domain.records.readings import Reading as Taken
from production.domain.records.receiving import CameAs
from production.domain.records.storage_temps import is_too_warm
from production.domain.records.thermometers import judge_if_off
from production.domain.records.typed import Typed, corrected_temp
from production.domain.records.verdicts import State
from production.models import (
    CareSettings,
    CoolingRecord,
    Entry,
    Membership,
    Reading,
    Receipt,
    StorageReading,
    Thermometer,
    ThermometerCheck,
)
from production.selectors.access import Action, require
from production.selectors.care import care_settings, store_limit


@dataclass(frozen=True, slots=True, kw_only=True)
class LogAgain:
    """A cooling log with readings of a thermometer that was wrong: as it stands, and with the error taken out."""

    subject: str
    run: str
    draw: str
    device: str
    opened_at: datetime
    closed: bool
    readings: int  # how many of them are of this thermometer
    stands: State
    would_be: State
    lots: tuple[str, ...]

    @property
    def is_in_doubt(self) -> bool:
        """Whether a log that counts as good would not be shown good."""
        return self.stands is not self.would_be and self.would_be in (State.NOT_SHOWN, State.BREACHED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A reading of a store or a delivery that would be past its limit with the error taken out, or not."""

    subject: str
    name: str
    at: datetime
    temp: str
    unit: TempUnit
    was_too_warm: bool
    would_be_too_warm: bool

    @property
    def is_in_doubt(self) -> bool:
        return self.would_be_too_warm and not self.was_too_warm


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubtful:
    """What a failed check puts in doubt: everything since the last good one."""

    since: datetime | None  # none: there was no good check before
    until: datetime
    off: Decimal
    unit: TempUnit
    logs: tuple[LogAgain, ...]
    stores: tuple[Measured, ...]
    deliveries: tuple[Measured, ...]

    @property
    def lots_in_doubt(self) -> tuple[str, ...]:
        """Lots whose logs would not be shown good."""
        return tuple(dict.fromkeys(code for log in self.logs if log.is_in_doubt for code in log.lots))


def thermometer_of(*, by: Membership, code: str) -> Thermometer:
    """A thermometer of this kitchen, in use or retired."""
    require(by, Action.SEE_RECORDS)
    found = Thermometer.objects.filter(kitchen_id=by.kitchen_id, code=code).first()
    if found is None:
        raise Http404("This kitchen has no such thermometer.")
    return found


def standing_checks() -> QuerySet[ThermometerCheck]:
    """Checks that nobody has taken back."""
    return ThermometerCheck.objects.filter(entry__corrections=None)


def checks_of(*, by: Membership, thermometer: Thermometer) -> QuerySet[ThermometerCheck]:
    """Its checks, the newest first; those taken back too."""
    require(by, Action.SEE_RECORDS)
    rows = ThermometerCheck.objects.filter(kitchen_id=by.kitchen_id, thermometer=thermometer)
    later = Entry.objects.filter(corrects=OuterRef("entry"))
    return rows.annotate(taken_back=Exists(later)).select_related("entry").order_by("-checked_at", "-pk")


def newest_check(*, by: Membership, thermometer: Thermometer) -> ThermometerCheck | None:
    """The newest check that stands."""
    require(by, Action.SEE_RECORDS)
    rows = standing_checks().filter(kitchen_id=by.kitchen_id, thermometer=thermometer).select_related("entry")
    return rows.order_by("-checked_at", "-pk").first()


def last_checks(*, by: Membership) -> dict[str, ThermometerCheck]:
    """The newest check of each thermometer, by its code."""
    require(by, Action.SEE_RECORDS)
    rows = standing_checks().filter(kitchen_id=by.kitchen_id).order_by("checked_at", "pk")
    newest: dict[int, int] = dict(rows.values_list("thermometer_id", "pk"))
    found = ThermometerCheck.objects.filter(pk__in=newest.values()).select_related("thermometer")
    return {each.thermometer.code: each for each in found}


def check_of(*, by: Membership, code: str, number: int) -> ThermometerCheck:
    """The check that this entry of the book tells."""
    require(by, Action.SEE_RECORDS)
    rows = ThermometerCheck.objects.select_related("thermometer", "entry", "kitchen")
    found = rows.filter(kitchen_id=by.kitchen_id, thermometer__code=code, entry__number=number).first()
    if found is None:
        raise Http404("This thermometer has no such check.")
    return found


def doubtful_since(*, check: ThermometerCheck, now: datetime) -> Doubtful:
    """Everything measured with the thermometer between its last good check and this one."""
    since = _last_good(check)
    unit: TempUnit = "F" if check.unit == "F" else "C"
    off = Decimal(check.off)
    return Doubtful(
        since=since,
        until=check.checked_at,
        off=off,
        unit=unit,
        logs=_logs(check, since, off, unit, now),
        stores=_stores(check, since, off, unit),
        deliveries=_deliveries(check, since, off, unit),
    )


def _last_good(check: ThermometerCheck) -> datetime | None:
    before = standing_checks().filter(thermometer_id=check.thermometer_id, fit=True)
    earlier = before.filter(checked_at__lt=check.checked_at).order_by("-checked_at", "-pk")
    return earlier.values_list("checked_at", flat=True).first()


def _between(name: str, since: datetime | None, until: datetime) -> Q:
    inside = Q(**{f"{name}__lte": until})
    return inside if since is None else inside & Q(**{f"{name}__gt": since})


def _logs(
    check: ThermometerCheck, since: datetime | None, off: Decimal, unit: TempUnit, now: datetime
) -> tuple[LogAgain, ...]:
    rows = _rows_of_logs(check, since)
    coolings = CoolingRecord.objects.filter(pk__in=rows).select_related("run", "device", "kitchen")
    found = list(coolings.prefetch_related("lots").defer("curve").order_by("opened_at", "pk"))
    kept = _kept(found)
    return tuple(_log(each, kept[each.pk], rows[each.pk], off, unit, now) for each in found)


def _rows_of_logs(check: ThermometerCheck, since: datetime | None) -> dict[int, set[int]]:
    """The readings in doubt, by log; those of a group are also in the logs of what was parted from it later."""
    mine = Reading.objects.filter(_between("measured_at", since, check.checked_at), thermometer=check.thermometer_id)
    rows: dict[int, set[int]] = defaultdict(set)
    by_subject: dict[str, list[tuple[int, datetime]]] = defaultdict(list)
    for cooling_id, subject, pk, at in mine.order_by().values_list(
        "cooling_id", "cooling__subject", "pk", "measured_at"
    ):
        rows[cooling_id].add(pk)
        by_subject[subject].append((pk, at))
    parts = CoolingRecord.objects.filter(kitchen_id=check.kitchen_id, sheet__parted_from__in=list(by_subject))
    for part, whole, opened_at in parts.order_by().values_list("pk", "sheet__parted_from", "opened_at"):
        shared = {pk for pk, at in by_subject[whole] if at <= opened_at}
        if shared:
            rows[part] |= shared
    return rows


def _kept(coolings: Sequence[CoolingRecord]) -> dict[int, list[Kept]]:
    """The readings of each log; those of a part begin with those of the whole."""
    parted = {each.pk: str(each.sheet.get("parted_from", "")) for each in coolings}
    wholes = [subject for subject in parted.values() if subject]
    kitchen_id = coolings[0].kitchen_id if coolings else 0
    columns = ("pk", "cooling__subject", "measured_at", "temp", "unit", "excluded", "question", "confirmed",
               "thermometer__kind")  # fmt: skip
    wanted = Q(cooling__in=[each.pk for each in coolings]) | Q(cooling__subject__in=wholes)
    by_subject: dict[str, list[Kept]] = defaultdict(list)
    for pk, subject, at, temp, unit, excluded, question, confirmed, kind in (
        Reading.objects.filter(wanted, cooling__kitchen_id=kitchen_id).order_by().values_list(*columns)
    ):
        taken = Taken(at, Decimal(temp), unit, excluded)
        by_subject[subject].append(Kept(taken, question, confirmed, kind == Thermometer.Kind.PROBE, pk))
    return {
        each.pk: in_order(
            [
                *by_subject[each.subject],
                *(one for one in by_subject.get(parted[each.pk], ()) if one.reading.at <= each.opened_at),
            ]
        )
        for each in coolings
    }


def _log(
    cooling: CoolingRecord, kept: Sequence[Kept], rows: set[int], off: Decimal, unit: TempUnit, now: datetime
) -> LogAgain:
    law, closed, zone = rule(cooling.rule), cooling.closed_at is not None, ZoneInfo(cooling.kitchen.time_zone)
    facts = Facts(event_at=cooling.event_at, hot_fact_at=cooling.hot_fact_at)
    stands = judge_log(law, log_digest(law, kept, facts), now=now, closed=closed, zone=zone).state
    would = judge_if_off(law, kept, facts, rows=rows, off=off, unit=unit, now=now, closed=closed, zone=zone)
    return LogAgain(
        subject=cooling.subject,
        run=cooling.run.code,
        draw=cooling.draw,
        device=cooling.device.name if cooling.device else "",
        opened_at=cooling.opened_at,
        closed=closed,
        readings=len(rows),
        stands=State(cooling.verdict) if cooling.verdict else stands,
        would_be=would.state,
        lots=tuple(sorted(lot.code for lot in cooling.lots.all())),
    )


def _stores(check: ThermometerCheck, since: datetime | None, off: Decimal, unit: TempUnit) -> tuple[Measured, ...]:
    care = care_settings(kitchen=check.kitchen)
    rows = StorageReading.objects.filter(
        _between("measured_at", since, check.checked_at), thermometer=check.thermometer_id, excluded=False
    )
    return tuple(
        _measured(
            f"store/{each.store.code}",
            each.store.name,
            Taken(each.measured_at, Decimal(each.temp), _unit(each.unit)),
            store_limit(care=care, kind=each.store.kind).most_c,
            (off, unit),
        )
        for each in rows.select_related("store")
    )


def _deliveries(check: ThermometerCheck, since: datetime | None, off: Decimal, unit: TempUnit) -> tuple[Measured, ...]:
    care = care_settings(kitchen=check.kitchen)
    rows = Receipt.objects.filter(
        _between("received_at", since, check.checked_at), thermometer=check.thermometer_id, accepted=True
    ).exclude(temp="")
    return tuple(
        _measured(
            f"receipt/{each.code}",
            each.ingredient.name,
            Taken(each.received_at, Decimal(each.temp), _unit(each.unit)),
            receiving_most_c(care, each.came_as),
            (off, unit),
        )
        for each in rows.select_related("ingredient").order_by("received_at", "pk")
    )


def receiving_most_c(care: CareSettings, came_as: CameAs | str) -> Decimal:
    """How warm a delivery may be."""
    return care.receive_frozen_c if came_as == "frozen" else care.receive_chilled_c


def _unit(text: str) -> TempUnit:
    return "F" if text == "F" else "C"


def _measured(subject: str, name: str, taken: Taken, most_c: Decimal, error: tuple[Decimal, TempUnit]) -> Measured:
    off, unit = error
    true = corrected_temp(Typed(taken.temp, taken.unit), correction=-off, correction_unit=unit)
    return Measured(
        subject=subject,
        name=name,
        at=taken.at,
        temp=f"{taken.temp:f}",
        unit=taken.unit,
        was_too_warm=is_too_warm(taken, most_c=most_c),
        would_be_too_warm=is_too_warm(Taken(taken.at, true, taken.unit), most_c=most_c),
    )
