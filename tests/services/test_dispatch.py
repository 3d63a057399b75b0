"""What leaves the kitchen: free lots with life enough, never more than ordered, never twice."""

from __future__ import annotations

from datetime import timedelta

import pytest

from production.domain.errors import Conflict, PotwrightError
from production.models import Entry, Lot, LotMove, OrderLine, Outlet, Plan, PlanningWeek
from production.selectors.stock import lines_sent, picks_of_line, picks_until, stores_ahead
from production.services.dispatch import Picked, dispatch_confirm, lot_return
from tests.builders import at
from tests.conftest import Cast
from tests.lots import PACKED, a_lot, a_plan

LEAVES = at("2027-02-03 08:30")


@pytest.fixture
def plan(cast: Cast, planning_week: PlanningWeek) -> Plan:
    return a_plan(cast, planning_week)


@pytest.fixture
def line(planning_week: PlanningWeek) -> OrderLine:
    return OrderLine.objects.get(week=planning_week, code="L1")  # six tubs of poultry broth, Wednesday 09:00


def send(cast: Cast, line: OrderLine, *picked: tuple[str, int], key: str = "send") -> tuple[Entry, ...]:
    return dispatch_confirm(
        by=cast.cook,
        line=line.pk,
        picked=[Picked(lot=lot, containers=containers) for lot, containers in picked],
        happened_at=LEAVES,
        key=key,
        now=LEAVES,
    )


def test_what_leaves_is_taken_from_the_lot_and_stands_with_its_order(cast: Cast, plan: Plan, line: OrderLine) -> None:
    lot = a_lot(cast, plan, containers=10, free=True)
    (entry,) = send(cast, line, (lot.code, 6))
    lot.refresh_from_db()
    assert lot.left == 4
    assert lines_sent([line.pk]) == {line.pk: 6}
    assert entry.subject == f"lot/{lot.code}"
    assert (entry.content["outlet"], entry.content["order_line"]) == ("bistro", "2027-02-01/L1")


def test_a_line_is_served_from_two_lots_and_in_two_goes(cast: Cast, plan: Plan, line: OrderLine) -> None:
    one, two = a_lot(cast, plan, containers=2, free=True), a_lot(cast, plan, containers=9, free=True)
    send(cast, line, (one.code, 2), (two.code, 1), key="first")
    send(cast, line, (two.code, 3), key="second")
    assert lines_sent([line.pk]) == {line.pk: 6}
    assert Lot.objects.get(pk=two.pk).left == 5


def test_the_same_confirmation_sent_twice_leaves_once(cast: Cast, plan: Plan, line: OrderLine) -> None:
    lot = a_lot(cast, plan, containers=10, free=True)
    first = send(cast, line, (lot.code, 4))
    assert [each.pk for each in send(cast, line, (lot.code, 4))] == [each.pk for each in first]
    assert Lot.objects.get(pk=lot.pk).left == 6
    assert LotMove.objects.filter(kind="dispatched").count() == 1


def test_two_people_who_pick_the_same_order_do_not_send_it_twice(cast: Cast, plan: Plan, line: OrderLine) -> None:
    lot = a_lot(cast, plan, containers=12, free=True)
    send(cast, line, (lot.code, 6), key="one tablet")
    with pytest.raises(Conflict) as refused:
        send(cast, line, (lot.code, 6), key="other tablet")
    assert refused.value.code == "more-than-ordered"
    assert Lot.objects.get(pk=lot.pk).left == 6


def test_all_of_the_picks_leave_or_none(cast: Cast, plan: Plan, line: OrderLine) -> None:
    good, held = a_lot(cast, plan, free=True), a_lot(cast, plan)
    with pytest.raises(PotwrightError) as refused:
        send(cast, line, (good.code, 2), (held.code, 2))
    assert refused.value.code == "lot-not-free"
    assert Lot.objects.get(pk=good.pk).left == 10
    assert not Entry.objects.filter(kind="lot_dispatched").exists()


def test_a_lot_without_life_enough_stays(cast: Cast, plan: Plan, line: OrderLine) -> None:
    lot = a_lot(cast, plan, free=True)
    Lot.objects.filter(pk=lot.pk).update(use_by="2027-02-03")  # it must have two days of life
    with pytest.raises(PotwrightError) as refused:
        send(cast, line, (lot.code, 2))
    assert refused.value.code == "lot-too-old-to-leave"


def test_more_than_is_left_cannot_leave_nor_can_nothing(cast: Cast, plan: Plan, line: OrderLine) -> None:
    lot = a_lot(cast, plan, containers=3, free=True)
    for picked, code in (((lot.code, 4), "lot-has-not-so-many"), ((lot.code, 0), "nothing-picked")):
        with pytest.raises(PotwrightError) as refused:
            send(cast, line, picked)
        assert refused.value.code == code


def test_packs_sealed_hot_do_not_leave_for_another_business(cast: Cast, plan: Plan, line: OrderLine) -> None:
    lot = a_lot(cast, plan, free=True, sealed_hot=True)
    assert lot.label["sealed_hot"] is True
    send(cast, line, (lot.code, 1), key="own business")
    Outlet.objects.filter(pk=line.outlet_id).update(same_business=False)
    with pytest.raises(PotwrightError) as refused:
        send(cast, line, (lot.code, 1), key="others")
    assert refused.value.code == "sealed-hot-for-others"


def test_a_lot_of_another_product_is_refused(cast: Cast, plan: Plan, planning_week: PlanningWeek) -> None:
    lot = a_lot(cast, plan, free=True)
    with pytest.raises(PotwrightError) as refused:
        send(cast, OrderLine.objects.get(week=planning_week, code="L4"), (lot.code, 1))
    assert refused.value.code == "lot-of-another-product"


def test_what_comes_back_is_thrown_away_and_not_put_into_stock(cast: Cast, plan: Plan, line: OrderLine) -> None:
    lot = a_lot(cast, plan, containers=10, free=True)
    send(cast, line, (lot.code, 6))
    lot_return(by=cast.cook, code=lot.code, outlet="bistro", containers=2, reason="Too many", key="back", now=LEAVES)
    lot.refresh_from_db()
    assert lot.left == 4 == sum(move.containers for move in lot.moves.all())
    with pytest.raises(Conflict) as refused:
        lot_return(by=cast.cook, code=lot.code, outlet="bistro", containers=5, reason="More", key="again", now=LEAVES)
    assert refused.value.code == "returned-more-than-sent"


def test_the_picks_name_the_lot_that_expires_first(cast: Cast, plan: Plan, line: OrderLine) -> None:
    OrderLine.objects.exclude(pk=line.pk).delete()
    fresh, old = a_lot(cast, plan, free=True), a_lot(cast, plan, containers=4, free=True)
    Lot.objects.filter(pk=old.pk).update(use_by="2027-02-05")
    _, picks = picks_until(by=cast.cook, now=PACKED, end=LEAVES + timedelta(days=1))
    assert [(each.lot, each.containers) for each in picks_of_line(picks, line)] == [(old.code, 4), (fresh.code, 2)]


def test_what_is_held_is_not_picked(cast: Cast, plan: Plan, line: OrderLine) -> None:
    a_lot(cast, plan)
    _, picks = picks_until(by=cast.cook, now=PACKED, end=LEAVES + timedelta(days=1))
    assert picks_of_line(picks, line) == ()
    assert sum(picks.short.values()) >= 6


def test_a_store_shows_what_stands_in_it_and_empties_when_orders_leave(cast: Cast, plan: Plan) -> None:
    a_lot(cast, plan, containers=6, free=True)
    walk_in = next(each for each in stores_ahead(by=cast.cook, now=PACKED) if each.store.code == "walk-in")
    one_l = 225.0 * 225.0 * 190.0 / 1e6
    assert walk_in.usable_l == 3000.0
    assert walk_in.days[0].litres == pytest.approx(6 * one_l)
    assert walk_in.days[2].litres == 0.0  # Wednesday's orders take them all
