"""A log as it is kept: doubtful readings only count against it, in whatever order they arrive."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from production.domain.limits import rule
from production.domain.records.logs import (
    MOST_POINTS,
    Facts,
    Kept,
    asked_anew,
    in_order,
    judge_log,
    log_digest,
    log_digest_from_json,
    log_digest_to_json,
    questions_about,
    thin_curve,
)
from production.domain.records.questions import Around
from production.domain.records.readings import Reading
from production.domain.records.verdicts import State

START = datetime(2027, 2, 1, 20, 0, tzinfo=UTC)
RULE = rule("FDA_A_C")
SINK = Around(boiling_c=99.0, coolant_c=0.0, rate_per_h=1.8, opened_at=START, drawn_c=85.0)
NOTHING = Facts(event_at=None, hot_fact_at=None)
GOOD = ((0, "80"), (20, "57"), (60, "35"), (110, "21"), (300, "5"))


def kept(*points: tuple[float, str]) -> list[Kept]:
    return [
        Kept(Reading(at=START + timedelta(minutes=minute), temp=Decimal(temp), unit="C"), row=number)
        for number, (minute, temp) in enumerate(points)
    ]


def state(log: list[Kept], *, minute: float = 400, closed: bool = True) -> State:
    found = log_digest(RULE, asked_anew(in_order(log), SINK), NOTHING)
    return judge_log(RULE, found, now=START + timedelta(minutes=minute), closed=closed).state


def test_a_good_log_is_met() -> None:
    assert state(kept(*GOOD)) is State.MET


def test_a_probe_in_the_ice_does_not_end_a_stage_until_somebody_confirms_it() -> None:
    log = kept((0, "80"), (20, "57"), (60, "35"), (61, "1"), (150, "21"), (300, "5"))
    assert [each.question for each in asked_anew(log, SINK)][3] == "falls-too-fast"
    assert state(log) is State.NOT_SHOWN
    confirmed = [replace(each, confirmed=True) if each.row == 3 else each for each in log]
    assert state(confirmed[:4], minute=61, closed=False) is State.MET


def test_a_doubtful_hot_reading_may_not_start_the_clock_later() -> None:
    """At minute 40 somebody reads 59 after 52: without it the clock starts at 20, with it at 40."""
    log = kept((0, "80"), (20, "57"), (35, "52"), (40, "59"), (150, "21"), (300, "5"))
    assert asked_anew(log, SINK)[3].question == "rises"
    assert state(log) is State.NOT_SHOWN
    assert state([each for each in log if each.row != 2]) is State.MET  # the same clock with nothing in doubt


def test_a_doubtful_hot_reading_counts_against_the_log_until_it_is_set_aside() -> None:
    log = kept(*GOOD[:4], (145, "26"), *GOOD[4:])
    assert state(log) is State.BREACHED
    aside = [replace(each, reading=replace(each.reading, excluded=each.row == 4)) for each in log]
    assert state(aside) is State.MET


def test_setting_a_cold_first_reading_aside_clears_the_questions_about_those_after_it() -> None:
    log = [replace(each, from_probe=True) for each in kept((30, "25"), (31, "55"), (32, "54"), (33, "53"))]
    unplanned = replace(SINK, drawn_c=None, rate_per_h=None)
    assert [each.question for each in asked_anew(log, unplanned)] == ["", "rises", "rises", "rises"]
    log[0] = replace(log[0], reading=replace(log[0].reading, excluded=True))
    assert [each.question for each in asked_anew(log, unplanned)] == ["", "", "", ""]


def test_a_new_reading_is_compared_with_its_neighbours_in_time() -> None:
    log = kept((0, "80"), (20, "57"), (60, "35"))
    late = Reading(at=START + timedelta(minutes=20), temp=Decimal("56"), unit="C")
    assert [each.code for each in questions_about(late, log, SINK)] == ["same-time", "before-the-last"]
    warm = Reading(at=START + timedelta(minutes=70), temp=Decimal("39"), unit="C")
    assert [each.code for each in questions_about(warm, log, SINK)] == ["rises"]
    assert [each.code for each in questions_about(warm, log, replace(SINK, from_probe=True))] == ["rises"]


def test_a_digest_survives_being_written_down() -> None:
    for log in (kept(*GOOD), kept(*GOOD[:4], (145, "26"), *GOOD[4:])):
        found = log_digest(RULE, asked_anew(log, SINK), Facts(event_at=None, hot_fact_at=START))
        assert log_digest_from_json(json.loads(json.dumps(log_digest_to_json(found)))) == found


POINTS = st.lists(
    st.tuples(st.integers(0, 400), st.sampled_from(["92", "80", "57", "56.9", "35", "21", "20.9", "9", "5", "0.2"])),
    min_size=1,
    max_size=9,
)


@settings(max_examples=120, deadline=None)
@given(points=POINTS, order=st.randoms(use_true_random=False), minute=st.integers(0, 500))
def test_the_order_of_arrival_does_not_matter(points: list[tuple[int, str]], order: object, minute: int) -> None:
    log = kept(*points)
    shuffled = list(log)
    order.shuffle(shuffled)  # type: ignore[attr-defined]
    assert state(log, minute=minute, closed=False) is state(shuffled, minute=minute, closed=False)


@settings(max_examples=120, deadline=None)
@given(points=POINTS, asked=st.sets(st.integers(0, 8)))
def test_doubt_never_makes_a_closed_log_better(points: list[tuple[int, str]], asked: set[int]) -> None:
    """Doubts about warm readings: the verdict is never better than with the readings taken as they are, or without."""
    log = in_order(kept(*points))
    doubted = [replace(each, question="rises" if each.row in asked else "") for each in log]
    without = [each for each in doubted if each.row not in asked]
    found = judge_log(RULE, log_digest(RULE, doubted, NOTHING), closed=True).state
    order = list(State)
    for other in (log, without):
        assert order.index(found) <= order.index(judge_log(RULE, log_digest(RULE, other, NOTHING), closed=True).state)


def test_a_curve_keeps_first_and_last_and_never_grows() -> None:
    many = kept(*((minute, f"{80 - minute / 40:.2f}") for minute in range(2400)))
    curve = thin_curve(many, since=START)
    assert len(curve) <= MOST_POINTS
    assert (curve[0], curve[-1]) == ([0.0, 80.0], [2399.0, pytest.approx(20.02, abs=0.011)])
    assert all(before[0] < after[0] for before, after in pairwise(curve))
    few = kept(*GOOD)
    assert thin_curve(few, since=START) == [[float(minute), float(temp)] for minute, temp in GOOD]
    assert thin_curve([], since=START) == []
