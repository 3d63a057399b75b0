"""How cold the stores are and were: readings, times in which one was too warm, and when nobody has looked."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from django.db.models import QuerySet
from django.http import Http404

from production.domain.limits import TempUnit
from production.domain.records.readings import Reading
from production.domain.records.storage_temps import Excursion, StoreLimit, StoreReading, excursions
from production.models import CareSettings, Membership, StorageReading, Store
from production.selectors.access import Action, require
from production.selectors.care import care_settings, store_limit

LOOKED_BACK = timedelta(days=7)


@dataclass(frozen=True, slots=True, kw_only=True)
class StoreNow:
    """A store, its limit, what was read in the time looked at, and what follows."""

    store: Store
    limit: StoreLimit
    readings: tuple[StoreReading, ...]
    excursions: tuple[Excursion, ...]
    last: StoreReading | None
    is_overdue: bool  # nobody has read it for longer than the kitchen allows

    @property
    def serious(self) -> tuple[Excursion, ...]:
        """Times that were or may have been too long."""
        return tuple(each for each in self.excursions if each.state != "brief")


def stores_now(*, by: Membership, now: datetime, back: timedelta = LOOKED_BACK) -> tuple[StoreNow, ...]:
    """All stores in use, in three queries."""
    require(by, Action.SEE_RECORDS)
    care = care_settings(kitchen=by.kitchen)
    stores = list(Store.objects.filter(kitchen_id=by.kitchen_id, retired=False))
    readings = _readings(stores, since=now - back)
    return tuple(store_as_read(store=each, readings=readings[each.pk], care=care, now=now) for each in stores)


def store_now(*, by: Membership, code: str, now: datetime, back: timedelta = LOOKED_BACK) -> StoreNow:
    """One store."""
    require(by, Action.SEE_RECORDS)
    store = Store.objects.filter(kitchen_id=by.kitchen_id, code=code).first()
    if store is None:
        raise Http404("This kitchen has no such store.")
    readings = _readings([store], since=now - back)
    return store_as_read(store=store, readings=readings[store.pk], care=care_settings(kitchen=by.kitchen), now=now)


def store_as_read(*, store: Store, readings: Sequence[StoreReading], care: CareSettings, now: datetime) -> StoreNow:
    """A store by its readings."""
    limit = store_limit(care=care, kind=store.kind)
    usable = [each for each in readings if not each.reading.excluded]
    last = max(usable, key=lambda each: each.reading.at, default=None)
    wait = timedelta(hours=care.store_every_hours)
    return StoreNow(
        store=store,
        limit=limit,
        readings=tuple(readings),
        excursions=excursions(limit, usable, now=now),
        last=last,
        is_overdue=last is None or now - last.reading.at > wait,
    )


def store_rows(*, by: Membership, store: Store, since: datetime) -> QuerySet[StorageReading]:
    """The readings of a store with who took them, the newest first; those set aside too."""
    require(by, Action.SEE_RECORDS)
    rows = StorageReading.objects.filter(kitchen_id=by.kitchen_id, store=store, measured_at__gte=since)
    return rows.select_related("entry", "thermometer").order_by("-measured_at", "-pk")


def _readings(stores: Sequence[Store], *, since: datetime) -> Mapping[int, list[StoreReading]]:
    rows = StorageReading.objects.filter(store__in=[each.pk for each in stores], measured_at__gte=since)
    found: dict[int, list[StoreReading]] = defaultdict(list)
    columns = ("store_id", "measured_at", "measured", "temp", "unit", "excluded", "entry__number")
    for store_id, at, measured, temp, unit, excluded, number in rows.order_by("measured_at", "pk").values_list(
        *columns
    ):
        found[store_id].append(store_reading(at, measured, temp, unit, number, excluded=excluded))
    return found


def store_reading(
    at: datetime, measured: str, temp: str, unit: str, number: int, *, excluded: bool = False
) -> StoreReading:
    """A row as the domain reads it."""
    shown: TempUnit = "F" if unit == "F" else "C"
    return StoreReading(Reading(at, Decimal(temp), shown, excluded), "food" if measured == "food" else "air", number)
