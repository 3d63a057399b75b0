"""Estimates from few records and check digits."""

from __future__ import annotations

import pytest

from production.domain.estimates import Estimate, huber_mean, next_record_interval, regression_with_priors, shrink
from production.domain.identifiers import gs1_check_digit, gs1_number_is_valid
from tests.reference.checks import Check, every, holds

NORMAL = "normal-normal model evaluated by a second program"
HUBER = "Huber M-estimate evaluated by a second program"
REGRESSION = "normal-normal linear regression evaluated by a second program (numpy)"


def evaporation() -> Estimate:
    return shrink(prior=Estimate(2.8, 0.8), sample_mean=2.1, sample_sd=0.4, count=4)


def losses() -> tuple[Estimate, ...]:
    return regression_with_priors(
        rows=[[20, 0, 8], [25, 0, 10], [30, 0, 9], [12, 3, 6], [18, 4, 7]],
        outcomes=[20.5, 26.0, 24.5, 14.2, 17.3],
        priors=[Estimate(0.10, 0.05), Estimate(0.15, 0.08), Estimate(2.2, 0.6)],
        noise_sd=1.0,
    )


def next_batch() -> tuple[float, float]:
    return next_record_interval(estimate=Estimate(2.14118, 0.194029), record_sd=0.4)


CHECKS = [
    Check("shrunk_mean", lambda: evaporation().mean, 2.14118, 0.00001, NORMAL),
    Check("shrunk_spread", lambda: evaporation().sd, 0.194029, 0.00001, NORMAL),
    Check("robust_mean", lambda: huber_mean([2.0, 2.2, 1.9, 2.1, 2.3, 4.8]), 2.15982, 0.0001, HUBER),
    Check("loss_per_kg_of_bones", lambda: losses()[0].mean, 0.120326, 0.00001, REGRESSION),
    Check("loss_per_kg_of_vegetables", lambda: losses()[1].mean, 0.105178, 0.00001, REGRESSION),
    Check("loss_per_hour", lambda: losses()[2].mean, 2.24302, 0.0001, REGRESSION),
    Check("next_batch_low", lambda: next_batch()[0], 1.40985, 0.0001, NORMAL),
    Check("next_batch_high", lambda: next_batch()[1], 2.87251, 0.0001, NORMAL),
]


@every(CHECKS)
def test_estimates_agree_with_outside_values(check: Check) -> None:
    holds(check)


@pytest.mark.parametrize(
    ("digits", "check", "source"),
    [
        ("629104150021", 3, "GS1 page on check digits, printed example"),
        ("730001100001", 7, "GS1 Sweden, printed example"),
        ("890400021003", 7, "GS1 India, printed example"),
        ("501234567890", 0, "by hand: the sum is a multiple of ten"),
    ],
)
def test_check_digits_are_those_of_the_printed_examples(digits: str, check: int, source: str) -> None:
    assert gs1_check_digit(digits) == check, source
    assert gs1_number_is_valid(f"{digits}{check}")
    assert not gs1_number_is_valid(f"{digits}{(check + 1) % 10}")
