"""What a verdict on a cooling log promises, held against true histories and a second judge."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from itertools import pairwise
from random import Random
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.domain.errors import Conflict
from production.domain.limits import CoolingRule, rule
from production.domain.records import (
    Evidence,
    Reading,
    State,
    Verdict,
    digest,
    digest_from_json,
    digest_to_json,
    judge,
    judge_digest,
    worst,
)
from production.domain.records.reasons import spell
from tests.domain.records.logs import (
    at,
    histories,
    minute,
    random_evidence,
    snapped,
    states_by_the_book,
    true_spans,
)

CODES = ("FDA_A", "FDA_A_C", "US_MD_SCHED", "FSIS_B_OPT1", "FSIS_B_OPT2", "AU_322", "FR_2009", "FDA_B", "IE_GN15")
FROM_TWO = "The clock counts from 3 Jun 14:00 UTC, the last reading at or above 135 °F"
ENDED = "and the time allowed ended on"
SLACK_MIN = 1e-4  # of the arithmetic of the sampled courses

seeds = st.integers(0, 2**32)
codes = st.sampled_from(CODES)


def states(verdict: Verdict) -> list[str]:
    return [str(each.state) for each in verdict.stages]


def facts(verdict: Verdict) -> list[tuple[object, ...]]:
    return [(each.state, each.worst_elapsed, each.best_elapsed) for each in verdict.stages]


def falls_steadily(evidence: Evidence) -> bool:
    temps = [each.temp for each in sorted(evidence.readings, key=lambda each: each.at) if not each.excluded]
    return temps == sorted(set(temps), reverse=True)


def with_readings(evidence: Evidence, readings: tuple[Reading, ...]) -> Evidence:
    return replace(evidence, readings=readings)


# --- against the truth ---


def test_a_verdict_is_never_better_or_worse_than_every_history_the_readings_allow() -> None:
    """Met: no history took too long. Breached: every one did. And neither is said too seldom: see the counts."""
    random = Random(20260603)
    seen: Counter[str] = Counter()
    for _ in range(2500):
        chosen = rule(random.choice(CODES))
        evidence = random_evidence(chosen, random)
        found = judge(chosen, evidence, closed=True)
        seen.update(states(found))
        for course in histories(chosen, evidence, random, 8):
            for stage, verdict, span in zip(
                chosen.stages, found.stages, true_spans(chosen, evidence, course), strict=True
            ):
                if stage.max_minutes is None:
                    continue
                if verdict.state is State.MET:
                    assert span is not None
                    assert span <= stage.max_minutes + SLACK_MIN, (evidence, course)
                if verdict.state is State.BREACHED and span is not None:
                    assert span >= stage.max_minutes - SLACK_MIN, (evidence, course)
                if span is not None and verdict.best_elapsed is not None:
                    assert span >= verdict.best_elapsed / timedelta(minutes=1) - SLACK_MIN
                if span is not None and verdict.worst_elapsed is not None:
                    assert span <= verdict.worst_elapsed / timedelta(minutes=1) + SLACK_MIN
    assert seen["met"] > 300
    assert seen["breached"] > 300
    assert seen["not_shown"] > 300


def test_what_is_not_shown_though_it_was_read_can_have_been_in_time_and_too_late() -> None:
    """A verdict of not shown is no idle caution: histories of both kinds exist."""
    random = Random(4)
    doubtful = 0
    while doubtful < 60:
        chosen = rule(random.choice(["FDA_A", "AU_322", "FSIS_B_OPT1"]))
        evidence = random_evidence(chosen, random)
        first = judge(chosen, evidence, closed=True).stages[0]
        limit = chosen.stages[0].max_minutes
        assert limit is not None
        if first.state is not State.NOT_SHOWN or first.worst_elapsed is None or evidence.hot_fact_at is not None:
            continue
        doubtful += 1
        spans = [
            true_spans(chosen, evidence, course)[0] for course in histories(chosen, evidence, random, 800, resting=True)
        ]
        known = [span for span in spans if span is not None]
        assert min(known) <= limit + SLACK_MIN, evidence
        assert max(known) >= limit - SLACK_MIN, evidence


@given(seed=seeds, code=codes, now=st.one_of(st.none(), st.integers(-30, 900)))
def test_a_second_judge_who_reads_the_whole_log_says_the_same(seed: int, code: str, now: int | None) -> None:
    chosen = rule(code)
    evidence = random_evidence(chosen, Random(seed))
    found = judge(chosen, evidence, now=None if now is None else at(now), closed=now is None)
    assert states(found) == states_by_the_book(chosen, evidence, now)
    assert found.state == worst(each.state for each in found.stages)


# --- what must not matter ---


@given(seed=seeds, code=codes, now=st.integers(-30, 900), closed=st.booleans())
def test_the_digest_of_a_log_is_judged_like_the_log_at_every_moment(
    seed: int, code: str, now: int, closed: bool
) -> None:
    chosen = rule(code)
    evidence = random_evidence(chosen, Random(seed))
    kept = json.loads(json.dumps(digest_to_json(digest(chosen, evidence))))
    assert judge_digest(chosen, digest_from_json(kept), now=at(now), closed=closed) == judge(
        chosen, evidence, now=at(now), closed=closed
    )


@given(seed=seeds, code=codes, now=st.integers(0, 900))
def test_the_order_of_arrival_does_not_matter(seed: int, code: str, now: int) -> None:
    random = Random(seed)
    chosen = rule(code)
    evidence = random_evidence(chosen, random)
    doubled = evidence.readings + evidence.readings[: random.randint(0, 3)]
    shuffled = with_readings(evidence, tuple(random.sample(doubled, len(doubled))))
    assert judge(chosen, shuffled, now=at(now)).stages == judge(chosen, evidence, now=at(now)).stages


@given(seed=seeds, code=codes)
def test_the_unit_in_which_a_temperature_was_typed_does_not_matter(seed: int, code: str) -> None:
    chosen = rule(code)
    celsius = random_evidence(rule("FDA_A_C") if chosen.stages[0].from_temp else chosen, Random(seed))
    fahrenheit = tuple(replace(each, temp=each.temp * Decimal("1.8") + 32, unit="F") for each in celsius.readings)
    both = facts(judge(chosen, with_readings(celsius, fahrenheit), closed=True))
    typed_c = tuple(replace(each, unit="C") for each in celsius.readings)
    assert facts(judge(chosen, with_readings(celsius, typed_c), closed=True)) == both


@given(seed=seeds, code=codes, days=st.integers(-200, 200))
def test_the_day_does_not_matter(seed: int, code: str, days: int) -> None:
    chosen = rule(code)
    evidence = random_evidence(chosen, Random(seed))
    later = timedelta(days=days, seconds=days)
    moved = Evidence(
        tuple(replace(each, at=each.at + later) for each in evidence.readings),
        event_at=evidence.event_at and evidence.event_at + later,
        hot_fact_at=evidence.hot_fact_at and evidence.hot_fact_at + later,
    )
    assert facts(judge(chosen, moved, closed=True)) == facts(judge(chosen, evidence, closed=True))


@given(seed=seeds, code=codes, time=st.integers(0, 800), temp=st.integers(-20, 220))
def test_a_reading_set_aside_changes_nothing(seed: int, code: str, time: int, temp: int) -> None:
    chosen = rule(code)
    evidence = random_evidence(chosen, Random(seed))
    aside = Reading(at(time), Decimal(temp), chosen.stages[0].unit, excluded=True)
    more = with_readings(evidence, (*evidence.readings, aside))
    assert judge(chosen, more, closed=True).stages == judge(chosen, evidence, closed=True).stages


# --- more and fewer readings ---


def test_taking_a_reading_away_never_turns_breached_into_met_on_a_cooling_that_only_falls() -> None:
    random = Random(7)
    tried = 0
    while tried < 1500:
        chosen = rule(random.choice(CODES))
        evidence = random_evidence(chosen, random)
        if not falls_steadily(evidence):
            continue
        before = judge(chosen, evidence, closed=True)
        tried += State.BREACHED in states(before)
        gone = random.choice(evidence.readings)
        fewer = with_readings(evidence, tuple(each for each in evidence.readings if each is not gone))
        pairs = zip(states(before), states(judge(chosen, fewer, closed=True)), strict=True)
        assert all({one, other} != {"met", "breached"} for one, other in pairs), (evidence, gone)


def test_a_further_reading_between_two_never_changes_met_or_breached() -> None:
    random = Random(8)
    tried: Counter[str] = Counter()
    for _ in range(3000):
        chosen = rule(random.choice(CODES))
        evidence = random_evidence(chosen, random)
        usable = sorted((each for each in evidence.readings if not each.excluded), key=lambda each: each.at)
        wide = [(a, b) for a, b in pairwise(usable) if minute(b.at) - minute(a.at) > 1]
        if not wide:
            continue
        first, second = random.choice(wide)
        low, high = sorted((first.temp, second.temp))
        temp = snapped(chosen, random, random.uniform(float(low), float(high)))
        if not low < temp < high:
            continue
        time = random.uniform(minute(first.at) + 0.1, minute(second.at) - 0.1)
        more = with_readings(evidence, (*evidence.readings, Reading(at(time), temp, first.unit)))
        before, after = judge(chosen, evidence, closed=True), judge(chosen, more, closed=True)
        for one, other in zip(states(before), states(after), strict=True):
            tried[one] += 1
            assert one not in ("met", "breached") or one == other, (evidence, temp, time)
    assert tried["met"] > 200
    assert tried["breached"] > 200


# --- open and closed ---


@given(seed=seeds, code=codes)
def test_a_closed_log_has_a_final_verdict(seed: int, code: str) -> None:
    chosen = rule(code)
    found = judge(chosen, random_evidence(chosen, Random(seed)), closed=True)
    assert found.state in (State.MET, State.BREACHED, State.NOT_SHOWN)


@given(seed=seeds, code=codes, now=st.integers(-30, 900), wait=st.integers(0, 900))
def test_waiting_alone_never_makes_a_verdict_better(seed: int, code: str, now: int, wait: int) -> None:
    chosen = rule(code)
    evidence = random_evidence(chosen, Random(seed))
    order = [str(each) for each in ("breached", "not_shown", "running", "not_started")]
    before, after = (states(judge(chosen, evidence, now=at(moment))) for moment in (now, now + wait))
    for one, other in zip(before, after, strict=True):
        assert (one == other) if one in ("met", "breached") else order.index(other) <= order.index(one)


def test_a_reading_from_a_clock_that_is_fast_still_counts() -> None:
    evidence = Evidence((Reading(at(0), Decimal(135), "F"), Reading(at(125), Decimal(78), "F")))
    assert judge(rule("FDA_A"), evidence, now=at(118)).state is State.BREACHED


def test_an_open_log_cannot_be_judged_without_a_moment() -> None:
    with pytest.raises(Conflict, match="at a moment"):
        judge(rule("FDA_A"), Evidence())


def test_a_digest_of_another_rule_is_refused() -> None:
    kept = digest(rule("FDA_A"), Evidence())
    with pytest.raises(Conflict, match="FDA_A 135/70/41 F, not for FDA_A_C 57/21/5 C"):
        judge_digest(rule("FDA_A_C"), kept, closed=True)


def test_a_digest_stays_small_however_long_the_log() -> None:
    readings = tuple(Reading(at(each), Decimal(200 - each % 190), "F") for each in range(2400))
    assert len(json.dumps(digest_to_json(digest(rule("FDA_A"), Evidence(readings))))) < 1500


# --- the beginning of a log ---


def opened(now: float | None = 0.0, fact: float | None = None, *readings: tuple[float, str]) -> list[str]:
    evidence = Evidence(
        tuple(Reading(at(time), Decimal(temp), "F") for time, temp in readings),
        hot_fact_at=None if fact is None else at(fact),
    )
    return states(judge(rule("FDA_A"), evidence, now=None if now is None else at(now), closed=now is None))


def test_a_log_without_reading_or_record_shows_nothing() -> None:
    assert opened() == ["not_shown", "not_shown"]
    assert opened(None) == ["not_shown", "not_shown"]


def test_a_record_that_it_was_hot_opens_a_log_until_its_limits_are_over() -> None:
    assert opened(10, 0) == ["not_started", "not_started"]
    assert opened(121, 0) == ["not_shown", "not_started"]
    assert opened(361, 0) == ["not_shown", "not_shown"]


def test_a_record_of_heat_after_a_reading_below_helps_nobody() -> None:
    assert opened(None, 20, (10, "128"), (90, "69"), (240, "41")) == ["not_shown", "not_shown"]


def test_a_record_of_heat_at_the_moment_of_the_first_reading_below_is_the_start() -> None:
    assert opened(None, 0, (0, "128"), (120, "70"), (360, "41")) == ["met", "met"]


def test_at_the_moment_of_its_event_a_log_begins() -> None:
    cooked = Evidence((Reading(at(0), Decimal(3), "C"),), event_at=at(0))
    assert judge(rule("IE_GN15"), cooked, closed=True).state is State.MET
    to_come = Evidence(event_at=at(10))
    assert [judge(rule("IE_GN15"), to_come, now=at(now)).state for now in (9, 10)] == ["not_started", "running"]


def test_a_reading_at_the_start_temperature_starts_the_clock() -> None:
    assert opened(20, None, (0, "160"), (10, "135")) == ["running", "running"]
    assert opened(20, None, (0, "160"), (10, "135.1")) == ["not_started", "not_started"]


def test_stirring_up_heat_does_not_start_the_clock_again() -> None:
    assert opened(None, None, (0, "136"), (30, "120"), (40, "136"), (125, "75"), (300, "41")) == ["not_shown", "met"]


def test_a_late_start_can_be_proven_too_late_though_nobody_knows_when_it_was() -> None:
    assert opened(None, None, (0, "128"), (120, "71"), (300, "41")) == ["breached", "not_shown"]


# --- sentences ---


def told(code: str, *readings: tuple[float, str], now: float | None = None) -> tuple[str, ...]:
    chosen = rule(code)
    evidence = Evidence(tuple(Reading(at(time), Decimal(temp), chosen.stages[0].unit) for time, temp in readings))
    return judge(chosen, evidence, now=None if now is None else at(now), closed=now is None).reasons


def test_the_reasons_give_readings_and_limits_as_they_were_typed() -> None:
    assert told("FDA_A", (0, "136"), (10, "134.50"), (140, "70.10"), (150, "70")) == (
        f"{FROM_TWO} (136 °F); the next is 134.50 °F on 3 Jun 14:10 UTC.",
        "70.10 °F on 3 Jun 16:20 UTC is above 70 °F, at least 2 h 10 min after the start; allowed is 2 h.",
    )


def test_the_reasons_say_what_is_missing() -> None:
    assert told("FDA_A", (0, "135"), (120, "70"), now=400) == (
        f"{FROM_TWO} (135 °F); the next is 70 °F on 3 Jun 16:00 UTC.",
        f"No reading shows 41 °F or less (the last is 70 °F on 3 Jun 16:00 UTC), {ENDED} 3 Jun 20:00 UTC.",
    )


def test_the_reasons_of_a_log_that_runs_say_until_when() -> None:
    assert told("FR_2009", (0, "63"), (60, "30"), now=60)[-1] == "10 °C or less has to be read before 3 Jun 16:00 UTC."


def test_the_reasons_say_less_than_where_the_rule_does() -> None:
    assert told("FR_2009", (0, "63"), (120, "10"))[-1].endswith("allowed is less than 2 h. It is not proven late.")


def notes(*readings: Reading) -> tuple[str, ...]:
    return judge(rule("FDA_A"), Evidence(readings), closed=True).notes


def test_beside_the_verdict_stands_what_an_inspector_would_ask() -> None:
    hot, cool = Reading(at(0), Decimal("57.5"), "C"), Reading(at(100), Decimal(69), "F")
    aside = Reading(at(50), Decimal(33), "F", excluded=True)
    warm, cold = Reading(at(110), Decimal(75), "F"), Reading(at(115), Decimal(69), "F")
    assert notes(Reading(at(0), Decimal(136), "F"), cool) == ()
    assert notes(hot, cool, aside, warm, cold) == (
        "69 °F on 3 Jun 15:40 UTC was at or below 70 °F, then 75 °F on 3 Jun 15:50 UTC: only the last descent counts.",
        "Readings set aside, which are no evidence: 1.",
        "Readings not in °F: 1; each was compared with the rule's limit without rounding.",
    )


def longest_gap_min(*readings: tuple[float, str]) -> float | None:
    evidence = Evidence(tuple(Reading(at(time), Decimal(temp), "F") for time, temp in readings))
    gap = judge(rule("FDA_A"), evidence, closed=True).longest_gap
    return None if gap is None else gap / timedelta(minutes=1)


def test_the_longest_gap_is_sought_while_the_log_matters() -> None:
    curve = ((200.0, "140"), (230.0, "120"), (290.0, "69"), (400.0, "41"))
    assert longest_gap_min((0, "180"), *curve, (900, "38")) == 110
    assert longest_gap_min((0, "180")) is None


def test_a_second_over_the_limit_is_told_as_such() -> None:
    lines = told("FDA_A", (0, "135"), (60, "90"), (120 + 1 / 60, "70"), (300, "41"))
    assert "70 °F on 3 Jun 16:00:01 UTC is the first that shows 70 °F or less for good" in lines[-1]
    assert "may be 2 h 1 s after the start, allowed is 2 h. It is not proven late." in lines[-1]


@pytest.mark.parametrize(
    ("length", "text"),
    [
        (timedelta(), "0 min"),
        (timedelta(minutes=115), "1 h 55 min"),
        (timedelta(hours=30), "30 h"),
        (timedelta(seconds=10), "10 s"),
        (timedelta(hours=2, microseconds=1), "2 h 0.000001 s"),
    ],
)
def test_lengths_of_time_are_told_without_rounding(length: timedelta, text: str) -> None:
    assert spell(length) == text


def test_on_the_night_the_clocks_change_the_times_say_which_hour_is_meant() -> None:
    zone = ZoneInfo("America/New_York")
    start = datetime(2026, 11, 1, 5, 30, tzinfo=UTC)
    log = (Reading(start, Decimal(135), "F"), Reading(start + timedelta(hours=1), Decimal(90), "F"))
    lines = judge(rule("FDA_A"), Evidence(log), now=start + timedelta(hours=1), zone=zone).reasons
    assert "1 Nov 01:30 EDT" in lines[0]
    assert "1 Nov 01:30 EST" in lines[0]
    assert lines[1] == "70 °F or less has to be read by 1 Nov 02:30 EST."


@given(seed=seeds, code=codes, now=st.one_of(st.none(), st.integers(-30, 900)))
def test_every_stage_gives_a_reason_in_whole_sentences(seed: int, code: str, now: int | None) -> None:
    chosen: CoolingRule = rule(code)
    found = judge(
        chosen, random_evidence(chosen, Random(seed)), now=None if now is None else at(now), closed=now is None
    )
    for stage in found.stages:
        assert stage.reasons
        for line in (*stage.reasons, *found.notes):
            assert line.endswith(".")
            assert "None" not in line
