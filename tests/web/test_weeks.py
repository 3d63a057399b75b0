"""The week: its page, its file in and out."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile

from production.domain.demand import net_demand
from production.domain.plan import LateLine, Unserved, make_plan, plan_from_json
from production.domain.plan import Plan as PlanContent
from production.domain.week_file import LARGEST_BYTES, dumps_week, parse_week
from production.models import Kitchen, OrderLine, Plan, PlanningWeek
from production.services.plans import plan_make, plan_store
from production.services.week_import import week_import
from production.web.present.week import decisions, product_rows, week_drawing
from production.web.style import style_of
from tests.builders import a_line, a_week, at
from tests.conftest import NOW, Cast
from tests.web.conftest import address, signed_in


def bring_in(cast: Cast, content: bytes, *, name: str = "week.json") -> Any:
    upload = SimpleUploadedFile(name, content, content_type="application/json")
    return signed_in(cast.manager).post(f"/k/{cast.kitchen.code}/weeks/", {"file": upload})


def test_a_week_without_a_plan_says_what_to_do_first(cast: Cast, planning_week: PlanningWeek) -> None:
    body = signed_in(cast.manager).get(address(planning_week)).content.decode()
    assert "This week has no plan" in body
    assert "Plan this week" in body
    assert "no plan" in body


def test_the_page_counts_orders_stock_and_plan_for_each_product(cast: Cast, plan: Plan) -> None:
    page = signed_in(cast.manager).get(address(plan.week))
    rows = {row.name: row for row in page.context["products"]}
    week = a_week()
    for product in week.products:
        ordered = sum(line.containers for line in week.order_lines if line.product == product.code)
        if not ordered:
            continue
        row = rows[product.name]
        assert row.ordered == ordered
        assert row.from_stock + row.to_make == ordered + (row.par if row.to_make > ordered - row.from_stock else 0)
        assert row.planned == sum(
            portion.containers
            for run in page.context["plan"].runs
            for portion in (*run.batch.first, *run.batch.reduction)
            if portion.product == product.code
        )


def test_the_strip_holds_what_leaves_and_what_gets_ready(plan: Plan) -> None:
    content = plan_from_json(plan.result)
    week = content.week
    drawing = week_drawing(week=week, plan=content, style=style_of(plan.kitchen, plan.week))
    litres = {product.code: product.net_l for product in week.products}
    assert sum(day.ordered for day in drawing.days) == pytest.approx(
        sum(line.containers * litres[line.product] for line in week.order_lines)
    )
    assert drawing.days[-1].stock_end == pytest.approx(
        sum(lot.containers * litres[lot.product] for lot in week.lots)
        + sum(run.batch.first_l + run.batch.reduction_l for run in content.runs)
        - sum(line.containers * litres[line.product] for line in week.order_lines)
    )


def test_a_changed_order_makes_the_plan_old(cast: Cast, plan: Plan) -> None:
    client = signed_in(cast.manager)
    assert "older than the orders" not in client.get(address(plan.week)).content.decode()
    OrderLine.objects.filter(week=plan.week, code="L1").update(containers=7)
    assert "older than the orders" in client.get(address(plan.week)).content.decode()
    assert "older than the orders" in client.get(address(plan.week, "plan")).content.decode()


def test_a_purchase_that_has_to_be_ordered_today_is_a_decision(cast: Cast, plan: Plan) -> None:
    content = plan_from_json(plan.result)
    first = min(content.purchases.orders, key=lambda order: order.order_by)

    def heads(now: datetime, *, sees_purchasing: bool = True) -> list[str]:
        style = replace(style_of(plan.kitchen, plan.week), now=now)
        found = decisions(plan=content, stale=False, style=style, sees_purchasing=sees_purchasing)
        return [each.head for each in found if "Market hall" in each.head]

    assert heads(datetime(2027, 1, 1, tzinfo=UTC)) == []
    assert "Order today: Market hall" in heads(first.order_by)
    assert "Order time has passed: Market hall" in heads(first.delivery_at)
    assert heads(first.order_by, sees_purchasing=False) == []


def test_late_lines_and_unserved_lines_wait_for_a_decision(cast: Cast, planning_week: PlanningWeek) -> None:
    too_soon = a_line(code="L9", product="fish-2", containers=30, dispatch_at=at("2027-02-01 06:00"))
    week = a_week(order_lines=(*a_week().order_lines, too_soon))
    plan = make_plan(week=week)
    assert plan.late or plan.unserved
    style = style_of(cast.kitchen, planning_week)
    found = decisions(plan=plan, stale=False, style=style, sees_purchasing=False)
    assert any("Fish stock" in each.head and each.text for each in found)
    assert all(row.short == 0 or row.unserved for row in product_rows(week=week, plan=plan) if not row.par)


def test_a_week_file_goes_out_and_comes_in_again(cast: Cast, planning_week: PlanningWeek) -> None:
    out = signed_in(cast.manager).get(address(planning_week, "week-file"))
    assert out.headers["Content-Disposition"] == 'attachment; filename="small-week-2027-02-01.json"'
    assert parse_week(out.content) == a_week()
    back = bring_in(cast, out.content)
    assert (back.status_code, back.headers["Location"]) == (302, address(planning_week))
    assert PlanningWeek.objects.filter(kitchen=cast.kitchen).count() == 1


def test_the_same_file_sent_twice_is_harmless(cast: Cast) -> None:
    content = dumps_week(a_week()).encode()
    assert [bring_in(cast, content).status_code for _ in range(2)] == [302, 302]
    assert OrderLine.objects.filter(week__kitchen=cast.kitchen).count() == len(a_week().order_lines)


def test_a_bad_file_shows_every_problem_and_saves_nothing(cast: Cast) -> None:
    content = json.loads(dumps_week(a_week()))
    content["orders"]["lines"][0]["containers"] = -4
    content["orders"]["lines"][1]["product"] = "moon-broth"
    response = bring_in(cast, json.dumps(content).encode(), name="<b>tuesday.json")
    body = response.content.decode()
    assert response.status_code == 422
    assert "/orders/lines/0/containers" in body
    assert "/orders/lines/1/product" in body
    assert "moon-broth" in body
    assert "Nothing was saved from &lt;b&gt;tuesday.json" in body
    assert not PlanningWeek.objects.exists()


@pytest.mark.parametrize(
    "content", [b"", b"not json at all", b"\xff\xfe\x00", b"[]", b'{"format": "potwright-week", "version": 99}']
)
def test_nonsense_is_refused_with_a_sentence(cast: Cast, content: bytes) -> None:
    response = bring_in(cast, content)
    assert response.status_code == 422
    assert "Nothing was saved" in response.content.decode()
    assert not PlanningWeek.objects.exists()


def test_a_file_that_is_far_too_large_is_refused(cast: Cast) -> None:
    response = bring_in(cast, b" " * (LARGEST_BYTES + 10))
    assert response.status_code == 422
    assert "Nothing was saved" in response.content.decode()
    assert not PlanningWeek.objects.exists()


def test_no_file_at_all_is_refused_at_the_field(cast: Cast) -> None:
    response = signed_in(cast.manager).post(f"/k/{cast.kitchen.code}/weeks/")
    assert response.status_code == 422
    assert "Choose a file first." in response.content.decode()


def test_a_file_of_another_kitchen_is_refused(cast: Cast) -> None:
    week = a_week()
    other = replace(week, kitchen=replace(week.kitchen, code="elsewhere"))
    response = bring_in(cast, dumps_week(other).encode())
    assert response.status_code == 422
    assert "This file is of the kitchen elsewhere" in response.content.decode()


def test_nobody_but_a_manager_brings_in_a_week(cast: Cast) -> None:
    upload = SimpleUploadedFile("week.json", dumps_week(a_week()).encode())
    for by in (cast.cook, cast.inspector, cast.administrator):
        assert signed_in(by).post(f"/k/{cast.kitchen.code}/weeks/", {"file": upload}).status_code == 403
    assert not PlanningWeek.objects.exists()


def test_a_week_that_is_over_asks_for_no_purchases(cast: Cast, plan: Plan) -> None:
    with time_machine.travel(datetime(2027, 3, 1, tzinfo=UTC)):
        body = signed_in(cast.manager).get(address(plan.week)).content.decode()
    assert "Order time has passed" not in body


def with_an_old_lot(plan: Plan) -> PlanContent:
    """The plan's week with three containers that no order takes before their use-by on Wednesday."""
    content = plan_from_json(plan.result)
    product = next(each for each in content.week.products if each.code == content.week.lots[0].product)
    old = replace(
        content.week.lots[0],
        code="S-old",
        containers=3,
        use_by=content.week.starts_on + timedelta(days=2 + product.life_at_dispatch_days - 1),
    )
    week = replace(content.week, order_lines=(), lots=(old,))
    demand = net_demand(week=week)
    assert demand.too_old == ("S-old",)
    return replace(
        content, week=week, demand=demand, runs=(), cautions=("Lot S-old (3) is old.", "The walk-in is warm.")
    )


def test_what_is_too_old_waits_to_be_discarded_and_other_cautions_stand_beside_it(plan: Plan) -> None:
    content = with_an_old_lot(plan)
    lot = content.week.lots[0]
    style = replace(style_of(plan.kitchen, plan.week), now=NOW)
    found = decisions(plan=content, stale=False, style=style, sees_purchasing=False)
    (old,) = [each for each in found if each.head.startswith("Discard: 3 × ")]
    assert "S-old" in old.text
    assert f"after {style.day(lot.use_by)}" in old.todo
    assert [each.text for each in found if each is not old] == ["The walk-in is warm."]
    after = replace(style, now=datetime(2027, 3, 1, tzinfo=UTC))
    (old,) = [d for d in decisions(plan=content, stale=False, style=after, sees_purchasing=False) if "S-old" in d.text]
    assert "Discard it now" in old.todo


def test_a_lot_leaves_the_stock_on_the_last_day_on_which_an_order_might_take_it(plan: Plan) -> None:
    content = with_an_old_lot(plan)
    days = week_drawing(week=content.week, plan=content, style=style_of(plan.kitchen, plan.week)).days
    litres = 3 * content.week.get("products", content.week.lots[0].product).net_l
    assert [day.stock_end for day in days[:3]] == pytest.approx([litres, litres, 0.0])


@pytest.mark.parametrize(("units", "caption"), [("metric", "Litres by day"), ("us", "Quarts by day")])
def test_the_caption_of_the_strip_names_the_kitchens_unit(cast: Cast, plan: Plan, units: str, caption: str) -> None:
    Kitchen.objects.filter(pk=cast.kitchen.pk).update(units=units)
    assert caption in signed_in(cast.manager).get(address(plan.week)).content.decode()


def test_many_lines_with_one_trouble_are_one_decision(cast: Cast, plan: Plan) -> None:
    content = plan_from_json(plan.result)
    lines = content.week.order_lines
    unserved = tuple(
        Unserved(
            line=line.code,
            product=line.product,
            containers=1,
            resource="pots",
            missing=1.0,
            unit="pots",
            sentence="1 pot more would be enough.",
            remedy="Free a pot.",
        )
        for line in lines
    )
    late = tuple(
        LateLine(
            line=line.code,
            run="R01",
            due_at=line.dispatch_at,
            ready_at=line.dispatch_at + timedelta(hours=3),
            resource="hours",
            sentence="Ready 3 h after its dispatch.",
        )
        for line in lines
    )

    def heads(**changes: Any) -> list[str]:
        troubled = replace(content, **changes)
        style = style_of(plan.kitchen, plan.week)
        return [each.head for each in decisions(plan=troubled, stale=False, style=style, sees_purchasing=False)]

    assert len(lines) > 3
    assert [head for head in heads(unserved=unserved) if "Not served" in head] == [
        f"Not served: {len(lines)} order lines, for one reason"
    ]
    assert [head for head in heads(late=late) if "Late" in head] == [f"Late: {len(lines)} order lines"]
    assert len([head for head in heads(late=late[:3]) if "Late" in head]) == 3


def test_a_week_without_orders_says_what_to_do_first(cast: Cast) -> None:
    row = week_import(week=a_week(order_lines=(), par_levels=()), by=cast.manager)
    body = signed_in(cast.manager).get(address(row)).content.decode()
    assert "Nothing is ordered in this week" in body
    assert "The orders are here" not in body
    made = plan_make(kitchen=cast.kitchen, week_id=row.pk)
    plan_store(made=made, kitchen=cast.kitchen, week_id=row.pk, user_id=cast.manager.user_id)
    planned = signed_in(cast.manager).get(address(row, "plan")).content.decode()
    assert f'href="{address(row, "orders")}">Look at the orders</a>' in planned
    assert "How good this plan is" not in planned
