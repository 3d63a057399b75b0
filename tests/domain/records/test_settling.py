"""When the log of a probe is done."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from production.domain.limits import TempUnit, rule
from production.domain.records.readings import Reading
from production.domain.records.settling import settled_at

START = datetime(2027, 2, 1, 12, tzinfo=UTC)


def read(*points: tuple[float, str], unit: TempUnit = "C") -> list[Reading]:
    return [Reading(START + timedelta(minutes=minute), Decimal(temp), unit) for minute, temp in points]


def minute(rule_code: str, readings: list[Reading]) -> float | None:
    at = settled_at(rule(rule_code), readings)
    return None if at is None else (at - START) / timedelta(minutes=1)


def test_a_quarter_of_an_hour_at_the_target_is_enough() -> None:
    readings = read((0, "60"), (100, "5.1"), (101, "5"), (115, "4.9"), (116, "4.9"), (120, "4.8"))
    assert minute("FDA_A_C", readings) == 116


def test_a_reading_above_the_target_begins_it_anew_whatever_the_order_of_arrival() -> None:
    readings = read((116, "4.9"), (101, "5"), (110, "5.1"), (111, "5"))
    assert minute("FDA_A_C", readings) is None
    assert minute("FDA_A_C", [*readings, *read((126, "4.9"))]) == 126


@pytest.mark.parametrize("readings", [[], read((0, "60")), read((0, "5")), read((0, "4"), (14.9, "4"))])
def test_too_little_is_not_enough(readings: list[Reading]) -> None:
    assert minute("FDA_A_C", readings) is None


def test_a_reading_in_the_other_unit_is_compared_exactly() -> None:
    assert minute("FDA_A_C", read((0, "41.0"), (15, "41.0"), unit="F")) == 15
    assert minute("FDA_A_C", read((0, "41.1"), (15, "41.0"), unit="F")) is None


def test_what_was_set_aside_does_not_count() -> None:
    aside = Reading(START + timedelta(minutes=5), Decimal("9"), "C", True)
    assert minute("FDA_A_C", [*read((0, "5"), (15, "5")), aside]) == 15
