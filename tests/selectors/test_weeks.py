"""Reading weeks and orders."""

from __future__ import annotations

import pytest
from django.db import connection
from django.http import Http404
from django.test.utils import CaptureQueriesContext

from production.domain.errors import NotAllowed
from production.models import PlanningWeek
from production.selectors.snapshots import week_export
from production.selectors.weeks import order_line_of, order_lines_of, week_of, weeks_of
from tests.builders import a_week
from tests.conftest import Cast


def test_order_lines_come_in_the_order_of_the_file_in_one_query(cast: Cast, planning_week: PlanningWeek) -> None:
    with CaptureQueriesContext(connection) as captured:
        lines = [
            (each.code, each.product.container.name, each.outlet.name)
            for each in order_lines_of(by=cast.manager, week=planning_week)
        ]
    assert [code for code, _, _ in lines] == [each.code for each in a_week().order_lines]
    assert len(captured) == 1


def test_an_outsider_finds_neither_week_nor_lines(cast: Cast, planning_week: PlanningWeek) -> None:
    assert list(weeks_of(by=cast.manager)) == [planning_week]
    assert not weeks_of(by=cast.outsider).exists()
    assert not order_lines_of(by=cast.outsider, week=planning_week).exists()
    with pytest.raises(Http404):
        week_of(by=cast.outsider, starts_on=planning_week.starts_on)
    with pytest.raises(Http404):
        order_line_of(by=cast.outsider, week=planning_week, code="L1")
    with pytest.raises(Http404):
        week_export(by=cast.outsider, week=planning_week)


def test_a_cook_sees_no_orders(cast: Cast, planning_week: PlanningWeek) -> None:
    with pytest.raises(NotAllowed):
        order_lines_of(by=cast.cook, week=planning_week)
    with pytest.raises(NotAllowed):
        week_export(by=cast.cook, week=planning_week)


def test_a_week_is_found_by_its_first_day(cast: Cast, planning_week: PlanningWeek) -> None:
    assert week_of(by=cast.inspector, starts_on=a_week().starts_on) == planning_week
    assert order_line_of(by=cast.inspector, week=planning_week, code="L4").weight == 2.0
