"""Letting another ingredient fill a role of a formula."""

from __future__ import annotations

import html
from dataclasses import replace

import pytest

from production.domain.errors import Conflict
from production.models import Formula, PlanningWeek
from production.services.plans import plan_make, plan_store
from production.services.week_import import week_import
from production.web.views import formulas
from tests.builders import a_week
from tests.conftest import Cast
from tests.web.conftest import address, signed_in


@pytest.fixture
def week(cast: Cast) -> PlanningWeek:
    """The small week with a second ingredient that may fill the role of the feet."""
    content = a_week()
    feet = next(each for each in content.ingredients if each.code == "feet")
    shin = replace(feet, code="shin", name="Pork shin", material="collagen_meat", allergens=("celery",))
    return week_import(week=replace(content, ingredients=(*content.ingredients, shin)), by=cast.manager)


def page_of(cast: Cast, week: PlanningWeek) -> str:
    answer = signed_in(cast.manager).get(address(week, "formulas", "poultry", "roles"))
    return html.unescape(answer.content.decode())


def test_both_ingredients_stand_side_by_side_with_what_they_give(cast: Cast, week: PlanningWeek) -> None:
    answer = signed_in(cast.manager).get(address(week, "formulas", "poultry", "roles"))
    table = next(each for each in answer.context["tables"] if each.label == "Collagen rich meat")
    feet, shin = table.rows
    assert (feet.in_use, shin.in_use, shin.name, shin.allergens) == (True, False, "Pork shin", "celery")
    assert feet.soluble != shin.soluble
    body = html.unescape(answer.content.decode())
    for row in table.rows:
        assert str(row.soluble) in body
        assert str(row.t90) in body
        assert str(row.cling) in body
    assert f"now {feet.name}." in body


def test_a_choice_makes_a_new_version_and_says_to_plan_again(cast: Cast, week: PlanningWeek) -> None:
    client = signed_in(cast.manager)
    made = plan_make(kitchen=cast.kitchen, week_id=week.pk)
    plan_store(made=made, kitchen=cast.kitchen, week_id=week.pk, user_id=None)
    answer = client.post(
        address(week, "formulas", "poultry", "roles"), {"choice": "collagen_rich_meat/shin"}, follow=True
    )
    assert answer.redirect_chain[-1][0] == address(week, "plan")
    body = html.unescape(answer.content.decode())
    assert "is version 2 now, with Pork shin as collagen rich meat." in body
    assert "plan the week again" in body
    assert answer.context["stale"]
    assert "in use now" in page_of(cast, week)


def test_the_same_choice_again_changes_nothing_and_says_so(cast: Cast, week: PlanningWeek) -> None:
    answer = signed_in(cast.manager).post(
        address(week, "formulas", "poultry", "roles"), {"choice": "collagen_rich_meat/feet"}, follow=True
    )
    assert "nothing was changed" in answer.content.decode()
    assert Formula.objects.filter(code="poultry").count() == 1


@pytest.mark.parametrize(
    ("choice", "words"),
    [("", "Choose an ingredient first."), ("collagen_rich_meat/onion", "cannot be chosen here"), ("x", "chosen here")],
)
def test_what_is_not_offered_is_refused(cast: Cast, week: PlanningWeek, choice: str, words: str) -> None:
    answer = signed_in(cast.manager).post(address(week, "formulas", "poultry", "roles"), {"choice": choice})
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert Formula.objects.filter(code="poultry").count() == 1


def test_a_refusal_keeps_the_choice(cast: Cast, week: PlanningWeek, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(**_: object) -> int:
        raise Conflict("Somebody changed the formula.", code="taken", remedy="Look again.")

    monkeypatch.setattr(formulas, "formula_role_fill", refuse)
    answer = signed_in(cast.manager).post(
        address(week, "formulas", "poultry", "roles"), {"choice": "collagen_rich_meat/shin"}
    )
    body = answer.content.decode()
    assert answer.status_code == 422
    assert "Somebody changed the formula. Look again." in body
    assert 'value="collagen_rich_meat/shin" checked' in body


def test_a_run_offers_the_way_to_its_roles_to_the_manager_alone(cast: Cast, week: PlanningWeek) -> None:
    made = plan_make(kitchen=cast.kitchen, week_id=week.pk)
    plan_store(made=made, kitchen=cast.kitchen, week_id=week.pk, user_id=None)
    run = made.content.runs[0]
    shown = {
        by.role: address(week, "formulas", run.formula, "roles")
        in signed_in(by).get(address(week, "runs", run.code)).content.decode()
        for by in cast.members()
    }
    assert shown == {"manager": True, "cook": False, "inspector": False, "administrator": False}


def test_a_formula_that_is_not_there_is_not_found(cast: Cast, week: PlanningWeek) -> None:
    assert signed_in(cast.manager).get(address(week, "formulas", "nothing", "roles")).status_code == 404
