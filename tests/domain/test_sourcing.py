"""Bank, shelf, purchase; when a delivery can be there."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time
from decimal import Decimal

import pytest

from production.domain.errors import PotwrightError
from production.domain.kitchen import IngredientStock, Offer, SavedBones, Supplier, Week
from production.domain.sourcing import (
    Portioned,
    Wanted,
    best_offer,
    delivery_for_order,
    latest_order_for,
    source_ingredients,
)
from tests.builders import ZONE, at, small_kitchen


def supplier(**changes: object) -> Supplier:
    market = Supplier(
        code="market",
        name="Market hall",
        contact="market@supplier.example",
        order_by=time(16, 0),
        lead_days=1,
        delivers_on=(1, 2, 3, 4, 5),
        delivers_at=time(5, 30),
    )
    return replace(market, **changes)  # type: ignore[arg-type]


# 2027-02-01 is a Monday.
@pytest.mark.parametrize(
    ("ordered", "arrives"),
    [
        ("2027-02-01 15:59", "2027-02-02 05:30"),
        ("2027-02-01 16:00", "2027-02-02 05:30"),  # at the very cut-off it still counts
        ("2027-02-01 16:01", "2027-02-03 05:30"),
        ("2027-02-05 10:00", "2027-02-08 05:30"),  # Friday: Saturday is no day of delivery
        ("2027-02-06 10:00", "2027-02-08 05:30"),
        ("2027-02-06 17:00", "2027-02-08 05:30"),  # counts from Sunday, one day later is Monday
        ("2027-02-07 17:00", "2027-02-09 05:30"),
    ],
)
def test_an_order_arrives_with_the_first_delivery_it_can_catch(ordered: str, arrives: str) -> None:
    found = delivery_for_order(supplier=supplier(), ordered_at=at(ordered), zone=ZONE)
    assert found.at == at(arrives)
    assert found.order_by >= at(ordered)


def test_a_supplier_who_delivers_at_the_weekend_is_taken_at_his_word() -> None:
    found = delivery_for_order(supplier=supplier(delivers_on=(6,)), ordered_at=at("2027-02-01 10:00"), zone=ZONE)
    assert (found.at, found.order_by) == (at("2027-02-06 05:30"), at("2027-02-05 16:00"))


def test_without_lead_time_the_goods_come_the_same_day() -> None:
    found = delivery_for_order(supplier=supplier(lead_days=0), ordered_at=at("2027-02-01 04:00"), zone=ZONE)
    assert found.at == at("2027-02-01 05:30")


def test_a_delivery_after_the_change_of_the_clocks_comes_at_its_hour_on_the_clock() -> None:
    # The clocks go forward on Sunday 2027-03-14: 05:30 on Monday is 11:30 UTC, on the Friday before 12:30 UTC.
    ordered = at("2027-03-12 10:00")
    found = delivery_for_order(supplier=supplier(), ordered_at=ordered, zone=ZONE)
    assert found.at.astimezone(UTC) == datetime(2027, 3, 15, 11, 30, tzinfo=UTC)
    before = delivery_for_order(supplier=supplier(), ordered_at=at("2027-03-11 10:00"), zone=ZONE)
    assert before.at.astimezone(UTC) == datetime(2027, 3, 12, 12, 30, tzinfo=UTC)


def test_a_supplier_without_a_day_of_delivery_is_refused_with_what_to_do() -> None:
    with pytest.raises(PotwrightError) as refused:
        delivery_for_order(supplier=supplier(delivers_on=()), ordered_at=at("2027-02-01 10:00"), zone=ZONE)
    assert refused.value.code == "no-delivery-day"
    assert refused.value.remedy


@pytest.mark.parametrize(
    ("needed", "arrives", "order_by"),
    [
        ("2027-02-05 05:30", "2027-02-05 05:30", "2027-02-04 16:00"),
        ("2027-02-05 05:29", "2027-02-04 05:30", "2027-02-03 16:00"),
        ("2027-02-07 12:00", "2027-02-05 05:30", "2027-02-04 16:00"),  # Sunday: Friday is the last delivery
        ("2027-01-31 12:00", "2027-02-01 05:30", "2027-01-31 16:00"),  # too early for any: the first possible
    ],
)
def test_what_is_needed_is_ordered_for_the_last_delivery_before_it(needed: str, arrives: str, order_by: str) -> None:
    found = latest_order_for(supplier=supplier(), needed_at=at(needed), not_before=at("2027-01-30 10:00"), zone=ZONE)
    assert (found.at, found.order_by) == (at(arrives), at(order_by))


def with_second_supplier(**changes: object) -> Week:
    """The small kitchen; a second supplier sells frames dearer, or as told, and comes on Sunday."""
    week = small_kitchen()
    other = supplier(code="other", name="Other", delivers_on=(7,))
    offer = Offer(code="frames-other", supplier="other", ingredient="frames", pack_kg=2.0, price=Decimal("4.00"))
    return replace(
        week,
        suppliers=(*week.suppliers, other),
        offers=(*week.offers, replace(offer, **changes)),  # type: ignore[arg-type]
    )


def test_the_cheapest_offer_per_kilogram_that_comes_in_time_is_taken() -> None:
    # 14.00 for 10 kg is 1.40 a kg and comes on Monday; 4.00 for 2 kg is 2.00 a kg and comes on Sunday.
    week = with_second_supplier()
    chosen = [
        best_offer(week=week, ingredient="frames", needed_at=moment)
        for moment in (None, at("2027-02-03 05:00"), at("2027-01-31 06:00"))
    ]
    assert [pair and pair[0].code for pair in chosen] == ["frames-pack", "frames-pack", "frames-other"]


def test_where_no_offer_comes_in_time_the_fastest_is_taken() -> None:
    found = best_offer(week=with_second_supplier(), ingredient="frames", needed_at=at("2027-01-30 12:00"))
    assert found is not None
    assert found[0].code == "frames-other"


def test_nobody_offers_what_nobody_offers() -> None:
    assert best_offer(week=small_kitchen(offers=()), ingredient="frames") is None


def want(mass_kg: float, *, run: str = "R01", ingredient: str = "frames", use_on: str = "2027-02-02") -> Wanted:
    return Wanted(run=run, ingredient=ingredient, mass_kg=mass_kg, use_on=date.fromisoformat(use_on))


def saved(code: str, mass_kg: float, use_by: str) -> SavedBones:
    return SavedBones(
        code=code, ingredient="frames", mass_kg=mass_kg, saved_on=date(2027, 1, 20), use_by=date.fromisoformat(use_by)
    )


def split(part: Portioned) -> tuple[float, float, float]:
    return part.from_bank_kg, part.from_stock_kg, part.to_buy_kg


def test_saved_bones_go_first_then_the_shelf_then_a_purchase() -> None:
    week = small_kitchen(
        saved_bones=(saved("bank", 6.0, "2027-03-20"),),
        ingredient_stock=(IngredientStock(code="shelf", ingredient="frames", mass_kg=5.0, use_by=date(2027, 2, 20)),),
    )
    first, second = source_ingredients(week=week, wanted=(want(8.0), want(10.0, run="R02")))
    assert split(first) == (6.0, 2.0, 0.0)
    assert first.there_at == week.plan_from
    assert split(second) == (0.0, 3.0, 7.0)
    assert second.there_at == at("2027-02-01 05:30")  # planned on Saturday morning, Monday is the first delivery


def test_the_shelf_counts_what_is_left_after_trimming() -> None:
    # 10 kg of onions as bought, nine tenths usable: 9 kg for the pot.
    week = small_kitchen(
        ingredient_stock=(IngredientStock(code="shelf", ingredient="onion", mass_kg=10.0, use_by=date(2027, 2, 20)),)
    )
    (part,) = source_ingredients(week=week, wanted=(want(9.5, ingredient="onion"),))
    assert split(part) == pytest.approx((0.0, 9.0, 0.5))


@pytest.mark.parametrize(("use_on", "from_bank_kg"), [("2027-02-02", 6.0), ("2027-02-03", 0.0)])
def test_saved_bones_may_be_used_on_their_use_by_day_and_not_after(use_on: str, from_bank_kg: float) -> None:
    week = small_kitchen(saved_bones=(saved("bank", 6.0, "2027-02-02"),))
    (part,) = source_ingredients(week=week, wanted=(want(6.0, use_on=use_on),))
    assert part.from_bank_kg == from_bank_kg


def test_the_bones_that_expire_first_are_used_first() -> None:
    week = small_kitchen(saved_bones=(saved("late", 5.0, "2027-02-20"), saved("soon", 5.0, "2027-02-02")))
    first, second = source_ingredients(week=week, wanted=(want(5.0), want(5.0, run="R02", use_on="2027-02-04")))
    assert (first.from_bank_kg, second.from_bank_kg) == (5.0, 5.0)


def test_what_nobody_offers_is_never_there() -> None:
    (part,) = source_ingredients(week=small_kitchen(offers=()), wanted=(want(1.0),))
    assert part.there_at is None
