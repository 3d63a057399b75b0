"""Estimates from few records, and label numbers."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.domain.errors import BadQuantity, OutOfRange
from production.domain.estimates import Estimate, huber_mean, next_record_interval, regression_with_priors, shrink
from production.domain.identifiers import gs1_check_digit, gs1_number_is_valid


def test_without_records_the_prior_stands() -> None:
    kept = shrink(prior=Estimate(2.8, 0.8), sample_mean=0.0, sample_sd=0.4, count=0)
    assert kept.mean == pytest.approx(2.8)
    assert kept.sd == pytest.approx(0.8)
    (only,) = regression_with_priors(rows=[], outcomes=[], priors=[Estimate(2.2, 0.6)], noise_sd=1.0)
    assert only.mean == pytest.approx(2.2)
    assert only.sd == pytest.approx(0.6)


@given(st.floats(-5, 5), st.floats(0.1, 2), st.integers(1, 50))
def test_more_records_pull_towards_them_and_narrow_the_spread(mean: float, sd: float, count: int) -> None:
    prior = Estimate(0.0, 1.0)
    few = shrink(prior=prior, sample_mean=mean, sample_sd=sd, count=count)
    many = shrink(prior=prior, sample_mean=mean, sample_sd=sd, count=count + 1)
    assert abs(many.mean - mean) <= abs(few.mean - mean) + 1e-12
    assert many.sd < few.sd < prior.sd


def test_a_robust_mean_of_equal_or_half_equal_records_is_the_median() -> None:
    assert huber_mean([2.0, 2.0, 2.0]) == 2.0
    assert huber_mean([2.0, 2.0, 2.0, 9.0]) == 2.0


@given(st.lists(st.floats(-100, 100), min_size=1, max_size=12))
def test_a_robust_mean_lies_among_its_records(values: list[float]) -> None:
    assert min(values) - 1e-6 <= huber_mean(values) <= max(values) + 1e-6


def test_records_that_say_nothing_are_refused() -> None:
    with pytest.raises(OutOfRange):
        huber_mean([])
    with pytest.raises(OutOfRange):
        huber_mean([1.0, float("nan")])
    with pytest.raises(OutOfRange):
        shrink(prior=Estimate(1.0, 0.0), sample_mean=1.0, sample_sd=1.0, count=1)
    with pytest.raises(OutOfRange):
        regression_with_priors(rows=[[1.0, 2.0]], outcomes=[1.0], priors=[Estimate(1.0, 1.0)], noise_sd=1.0)
    with pytest.raises(OutOfRange):
        regression_with_priors(rows=[[1.0]], outcomes=[1.0], priors=[Estimate(1.0, 1.0)], noise_sd=0.0)
    with pytest.raises(OutOfRange):
        next_record_interval(estimate=Estimate(1.0, 1.0), record_sd=-1.0)


@pytest.mark.parametrize("digits", ["", "123", "62910415002x", "６２９１０４１５００２１", "1234567890123456789"])
def test_what_is_no_label_number_gets_no_check_digit(digits: str) -> None:
    with pytest.raises(BadQuantity):
        gs1_check_digit(digits)
    assert not gs1_number_is_valid(digits)


@given(st.text("0123456789", min_size=12, max_size=12), st.integers(0, 11), st.integers(1, 9))
def test_one_wrong_digit_is_always_noticed(digits: str, place: int, change: int) -> None:
    number = f"{digits}{gs1_check_digit(digits)}"
    assert gs1_number_is_valid(number)
    wrong = str((int(number[place]) + change) % 10)
    assert not gs1_number_is_valid(number[:place] + wrong + number[place + 1 :])
