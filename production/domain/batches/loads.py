"""What runs take from the kitchen in a stretch of time, coarsely: pot hours, cook hours, ice."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import timedelta

from production.domain.batches.cells import Cell, PotKind
from production.domain.batches.slots import Clock
from production.domain.batches.tasks import Task
from production.domain.kitchen import Week
from production.domain.parameters import ParameterSet

POT_H_COST = 0.5  # an hour by which the pots of a kind are overbooked (own choice, like the next two)
COOK_H_COST = 1.0  # an hour of hands that nobody has
COOL_L_COST = 0.5  # a litre for which there is no ice and no chiller
_ICE_KG_PER_L = 1.3  # 4.1 kJ/K x 92 K / 334 kJ, and a part of the cold lost (own choice)
_LONGEST_H = 36.0  # so long after the last slot the days go on
_CHILLER_IN_USE_SHARE = 0.5  # of staffed time (own choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """What a run adds to one limit."""

    limit: int
    per_run: float
    per_l: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """So much there is; what goes beyond costs."""

    amount: float
    cost: float


@dataclass(frozen=True, slots=True)
class Capacity:
    """The limits of the week, and what a run adds to them by kind of pot, second draw and slot."""

    limits: tuple[Limit, ...]
    clock: Clock
    days: tuple[float, ...]  # ends of the days, h
    first_cook: int  # places of the limits in the list: pots come first, by kind and day
    first_cool: int

    def loads(self, task: Task, cell: Cell, slot: int, *, second: bool) -> Iterable[Load]:
        """What a run of this kind adds."""
        begin = self.clock.starts[slot]
        times = task.times[slot]
        held = begin + (times.held_second_h if second else times.held_h)
        for day, (start, end) in enumerate(self.spans):
            shared = min(end, held) - max(start, begin)
            if shared > 0.0:
                yield Load(limit=cell.kind * len(self.spans) + day, per_run=shared, per_l=0.0)
        hands = cell.cook_h + (cell.seconds[-1].cook_h if second and cell.seconds else 0.0)
        yield Load(limit=self.first_cook + self._day(begin), per_run=hands, per_l=0.0)
        for day in range(self._day(times.first_h), len(self.days)):
            yield Load(limit=self.first_cool + day, per_run=0.0, per_l=1.0)

    @property
    def spans(self) -> tuple[tuple[float, float], ...]:
        """Begin and end of each day."""
        return tuple(zip((0.0, *self.days[:-1]), self.days, strict=True))

    def _day(self, hours: float) -> int:
        return min(len(self.days) - 1, sum(end <= hours for end in self.days))


def capacity_of(
    *, week: Week, parameters: ParameterSet, clock: Clock, kinds: tuple[PotKind, ...], slack_share: float
) -> Capacity:
    """The week's pot hours and cook hours by day, and litres that can be cooled by the end of each day.

    Equation: pots x hours without outages; people x hours; (ice in the bin, made and bought by then) / kg per litre and
        what the chillers take in half of the staffed time; all less the slack.
    Units: week, parameters, clock, kinds (records), slack_share [0..1]; returns records with h and L.
    Valid: a week that passed its reader; a coarse reckoning, the schedule has the last word.
    Errors: none.
    Source: own definition.
    """
    kept = 1.0 - slack_share
    days = tuple(_day_ends(clock, max(clock.starts) + _LONGEST_H))
    spans = tuple(zip((0.0, *days[:-1]), days, strict=True))
    limits = [
        Limit(amount=kept * _pot_hours(clock, kind, start, end), cost=POT_H_COST)
        for kind in kinds
        for start, end in spans
    ]
    first_cook = len(limits)
    limits += [Limit(amount=kept * _hands_h(week, clock, begin, end), cost=COOK_H_COST) for begin, end in spans]
    first_cool = len(limits)
    limits += [Limit(amount=kept * _coolable_l(week, parameters, clock, end), cost=COOL_L_COST) for end in days]
    return Capacity(tuple(limits), clock, days, first_cook, first_cool)


def _day_ends(clock: Clock, last_h: float) -> Iterable[float]:
    """Midnights, as the kitchen's calendar has them."""
    hours = 0.0
    while hours < last_h:
        following = hours + 1.0
        while clock.day(following) == clock.day(hours):
            following += 1.0
        hours = math.floor(following)
        yield hours


def _pot_hours(clock: Clock, kind: PotKind, start_h: float, end_h: float) -> float:
    out_h = sum(
        max(0.0, min(end_h, clock.hours(each.end)) - max(start_h, clock.hours(each.start))) for each in kind.outages
    )
    return len(kind.pots) * max(0.0, end_h - start_h - out_h)


def _hands_h(week: Week, clock: Clock, start_h: float, end_h: float) -> float:
    return sum(
        max(0.0, min(end_h, clock.hours(each.end)) - max(start_h, clock.hours(each.start))) for each in week.shifts
    )


def _coolable_l(week: Week, parameters: ParameterSet, clock: Clock, end_h: float) -> float:
    ice, until = week.ice_machine, week.plan_from + timedelta(hours=end_h)
    bought_kg = sum(each.mass_kg for each in week.ice_deliveries if week.plan_from <= each.at < until)
    made_kg = 0.0
    if ice is not None:
        per_day_kg = ice.make_kg_per_day * parameters.value("ice.hot_room_share")
        made_kg = ice.bin_kg * ice.start_share + per_day_kg * end_h / 24.0
    staffed_h = sum(max(0.0, min(end_h, end) - begin) for begin, end in clock.windows)
    chilled_kg_h = sum(
        float(each.rated_kg or 0.0) / (float(each.rated_min or 0.0) / 60.0)
        for each in week.cooling_devices
        if each.kind == "blast_chiller" and each.rated_min
    )
    return (bought_kg + made_kg) / _ICE_KG_PER_L + _CHILLER_IN_USE_SHARE * chilled_kg_h * staffed_h


def overload_cost(capacity: Capacity, used: Mapping[int, float]) -> float:
    """What the overbooked hours and litres cost.

    Equation: sum of cost x max(0, used - amount).
    Units: capacity (record), used [h] or [L] by limit; returns a cost.
    Valid: any use.
    Errors: none.
    Source: own definition.
    """
    return sum(
        limit.cost * max(0.0, used.get(number, 0.0) - limit.amount) for number, limit in enumerate(capacity.limits)
    )
