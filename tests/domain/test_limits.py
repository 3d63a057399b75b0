"""Cooling rules and the margins of a predicted curve."""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.domain.errors import OutOfRange, UnknownParameter
from production.domain.limits import (
    RULES,
    needed_rate_per_h,
    predict_verdict,
    rule,
    smallest_margin_min,
    to_celsius,
)


def curve(points: dict[float, float]) -> Callable[[float], float]:
    """Minutes at given Celsius temperatures, rounded to 0.01 degC."""
    rounded = {round(temp, 2): minutes for temp, minutes in points.items()}
    return lambda temp_c: rounded[round(temp_c, 2)]


def exponential(rate_per_h: float, drawn_c: float, sink_c: float) -> Callable[[float], float]:
    def minutes_at(temp_c: float) -> float:
        if temp_c >= drawn_c:
            return 0.0
        if temp_c <= sink_c:
            return math.inf
        return 60.0 / rate_per_h * math.log((drawn_c - sink_c) / (temp_c - sink_c))

    return minutes_at


def f(temp_f: float) -> float:
    return (temp_f - 32.0) / 1.8


def test_there_are_twenty_rules_with_thirty_two_stages_each_with_a_source() -> None:
    assert len(RULES) == 20
    assert sum(len(each.stages) for each in RULES.values()) == 32
    for each in RULES.values():
        assert each.source
        assert each.mark
        assert each.confidence
        assert rule(each.code) is each
        assert [stage.number for stage in each.stages] == list(range(1, len(each.stages) + 1))
        assert each.event or all(stage.clock != "from_event" for stage in each.stages)
        for stage in each.stages:
            assert stage.clock != "no_limit" or stage.max_minutes is None


def test_memory_is_never_passed_off_as_read() -> None:
    for each in RULES.values():
        assert ("from memory" in each.source) == (each.mark == "memory" or "(from memory)" in each.source), each.code


@pytest.mark.parametrize(
    ("code", "stages"),
    [
        ("FDA_A", [("135", "70", 120, "from_start"), ("135", "41", 360, "from_start")]),
        ("FDA_A_C", [("57", "21", 120, "from_start"), ("57", "5", 360, "from_start")]),
        ("FDA_B", [(None, "41", 240, "from_event")]),
        ("FDA_C", [(None, "41", 240, "from_event")]),
        ("US_MD_SCHED", [("135", "70", 120, "from_start"), ("70", "41", 240, "from_stage")]),
        ("US_140_OLD", [("140", "70", 120, "from_start"), ("70", "41", 240, "from_stage")]),
        ("FSIS_B_OPT1", [("130", "80", 90, "from_start"), ("80", "40", 300, "from_stage")]),
        (
            "FSIS_B_OPT2",
            [("120", "80", 60, "from_start"), ("80", "55", 300, "from_stage"), ("55", "40", None, "no_limit")],
        ),
        ("FSIS_B_OPT3", [("130", "80", 300, "from_start"), ("80", "45", 600, "from_stage")]),
        ("AU_322", [("60", "21", 120, "from_start"), ("21", "5", 240, "from_stage")]),
        ("NZ_FCP", [("60", "21", 120, "from_start"), ("21", "5", 240, "from_stage")]),
        ("CA_RETAIL", [("60", "20", 120, "from_start"), ("20", "4", 240, "from_stage")]),
        ("HK_CFS", [("60", "20", 120, "from_start"), ("20", "4", 240, "from_stage")]),
        ("FR_2009", [("63", "10", 120, "from_start")]),
        ("IE_GN15", [(None, "3", 150, "from_event")]),
        ("UK_CC89", [(None, "3", 90, "from_event")]),
        ("UK_CF89", [(None, "-5", 90, "from_event")]),
        ("UK_GEN", [("63", "8", 90, "from_start")]),
        ("EU_852", [(None, None, None, "no_limit")]),
        ("CODEX_39", [("60", "10", 120, "from_start")]),
    ],
)
def test_each_rule_holds_its_published_numbers(
    code: str, stages: list[tuple[str | None, str | None, int | None, str]]
) -> None:
    def text(value: Decimal | None) -> str | None:
        return None if value is None else str(value)

    found = [(text(s.from_temp), text(s.to_temp), s.max_minutes, s.clock) for s in rule(code).stages]
    assert found == stages


def test_an_unknown_rule_is_refused_with_the_known_ones() -> None:
    with pytest.raises(UnknownParameter) as refusal:
        rule("NOWHERE")
    assert refusal.value.code == "unknown-rule"
    assert "FDA_A" in refusal.value.remedy


def test_the_printed_celsius_limits_are_not_the_converted_ones() -> None:
    assert to_celsius(Decimal(41), "F") == Decimal(5)
    assert float(to_celsius(Decimal(70), "F")) == pytest.approx(21.1111, abs=1e-4)
    assert rule("FDA_A_C").stages[0].to_c == 21.0
    assert rule("FDA_A").stages[0].to_c == pytest.approx(21.1111, abs=1e-4)


def test_time_saved_in_the_first_stage_may_be_spent_in_the_second_where_the_clock_is_total() -> None:
    """60 min to 70 F and 300 more to 41 F: allowed on a total clock, 60 min late on a clock per stage."""
    minutes_at = curve({f(135): 0.0, f(70): 60.0, f(41): 360.0})
    total = predict_verdict(rule("FDA_A"), minutes_at)
    assert [(each.predicted_min, each.margin_min, each.within) for each in total] == [(60, 60, True), (360, 0, True)]
    staged = predict_verdict(rule("US_MD_SCHED"), minutes_at)
    assert [(each.predicted_min, each.margin_min, each.within) for each in staged] == [
        (60, 60, True),
        (300, -60, False),
    ]
    assert smallest_margin_min(staged) == -60


def test_the_clock_does_not_run_above_the_start_temperature() -> None:
    minutes_at = curve({f(135): 45.0, f(70): 165.0, f(41): 405.0})
    assert [each.margin_min for each in predict_verdict(rule("FDA_A"), minutes_at)] == [0, 0]


def test_an_event_before_the_draw_counts() -> None:
    found = predict_verdict(rule("UK_CC89"), curve({3.0: 80.0}), since_event_min=15.0)
    assert [(each.predicted_min, each.margin_min, each.within) for each in found] == [(95, -5, False)]


def test_a_strict_limit_is_not_met_at_the_last_minute() -> None:
    assert not predict_verdict(rule("FR_2009"), curve({63.0: 0.0, 10.0: 120.0}))[0].within
    assert predict_verdict(rule("FR_2009"), curve({63.0: 0.0, 10.0: 119.9}))[0].within
    assert predict_verdict(rule("CODEX_39"), curve({60.0: 0.0, 10.0: 120.0}))[0].within


def test_a_target_that_is_never_reached_is_not_met() -> None:
    found = predict_verdict(rule("AU_322"), exponential(2.0, 90.0, 6.0))
    assert found[0].within
    assert not found[1].within
    never = predict_verdict(rule("AU_322"), exponential(2.0, 90.0, 25.0))
    assert [each.within for each in never] == [False, False]
    assert smallest_margin_min(never) == -math.inf


def test_a_stage_without_minutes_has_no_margin_and_is_met_once_reached() -> None:
    minutes_at = curve({f(120): 0.0, f(80): 50.0, f(55): 200.0, f(40): 500.0})
    found = predict_verdict(rule("FSIS_B_OPT2"), minutes_at)
    assert (found[2].limit_min, found[2].margin_min, found[2].predicted_min, found[2].within) == (None, None, 300, True)


def test_a_rule_without_numbers_predicts_nothing() -> None:
    found = predict_verdict(rule("EU_852"), exponential(1.0, 90.0, 1.0))
    assert smallest_margin_min(found) is None
    assert needed_rate_per_h(rule("EU_852"), sink_c=1.0, drawn_c=90.0) is None
    assert rule("EU_852").stages[0].to_c is None
    assert rule("EU_852").stages[0].from_c is None


def test_a_curve_that_rises_is_refused() -> None:
    with pytest.raises(OutOfRange, match="rises"):
        predict_verdict(rule("FDA_A"), curve({f(135): 0.0, f(70): 60.0, f(41): 50.0}))


def test_a_sink_warmer_than_a_target_is_refused() -> None:
    with pytest.raises(OutOfRange, match="never reaches"):
        needed_rate_per_h(rule("FDA_A"), sink_c=5.0, drawn_c=90.0)


@given(
    st.sampled_from([code for code in RULES if code != "EU_852"]),
    st.floats(-30.0, 2.0),
    st.floats(80.0, 99.0),
)
def test_the_needed_rate_just_meets_every_stage(code: str, sink_c: float, drawn_c: float) -> None:
    chosen = rule(code)
    targets = [stage.to_c for stage in chosen.stages if stage.to_c is not None]
    if sink_c >= min(targets) - 0.01:
        return
    rate = needed_rate_per_h(chosen, sink_c=sink_c, drawn_c=drawn_c)
    assert rate is not None
    margin = smallest_margin_min(predict_verdict(chosen, exponential(rate, drawn_c, sink_c)))
    assert margin == pytest.approx(0.0, abs=1e-6)
    slower = smallest_margin_min(predict_verdict(chosen, exponential(rate * 0.99, drawn_c, sink_c)))
    assert slower is not None
    assert slower < 0.0
