"""Estimates from few records: shrinking to a prior, robust means, regression with priors, the next batch."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from production.domain.errors import OutOfRange


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value and how uncertain it is (one standard deviation)."""

    mean: float
    sd: float


def _refuse(sentence: str, remedy: str, **numbers: object) -> OutOfRange:
    return OutOfRange(sentence, code="bad-sample", numbers=numbers, remedy=remedy)


def shrink(*, prior: Estimate, sample_mean: float, sample_sd: float, count: int) -> Estimate:
    """Combine a default with the kitchen's own records.

    Equation: w0 = 1 / s0^2, w1 = n / s^2; mean = (w0 m0 + w1 x) / (w0 + w1), sd = (w0 + w1)^-1/2.
    Units: prior [any], sample_mean [same], sample_sd [same] of one record, count [pieces]; returns [same].
    Valid: both standard deviations above 0; with no records the prior is returned.
    Errors: OutOfRange when a standard deviation is not positive or the count is negative.
    Source: normal-normal model, standard text-book form.
    """
    if prior.sd <= 0.0 or sample_sd <= 0.0 or count < 0:
        raise _refuse(
            "A spread of nothing or a negative count says nothing.",
            "Give spreads above 0 and a count of 0 or more.",
            prior_sd=prior.sd,
            sample_sd=sample_sd,
            count=count,
        )
    prior_weight, sample_weight = prior.sd**-2, count * sample_sd**-2
    total = prior_weight + sample_weight
    return Estimate((prior_weight * prior.mean + sample_weight * sample_mean) / total, 1.0 / math.sqrt(total))


def huber_mean(values: Sequence[float], *, tuning: float = 1.345) -> float:
    """Mean that a few wild records cannot drag away.

    Equation: the mean m for which the sum of max(-k s, min(k s, x - m)) is 0, s = 1.4826 MAD held fixed.
    Units: values [any], tuning [times]; returns [same as values].
    Valid: at least one value; with a spread of nothing it is the median.
    Errors: OutOfRange when there is no value or one is not finite.
    Source: Huber M-estimate, standard text-book form.
    """
    if not values or not all(math.isfinite(each) for each in values):
        raise _refuse("A mean needs at least one finite value.", "Leave unreadable records out.", count=len(values))
    centre = statistics.median(values)
    reach = tuning * 1.4826 * statistics.median(abs(each - centre) for each in values)
    if reach == 0.0:
        return centre
    low, high = min(values), max(values)
    for _ in range(80):
        centre = (low + high) / 2.0
        pull = sum(max(-reach, min(reach, each - centre)) for each in values)
        low, high = (centre, high) if pull > 0.0 else (low, centre)
    return centre


def regression_with_priors(
    *, rows: Sequence[Sequence[float]], outcomes: Sequence[float], priors: Sequence[Estimate], noise_sd: float
) -> tuple[Estimate, ...]:
    """Coefficients of a linear law from few records, held near their defaults where the records cannot tell.

    Equation: (X'X / s^2 + diag(1 / s0^2)) b = X'y / s^2 + m0 / s0^2; sd from the inverse of the left side.
    Units: rows [any], outcomes [any], priors [outcome per column], noise_sd [as outcomes]; returns [as priors].
    Valid: one prior per column, spreads above 0.
    Errors: OutOfRange when shapes do not match or a spread is not positive.
    Source: normal-normal linear regression, standard text-book form.
    """
    import numpy as np

    columns = len(priors)
    if len(rows) != len(outcomes) or any(len(row) != columns for row in rows):
        raise _refuse(
            "Every record needs one number per coefficient and one outcome.",
            "Complete the records.",
            rows=len(rows),
            outcomes=len(outcomes),
            coefficients=columns,
        )
    if noise_sd <= 0.0 or any(each.sd <= 0.0 for each in priors):
        raise _refuse("A spread of nothing says nothing.", "Give spreads above 0.", noise_sd=noise_sd)
    x = np.asarray(rows, dtype=float).reshape(len(rows), columns)
    y = np.asarray(outcomes, dtype=float)
    weights = np.array([each.sd**-2 for each in priors])
    left = x.T @ x / noise_sd**2 + np.diag(weights)
    right = x.T @ y / noise_sd**2 + weights * np.array([each.mean for each in priors])
    covariance = np.linalg.inv(left)
    means = covariance @ right
    return tuple(Estimate(float(means[i]), math.sqrt(float(covariance[i, i]))) for i in range(columns))


def next_record_interval(*, estimate: Estimate, record_sd: float, z: float = 1.645) -> tuple[float, float]:
    """Where the next record will lie (nine times in ten with z = 1.645).

    Equation: mean -/+ z sqrt(sd^2 + record sd^2).
    Units: estimate [any], record_sd [same], z [times]; returns [same] low and high.
    Valid: normal spread, z and record_sd not negative.
    Errors: OutOfRange when z or record_sd is negative.
    Source: normal model, standard text-book form.
    """
    if record_sd < 0.0 or z < 0.0:
        raise _refuse("A spread cannot be negative.", "Give 0 or more.", record_sd=record_sd, z=z)
    reach = z * math.hypot(estimate.sd, record_sd)
    return estimate.mean - reach, estimate.mean + reach
