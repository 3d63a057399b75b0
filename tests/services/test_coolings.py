"""Opening cooling logs: by the plan when a draw is drawn off, or by hand; closing, re-heating, additions."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from production.domain.records.verdicts import State
from production.models import CoolingRecord, Entry, Kitchen, PlanningWeek, RunRecord, SafetyPlan
from production.services.coolings import coolings_open
from production.services.records import Draft, entries_append
from tests.conftest import Cast
from tests.services.cooling_kit import (
    GOOD,
    a_run,
    act,
    again,
    drawn_at,
    note,
    opened,
    read,
    read_all,
    sent,
    take,
    verdict,
)

GIVEN_UP = {"given_up": True}


@pytest.fixture
def run(cast: Cast, planning_week: PlanningWeek) -> RunRecord:
    return a_run(cast.manager, planning_week)


@pytest.fixture
def cooling(cast: Cast, run: RunRecord) -> CoolingRecord:
    return opened(cast.cook, run)


# --- opening ----------------------------------------------------------------------------------------------------------


def test_a_draw_opens_the_logs_that_the_plan_printed(cast: Cast, run: RunRecord) -> None:
    cooling = opened(cast.cook, run)
    first_day = run.week.starts_on.isoformat()
    assert cooling.device is not None
    assert cooling.subject == f"cooling/{first_day}/{run.code}/first/{cooling.device.code}/1.1"
    assert (cooling.rule, cooling.attempt, cooling.closed_at, cooling.reading_count) == ("FDA_A_C", 1, None, 0)
    assert cooling.sheet["run"] == run.code
    assert cooling.sheet["expected"]
    entry = Entry.objects.get(subject=cooling.subject)
    assert (entry.kind, entry.content["rule"], entry.content["vessels"]) == (
        "cooling_opened",
        "FDA_A_C",
        cooling.sheet["vessels"],
    )


def test_a_draw_that_is_recorded_twice_opens_its_logs_once(cast: Cast, run: RunRecord) -> None:
    first, second = opened(cast.cook, run), opened(cast.manager, run)
    assert first == second
    assert CoolingRecord.objects.count() == 1
    assert Entry.objects.filter(kind="cooling_opened").count() == 1


def test_a_draw_that_is_not_cooled_opens_nothing(cast: Cast, run: RunRecord) -> None:
    at = drawn_at(run)
    assert coolings_open(by=cast.cook, run=run, draw="second", at=at, key="x", now=at) == []


@pytest.mark.parametrize(
    ("kind", "content", "counts"),
    [
        ("drawn", {"temp": "92.5", "unit": "C"}, True),
        ("drawn", {"temp": "198 F"}, True),
        ("drawn", {"temp": "130 F"}, False),
        ("drawn", {"temp": "100"}, False),  # of what?
        ("temp_taken", {"temp": "57", "unit": "C"}, True),
        ("temp_taken", {"temp": "56.9", "unit": "C"}, False),
        ("temp_taken", {"temp": "92", "unit": "C", "question": "unlikely"}, False),
        ("boil_reached", {}, True),
        ("temp_taken", {}, False),
        ("skimmed", {"temp": "92", "unit": "C"}, False),
    ],
)
def test_the_last_record_that_the_pot_was_hot_bounds_the_clock(
    cast: Cast, run: RunRecord, kind: str, content: dict[str, Any], counts: bool
) -> None:
    hot_at = drawn_at(run) - timedelta(minutes=7)
    note(cast.cook, run.subject, kind, hot_at, content)
    note(cast.cook, run.subject, "temp_taken", drawn_at(run) + timedelta(minutes=9), {"temp": "90", "unit": "C"})
    assert opened(cast.cook, run).hot_fact_at == (hot_at if counts else None)


def test_a_record_that_was_confirmed_later_counts_when_it_was_made(cast: Cast, run: RunRecord) -> None:
    hot_at = drawn_at(run) - timedelta(minutes=90)
    asked = note(cast.cook, run.subject, "temp_taken", hot_at, {"temp": "92 C", "question": "unlikely"})
    draft = Draft(
        kind="temp_taken",
        subject=run.subject,
        content={"temp": "92 C", "confirmed": True},
        happened_at=drawn_at(run) - timedelta(minutes=5),
        key="confirms",
        corrects=asked,
        reason="looked again",
    )
    entries_append(by=cast.cook, drafts=[draft], now=drawn_at(run))
    assert opened(cast.cook, run).hot_fact_at == hot_at


def test_what_was_opened_by_hand_before_leaves_no_planned_log_out(cast: Cast, run: RunRecord) -> None:
    at = drawn_at(run)
    by_hand = f"cooling/{run.subject.removeprefix('run/')}/first/chiller/7.1"
    assert take(cast.cook, sent("cooling_opened", by_hand, at, {}), now=at)[0].outcome == "kept"
    planned = opened(cast.cook, run)
    assert planned.subject != by_hand
    assert planned.sheet["expected"]
    assert opened(cast.cook, run) == planned
    assert CoolingRecord.objects.count() == 2


def test_a_rule_that_counts_from_the_end_of_cooking_counts_from_the_draw(cast: Cast, run: RunRecord) -> None:
    result = run.plan.result
    result["week"]["kitchen"]["cooling_rule"] = "IE_GN15"
    run.plan.save(update_fields=["result"])
    cooling = opened(cast.cook, run)
    assert (cooling.rule, cooling.event_at, cooling.hot_fact_at) == ("IE_GN15", cooling.opened_at, None)


def test_what_is_poured_otherwise_is_opened_by_hand(cast: Cast, run: RunRecord, cooling: CoolingRecord) -> None:
    at = cooling.opened_at + timedelta(minutes=3)
    base = cooling.subject.rsplit("/", 1)[0]
    told = {"vessels": "2", "litres": "18 L", "depth": "6 cm"}
    entry = sent("cooling_opened", f"{base}/2.1", at, told)
    (answer,) = take(cast.cook, entry, now=at)
    assert answer.outcome == "kept"
    other = CoolingRecord.objects.get(subject=f"{base}/2.1")
    assert (other.group, other.sheet["vessels"], other.sheet["depth_mm"]) == (2, 2, 60.0)
    assert other.sheet["expected"] == []
    assert take(cast.cook, entry, now=at)[0].outcome == "known"
    (refused,) = take(cast.cook, sent("cooling_opened", f"{base}/2.1", at, told), now=at)
    assert (refused.outcome, refused.code) == ("refused", "cooling-open-already")


@pytest.mark.parametrize("end", ["0.1", "1.2", "x.1", "1", "1.1/2"])
def test_a_name_that_is_none_opens_nothing(cast: Cast, cooling: CoolingRecord, end: str) -> None:
    subject = f"{cooling.subject.rsplit('/', 1)[0]}/{end}"
    (answer,) = take(cast.cook, sent("cooling_opened", subject, cooling.opened_at, {}), now=cooling.opened_at)
    assert (answer.outcome, answer.code) == ("refused", "not-found")


def test_a_part_that_goes_elsewhere_keeps_the_clock_and_the_readings_of_the_whole(
    cast: Cast, cooling: CoolingRecord
) -> None:
    read_all(cast.cook, cooling, GOOD[:3])
    at = cooling.opened_at + timedelta(minutes=70)
    subject = f"{cooling.subject.rsplit('/', 2)[0]}/elsewhere/1.1"
    told = {"parted_from": cooling.subject, "place": "Walk-in room", "vessels": "1"}
    assert take(cast.cook, sent("cooling_opened", subject, at, told), now=at)[0].outcome == "kept"
    part = CoolingRecord.objects.get(subject=subject)
    assert (part.reading_count, part.sheet["device"]) == (3, "Walk-in room")
    assert read(cast.cook, part, 39, "21").outcome == "kept"
    assert read(cast.cook, part, 230, "5").outcome == "kept"
    assert act(cast.cook, part, "cooling_closed", 231, {}).outcome == "kept"
    assert verdict(part) is State.MET
    assert again(cooling).reading_count == 3


# --- closing ----------------------------------------------------------------------------------------------------------


def test_a_log_is_closed_once_with_its_verdict_its_reasons_and_the_entries_it_rests_on(
    cast: Cast, cooling: CoolingRecord
) -> None:
    read_all(cast.cook, cooling)
    assert act(cast.cook, cooling, "cooling_closed", 301, {}).outcome == "kept"
    assert verdict(cooling) is State.MET
    entry = Entry.objects.get(kind="cooling_closed")
    numbers = Entry.objects.filter(kind="reading").values_list("number", flat=True)
    assert entry.content["rests_on"] == {"count": 5, "entries": [[min(numbers), max(numbers)]]}
    assert [each["verdict"] for each in entry.content["stages"]] == ["met", "met"]
    assert entry.content["reasons"]
    second = act(cast.manager, cooling, "cooling_closed", 302, {})
    assert (second.outcome, second.code) == ("refused", "cooling-closed-already")
    assert Entry.objects.filter(kind="cooling_closed").count() == 1


def test_a_log_that_shows_too_little_is_not_closed_by_mistake_but_can_be_given_up(
    cast: Cast, cooling: CoolingRecord
) -> None:
    read_all(cast.cook, cooling, GOOD[:4])
    early = act(cast.cook, cooling, "cooling_closed", 120, {})
    assert (early.outcome, early.code) == ("refused", "cooling-not-done")
    no_reason = act(cast.cook, cooling, "cooling_closed", 120, GIVEN_UP)
    assert no_reason.code == "cooling-not-done"
    assert act(cast.cook, cooling, "cooling_closed", 121, GIVEN_UP, reason="Pot fell over").outcome == "kept"
    assert verdict(cooling) is State.NOT_SHOWN


def test_a_breached_log_is_closed_as_breached(cast: Cast, cooling: CoolingRecord) -> None:
    read_all(cast.cook, cooling, ((2, "80"), (25, "57"), (150, "30")))
    assert act(cast.cook, cooling, "cooling_closed", 151, {}).outcome == "kept"
    assert verdict(cooling) is State.BREACHED


def test_a_log_with_an_open_question_is_not_closed_as_met(cast: Cast, cooling: CoolingRecord) -> None:
    read_all(cast.cook, cooling, GOOD[:4])
    assert read(cast.cook, cooling, 112, "0.1").outcome == "questioned"
    answer = act(cast.cook, cooling, "cooling_closed", 301, {})
    assert answer.code == "cooling-not-done"
    assert "asked about" in answer.remedy


def test_a_reading_added_to_a_closed_log_can_only_make_its_verdict_worse(cast: Cast, cooling: CoolingRecord) -> None:
    read_all(cast.cook, cooling)
    act(cast.cook, cooling, "cooling_closed", 301, {})
    late = sent("reading", cooling.subject, cooling.opened_at + timedelta(minutes=200), {"temp": "12", "unit": "C"})
    assert take(cast.cook, late, now=cooling.opened_at + timedelta(minutes=310))[0].number is not None
    assert verdict(cooling) is State.MET
    hot = sent(
        "reading",
        cooling.subject,
        cooling.opened_at + timedelta(minutes=160),
        {"temp": "24", "unit": "C", "confirmed": True},
    )
    take(cast.cook, hot, now=cooling.opened_at + timedelta(minutes=320))
    assert verdict(cooling) is State.BREACHED
    judged = list(Entry.objects.filter(kind="cooling_judged_again").order_by("number"))
    assert [(each.content["before"], each.content["stands"]) for each in judged] == [
        ("met", "met"),
        ("met", "breached"),
    ]
    reading = Entry.objects.get(key=hot["key"])
    assert reading.content["added_after_closing"] is True


def test_an_addition_never_makes_a_closed_log_better(cast: Cast, cooling: CoolingRecord) -> None:
    read_all(cast.cook, cooling, GOOD[:4])
    act(cast.cook, cooling, "cooling_closed", 301, GIVEN_UP, reason="Nobody read it in time")
    last = sent("reading", cooling.subject, cooling.opened_at + timedelta(minutes=300), {"temp": "5", "unit": "C"})
    take(cast.cook, last, now=cooling.opened_at + timedelta(minutes=330))
    assert verdict(cooling) is State.NOT_SHOWN
    judged = Entry.objects.get(kind="cooling_judged_again")
    assert (judged.content["verdict"], judged.content["stands"]) == ("met", "not_shown")


# --- re-heating -------------------------------------------------------------------------------------------------------

HOT = {"temp": "75", "unit": "C", "seconds": "20"}


def test_a_reheat_in_time_begins_a_second_attempt_with_a_new_clock(cast: Cast, cooling: CoolingRecord) -> None:
    read_all(cast.cook, cooling, ((2, "80"), (25, "57"), (85, "43")))
    assert act(cast.cook, cooling, "reheated", 110, HOT).outcome == "kept"
    assert verdict(cooling) is State.NOT_SHOWN
    second = CoolingRecord.objects.get(attempt=2)
    assert second.subject == cooling.subject.removesuffix(".1") + ".2"
    assert (second.hot_fact_at, second.run_id) == (cooling.opened_at + timedelta(minutes=110), cooling.run_id)
    read_all(cast.cook, second, ((5, "70"), (20, "57"), (60, "35"), (100, "21"), (290, "5")))
    act(cast.cook, second, "cooling_closed", 291, {})
    assert verdict(second) is State.MET
    assert verdict(cooling) is State.NOT_SHOWN


def test_a_second_reheat_is_written_down_and_begins_nothing(cast: Cast, cooling: CoolingRecord) -> None:
    read_all(cast.cook, cooling, ((2, "80"), (25, "57")))
    act(cast.cook, cooling, "reheated", 60, HOT)
    second = CoolingRecord.objects.get(attempt=2)
    read_all(cast.cook, second, ((5, "70"), (20, "57")))
    answer = act(cast.cook, second, "reheated", 60, HOT)
    assert (answer.outcome, answer.code) == ("questioned", "reheat-not-allowed")
    assert CoolingRecord.objects.filter(attempt=3).count() == 0
    assert again(second).closed_at is None
    assert Entry.objects.filter(kind="reheated").count() == 2


def test_a_kitchen_whose_plan_allows_no_reheat_gets_no_second_attempt(cast: Cast, cooling: CoolingRecord) -> None:
    SafetyPlan.objects.create(kitchen=cast.kitchen, reheats_allowed=0)
    read_all(cast.cook, cooling, ((2, "80"), (25, "57")))
    assert act(cast.cook, cooling, "reheated", 30, HOT).code == "reheat-not-allowed"


@pytest.mark.parametrize(
    ("content", "code"),
    [
        ({"temp": "73.9", "unit": "C", "seconds": "60"}, "reheat-too-cold"),
        ({"temp": "164.9 F", "seconds": "60"}, "reheat-too-cold"),
        ({"temp": "80", "unit": "C", "seconds": "14"}, "reheat-too-cold"),
        ({"temp": "80", "unit": "C", "seconds": "15", "took_s": "7201"}, "reheat-too-slow"),
    ],
)
def test_a_reheat_that_is_too_cold_short_or_slow_begins_nothing(
    cast: Cast, cooling: CoolingRecord, content: dict[str, str], code: str
) -> None:
    read_all(cast.cook, cooling, ((2, "80"), (25, "57")))
    assert act(cast.cook, cooling, "reheated", 60, content).code == code
    assert CoolingRecord.objects.count() == 1


def test_after_a_breach_a_reheat_comes_too_late(cast: Cast, cooling: CoolingRecord) -> None:
    read_all(cast.cook, cooling, ((2, "80"), (25, "57"), (150, "30")))
    assert act(cast.cook, cooling, "reheated", 151, HOT).code == "reheat-not-allowed"


# --- what is done meanwhile -------------------------------------------------------------------------------------------


def test_ice_stirring_moving_and_actions_are_written_down_with_their_amounts(
    cast: Cast, cooling: CoolingRecord
) -> None:
    assert act(cast.cook, cooling, "ice_added", 10, {"mass": "26 lb", "into": "bath"}).outcome == "kept"
    assert act(cast.cook, cooling, "stirred", 12, {}).outcome == "kept"
    assert act(cast.cook, cooling, "moved", 30, {"place": "Walk-in room", "depth": "2 in"}).outcome == "kept"
    assert act(cast.cook, cooling, "corrective_action", 40, {"what": "Split into pans"}).outcome == "kept"
    content = {each.kind: each.content for each in Entry.objects.filter(subject=cooling.subject)}
    assert content["ice_added"]["mass_kg"] == "11.79"
    assert content["moved"]["depth_mm"] == "50.80"
    assert again(cooling).closed_at is None


@pytest.mark.parametrize(
    ("kind", "content", "code"),
    [
        ("ice_added", {"mass": "ten"}, "unreadable"),
        ("moved", {}, "moved-nowhere"),
        ("moved", {"device": "no such"}, "not-found"),
        ("corrective_action", {"what": " "}, "action-without-words"),
    ],
)
def test_an_act_that_cannot_be_understood_is_refused(
    cast: Cast, cooling: CoolingRecord, kind: str, content: dict[str, str], code: str
) -> None:
    answer = act(cast.cook, cooling, kind, 10, content)
    assert (answer.outcome, answer.code) == ("refused", code)


def test_ice_in_the_broth_explains_a_fall_that_no_device_makes(cast: Cast, cooling: CoolingRecord) -> None:
    read_all(cast.cook, cooling, ((2, "80"),))
    act(cast.cook, cooling, "ice_added", 4, {"mass": "20 kg", "into": "broth"})
    assert read(cast.cook, cooling, 6, "15").outcome == "kept"


def test_another_kitchen_finds_no_cooling(cast: Cast, cooling: CoolingRecord) -> None:
    assert read(cast.outsider, cooling, 5, "70").code == "not-found"
    assert Kitchen.objects.get(code="small").entries.filter(kind="reading").count() == 0


def test_on_the_night_the_clocks_change_the_true_time_counts(cast: Cast, run: RunRecord) -> None:
    """At 02:00 on 1 November 2026 clocks in Denver go back an hour: wall clock and true time differ by 60 min."""
    start = datetime(2026, 11, 1, 6, 30, tzinfo=UTC)  # 00:30 daylight time
    cooling = opened(cast.cook, run, at=start)
    read_all(cast.cook, cooling, ((0, "57"), (60, "35")))
    wall = datetime.fromisoformat("2026-11-01T02:10:00-07:00")  # standard time: 100 min by the wall, 160 in truth
    take(cast.cook, sent("reading", cooling.subject, wall, {"temp": "22", "unit": "C"}), now=wall)
    closed = act(cast.cook, cooling, "cooling_closed", 161, {})
    assert closed.outcome == "kept", closed
    assert verdict(cooling) is State.BREACHED
