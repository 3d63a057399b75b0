"""What the floor is told about everything that cools."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from django.db import connection
from django.http import Http404
from django.test.utils import CaptureQueriesContext

from production.domain.records.verdicts import State
from production.models import CoolingRecord, PlanningWeek
from production.selectors.coolings import cooling_now, coolings_list, coolings_now, verdict_of_draw
from production.selectors.thermometers import thermometers_now
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
)

MOST_QUERIES = 5  # rows, devices, acts, questions, safety plan; and no more for more coolings


@pytest.fixture
def cooling(cast: Cast, planning_week: PlanningWeek) -> CoolingRecord:
    return opened(cast.cook, a_run(cast.manager, planning_week))


def after(cooling: CoolingRecord, minutes: float) -> datetime:
    return cooling.opened_at + timedelta(minutes=minutes)


def another(cast: Cast, cooling: CoolingRecord, group: int, minute: float = 0) -> CoolingRecord:
    at = after(cooling, minute)
    subject = f"{cooling.subject.rsplit('/', 1)[0]}/{group}.1"
    (answer,) = take(cast.cook, sent("cooling_opened", subject, at, {}), now=at)
    assert answer.outcome == "kept"
    return CoolingRecord.objects.get(subject=subject)


def test_a_group_is_told_with_verdict_forecast_and_what_may_be_done(cast: Cast, cooling: CoolingRecord) -> None:
    read_all(cast.cook, cooling, GOOD[:3])
    (now,) = coolings_now(by=cast.cook, now=after(cooling, 61))
    assert (now.subject, now.run, now.draw, now.device_kind) == (
        cooling.subject,
        cooling.run.code,
        "First draw",
        "ice_sink",
    )
    assert (now.verdict.state, now.minutes_left(after(cooling, 61))) == (State.RUNNING, 84.0)
    assert now.points == ((2.0, 80.0), (25.0, 57.0), (60.0, 35.0))
    assert now.forecast is not None
    assert now.forecast.reaches[0].minutes.low > 60
    assert [number for number, _ in now.chances] == [1, 2]
    assert {each.kind.value for each in now.actions} >= {"cool_faster", "split", "reheat"}
    assert now.expected
    assert now.products


def test_before_the_first_reading_there_is_no_forecast_and_no_advice(cast: Cast, cooling: CoolingRecord) -> None:
    (now,) = coolings_now(by=cast.cook, now=after(cooling, 1))
    assert (now.forecast, now.chances, now.advice, now.points) == (None, (), (), ())
    assert (now.is_unread, now.verdict.state, now.actions) == (True, State.NOT_SHOWN, ())


def test_advice_comes_while_a_limit_is_in_danger_and_not_while_all_is_well(cast: Cast, cooling: CoolingRecord) -> None:
    slow = ((2, "80"), (25, "57"), (45, "52"), (60, "48.5"))
    read_all(cast.cook, cooling, slow)
    (now,) = coolings_now(by=cast.cook, now=after(cooling, 61))
    assert now.advice
    quick = another(cast, cooling, 2)
    read_all(cast.cook, quick, ((2, "80"), (12, "57"), (25, "30"), (35, "22.5")))
    told = cooling_now(by=cast.cook, subject=quick.subject, now=after(cooling, 61))
    assert told.advice == ()


def test_the_least_time_left_comes_first_and_what_is_lost_before_all(cast: Cast, cooling: CoolingRecord) -> None:
    late, lost, hot = (another(cast, cooling, group) for group in (2, 3, 4))
    read_all(cast.cook, cooling, ((2, "80"), (25, "57"), (60, "35")))
    read_all(cast.cook, late, ((2, "80"), (5, "57"), (60, "35")))
    read_all(cast.cook, lost, ((1, "57"), (150, "30")))
    read_all(cast.cook, hot, ((2, "80"),))
    told = coolings_now(by=cast.cook, now=after(cooling, 62))
    assert [each.subject for each in told] == [each.subject for each in (lost, late, cooling, hot)]


def test_what_was_moved_is_told_where_it_stands_now(cast: Cast, cooling: CoolingRecord) -> None:
    read_all(cast.cook, cooling, ((2, "80"), (25, "57"), (60, "45")))
    told = {"device": "chiller", "vessels": "6", "depth": "40 mm", "litres": "30 L"}
    answer = act(cast.cook, cooling, "moved", 62, told)
    assert answer.outcome == "kept", answer
    act(cast.cook, cooling, "ice_added", 63, {"mass": "4 kg"})
    now = cooling_now(by=cast.cook, subject=cooling.subject, now=after(cooling, 64))
    assert (now.device_code, now.device_kind, now.vessels, now.litres, now.depth_mm) == (
        "chiller",
        "blast_chiller",
        6,
        30.0,
        40.0,
    )
    assert now.fill_l == 5.0
    assert now.moved_min == 62.0
    assert [each.kind for each in now.acts] == ["moved", "ice_added"]
    assert now.ice_kg == pytest.approx(again(cooling).sheet["ice_kg"] + 4.0)


def test_questions_stay_until_somebody_answers_and_those_that_need_only_a_look_are_not_open(
    cast: Cast, cooling: CoolingRecord
) -> None:
    read_all(cast.cook, cooling, GOOD[:3])
    asked = read(cast.cook, cooling, 62, "0.4")
    read(cast.cook, cooling, 50, "40")  # entered late: only a look
    (now,) = coolings_now(by=cast.cook, now=after(cooling, 63))
    assert [(each.key, each.temp, each.code) for each in now.questions] == [(asked.key, "0.4", "falls-too-fast")]
    assert now.questions[0].sentence == asked.sentence
    at = after(cooling, 64)
    take(cast.cook, sent("reading_excluded", cooling.subject, at, {}, corrects=asked.key, reason="in the ice"), now=at)
    assert coolings_now(by=cast.cook, now=after(cooling, 65))[0].questions == ()


def test_more_coolings_ask_no_more_queries(cast: Cast, cooling: CoolingRecord) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as captured:
            coolings_now(by=cast.cook, now=after(cooling, 61))
        return len(captured)

    read_all(cast.cook, cooling, GOOD[:3])
    one = queries()
    for group in range(2, 7):
        other = another(cast, cooling, group)
        read_all(cast.cook, other, GOOD[:3])
        act(cast.cook, other, "ice_added", 60, {"mass": "4 kg"})
        read(cast.cook, other, 61, "0.4")
    assert queries() == one <= MOST_QUERIES


def test_the_thermometer_that_was_used_last_is_offered_again(cast: Cast, cooling: CoolingRecord) -> None:
    a_thermometer(cast.manager)
    a_thermometer(cast.manager, code="t2", name="Blue handle", check_due_on=None)
    read(cast.cook, cooling, 5, "75", thermometer="t1")
    (now,) = coolings_now(by=cast.cook, now=after(cooling, 6))
    assert now.thermometer == "t1"
    told = thermometers_now(by=cast.cook, today=after(cooling, 6).date())
    assert [(each.code, each.is_overdue) for each in told] == [("t1", False), ("t2", True)]


def test_a_closed_log_leaves_the_floor_and_stays_in_the_list(cast: Cast, cooling: CoolingRecord) -> None:
    read_all(cast.cook, cooling)
    act(cast.cook, cooling, "cooling_closed", 301, {})
    assert coolings_now(by=cast.cook, now=after(cooling, 302)) == ()
    assert [each.pk for each in coolings_list(by=cast.inspector, closed=True, verdict="met")] == [cooling.pk]
    assert not coolings_list(by=cast.inspector, closed=False).exists()
    told = cooling_now(by=cast.inspector, subject=cooling.subject, now=after(cooling, 999))
    assert (told.verdict.state, told.kept_verdict, told.actions) == (State.MET, "met", ())


def test_a_draw_is_as_its_worst_group_and_a_reheat_in_time_forgives_the_attempt_before(
    cast: Cast, cooling: CoolingRecord
) -> None:
    read_all(cast.cook, cooling, ((2, "80"), (25, "57"), (85, "43")))
    act(cast.cook, cooling, "reheated", 100, {"temp": "75", "seconds": "20"})
    second = CoolingRecord.objects.get(attempt=2)
    assert verdict_of_draw(coolings=CoolingRecord.objects.all()) is State.RUNNING
    read_all(cast.cook, second, ((5, "70"), (20, "57"), (60, "35"), (100, "21"), (290, "5")))
    act(cast.cook, second, "cooling_closed", 291, {})
    assert verdict_of_draw(coolings=CoolingRecord.objects.all()) is State.MET
    other = another(cast, cooling, 2)
    read_all(cast.cook, other, ((1, "57"), (150, "30")))
    act(cast.cook, other, "cooling_closed", 151, {})
    assert verdict_of_draw(coolings=CoolingRecord.objects.all()) is State.BREACHED


def test_another_kitchen_sees_nothing(cast: Cast, cooling: CoolingRecord) -> None:
    assert coolings_now(by=cast.outsider, now=after(cooling, 1)) == ()
    with pytest.raises(Http404):
        cooling_now(by=cast.outsider, subject=cooling.subject, now=after(cooling, 1))
