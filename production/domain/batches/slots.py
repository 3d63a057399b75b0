"""When somebody is in the kitchen, when goods are there, and the moments at which pots may be drawn off."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from production.domain.kitchen import Formula, Supplier, Week

_HAIR_H = 1e-6


@dataclass(frozen=True, slots=True)
class Clock:
    """Hours from the moment of planning, and when somebody is in the kitchen."""

    week: Week
    windows: tuple[tuple[float, float], ...]  # staffed, in the order of time, not touching

    def hours(self, moment: datetime) -> float:
        """Hours from the moment of planning."""
        return (moment - self.week.plan_from).total_seconds() / 3600.0

    def midnight_h(self, day: date) -> float:
        """Hours from the moment of planning to the beginning of a calendar day of the kitchen."""
        zone = ZoneInfo(self.week.kitchen.time_zone)
        return self.hours(datetime.combine(day, datetime.min.time(), zone))

    def is_staffed(self, from_h: float, until_h: float) -> bool:
        """Whether somebody is there all the time."""
        return any(begin <= from_h + _HAIR_H and until_h <= end + _HAIR_H for begin, end in self.windows)

    def latest_from(self, earliest_h: float, latest_h: float, *, for_h: float) -> float | None:
        """The last moment between two from which somebody is there for so long."""
        for begin, end in reversed(self.windows):
            at = min(latest_h, end - for_h)
            if at >= begin - _HAIR_H:
                return at if at >= earliest_h - _HAIR_H else None
        return None

    @property
    def staffed_h(self) -> float:
        """Hours in which somebody is there."""
        return sum(end - begin for begin, end in self.windows)


def clock_of(*, week: Week, until: datetime) -> Clock:
    """Staffed time of a week, from the moment of planning to a last moment.

    Equation: the union of the shifts.
    Units: week (record), until (moment); returns a record with h.
    Valid: a week that passed its reader; without shifts there is no staffed time.
    Errors: none.
    Source: own definition.
    """
    last_h = (until - week.plan_from).total_seconds() / 3600.0
    spans = sorted((max(0.0, _hours(week, each.start)), min(last_h, _hours(week, each.end))) for each in week.shifts)
    windows: list[tuple[float, float]] = []
    for begin, end in spans:
        if end <= begin:
            continue
        if windows and begin <= windows[-1][1]:
            windows[-1] = (windows[-1][0], max(windows[-1][1], end))
        else:
            windows.append((begin, end))
    return Clock(week, tuple(windows))


def draw_moments(
    clock: Clock, *, from_h: float, step_h: float, after_begin_h: float, wished_h: Iterable[float]
) -> tuple[float, ...]:
    """Moments at which pots may be drawn off: at even steps through the staffed time, and just in time.

    Equation: from the begin of each window, and a while after it, every step; and each wished moment in its place of
        the nearest one before it that is less than half a step away.
    Units: clock (record), from_h, step_h, after_begin_h (by which additions before the draw are late), wished_h [h];
        returns [h], ascending.
    Valid: step_h > 0.
    Errors: none.
    Source: own definition.
    """
    found: set[float] = set()
    for begin, end in clock.windows:
        at = max(begin + after_begin_h, from_h)
        found |= {at + n * step_h for n in range(int(max(0.0, end - at) / step_h) + 1) if at <= end}
    for wish in sorted(set(wished_h)):
        if wish >= from_h and clock.is_staffed(wish, wish):
            near = [at for at in found if 0.0 <= wish - at < step_h / 2.0]
            found -= set(near)
            found.add(wish)
    return tuple(sorted(found))


def _hours(week: Week, moment: datetime) -> float:
    return (moment - week.plan_from).total_seconds() / 3600.0


def goods_there_h(*, week: Week, formula: Formula) -> float:
    """Hours until everything that a formula is made of can have been delivered.

    Equation: for each ingredient the earliest first delivery of all that offer it; the latest of these. What nobody
        offers, or lies on the shelf, is not waited for.
    Units: week, formula (records); returns [h].
    Valid: a week that passed its reader; coarse, the goods themselves are given out later.
    Errors: none.
    Source: own definition.
    """
    suppliers = {each.code: each for each in week.suppliers}
    on_shelf = {each.ingredient for each in week.ingredient_stock if each.mass_kg > 0.0}
    solids, additions = formula.solids, formula.additions
    wanted = {*(each.ingredient for each in solids), *(each.ingredient for each in additions)} - on_shelf
    latest_h = 0.0
    for code in wanted:
        offering = {suppliers[offer.supplier] for offer in week.offers if offer.ingredient == code}
        latest_h = max(latest_h, min((_first_delivery_h(week, each) for each in offering), default=0.0))
    return latest_h


def _first_delivery_h(week: Week, supplier: Supplier) -> float:
    zone = ZoneInfo(week.kitchen.time_zone)
    now = week.plan_from.astimezone(zone)
    earliest = now.date() + timedelta(days=supplier.lead_days + (now.time() > supplier.order_by))
    for later in range(7):
        day = earliest + timedelta(days=later)
        at = datetime.combine(day, supplier.delivers_at, zone)
        if day.isoweekday() in supplier.delivers_on and at >= now:
            return _hours(week, at)
    return 0.0


def windows_from(clock: Clock, from_h: float) -> Iterator[tuple[float, float]]:
    """Staffed time from a moment on.

    Equation: what is left of each window.
    Units: clock (record), from_h [h]; yields [h].
    Valid: any moment.
    Errors: none.
    Source: own definition.
    """
    for begin, end in clock.windows:
        if end > from_h:
            yield max(begin, from_h), end
