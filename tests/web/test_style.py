"""Amounts, times and money as a kitchen writes them."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from production.domain.quantities import System
from production.web.present.words import days_said, name_in_words
from production.web.style import Style, duration_text, minutes_between


def style(*, units: System = "metric", zone: str = "America/Denver", now: datetime | None = None) -> Style:
    return Style(
        units=units,
        zone=ZoneInfo(zone),
        currency="USD",
        now=now or datetime(2027, 2, 2, 18, 0, tzinfo=UTC),
        first_day=date(2027, 2, 1),
        last_day=date(2027, 2, 7),
    )


@pytest.mark.parametrize(
    ("value", "unit", "units", "shown"),
    [
        (12.34, "kg", "metric", "12.3 kg"),
        (12.34, "kg", "us", "27.2 lb"),
        (0.054, "kg", "metric", "54 g"),
        (94.93, "degC", "metric", "94.9 °C"),
        (94.93, "degC", "us", "202.9 °F"),
        (-18.0, "degC", "metric", "−18 °C"),
        (160.0, "mm", "us", "6 1/4 in"),
    ],
)
def test_an_amount_is_written_in_the_kitchens_units(value: float, unit: str, units: System, shown: str) -> None:
    assert style(units=units).amount(value, unit).text == shown


def test_the_unit_of_an_amount_is_set_smaller_and_escaped_once() -> None:
    assert str(style().amount(2.5, "L")) == '2.5 <span class="unit">L</span>'


def test_a_time_names_the_weekday_unless_it_is_today() -> None:
    local = style()
    assert local.when(datetime(2027, 2, 2, 21, 30, tzinfo=UTC)) == "14:30"
    assert local.when(datetime(2027, 2, 4, 21, 30, tzinfo=UTC)) == "Thu 14:30"


def test_a_time_outside_the_week_names_the_date_too() -> None:
    assert style().when(datetime(2027, 1, 29, 21, 30, tzinfo=UTC)) == "Fri 29 Jan 14:30"


def test_a_span_says_the_day_twice_only_where_it_changes() -> None:
    start = datetime(2027, 2, 3, 13, 0, tzinfo=UTC)
    assert style().between(start, datetime(2027, 2, 3, 20, 0, tzinfo=UTC)) == "Wed 06:00–13:00"
    assert style().between(start, datetime(2027, 2, 4, 13, 0, tzinfo=UTC)) == "Wed 06:00 – Thu 06:00"


def test_minutes_over_a_change_of_clocks_are_those_that_really_pass() -> None:
    zone = ZoneInfo("Europe/Zurich")  # 28 March 2027: 02:00 becomes 03:00
    before, after = datetime(2027, 3, 28, 1, 30, tzinfo=zone), datetime(2027, 3, 28, 3, 30, tzinfo=zone)
    assert minutes_between(before, after) == 60


@pytest.mark.parametrize(
    ("minutes", "text"),
    [(0, "0 min"), (95, "1 h 35 min"), (120, "2 h"), (-25, "−25 min"), (2881, "2 d"), (1500, "1 d 1 h")],
)
def test_a_span_of_time_is_said_in_hours_and_minutes(minutes: float, text: str) -> None:
    assert duration_text(minutes) == text


def test_money_is_written_with_its_currency_and_two_places() -> None:
    assert style().money(Decimal("1234.5")) == "USD 1,234.50"


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("first_drawn_kg", "first drawn"),
        ("solubles_kg.onion", "solubles, onion"),
        ("first.sink-north.ice_kg", "ice, first, sink north"),
        ("density_kg_m3", "density"),
        ("plain", "plain"),
    ],
)
def test_a_name_of_a_number_becomes_words_without_its_unit(name: str, words: str) -> None:
    assert name_in_words(name) == words


@pytest.mark.parametrize(
    ("sentence", "shown"),
    [
        ("185 h 5 min earlier would be enough.", "7 d 17 h earlier would be enough."),
        ("It could end 48 h earlier.", "It could end 2 d earlier."),
        ("Ready 26 h 30 min after its dispatch.", "Ready 26 h 30 min after its dispatch."),
        ("1 pot more would be enough.", "1 pot more would be enough."),
    ],
)
def test_long_spans_in_a_sentence_are_said_in_days(sentence: str, shown: str) -> None:
    assert days_said(sentence) == shown
