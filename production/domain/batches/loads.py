"""What runs take from the kitchen in a stretch of time, coarsely: pots, hands, heat, places to cool, ice."""

from __future__ import annotations

import bisect
import itertools
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import timedelta

from production.domain.batches.cells import Cell, PotKind
from production.domain.batches.chains import CHILLER_H, SINK_H, Interval, SecondTimes, Times, cooled_at_once_l
from production.domain.batches.slots import Clock
from production.domain.kitchen import Week
from production.domain.parameters import ParameterSet
from production.domain.thermal.cooling import MELTING_KJ_KG

POT_H_COST = 75.0  # an hour by which the pots of a kind are overbooked (own choice, like the next four)
COOK_H_COST = 40.0  # an hour of hands that nobody has
HEAT_KWH_COST = 2.0  # heat that no supply gives
COOL_L_COST = 5.0  # a litre that no sink and no chiller has a place for
ICE_L_COST = 5.0  # a litre for which there is no ice
BUCKET_H = 2.0  # the stretches of staffed time that are looked at (own choice)
_BROTH_KJ_PER_L = 4.2 * 92.0  # from the boil to the limit
_CHILLER_IN_USE_SHARE = 0.7  # of staffed time (own choice)


@dataclass(frozen=True, slots=True)
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


@dataclass(slots=True)
class Capacity:
    """The limits of the week, and what a run adds to them."""

    limits: tuple[Limit, ...]
    edges: tuple[float, ...]  # of the stretches of time, h
    supplies: tuple[str, ...]
    ice_until: tuple[float, ...]  # ends of the staffed windows, h
    first: Mapping[str, int]  # places of the limits in the list
    wash_h: float
    load_h: float
    skim_h: float
    finish_h: float
    known: dict[tuple[str, int, float, int | None], tuple[Load, ...]] = field(default_factory=dict)

    def loads(self, cell: Cell, times: Times, piece: int | None) -> tuple[Load, ...]:
        """What a run in a cell at its times adds, with a second draw of a piece or without one."""
        key = (cell.formula, cell.kind, times.drawn[0], piece)
        if key not in self.known:
            self.known[key] = tuple(self._loads(cell, times, None if piece is None else times.seconds[piece]))
        return self.known[key]

    def _loads(self, cell: Cell, times: Times, twice: SecondTimes | None) -> Iterator[Load]:
        free_h = twice.free_h if twice else times.free_h
        yield from self._hours(self.first["pots"] + cell.kind * self.count, [((times.load_h, free_h), 1.0)])
        yield from self._hours(self.first["cooks"], [(each, 1.0) for each in self._hands(times, twice)])
        supply = self.first["heat"] + self.supplies.index(cell.supply) * self.count
        yield from self._hours(supply, _heat(cell, times, twice))
        at = self._bucket(times.drawn[1])
        yield Load(self.first["places"] + at, 0.0, 1.0)
        yield Load(self.first["double"] + at, 0.0, 1.0)
        if at:
            yield Load(self.first["double"] + at - 1, 0.0, 1.0)
        window = min(bisect.bisect_left(self.ice_until, times.drawn[1]), len(self.ice_until) - 1)
        for n, (begin, end) in enumerate(_spans_of_windows(len(self.ice_until))):
            if begin <= window <= end:
                yield Load(self.first["ice"] + n, 0.0, 1.0)

    @property
    def count(self) -> int:
        """Stretches of time."""
        return len(self.edges) - 1

    def _hands(self, times: Times, twice: SecondTimes | None) -> Iterator[Interval]:
        yield times.load_h, times.load_h + self.load_h
        yield times.simmered[0], times.simmered[0] + self.skim_h
        yield times.drawn
        if twice:
            yield twice.refilled
            yield twice.drawn
            yield twice.portioned[0] - self.finish_h, twice.portioned[1]
        free_h = twice.free_h if twice else times.free_h
        yield free_h - self.wash_h, free_h

    def _hours(self, first: int, parts: Iterable[tuple[Interval, float]]) -> Iterator[Load]:
        found: dict[int, float] = {}
        for (begin, end), amount in parts:
            bucket = self._bucket(begin)
            while bucket < self.count and self.edges[bucket] < end:
                shared = min(end, self.edges[bucket + 1]) - max(begin, self.edges[bucket])
                found[bucket] = found.get(bucket, 0.0) + amount * max(0.0, shared)
                bucket += 1
        for bucket, hours in found.items():
            if hours > 0.0:
                yield Load(first + bucket, hours, 0.0)

    def _bucket(self, hours: float) -> int:
        return max(0, min(self.count - 1, bisect.bisect_right(self.edges, hours) - 1))


def _heat(cell: Cell, times: Times, twice: SecondTimes | None) -> Iterator[tuple[Interval, float]]:
    yield times.heated, cell.full_kw
    yield times.simmered, cell.simmer_kw
    if twice:
        yield (twice.refilled[1], twice.simmered[0]), cell.full_kw
        yield twice.simmered, cell.simmer_kw
        yield twice.reduced, cell.full_kw


def capacity_of(
    *, week: Week, parameters: ParameterSet, clock: Clock, kinds: tuple[PotKind, ...], slack_share: float, most_l: float
) -> Capacity:
    """What there is of pots, hands, heat and cooling in each stretch of time.

    Equation: staffed windows are cut into stretches of about two hours, each time between them is one. Pots x hours
        without outages; people x hours and supplies x hours less the slack; places in sinks and chillers at once, and
        in two stretches the sinks twice; for each span of windows the ice in the bin, made and bought / kg per litre
        and what the chillers take.
    Units: week, parameters, clock, kinds (records), slack_share [0..1], most_l [L] of one draw, which is always
        granted; returns records with h, kWh and L.
    Valid: a week that passed its reader; a coarse reckoning, the schedule has the last word.
    Errors: none.
    Source: own definition.
    """
    kept, tasks = 1.0 - slack_share, week.kitchen.tasks
    edges = tuple(_edges(clock))
    spans = tuple(itertools.pairwise(edges))
    supplies = tuple(each.code for each in week.heat_supplies)
    windows = clock.windows or ((edges[0], edges[-1]),)
    sinks_l, chillers_l = cooled_at_once_l(week)
    at_once_l = max(most_l, kept * (sinks_l + chillers_l))
    parts: dict[str, list[Limit]] = {
        "pots": [Limit(amount=_pot_hours(clock, kind, *span), cost=POT_H_COST) for kind in kinds for span in spans],
        "cooks": [Limit(amount=kept * _hands_h(week, clock, *span), cost=COOK_H_COST) for span in spans],
        "heat": [
            Limit(amount=kept * each.capacity_kw * (end - begin), cost=HEAT_KWH_COST)
            for each in week.heat_supplies
            for begin, end in spans
        ],
        "places": [Limit(amount=at_once_l, cost=COOL_L_COST) for _ in spans],
        "double": [Limit(amount=max(at_once_l, kept * (2.0 * sinks_l + chillers_l)), cost=COOL_L_COST) for _ in spans],
        "ice": [
            Limit(amount=max(most_l, kept * _iced_l(week, parameters, clock, windows[a], windows[b])), cost=ICE_L_COST)
            for a, b in _spans_of_windows(len(windows))
        ],
    }
    first: dict[str, int] = {}
    limits: list[Limit] = []
    for name, each in parts.items():
        first[name] = len(limits)
        limits += each
    return Capacity(
        limits=tuple(limits),
        edges=edges,
        supplies=supplies,
        ice_until=tuple(end for _, end in windows),
        first=first,
        wash_h=tasks.wash_min / 60.0,
        load_h=tasks.load_min / 60.0,
        skim_h=tasks.skim_min / 60.0,
        finish_h=tasks.finish_min / 60.0,
    )


def _spans_of_windows(count: int) -> list[tuple[int, int]]:
    """Each window, and all from the first to each."""
    return [(n, n) for n in range(count)] + [(0, n) for n in range(1, count)]


def _edges(clock: Clock) -> Iterator[float]:
    """Begins and ends of staffed windows, and even steps in between."""
    last_h = 0.0
    yield last_h
    for begin, end in clock.windows:
        if begin > last_h:
            yield begin
        steps = max(1, round((end - max(begin, last_h)) / BUCKET_H))
        for n in range(1, steps + 1):
            yield begin + (end - begin) * n / steps
        last_h = end
    yield last_h + 24.0


def _pot_hours(clock: Clock, kind: PotKind, start_h: float, end_h: float) -> float:
    out_h = sum(
        max(0.0, min(end_h, clock.hours(each.end)) - max(start_h, clock.hours(each.start))) for each in kind.outages
    )
    return len(kind.pots) * max(0.0, end_h - start_h - out_h)


def _hands_h(week: Week, clock: Clock, start_h: float, end_h: float) -> float:
    return sum(
        max(0.0, min(end_h, clock.hours(each.end)) - max(start_h, clock.hours(each.start))) for each in week.shifts
    )


def _iced_l(week: Week, parameters: ParameterSet, clock: Clock, opens: Interval, closes: Interval) -> float:
    """Litres that ice and chillers cool from the begin of a window to the end of another."""
    ice = week.ice_machine
    begin_h, end_h = opens[0], closes[1]
    kg_per_l = _BROTH_KJ_PER_L / (MELTING_KJ_KG * parameters.low("cooling.ice_use_share"))
    at, until = week.plan_from + timedelta(hours=begin_h), week.plan_from + timedelta(hours=end_h)
    ice_kg = sum(each.mass_kg for each in week.ice_deliveries if at <= each.at < until)
    if ice is not None:
        per_h_kg = ice.make_kg_per_day * parameters.value("ice.hot_room_share") / 24.0
        full_kg = ice.bin_kg * ice.start_share + per_h_kg * begin_h
        ice_kg += min(ice.bin_kg, full_kg) + per_h_kg * (end_h - begin_h)
    sinks_l, chillers_l = cooled_at_once_l(week)
    staffed_h = sum(end - begin for begin, end in clock.windows if begin >= begin_h and end <= end_h)
    chilled_l = chillers_l * _CHILLER_IN_USE_SHARE * staffed_h / CHILLER_H
    return min(ice_kg / kg_per_l, sinks_l * staffed_h / SINK_H) + chilled_l


def overload_cost(capacity: Capacity, used: Mapping[int, float]) -> float:
    """What the overbooked hours and litres cost.

    Equation: sum of cost x max(0, used - amount).
    Units: capacity (record), used [h], [kWh] or [L] by limit; returns a cost.
    Valid: any use.
    Errors: none.
    Source: own definition.
    """
    limits: Sequence[Limit] = capacity.limits
    return math.fsum(limits[n].cost * max(0.0, amount - limits[n].amount) for n, amount in used.items())
