"""Weighted coolings drawn from all that the readings allow."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import ndtri

from production.domain.records.fitting.fits import NOISE_SHAPE, Fits, fits_of, misfit, shares_of
from production.domain.records.fitting.surroundings import Surroundings
from production.domain.records.fitting.thinning import Floats, Readings
from production.domain.records.fitting.ways import RATE, SHIFT, SINK, START, TURN, Ways, add_changes_to_come, ways_of

DRAWS = 1536
MOST_WEIGHT = DRAWS**-0.5  # so that no single draw speaks for all (truncated importance sampling)
_WIDER = 1.4
_SPARE_SHARE = 0.3


@dataclass(frozen=True, slots=True)
class Draws:
    """Weighted coolings that agree with the readings, each with one change behind it or to come."""

    rate_per_min: Floats
    start_c: Floats
    sink_c: Floats
    later_rate_per_min: Floats
    later_sink_c: Floats
    change_min: Floats
    weights: Floats

    def minutes_at(self, temp_c: float) -> Floats:
        """Minute from the first reading at which each cooling passes a temperature, infinity when it never does."""
        with np.errstate(all="ignore"):  # both roads are reckoned for all; only one is taken
            turn_c = _towards(self.start_c, self.sink_c, self.rate_per_min * self.change_min)
            first = _fall_min(self.start_c, temp_c, self.sink_c, self.rate_per_min)
            second = self.change_min + _fall_min(turn_c, temp_c, self.later_sink_c, self.later_rate_per_min)
        return np.where(first <= self.change_min, first, second)

    def temps_at(self, minutes: Floats) -> Floats:
        """Temperature of each cooling (rows) at each minute (columns)."""
        before = np.minimum(minutes, self.change_min[:, None])
        turn_c = _towards(self.start_c[:, None], self.sink_c[:, None], self.rate_per_min[:, None] * before)
        passed = self.later_rate_per_min[:, None] * (minutes - before)
        return _towards(turn_c, self.later_sink_c[:, None], passed)

    def evenly(self, count: int) -> Draws:
        """So many of them, each standing for the same share."""
        ends = np.cumsum(self.weights)
        chosen = np.searchsorted(ends, (np.arange(count) + 0.5) / count * ends[-1])
        return Draws(
            self.rate_per_min[chosen],
            self.start_c[chosen],
            self.sink_c[chosen],
            self.later_rate_per_min[chosen],
            self.later_sink_c[chosen],
            self.change_min[chosen],
            np.full(count, 1.0 / count),
        )


def _towards(temp_c: Floats, sink_c: Floats, folds: Floats) -> Floats:
    return np.asarray(sink_c + (temp_c - sink_c) * np.exp(-folds))


def _fall_min(from_c: Floats, to_c: float, sink_c: Floats, rate: Floats) -> Floats:
    fall = np.where(sink_c < to_c, np.log((from_c - sink_c) / (to_c - sink_c)) / rate, math.inf)
    return np.where(from_c <= to_c, 0.0, fall)


def compatible_coolings(readings: Readings, surroundings: Surroundings) -> Draws:
    """Coolings of first order, changed at most once, that the readings and what is known beforehand allow.

    Equation: T = Ts + (T0 - Ts) e^(-k t), from the change on with another k and Ts. Each way (no change yet; in one
        of the gaps between readings, of one of two kinds) is fitted on (ln k, T0, Ts, ln k2 / k1, Ts2 - Ts1, minute of
        the change) with normal priors; 1536 evenly spread draws from the normals of all fits, weighted by prior x
        likelihood / their own density. The noise is integrated out under an inverse-gamma prior about 0.38 K; changes
        come at random, 0.12 per e-fold, and those still to come are drawn as well. Readings that one change cannot
        explain are fitted again from the change on, without those before.
    Units: readings (record; [min], [degC]), surroundings (record; [degC], [1/h]); returns [min], [degC], [1/min].
    Valid: well-mixed liquid, or a set body after its first hour; at most one change since the first reading.
    Errors: none.
    Source: Laplace's method and importance sampling, standard text-book form; priors: own estimates, class C.
    """
    ways = ways_of(readings, surroundings)
    fits = fits_of(ways, readings)
    best = int(fits.chances.argmax())
    since = int(np.searchsorted(readings.minutes, ways.closes_min[best]))
    if fits.strained(best) and since < len(readings.minutes):
        return compatible_coolings(readings.from_reading(since), surroundings.after_a_move())
    return _weighed(ways, readings, fits)


@lru_cache(maxsize=1)
def _even_points() -> tuple[Floats, Floats]:
    """Points of the unit cube that leave no corner empty (additive recurrence): two as they are, six as normals."""
    dimensions, root = 8, 1.5
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / (dimensions + 1.0))
    points = (0.5 + np.outer(np.arange(1, DRAWS + 1), root ** -np.arange(1.0, dimensions + 1.0))) % 1.0
    return points[:, 6:].T, ndtri(points[:, :6])


def _weighed(ways: Ways, readings: Readings, fits: Fits) -> Draws:
    """Draws from the normals of the fits, each weighted by how much likelier it is than it was drawn."""
    (choice, kind), normal = _even_points()
    shares = _drawn_shares(fits.chances)
    way = np.minimum(np.searchsorted(np.cumsum(shares), choice), len(shares) - 1)
    spread = np.linalg.cholesky(np.linalg.inv(fits.curvatures))
    unknowns = fits.unknowns[way] + _WIDER * (spread[way] @ normal[:, :, None])[:, :, 0]
    change_min, even = ways.change_min(way, unknowns), np.full(DRAWS, 1.0 / DRAWS)
    temps = _coolings(unknowns, change_min, even).temps_at(readings.minutes)
    misses = (readings.temps_c - temps) / np.sqrt(readings.variances_k2)
    log = ways.log_prior(way, unknowns, readings.last_min)
    log -= (NOISE_SHAPE + len(readings.minutes) / 2.0) * np.log(misfit(misses))
    log -= np.log(shares[way]) + 0.5 * np.linalg.slogdet(fits.curvatures)[1][way] - 0.5 * (normal**2).sum(axis=1)
    add_changes_to_come(unknowns, change_min, way, kind, readings.last_min)
    weights = np.minimum(shares_of(log), MOST_WEIGHT)
    return _coolings(unknowns, change_min, weights / weights.sum())


def _drawn_shares(chances: Floats) -> Floats:
    """Even a way that fits badly is drawn now and then: half of these without a change."""
    others = len(chances) - 1
    spare = np.full(others + 1, 0.5 / others) if others else np.ones(1)
    spare[0] = 0.5 if others else 1.0
    return np.asarray((1.0 - _SPARE_SHARE) * chances + _SPARE_SHARE * spare)


def _coolings(unknowns: Floats, change_min: Floats, weights: Floats) -> Draws:
    rate = np.exp(unknowns[:, RATE])
    return Draws(
        rate,
        unknowns[:, START],
        unknowns[:, SINK],
        rate * np.exp(unknowns[:, TURN]),
        unknowns[:, SINK] + unknowns[:, SHIFT],
        change_min,
        weights,
    )
