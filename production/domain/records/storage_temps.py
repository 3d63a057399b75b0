"""How cold a store was: when it was too warm, for how long surely and for how long perhaps."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from types import MappingProxyType
from typing import Literal

from production.domain.records.readings import Reading, exact_f
from production.domain.records.receiving import ColdLimit

Measured = Literal["air", "food"]
ExcursionState = Literal["over", "possible", "brief"]

STORING: Mapping[str, ColdLimit] = MappingProxyType(
    {
        "chilled": ColdLimit(
            Decimal(5),
            "FDA Food Code 3-501.16(A)(2): food at 41 °F (5 °C) or colder, read as adopted in Delaware",
            "read",
        ),
        "frozen": ColdLimit(
            Decimal(-15),
            "FDA Food Code 3-501.11: kept frozen, without a number, read as adopted in Maine; the number: Directive "
            "89/108/EEC, -18 °C and at most 3 °C more for short times",
            "memory",
        ),
    }
)
AIR_SOURCE = "How long the air may be warmer (doors, defrosting) is the kitchen's own; common practice, no source."
LOST_AFTER = timedelta(hours=4)  # FDA Food Code 3-501.19: time as control, read as adopted in Delaware


@dataclass(frozen=True, slots=True)
class StoreLimit:
    """What a store must keep."""

    kind: str  # chilled or frozen
    most_c: Decimal
    air_for: timedelta  # so long may the air be warmer; food never


@dataclass(frozen=True, slots=True)
class StoreReading:
    """A reading of a store, of its air or of food in it."""

    reading: Reading
    measured: Measured
    number: int = 0  # of its entry


@dataclass(frozen=True, slots=True)
class Excursion:
    """A time in which a store was too warm, as far as readings tell."""

    measured: Measured
    good_before: datetime | None  # last reading that was cold enough; none: not known
    first: StoreReading
    last: StoreReading
    warmest: StoreReading
    good_after: datetime | None  # first reading that was cold enough again; none: not yet
    shown: timedelta  # surely too warm, if it did not change back between two readings
    longest: timedelta  # too warm at most
    state: ExcursionState

    @property
    def is_over_now(self) -> bool:
        """Whether it has not come to its end."""
        return self.good_after is None

    @property
    def shown_s(self) -> int:
        """So many seconds surely."""
        return int(self.shown.total_seconds())

    @property
    def longest_s(self) -> int:
        """So many seconds at most."""
        return int(self.longest.total_seconds())


def is_too_warm(reading: Reading, *, most_c: Decimal) -> bool:
    """Whether a reading is above a limit.

    Equation: temperature > limit, both exact.
    Units: reading [as typed], most_c [degC]; returns yes or no.
    Valid: every reading.
    Errors: none.
    Source: exact definition of the scales.
    """
    return exact_f(reading.temp, reading.unit) > exact_f(most_c, "C")


def excursions(limit: StoreLimit, readings: Iterable[StoreReading], *, now: datetime) -> tuple[Excursion, ...]:
    """The times in which a store was too warm, in the order in which they began.

    Equation: readings above the limit that follow each other are one time. It lasts surely from its first to its last
        reading, at most from the last good reading before to the first good one after (or now). Food above the limit
        is `over` at once; air when it was surely warmer for longer than it may be, `possible` when it may have been,
        else `brief`. Cold food ends a time of warm air, cold air does not end one of warm food.
    Units: limit (degC, length of time), readings [as typed], now [instant]; returns records.
    Valid: readings of one store in any order; those set aside do not count.
    Errors: none.
    Source: own three-valued reading, as for cooling logs; limits as STORING or the kitchen's own.
    """
    usable = [each for each in readings if not each.reading.excluded]
    ordered = sorted(usable, key=lambda each: (each.reading.at, exact_f(each.reading.temp, each.reading.unit)))
    food = [each for each in ordered if each.measured == "food"]
    air = [each for each in ordered if each.measured == "air" or not _warm(each, limit)]
    found = [*_runs("air", air, limit, now), *_runs("food", food, limit, now)]
    return tuple(sorted(found, key=lambda each: each.first.reading.at))


def _warm(each: StoreReading, limit: StoreLimit) -> bool:
    return is_too_warm(each.reading, most_c=limit.most_c)


def _runs(measured: Measured, ordered: list[StoreReading], limit: StoreLimit, now: datetime) -> list[Excursion]:
    found: list[Excursion] = []
    warm: list[StoreReading] = []
    good: datetime | None = None
    for each in ordered:
        if _warm(each, limit):
            warm.append(each)
            continue
        if warm:
            found.append(_excursion(measured, good, warm, each.reading.at, limit, now))
            warm = []
        good = each.reading.at
    if warm:
        found.append(_excursion(measured, good, warm, None, limit, now))
    return found


def _excursion(
    measured: Measured,
    good_before: datetime | None,
    warm: list[StoreReading],
    good_after: datetime | None,
    limit: StoreLimit,
    now: datetime,
) -> Excursion:
    first, last = warm[0].reading.at, warm[-1].reading.at
    shown = last - first
    longest = (good_after or max(now, last)) - (good_before or first)
    state: ExcursionState = "brief"
    if measured == "food" or shown > limit.air_for:
        state = "over"
    elif longest > limit.air_for:
        state = "possible"
    return Excursion(
        measured=measured,
        good_before=good_before,
        first=warm[0],
        last=warm[-1],
        warmest=max(warm, key=lambda each: exact_f(each.reading.temp, each.reading.unit)),
        good_after=good_after,
        shown=shown,
        longest=longest,
        state=state,
    )


def excursion_remedy(limit: StoreLimit, excursion: Excursion) -> str:
    """What to do about it.

    Equation: by what was measured, and whether it may have lasted for 4 h.
    Units: limit, excursion (records); returns a sentence.
    Valid: excursions of chilled and frozen stores.
    Errors: none.
    Source: 4 h: FDA Food Code 3-501.19, read as adopted in Delaware; the rest common practice, no source.
    """
    if limit.kind == "frozen":
        return (
            "Feel whether the food is still frozen hard. What has thawed goes to the fridge and keeps its days; when "
            "in doubt, discard it."
        )
    if excursion.measured == "food" and excursion.longest > LOST_AFTER:
        return (
            "It may have been too warm for more than 4 h: discard what was in it, unless a colder reading of the food "
            "itself shows otherwise."
        )
    if excursion.measured == "food":
        return "Cool it below the limit at once; what may have been too warm for 4 h in all is discarded."
    return "Measure the warmest food in it, not the air, and record that. Look at the door and the fan."
