"""Taking back what was told of a cooling."""

from __future__ import annotations

from datetime import timedelta

import pytest

from production.models import CoolingRecord, Entry, PlanningWeek
from production.selectors.coolings import cooling_now
from tests.conftest import Cast
from tests.services.cooling_kit import a_run, act, opened, read, sent, take


@pytest.fixture
def cooling(cast: Cast, planning_week: PlanningWeek) -> CoolingRecord:
    return opened(cast.cook, a_run(cast.manager, planning_week))


def test_ice_that_was_never_added_is_taken_back_and_stays_in_the_book(cast: Cast, cooling: CoolingRecord) -> None:
    act(cast.cook, cooling, "ice_added", 5, {"mass": "12 kg"})
    ice = Entry.objects.get(kind="ice_added")
    at = cooling.opened_at + timedelta(minutes=6)
    undo = sent("withdrawn", cooling.subject, at, {}, corrects=ice.key, reason="pressed by mistake")
    assert take(cast.cook, undo, now=at)[0].outcome == "kept"
    assert take(cast.cook, undo, now=at)[0].outcome == "known"
    assert Entry.objects.filter(kind="ice_added").exists()
    assert cooling_now(by=cast.cook, subject=cooling.subject, now=at).acts == ()


def test_of_two_who_take_the_same_back_the_second_is_told(cast: Cast, cooling: CoolingRecord) -> None:
    act(cast.cook, cooling, "stirred", 5, {})
    stirred = Entry.objects.get(kind="stirred")
    at = cooling.opened_at + timedelta(minutes=6)
    first = sent("withdrawn", cooling.subject, at, {}, corrects=stirred.key, reason="pressed by mistake")
    second = sent("withdrawn", cooling.subject, at, {}, corrects=stirred.key, reason="wrong group")
    assert take(cast.cook, first, now=at)[0].outcome == "kept"
    answer = take(cast.manager, second, now=at)[0]
    assert (answer.outcome, answer.code) == ("refused", "act-taken-back-already")
    assert "cook has taken this back" in answer.sentence


def test_a_reading_is_set_aside_and_not_taken_back(cast: Cast, cooling: CoolingRecord) -> None:
    read(cast.cook, cooling, 2, "80")
    reading = Entry.objects.get(kind="reading")
    at = cooling.opened_at + timedelta(minutes=3)
    undo = sent("withdrawn", cooling.subject, at, {}, corrects=reading.key, reason="pressed by mistake")
    answer = take(cast.cook, undo, now=at)[0]
    assert (answer.outcome, answer.code) == ("refused", "act-not-to-be-taken-back")
