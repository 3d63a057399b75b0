"""The page of a run says the same as its papers."""

from __future__ import annotations

import html

import pytest

from production.domain.plan import plan_from_json
from production.domain.sheets import batch_sheets, cooling_logs
from production.models import Kitchen, Plan
from production.web.style import style_of
from tests.conftest import Cast
from tests.web.conftest import address, signed_in


def body_of(cast: Cast, plan: Plan, run: str) -> str:
    return html.unescape(signed_in(cast.cook).get(address(plan.week, "runs", run)).content.decode())


def test_the_page_holds_charge_stages_and_draws_of_the_batch_sheet(cast: Cast, plan: Plan) -> None:
    style = style_of(plan.kitchen, plan.week)
    for sheet in batch_sheets(plan_from_json(plan.result)):
        body = body_of(cast, plan, sheet.run)
        for line in sheet.charge:
            assert line.name in body
            assert str(style.amount(line.mass_kg, "kg")) in body
        for stage in sheet.stages:
            assert stage.title in body
            assert stage.do in body
            assert stage.caution in body
        for draw in sheet.draws:
            assert str(style.amount(draw.cold_l, "L")) in body
        assert all(caution in body for caution in sheet.cautions)
        assert all(allergen in body for allergen in sheet.allergens)
        assert "approved food-safety plan decide" in body


def test_every_cooling_limit_is_shown_with_what_is_left_of_it(cast: Cast, plan: Plan) -> None:
    content = plan_from_json(plan.result)
    for log in cooling_logs(content):
        page = signed_in(cast.cook).get(address(plan.week, "runs", log.run)).context["run"]
        draw = next(each for each in page.draws if each.name == log.draw)
        cooling = next(each for each in draw.coolings if each.device == log.device)
        assert len(cooling.limits) == len(log.limits)
        for shown, limit in zip(cooling.limits, log.limits, strict=True):
            assert (shown.margin.meaning == "past") == (limit.margin_min < 0)
            assert f"{limit.to_temp} °{limit.temp_unit}" in shown.words


def test_every_figure_of_the_run_is_a_link(cast: Cast, plan: Plan) -> None:
    run = max(plan_from_json(plan.result).runs, key=lambda run: len(run.figures))
    body = body_of(cast, plan, run.code)
    for figure in run.figures:
        assert f'href="{address(plan.week, "runs", run.code, "workings", figure.key)}"' in body


def test_every_weighing_and_the_water_open_their_workings(cast: Cast, plan: Plan) -> None:
    content = plan_from_json(plan.result)
    for run in content.runs:
        page = signed_in(cast.cook).get(address(plan.week, "runs", run.code)).context["run"]
        figures = {
            content.week.get("ingredients", item.ingredient).name: run.figure(item.figure) for item in run.charge.items
        }
        figures |= {row.name: run.figure("water_kg") for row in page.charge if row.volume}
        assert len(page.charge) == len(run.charge.items) + 1
        for row in page.charge:
            figure = figures[row.name]
            assert row.mass.href == address(plan.week, "runs", run.code, "workings", figure.key)
            assert row.mass.amount == style_of(plan.kitchen, plan.week).amount(figure.value, "kg")
        (volume,) = [row.volume for row in page.charge if row.volume]
        assert volume.href == address(plan.week, "runs", run.code, "workings", "water_l")


@pytest.mark.parametrize(
    ("sentence", "shown"),
    [
        ("With more hands on duty it could end 5 min earlier in P50.", "earlier in Pot of 50 litres."),
        ("P50 starts as soon as this plan may begin.", "Pot of 50 litres starts as soon"),
        ("Several limits together hold it; without them it could end 5 min earlier.", "5 min earlier."),
    ],
)
def test_why_a_run_stands_here_is_told_with_the_pots_name(cast: Cast, plan: Plan, sentence: str, shown: str) -> None:
    first = plan.result["runs"][0]
    pot = next(each for each in plan.result["week"]["pots"] if each["code"] == first["pot"])
    pot["name"] = "Pot of 50 litres"
    first["placed"]["why_here"] = sentence.replace("P50", first["pot"])
    plan.save()
    body = body_of(cast, plan, first["code"])
    assert shown in body
    assert f"in {first['pot']}." not in body


def test_the_run_names_the_orders_that_wait_for_it(cast: Cast, plan: Plan) -> None:
    content = plan_from_json(plan.result)
    for run in content.runs:
        shown = " ".join(signed_in(cast.cook).get(address(plan.week, "runs", run.code)).context["run"].serves)
        for portion in (*run.batch.first, *run.batch.reduction):
            for peg in portion.pegs:
                if not peg.line.startswith("par:"):
                    line = content.week.get("order_lines", peg.line)
                    assert content.week.get("outlets", line.outlet).name in shown


@pytest.mark.parametrize(("units", "unit"), [("metric", "kg"), ("us", "lb")])
def test_amounts_follow_the_kitchens_units(cast: Cast, plan: Plan, units: str, unit: str) -> None:
    Kitchen.objects.filter(pk=cast.kitchen.pk).update(units=units)
    body = body_of(cast, plan, plan.result["runs"][0]["code"])
    assert f'<span class="unit">{unit}</span>' in body


def test_ice_strength_and_cooling_times_open_their_workings(cast: Cast, plan: Plan) -> None:
    content = plan_from_json(plan.result)
    client = signed_in(cast.cook)
    for run in content.runs:
        page = client.get(address(plan.week, "runs", run.code)).context["run"]
        assert page.draws[0].solids.href == address(plan.week, "runs", run.code, "workings", "first_solids_percent")
        for shown, planned in zip(page.draws, run.draws, strict=True):
            for cooling, part in zip(shown.coolings, planned.cooling.parts, strict=True):
                about = f"{planned.name}.{part.device}"
                opened = [each.href for each in cooling.durations]
                assert len(opened) == 1
                assert address(plan.week, "runs", run.code, "workings", about)[:-1] in opened[0]
                assert client.get(opened[0]).status_code == 200
                if part.ice_kg:
                    assert cooling.ice.href == address(plan.week, "runs", run.code, "workings", f"{about}.ice_kg")
                    assert client.get(cooling.ice.href).context["figure"].value == part.ice_kg


def test_a_run_lasts_as_long_on_its_page_as_on_the_plans(cast: Cast, plan: Plan) -> None:
    client = signed_in(cast.cook)
    for row in client.get(address(plan.week, "plan")).context["runs"]:
        assert client.get(row.href).context["run"].lasts == row.lasts
