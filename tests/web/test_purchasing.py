"""Purchasing and storage room."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from production.domain.plan import plan_from_json
from production.domain.sheets import purchase_lists
from production.models import Plan, PlanningWeek
from production.web.present.purchasing import supplier_lists
from production.web.style import style_of
from tests.conftest import Cast
from tests.web.conftest import address, signed_in


def test_the_lists_add_up_to_what_the_plan_buys(cast: Cast, plan: Plan) -> None:
    content = plan_from_json(plan.result)
    page = signed_in(cast.manager).get(address(plan.week, "purchasing"))
    style = style_of(plan.kitchen, plan.week)
    assert page.context["total"] == style.money(content.purchases.total)
    packs = sum(line.packs for each in page.context["lists"] for line in each.lines)
    assert packs == sum(item.packs for order in content.purchases.orders for item in order.items)


def test_the_time_to_order_is_told_as_left_soon_or_passed(plan: Plan) -> None:
    lists = purchase_lists(plan_from_json(plan.result))
    style = style_of(plan.kitchen, plan.week)
    order_by = lists[0].order_by

    def told(hours: int) -> tuple[str, str]:
        shown = supplier_lists(lists=lists[:1], style=replace(style, now=order_by - timedelta(hours=hours)))[0]
        return shown.order_meaning, shown.order_words

    assert told(48) == ("within", "2 d left")
    assert told(2) == ("near", "2 h left")
    assert told(-1) == ("past", "order time has passed")


def test_without_a_plan_there_is_nothing_to_buy_yet(cast: Cast, planning_week: PlanningWeek) -> None:
    for page in ("purchasing", "storage"):
        body = signed_in(cast.inspector).get(address(planning_week, page)).content.decode()
        assert "No plan for this week yet" in body


def test_the_storage_room_shows_every_choice_of_the_plan(cast: Cast, plan: Plan) -> None:
    content = plan_from_json(plan.result)
    stores = signed_in(cast.manager).get(address(plan.week, "storage")).context["stores"]
    assert len(stores) == len(content.week.stores)
    shown = {(store.name, row.product, row.containers) for store in stores for row in store.rows}
    names = {each.code: each.name for each in content.week.stores}
    names |= {each.code: each.name for each in content.week.products}
    assert shown == {(names[each.store], names[each.product], each.containers) for each in content.storage_choices}
    assert shown
