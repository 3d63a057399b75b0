"""The log of one cooling, reading by reading, and the places that something can be moved to."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from production.domain.records.typed import typed_temp
from production.models import CoolingDevice, CoolingRecord, Membership, Reading
from production.selectors.access import Action, require

NEWEST = 100  # a probe writes one a minute; older ones stand in the completed log


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingRow:
    """One reading of a log, as it was entered and as it counts."""

    number: int
    key: str
    typed: str
    temp: str
    unit: str
    measured_at: datetime
    made_at: datetime
    by: str
    thermometer: str
    is_excluded: bool
    is_asked_about: bool
    is_confirmed: bool


def newest_readings(*, by: Membership, subject: str) -> tuple[ReadingRow, ...]:
    """The newest readings of a log, the last one first."""
    require(by, Action.SEE_RECORDS)
    rows = Reading.objects.filter(cooling__kitchen_id=by.kitchen_id, cooling__subject=subject)
    newest = rows.select_related("entry", "thermometer").order_by("-measured_at", "-pk")[:NEWEST]
    return tuple(
        ReadingRow(
            number=row.entry.number,
            key=row.entry.key,
            typed=_typed(row),
            temp=row.temp,
            unit=row.unit,
            measured_at=row.measured_at,
            made_at=row.entry.made_at,
            by=row.entry.by_name,
            thermometer=row.thermometer.name if row.thermometer else "",
            is_excluded=row.excluded,
            is_asked_about=bool(row.question) and not row.confirmed,
            is_confirmed=row.confirmed,
        )
        for row in newest
    )


def _typed(row: Reading) -> str:
    """What the thermometer showed, written as what counts is written."""
    shown = typed_temp(str(row.entry.content.get("temp", row.temp)), unit=row.unit)
    return f"{shown.temp:f} °{shown.unit}"


def places_to_cool(*, by: Membership) -> tuple[tuple[str, str], ...]:
    """Code and name of the kitchen's cooling devices."""
    require(by, Action.SEE_RECORDS)
    return tuple(CoolingDevice.objects.filter(kitchen_id=by.kitchen_id).values_list("code", "name"))


def names_for_a_part(*, by: Membership, subject: str) -> tuple[tuple[str, str], ...]:
    """What a further group of the same draw would be called in each device, with the name of the device."""
    run_and_draw = subject.rsplit("/", 2)[0]
    rows = CoolingRecord.objects.filter(kitchen_id=by.kitchen_id, subject__startswith=f"{run_and_draw}/")
    taken: dict[str, int] = {}
    for name, group in rows.values_list("subject", "group"):
        device = name.split("/")[-2]
        taken[device] = max(taken.get(device, 0), group)
    places = (*places_to_cool(by=by), ("elsewhere", "somewhere else"))
    return tuple((f"{run_and_draw}/{code}/{taken.get(code, 0) + 1}.1", name) for code, name in places)
