"""The hazard plan of a formula: every hazard has its control, every limit its source, and the rule is data."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from production.domain.ledger import clean_content
from production.domain.limits import RULES, rule
from production.domain.records.hazards import (
    HazardPlan,
    PlanFacts,
    hazard_plan,
    hazard_plan_from_json,
    hazard_plan_to_json,
)
from tests.builders import a_week, fish, poultry


def facts(**changes: Any) -> PlanFacts:
    week = a_week()
    formula = changes.pop("formula", poultry())
    values: dict[str, Any] = {
        "kitchen": "Small test kitchen",
        "formula": formula,
        "ingredients": {each.code: each for each in week.ingredients},
        "products": tuple(each for each in week.products if each.formula == formula.code),
        "rule": rule("FDA_A_C"),
        "reheats": 1,
        "review_days": 7,
        "second_person": False,
        "unattended": True,
        "receive_chilled_c": Decimal(5),
        "receive_frozen_c": Decimal(-15),
        "store_chilled_c": Decimal(5),
        "store_frozen_c": Decimal(-15),
        "store_every_h": 12,
        "check_every_days": 7,
    } | changes
    return PlanFacts(**values)


def a_hazard_plan(**changes: Any) -> HazardPlan:
    return hazard_plan(facts=facts(**changes))


def said(plan: HazardPlan) -> str:
    return str(hazard_plan_to_json(plan))


@pytest.mark.parametrize("code", sorted(RULES))
def test_every_rule_gives_limits_and_actions_of_its_own(code: str) -> None:
    plan = a_hazard_plan(rule=rule(code))
    _, cooling = plan.points
    stages = rule(code).stages
    assert len(cooling.limits) == len(stages)
    for limit, stage in zip(cooling.limits, stages, strict=True):
        if stage.to_temp is not None:
            assert f"{stage.to_temp} °{stage.unit}" in limit
        if stage.strict:
            assert "less than" in limit
    assert cooling.source == rule(code).source
    assert {each.when for each in cooling.remedies} >= {"When a limit is breached", "After every deviation"}


def test_limits_are_those_of_the_rule_in_words() -> None:
    _, cooling = a_hazard_plan(rule=rule("US_MD_SCHED")).points
    assert cooling.limits == (
        "Stage 1: to 70 °F or colder within 2 h after it passes 135 °F.",
        "Stage 2: to 41 °F or colder within 4 h after stage 1.",
    )


def test_re_heating_is_offered_only_where_the_kitchen_and_the_rule_allow_it() -> None:
    assert "Reheat all of it" in said(a_hazard_plan())
    assert "Reheat all of it" not in said(a_hazard_plan(reheats=0))
    assert "Reheat all of it" not in said(a_hazard_plan(rule=rule("FSIS_B_OPT1")))


def test_after_a_second_failure_there_is_only_discarding() -> None:
    _, cooling = a_hazard_plan().points
    again = [each.sentence for each in cooling.remedies if each.when == "When it is breached again after a re-heat"]
    assert again == ["It was reheated before and did not come through again: discard it."]


def test_every_line_names_its_control_its_source_and_how_it_is_known() -> None:
    for formula in (poultry(), fish()):
        plan = a_hazard_plan(formula=formula)
        codes = {each.code for each in (*plan.points, *plan.prerequisites)}
        for hazard in plan.hazards:
            assert hazard.control
            assert hazard.source
            assert hazard.mark in {"read", "read in part", "memory", "common practice", "own"}
            assert hazard.point in codes | {""}
            assert hazard.step in {step.code for step in plan.steps}


def test_critical_points_cover_monitoring_action_verification_and_record() -> None:
    plan = a_hazard_plan()
    assert [each.code for each in plan.points] == ["CCP 1", "CCP 2"]
    for point in (*plan.points, *plan.prerequisites):
        for text in (point.hazard, point.what, point.how, point.when, point.who, point.verification, point.record):
            assert text.strip()
        assert point.limits
        assert point.remedies


def test_a_fish_stock_tells_of_histamine_and_its_allergen_and_has_no_second_draw() -> None:
    plan = a_hazard_plan(formula=fish())
    assert "Histamine" in said(plan)
    assert "fish" in plan.allergens
    assert not {"second", "reduce", "cubes"} & {step.code for step in plan.steps}
    assert "Histamine" not in said(a_hazard_plan())


def test_settings_of_the_kitchen_stand_in_the_plan() -> None:
    plan = a_hazard_plan(store_chilled_c=Decimal(4), check_every_days=3, review_days=5, second_person=True)
    assert "4 °C (39.2 °F)" in said(plan)
    assert "Every 3 days" in said(plan)
    assert "5 working days" in said(plan)
    assert "second person" in said(plan)


def test_cautions_say_that_it_is_a_draft_and_who_decides() -> None:
    plan = a_hazard_plan()
    assert any("draft" in each and "authority" in each for each in plan.cautions)
    assert any("states no minutes" in each for each in a_hazard_plan(rule=rule("EU_852")).cautions)
    assert any("not for cooked broth" in each for each in a_hazard_plan(rule=rule("FDA_B")).cautions)
    assert any("HK_CFS are known from memory" in each for each in a_hazard_plan(rule=rule("HK_CFS")).cautions)
    assert not any("are known" in each for each in plan.cautions)


def test_a_plan_can_be_kept_in_the_book_and_read_back() -> None:
    plan = a_hazard_plan()
    told = hazard_plan_to_json(plan)
    assert hazard_plan_from_json(clean_content(told)) == plan
