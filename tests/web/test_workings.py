"""Workings: the registry, trying a computation, and how a number of a run came about."""

from __future__ import annotations

import pytest

from production.domain.plan import plan_from_json
from production.domain.workings import REGISTRY
from production.models import Plan, PlanningWeek
from production.web.present.figures import FIGURE_WORDS
from tests.conftest import Cast
from tests.web.conftest import address, signed_in


def test_the_list_holds_every_computation_with_its_arguments(cast: Cast) -> None:
    body = signed_in(cast.cook).get("/k/small/workings/").content.decode()
    for name, working in REGISTRY.items():
        assert f'href="/k/small/workings/{name}/"' in body
        assert all(argument.name in body for argument in working.arguments)


def test_finding_narrows_the_list(cast: Cast) -> None:
    page = signed_in(cast.cook).get("/k/small/workings/", {"find": "Boiling_Point"})
    assert {each.name for group in page.context["groups"] for each in group.workings} == {"boiling_point_c"}
    assert "Nothing found" in signed_in(cast.cook).get("/k/small/workings/", {"find": "zzz"}).content.decode()


def test_a_computation_takes_units_and_keeps_what_was_typed(cast: Cast) -> None:
    page = signed_in(cast.cook).get("/k/small/workings/boiling_point_c/", {"altitude_m": "5200 ft"})
    body = page.content.decode()
    assert page.context["result"].value == REGISTRY["boiling_point_c"].function(altitude_m=5200 * 0.3048)
    assert 'value="5200 ft"' in body
    assert REGISTRY["boiling_point_c"].equation in body


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("90000", "lies outside"),
        ("60 qt", "does not measure the same thing"),
        ("1,5", "a comma may mean"),
        ("", "This field is required"),
        ("<b>", "no number was found"),
    ],
)
def test_what_cannot_be_computed_is_told_at_the_field(cast: Cast, typed: str, said: str) -> None:
    page = signed_in(cast.cook).get("/k/small/workings/boiling_point_c/", {"altitude_m": typed})
    body = page.content.decode()
    assert page.status_code == 422
    assert said in " ".join(page.context["form"].errors["altitude_m"])
    assert page.context["result"] is None
    assert "<b>" not in body


def test_a_computation_that_does_not_exist_is_not_found(cast: Cast) -> None:
    assert signed_in(cast.cook).get("/k/small/workings/philosophers_stone_kg/").status_code == 404


def test_every_number_of_every_run_opens_and_comes_out_the_same(cast: Cast, plan: Plan) -> None:
    client = signed_in(cast.cook)
    content = plan_from_json(plan.result)
    largest = max(content.runs, key=lambda run: len(run.figures))
    for figure in largest.figures:
        page = client.get(address(plan.week, "runs", largest.code, "workings", figure.key))
        assert page.status_code == 200, figure.key
        assert page.context["equal"], figure.key
        assert len(page.context["inputs"]) == len(figure.inputs)
        assert {row.code for row in page.context["parameters"]} == set(figure.parameters)


def test_every_figure_has_words_of_its_own(plan: Plan) -> None:
    keys = {figure.key for run in plan_from_json(plan.result).runs for figure in run.figures}
    assert [key for key in sorted(keys) if not set(key.split(".")) & set(FIGURE_WORDS)] == []


def test_a_coefficient_of_the_kitchens_own_is_shown_with_its_own_source(cast: Cast, plan: Plan) -> None:
    run = plan_from_json(plan.result).runs[0]
    figure = next(each for each in run.figures if "evaporation.simmer_flux_scale" in each.parameters)
    body = signed_in(cast.inspector).get(address(plan.week, "runs", run.code, "workings", figure.key)).content.decode()
    assert "six weighed runs" in body


def test_a_number_that_no_longer_comes_out_the_same_is_told(cast: Cast, plan: Plan) -> None:
    figure = plan.result["runs"][0]["figures"][0]
    figure["value"] += 1.0
    plan.save()
    run = plan.result["runs"][0]["code"]
    body = signed_in(cast.inspector).get(address(plan.week, "runs", run, "workings", figure["key"])).content.decode()
    assert "not the same" in body


def test_numbers_and_runs_that_do_not_exist_are_not_found(cast: Cast, plan: Plan, planning_week: PlanningWeek) -> None:
    client = signed_in(cast.inspector)
    run = plan.result["runs"][0]["code"]
    assert client.get(address(planning_week, "runs", "R99")).status_code == 404
    assert client.get(address(planning_week, "runs", run, "workings", "no_such_kg")).status_code == 404
    assert client.get(address(planning_week, "runs", "R99", "workings", "boil_c")).status_code == 404


def test_a_week_without_a_plan_has_no_runs(cast: Cast, planning_week: PlanningWeek) -> None:
    assert signed_in(cast.cook).get(address(planning_week, "runs", "R01")).status_code == 404
