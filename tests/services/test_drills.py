"""Recall drills: timed by the server, answered once, kept in the book."""

from __future__ import annotations

from datetime import timedelta

import pytest

from production.domain.errors import Conflict, NotAllowed, OutOfRange
from production.domain.records.drills import Answered
from production.models import Entry, PlanningWeek
from production.selectors.drills import drills_of, targets_of
from production.services.drills import drill_begin, drill_finish, drill_give_up
from tests.builders import at
from tests.conftest import Cast
from tests.services.trace_kit import Traced, a_thread

NOW = at("2027-02-04 10:00")
LATER = NOW + timedelta(minutes=14)


@pytest.fixture
def traced(cast: Cast, planning_week: PlanningWeek) -> Traced:
    return a_thread(cast, planning_week)


def test_a_drill_is_timed_and_its_result_kept(cast: Cast, traced: Traced) -> None:
    drill = drill_begin(by=cast.manager, key="begin", now=NOW, target=f"ingredient/{traced.came.code}")
    assert (drill.number, drill.done_at) == (1, None)
    answered = Answered(outlets_reached=1, containers_located=9, note="One tub was served.")
    done = drill_finish(by=cast.cook, number=1, answered=answered, key="done", now=LATER)
    result = done.result
    assert [result["seconds"], result["outlets"], result["made"], result["shipped"], result["stock"]] == [
        840, 1, 10, 6, 4,
    ]  # fmt: skip
    assert (result["records_percent"], result["reached_percent"], result["located_percent"]) == (
        "100.0",
        "100.0",
        "90.0",
    )
    assert [each.kind for each in Entry.objects.filter(subject="drill/1")] == ["drill_begun", "drill_done"]


def test_without_a_target_one_is_chosen_among_what_has_left_or_was_used(cast: Cast, traced: Traced) -> None:
    targets = targets_of(by=cast.manager)
    assert set(targets) == {f"lot/{traced.lot.code}", f"ingredient/{traced.came.code}"}
    assert drill_begin(by=cast.manager, key="any", now=NOW).target in targets


def test_the_same_button_pressed_twice_begins_and_ends_one_drill(cast: Cast, traced: Traced) -> None:
    for _ in range(2):
        drill_begin(by=cast.manager, key="begin", now=NOW)
    for _ in range(2):
        drill_finish(
            by=cast.manager, number=1, answered=Answered(outlets_reached=1, containers_located=10), key="d", now=LATER
        )
    assert Entry.objects.filter(subject__startswith="drill/").count() == 2
    with pytest.raises(Conflict, match="ended already"):
        drill_give_up(by=cast.cook, number=1, reason="Too late", key="give", now=LATER)


def test_one_drill_runs_at_a_time_and_can_be_given_up(cast: Cast, traced: Traced) -> None:
    drill_begin(by=cast.manager, key="begin", now=NOW)
    with pytest.raises(Conflict, match="still running"):
        drill_begin(by=cast.cook, key="second", now=NOW)
    drill_give_up(by=cast.manager, number=1, reason="The fire alarm rang", key="up", now=LATER)
    assert drill_begin(by=cast.cook, key="third", now=LATER).number == 2
    assert drills_of(by=cast.inspector)[1].result == {"given_up": True}


def test_nobody_finds_more_than_there_was_and_the_refusal_writes_nothing(cast: Cast, traced: Traced) -> None:
    drill_begin(by=cast.manager, key="begin", now=NOW, target=f"lot/{traced.lot.code}")
    with pytest.raises(OutOfRange):
        drill_finish(
            by=cast.manager, number=1, answered=Answered(outlets_reached=1, containers_located=11), key="d", now=LATER
        )
    assert drills_of(by=cast.manager)[0].done_at is None


def test_inspectors_look_at_drills_and_begin_none(cast: Cast, traced: Traced) -> None:
    with pytest.raises(NotAllowed):
        drill_begin(by=cast.inspector, key="begin", now=NOW)
    with pytest.raises(Conflict, match="Nothing has been sent"):
        drill_begin(by=cast.outsider, key="begin", now=NOW)
