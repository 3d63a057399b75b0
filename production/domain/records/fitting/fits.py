"""The best cooling of each way, and how closely the readings hold it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from production.domain.records.fitting.thinning import Floats, Readings
from production.domain.records.fitting.ways import PLACE, RATE, SHIFT, SINK, START, TURN, Ways

NOISE_SHAPE = 2.5  # how firmly the size of the noise is believed before there are readings (own estimate, class C)
STRAIN, STRAIN_LATELY = 2.5, 4.0  # mean squared misses of all and of the last three; noise as believed gives 1
_SWEEPS = 7


@dataclass(frozen=True, slots=True)
class Fits:
    """Best unknowns of each way, curvature there, misses in standard deviations, and the chance of each way."""

    unknowns: Floats
    curvatures: Floats
    misses: Floats
    chances: Floats

    def strained(self, way: int) -> bool:
        """Whether readings lie where one change cannot bring the curve."""
        squares = self.misses[way] ** 2
        return bool(squares.mean() > STRAIN or squares[-3:].mean() > STRAIN_LATELY)


def misfit(misses: Floats) -> Floats:
    """How badly coolings miss the readings, a size of the noise believed beforehand included.

    Equation: a + sum of squares / 2, of which the likelihood, noise integrated out, is the power -(a + n / 2).
    Units: misses [standard deviations]; returns [no unit].
    Valid: misses in the last axis.
    Errors: none.
    Source: inverse-gamma prior of a variance, standard text-book form.
    """
    return np.asarray(NOISE_SHAPE + 0.5 * np.square(misses).sum(axis=-1))


def fits_of(ways: Ways, readings: Readings) -> Fits:
    """Gauss-Newton on all ways at once.

    Equation: (J' W J + P) d = J' W (y - T) + P (m - x), W by the size of the noise that the misses show; the chance
        of a way is prior x likelihood x volume of its normal (Laplace).
    Units: ways, readings (records; [min], [degC]); returns [as the unknowns], [share].
    Valid: at least one reading.
    Errors: none.
    Source: Gauss-Newton and Laplace's method, standard text-book form.
    """
    unknowns, sharp = _first_guess(ways, readings), 1.0 / np.sqrt(readings.variances_k2)
    half, precision, diagonal = NOISE_SHAPE + len(sharp) / 2.0, ways.sds**-2, range(PLACE + 1)
    for sweep in range(_SWEEPS + 1):
        temps, slopes = _curves(ways, unknowns, readings)
        misses = (readings.temps_c - temps) * sharp
        sure = half / misfit(misses)[:, None]
        slopes *= sharp[:, None]
        weighted = slopes.transpose(0, 2, 1) * sure[:, :, None]
        curvatures = weighted @ slopes
        curvatures[:, diagonal, diagonal] += precision
        if sweep < _SWEEPS:
            pull = (weighted @ misses[:, :, None])[:, :, 0] + precision * (ways.means - unknowns)
            step: Floats = np.asarray(np.linalg.solve(curvatures, pull[:, :, None])[:, :, 0], dtype=np.float64)
            unknowns = unknowns + _bounded(step)
    log = ways.log_prior(ways.each, unknowns, readings.last_min) - half * np.log(misfit(misses))
    return Fits(unknowns, curvatures, misses, shares_of(log - 0.5 * np.linalg.slogdet(curvatures)[1]))


def shares_of(log: Floats) -> Floats:
    """Shares that add up to one, from logarithms.

    Equation: e^x / sum of e^x.
    Units: log [ln of a weight]; returns [share].
    Valid: at least one finite number.
    Errors: none.
    Source: definition.
    """
    weights = np.exp(log - log.max())
    return np.asarray(weights / weights.sum())


def _first_guess(ways: Ways, readings: Readings) -> Floats:
    """Through the first and the last reading, without a change."""
    guess = ways.means.copy()
    first, last, sink = readings.temps_c[0], readings.temps_c[-1], ways.means[0, SINK]
    guess[:, START], guess[:, TURN], guess[:, SHIFT] = first, 0.0, 0.0
    passed = readings.minutes[-1] - readings.minutes[0]
    if first > last and first > sink + 1.0 and passed > 0.0:
        rate = math.log((first - sink) / max(last - sink, 1.0)) / passed
        guess[:, RATE] = math.log(max(rate, 1e-6))
    reach = 2.5 * ways.sds[:, RATE]
    guess[:, RATE] = np.clip(guess[:, RATE], ways.means[:, RATE] - reach, ways.means[:, RATE] + reach)
    return guess


def _bounded(step: Floats) -> Floats:
    """A step that changes no rate by more than a factor of e, and no place by more than one."""
    return np.asarray(step / np.maximum(1.0, np.abs(step[:, [RATE, TURN, PLACE]]).max(axis=1))[:, None])


def _curves(ways: Ways, unknowns: Floats, readings: Readings) -> tuple[Floats, Floats]:
    """Temperatures (way x reading) and their slopes by each of the unknowns."""
    log_rate, start, sink, turn, shift, place = unknowns.T[:, :, None]
    rate = np.exp(log_rate)
    later_rate, later_sink = rate * np.exp(turn), sink + shift
    before = np.minimum(readings.minutes, ways.change_min(ways.each, unknowns)[:, None])
    after = readings.minutes - before
    left, later_left = np.exp(-rate * before), np.exp(-later_rate * after)
    above = sink + (start - sink) * left - later_sink
    by_turn = -above * later_left * later_rate * after
    by_rate = by_turn - (start - sink) * left * rate * before * later_left
    by_sink, by_shift = 1.0 - left * later_left, 1.0 - later_left
    width = (ways.closes_min - ways.opens_min)[:, None] * np.exp(-0.5 * place**2) / math.sqrt(2.0 * math.pi)
    by_change = np.where(after > 0.0, later_rate * above - rate * (start - sink) * left, 0.0) * later_left
    slopes = np.stack([by_rate, left * later_left, by_sink, by_turn, by_shift, by_change * width], axis=2)
    return later_sink + above * later_left, slopes
