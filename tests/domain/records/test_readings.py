"""What may stand in a cooling log, and how it is compared."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal, localcontext
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.domain.errors import BadQuantity
from production.domain.records import Evidence, Reading, as_known_at, entered_late, parse_temp
from production.domain.records.readings import exact_f, usable
from tests.domain.records.logs import at


def reading(minute: float, temp: str, *, excluded: bool = False) -> Reading:
    return Reading(at(minute), Decimal(temp), "F", excluded=excluded)


def test_a_reading_keeps_every_digit_that_was_typed() -> None:
    assert Reading(at(0), parse_temp("135.00"), "F").text == "135.00 °F"
    assert Reading(at(0), parse_temp(" -0.5 "), "C").text == "-0.5 °C"


@pytest.mark.parametrize(
    "text", ["", "70,4", "70 F", "1e2", "nan", "inf", "70.1234567", "12345", "７０", "--7", ".5", "7."]
)
def test_a_temperature_that_is_not_plain_digits_is_refused(text: str) -> None:
    with pytest.raises(BadQuantity, match="not a temperature"):
        parse_temp(text)


@pytest.mark.parametrize("temp", ["NaN", "Infinity", "10000", "1E-7", "1E+9"])
def test_a_reading_cannot_hold_what_is_no_temperature(temp: str) -> None:
    with pytest.raises(BadQuantity, match="not a temperature"):
        Reading(at(0), Decimal(temp), "F")


def test_a_reading_in_another_unit_than_c_or_f_is_refused() -> None:
    with pytest.raises(BadQuantity, match="no unit 'K'"):
        Reading(at(0), Decimal(300), "K")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "moment",
    [
        datetime(2026, 6, 3, 14, 0),  # noqa: DTZ001  (without an offset on purpose)
        datetime(1999, 12, 31, tzinfo=UTC),
        datetime(9999, 12, 31, 23, tzinfo=timezone(timedelta(hours=-5))),
    ],
)
def test_a_moment_without_offset_or_far_from_now_is_refused(moment: datetime) -> None:
    with pytest.raises(BadQuantity, match="not a moment"):
        Reading(moment, Decimal(70), "F")
    with pytest.raises(BadQuantity, match="not a moment"):
        Evidence(hot_fact_at=moment)


def test_moments_are_kept_in_utc() -> None:
    local = datetime(2026, 6, 3, 10, 0, tzinfo=timezone(timedelta(hours=-4)))
    assert Reading(local, Decimal(70), "F").at.tzinfo is UTC
    assert Evidence(event_at=local).event_at == at(0)


def test_readings_count_in_the_order_of_measuring_and_the_hotter_of_two_at_once() -> None:
    log = [reading(60, "88"), reading(0, "135"), reading(60, "92"), reading(30, "20", excluded=True)]
    assert [each.text for _, each in usable(log)] == ["135 °F", "92 °F"]


def test_of_two_readings_at_once_in_different_units_the_hotter_counts() -> None:
    log = [Reading(at(0), Decimal("21.1"), "C"), Reading(at(0), Decimal("69.99"), "F")]
    assert [each.text for _, each in usable(log)] == ["69.99 °F"]


typed = st.decimals(-999, 999, allow_nan=False, allow_infinity=False, places=6)


@given(typed, typed)
def test_celsius_and_fahrenheit_are_compared_exactly(celsius: Decimal, fahrenheit: Decimal) -> None:
    outside = Fraction(celsius) * 9 / 5 + 32
    with localcontext(prec=28):
        assert Fraction(exact_f(celsius, "C")) == outside
        assert (exact_f(celsius, "C") > exact_f(fahrenheit, "F")) == (outside > Fraction(fahrenheit))


def test_what_was_known_at_a_moment_is_what_was_measured_until_then() -> None:
    evidence = Evidence((reading(0, "135"), reading(60, "90"), reading(61, "89")), event_at=at(90), hot_fact_at=at(70))
    known = as_known_at(evidence, at(60))
    assert [each.temp for each in known.readings] == [135, 90]
    assert (known.event_at, known.hot_fact_at) == (at(90), None)
    assert as_known_at(evidence, at(70)) == evidence


def test_readings_entered_after_a_later_one_are_named() -> None:
    log = [reading(0, "135"), reading(110, "68"), reading(60, "92"), reading(110, "68"), reading(350, "41")]
    assert entered_late(log) == [log[2]]
    assert entered_late([]) == []
