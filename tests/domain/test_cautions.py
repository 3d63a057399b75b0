"""What the manager is told besides what is late or missing."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from production.domain.demand import net_demand
from production.domain.kitchen import Week
from production.domain.plan.cautions import cautions_of
from tests.builders import a_week


def told(week: Week) -> str:
    return "\n".join(cautions_of(week, net_demand(week=week)))


def test_a_store_warmer_than_the_rule_is_told() -> None:
    week = a_week()
    assert "stands at 8 °C, warmer than the 5 °C" not in told(week)
    warm = tuple(replace(each, air_temp_c=8.0) if each.kind == "chilled" else each for each in week.stores)
    assert "stands at 8 °C, warmer than the 5 °C" in told(replace(week, stores=warm))


def test_a_freezer_that_is_not_cold_is_told() -> None:
    week = a_week()
    warm = tuple(replace(each, air_temp_c=-5.0) if each.kind == "frozen" else each for each in week.stores)
    assert "too warm to freeze" in told(replace(week, stores=warm))
    assert "too warm to freeze" not in told(week)


def test_a_chilled_life_of_more_than_seven_days_is_told() -> None:
    week = a_week()
    long = tuple(replace(each, shelf_life_days=8) if each.storage == "chilled" else each for each in week.products)
    exact = tuple(replace(each, shelf_life_days=7) if each.storage == "chilled" else each for each in week.products)
    assert "8 days chilled" in told(replace(week, products=long))
    assert "days chilled" not in told(replace(week, products=exact))


def test_a_lot_that_no_order_can_take_is_to_be_discarded() -> None:
    week = a_week()
    old = tuple(replace(lot, made_on=date(2027, 1, 20), use_by=date(2027, 1, 31)) for lot in week.lots)
    assert "Lot lot-1" in told(replace(week, lots=old))
