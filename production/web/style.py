"""How one kitchen writes amounts, times and money."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from production.documents.words import Units
from production.domain.quantities import System

if TYPE_CHECKING:
    from production.models import Kitchen, PlanningWeek

_MINUTES_A_DAY = 24 * 60


@dataclass(frozen=True, slots=True)
class Amount:
    """A number with its unit; on a page the unit is set smaller, in a sentence it is `text`."""

    number: str
    unit: str

    @property
    def text(self) -> str:
        return f"{self.number} {self.unit}".strip()

    def __str__(self) -> SafeString:
        if not self.unit:
            return format_html("{}", self.number)
        return format_html('{} <span class="unit">{}</span>', self.number, self.unit)


def unit_text(unit: str) -> str:
    """A unit as it is printed: °C, m², (m² K)."""
    if unit in ("degC", "C"):
        return "°C"
    if unit == "F":
        return "°F"
    return unit.replace("m2", "m²").replace("m3", "m³").replace("F difference", "°F")


def duration_text(minutes: float) -> str:
    """A span of time: 25 min, 2 h, 1 h 35 min, 3 d 2 h."""
    whole = round(abs(minutes))
    days, rest = divmod(whole, _MINUTES_A_DAY)
    hours, left = divmod(rest, 60)
    parts = [f"{days} d" if days else "", f"{hours} h" if hours else "", f"{left} min" if left and not days else ""]
    return ("−" if minutes < 0 else "") + (" ".join(part for part in parts if part) or "0 min")


def minutes_between(start: datetime, end: datetime) -> float:
    """Minutes that really pass, also over a change of clocks (same-zone subtraction would count the wall clock)."""
    return (end.timestamp() - start.timestamp()) / 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """A kitchen's own style; within the week that a page is about, the weekday says which day is meant."""

    units: System
    zone: ZoneInfo
    currency: str
    now: datetime
    first_day: date | None = None
    last_day: date | None = None

    def amount(self, value: float, unit: str) -> Amount:
        """An amount in the kitchen's units, rounded to what can be weighed or read."""
        shown = Units(self.units).amount(value, unit)
        return Amount(shown.number.replace("-", "−"), unit_text(shown.unit))

    def money(self, value: Decimal) -> str:
        return f"{self.currency} {value:,.2f}"

    def local(self, at: datetime) -> datetime:
        return at.astimezone(self.zone)

    def day_of(self, at: datetime) -> date:
        return self.local(at).date()

    def day(self, day: date) -> str:
        """A day with its weekday and date: Tue 3 Mar."""
        return f"{day:%a} {day.day} {day:%b}"

    def clock(self, at: datetime) -> str:
        return f"{self.local(at):%H:%M}"

    def when(self, at: datetime) -> str:
        """The clock, with the weekday when it is not today and with the date when it is outside the page's week."""
        local = self.local(at)
        day = local.date()
        if day == self.day_of(self.now):
            return f"{local:%H:%M}"
        if self.first_day and self.last_day and self.first_day <= day <= self.last_day:
            return f"{local:%a %H:%M}"
        return f"{self.day(day)} {local:%H:%M}"

    def between(self, start: datetime, end: datetime) -> str:
        """From when to when; the day is said twice only where it changes."""
        if self.day_of(start) == self.day_of(end):
            return f"{self.when(start)}–{self.clock(end)}"
        return f"{self.when(start)} – {self.when(end)}"


def style_of(kitchen: Kitchen, week: PlanningWeek | None = None) -> Style:
    """The style of a kitchen, for a page about one of its weeks."""
    return Style(
        units="us" if kitchen.units == "us" else "metric",
        zone=ZoneInfo(kitchen.time_zone),
        currency=kitchen.currency,
        now=timezone.now(),
        first_day=week.starts_on if week else None,
        last_day=week.starts_on + timedelta(days=week.days - 1) if week else None,
    )
