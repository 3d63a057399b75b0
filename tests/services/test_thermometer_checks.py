"""Checks of thermometers: what they find, and what a failed one puts in doubt."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.http import Http404
from django.test.utils import CaptureQueriesContext

from production.domain.records.verdicts import State
from production.models import CareSettings, CoolingRecord, Deviation, Entry, Plan, PlanningWeek, Thermometer
from production.models import ThermometerCheck as Check
from production.selectors.thermometer_checks import check_of, doubtful_since, thermometer_of
from production.services.floor_answers import Answer
from production.services.lots import lot_make
from tests.conftest import Cast
from tests.lots import COOKED, PACKED, a_cooling, a_plan, a_run
from tests.services.cooling_kit import a_thermometer, act, sent, take

BEFORE, AFTER = COOKED - timedelta(days=1), COOKED + timedelta(days=1)
IN_TIME = ((0, "60"), (60, "30"), (110, "20"), (200, "8"), (340, "4.5"))


@pytest.fixture
def plan(cast: Cast, planning_week: PlanningWeek) -> Plan:
    return a_plan(cast, planning_week)


def check(cast: Cast, shown: str, *, at: Any = AFTER, code: str = "t1", **told: str) -> Answer:
    content: Mapping[str, Any] = {"shown": shown, "method": "ice", **told}
    return take(cast.cook, sent("thermometer_checked", f"thermometer/{code}", at, content), now=at)[0]


def a_closed_log(cast: Cast, plan: Plan, *, thermometer: str = "t1", group: int = 1) -> CoolingRecord:
    cooling = a_cooling(a_run(plan), verdict="", group=group)
    for minute, temp in IN_TIME:
        told = {"temp": temp, "unit": "C", "thermometer": thermometer, "confirmed": True}
        at = cooling.opened_at + timedelta(minutes=minute)
        (answer,) = take(cast.cook, sent("reading", cooling.subject, at, told), now=at)
        assert answer.outcome != "refused", answer
    act(cast.cook, cooling, "cooling_closed", 350, {})
    return CoolingRecord.objects.get(pk=cooling.pk)


def newest() -> Check:
    return Check.objects.latest("checked_at")


def test_a_check_is_kept_with_all_that_an_inspector_asks_for(cast: Cast) -> None:
    a_thermometer(cast.manager, correction="0.3")
    check(cast, "-0.4")
    found = newest()
    assert (found.method, found.reference, found.as_found, found.off) == ("ice", "0", "-0.1", "-0.1")
    assert (found.allowed, found.passed, found.fit) == ("1", True, True)
    content = found.entry.content
    assert (content["target"], content["counted"], content["due_on"]) == ("0 C", "-0.1 C", "2027-02-10")
    assert found.entry.by_name == "cook"


def test_boiling_water_is_held_against_the_altitude_or_a_measured_pressure(cast: Cast) -> None:
    cast.kitchen.altitude_m = 1609.0
    cast.kitchen.save()
    a_thermometer(cast.manager)
    check(cast, "94.6", method="boiling")
    assert (newest().reference, newest().passed) == ("94.62", True)
    check(cast, "94.6", method="boiling", pressure_hpa="845.6", at=AFTER + timedelta(hours=1))
    assert newest().reference == "94.98"  # as at 1500 m
    check(cast, "100", method="boiling", at=AFTER + timedelta(hours=2))
    assert not newest().passed


@pytest.mark.parametrize(
    ("told", "code"),
    [
        ({"method": "hot soup"}, "check-method"),
        ({"method": "reference"}, "reference-missing"),
        ({"method": "boiling", "pressure_hpa": "29.9"}, "bad-pressure"),
        ({"as_left": "32 F"}, "reading-unit"),
        ({"shown": "cold"}, "reading-temp"),
    ],
)
def test_what_cannot_be_judged_is_refused_with_a_remedy(cast: Cast, told: dict[str, str], code: str) -> None:
    a_thermometer(cast.manager)
    answer = check(cast, **({"shown": "0"} | told))
    assert (answer.outcome, answer.code) == ("refused", code)
    assert answer.remedy
    assert not Check.objects.exists()


def test_the_same_check_sent_five_times_is_kept_once(cast: Cast) -> None:
    a_thermometer(cast.manager)
    entry = sent("thermometer_checked", "thermometer/t1", AFTER, {"shown": "0.2", "method": "ice"})
    outcomes = [take(cast.cook, entry, now=AFTER)[0].outcome for _ in range(5)]
    assert outcomes == ["kept"] + ["known"] * 4
    assert Check.objects.count() == 1


def test_a_check_that_arrives_late_does_not_set_the_due_day_back(cast: Cast) -> None:
    a_thermometer(cast.manager)
    check(cast, "0.1")
    check(cast, "4", at=BEFORE)
    due = Thermometer.objects.get().check_due_on
    assert due is not None
    assert due.isoformat() == "2027-02-10"


def test_a_check_that_was_typed_wrongly_is_taken_back_and_counts_for_nothing(cast: Cast) -> None:
    a_thermometer(cast.manager)
    check(cast, "0.1", at=BEFORE)
    wrong = check(cast, "10")
    assert Thermometer.objects.get().check_due_on is None
    later = AFTER + timedelta(minutes=1)
    back = sent(
        "thermometer_check_withdrawn", "thermometer/t1", later, {}, corrects=wrong.key, reason="typed 10 for 1.0"
    )
    assert [take(cast.cook, back, now=later)[0].outcome for _ in range(2)] == ["kept", "known"]
    due = Thermometer.objects.get().check_due_on
    assert due is not None
    assert due.isoformat() == "2027-02-08"  # by the check before
    again = sent("thermometer_check_withdrawn", "thermometer/t1", later, {}, corrects=wrong.key, reason="again")
    assert take(cast.cook, again, now=later)[0].code == "no-such-check"
    other = sent("thermometer_checked", "thermometer/t1", later, {"shown": "1", "method": "ice"}, corrects=wrong.key,
                 reason="so")  # fmt: skip
    assert take(cast.cook, other, now=later)[0].code == "check-not-corrected"


def test_the_kitchens_own_interval_and_narrower_tolerance_hold(cast: Cast) -> None:
    CareSettings.objects.create(kitchen=cast.kitchen, check_every_days=1, most_off_c="0.5")
    a_thermometer(cast.manager)
    check(cast, "0.5")
    assert str(newest().due_on) == "2027-02-04"
    check(cast, "0.6", at=AFTER + timedelta(minutes=5))
    assert not newest().passed


def test_one_that_was_set_right_is_used_again_but_its_readings_are_in_doubt(cast: Cast, plan: Plan) -> None:
    a_thermometer(cast.manager)
    a_closed_log(cast, plan)
    answer = check(cast, "-1.6", as_left="0.1")
    assert (answer.outcome, answer.code) == ("questioned", "thermometer-off")
    found = newest()
    assert (found.passed, found.fit, found.as_left) == (False, True, "0.1")
    assert Thermometer.objects.get().check_due_on == found.due_on
    assert Deviation.objects.get().kind == "thermometer"


def test_a_failed_check_names_the_logs_since_the_last_good_one_and_what_they_would_be(cast: Cast, plan: Plan) -> None:
    a_thermometer(cast.manager)
    a_thermometer(cast.manager, code="t2")
    check(cast, "0", at=BEFORE)
    mine = a_closed_log(cast, plan)
    a_closed_log(cast, plan, thermometer="t2", group=2)
    assert mine.verdict == "met"
    check(cast, "-1.6")  # it showed 1.6 too little: 4.5 was 6.1
    doubtful = doubtful_since(check=newest(), now=AFTER)
    (log,) = doubtful.logs
    assert (log.subject, log.readings) == (mine.subject, len(IN_TIME))
    assert (log.stands, log.would_be, log.is_in_doubt) == (State.MET, State.NOT_SHOWN, True)
    deviation = Deviation.objects.get()
    assert (deviation.kind, deviation.about) == ("thermometer", "thermometer/t1")
    assert deviation.opened_by.content["logs_in_doubt"] == [mine.subject]


def test_a_failed_check_names_also_the_log_of_a_part_that_begins_with_its_readings(cast: Cast, plan: Plan) -> None:
    a_thermometer(cast.manager)
    whole = a_closed_log(cast, plan)
    part = whole.subject.rsplit("/", 2)[0] + "/elsewhere/2.1"
    at = whole.opened_at + timedelta(minutes=90)
    told = {"parted_from": whole.subject, "place": "Walk-in room", "vessels": "1"}
    assert take(cast.cook, sent("cooling_opened", part, at, told), now=at)[0].outcome == "kept"
    check(cast, "-3")
    found = {each.subject: each.readings for each in doubtful_since(check=newest(), now=AFTER).logs}
    assert found == {whole.subject: 5, part: 2}


def test_an_error_to_the_safe_side_leaves_the_logs_as_they_are(cast: Cast, plan: Plan) -> None:
    a_thermometer(cast.manager)
    a_closed_log(cast, plan)
    check(cast, "1.6")
    (log,) = doubtful_since(check=newest(), now=AFTER).logs
    assert (log.would_be, log.is_in_doubt) == (State.MET, False)


def test_readings_before_the_last_good_check_are_not_in_doubt(cast: Cast, plan: Plan) -> None:
    a_thermometer(cast.manager)
    a_closed_log(cast, plan)
    check(cast, "0.2", at=COOKED + timedelta(hours=8))
    check(cast, "-3")
    assert doubtful_since(check=newest(), now=AFTER).logs == ()


def test_a_reading_on_the_day_before_any_check_is_in_doubt_too(cast: Cast, plan: Plan) -> None:
    a_thermometer(cast.manager)
    a_closed_log(cast, plan)
    check(cast, "-3")
    doubtful = doubtful_since(check=newest(), now=AFTER)
    assert doubtful.since is None
    assert len(doubtful.logs) == 1


def test_the_lots_of_a_log_in_doubt_are_named_in_the_deviation(cast: Cast, plan: Plan) -> None:
    a_thermometer(cast.manager)
    cooling = a_closed_log(cast, plan)
    lot = lot_make(
        by=cast.cook,
        coolings=[cooling.subject],
        product="poultry-5",
        containers=10,
        store="walk-in",
        packed_at=PACKED,
        key="pack",
        now=PACKED,
    )
    check(cast, "-1.6")
    assert list(Deviation.objects.get().lots.all()) == [lot]


def test_more_logs_in_doubt_take_no_more_queries(cast: Cast, plan: Plan) -> None:
    a_thermometer(cast.manager)

    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            doubtful_since(check=newest(), now=AFTER)
        return len(caught)

    a_closed_log(cast, plan)
    check(cast, "-1.6")
    before = queries()
    for group in (2, 3):
        a_closed_log(cast, plan, group=group)
    assert len(doubtful_since(check=newest(), now=AFTER).logs) == 3
    assert queries() == before <= 12


def test_a_thermometer_of_another_kitchen_is_not_found(cast: Cast) -> None:
    a_thermometer(cast.outsider)
    assert check(cast, "0").code == "not-found"
    with pytest.raises(Http404):
        thermometer_of(by=cast.cook, code="t1")
    with pytest.raises(Http404):
        check_of(by=cast.cook, code="t1", number=1)
    assert not Entry.objects.exists()
