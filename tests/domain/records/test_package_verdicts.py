"""The package checker works verdicts out by itself; both judges must agree on every log."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime
from random import Random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.documents.package.check_package import Broken, heat, judge_closed, moment, worst_of
from production.domain.limits import RULES, CoolingRule, rule
from production.domain.records import Evidence, judge
from production.selectors.sealed_papers import rule_to_json
from tests.domain.records.logs import random_evidence
from tests.reference.test_cooling_verdicts import CURVES, at, read

BY_LAW = {code: rule_to_json(law) for code, law in RULES.items()}


def a_log(law: CoolingRule, dice: Random) -> Evidence:
    """Around the temperatures of the rule; one without numbers gets a log of another."""
    has_numbers = law.stages[0].to_temp is not None
    return random_evidence(law if has_numbers else rule("FDA_A_C"), dice)


def by_the_checker(law: CoolingRule, evidence: Evidence) -> list[str]:
    dots = [
        (moment(each.at.isoformat()), heat(f"{each.temp:f}", each.unit))
        for each in evidence.readings
        if not each.excluded
    ]
    event, fact = (
        None if each is None else moment(each.isoformat()) for each in (evidence.event_at, evidence.hot_fact_at)
    )
    told: dict[str, Any] = BY_LAW[law.code]
    return judge_closed(told, dots, event, fact)


def by_the_house(law: CoolingRule, evidence: Evidence) -> list[str]:
    return [each.state.value for each in judge(law, evidence, closed=True).stages]


@pytest.mark.parametrize("curve", CURVES, ids=[str(each.number) for each in CURVES])
def test_the_worked_curves_are_judged_alike_when_they_are_closed(curve: Any) -> None:
    fact = None if curve.hot_fact is None else at(curve.hot_fact)
    evidence = Evidence(readings=read(curve.readings), hot_fact_at=fact)
    for code in ("FDA_A", "US_MD_SCHED", "FR_2009"):
        assert by_the_checker(rule(code), evidence) == by_the_house(rule(code), evidence)
    if curve.now is None:
        assert worst_of(by_the_checker(rule("FDA_A"), evidence)) == curve.verdict


@pytest.mark.parametrize("code", sorted(RULES))
def test_random_logs_are_judged_alike_under_every_rule(code: str) -> None:
    dice, law = Random(code), rule(code)
    for _ in range(400):
        evidence = a_log(law, dice)
        assert by_the_checker(law, evidence) == by_the_house(law, evidence), evidence


@given(st.integers(0, 2**40))
def test_whatever_log_is_thought_of_both_judges_say_the_same(seed: int) -> None:
    dice = Random(seed)
    law = rule(dice.choice(sorted(RULES)))
    evidence = a_log(law, dice)
    assert by_the_checker(law, evidence) == by_the_house(law, evidence)


def test_the_random_logs_hold_verdicts_of_all_kinds() -> None:
    dice, law = Random(5), rule("FDA_A_C")
    seen = Counter(worst_of(by_the_checker(law, random_evidence(law, dice))) for _ in range(800))
    assert min(seen[each] for each in ("met", "breached", "not_shown")) >= 20, seen


def test_temperatures_compare_exactly_across_scales() -> None:
    assert heat("21", "C") == heat("69.8", "F")
    assert heat("-40", "C") == heat("-40.0", "F")
    assert heat("21.1", "C") < heat("70", "F")
    assert heat("5.000001", "C") > heat("41", "F")
    for text, unit in (("warm", "C"), ("5", "K"), ("1e3", "C"), ("5.1234567", "C")):
        with pytest.raises(Broken):
            heat(text, unit)


def test_moments_compare_as_instants() -> None:
    assert moment("2026-11-01T00:30:00-04:00") == moment("2026-11-01T04:30:00.000000Z")
    assert moment(datetime(2026, 1, 1, tzinfo=UTC).isoformat()) % 10**6 == 0
    for text in ("2026-11-01T00:30:00", "yesterday"):
        with pytest.raises(Broken):
            moment(text)
