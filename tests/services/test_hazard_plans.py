"""Hazard plans: issued as versions in the book, signed by the manager, out of date when anything changes."""

from __future__ import annotations

from datetime import timedelta
from hashlib import sha256

import pytest
from django.db import connection
from django.http import Http404
from django.test.utils import CaptureQueriesContext

from production.domain.errors import Conflict, NotAllowed
from production.domain.ledger import canonical_bytes
from production.models import Entry, Formula, Kitchen, PlanningWeek, SafetyPlan
from production.selectors.hazard_plans import formula_plan, formula_plans, hazard_paper
from production.services.hazard_plans import hazard_plan_issue, hazard_plan_sign
from tests.builders import at
from tests.conftest import Cast

NOW = at("2027-02-01 10:00")
PASSWORD = "steam and ladles"


@pytest.fixture(autouse=True)
def week(planning_week: PlanningWeek) -> PlanningWeek:
    return planning_week


def issue(cast: Cast, *, seen: int = 0, key: str = "issue") -> int:
    return hazard_plan_issue(by=cast.manager, formula="poultry", seen=seen, key=key, now=NOW).version


def sign(cast: Cast, version: int, *, key: str = "sign", password: str = PASSWORD) -> str:
    paper = hazard_plan_sign(
        by=cast.manager, formula="poultry", version=version, password=password, key=key, now=NOW + timedelta(hours=1)
    )
    return paper.signed_by


def test_every_formula_in_use_has_a_plan_under_the_kitchen_s_rule(cast: Cast) -> None:
    found = formula_plans(by=cast.cook)
    assert {each.now.formula_code for each in found} == {"poultry", "fish"}
    assert {each.now.rule for each in found} == {"FDA_A_C"}
    assert not any(each.papers for each in found)


def test_a_version_is_issued_signed_and_kept_in_the_book(cast: Cast) -> None:
    assert issue(cast) == 1
    assert sign(cast, 1) == "manager"
    plan = formula_plan(by=cast.inspector, formula="poultry")
    assert plan.in_force is not None
    assert (plan.in_force.version, plan.is_out_of_date) == (1, False)
    issued, signed = Entry.objects.filter(subject="hazard-plan/poultry").order_by("number")
    assert (issued.kind, signed.kind) == ("plan_issued", "plan_signed")
    digest = sha256(canonical_bytes(issued.content["plan"])).hexdigest()
    assert issued.content["sha256"] == signed.content["sha256"] == digest
    assert signed.content["entry"] == issued.number
    assert "put it in force" in signed.content["says"]


def test_the_same_request_sent_twice_issues_and_signs_once(cast: Cast) -> None:
    assert [issue(cast), issue(cast)] == [1, 1]
    assert [sign(cast, 1), sign(cast, 1)] == ["manager", "manager"]
    assert Entry.objects.count() == 2


def test_a_change_of_rule_or_setting_puts_a_plan_out_of_date_and_the_old_one_stays(cast: Cast) -> None:
    issue(cast)
    sign(cast, 1)
    Kitchen.objects.filter(pk=cast.kitchen.pk).update(cooling_rule="AU_322")
    SafetyPlan.objects.create(kitchen=cast.kitchen, reheats_allowed=0)
    cast.manager.kitchen.refresh_from_db()
    plan = formula_plan(by=cast.manager, formula="poultry")
    assert plan.is_out_of_date
    assert issue(cast, seen=1, key="again") == 2
    assert hazard_paper(by=cast.cook, formula="poultry", version=1).plan.rule == "FDA_A_C"
    assert hazard_paper(by=cast.cook, formula="poultry", version=2).plan.rule == "AU_322"
    in_force = formula_plan(by=cast.manager, formula="poultry").in_force
    assert in_force is not None
    assert in_force.version == 1  # until somebody signs the new one


def test_nobody_signs_a_version_that_says_something_else_than_the_kitchen_does_now(cast: Cast) -> None:
    issue(cast)
    Formula.objects.filter(kitchen=cast.kitchen, code="poultry").update(name="Golden broth")
    with pytest.raises(Conflict, match="not the plan as it would be now"):
        sign(cast, 1)


def test_of_two_who_issue_the_second_is_told(cast: Cast) -> None:
    issue(cast)
    with pytest.raises(Conflict, match="issued meanwhile"):
        issue(cast, seen=0, key="other")
    with pytest.raises(Conflict, match="says the same"):
        issue(cast, seen=1, key="third")
    sign(cast, 1)
    with pytest.raises(Conflict, match="signed already"):
        sign(cast, 1, key="other")


def test_only_the_manager_issues_and_signs_and_only_with_the_password(cast: Cast) -> None:
    for by in (cast.cook, cast.inspector, cast.administrator):
        with pytest.raises(NotAllowed):
            hazard_plan_issue(by=by, formula="poultry", seen=0, key="no", now=NOW)
    issue(cast)
    with pytest.raises(NotAllowed):
        sign(cast, 1, password="a guess")
    assert hazard_paper(by=cast.cook, formula="poultry", version=1).signed_by == ""
    with pytest.raises(Http404):
        hazard_paper(by=cast.outsider, formula="poultry", version=1)


def test_the_list_takes_as_many_queries_for_many_formulas_as_for_few(cast: Cast) -> None:
    with CaptureQueriesContext(connection) as few:
        formula_plans(by=cast.cook)
    for n in range(5):
        row = Formula.objects.get(kitchen=cast.kitchen, code="fish")
        row.pk, row.code, row.name = None, f"fish-{n}", f"Fish {n}"
        row.save()
    with CaptureQueriesContext(connection) as many:
        assert len(formula_plans(by=cast.cook)) == 7
    assert len(many) == len(few)
