"""The demo week through the database."""

from __future__ import annotations

from pathlib import Path

import pytest

from production.domain.week_file import dumps_week, parse_week
from production.selectors.snapshots import week_export
from production.services.kitchens import kitchen_create, membership_set
from production.services.week_import import week_import
from tests.conftest import Cast

DEMO = Path(__file__).resolve().parents[2] / "fixtures" / "demo_week.json"


@pytest.mark.postgres
def test_the_demo_week_comes_out_of_the_database_as_the_very_file_that_went_in(cast: Cast) -> None:
    week = parse_week(DEMO.read_bytes())
    kitchen = kitchen_create(kitchen=week.kitchen)
    by = membership_set(kitchen=kitchen, user=cast.stranger, role="manager", by=None)
    row = week_import(week=week, by=by)
    back = week_export(by=by, week=row)
    assert back == week
    assert dumps_week(back) == dumps_week(week)
