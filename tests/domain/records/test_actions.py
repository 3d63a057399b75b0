"""What a cook may do about a slow or failed cooling."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from decimal import Decimal

import pytest

from production.domain.limits import rule
from production.domain.records import Evidence, Reading, State, judge
from production.domain.records.actions import Action, Reheat, Reheats, allowed_actions, judge_reheat
from tests.domain.records.logs import at

ONCE = Reheats(allowed=True)
NEVER = Reheats(allowed=False)
BREACHED = [(0, "135"), (60, "100"), (125, "78")]
SLOW = [(0, "135"), (60, "100"), (90, "85")]


def actions(
    log: Sequence[tuple[float, str]],
    now: float,
    *,
    code: str = "FDA_A",
    attempt: int = 1,
    reheats: Reheats = ONCE,
    reheat: Reheat | None = None,
    event: float | None = None,
) -> tuple[Action, ...]:
    chosen = rule(code)
    unit = chosen.stages[0].unit
    evidence = Evidence(
        tuple(Reading(at(time), Decimal(temp), unit) for time, temp in log),
        event_at=None if event is None else at(event),
    )
    verdict = judge(chosen, evidence, now=at(now))
    return allowed_actions(rule=chosen, verdict=verdict, now=at(now), attempt=attempt, reheats=reheats, reheat=reheat)


def kinds(found: tuple[Action, ...]) -> list[str]:
    return [str(each.kind) for each in found]


def test_a_slow_cooling_may_be_hurried_split_or_reheated_while_its_first_limit_lasts() -> None:
    found = actions(SLOW, 90)
    assert kinds(found) == ["cool_faster", "split", "reheat"]
    assert {each.until for each in found} == {at(120)}
    assert {each.minutes_left for each in found} == {30.0}


def test_the_minutes_left_count_from_the_conservative_start() -> None:
    assert actions([(0, "150"), (20, "130"), (75, "90")], 75)[0].minutes_left == 45


def test_below_the_first_limit_the_second_one_sets_the_time() -> None:
    found = actions([(0, "135"), (110, "68"), (240, "50")], 240)
    assert kinds(found) == ["cool_faster", "split", "reheat"]
    assert found[-1].until == at(360)


def test_where_the_authority_refuses_it_nobody_is_offered_a_reheat() -> None:
    assert kinds(actions(SLOW, 90, reheats=NEVER)) == ["cool_faster", "split"]


@pytest.mark.parametrize(("attempt", "most", "offered"), [(1, 1, True), (2, 1, False), (2, 2, True), (3, 2, False)])
def test_a_reheat_is_offered_as_often_as_the_kitchen_may(attempt: int, most: int, offered: bool) -> None:
    found = kinds(actions(SLOW, 90, attempt=attempt, reheats=Reheats(allowed=True, most=most)))
    assert ("reheat" in found) is offered


def test_after_the_limit_a_reheat_repairs_nothing() -> None:
    assert kinds(actions(BREACHED, 125)) == ["discard", "hold"]
    assert kinds(actions([(0, "135"), (60, "90"), (110, "69"), (361, "42")], 361)) == ["discard", "hold"]


def test_what_the_log_does_not_show_is_kept_apart_until_somebody_has_judged_it() -> None:
    assert kinds(actions([(0, "135"), (60, "96"), (121, "70")], 121)) == ["hold", "discard"]


def test_what_has_an_unknown_history_is_discarded_unless_a_record_is_found() -> None:
    found = actions([(0, "128"), (90, "69")], 90)
    assert kinds(found) == ["hold", "discard"]
    assert "unless a record shows when it was last hot" in found[-1].sentence


def test_the_second_failure_leaves_only_the_bin() -> None:
    assert kinds(actions(BREACHED, 125, attempt=2)) == ["discard"]
    assert kinds(actions([(0, "135"), (60, "96"), (121, "70")], 121, attempt=2)) == ["discard"]


def test_a_reheat_that_took_too_long_leaves_only_the_bin() -> None:
    assert kinds(actions(SLOW, 90, attempt=2, reheat=Reheat.TOO_LATE)) == ["discard"]
    assert kinds(actions(SLOW, 90, attempt=2, reheat=Reheat.DONE)) == ["cool_faster", "split"]


def test_food_that_was_never_hot_is_not_reheated() -> None:
    log = [(0, "70"), (100, "55")]
    assert kinds(actions(log, 100, code="FDA_B", event=0)) == ["cool_faster", "split"]
    assert kinds(actions([(0, "70"), (241, "45")], 241, code="FDA_B", event=0)) == ["discard", "hold"]


def test_where_each_deviation_is_assessed_nobody_reheats_on_the_floor() -> None:
    assert "reheat" not in kinds(actions([(0, "130"), (60, "100")], 60, code="FSIS_B_OPT1"))


def test_nothing_has_to_be_done_before_the_clock_runs_and_when_all_is_well() -> None:
    assert actions([(0, "160")], 0) == ()
    assert actions([(0, "135"), (100, "69"), (300, "41")], 300) == ()


def test_the_last_stretch_without_a_limit_has_no_last_moment() -> None:
    found = actions([(0, "120"), (60, "80"), (360, "55")], 400, code="FSIS_B_OPT2")
    assert [(each.until, each.minutes_left) for each in found] == [(None, None)] * 2


@pytest.mark.parametrize("state", [State.BREACHED, State.NOT_SHOWN, State.RUNNING])
def test_every_action_names_its_source_and_how_far_it_was_read(state: State) -> None:
    found = {
        State.BREACHED: actions(BREACHED, 125),
        State.NOT_SHOWN: actions(BREACHED[:2], 121),
        State.RUNNING: actions(SLOW, 90),
    }[state]
    assert found
    for each in found:
        assert each.source
        assert each.mark in ("read", "read in part", "memory")
        assert each.sentence.endswith(".")


@pytest.mark.parametrize(
    ("minute", "temp", "unit", "held_s", "now", "stands"),
    [
        (60, "165", "F", 15, 60, "done"),
        (60, "164.9", "F", 15, 60, "not_yet"),
        (60, "165", "F", 14, 60, "not_yet"),
        (60, "74", "C", 15, 60, "done"),
        (60, "73.9", "C", 15, 60, "not_yet"),
        (120, "165", "F", 15, 120, "done"),
        (120.1, "165", "F", 15, 120.1, "too_late"),
        (60, "165", "F", 15, 300, "done"),
        (60, "150", "F", 15, 121, "too_late"),
        (None, "0", "F", 0, 119, "not_yet"),
        (None, "0", "F", 0, 120, "not_yet"),
        (None, "0", "F", 0, 121, "too_late"),
    ],
)
def test_a_reheat_is_done_hot_enough_long_enough_and_within_two_hours(
    minute: float | None, temp: str, unit: str, held_s: int, now: float, stands: str
) -> None:
    """FDA Food Code 3-403.11(A): all parts at least 165 F (74 C) for 15 seconds; (D): within 2 hours."""
    reading = None if minute is None else Reading(at(minute), Decimal(temp), "C" if unit == "C" else "F")
    found = judge_reheat(begun_at=at(0), now=at(now), reading=reading, held=timedelta(seconds=held_s))
    assert found == stands
