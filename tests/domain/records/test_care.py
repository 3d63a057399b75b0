"""Checks of thermometers, deliveries and stores: the rules without a database."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.domain.errors import BadQuantity
from production.domain.limits import rule
from production.domain.records.logs import Facts, Kept
from production.domain.records.readings import Reading
from production.domain.records.receiving import (
    Arrived,
    named_lots,
    receipt_codes,
    receiving_objections,
    taken_from,
    usual_state,
)
from production.domain.records.storage_temps import (
    StoreLimit,
    StoreReading,
    excursion_remedy,
    excursions,
)
from production.domain.records.thermometers import check_due, check_target, judge_check, judge_if_off
from production.domain.records.verdicts import State
from tests.builders import at

NOON = at("2027-02-02 12:00")
DAY = date(2027, 2, 2)


def minutes(number: float) -> datetime:
    return NOON + timedelta(minutes=number)


# --- thermometers ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shown", "passed"), [("1.0", True), ("-1.0", True), ("1.01", False), ("-1.01", False), ("0", True)]
)
def test_a_thermometer_on_the_limit_passes_and_one_hundredth_beyond_fails(shown: str, passed: bool) -> None:
    found = judge_check(as_found=Decimal(shown), target=Decimal(0), allowed=Decimal(1))
    assert (found.passed, found.fit) == (passed, passed)


def test_a_thermometer_that_was_set_right_is_fit_but_its_past_stays_doubtful() -> None:
    found = judge_check(as_found=Decimal("34.5"), target=Decimal(32), allowed=Decimal(2), as_left=Decimal("32.1"))
    assert not found.passed
    assert found.fit
    assert (found.off, found.left_off) == (Decimal("2.5"), Decimal("0.1"))


def test_a_thermometer_that_was_set_wrong_is_not_fit() -> None:
    found = judge_check(as_found=Decimal("0.2"), target=Decimal(0), allowed=Decimal(1), as_left=Decimal("-1.5"))
    assert found.passed
    assert not found.fit


def test_a_check_counts_for_the_days_of_the_kitchen_and_a_failed_one_for_none() -> None:
    assert check_due(checked_on=DAY, every_days=7, fit=True) == date(2027, 2, 9)
    assert check_due(checked_on=DAY, every_days=7, fit=False) is None


def test_a_check_against_nothing_is_refused() -> None:
    with pytest.raises(BadQuantity) as refused:
        check_target(method="reference", unit="C", altitude_m=0.0)
    assert refused.value.code == "reference-missing"


def a_log(*temps: tuple[float, str]) -> list[Kept]:
    return [Kept(Reading(minutes(minute), Decimal(temp), "C"), row=n) for n, (minute, temp) in enumerate(temps, 1)]


def if_off(kept: list[Kept], off: str, *, rows: set[int], unit: Any = "C") -> State:
    facts = Facts(event_at=None, hot_fact_at=None)
    return judge_if_off(
        rule("FDA_A_C"), kept, facts, rows=rows, off=Decimal(off), unit=unit, now=minutes(1000), closed=True
    ).state


def test_an_error_to_the_warm_side_takes_nothing_from_a_log_that_was_met() -> None:
    log = a_log((0, "60"), (100, "19"), (350, "4.5"))
    assert if_off(log, "1.2", rows={1, 2, 3}) is State.MET


def test_an_error_to_the_cold_side_may_take_a_verdict_away() -> None:
    log = a_log((0, "60"), (100, "19"), (350, "4.5"))
    assert if_off(log, "-0.5", rows={1, 2, 3}) is State.MET  # 5.0 is the limit itself
    assert if_off(log, "-1.2", rows={1, 2, 3}) is State.NOT_SHOWN
    assert if_off(log, "-1.2", rows={1, 2}) is State.MET  # the last reading was taken with another one


def test_an_error_in_fahrenheit_is_taken_out_of_readings_in_celsius() -> None:
    log = a_log((0, "60"), (100, "19"), (350, "4.5"))
    assert if_off(log, "-0.9", rows={1, 2, 3}, unit="F") is State.MET  # 0.5 C
    assert if_off(log, "-1.0", rows={1, 2, 3}, unit="F") is State.NOT_SHOWN


# --- receiving ---------------------------------------------------------------------------------------------------


def objections(temp: str | None, unit: Any = "C", **changes: Any) -> list[str]:
    told: dict[str, Any] = {
        "came_as": "chilled",
        "material": "poultry_frames",
        "reading": None if temp is None else Reading(NOON, Decimal(temp), unit),
        "frozen_hard": True,
        "packs_sound": True,
        "received_on": DAY,
        "use_by": None,
    }
    found = receiving_objections(Arrived(**(told | changes)), chilled_most_c=Decimal(5), frozen_most_c=Decimal(-15))
    return [each.code for each in found]


@pytest.mark.parametrize(
    ("temp", "unit", "wanted"),
    [
        ("5", "C", []),
        ("5.0", "C", []),
        ("5.01", "C", ["too-warm"]),
        ("41", "F", []),
        ("41.1", "F", ["too-warm"]),
        ("-2", "C", []),
        (None, "C", ["temperature-missing"]),
    ],
)
def test_chilled_goods_are_held_against_the_limit_exactly(temp: str | None, unit: str, wanted: list[str]) -> None:
    assert objections(temp, unit) == wanted


def test_frozen_goods_are_hard_and_cold() -> None:
    assert objections("-18", came_as="frozen") == []
    assert objections("-15", came_as="frozen") == []
    assert objections("-14.9", came_as="frozen") == ["too-warm"]
    assert objections("-18", came_as="frozen", frozen_hard=False) == ["not-frozen-hard"]


def test_bones_do_not_come_warm_and_carrots_may() -> None:
    assert objections(None, came_as="ambient") == ["must-be-cold"]
    assert objections(None, came_as="ambient", material="nobody knows") == ["must-be-cold"]
    assert objections(None, came_as="ambient", material="vegetable_root") == []


def test_open_packs_and_goods_past_their_day_are_told_besides() -> None:
    found = objections("9", packs_sound=False, use_by=date(2027, 2, 1))
    assert found == ["too-warm", "packs-not-sound", "past-use-by"]
    assert objections("4", use_by=DAY) == []


def test_a_sentence_speaks_the_unit_of_the_thermometer() -> None:
    warm = receiving_objections(
        Arrived(
            came_as="chilled",
            material="lean_meat",
            reading=Reading(NOON, Decimal("44.5"), "F"),
            frozen_hard=True,
            packs_sound=True,
            received_on=DAY,
            use_by=None,
        ),
        chilled_most_c=Decimal(5),
        frozen_most_c=Decimal(-15),
    )
    assert warm[0].sentence == "44.5 °F is warmer than 41 °F."


def test_the_form_guesses_how_something_comes() -> None:
    assert usual_state(material="poultry_frames", charge_temp_c=4.0) == "chilled"
    assert usual_state(material="veal_bones", charge_temp_c=-18.0) == "frozen"
    assert usual_state(material="herb_spice", charge_temp_c=18.0) == "ambient"


def test_receipts_and_their_lots_have_codes_that_belong_together() -> None:
    receipt, lot = receipt_codes(received_on=DAY, number=3)
    assert receipt[1:] == lot[1:]
    assert (receipt[0], lot[0], lot[1:7]) == ("R", "I", "270202")


def test_lots_are_named_in_one_box() -> None:
    assert named_lots(" i270202001x, I2702020024 i270202001X") == ("I270202001X", "I2702020024")
    assert named_lots("  ") == ()


def test_a_weighing_empties_the_first_lot_and_goes_on_with_the_next() -> None:
    def taken(mass_kg: int, *left_kg: int) -> list[int]:
        return [int(each) for each in taken_from(mass_kg=Decimal(mass_kg), left_kg=[Decimal(each) for each in left_kg])]

    assert taken(12, 5, 20) == [5, 7]
    assert taken(12, 5) == [12]  # packs weigh more than they say
    assert taken(3, -1, 2) == [0, 3]


@given(
    mass=st.decimals(min_value=0, max_value=500, places=2),
    left=st.lists(st.decimals(min_value=-5, max_value=100, places=2), min_size=1, max_size=5),
)
def test_what_was_taken_adds_up_to_what_was_weighed(mass: Decimal, left: list[Decimal]) -> None:
    parts = taken_from(mass_kg=mass, left_kg=left)
    assert sum(parts) == mass
    assert all(part >= 0 for part in parts)


# --- stores ------------------------------------------------------------------------------------------------------

FRIDGE = StoreLimit("chilled", Decimal(5), timedelta(minutes=60))


def store(*readings: tuple[float, str] | tuple[float, str, str]) -> list[StoreReading]:
    return [
        StoreReading(Reading(minutes(each[0]), Decimal(each[1]), "C"), each[2] if len(each) > 2 else "air")  # type: ignore[arg-type]
        for each in readings
    ]


def states(*readings: Any, now: float = 600) -> list[tuple[str, str]]:
    return [(each.measured, each.state) for each in excursions(FRIDGE, store(*readings), now=minutes(now))]


def test_a_store_that_is_cold_enough_has_nothing_to_tell() -> None:
    assert states((0, "5"), (300, "4.9"), (600, "5.0")) == []


def test_warm_air_for_a_short_time_is_brief() -> None:
    assert states((0, "3"), (20, "7"), (50, "4")) == [("air", "brief")]


def test_warm_air_between_two_distant_readings_may_have_lasted() -> None:
    assert states((0, "3"), (300, "7"), (330, "4")) == [("air", "possible")]
    assert states((0, "3"), (20, "7"), now=40) == [("air", "brief")]
    assert states((0, "3"), (20, "7"), now=61) == [("air", "possible")]  # nobody has looked since


def test_warm_air_for_longer_than_it_may_be_is_over() -> None:
    assert states((0, "3"), (20, "7"), (81, "6"), (90, "4")) == [("air", "over")]
    assert states((0, "3"), (20, "7"), (80, "6"), (81, "4")) == [("air", "possible")]  # 60 min shown, 81 possible


def test_warm_food_is_over_at_once() -> None:
    assert states((0, "3"), (20, "5.1", "food"), (25, "4", "food")) == [("food", "over")]


def test_cold_food_ends_a_time_of_warm_air_but_cold_air_does_not_end_one_of_warm_food() -> None:
    assert states((0, "3"), (20, "8"), (30, "4", "food"), (50, "8"), (70, "3")) == [("air", "brief"), ("air", "brief")]
    found = excursions(FRIDGE, store((0, "7", "food"), (20, "3")), now=minutes(30))
    assert [each.is_over_now for each in found] == [True]


def test_the_first_reading_of_a_store_says_nothing_of_the_time_before() -> None:
    found = excursions(FRIDGE, store((0, "9")), now=minutes(30))[0]
    assert found.good_before is None
    assert found.longest == timedelta(minutes=30)


def test_what_to_do_follows_from_what_was_measured() -> None:
    def remedy(*readings: Any, now: float) -> str:
        return excursion_remedy(FRIDGE, excursions(FRIDGE, store(*readings), now=minutes(now))[0])

    assert remedy((0, "9"), now=30).startswith("Measure the warmest food")
    assert remedy((0, "9", "food"), now=30).startswith("Cool it below")
    assert "discard what was in it" in remedy((0, "9", "food"), now=300)
    freezer = StoreLimit("frozen", Decimal(-15), timedelta(hours=1))
    found = excursions(freezer, store((0, "-9")), now=NOON)
    assert "frozen hard" in excursion_remedy(freezer, found[0])


@given(
    st.lists(
        st.tuples(st.integers(0, 2000), st.integers(-3, 12), st.sampled_from(["air", "food"])), min_size=1, max_size=30
    )
)
def test_what_is_shown_is_never_longer_than_what_is_possible(rows: list[tuple[int, int, str]]) -> None:
    readings = store(*((minute, str(temp), what) for minute, temp, what in rows))
    found = excursions(FRIDGE, readings, now=minutes(2000))
    assert all(timedelta(0) <= each.shown <= each.longest for each in found)
    warm_food = any(temp > 5 and what == "food" for _, temp, what in rows)
    assert warm_food == any(each.measured == "food" for each in found)
    assert found == excursions(FRIDGE, reversed(readings), now=minutes(2000)) or len({r[0] for r in rows}) < len(rows)
