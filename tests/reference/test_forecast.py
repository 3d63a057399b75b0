"""The cooling forecast against other programs: scipy's curve fitting, and brute force on the same definition."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import curve_fit

from production.domain.records.fitting import Surroundings
from production.domain.records.forecast import forecast_cooling

Floats = NDArray[np.float64]


@pytest.mark.parametrize(("rate_per_h", "sink_c"), [(2.5, 1.0), (1.2, -2.0), (0.4, 3.0)])
def test_without_a_change_it_finds_what_scipy_curve_fit_finds(rate_per_h: float, sink_c: float) -> None:
    """Source: scipy.optimize.curve_fit (Levenberg-Marquardt of MINPACK) on the same readings."""

    def law(minutes: Floats, log_rate: float, start: float, sink: float) -> Floats:
        return np.asarray(sink + (start - sink) * np.exp(-np.exp(log_rate) * minutes))

    minutes = np.linspace(0.0, 1.2 / rate_per_h * 60.0, 24)
    temps = law(minutes, math.log(rate_per_h / 60.0), 82.0, sink_c)
    (log_rate, start, sink), _ = curve_fit(law, minutes, temps, p0=(math.log(0.02), 80.0, 0.0))
    around = Surroundings(temp_c=sink_c, temp_sd_k=0.3, rate_per_h=rate_per_h * 1.5, rate_factor=2.0)
    told = forecast_cooling(minutes=minutes.tolist(), temps_c=temps.tolist(), surroundings=around, targets_c=(21.1,))
    truth = math.log((start - sink) / (21.1 - sink)) / math.exp(log_rate)
    assert told.rate_per_h.middle == pytest.approx(60.0 * math.exp(log_rate), rel=0.02)
    assert told.reaches[0].minutes.middle == pytest.approx(truth, rel=0.02)


CASES = {
    "three readings in ice": ([0.0, 12.0, 25.0], [81.0, 56.4, 38.1]),
    "five readings, a change on the way": ([0.0, 8.0, 15.0, 24.0, 33.0], [75.0, 58.2, 46.9, 41.5, 37.0]),
    "two readings": ([0.0, 14.0], [64.0, 41.0]),
    "one reading": ([0.0], [75.0]),
}


@pytest.mark.parametrize("case", CASES)
def test_its_interval_is_that_of_brute_force_on_the_same_definition(case: str) -> None:
    """Source: plain importance sampling, written here from the definition: the change at any minute, no gaps."""
    minutes, temps = (np.array(each) for each in CASES[case])
    around = Surroundings(temp_c=1.0, temp_sd_k=1.2, rate_per_h=1.8, rate_factor=2.2)
    when, weights = _brute_force(minutes, temps, around, (21.1, 5.0))
    told = forecast_cooling(
        minutes=minutes.tolist(), temps_c=temps.tolist(), surroundings=around, targets_c=(21.1, 5.0)
    )
    draws = 1.0 / np.square(weights).sum()
    assert draws > 40.0  # or brute force itself says nothing
    for each, reach in zip(when, told.reaches, strict=True):
        for minute, share in ((reach.minutes.low, 0.05), (reach.minutes.middle, 0.50), (reach.minutes.high, 0.95)):
            off = 0.02 + 2.0 * math.sqrt(share * (1.0 - share) / draws)
            assert weights[each < 0.99 * minute].sum() - off <= share <= weights[each <= 1.01 * minute].sum() + off


def _brute_force(
    minutes: Floats, temps: Floats, around: Surroundings, targets_c: tuple[float, ...]
) -> tuple[list[Floats], Floats]:
    rng, count = np.random.default_rng(8), 1_500_000
    last, mean, spread = max(60.0, minutes[-1]), math.log(around.rate_per_h / 60.0), math.log(around.rate_factor)
    # Start, rate and change are drawn where readings like these come from, and weighted for it.
    start = temps[0] + rng.uniform(-2.0, 2.0, count)
    near = math.log(math.log(temps[0] / temps[1]) / minutes[1]) if len(temps) > 1 else mean
    log_rate = np.where(
        rng.random(count) < 0.5, rng.uniform(near - 0.3, near + 0.3, count), rng.normal(mean, spread, count)
    )
    rate = np.exp(log_rate)
    change = np.where(
        rng.random(count) < 0.5, rng.uniform(0.0, last, count), rng.exponential(1.0, count) / (0.12 * rate)
    )
    prior = np.exp(-0.5 * ((log_rate - mean) / spread) ** 2) / (spread * math.sqrt(2.0 * math.pi))
    hazard = 0.12 * rate * np.exp(-0.12 * rate * change)
    drawn = (prior + (np.abs(log_rate - near) < 0.3) / 0.6) * (hazard + (change < last) / last)
    sink = around.temp_c + around.temp_sd_k * rng.normal(size=count)
    later_rate = rate * np.exp(-0.3 + 0.7 * rng.normal(size=count))
    shift = np.where(rng.random(count) < 0.5, rng.normal(6.0, 6.0, count), rng.normal(0.0, 0.3, count))
    later_sink = sink + shift
    turn = sink + (start - sink) * np.exp(-rate * change)
    squares = np.zeros(count)
    for minute, temp in zip(minutes, temps, strict=True):
        first = sink + (start - sink) * np.exp(-rate * minute)
        then = later_sink + (turn - later_sink) * np.exp(-later_rate * np.maximum(minute - change, 0.0))
        squares += (temp - np.where(minute <= change, first, then)) ** 2 / (0.38**2 + 0.1**2)
    weights = prior * hazard / drawn * np.exp(-0.5 * ((start - 70.0) / 30.0) ** 2)
    weights *= (2.5 + squares / 2.0) ** -(2.5 + len(minutes) / 2.0)
    when = []
    for target in targets_c:
        with np.errstate(all="ignore"):
            first = np.where(sink < target, np.log((start - sink) / (target - sink)) / rate, np.inf)
            after = np.log((turn - later_sink) / (target - later_sink)) / later_rate
            then = np.where(later_sink < target, change + after, np.inf)
        when.append(np.where(first <= change, first, then))
    return when, weights / weights.sum()
