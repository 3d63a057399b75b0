"""When a cooling container will pass its limits, with an interval that owns up to what is not known."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from production.domain.errors import OutOfRange
from production.domain.records.fitting import Draws, Floats, Surroundings, compatible_coolings, thinned

LOW, MIDDLE, HIGH = 0.05, 0.5, 0.95
BAND_POINTS = 48
BAND_DRAWS = 400
BAND_OF_NEVER_MIN = 240.0
SHORTEST_BAND_MIN = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """The middle of what is expected, and the bounds that hold nine times in ten."""

    low: float
    middle: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """When a temperature is reached, in minutes on the clock of the readings; infinity where it never is.

    Where the readings show it (`seen`): the last reading above it (minus infinity when there is none), the straight
    line, the first reading that stays at or below it.
    """

    temp_c: float
    seen: bool
    minutes: Interval


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """Down to a temperature within so many minutes of its clock.

    The clock began at `clock_min`; or it begins when the food passes `clock_c`.
    """

    to_c: float
    max_minutes: float
    clock_min: float | None = None
    clock_c: float | None = None

    def __post_init__(self) -> None:
        if (self.clock_min is None) == (self.clock_c is None):
            raise OutOfRange(
                "A limit counts from one moment.",
                code="limit-without-clock",
                numbers={"to_c": self.to_c},
                remedy="Give either the minute at which its clock began or the temperature that begins it.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class BandPoint:
    """Expected temperature at a minute, for drawing."""

    minute: float
    temp_c: Interval


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """What is to be expected of one container after its last reading."""

    reaches: tuple[Reach, ...]  # as asked for
    chances: tuple[float, ...]  # that each limit is met, as asked for
    temp_c: Interval  # at the last reading
    rate_per_h: Interval  # in force at the last reading
    surroundings_c: Interval  # in force at the last reading
    band: tuple[BandPoint, ...]  # from the last reading on; empty when nothing is left to reach


def forecast_cooling(
    *,
    minutes: Sequence[float],
    temps_c: Sequence[float],
    surroundings: Surroundings,
    targets_c: Sequence[float],
    limits: Sequence[Limit] = (),
) -> Forecast:
    """When one container passes temperatures it has not reached yet, from its readings so far; never a verdict.

    Equation: compatible_coolings on the readings, thinned; times are their weighted 5, 50 and 95 % points; the chance
        of a limit is the share of coolings that keep it. What the readings show already is not forecast: a clock then
        counts from the last reading above its temperature, a target from the first reading that stays at or below it.
    Units: minutes [min] on any clock, temps_c [degC], surroundings (record), targets_c [degC], limits (records; [min],
        [degC]); returns [min] on the same clock, [degC], [1/h], chances [share].
    Valid: one reading or more, in any order; usable readings of one attempt (after a reheat begin anew); at most one
        unknown change (moved, sets, ice gone) since the first: after a move that is on record give those since only.
    Errors: OutOfRange when there is no reading, a number is not finite, or there are not as many times as temperatures.
    Source: first-order cooling; priors: own estimates, class C; coverage is measured by tests.benchmarks.forecast.
    """
    times, temps = _in_order(minutes, temps_c)
    readings = thinned(times, temps, surroundings.temp_c)
    draws = compatible_coolings(readings, surroundings)
    origin, last = float(times[0]), readings.last_min
    reaches = tuple(_reach(each, times, temps, draws) for each in targets_c)
    later = draws.change_min > last
    return Forecast(
        reaches=reaches,
        chances=tuple(_chance(each, times, temps, draws) for each in limits),
        temp_c=_interval(draws.temps_at(np.array([last]))[:, 0], draws.weights),
        rate_per_h=_interval(60.0 * np.where(later, draws.rate_per_min, draws.later_rate_per_min), draws.weights),
        surroundings_c=_interval(np.where(later, draws.sink_c, draws.later_sink_c), draws.weights),
        band=_band(draws, origin, last, [each for each in reaches if not each.seen]),
    )


def _in_order(minutes: Sequence[float], temps_c: Sequence[float]) -> tuple[Floats, Floats]:
    times, temps = np.asarray(minutes, dtype=np.float64), np.asarray(temps_c, dtype=np.float64)
    if not len(times) or len(times) != len(temps) or not (np.isfinite(times).all() and np.isfinite(temps).all()):
        raise OutOfRange(
            "A forecast needs at least one reading, and every reading a time and a temperature.",
            code="no-reading",
            numbers={"times": len(times), "temperatures": len(temps)},
            remedy="Take a reading.",
        )
    order = np.lexsort((-temps, times))
    return times[order], temps[order]


def _seen(temp_c: float, times: Floats, temps: Floats) -> Interval | None:
    """Between the last reading above and the first that stays at or below; none where the last reading is above."""
    above = np.flatnonzero(temps > temp_c)
    first = int(above[-1]) + 1 if len(above) else 0
    if first == len(times):
        return None
    if not first:
        return Interval(low=-math.inf, middle=float(times[0]), high=float(times[0]))
    share = (temps[first - 1] - temp_c) / (temps[first - 1] - temps[first])
    low, high = float(times[first - 1]), float(times[first])
    return Interval(low=low, middle=min(high, low + float(share) * (high - low)), high=high)


def _reach(temp_c: float, times: Floats, temps: Floats, draws: Draws) -> Reach:
    seen = _seen(temp_c, times, temps)
    if seen is not None:
        return Reach(temp_c=temp_c, seen=True, minutes=seen)
    return Reach(
        temp_c=temp_c, seen=False, minutes=_interval(float(times[0]) + draws.minutes_at(temp_c), draws.weights)
    )


def _chance(limit: Limit, times: Floats, temps: Floats, draws: Draws) -> float:
    """Share of the coolings that keep a limit; what the readings show is taken on the slow side."""
    end = _slow_side(limit.to_c, times, temps, draws, is_end=True)
    begin: Floats | float = limit.clock_min or 0.0
    if limit.clock_c is not None:
        begin = _slow_side(limit.clock_c, times, temps, draws, is_end=False)
    return float(draws.weights @ (end <= begin + limit.max_minutes))


def _slow_side(temp_c: float, times: Floats, temps: Floats, draws: Draws, *, is_end: bool) -> Floats:
    """When each cooling passes a temperature: late where it ends a stage, early where it begins a clock."""
    seen = _seen(temp_c, times, temps)
    if seen is None:
        return np.asarray(float(times[0]) + draws.minutes_at(temp_c))
    return np.full(len(draws.weights), seen.high if is_end else seen.low)


def _interval(values: Floats, weights: Floats) -> Interval:
    order = np.argsort(values)
    ends = np.cumsum(weights[order]) - weights[order] / 2.0
    places = np.minimum(np.searchsorted(ends, (LOW, MIDDLE, HIGH)), len(values) - 1)
    low, middle, high = (float(each) for each in values[order[places]])
    return Interval(low=low, middle=middle, high=high)


def _band(draws: Draws, origin: float, last: float, missing: Sequence[Reach]) -> tuple[BandPoint, ...]:
    """From the last reading until the coldest target is reached, denser where it is steeper."""
    if not missing:
        return ()
    length = _band_min(min(missing, key=lambda each: each.temp_c).minutes, origin + last)
    times = last + length * np.linspace(0.0, 1.0, BAND_POINTS) ** 2
    temps = np.sort(draws.evenly(BAND_DRAWS).temps_at(times), axis=0)
    rows = temps[[int(share * BAND_DRAWS) for share in (LOW, MIDDLE, HIGH)]].T
    return tuple(
        BandPoint(minute=minute, temp_c=Interval(low=low, middle=middle, high=high))
        for minute, (low, middle, high) in zip((origin + times).tolist(), rows.tolist(), strict=True)
    )


def _band_min(reached: Interval, last: float) -> float:
    """Length of the band: to the slow side, but not so long that the near future cannot be seen."""
    if not math.isfinite(reached.middle):
        return BAND_OF_NEVER_MIN
    return max(SHORTEST_BAND_MIN, min(reached.high - last, 2.0 * (reached.middle - last)))
