"""Roles of a formula: what could fill them, and filling one."""

from __future__ import annotations

from dataclasses import replace

import pytest
from rest_framework.test import APIClient

from production.domain.parameters import DEFAULT_PARAMETERS
from production.models import PlanningWeek
from production.selectors.snapshots import week_export
from production.services.week_import import week_import
from tests.builders import a_week
from tests.conftest import Cast

ROLES = "/api/v1/kitchens/small/weeks/2027-02-01/formulas/poultry/roles"


@pytest.fixture
def week(cast: Cast) -> PlanningWeek:
    """The small week with a second ingredient that may fill the role of the feet."""
    content = a_week()
    feet = next(each for each in content.ingredients if each.code == "feet")
    shin = replace(feet, code="shin", name="Pork shin", material="collagen_meat", allergens=("celery",))
    return week_import(week=replace(content, ingredients=(*content.ingredients, shin)), by=cast.manager)


def test_every_ingredient_that_lists_the_role_is_offered_with_what_it_would_change(
    week: PlanningWeek, manager: APIClient
) -> None:
    told = manager.get(ROLES).json()
    assert (told["formula"], told["version"]) == ("poultry", 1)
    role = next(each for each in told["roles"] if each["role"] == "collagen_rich_meat")
    offered = {each["ingredient"]: each for each in role["stand_ins"]}
    assert {code: each["in_use"] for code, each in offered.items()} == {"feet": True, "shin": False}
    shin = DEFAULT_PARAMETERS.material("collagen_meat")
    assert (offered["shin"]["soluble_share"], offered["shin"]["t90_h"], offered["shin"]["cling_share"]) == (
        shin.soluble_share,
        shin.t90_h,
        shin.cling_share,
    )
    assert offered["shin"]["allergens"] == ["celery"]


def test_filling_a_role_answers_with_the_new_version(cast: Cast, week: PlanningWeek, manager: APIClient) -> None:
    answer = manager.post(ROLES, {"role": "collagen_rich_meat", "ingredient": "shin"}, format="json")
    assert answer.status_code == 200
    assert answer.json()["version"] == 2
    solids = week_export(by=cast.manager, week=week).get("formulas", "poultry").solids
    assert [(each.role, each.ingredient) for each in solids] == [("frames", "frames"), ("collagen_rich_meat", "shin")]
    again = manager.post(ROLES, {"role": "collagen_rich_meat", "ingredient": "shin"}, format="json")
    assert again.json()["version"] == 2


@pytest.mark.parametrize(
    ("body", "status", "code"),
    [
        ({"role": "collagen_rich_meat", "ingredient": "onion"}, 422, "role-not-filled"),
        ({"role": "bones", "ingredient": "shin"}, 422, "role-not-filled"),
        ({"role": "frames"}, 400, "bad-request"),
    ],
)
def test_what_cannot_fill_the_role_is_refused(
    week: PlanningWeek, manager: APIClient, body: dict[str, str], status: int, code: str
) -> None:
    answer = manager.post(ROLES, body, format="json")
    assert (answer.status_code, answer.json()["code"]) == (status, code)
    assert manager.get(ROLES).json()["version"] == 1


def test_a_formula_that_is_not_there_is_not_found(week: PlanningWeek, manager: APIClient) -> None:
    address = ROLES.replace("poultry", "nothing")
    assert manager.get(address).status_code == 404
    body = {"role": "frames", "ingredient": "frames"}
    assert manager.post(address, body, format="json").status_code == 404
