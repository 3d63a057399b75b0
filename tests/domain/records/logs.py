"""Made-up cooling logs, and a second judge that reads the rules word by word from the whole log."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from random import Random

from production.domain.limits import CoolingRule, Stage
from production.domain.records import Evidence, Reading

DRAWN = datetime(2026, 6, 3, 14, 0, tzinfo=UTC)
Rows = list[tuple[float, Fraction]]  # minute, temperature in the unit of the rule


def at(minute: float) -> datetime:
    return DRAWN + timedelta(minutes=minute)


def minute(moment: datetime) -> float:
    return (moment - DRAWN) / timedelta(minutes=1)


def random_evidence(rule: CoolingRule, random: Random) -> Evidence:
    """A log near the limits of a rule: an exponential cooling or a jumpy one, read at random times."""
    times = sorted(random.sample(range(1, 700), random.randint(1, 12)))
    temps = _cooling(rule, random, times) if random.random() < 0.6 else _jumps(rule, random, times)
    unit = rule.stages[0].unit
    readings = tuple(
        Reading(at(time), temp, unit, excluded=random.random() < 0.03) for time, temp in zip(times, temps, strict=True)
    )
    return Evidence(
        readings,
        event_at=at(random.randint(-60, 60)) if random.random() < 0.8 else None,
        hot_fact_at=at(random.randint(-60, 60)) if random.random() < 0.3 else None,
    )


def _cooling(rule: CoolingRule, random: Random, times: list[int]) -> list[Decimal]:
    start = float(rule.stages[0].from_temp or 85)
    sink = float(rule.stages[-1].to_temp or 3) - random.choice([0.5, 3, 8])
    top = start + random.choice([0, 1, 10])
    rate = 1 / (random.uniform(0.1, 1.6) * (rule.stages[0].max_minutes or 120))
    return [snapped(rule, random, sink + (top - sink) * math.exp(-rate * time)) for time in times]


def _jumps(rule: CoolingRule, random: Random, times: list[int]) -> list[Decimal]:
    """Falling, but now and then warm again, upside down or in no order at all."""
    marks = [float(temp) for temp in limits(rule)]
    temps = sorted((snapped(rule, random, random.choice(marks) + random.uniform(-9, 9)) for _ in times), reverse=True)
    course = random.random()
    if course < 0.1:
        random.shuffle(temps)
    elif course < 0.3:
        one, other = random.randrange(len(temps)), random.randrange(len(temps))
        temps[one], temps[other] = temps[other], temps[one]
    return temps[::-1] if course > 0.95 else temps


def snapped(rule: CoolingRule, random: Random, temp: float) -> Decimal:
    """To a tenth as thermometers show it, now and then to a limit itself or across it."""
    near = min(limits(rule), key=lambda mark: abs(float(mark) - temp))
    return near if abs(float(near) - temp) < 4 and random.random() < 0.3 else Decimal(f"{temp:.1f}")


def limits(rule: CoolingRule) -> list[Decimal]:
    temps = [rule.stages[0].from_temp, *(stage.to_temp for stage in rule.stages)]
    return [temp for temp in temps if temp is not None]


# --- a second judge ----------------------------------------------------------------------------------------------


def rows_of(rule: CoolingRule, evidence: Evidence) -> Rows:
    hottest: dict[float, Fraction] = {}
    for reading in evidence.readings:
        if not reading.excluded:
            temp = Fraction(reading.temp)
            if reading.unit != rule.stages[0].unit:
                temp = temp * 9 / 5 + 32 if reading.unit == "C" else (temp - 32) * 5 / 9
            time = minute(reading.at)
            hottest[time] = max(temp, hottest.get(time, temp))
    return sorted(hottest.items())


def states_by_the_book(rule: CoolingRule, evidence: Evidence, now: float | None) -> list[str]:
    """The states of the stages, worked out again and again from all readings; now is None for a closed log."""
    rows = rows_of(rule, evidence)
    if rule.stages[0].clock == "from_event" and evidence.event_at is not None:
        rows = [row for row in rows if row[0] >= minute(evidence.event_at)]
    if now is not None:
        now = max([now, *(time for time, _ in rows)])
    return [_state(rule, index, rows, evidence, now) for index in range(len(rule.stages))]


def _bounds(rule: CoolingRule, index: int, rows: Rows, evidence: Evidence) -> tuple[float | None, float | None]:
    """Earliest and latest start of a stage."""
    if rule.stages[index].clock == "from_event":
        event = None if evidence.event_at is None else minute(evidence.event_at)
        return event, event
    if rule.stages[index].clock == "from_stage":
        return _end(rule, index - 1, rows, evidence)
    start = Fraction(rule.stages[0].from_temp or 0)
    for place, (time, temp) in enumerate(rows):
        if temp < start:
            if place:
                before, hot = rows[place - 1]
                return before, (before if hot == start else time)
            fact = None if evidence.hot_fact_at is None else minute(evidence.hot_fact_at)
            return (fact if fact is not None and fact <= time else None), time
    if rows:
        return rows[-1][0], None
    return (None if evidence.hot_fact_at is None else minute(evidence.hot_fact_at)), None


def _end(rule: CoolingRule, index: int, rows: Rows, evidence: Evidence) -> tuple[float | None, float | None]:
    """Earliest and latest end of a stage."""
    target = Fraction(rule.stages[index].to_temp or 0)
    reached = _reached(rows, target)
    if reached is None:
        return None, None
    if dict(rows)[reached] == target:
        return reached, reached
    above = [time for time, temp in rows if temp > target]
    return (above[-1] if above else _bounds(rule, index, rows, evidence)[0]), reached


def _reached(rows: Rows, target: Fraction) -> float | None:
    for place, (time, _) in enumerate(rows):
        if all(temp <= target for _, temp in rows[place:]):
            return time
    return None


def _state(rule: CoolingRule, index: int, rows: Rows, evidence: Evidence, now: float | None) -> str:
    stage = rule.stages[index]
    target = Fraction(stage.to_temp or 0)
    if (
        stage.clock in ("from_stage", "no_limit")
        and _reached(rows, Fraction(rule.stages[index - 1].to_temp or 0)) is None
    ):
        return "not_started"
    reached = _reached(rows, target)
    if stage.max_minutes is None:
        return "met" if reached is not None else "not_shown" if now is None else "running"
    earliest, latest = _bounds(rule, index, rows, evidence)
    if latest is not None and any(temp > target and time - latest >= stage.max_minutes for time, temp in rows):
        return "breached"
    if earliest is None or now is None:
        return "met" if earliest is not None and _in_time(stage, earliest, reached) else "not_shown"
    if _in_time(stage, earliest, reached):
        return "met"
    if now - earliest > stage.max_minutes or (stage.strict and now - earliest == stage.max_minutes):
        return "not_shown"
    if stage.clock == "from_event":
        return "running" if now >= earliest else "not_started"
    if latest is None:
        return "running" if any(temp == Fraction(rule.stages[0].from_temp or 0) for _, temp in rows) else "not_started"
    return "running"


def _in_time(stage: Stage, start: float, reached: float | None) -> bool:
    if reached is None or stage.max_minutes is None:
        return False
    return reached - start < stage.max_minutes if stage.strict else reached - start <= stage.max_minutes


# --- true histories ----------------------------------------------------------------------------------------------


def histories(
    rule: CoolingRule, evidence: Evidence, random: Random, count: int, *, resting: bool = False
) -> Iterator[list[tuple[float, float]]]:
    """Courses of temperature through every reading, which fall or rise steadily between two.

    `resting` lets some of them be at the later of the two temperatures for a while already.
    """
    rows = [(time, float(temp)) for time, temp in rows_of(rule, evidence)]
    start = float(rule.stages[0].from_temp or 0)
    fact = evidence.hot_fact_at
    if rows and rows[0][1] < start and fact is not None and minute(fact) <= rows[0][0]:
        rows = [(minute(fact), start + random.choice([0, 5, 60])), *rows]
    for _ in range(count):
        yield _history(rows, random, resting)


def _history(rows: Sequence[tuple[float, float]], random: Random, resting: bool) -> list[tuple[float, float]]:
    course = list(rows[:1])
    for (t0, a), (t1, b) in pairwise(rows):
        knots = random.randint(0, 3)
        times = sorted(_share(random) for _ in range(knots))
        falls = sorted(1.0 if resting and random.random() < 0.5 else _share(random) for _ in range(knots))
        course += [(t0 + (t1 - t0) * s, a + (b - a) * f) for s, f in zip(times, falls, strict=True)]
        course.append((t1, b))
    return course


def _share(random: Random) -> float:
    """Often hard at an end, where the worst and the best histories are."""
    return random.choice([1e-9, 1 - 1e-9, random.random()])


def true_spans(rule: CoolingRule, evidence: Evidence, course: list[tuple[float, float]]) -> list[float | None]:
    """How many minutes each stage truly took on a course; infinite when never reached, None when it cannot be said."""
    spans: list[float | None] = []
    if rule.stages[0].clock == "from_event" and evidence.event_at is not None:
        course = [point for point in course if point[0] >= minute(evidence.event_at)]
    start = _true_start(rule, evidence, course)
    for index, stage in enumerate(rule.stages):
        begun = _true_end(course, float(rule.stages[index - 1].to_temp or 0)) if stage.clock == "from_stage" else start
        known = begun is not None and math.isfinite(begun)
        spans.append(_true_end(course, float(stage.to_temp or 0)) - begun if known and begun is not None else None)
    return spans


def _true_start(rule: CoolingRule, evidence: Evidence, course: list[tuple[float, float]]) -> float | None:
    if rule.stages[0].clock == "from_event":
        return None if evidence.event_at is None else minute(evidence.event_at)
    start = float(rule.stages[0].from_temp or 0)
    below = next((place for place, (_, temp) in enumerate(course) if temp < start), None)
    if not below:
        return None
    return _crossing(course[below - 1], course[below], start)


def _true_end(course: list[tuple[float, float]], target: float) -> float:
    above = [place for place, (_, temp) in enumerate(course) if temp > target]
    if not course or (above and above[-1] == len(course) - 1):
        return math.inf
    return _crossing(course[above[-1]], course[above[-1] + 1], target) if above else course[0][0]


def _crossing(before: tuple[float, float], after: tuple[float, float], temp: float) -> float:
    (t0, a), (t1, b) = before, after
    return t0 if a == b else t0 + (t1 - t0) * (a - temp) / (a - b)
