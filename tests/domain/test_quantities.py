"""What people type, and what they are shown."""

from __future__ import annotations

import pickle
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.domain.errors import BadQuantity, BadWeekFile, PotwrightError, Problem
from production.domain.quantities import (
    _LIBRARY_NAME,
    UNIT_OF_SUFFIX,
    System,
    _factor,
    celsius_to_fahrenheit,
    display_quantity,
    fahrenheit_to_celsius,
    parse_quantity,
    round_money,
    round_up_to_packs,
    rounded_text,
    unit_of_name,
)


@pytest.mark.parametrize(
    ("typed", "unit", "expected"),
    [
        ("60 qt", "L", 60 * 0.946352946),
        ("1 gal", "L", 3.785411784),
        ("15 lb 4 oz", "kg", 15.25 * 0.45359237),
        ("15lb4oz", "kg", 15.25 * 0.45359237),
        ("180 F", "degC", 82.2222222),
        ("-4 °F", "degC", -20.0),
        ("−18 C", "degC", -18.0),
        ("273.15 K", "degC", 0.0),
        ("9 F", "K", 5.0),
        ("5 C", "K", 5.0),
        ("5 K", "K", 5.0),
        ("1.5 h", "min", 90.0),
        ("1 h 30 min", "min", 90.0),
        ("90 min", "h", 1.5),
        ("5200ft", "m", 1584.96),
        ("18 in", "mm", 457.2),
        ("1 1/2 qt", "L", 1.5 * 0.946352946),
        ("1/2 gal", "L", 0.5 * 3.785411784),
        ("85 %", "share", 0.85),
        ("0.85", "share", 0.85),
        ("12 Bx", "Bx", 12.0),
        ("12 brix", "Bx", 12.0),
        ("27000 BTU/h", "kW", 7.91292),
        ("10 W/(m² K)", "W/(m2 K)", 10.0),
        ("+7", "kg", 7.0),
        (12, "kg", 12.0),
        (0.5, "L", 0.5),
        ("1.25e1 kg", "kg", 12.5),
        ("4.19 kJ/(kg K)", "kJ/(kg K)", 4.19),
    ],
)
def test_typed_amounts_are_read_in_the_unit_of_the_field(typed: str | float, unit: str, expected: float) -> None:
    assert parse_quantity(typed, unit) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    ("typed", "unit", "code"),
    [
        ("1,5", "kg", "ambiguous-comma"),
        ("1,500 kg", "kg", "ambiguous-comma"),
        ("5 oz", "L", "ambiguous-ounce"),
        ("5 kg", "L", "wrong-kind"),
        ("5 h", "kg", "wrong-kind"),
        ("5 zork", "kg", "unknown-unit"),
        ("5 lb 3", "kg", "unknown-unit"),
        ("5 lb 3 zork", "kg", "unknown-unit"),
        ("5 % 3 %", "kg", "unknown-unit"),
        ("12 %", "kg", "unknown-unit"),
        ("5 kg 20 C", "kg", "unknown-unit"),
        ("", "kg", "unreadable"),
        ("a lot", "kg", "unreadable"),
        ("--5", "kg", "unreadable"),
        ("5" * 61, "kg", "unreadable"),
        ("nan", "kg", "unreadable"),
        (True, "kg", "unreadable"),
        ("1/0 kg", "kg", "not-finite"),
        ("1e400", "kg", "not-finite"),
        (float("nan"), "kg", "not-finite"),
        (float("inf"), "h", "not-finite"),
    ],
)
def test_amounts_that_cannot_be_read_are_refused_with_an_example(typed: str | float, unit: str, code: str) -> None:
    with pytest.raises(BadQuantity) as refusal:
        parse_quantity(typed, unit)
    assert refusal.value.code == code
    assert refusal.value.remedy.startswith("Write it like this: ")


def test_a_bare_number_is_refused_where_a_unit_is_required() -> None:
    with pytest.raises(BadQuantity) as refusal:
        parse_quantity("60", "L", unit_required=True)
    assert refusal.value.code == "unit-missing"
    assert "60 qt" in refusal.value.remedy


def test_a_unit_without_an_example_of_its_own_still_gets_one() -> None:
    with pytest.raises(BadQuantity, match="not known") as refusal:
        parse_quantity("3 zork", "kg/h")
    assert "2.5 kg/h" in refusal.value.remedy


@given(st.floats(-200, 200))
def test_fahrenheit_and_celsius_are_inverses(temp_c: float) -> None:
    assert fahrenheit_to_celsius(celsius_to_fahrenheit(temp_c)) == pytest.approx(temp_c, abs=1e-9)


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused_and_nothing_else(text: str) -> None:
    try:
        value = parse_quantity(text, "kg")
    except BadQuantity:
        return
    assert isinstance(value, float)


@pytest.mark.parametrize(
    ("value", "unit", "system", "shown"),
    [
        (7.321, "kg", "metric", ("7.3", "kg")),
        (7.325, "kg", "metric", ("7.35", "kg")),
        (12.345, "kg", "metric", ("12.3", "kg")),
        (62.3, "kg", "metric", ("62.5", "kg")),
        (7.0, "L", "metric", ("7", "L")),
        (2.5, "kg/h", "metric", ("2.5", "kg/h")),
        (94.6497, "degC", "metric", ("94.6", "C")),
        (83.4, "mm", "metric", ("83", "mm")),
        (0.8501, "share", "metric", ("85", "%")),
        (0.0123456, "1/h", "metric", ("0.01235", "1/h")),
        (0.0, "1/h", "metric", ("0", "1/h")),
        (1.7e-5, "1/K", "metric", ("0.000017", "1/K")),
        (1.5e-20, "1/K", "metric", ("1.500e-20", "1/K")),
        (-0.01, "degC", "metric", ("0", "C")),
        (12.345, "kg", "us", ("27.2", "lb")),
        (0.2, "kg", "us", ("7.1", "oz")),
        (20.0, "L", "us", ("21.1", "qt")),
        (56.78, "L", "us", ("15", "gal")),
        (30.0, "mL", "us", ("1", "fl oz")),
        (82.2222, "degC", "us", ("180", "F")),
        (5.0, "K", "us", ("9", "F difference")),
        (82.55, "mm", "us", ("3 1/4", "in")),
        (3.175, "mm", "us", ("1/8", "in")),
        (0.0, "mm", "us", ("0", "in")),
        (1584.96, "m", "us", ("5200", "ft")),
        (1.0, "kg/h", "us", ("2.2", "lb/h")),
        (8.0, "kW", "us", ("8", "kW")),
    ],
)
def test_values_are_shown_as_a_kitchen_reads_them(
    value: float, unit: str, system: System, shown: tuple[str, str]
) -> None:
    assert display_quantity(value, unit, system) == shown


def test_a_value_that_is_no_number_is_never_shown() -> None:
    with pytest.raises(BadQuantity):
        display_quantity(float("nan"), "kg")


def test_halves_are_rounded_away_from_zero() -> None:
    assert rounded_text(0.125, "0.05") == "0.15"
    assert rounded_text(-2.5, "1") == "-3"
    assert round_money(Decimal("2.345")) == Decimal("2.35")
    assert round_money(Decimal("2.5"), places=0) == Decimal(3)


def test_packs_cover_the_need_and_not_more_than_one_pack_too_many() -> None:
    assert round_up_to_packs(needed=10.0, pack=2.5) == 4
    assert round_up_to_packs(needed=10.01, pack=2.5) == 5
    assert round_up_to_packs(needed=0.3, pack=0.1) == 3
    assert round_up_to_packs(needed=0.0, pack=5.0) == 0


@pytest.mark.parametrize(("needed", "pack"), [(1.0, 0.0), (-1.0, 2.0), (float("nan"), 1.0), (1.0, float("inf"))])
def test_packs_of_nothing_are_refused(needed: float, pack: float) -> None:
    with pytest.raises(BadQuantity):
        round_up_to_packs(needed=needed, pack=pack)


def test_every_unit_of_a_name_can_be_converted() -> None:
    for suffix, unit in UNIT_OF_SUFFIX.items():
        assert unit_of_name(f"x_{suffix}") == unit
        assert _factor(_LIBRARY_NAME[unit], _LIBRARY_NAME[unit]) == 1.0


def test_the_longest_unit_of_a_name_counts() -> None:
    assert unit_of_name("loss_w_m2_k") == "W/(m2 K)"
    assert unit_of_name("mass_kg") == "kg"
    with pytest.raises(BadQuantity):
        unit_of_name("mass")


def test_errors_survive_being_sent_to_another_process() -> None:
    plain = PotwrightError("No room.", code="no-room", numbers={"missing_l": 3.0}, remedy="Use a larger pot.")
    copy = pickle.loads(pickle.dumps(plain))
    assert (copy.sentence, copy.code, copy.numbers, copy.remedy) == (
        "No room.", "no-room", {"missing_l": 3.0}, "Use a larger pot.",
    )  # fmt: skip
    file = BadWeekFile((Problem("/orders/0", "x", "y", "z"), Problem("/orders/1", "x", "y", "z")))
    assert pickle.loads(pickle.dumps(file)).problems == file.problems
    assert str(file) == "The week file has 2 problems."
    assert str(BadWeekFile(file.problems[:1])) == "The week file has 1 problem."


def test_a_number_that_is_not_text_is_refused_where_a_unit_is_required() -> None:
    with pytest.raises(BadQuantity) as refused:
        parse_quantity(5200.0, "m", unit_required=True)
    assert refused.value.code == "unit-missing"
