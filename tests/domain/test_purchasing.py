"""Packs, carry-over, money, deliveries."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.domain.kitchen import Week
from production.domain.purchasing import Purchases, build_purchases, trimmed_to_bought_kg
from production.domain.sourcing import Portioned
from tests.builders import at, small_kitchen


def buy(run: str, ingredient: str, to_buy_kg: float) -> Portioned:
    return Portioned(
        run=run,
        ingredient=ingredient,
        mass_kg=to_buy_kg,
        from_bank_kg=0.0,
        from_stock_kg=0.0,
        to_buy_kg=to_buy_kg,
        there_at=at("2027-02-01 05:30"),
    )


def bought(*parts: Portioned, week: Week | None = None, starts: dict[str, datetime] | None = None) -> Purchases:
    runs = starts or {part.run: at("2027-02-02 09:00") for part in parts}
    return build_purchases(week=week or small_kitchen(), sourced=parts, starts=runs)


def test_trim_is_bought_too() -> None:
    assert trimmed_to_bought_kg(ready_kg=9.0, trim_yield_share=0.9) == pytest.approx(10.0)


def test_needs_of_a_delivery_are_gathered_and_rounded_up_to_whole_packs() -> None:
    # 12.5 + 9 = 21.5 kg of frames in packs of 10 kg: three packs at 14.00
    purchases = bought(buy("R01", "frames", 12.5), buy("R02", "frames", 9.0))
    (order,) = purchases.orders
    (item,) = order.items
    assert (item.packs, item.mass_kg, item.needed_kg, item.cost) == (3, 30.0, 21.5, Decimal("42.00"))
    assert item.runs == ("R01", "R02")
    assert (order.delivery_at, order.order_by) == (at("2027-02-02 05:30"), at("2027-02-01 16:00"))


def test_onions_are_bought_with_their_peel() -> None:
    # 9.9 kg peeled at nine tenths is 11 kg as bought: two nets of 10 kg at 12.00
    (item,) = bought(buy("R01", "onion", 9.9)).orders[0].items
    assert item.needed_kg == pytest.approx(11.0)
    assert (item.packs, item.cost) == (2, Decimal("24.00"))


def test_a_need_of_exactly_whole_packs_takes_no_pack_more() -> None:
    (item,) = bought(buy("R01", "frames", 0.1 + 0.2 + 19.7)).orders[0].items
    assert item.packs == 2


def test_what_is_left_of_a_pack_serves_the_next_delivery() -> None:
    starts = {"R01": at("2027-02-02 09:00"), "R02": at("2027-02-03 09:00"), "R03": at("2027-02-04 09:00")}
    parts = (buy("R03", "frames", 6.0), buy("R01", "frames", 4.0), buy("R02", "frames", 5.0))
    purchases = bought(*parts, starts=starts)
    # Tuesday 4 of 10 kg, 6 over; Wednesday 5 of the 6, 1 over; Thursday 6 less 1: one more pack
    assert [(order.delivery_at, order.items[0].packs) for order in purchases.orders] == [
        (at("2027-02-02 05:30"), 1),
        (at("2027-02-04 05:30"), 1),
    ]
    assert purchases.total == Decimal("28.00")


def test_money_adds_up_exactly() -> None:
    week = small_kitchen()
    offers = tuple(replace(offer, price=Decimal("0.10")) for offer in week.offers)
    parts = tuple(buy("R01", name, 25.0) for name in ("frames", "feet", "onion"))
    purchases = bought(*parts, week=replace(week, offers=offers))
    # 3 packs of frames, 5 of feet, 25 / 0.9 = 27.8 kg: 3 of onions, at ten cents each
    assert purchases.total == Decimal("1.10")
    assert sum((order.total for order in purchases.orders), Decimal(0)) == purchases.total


def test_a_run_without_a_start_and_a_need_that_stock_covers_buy_nothing() -> None:
    assert bought(buy("R01", "frames", 5.0), buy("R02", "frames", 5.0), starts={"R02": at("2027-02-02 09:00")}).orders[
        0
    ].items[0].runs == ("R02",)
    assert bought(buy("R01", "frames", 0.0)).orders == ()


def test_what_nobody_sells_is_not_on_a_list() -> None:
    assert bought(buy("R01", "frames", 5.0), week=small_kitchen(offers=())).orders == ()


def test_nothing_bought_costs_nothing() -> None:
    assert bought() == Purchases(orders=(), total=Decimal(0))


needs = st.lists(st.tuples(st.integers(1, 6), st.floats(0.001, 60.0)), max_size=8)


@given(needs=needs)
def test_whatever_is_needed_is_there_and_less_than_one_pack_is_over(needs: list[tuple[int, float]]) -> None:
    starts = {f"R{n:02d}": at(f"2027-02-0{day} 09:00") for n, (day, _) in enumerate(needs)}
    parts = tuple(buy(f"R{n:02d}", "frames", mass) for n, (_, mass) in enumerate(needs))
    purchases = bought(*parts, starts=starts)
    arrived = 0.0
    for day in range(1, 7):
        arrived = sum(
            item.mass_kg
            for order in purchases.orders
            if order.delivery_at <= at(f"2027-02-0{day} 09:00")
            for item in order.items
        )
        used = sum(mass for on, mass in needs if on <= day)
        assert arrived >= used - 1e-6
    assert arrived - sum(mass for _, mass in needs) < 10.0
