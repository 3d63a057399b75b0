"""Temperatures as they were read: what may stand in a cooling log, and in which order it counts."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from decimal import Decimal

from production.domain.errors import BadQuantity
from production.domain.limits import TempUnit

TEMP_TEXT = re.compile(r"[+-]?[0-9]{1,4}(\.[0-9]{1,6})?")
YEARS = range(2000, 2100)
_FAHRENHEIT_PER_CELSIUS = Decimal("1.8")
_HIGHEST = 9999
_MOST_DECIMALS = 6


@dataclass(frozen=True, slots=True)
class Reading:
    """One temperature, kept as it was typed, with the moment at which it was measured."""

    at: datetime
    temp: Decimal
    unit: TempUnit
    excluded: bool = False  # set aside by people: kept, but no evidence

    def __post_init__(self) -> None:
        object.__setattr__(self, "at", utc(self.at))
        if not self.temp.is_finite() or abs(self.temp) > _HIGHEST or _decimals(self.temp) > _MOST_DECIMALS:
            raise _unusable_temp(str(self.temp))
        if self.unit not in ("C", "F"):
            raise BadQuantity(
                f"A reading has no unit {self.unit!r}.",
                code="reading-unit",
                numbers={"unit": self.unit},
                remedy="Give C or F, as the thermometer shows.",
            )

    @property
    def text(self) -> str:
        """The temperature as it was typed, with its unit."""
        return f"{self.temp:f} °{self.unit}"


@dataclass(frozen=True, slots=True)
class Evidence:
    """All that is on record about one cooling."""

    readings: tuple[Reading, ...] = ()
    event_at: datetime | None = None  # for rules that count from an event
    hot_fact_at: datetime | None = None  # a record that the food was still at or above the start temperature

    def __post_init__(self) -> None:
        for name in ("event_at", "hot_fact_at"):
            at = getattr(self, name)
            if at is not None:
                object.__setattr__(self, name, utc(at))


def _decimals(temp: Decimal) -> int:
    exponent = temp.as_tuple().exponent
    return -exponent if isinstance(exponent, int) else _MOST_DECIMALS + 1


def _unusable_temp(text: str) -> BadQuantity:
    return BadQuantity(
        f"{text[:40]!r} is not a temperature that can be kept.",
        code="reading-temp",
        numbers={"temp": text[:40]},
        remedy=f'Give digits with a decimal point, at most {_MOST_DECIMALS} decimals, for instance "69.8".',
    )


def utc(at: datetime) -> datetime:
    """An instant in UTC.

    Equation: local time less its offset.
    Units: at [aware moment]; returns [moment in UTC].
    Valid: years 2000 to 2099.
    Errors: BadQuantity `reading-time` without an offset or outside these years.
    Source: own definition.
    """
    if at.tzinfo is None or at.utcoffset() is None or at.year not in YEARS:
        raise BadQuantity(
            f"{at.isoformat()} is not a moment that can be kept.",
            code="reading-time",
            numbers={"at": at.isoformat()},
            remedy="Give date and time of the years 2000 to 2099 with the offset from UTC.",
        )
    return at.astimezone(UTC)


def parse_temp(text: str) -> Decimal:
    """A temperature from text, with every digit that was typed.

    Equation: digits, at most one decimal point, an optional sign.
    Units: text [as typed, without unit]; returns [the unit that was typed beside it].
    Valid: up to 4 digits before and 6 after the point.
    Errors: BadQuantity `reading-temp` for anything else, a comma included.
    Source: own definition.
    """
    if TEMP_TEXT.fullmatch(text.strip()) is None:
        raise _unusable_temp(text)
    return Decimal(text.strip())


def exact_f(temp: Decimal, unit: TempUnit) -> Decimal:
    """A temperature on one scale for comparing, without any rounding.

    Equation: C x 1.8 + 32, which has as few decimals as C and one more; F unchanged.
    Units: temp [F or C as unit says], unit [no quantities]; returns [degF].
    Valid: readings and limits as they may be typed.
    Errors: none.
    Source: exact definition.
    """
    return temp if unit == "F" else temp * _FAHRENHEIT_PER_CELSIUS + 32


def usable(readings: Iterable[Reading]) -> list[tuple[Decimal, Reading]]:
    """What counts as evidence, with its temperature in exact Fahrenheit, in the order of measuring.

    Equation: without those set aside; sorted by the moment of measuring; of equal moments only the hottest.
    Units: readings [as typed]; returns [degF] beside each.
    Valid: any readings, in any order of arrival.
    Errors: none.
    Source: own definition.
    """
    hottest: dict[datetime, tuple[Decimal, Reading]] = {}
    for reading in readings:
        if reading.excluded:
            continue
        temp_f = reading.temp if reading.unit == "F" else exact_f(reading.temp, "C")
        here = temp_f, reading
        before = hottest.get(reading.at)
        hottest[reading.at] = here if before is None else max(before, here, key=_heat)
    return [hottest[at] for at in sorted(hottest)]


def _heat(here: tuple[Decimal, Reading]) -> tuple[Decimal, str]:
    # The text decides between equals, so that the order of arrival never shows.
    return here[0], here[1].text


def as_known_at(evidence: Evidence, moment: datetime) -> Evidence:
    """What was on record at a moment: nothing that was measured later.

    Equation: readings, event and hot fact up to and including the moment.
    Units: evidence (record), moment [instant]; returns a record.
    Valid: any moment.
    Errors: none.
    Source: own definition.
    """
    return replace(
        evidence,
        readings=tuple(each for each in evidence.readings if each.at <= moment),
        hot_fact_at=_unless_later(evidence.hot_fact_at, moment),
    )


def _unless_later(at: datetime | None, moment: datetime) -> datetime | None:
    return None if at is None or at > moment else at


def entered_late(readings: Iterable[Reading]) -> list[Reading]:
    """Readings that were entered after a later one.

    Equation: measured before the latest of those that stand in front of it.
    Units: readings [as typed], in the order in which they arrived; returns the late ones.
    Valid: any readings.
    Errors: none.
    Source: own definition.
    """
    late: list[Reading] = []
    newest: datetime | None = None
    for reading in readings:
        if newest is not None and reading.at < newest:
            late.append(reading)
        else:
            newest = reading.at
    return late
