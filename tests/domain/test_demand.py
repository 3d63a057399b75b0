"""Orders against stock: first expired first out, the last day of dispatch, par levels."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.domain.demand import (
    PAR_WEIGHT,
    Demand,
    StockServes,
    first_cook_date,
    last_dispatch_date,
    net_demand,
    use_by_date,
)
from production.domain.kitchen import ParLevel, StockLot, Week
from tests.builders import a_line, a_product, at, small_kitchen


def a_lot(code: str, containers: int, use_by: str, **changes: object) -> StockLot:
    day = date.fromisoformat(use_by)
    lot = StockLot(
        code=code, product="poultry-5", containers=containers, made_on=date(2027, 1, 29), use_by=day, store="walk-in"
    )
    return replace(lot, **changes)  # type: ignore[arg-type]


def week_of(*, lots: tuple[StockLot, ...] = (), **changes: object) -> Week:
    return small_kitchen(lots=lots, **changes)


def missing(demand: Demand) -> dict[str, int]:
    return {need.line: need.containers for need in demand.needs}


def test_the_day_of_cooking_is_the_first_day_of_shelf_life() -> None:
    assert use_by_date(made_on=date(2027, 2, 1), shelf_life_days=1) == date(2027, 2, 1)
    assert use_by_date(made_on=date(2027, 2, 1), shelf_life_days=6) == date(2027, 2, 6)


@given(life=st.integers(1, 400), left=st.integers(1, 400), day=st.dates(date(2020, 1, 1), date(2030, 1, 1)))
def test_the_first_cook_day_is_the_inverse_of_the_last_dispatch_day(life: int, left: int, day: date) -> None:
    product = a_product(shelf_life_days=life, life_at_dispatch_days=min(left, life))
    cooked = first_cook_date(dispatch_on=day, product=product)
    use_by = use_by_date(made_on=cooked, shelf_life_days=product.shelf_life_days)
    assert last_dispatch_date(use_by=use_by, life_at_dispatch_days=product.life_at_dispatch_days) == day


@pytest.mark.parametrize(
    ("use_by", "served"),
    [("2027-02-04", True), ("2027-02-03", False)],  # leaves on the 3rd with two days of life: the 3rd and the 4th
)
def test_a_lot_may_leave_on_its_exact_last_day_and_not_after(use_by: str, served: bool) -> None:
    week = week_of(lots=(a_lot("old", 6, use_by),), order_lines=(a_line(dispatch_at=at("2027-02-03 23:59")),))
    assert bool(net_demand(week=week).served) is served


def test_the_day_of_dispatch_is_the_day_on_the_kitchens_clock() -> None:
    # 23:30 on the 3rd in Denver is already the 4th in UTC
    week = week_of(lots=(a_lot("old", 6, "2027-02-04"),), order_lines=(a_line(dispatch_at=at("2027-02-03 23:30")),))
    assert net_demand(week=week).needs == ()


def test_the_lot_that_expires_first_leaves_first() -> None:
    week = week_of(
        lots=(a_lot("late", 4, "2027-02-09"), a_lot("soon", 3, "2027-02-05")),
        order_lines=(a_line(containers=5),),
    )
    demand = net_demand(week=week)
    assert demand.served == (
        StockServes(line="L1", lot="soon", containers=3),
        StockServes(line="L1", lot="late", containers=2),
    )
    assert demand.left_over == (("late", 2),)


def test_the_earlier_dispatch_is_served_first_and_at_the_same_minute_the_heavier_line() -> None:
    lines = (
        a_line(code="later", containers=2, dispatch_at=at("2027-02-04 09:00"), weight=9.0),
        a_line(code="light", containers=2),
        a_line(code="heavy", containers=2, weight=3.0),
    )
    demand = net_demand(week=week_of(lots=(a_lot("lot", 3, "2027-02-20"),), order_lines=lines))
    assert missing(demand) == {"light": 1, "later": 2}
    assert {need.of_containers for need in demand.needs} == {2}


def test_stock_of_another_product_serves_nothing() -> None:
    lots = (a_lot("glaze", 9, "2027-02-20", product="poultry-glaze"),)
    demand = net_demand(week=week_of(lots=lots, order_lines=(a_line(),)))
    assert missing(demand) == {"L1": 6}
    assert demand.left_over == (("glaze", 9),)


def test_a_par_level_asks_for_what_the_left_over_stock_does_not_cover() -> None:
    # The week ends with the 7th: at midnight to the 8th a lot with a use-by on the 9th has two days of life.
    week = week_of(
        lots=(a_lot("good", 3, "2027-02-09"), a_lot("short", 5, "2027-02-08")),
        par_levels=(ParLevel(product="poultry-5", containers=10),),
    )
    demand = net_demand(week=week)
    (need,) = demand.needs
    assert (need.line, need.containers, need.of_containers, need.weight) == ("par:poultry-5", 7, 10, PAR_WEIGHT)
    assert need.is_wish
    assert need.dispatch_at == at("2027-02-08 00:00")


def test_a_par_level_that_stock_covers_asks_for_nothing() -> None:
    week = week_of(lots=(a_lot("good", 3, "2027-02-20"),), par_levels=(ParLevel(product="poultry-5", containers=3),))
    assert net_demand(week=week).needs == ()


def test_orders_take_stock_before_par_levels_count_it() -> None:
    week = week_of(
        lots=(a_lot("lot", 6, "2027-02-20"),),
        order_lines=(a_line(containers=4),),
        par_levels=(ParLevel(product="poultry-5", containers=6),),
    )
    assert missing(net_demand(week=week)) == {"par:poultry-5": 4}


def test_a_lot_that_nobody_can_take_any_more_is_told() -> None:
    lots = (a_lot("old", 2, "2027-02-03"), a_lot("fresh", 2, "2027-02-20"))
    assert net_demand(week=week_of(lots=lots)).too_old == ("old",)


def test_without_orders_and_par_levels_nothing_is_needed() -> None:
    assert net_demand(week=week_of()) == Demand(needs=(), served=(), left_over=(), too_old=())


def most_served(lots: list[tuple[int, int]], lines: list[tuple[int, int]]) -> int:
    """The most containers that any allocation serves: the greatest flow, one container at a time."""
    supply = [day for count, day in lots for _ in range(count)]
    wanted = [day for count, day in lines for _ in range(count)]
    matched: dict[int, int] = {}

    def give(want: int, tried: set[int]) -> bool:
        for unit, last in enumerate(supply):
            if last >= wanted[want] and unit not in tried:
                tried.add(unit)
                if unit not in matched or give(matched[unit], tried):
                    matched[unit] = want
                    return True
        return False

    return sum(give(want, set()) for want in range(len(wanted)))


some = st.lists(st.tuples(st.integers(1, 4), st.integers(1, 7)), max_size=4)


@given(stock=some, orders=some)
def test_first_expired_first_out_serves_as_many_containers_as_any_allocation(
    stock: list[tuple[int, int]], orders: list[tuple[int, int]]
) -> None:
    lots = tuple(a_lot(f"lot{n}", count, f"2027-02-{day + 1:02d}") for n, (count, day) in enumerate(stock))
    lines = tuple(
        a_line(code=f"L{n}", containers=count, dispatch_at=at(f"2027-02-{day:02d} 12:00"))
        for n, (count, day) in enumerate(orders)
    )
    demand = net_demand(week=week_of(lots=lots, order_lines=lines))
    assert sum(served.containers for served in demand.served) == most_served(stock, orders)
    assert sum(count for count, _ in orders) == sum(s.containers for s in demand.served) + sum(
        need.containers for need in demand.needs
    )
