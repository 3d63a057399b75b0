"""The number of queries of a page does not grow with what the page shows."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from production.models import Document, Plan, PlanningWeek
from production.services.plans import plan_make, plan_store
from production.services.week_import import week_import
from tests.builders import a_week
from tests.conftest import Cast
from tests.web.conftest import address, signed_in

PAGES = {"week": (), "orders": ("orders",), "plan": ("plan",), "purchasing": ("purchasing",), "storage": ("storage",)}


def queries(cast: Cast, href: str) -> int:
    client = signed_in(cast.manager)
    client.get(href)
    with CaptureQueriesContext(
        connection,
    ) as caught:
        assert client.get(href).status_code == 200
    return len(caught)


@pytest.mark.parametrize("name", PAGES)
def test_twice_the_orders_take_no_more_queries(cast: Cast, plan: Plan, name: str) -> None:
    href = address(plan.week, *PAGES[name])
    before = queries(cast, href)
    double(cast, plan.week)
    assert queries(cast, href) == before
    assert before <= 60


def double(cast: Cast, week: PlanningWeek) -> None:
    from dataclasses import replace

    lines = a_week().order_lines
    more = tuple(replace(line, code=f"{line.code}-again") for line in lines)
    week_import(week=a_week(order_lines=(*lines, *more)), by=cast.manager)
    made = plan_make(kitchen=cast.kitchen, week_id=week.pk)
    plan_store(made=made, kitchen=cast.kitchen, week_id=week.pk, user_id=None)


def test_twice_the_documents_take_no_more_queries(cast: Cast, documents: tuple[Document, ...]) -> None:
    href = address(documents[0].plan.week, "documents")
    before = queries(cast, href)
    for document in documents:
        document.pk, document.key = None, f"{document.key}-again"
        document.save(force_insert=True)
    assert queries(cast, href) == before
    assert before <= 60


def test_a_run_and_a_figure_read_the_plan_once_or_twice(cast: Cast, plan: Plan) -> None:
    run = plan.result["runs"][0]
    figure = address(plan.week, "runs", run["code"], "workings", run["figures"][0]["key"])
    assert queries(cast, figure) <= 8
    assert queries(cast, address(plan.week, "runs", run["code"])) <= 60
