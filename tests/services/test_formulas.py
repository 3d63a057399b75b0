"""Another ingredient in a role of a formula is a new version; yields and times follow."""

from __future__ import annotations

from dataclasses import replace

import pytest

from production.domain.errors import DoesNotFit, NotAllowed
from production.models import Formula, Ingredient, PlanningWeek, Pot, PotFormula, Product, Store
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


def test_pots_and_products_follow_to_the_new_version(cast: Cast) -> None:
    week = a_week_with_a_stand_in(cast)
    pot = Pot.objects.get(kitchen=cast.kitchen, code="tall")
    PotFormula.objects.all().delete()
    PotFormula.objects.create(pot=pot, formula=Formula.objects.get(code="poultry"))
    before = week_export(by=cast.manager, week=week)
    fill(cast, week)
    after = week_export(by=cast.manager, week=week)
    assert after.get("pots", "tall").formulas == ("poultry",)
    assert (after.pots, after.products, after.get("formulas", "poultry").additions) == (
        before.pots,
        before.products,
        before.get("formulas", "poultry").additions,
    )
    new = Formula.objects.get(code="poultry", version=2)
    assert set(Product.objects.filter(formula__code="poultry").values_list("formula", flat=True)) == {new.pk}


def test_filling_a_role_brings_back_nothing_that_is_retired(cast: Cast) -> None:
    week = a_week_with_a_stand_in(cast)
    Store.objects.filter(kitchen=cast.kitchen).update(retired=True)
    Product.objects.filter(kitchen=cast.kitchen).update(retired=True)
    stores, products = (set(model.objects.values_list("pk", "retired", "name")) for model in (Store, Product))
    assert fill(cast, week) == 2
    assert set(Store.objects.values_list("pk", "retired", "name")) == stores
    assert set(Product.objects.values_list("pk", "retired", "name")) == products


def test_what_is_retired_itself_fills_no_role_and_is_not_filled(cast: Cast) -> None:
    week = a_week_with_a_stand_in(cast)
    Ingredient.objects.filter(kitchen=cast.kitchen, code="shin").update(retired=True)
    with pytest.raises(DoesNotFit, match="no such role"):
        fill(cast, week)
    Ingredient.objects.filter(kitchen=cast.kitchen, code="shin").update(retired=False)
    Formula.objects.filter(kitchen=cast.kitchen, code="poultry").update(retired=True)
    with pytest.raises(DoesNotFit, match="no such role"):
        fill(cast, week)


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
