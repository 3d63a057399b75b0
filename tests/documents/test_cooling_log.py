"""The blank cooling log says the rule in its own figures and leaves room to write."""

from __future__ import annotations

import io
from dataclasses import replace
from decimal import Decimal

import pdfplumber
import pytest

from production.documents.cooling_log import limit_words
from production.documents.render import Paper
from production.domain.sheets import CoolingLog, LimitLine
from tests.documents.reading import printed, rendered
from tests.documents.samples import HEADING, cooling_log


def limit(**changes: object) -> LimitLine:
    return replace(cooling_log().limits[0], **changes)  # type: ignore[arg-type]


def test_the_limits_are_told_with_source_clock_start_and_margin() -> None:
    text = printed(cooling_log())
    for words in (
        "Critical limits Two-stage cooling, Celsius figures",
        "1 From 57 °C to 21 °C or lower within 2 h counted from passing 57 °C 1 h 14 min 46 min to spare",
        "2 From 57 °C to 5 °C or lower within 6 h counted from passing 57 °C 2 h 48 min 3 h 12 min to spare",
        "The clock starts at the last reading of 57 °C or more.",
        "United States, where adopted: FDA Food Code 2022, 3-501.14(A)",
    ):
        assert words in text


def test_a_legal_temperature_is_printed_as_the_rule_writes_it_and_never_rounded() -> None:
    assert limit_words(limit(from_temp=Decimal("57.2"), to_temp=Decimal("21.1"))).startswith(
        "From 57.2 °C to 21.1 °C or lower"
    )
    assert limit_words(limit(from_temp=Decimal(135), to_temp=Decimal(70), temp_unit="F")) == (
        "From 135 °F to 70 °F or lower within 2 h"
    )


def fahrenheit_log(units: str) -> CoolingLog:
    limits = (
        limit(from_temp=Decimal(130), to_temp=Decimal(80), temp_unit="F", counted_from="passing 130 °F"),
        limit(stage=2, from_temp=Decimal(80), to_temp=Decimal("38.5"), temp_unit="F", counted_from="stage 1"),
    )
    return replace(cooling_log(), heading=replace(HEADING, units=units), limits=limits)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_limits_chart_and_readings_are_in_the_unit_of_the_rule_in_every_kitchen(units: str) -> None:
    text = printed(fahrenheit_log(units))
    assert "From 130 °F to 80 °F or lower" in text
    assert "80 °F within 2 h" in text  # on the chart
    assert "38.5 °F within" in text
    assert "After drawing Time °F Probe" in text
    assert "from 196.7 °F" in text


def test_a_rule_in_celsius_stays_in_celsius_in_a_kitchen_that_reads_fahrenheit() -> None:
    text = printed(replace(cooling_log(), heading=replace(HEADING, units="us")), "letter")
    assert "After drawing Time °C Probe" in text
    assert "21 °C within 2 h" in text
    assert "from 91.5 °C" in text
    assert "°F" not in text


def test_what_the_rule_adds_to_its_limits_is_printed_under_them() -> None:
    text = printed(cooling_log())
    assert cooling_log().notes
    for note in cooling_log().notes:
        assert text.index("The clock starts at") < text.index(note) < text.index("Expected curve")


def test_a_strict_limit_says_less_than() -> None:
    assert limit_words(limit(inclusive=False)) == "From 57 °C to 21 °C or lower in less than 2 h"


def test_a_limit_without_a_first_temperature_names_only_the_last() -> None:
    assert limit_words(limit(from_temp=None, to_temp=Decimal(5), limit_min=240)) == "To 5 °C or lower within 4 h"


def test_a_predicted_breach_is_marked_in_words() -> None:
    late = replace(cooling_log(), limits=(limit(predicted_min=150, margin_min=-30),))
    text = printed(late)
    assert "! 30 min too late" in text
    assert "to spare" not in text


def test_a_stage_counted_from_the_one_before_is_drawn_after_it() -> None:
    second = replace(cooling_log().limits[1], counted_from="the end of stage 1", limit_min=240, from_temp=Decimal(21))
    text = printed(replace(cooling_log(), limits=(cooling_log().limits[0], second)))
    assert "counted from the end of stage 1" in text
    assert "5 °C within 4 h 48 min" in text  # 57 to 21 °C takes 48 min on the expected curve, then 240


def test_device_vessels_fill_and_ice_are_told() -> None:
    text = printed(cooling_log())
    assert "Ice sink north 4 × deep steel pan filled with 12.3 L depth 98 mm ice 61 kg from 91.5 °C" in text
    assert "Beef stock 4 × 10 L pail (10 L each)" in text
    assert "ice" not in printed(replace(cooling_log(), ice_kg=0.0, device="Chiller", corrective=(), formula="Stock"))


def test_a_log_of_a_part_of_a_draw_says_which_part_and_a_log_of_all_of_it_does_not() -> None:
    part = printed(replace(cooling_log(), vessels=2, litres=24.0))
    assert "Part of the draw: 24 L of its 40 L cool here; the rest cools elsewhere" in part
    assert "Part of the draw" not in printed(cooling_log())


def test_readings_have_planned_times_and_room_to_write() -> None:
    with pdfplumber.open(io.BytesIO(rendered(cooling_log()).pdf)) as document:
        readings = max(document.pages[0].extract_tables(), key=len)
    planned = [(row[0], row[1]) for row in readings if row[0] and ":" in row[0]]
    assert planned[0] == ("16:00", "0 min")
    assert planned[3] == ("17:30", "1 h 30 min")
    assert planned[-1] == ("22:00", "6 h")
    assert all(cell == "" for row in readings for cell in row[2:] if row[0] and ":" in row[0])
    assert sum(1 for row in readings if not any(row)) == 2


def test_a_quick_cooling_leaves_room_for_a_slow_one() -> None:
    quick = replace(cooling_log(), reading_minutes=(0, 15, 30))
    with pdfplumber.open(io.BytesIO(rendered(quick).pdf)) as document:
        readings = max(document.pages[0].extract_tables(), key=len)
    assert sum(1 for row in readings if not any(row)) == 7


def test_corrective_action_and_verification_have_their_place() -> None:
    text = printed(cooling_log())
    for words in (
        *cooling_log().corrective,
        *cooling_log().cautions,
        "Verification limits met",
        "Reviewer Date Signature",
    ):
        assert words in text


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_log_with_nine_readings_fits_one_page(paper: Paper) -> None:
    assert rendered(cooling_log(), paper).pages == 1


def test_the_drawn_clock_starts_where_the_curve_passes_the_first_temperature() -> None:
    text = printed(cooling_log())
    assert "time since about 16:22, when the clock starts" in text  # 2 + 89.5 x 0.978^m = 57 at m = 21.9
    assert "21 °C within 2 h 46 min to spare" in text
    assert "5 °C within 6 h 3 h 12 min to spare" in text


def test_food_drawn_below_the_first_temperature_starts_the_clock_at_once() -> None:
    cool = replace(
        cooling_log(),
        expected=tuple(point for point in cooling_log().expected if point.temp_c < 57),
        slow=tuple(point for point in cooling_log().slow if point.temp_c < 57),
    )
    assert "time since about 16:00, when the clock starts" in printed(cool)
