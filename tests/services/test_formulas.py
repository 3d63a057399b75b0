"""Another ingredient in a role of a formula is a new version; yields and times follow."""

from __future__ import annotations

from dataclasses import replace

import pytest

from production.domain.errors import DoesNotFit, NotAllowed
from production.models import Formula, PlanningWeek
from production.selectors.snapshots import week_export
from production.services.formulas import formula_role_fill
from production.services.week_import import week_import
from tests.builders import a_week
from tests.conftest import Cast

pytestmark = pytest.mark.django_db


def a_week_with_a_stand_in(cast: Cast) -> PlanningWeek:
    """The small week with a second ingredient that may fill the role of the feet."""
    week = a_week()
    feet = next(each for each in week.ingredients if each.code == "feet")
    shin = replace(feet, code="shin", name="Pork shin", material="collagen_meat")
    return week_import(week=replace(week, ingredients=(*week.ingredients, shin)), by=cast.manager)


def fill(cast: Cast, week: PlanningWeek, **changes: str) -> int:
    choice = {"formula_code": "poultry", "role": "collagen_rich_meat", "ingredient_code": "shin"} | changes
    return formula_role_fill(by=cast.manager, week=week, **choice)


def test_a_stand_in_makes_a_new_version_and_the_old_one_stays_known(cast: Cast) -> None:
    week = a_week_with_a_stand_in(cast)
    assert fill(cast, week) == 2
    formula = week_export(by=cast.manager, week=week).get("formulas", "poultry")
    assert [(solid.role, solid.ingredient) for solid in formula.solids] == [
        ("frames", "frames"),
        ("collagen_rich_meat", "shin"),
    ]
    assert set(Formula.objects.filter(code="poultry").values_list("version", "retired")) == {(1, True), (2, False)}


def test_the_same_choice_twice_makes_one_version(cast: Cast) -> None:
    week = a_week_with_a_stand_in(cast)
    assert [fill(cast, week), fill(cast, week)] == [2, 2]


def test_going_back_takes_a_number_that_was_never_used(cast: Cast) -> None:
    week = a_week_with_a_stand_in(cast)
    fill(cast, week)
    assert fill(cast, week, ingredient_code="feet") == 3


def test_an_ingredient_that_does_not_list_the_role_is_refused_and_nothing_changes(cast: Cast) -> None:
    week = a_week_with_a_stand_in(cast)
    with pytest.raises(DoesNotFit, match="cannot stand in for collagen rich meat"):
        fill(cast, week, ingredient_code="onion")
    assert Formula.objects.filter(code="poultry").count() == 1


@pytest.mark.parametrize("changes", [{"formula_code": "beef"}, {"role": "bones"}, {"ingredient_code": "nothing"}])
def test_a_role_or_ingredient_that_is_not_there_is_refused(cast: Cast, changes: dict[str, str]) -> None:
    with pytest.raises(DoesNotFit, match="no such role"):
        fill(cast, a_week_with_a_stand_in(cast), **changes)


def test_only_a_manager_fills_roles(cast: Cast) -> None:
    week = a_week_with_a_stand_in(cast)
    for member in (cast.cook, cast.inspector):
        with pytest.raises(NotAllowed):
            formula_role_fill(
                by=member, week=week, formula_code="poultry", role="collagen_rich_meat", ingredient_code="shin"
            )
