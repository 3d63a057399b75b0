"""The times at which runs may begin, coarsely, and when their draws would then be ready."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from production.domain.batches.cells import Cell
from production.domain.kitchen import Formula, Supplier, Week

_APART_H = 5.0  # beginnings nearer to each other than this count as one (own choice)
_COOLING_H = 3.0  # from the draw-off until a broth or a reduction is cold (own choice, on the careful side)


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """When the draws of a run that begins in a slot are ready, and how long it holds its pot."""

    first_h: float
    second_h: float
    held_h: float
    held_second_h: float


@dataclass(frozen=True, slots=True)
class Clock:
    """Hours from the moment of planning, and when somebody is in the kitchen."""

    week: Week
    windows: tuple[tuple[float, float], ...]  # staffed
    starts: tuple[float, ...]  # of the slots

    def hours(self, moment: datetime) -> float:
        """Hours from the moment of planning."""
        return (moment - self.week.plan_from).total_seconds() / 3600.0

    def day(self, hours: float) -> date:
        """The kitchen's calendar day."""
        return (self.week.plan_from + timedelta(hours=hours)).astimezone(ZoneInfo(self.week.kitchen.time_zone)).date()

    def staffed_from(self, hours: float, *, for_h: float = 0.0) -> float:
        """The first moment from which somebody is there for so long; the same moment when nobody ever is."""
        for begin, end in self.windows:
            at = max(begin, hours)
            if at + for_h <= end:
                return at
        return hours

    def times(self, cells: Iterable[Cell], formula: Formula, start_h: float) -> Times:
        """Times of a run that begins at a moment, in the slowest of the kinds of pots."""
        every = tuple(cells)
        tasks = self.week.kitchen.tasks
        heat_h = max(each.heat_up_h for each in every)
        drawing_h = (tasks.draw_base_min + tasks.draw_min_per_l * max(each.largest_l for each in every)) / 60.0
        boils_h = start_h + (tasks.load_min + tasks.skim_min) / 60.0 + heat_h
        drawn_h = self.staffed_from(boils_h + formula.simmer_min_h, for_h=drawing_h) + drawing_h
        free_h = drawn_h + tasks.wash_min / 60.0
        seconds = [second for each in every for second in each.seconds]
        if not seconds:
            return Times(first_h=drawn_h + _COOLING_H, second_h=0.0, held_h=free_h - start_h, held_second_h=0.0)
        extracted_h = (
            drawn_h + tasks.refill_min / 60.0 + max(each.heat_up_h + each.simmer_h for each in seconds) + drawing_h
        )
        reduce_h = max(each.reduce_h for each in seconds)
        reduced_h = self.staffed_from(extracted_h, for_h=reduce_h) + reduce_h
        return Times(
            first_h=drawn_h + _COOLING_H,
            second_h=reduced_h + _COOLING_H,
            held_h=free_h - start_h,
            held_second_h=reduced_h + tasks.wash_min / 60.0 - start_h,
        )


def clock_of(*, week: Week, until: datetime) -> Clock:
    """The slots of a week: the beginnings of shifts from the moment of planning to a last moment.

    Equation: beginnings less than five hours apart count as one; with nobody on duty there is one slot, at once.
    Units: week (record), until (moment); returns a record with h.
    Valid: a week that passed its reader.
    Errors: none.
    Source: own definition.
    """
    spans = sorted(
        (max(0.0, (each.start - week.plan_from).total_seconds() / 3600.0), _hours(week, each.end))
        for each in week.shifts
        if each.end > week.plan_from
    )
    windows: list[tuple[float, float]] = []
    for begin, end in spans:
        if windows and begin <= windows[-1][1]:
            windows[-1] = (windows[-1][0], max(windows[-1][1], end))
        else:
            windows.append((begin, end))
    last_h = (until - week.plan_from).total_seconds() / 3600.0
    starts: list[float] = []
    for begin, _ in spans:
        if begin < last_h and (not starts or begin - starts[-1] >= _APART_H):
            starts.append(begin)
    return Clock(week, tuple(windows), tuple(starts) or (0.0,))


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
