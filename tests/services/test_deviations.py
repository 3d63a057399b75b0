"""Deviations: opened with what went wrong, acted upon as the rule allows, closed with everything told."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest

from production.domain.errors import Conflict, NotAllowed, PotwrightError
from production.domain.records.reviews import working_days_after
from production.models import CoolingRecord, Deviation, Entry, Lot, PlanningWeek, RunRecord, SafetyPlan
from production.selectors.deviations import (
    DeviationFilter,
    actions_of_deviation,
    deviation_counts,
    deviations_of,
    remedies_of,
)
from production.selectors.record_check import book_check
from production.services.deviations import deviation_act, deviation_close, deviation_open
from production.services.late_logs import late_logs_find
from tests.conftest import Cast
from tests.services.cooling_kit import GOOD, a_run, act, again, note, opened, read_all, sent, take
from tests.services.review_kit import MISSED, a_log, a_lot_of, after, another, closed, key, the_deviation


@pytest.fixture
def run(cast: Cast, planning_week: PlanningWeek) -> RunRecord:
    return a_run(cast.manager, planning_week)


@pytest.fixture
def missed(cast: Cast, run: RunRecord) -> CoolingRecord:
    return a_log(cast.cook, run, MISSED)


def do(cast: Cast, number: int, at: datetime, **changes: Any) -> Entry:
    told: dict[str, Any] = {"measure": "discard", "what": "Poured away", "witness": "Kim"}
    return deviation_act(by=cast.cook, number=number, key=key(), now=at, **(told | changes))


def close(cast: Cast, number: int, at: datetime, **changes: Any) -> Deviation:
    told: dict[str, Any] = {
        "by": cast.manager,
        "cause": "The ice ran out",
        "prevention": "Ice is weighed before the draw",
        "disposition": "discard",
        "quantity": "4 containers",
        "witness": "Kim",
        "key": key(),
    }
    return deviation_close(number=number, now=at, **(told | changes))


# --- opening ----------------------------------------------------------------------------------------------------------


def test_a_log_closed_as_breached_opens_a_deviation_in_the_same_moment(cast: Cast, missed: CoolingRecord) -> None:
    found = the_deviation(missed)
    closing = Entry.objects.get(kind="cooling_closed")
    assert (found.number, found.state, found.about) == (1, "open", missed.subject)
    assert found.opened_by.number == closing.number + 1
    assert found.opened_by.content["entry"] == closing.number
    assert found.opened_by.content["reasons"] == closing.content["reasons"]
    assert "missed a limit" in found.sentence
    assert found.opened_by.by == cast.cook.user


def test_a_log_that_was_given_up_opens_one_and_a_log_that_is_met_opens_none(cast: Cast, run: RunRecord) -> None:
    good = a_log(cast.cook, run)
    short = closed(cast.cook, another(cast.cook, good, 2), GOOD[:4])
    assert (good.verdict, short.verdict) == ("met", "not_shown")
    assert [each.cooling for each in Deviation.objects.all()] == [short]


def test_a_reheat_opens_one_for_the_attempt_that_it_ends(cast: Cast, run: RunRecord) -> None:
    cooling = opened(cast.cook, run)
    read_all(cast.cook, cooling, ((2, "80"), (25, "57"), (85, "43")))
    act(cast.cook, cooling, "reheated", 110, {"temp": "75", "unit": "C", "seconds": "20"})
    found = the_deviation(cooling)
    assert "re-heated" in found.sentence
    assert [each.kind for each in actions_of_deviation([found])[found.number]] == ["reheated"]


def test_a_verdict_that_turns_by_an_addition_opens_one_and_holds_the_lot(cast: Cast, run: RunRecord) -> None:
    cooling = a_log(cast.cook, run)
    lot = a_lot_of(cast, cooling)
    Lot.objects.filter(pk=lot.pk).update(status="free")
    hot = {"temp": "24", "unit": "C", "confirmed": True}
    take(cast.cook, sent("reading", cooling.subject, after(cooling, 160), hot), now=after(cooling, 500))
    assert the_deviation(cooling).sentence.endswith("missed a limit.")
    lot.refresh_from_db()
    assert lot.status == "held"


def test_what_is_open_already_is_not_opened_again(cast: Cast, missed: CoolingRecord) -> None:
    facts = {"sentence": "Found again."}
    at = after(missed, 200)
    again_found = deviation_open(by=cast.cook, kind="cooling", subject=missed.subject, facts=facts, key="other", now=at)
    assert again_found == the_deviation(missed)
    assert Entry.objects.filter(kind="deviation_opened").count() == 1


def test_numbers_go_on_and_the_review_is_due_in_the_plans_working_days(cast: Cast, missed: CoolingRecord) -> None:
    SafetyPlan.objects.create(kitchen=cast.kitchen, review_working_days=3)
    at = after(missed, 200)
    facts = {"sentence": "The walk-in stood at 9 °C.", "temp": "9.0", "lots": [a_lot_of(cast, missed).code]}
    found = deviation_open(by=cast.cook, kind="storage", subject="store/walk-in", facts=facts, key="s1", now=at)
    assert (found.number, found.cooling, found.lots.count()) == (2, None, 1)
    assert found.due_on == working_days_after(day=at.date(), days=3)
    same = deviation_open(by=cast.cook, kind="storage", subject="store/walk-in", facts=facts, key="s1", now=at)
    assert same == found


# --- corrective actions -----------------------------------------------------------------------------------------------


def test_the_actions_that_are_offered_are_those_of_the_rule(cast: Cast, missed: CoolingRecord) -> None:
    found = remedies_of(by=cast.cook, deviation=the_deviation(missed), now=after(missed, 200))
    assert [each.kind.value for each in found.measures] == ["discard", "hold"]
    assert found.dispositions == ("discard", "release")
    assert all(each.source for each in found.measures)


def test_an_action_is_kept_with_its_evidence_and_source(cast: Cast, missed: CoolingRecord) -> None:
    entry = do(cast, 1, after(missed, 160), what=" Poured\naway ", numbers="26 L")
    assert entry.subject == "deviation/1"
    assert entry.content == {
        "deviation": 1,
        "measure": "discard",
        "what": "Poured away",
        "numbers": "26 L",
        "witness": "Kim",
        "source": entry.content["source"],
    }
    assert entry.content["source"]


def test_what_the_rule_does_not_allow_is_not_recorded_as_an_action(cast: Cast, missed: CoolingRecord) -> None:
    with pytest.raises(NotAllowed) as caught:
        do(cast, 1, after(missed, 160), measure="reheat", what="Boiled it again")
    assert caught.value.code == "measure-not-allowed"
    assert "discard" in caught.value.remedy


def test_an_action_without_words_or_by_an_inspector_is_refused(cast: Cast, missed: CoolingRecord) -> None:
    with pytest.raises(PotwrightError) as caught:
        do(cast, 1, after(missed, 160), what="  ")
    assert caught.value.code == "deviation-not-told"
    with pytest.raises(NotAllowed):
        deviation_act(by=cast.inspector, number=1, measure="discard", what="x", key=key(), now=after(missed, 160))


# --- closing ----------------------------------------------------------------------------------------------------------


def test_discarding_closes_it_and_throws_the_lots_away(cast: Cast, missed: CoolingRecord) -> None:
    lot = a_lot_of(cast, missed, 4)
    action = do(cast, 1, after(missed, 410))
    found = close(cast, 1, after(missed, 420))
    assert (found.state, found.disposition) == ("closed", "discard")
    assert found.closed_by is not None
    assert found.closed_by.content["lots"] == [{"lot": lot.code, "containers": 4}]
    assert found.closed_by.content["actions"] == [action.number]
    lot.refresh_from_db()
    assert (lot.status, lot.left) == ("discarded", 0)
    told = book_check(kitchen=cast.kitchen).findings
    assert [each for each in told if "never begun" not in each.sentence] == []  # the kit's run has no beginning


def test_a_written_evaluation_releases_the_lots(cast: Cast, missed: CoolingRecord) -> None:
    lot = a_lot_of(cast, missed)
    do(cast, 1, after(missed, 410), measure="hold", what="Kept apart in the walk-in")
    told = "Process authority A. Brun: growth below 1 log by its own model, report 17."
    close(cast, 1, after(missed, 420), disposition="release", evaluation=told)
    lot.refresh_from_db()
    assert lot.status == "free"
    kinds = list(Entry.objects.filter(subject=f"lot/{lot.code}").values_list("kind", flat=True))
    assert kinds == ["lot_made", "corrective_action", "lot_released"]


def test_nothing_is_released_that_was_not_packed(cast: Cast, missed: CoolingRecord) -> None:
    do(cast, 1, after(missed, 410), measure="hold", what="Kept apart")
    with pytest.raises(Conflict) as caught:
        close(cast, 1, after(missed, 420), disposition="release", evaluation="Judged by A. Brun")
    assert caught.value.code == "deviation-without-lots"
    assert the_deviation(missed).state == "open"


@pytest.mark.parametrize("field", ["cause", "prevention", "quantity", "witness"])
def test_it_is_not_closed_before_everything_is_told(cast: Cast, missed: CoolingRecord, field: str) -> None:
    do(cast, 1, after(missed, 410))
    with pytest.raises(PotwrightError) as caught:
        close(cast, 1, after(missed, 420), **{field: " "})
    assert (caught.value.code, caught.value.numbers["missing"]) == ("deviation-not-told", field)


def test_it_is_not_closed_without_an_action_and_only_by_a_manager(cast: Cast, missed: CoolingRecord) -> None:
    with pytest.raises(PotwrightError) as caught:
        close(cast, 1, after(missed, 420))
    assert caught.value.code == "deviation-without-action"
    for by in (cast.cook, cast.inspector, cast.administrator):
        with pytest.raises(NotAllowed):
            close(cast, 1, after(missed, 420), by=by)


def test_after_a_second_failure_only_discarding_is_left(cast: Cast, run: RunRecord) -> None:
    cooling = opened(cast.cook, run)
    read_all(cast.cook, cooling, ((2, "80"), (25, "57"), (85, "43")))
    act(cast.cook, cooling, "reheated", 110, {"temp": "75", "unit": "C", "seconds": "20"})
    second = closed(cast.cook, CoolingRecord.objects.get(attempt=2), ((5, "70"), (20, "57"), (150, "30")))
    first = the_deviation(cooling)
    assert remedies_of(by=cast.manager, deviation=first, now=after(second, 200)).dispositions == (
        "discard",
        "reheat",
        "release",
    )
    found = the_deviation(second)
    assert remedies_of(by=cast.manager, deviation=found, now=after(second, 200)).dispositions == ("discard",)
    with pytest.raises(NotAllowed) as caught:
        close(cast, found.number, after(second, 200), disposition="release", evaluation="All is well")
    assert caught.value.code == "disposition-not-allowed"


def test_a_reheat_in_time_is_closed_as_such_and_the_next_attempt_decides(cast: Cast, run: RunRecord) -> None:
    cooling = opened(cast.cook, run)
    read_all(cast.cook, cooling, ((2, "80"), (25, "57"), (85, "43")))
    act(cast.cook, cooling, "reheated", 110, {"temp": "75", "unit": "C", "seconds": "20"})
    found = close(cast, 1, after(cooling, 120), disposition="reheat", quantity="all of it", witness="")
    assert (found.state, found.disposition) == ("closed", "reheat")


def test_the_second_of_two_managers_is_told_who_was_first_and_the_same_request_is_known(
    cast: Cast, missed: CoolingRecord
) -> None:
    do(cast, 1, after(missed, 410))
    close(cast, 1, after(missed, 420), key="once")
    close(cast, 1, after(missed, 421), key="once")
    with pytest.raises(Conflict) as caught:
        close(cast, 1, after(missed, 422))
    assert caught.value.code == "deviation-closed-already"
    assert "manager" in caught.value.sentence
    with pytest.raises(Conflict):
        do(cast, 1, after(missed, 423))
    assert Entry.objects.filter(kind="deviation_closed").count() == 1


def test_a_closed_one_leaves_room_for_a_new_one(cast: Cast, missed: CoolingRecord) -> None:
    do(cast, 1, after(missed, 410))
    close(cast, 1, after(missed, 420))
    facts = {"sentence": "Again."}
    new = deviation_open(
        by=cast.cook, kind="cooling", subject=missed.subject, facts=facts, key="n", now=after(missed, 430)
    )
    assert (new.number, new.state) == (2, "open")


def test_a_late_log_is_closed_before_its_deviation_and_its_cooling_decides_about_the_food(
    cast: Cast, run: RunRecord
) -> None:
    cooling = opened(cast.cook, run)
    assert late_logs_find(now=after(cooling, 600)) == 1
    do(cast, 1, after(cooling, 610), measure="put_right", what="The night shift is told")
    with pytest.raises(Conflict) as caught:
        close(cast, 1, after(cooling, 620), disposition="none")
    assert caught.value.code == "deviation-log-open"
    act(cast.cook, cooling, "cooling_closed", 630, {"given_up": True}, reason="Nobody read it")
    late = the_deviation(cooling, "late_log")
    assert remedies_of(by=cast.manager, deviation=late, now=after(cooling, 640)).dispositions == ("none",)
    assert close(cast, 1, after(cooling, 640), disposition="none", quantity="", witness="").state == "closed"
    assert the_deviation(cooling).state == "open"


def test_lists_tell_open_overdue_and_a_period(cast: Cast, missed: CoolingRecord) -> None:
    found = the_deviation(missed)
    today = found.due_on + timedelta(days=1)
    assert deviation_counts(by=cast.manager, today=found.due_on).overdue == 0
    assert deviation_counts(by=cast.inspector, today=today).overdue == 1
    day = found.opened_at.date()

    def numbers(**chosen: Any) -> list[int]:
        rows = deviations_of(by=cast.inspector, today=today, chosen=DeviationFilter(**chosen))
        return [each.number for each in rows]

    assert numbers(state="overdue") == numbers(state="open") == numbers(verdict="breached") == [1]
    assert numbers(state="closed") == numbers(verdict="not_shown") == numbers(kind="storage") == []
    assert numbers(since=day, until=day) == [1]
    assert numbers(since=day + timedelta(days=1)) == numbers(until=day - timedelta(days=1)) == []
    assert not deviations_of(by=cast.outsider, today=today).exists()


def test_what_cooks_write_into_the_log_counts_as_an_action(cast: Cast, missed: CoolingRecord) -> None:
    note(cast.cook, again(missed).subject, "corrective_action", after(missed, 160), {"what": "Poured away"})
    assert close(cast, 1, after(missed, 420)).state == "closed"
