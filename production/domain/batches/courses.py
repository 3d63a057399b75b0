"""The ways that a run can take through the staffed time of a week, and how long it holds its pot on each of them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from production.domain.batches.cells import NOTHING, Line
from production.domain.batches.shapes import HOLD_H, Shape
from production.domain.batches.slots import clock_of
from production.domain.kitchen import Formula, Supplier, Week

_TOLERANCE_H = 0.25  # by which an addition may be earlier or later
_GRID_H = 5.0 / 60.0  # to which the schedule rounds
_EDGES_PER_DAY = 4  # moments at which a stretch of staffed time is cut; more are not told apart (own choice)
_HAIR_H = 1e-6
_LOOK_DAYS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A stretch of staffed time; the last one stands for all that comes then, and has no end."""

    begin_h: float
    end_h: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stay:
    """What a run does in a span: it holds its pot, and somebody works on it."""

    pot_h: Line
    hands_h: Line


@dataclass(frozen=True, slots=True, kw_only=True)
class Between:
    """Hours of a simmer that lie in one of two spans, since the time between them is too short for it."""

    first: int
    last: int
    hours: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """A run's way: the spans in which it is loaded, drawn off, and perhaps drawn off again and boiled down."""

    spans: tuple[int, ...]
    cold_from_h: float  # its first draw is cold no earlier, and no later than
    cold_until_h: float
    reduced_h: float  # its reduction is cold no earlier; nothing is reduced: never
    in_pan: bool
    stays: dict[int, Stay] = field(hash=False)
    between: tuple[Between, ...]
    before_cold_h: Line  # hours that it holds its pot in the span of the first draw, before that is cold


@dataclass(frozen=True, slots=True, kw_only=True)
class Ways:
    """What the courses of a formula's runs follow from."""

    week: Week
    formula: Formula
    spans: tuple[Span, ...]
    release_h: float
    cold_h: float  # in which a first draw is cold at the least
    glaze_h: float  # and a reduction
    edges_h: tuple[float, ...]  # dispatches of its broths, and when these may be made at the earliest
    has_pan: bool

    def courses(self, shape: Shape) -> Iterator[Course]:
        """Every way of a run of this shape; of ways that differ only in when something happens the earliest."""
        for i, j in itertools.combinations_with_replacement(range(len(self.spans)), 2):
            draw_at_h = self._first_draw_h(shape, i, j)
            if draw_at_h is None:
                continue
            cold_h = draw_at_h + shape.least(shape.draw_h) + self.cold_h
            for from_h, until_h in self._stretches(j, cold_h):
                if shape.again is None:
                    yield self._once(shape, i, j, from_h, until_h)
                else:
                    yield from self._twice(shape, i, j, draw_at_h, (from_h, until_h))

    def _first_draw_h(self, shape: Shape, i: int, j: int) -> float | None:
        """When a run that is loaded in a span is drawn off in another, at the earliest."""
        prepared_h = max(self.spans[i].begin_h, self.release_h) + shape.least(shape.prepare_h)
        at_h = max(prepared_h + shape.simmer_h, self._added_h(i, j))
        done_h = at_h + shape.least(shape.draw_h) + self.cold_h
        if prepared_h > self.spans[i].end_h + _HAIR_H or done_h > self.spans[j].end_h + _HAIR_H:
            return None
        return at_h if self._bridges(i, j, shape.simmer_most_h) else None

    def _added_h(self, i: int, j: int) -> float:
        """The earliest draw in a span for which what is added shortly before is added when somebody is there."""
        begin_h = self.spans[j].begin_h
        if i == j or self.spans[j].end_h == math.inf:  # the last span stands for later ones too, with shifts between
            return begin_h
        before_h = self.spans[j - 1].end_h
        offsets_h = (each.minutes_before_end / 60.0 for each in self.formula.additions)
        late_h = (off - _TOLERANCE_H for off in offsets_h if begin_h - off - _GRID_H - _TOLERANCE_H > before_h)
        return begin_h + max([0.0, *late_h])

    def _bridges(self, i: int, j: int, most_h: float) -> bool:
        """Whether something that takes no longer can go on from one span to another with nobody there in between."""
        if i == j:
            return True
        away_h = self.spans[j].begin_h - self.spans[i].end_h
        return self.week.kitchen.unattended_simmer and away_h <= most_h + 1.0 / 60.0

    def _stretches(self, j: int, cold_h: float) -> Iterator[tuple[float, float]]:
        """Stretches of a span between dispatches, as far as something can be cold in them."""
        span = self.spans[j]
        inside = [edge for edge in self.edges_h if span.begin_h < edge < span.end_h]
        most = _EDGES_PER_DAY * math.ceil((inside[-1] - span.begin_h) / 24.0) if inside else 1
        every = inside[:: math.ceil(len(inside) / most) or 1]
        for begin_h, end_h in itertools.pairwise([span.begin_h, *every, span.end_h]):
            if cold_h <= end_h + _HAIR_H:
                yield max(begin_h, cold_h), end_h

    def _once(self, shape: Shape, i: int, j: int, from_h: float, until_h: float) -> Course:
        parts = [(i, shape.prepare_h), (j, shape.draw_h)]
        return self._course(shape, parts, (shape.simmer_h,), (from_h, until_h), math.inf, in_pan=False)

    def _twice(self, shape: Shape, i: int, j: int, draw_at_h: float, cold: tuple[float, float]) -> Iterator[Course]:
        again = shape.again
        if again is None:
            return
        refilled_h = draw_at_h + shape.least(shape.draw_h) + shape.least(again.refill_h)
        if refilled_h > self.spans[j].end_h + _HAIR_H:
            return
        for k in range(j, len(self.spans)):
            at_h = max(self.spans[k].begin_h, refilled_h + again.simmer_h)
            drawn_h = at_h + shape.least(again.draw_h)
            if not self._bridges(j, k, again.simmer_most_h) or drawn_h > self.spans[k].end_h + _HAIR_H:
                continue
            for m in range(k, len(self.spans)):
                if self._bridges(k, m, max(HOLD_H, self.week.kitchen.hot_hold_max_h)):
                    reduce_at_h = max(self.spans[m].begin_h, drawn_h + HOLD_H)
                    yield from self._reduced(shape, (i, j, k, m), reduce_at_h, cold)

    def _reduced(
        self, shape: Shape, spans: tuple[int, int, int, int], at_h: float, cold: tuple[float, float]
    ) -> Iterator[Course]:
        """Reduced in its own pot, or poured over into a pan."""
        again, (i, j, k, m) = shape.again, spans
        if again is None:
            return
        for in_pan, last in ((False, again.reduce_h), (True, again.draw_h)):
            done_h = at_h + shape.least(last) + self.glaze_h
            if done_h <= self.spans[m].end_h + _HAIR_H and (self.has_pan or not in_pan):
                parts = [(i, shape.prepare_h), (j, shape.draw_h), (j, again.refill_h), (k, again.draw_h), (m, last)]
                simmers = (shape.simmer_h, 0.0, again.simmer_h, HOLD_H)
                yield self._course(shape, parts, simmers, cold, done_h, in_pan=in_pan)

    def _course(
        self,
        shape: Shape,
        parts: Sequence[tuple[int, Line]],
        simmers: Sequence[float],
        cold: tuple[float, float],
        reduced_h: float,
        *,
        in_pan: bool,
    ) -> Course:
        tasks = self.week.kitchen.tasks
        pot: dict[int, list[Line]] = {}
        hands: dict[int, list[Line]] = {}
        between: list[Between] = []
        for place, line in parts:
            pot.setdefault(place, []).append(line)
        hands[parts[0][0]] = [_fixed((tasks.load_min + tasks.skim_min) / 60.0)]
        hands.setdefault(parts[1][0], []).append(shape.draw_h)
        for (place, _), (then, _), simmer_h in zip(parts, parts[1:], simmers, strict=False):
            if place == then:
                pot[place].append(_fixed(simmer_h))
                continue
            away_h = sum(b.begin_h - a.end_h for a, b in itertools.pairwise(self.spans[place : then + 1]))
            for n in range(place + 1, then):
                pot.setdefault(n, []).append(_fixed(self.spans[n].end_h - self.spans[n].begin_h))
                away_h += self.spans[n].end_h - self.spans[n].begin_h
            if simmer_h > away_h:
                between.append(Between(first=place, last=then, hours=simmer_h - away_h))
        i, j = parts[0][0], parts[1][0]
        waits_h = 0.0 if i == j else self._added_h(i, j) - self.spans[j].begin_h
        if waits_h > 0.0:
            between = [_or_later(each, waits_h, j) for each in between]
            pot[j].append(_fixed(waits_h))
        last = parts[-1][0]
        pot[last].append(_fixed(min(tasks.wash_min / 60.0, self.glaze_h if len(parts) > 2 else self.cold_h)))
        before = (shape.draw_h, _fixed(waits_h)) if i != j else (shape.prepare_h, _fixed(shape.simmer_h), shape.draw_h)
        return Course(
            spans=tuple(place for place, _ in parts),
            cold_from_h=cold[0],
            cold_until_h=cold[1],
            reduced_h=reduced_h,
            in_pan=in_pan,
            stays={
                n: Stay(pot_h=_sum(pot[n]), hands_h=_sum(hands.get(n, ())))
                for n in pot
                if self.spans[n].end_h < math.inf
            },
            between=tuple(each for each in between if self.spans[each.last].end_h < math.inf and each.hours > 0.0),
            before_cold_h=_sum(before),
        )


def _or_later(each: Between, waits_h: float, j: int) -> Between:
    """What is left of a simmer once the hours are off that it has to wait for an addition anyway."""
    return Between(first=each.first, last=each.last, hours=each.hours - waits_h) if each.last == j else each


def _fixed(hours: float) -> Line:
    return Line(base=hours, per_l=0.0)


def _sum(lines: Iterable[Line]) -> Line:
    found = NOTHING
    for each in lines:
        found = Line(base=found.base + each.base, per_l=found.per_l + each.per_l)
    return found


def spans_of(*, week: Week, last_due_h: float) -> tuple[Span, ...]:
    """Staffed time from the moment of planning on; the first span after the last dispatch stands for all later ones.

    Equation: the union of the shifts.
    Units: week (record), last_due_h [h]; returns records with h.
    Valid: a week that passed its reader; without shifts there are no spans.
    Errors: none.
    Source: own definition.
    """
    clock = clock_of(week=week, until=max((each.end for each in week.shifts), default=week.plan_from))
    spans = [Span(begin_h=begin, end_h=end) for begin, end in clock.windows if begin < last_due_h]
    later = [begin for begin, _ in clock.windows if begin >= last_due_h]
    return (*spans, *(Span(begin_h=begin, end_h=math.inf) for begin in later[:1]))


def released_h(*, week: Week, formula: Formula) -> float:
    """Hours until all that a formula is made of can be there.

    Equation: for each ingredient that lies neither on the shelf nor in the bank of bones the earliest delivery of all
        that offer it; the latest of these.
    Units: week, formula (records); returns [h].
    Valid: a week that passed its reader; what nobody offers is not waited for.
    Errors: none.
    Source: own definition.
    """
    suppliers = {each.code: each for each in week.suppliers}
    on_shelf = {each.ingredient for each in week.ingredient_stock if each.mass_kg > 0.0}
    at_hand = on_shelf | {each.ingredient for each in week.saved_bones if each.mass_kg > 0.0}
    wanted = {*(each.ingredient for each in formula.solids), *(each.ingredient for each in formula.additions)}
    found = [0.0]
    for code in wanted - at_hand:
        offering = [suppliers[offer.supplier] for offer in week.offers if offer.ingredient == code]
        found.append(min((_first_delivery_h(week, each) for each in offering), default=0.0))
    return max(found)


def _first_delivery_h(week: Week, supplier: Supplier) -> float:
    zone = ZoneInfo(week.kitchen.time_zone)
    now = week.plan_from.astimezone(zone)
    first = now.date() + timedelta(days=supplier.lead_days + (now.time() > supplier.order_by))
    days = (first + timedelta(days=n) for n in range(_LOOK_DAYS))
    day = next((each for each in days if each.isoweekday() in supplier.delivers_on), None)
    if day is None:
        return 0.0
    return (datetime.combine(day, supplier.delivers_at or time(), zone) - week.plan_from).total_seconds() / 3600.0
