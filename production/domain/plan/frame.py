"""What every step of planning looks things up in, and the grid it counts minutes on."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from production.domain.cooling_capacity import STEP_MIN
from production.domain.formula import rounded_up_min
from production.domain.kitchen import Formula, Pot, Product, Week
from production.domain.parameters import ParameterSet

T = TypeVar("T")

DAYS_AFTER = 3  # a week that ends late is late, not impossible


@dataclass(frozen=True, slots=True)
class Frame:
    """A week with its coefficients, its entries by code, and its minute 0."""

    week: Week
    parameters: ParameterSet
    zone: ZoneInfo
    origin: datetime
    products: Mapping[str, Product]
    formulas: Mapping[str, Formula]
    pots: Mapping[str, Pot]
    kinds: Mapping[str, Hashable]  # by pot; pots of one kind make the same of the same charge
    worked_out: dict[Hashable, Any] = field(default_factory=dict, compare=False, repr=False)

    def once(self, key: Hashable, work: Callable[[], T]) -> T:
        """What was worked out under this key before, or is now."""
        if key not in self.worked_out:
            self.worked_out[key] = work()
        found: T = self.worked_out[key]
        return found

    def minute(self, at: datetime) -> int:
        """Minutes from the origin, rounded down (limits and dispatches are never stretched)."""
        return int((at - self.origin).total_seconds() // 60)

    def minute_after(self, at: datetime) -> int:
        """Minutes from the origin, rounded up."""
        return math.ceil((at - self.origin).total_seconds() / 60)

    def at(self, minute: float) -> datetime:
        """The instant of a minute."""
        return self.origin + timedelta(minutes=minute)

    def local_date(self, at: datetime) -> date:
        """The calendar day of an instant in the kitchen."""
        return at.astimezone(self.zone).date()

    def local_midnight(self, day: date) -> datetime:
        """The instant at which a local calendar day begins."""
        return datetime.combine(day, time(), self.zone).astimezone(UTC)

    @property
    def horizon_min(self) -> int:
        """End of the planned time."""
        return self.minute(self.local_midnight(self.week.starts_on + timedelta(days=self.week.days + DAYS_AFTER)))


def frame_of(week: Week, parameters: ParameterSet, origin: datetime | None = None) -> Frame:
    """The frame of a week; minute 0 is the midnight before planning starts, or that of the plan that is changed.

    Equation: origin = local midnight of the day of plan_from, in UTC, where none is given.
    Units: no quantities; week, parameters (records), origin [instant]; returns a record.
    Valid: a week that passed its reader.
    Errors: none.
    Source: own definition.
    """
    zone = ZoneInfo(week.kitchen.time_zone)
    return Frame(
        week=week,
        parameters=parameters,
        zone=zone,
        origin=origin or datetime.combine(week.plan_from.astimezone(zone).date(), time(), zone).astimezone(UTC),
        products={each.code: each for each in week.products},
        formulas={each.code: each for each in week.formulas},
        pots={each.code: each for each in week.pots},
        kinds={each.code: _kind_of(week, each) for each in week.pots},
    )


def _kind_of(week: Week, pot: Pot) -> Hashable:
    """Everything about a pot and its heat that a charge depends on."""
    source = week.get("heat_sources", pot.heat_source)
    return (
        pot.material,
        pot.inner_diameter_mm,
        pot.inner_height_mm,
        pot.mass_kg,
        pot.min_fill_share,
        source.appliance,
        source.input_kw,
    )


def up_min(minutes: float) -> int:
    """Minutes on the schedule's grid, never fewer.

    Equation: rounded_up_min with the grid's step.
    Units: minutes [min]; returns [min].
    Valid: minutes >= 0; at least one step.
    Errors: none.
    Source: own definition.
    """
    return rounded_up_min(minutes, step_min=STEP_MIN)


def down_min(minutes: float) -> int:
    """Minutes on the schedule's grid, never more.

    Equation: floor(minutes / step) x step.
    Units: minutes [min]; returns [min].
    Valid: minutes >= 0.
    Errors: none.
    Source: own definition.
    """
    return int(minutes // STEP_MIN) * STEP_MIN
