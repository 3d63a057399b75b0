"""How amounts, times and names are said on paper: the kitchen's units, its own clock, weekdays where they matter."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, NamedTuple
from zoneinfo import ZoneInfo

from production.domain.quantities import System, display_quantity, rounded_text
from production.drawing.measures import LengthUnit, TempUnit, minutes_text, up_to_mark_mm

if TYPE_CHECKING:
    from collections.abc import Iterable

    from production.domain.sheets import Filled, Heading

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


class Amount(NamedTuple):
    """A number and its unit, apart, because the number is set larger."""

    number: str
    unit: str

    def __str__(self) -> str:
        return f"{self.number} {self.unit}"


def day_text(day: date) -> str:
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]} {day.year}"


def joined(parts: Iterable[str]) -> str:
    return ", ".join(parts)


def money_text(amount: Decimal, currency: str) -> str:
    return f"{amount:.2f} {currency}"


@dataclass(frozen=True, slots=True)
class Clock:
    """Local 24 h times; the weekday is named off the first day, the zone where the offset changes on the way."""

    zone: ZoneInfo
    first_day: date
    offset_changes: bool

    @classmethod
    def spanning(cls, time_zone: str, start: datetime, end: datetime) -> Clock:
        zone = ZoneInfo(time_zone)
        first, last = start.astimezone(zone), end.astimezone(zone)
        return cls(zone, first.date(), first.utcoffset() != last.utcoffset())

    def time(self, at: datetime) -> str:
        local = at.astimezone(self.zone)
        text = f"{local:%H:%M} {local:%Z}" if self.offset_changes else f"{local:%H:%M}"
        return text if not self._is_later_day(at) else f"{WEEKDAYS[local.weekday()][:3]} {text}"

    def after(self, before: datetime, at: datetime) -> str:
        """A time read after another one: its weekday is named only where the day has changed between them."""
        same_day = before.astimezone(self.zone).date() == at.astimezone(self.zone).date()
        return self.time(at).split(" ", 1)[1] if same_day and self._is_later_day(at) else self.time(at)

    def _is_later_day(self, at: datetime) -> bool:
        return at.astimezone(self.zone).date() != self.first_day

    def day(self, at: datetime) -> str:
        return day_text(at.astimezone(self.zone).date())

    def moment(self, at: datetime) -> str:
        """Day and time, whatever the first day is."""
        local = at.astimezone(self.zone)
        return f"{WEEKDAYS[local.weekday()][:3]} {local.day} {MONTHS[local.month - 1][:3]}, {local:%H:%M}"


def issue_words(heading: Heading) -> str:
    """Which version this paper is, in place of which: for the head, where it must not be missed."""
    replaces = f", replaces version {heading.replaces}" if heading.replaces is not None else ""
    return f"version {heading.version}{replaces}"


def foot_words(heading: Heading) -> str:
    """Which plan, which version and when: what tells two papers of one run apart."""
    clock = Clock.spanning(heading.time_zone, heading.plan_made_at, heading.plan_made_at)
    issued = f" · issued {clock.moment(heading.issued_at)}" if heading.issued_at is not None else ""
    return (
        f"plan {heading.plan_mark} of {clock.moment(heading.plan_made_at)} · {issue_words(heading)}{issued}"
        f" · parameters {heading.parameter_set}"
    )


@dataclass(frozen=True, slots=True)
class Units:
    """Amounts in the units that the kitchen reads."""

    system: System

    @classmethod
    def of(cls, heading: Heading) -> Units:
        return cls("us" if heading.units == "us" else "metric")

    @property
    def length_unit(self) -> LengthUnit:
        return "in" if self.system == "us" else "mm"

    @property
    def temp_unit(self) -> TempUnit:
        return "F" if self.system == "us" else "C"

    def amount(self, value: float, unit: str) -> Amount:
        """Small weights and volumes go to g and mL, because the kitchen's steps of kg and L would swallow them."""
        if self.system == "metric" and unit == "kg" and 0 < abs(value) < 1:
            return Amount(rounded_text(value * 1000, "1" if abs(value) < 0.1 else "5"), "g")
        if self.system == "metric" and unit == "L" and 0 < abs(value) < 0.1:
            return Amount(rounded_text(value * 1000, "1"), "mL")
        if self.system == "us" and unit == "L" and 0 < abs(value) < 0.1:
            return Amount(*display_quantity(value * 1000, "mL", "us"))
        number, shown = display_quantity(value, unit, self.system)
        return Amount(number.replace("-", "−"), {"C": "°C", "F": "°F", "Bx": "°Bx"}.get(shown, shown))

    def text(self, value: float, unit: str) -> str:
        return str(self.amount(value, unit))

    def from_rim(self, length_mm: float) -> Amount:
        """A distance from the rim up to the next line of a rule, so that nobody overfills."""
        return self.amount(up_to_mark_mm(length_mm, self.length_unit), "mm")

    def filled(self, filled: Filled) -> str:
        pieces = f", {filled.pieces} cubes" if filled.pieces else ""
        return f"{filled.containers} × {filled.container} ({self.text(filled.net_l, 'L')} each){pieces}"


def margin_text(margin_min: float) -> str:
    """What a prediction leaves of a limit."""
    return f"{minutes_text(margin_min)} to spare" if margin_min >= 0 else f"{minutes_text(-margin_min)} too late"
