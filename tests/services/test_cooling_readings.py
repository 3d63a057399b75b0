"""Readings on the floor: typed in any unit, kept always, asked about, confirmed, entered again or set aside."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from production.domain.errors import NotAllowed
from production.domain.records.verdicts import State
from production.models import CoolingRecord, Entry, Kitchen, PlanningWeek, Reading, SafetyPlan
from production.selectors.record_projections import readings_check
from production.services.cooling_rows import verdict_on
from tests.conftest import Cast
from tests.services.cooling_kit import (
    GOOD,
    a_run,
    a_thermometer,
    act,
    again,
    opened,
    read,
    read_all,
    sent,
    take,
    verdict,
)


@pytest.fixture
def cooling(cast: Cast, planning_week: PlanningWeek) -> CoolingRecord:
    return opened(cast.cook, a_run(cast.manager, planning_week))


def stands(cooling: CoolingRecord, minute: float) -> State:
    row = again(cooling)
    return verdict_on(row, now=row.opened_at + timedelta(minutes=minute)).state


def the_reading(answer_key: str) -> Reading:
    return Reading.objects.get(entry__key=answer_key)


# --- as typed ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("units", "temp", "unit", "kept"),
    [
        ("metric", "71.5", "C", ("71.5", "C")),
        ("metric", "71,5", "", ("71.5", "C")),
        ("metric", "160 F", "C", ("160", "F")),
        ("metric", "71.50 °C", "", ("71.50", "C")),
        ("us", "160", "", ("160", "F")),
        ("us", "71.5 c", "F", ("71.5", "C")),
    ],
)
def test_a_reading_is_kept_as_it_was_typed(
    cast: Cast, cooling: CoolingRecord, units: str, temp: str, unit: str, kept: tuple[str, str]
) -> None:
    Kitchen.objects.filter(pk=cast.kitchen.pk).update(units=units)
    answer = read(cast.cook, cooling, 10, temp, unit=unit)
    assert answer.outcome == "kept"
    row = the_reading(answer.key)
    assert (row.temp, row.unit, row.entry.content["temp"]) == (*kept, temp)
    assert list(readings_check(cast.kitchen.pk)) == []


@pytest.mark.parametrize("temp", ["", "warm", "71.5.1", "1e2", "12345", "NaN", "71 K", "-"])
def test_what_is_no_temperature_is_refused_with_an_example(cast: Cast, cooling: CoolingRecord, temp: str) -> None:
    answer = read(cast.cook, cooling, 10, temp)
    assert (answer.outcome, answer.code) == ("refused", "reading-temp")
    assert "69.8" in answer.remedy
    assert not Reading.objects.exists()


def test_row_digest_and_curve_change_with_the_entry(cast: Cast, cooling: CoolingRecord) -> None:
    read_all(cast.cook, cooling, GOOD[:3])
    row = again(cooling)
    assert (row.reading_count, row.curve) == (3, [[2.0, 80.0], [25.0, 57.0], [60.0, 35.0]])
    assert stands(cooling, 61) is State.RUNNING
    assert stands(cooling, 200) is State.NOT_SHOWN


# --- trouble ----------------------------------------------------------------------------------------------------------


def test_the_same_reading_five_times_is_one(cast: Cast, cooling: CoolingRecord) -> None:
    at = cooling.opened_at + timedelta(minutes=10)
    entry = sent("reading", cooling.subject, at, {"temp": "71.5", "unit": "C"})
    answers = take(cast.cook, entry, entry, entry, now=at) + take(cast.manager, entry, entry, now=at)
    assert [each.outcome for each in answers] == ["kept", "known", "known", "known", "known"]
    assert len({each.number for each in answers}) == 1
    assert Reading.objects.count() == again(cooling).reading_count == 1


def test_readings_may_arrive_in_any_order(cast: Cast, cooling: CoolingRecord) -> None:
    entries = [
        sent("reading", cooling.subject, cooling.opened_at + timedelta(minutes=minute), {"temp": temp, "unit": "C"})
        for minute, temp in reversed(GOOD)
    ]
    now = cooling.opened_at + timedelta(minutes=310)
    answers = take(cast.cook, *entries, now=now)
    assert [each.code for each in answers] == ["", *["before-the-last"] * 4]
    assert act(cast.cook, cooling, "cooling_closed", 311, {}).outcome == "kept"
    assert verdict(cooling) is State.MET


def test_a_fahrenheit_number_in_a_celsius_kitchen_is_asked_about_and_entered_again_with_one_tap(
    cast: Cast, cooling: CoolingRecord
) -> None:
    read_all(cast.cook, cooling, GOOD[:1])
    asked = read(cast.cook, cooling, 8, "160")
    assert (asked.outcome, asked.code) == ("questioned", "unit-too-hot")
    assert "160 °F would fit" in asked.sentence
    now = cooling.opened_at + timedelta(minutes=9)
    answer = sent(
        "reading",
        cooling.subject,
        now,
        {"temp": "160", "unit": "F", "confirmed": True},
        corrects=asked.key,
        reason="The unit was °F",
    )
    (kept,) = take(cast.cook, answer, now=now)
    assert (kept.outcome, the_reading(asked.key).excluded) == ("kept", True)
    again_read = the_reading(kept.key)
    assert (again_read.temp, again_read.unit) == ("160", "F")
    assert again_read.measured_at == cooling.opened_at + timedelta(minutes=8)
    assert list(readings_check(cast.kitchen.pk)) == []


def test_a_celsius_number_in_a_fahrenheit_kitchen_is_no_proof_until_it_is_answered(
    cast: Cast, cooling: CoolingRecord
) -> None:
    Kitchen.objects.filter(pk=cast.kitchen.pk).update(units="us")
    for minute, temp in ((2, "176"), (25, "135"), (60, "95"), (100, "72")):
        assert read(cast.cook, cooling, minute, temp, unit="").outcome == "kept"
    asked = read(cast.cook, cooling, 112, "20", unit="")
    assert (asked.outcome, asked.code) == ("questioned", "unit-too-cold")
    assert stands(cooling, 400) is State.NOT_SHOWN


def test_a_probe_in_the_ice_proves_nothing_until_it_is_confirmed(cast: Cast, cooling: CoolingRecord) -> None:
    read_all(cast.cook, cooling, GOOD[:3])
    asked = read(cast.cook, cooling, 62, "0.4")
    assert (asked.outcome, asked.code) == ("questioned", "falls-too-fast")
    assert stands(cooling, 63) is State.RUNNING
    now = cooling.opened_at + timedelta(minutes=64)
    told = {"temp": "0.4", "unit": "C", "confirmed": True}
    right = sent("reading", cooling.subject, now, told, corrects=asked.key, reason="Looked again: it is right")
    assert take(cast.cook, right, now=now)[0].outcome == "kept"
    assert (Reading.objects.count(), the_reading(asked.key).confirmed) == (4, True)
    assert stands(cooling, 65) is State.MET
    assert list(readings_check(cast.kitchen.pk)) == []


def test_a_question_is_told_again_when_the_reading_is_sent_again(cast: Cast, cooling: CoolingRecord) -> None:
    read_all(cast.cook, cooling, GOOD[:1])
    at = cooling.opened_at + timedelta(minutes=5)
    entry = sent("reading", cooling.subject, at, {"temp": "200", "unit": "C"})
    first, second = take(cast.cook, entry, entry, now=at)
    assert (first.outcome, second.outcome) == ("questioned", "known")
    assert (first.code, first.sentence) == (second.code, second.sentence)


def test_a_reading_confirmed_at_once_keeps_what_was_asked(cast: Cast, cooling: CoolingRecord) -> None:
    read_all(cast.cook, cooling, GOOD[:3])
    answer = read(cast.cook, cooling, 62, "0.4", confirmed=True)
    assert answer.outcome == "kept"
    assert the_reading(answer.key).entry.content["confirmed_against"] == ["falls-too-fast"]
    assert stands(cooling, 63) is State.MET


def test_a_tablet_whose_clock_is_ten_minutes_fast_is_put_right(cast: Cast, cooling: CoolingRecord) -> None:
    now = cooling.opened_at + timedelta(minutes=30)
    fast = now + timedelta(minutes=10)
    entry = sent("reading", cooling.subject, fast, {"temp": "55", "unit": "C"})
    (answer,) = take(cast.cook, entry, now=now, device_now=fast)
    assert answer.outcome == "kept"
    row = the_reading(answer.key)
    assert row.measured_at == now
    assert row.entry.content["device_offset_s"] == -600


def test_a_reading_of_the_future_is_refused(cast: Cast, cooling: CoolingRecord) -> None:
    now = cooling.opened_at + timedelta(minutes=30)
    entry = sent("reading", cooling.subject, now + timedelta(minutes=10), {"temp": "55", "unit": "C"})
    assert take(cast.cook, entry, now=now)[0].code == "in-the-future"


def test_a_reading_from_before_the_opening_is_asked_about(cast: Cast, cooling: CoolingRecord) -> None:
    answer = read(cast.cook, cooling, -5, "85")
    assert (answer.outcome, answer.code) == ("questioned", "before-opening")


# --- thermometers -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fields", "code", "asked", "counted"),
    [
        ({}, "t1", "", "71.5 C"),
        ({"correction": Decimal("-0.4")}, "t1", "", "71.1 C"),
        ({"unit": "F", "correction": Decimal("0.4")}, "t1", "", "71.73 C"),  # 0.2222 C, rounded up
        ({"unit": "F", "correction": Decimal("-0.4")}, "t1", "", "71.28 C"),  # -0.2222 C, rounded up
        ({"check_due_on": date(2020, 1, 1)}, "t1", "thermometer-overdue", "71.5 C"),
        ({"check_due_on": None}, "t1", "thermometer-overdue", "71.5 C"),
        ({}, "lost", "thermometer-unknown", "71.5 C"),
        ({}, "", "thermometer-unnamed", "71.5 C"),
        ({"retired": True}, "t1", "thermometer-unknown", "71.5 C"),
    ],
)
def test_a_reading_carries_its_thermometer_and_counts_even_if_that_proves_little(
    cast: Cast, cooling: CoolingRecord, fields: dict[str, Any], code: str, asked: str, counted: str
) -> None:
    a_thermometer(cast.manager, **fields)
    answer = read(cast.cook, cooling, 10, "71.5", thermometer=code)
    assert (answer.outcome, answer.code) == ("questioned" if asked else "kept", asked)
    content = the_reading(answer.key).entry.content
    assert (content["temp"], content["counted"]) == ("71.5", counted)
    assert again(cooling).curve == [[10.0, float(counted.removesuffix(" C"))]]


def test_a_correction_moves_a_reading_over_its_limit(cast: Cast, cooling: CoolingRecord) -> None:
    a_thermometer(cast.manager, correction=Decimal("0.1"))
    for minute, temp in GOOD:
        read(cast.cook, cooling, minute, temp, thermometer="t1")
    act(cast.cook, cooling, "cooling_closed", 301, {"given_up": True}, reason="No more readings")
    assert verdict(cooling) is State.NOT_SHOWN  # 21.1 at the end of the first stage, 5.1 at the end


# --- setting aside ----------------------------------------------------------------------------------------------------


def aside(by: Any, cooling: CoolingRecord, key: str, reason: str = "Probe touched the wall") -> Any:
    now = cooling.opened_at + timedelta(minutes=320)
    return take(by, sent("reading_excluded", cooling.subject, now, {}, corrects=key, reason=reason), now=now)[0]


def test_a_reading_is_set_aside_with_a_reason_and_stays_in_the_log(cast: Cast, cooling: CoolingRecord) -> None:
    read_all(cast.cook, cooling)
    hot = read(cast.cook, cooling, 302, "9.5")
    assert (hot.code, stands(cooling, 400)) == ("rises", State.NOT_SHOWN)
    answer = aside(cast.manager, cooling, hot.key)
    assert answer.outcome == "kept"
    row = the_reading(hot.key)
    assert row.excluded
    assert Entry.objects.get(number=answer.number).content["same_person"] is False
    assert stands(cooling, 400) is State.MET
    assert list(readings_check(cast.kitchen.pk)) == []


def test_who_sets_an_own_reading_aside_is_marked(cast: Cast, cooling: CoolingRecord) -> None:
    kept = read(cast.cook, cooling, 10, "70")
    answer = aside(cast.cook, cooling, kept.key)
    assert Entry.objects.get(number=answer.number).content["same_person"] is True


def test_where_a_second_person_is_needed_nobody_sets_an_own_reading_aside(cast: Cast, cooling: CoolingRecord) -> None:
    SafetyPlan.objects.create(kitchen=cast.kitchen, second_person_excludes=True)
    kept = read(cast.cook, cooling, 10, "70")
    refused = aside(cast.cook, cooling, kept.key)
    assert (refused.outcome, refused.code) == ("refused", "second-person-needed")
    now = cooling.opened_at + timedelta(minutes=20)
    lower = sent("reading", cooling.subject, now, {"temp": "60", "unit": "C"}, corrects=kept.key, reason="misread")
    assert take(cast.cook, lower, now=now)[0].code == "second-person-needed"
    assert not the_reading(kept.key).excluded
    assert aside(cast.manager, cooling, kept.key).outcome == "kept"


def test_nothing_is_set_aside_without_a_reason_or_twice(cast: Cast, cooling: CoolingRecord) -> None:
    kept = read(cast.cook, cooling, 10, "70")
    assert aside(cast.manager, cooling, kept.key, reason=" ").outcome == "refused"
    assert aside(cast.manager, cooling, kept.key).outcome == "kept"
    assert aside(cast.manager, cooling, kept.key).code == "reading-set-aside-already"


def test_setting_aside_after_closing_never_makes_the_verdict_better(cast: Cast, cooling: CoolingRecord) -> None:
    read_all(cast.cook, cooling, (*GOOD[:4], (170, "24"), GOOD[4]))
    act(cast.cook, cooling, "cooling_closed", 301, {})
    assert verdict(cooling) is State.BREACHED
    hot = Reading.objects.get(temp="24")
    assert aside(cast.manager, cooling, hot.entry.key).outcome == "kept"
    assert verdict(cooling) is State.BREACHED


def test_an_inspector_records_nothing(cast: Cast, cooling: CoolingRecord) -> None:
    with pytest.raises(NotAllowed):
        read(cast.inspector, cooling, 10, "70")
