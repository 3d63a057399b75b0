"""Unlikely readings are asked about and kept; until somebody answers they never help a log."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from production.domain.limits import TempUnit
from production.domain.records.questions import (
    SIDES,
    Around,
    doubted_side,
    planned_rate_per_h,
    questions_of,
)
from production.domain.records.readings import Reading

START = datetime(2027, 2, 1, 20, 0, tzinfo=UTC)


def read(minute: float, temp: str, unit: TempUnit = "C") -> Reading:
    return Reading(at=START + timedelta(minutes=minute), temp=Decimal(temp), unit=unit)


def sink(**changes: Any) -> Around:
    """A pot in ice, planned to cool with 1.8 per hour."""
    around = Around(boiling_c=99.0, coolant_c=0.0, rate_per_h=1.8, opened_at=START, drawn_c=85.0)
    return replace(around, **changes)


def codes(reading: Reading, around: Around) -> list[str]:
    return [each.code for each in questions_of(reading, around)]


@pytest.mark.parametrize(
    ("minute", "temp", "unit", "before", "asked"),
    [
        (10, "71.5", "C", read(0, "80"), []),
        (10, "160", "F", read(0, "80"), []),
        (10, "160", "C", read(0, "80"), ["unit-too-hot"]),
        (10, "160", "C", None, ["unit-too-hot"]),
        (60, "20", "F", read(45, "72", "F"), ["unit-too-cold"]),
        (10, "104", "C", read(0, "80"), ["hotter-than-boiling"]),
        (10, "200", "C", None, ["unit-too-hot"]),
        (10, "250", "C", None, ["hotter-than-boiling"]),
        (10, "0.5", "C", read(0, "80"), ["falls-too-fast"]),
        (10, "-3", "C", read(5, "70"), ["below-coolant"]),
        (10, "0.5", "C", None, ["falls-too-fast"]),
        (60, "44", "C", read(30, "40"), ["rises"]),
        (60, "42.7", "C", read(30, "40"), []),
        (60, "109.1", "F", read(30, "104", "F"), ["rises"]),
        (60, "109", "F", read(30, "104", "F"), []),
        (300, "4", "C", read(240, "6"), []),
    ],
)
def test_an_unlikely_temperature_is_asked_about_with_its_likeliest_reason(
    minute: float, temp: str, unit: TempUnit, before: Reading | None, asked: list[str]
) -> None:
    assert codes(read(minute, temp, unit), sink(before=before)) == asked


def test_a_temperature_in_the_wrong_unit_is_told_in_the_unit_that_fits() -> None:
    (question,) = questions_of(read(10, "160"), sink(before=read(0, "80")))
    assert question.sentence.startswith("160 °C is unlikely here, 160 °F would fit.")
    assert "160 F" in question.remedy


def test_a_thermometer_in_broth_may_show_a_little_more_than_boiling() -> None:
    assert codes(read(1, "100.9"), sink()) == []


def test_ice_in_the_broth_itself_explains_a_sudden_fall() -> None:
    fallen = read(10, "12")
    assert codes(fallen, sink(before=read(5, "70"))) == ["falls-too-fast"]
    assert codes(fallen, sink(before=read(5, "70"), chilled_at=(START + timedelta(minutes=6),))) == []


def test_without_a_plan_nobody_says_what_is_too_fast() -> None:
    assert codes(read(10, "12"), sink(before=read(5, "70"), rate_per_h=None)) == []


def test_two_readings_seconds_apart_are_no_impossible_fall() -> None:
    assert codes(read(10, "68.4"), sink(before=read(9.99, "70"))) == []


def test_a_chiller_of_minus_twenty_may_show_minus_ten() -> None:
    assert codes(read(600, "-10"), sink(coolant_c=-20.0, before=read(500, "0"))) == []


@pytest.mark.parametrize(
    ("changes", "asked"),
    [
        ({"opened_at": START + timedelta(hours=1), "drawn_c": None}, ["before-opening"]),
        ({"same_time": read(10, "70.9")}, ["same-time"]),
        ({"same_time": read(10, "71")}, []),
        ({"after": read(20, "66")}, ["before-the-last"]),
        ({"after": read(20, "66"), "from_probe": True}, []),
        ({"thermometer": "unknown"}, ["thermometer-unknown"]),
        ({"thermometer": "unnamed"}, ["thermometer-unnamed"]),
        ({"thermometer": "overdue"}, ["thermometer-overdue"]),
    ],
)
def test_time_and_thermometer_are_asked_about(changes: dict[str, Any], asked: list[str]) -> None:
    assert codes(read(10, "71"), sink(before=read(0, "80"), **changes)) == asked


def test_what_is_too_cold_never_helps_and_what_may_be_true_is_judged_both_ways_until_it_is_confirmed() -> None:
    assert doubted_side("falls-too-fast", confirmed=False) == "cold"
    assert doubted_side("rises", confirmed=False) == "either"
    assert doubted_side("a code of tomorrow", confirmed=False) == "either"
    assert doubted_side("same-time", confirmed=False) == "none"
    for code in SIDES:
        assert doubted_side(code, confirmed=True) == "none"
    assert doubted_side("", confirmed=False) == "none"


def test_the_planned_rate_is_the_steepest_of_the_curve() -> None:
    curve = ((0.0, 80.0), (30.0, 40.0), (90.0, 20.0), (120.0, 19.0))
    assert planned_rate_per_h(curve, coolant_c=0.0) == pytest.approx(1.386, abs=1e-3)  # ln 2 in half an hour
    assert planned_rate_per_h(((0.0, 80.0),), coolant_c=0.0) is None
    assert planned_rate_per_h((), coolant_c=0.0) is None
