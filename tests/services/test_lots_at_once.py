"""Several people at the same lot or order at the same moment: what happens, happens once."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection

from production.domain.errors import PotwrightError
from production.models import Entry, Lot, LotMove, OrderLine, PlanningWeek
from production.services.dispatch import Picked, dispatch_confirm_all
from production.services.lot_decisions import lot_hold, lot_release
from production.services.lots import lot_make
from tests.builders import at
from tests.conftest import Cast
from tests.lots import PACKED, a_cooling, a_lot, a_plan, a_run

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]
LATER = PACKED + timedelta(hours=1)
LEAVES = at("2027-02-03 08:30")


def at_once(works: list[Callable[[], object]]) -> list[str]:
    """What became of each, all begun together."""
    outcome: list[str] = []
    together = threading.Barrier(len(works))

    def do(work: Callable[[], object]) -> None:
        together.wait()
        try:
            work()
            outcome.append("done")
        except PotwrightError as error:
            outcome.append(error.code)
        finally:
            connection.close()

    threads = [threading.Thread(target=do, args=(work,)) for work in works]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return sorted(outcome)


def test_one_of_four_releases_counts_and_the_others_are_told(cast: Cast, planning_week: PlanningWeek) -> None:
    lot = a_lot(cast, a_plan(cast, planning_week))

    def release(key: str) -> Callable[[], object]:
        return lambda: lot_release(by=cast.cook, code=lot.code, seen="held", reason="Right", key=key, now=LATER)

    assert at_once([release(f"r{n}") for n in range(4)]) == ["done", *["lot-decided-meanwhile"] * 3]
    assert Entry.objects.filter(kind="lot_released").count() == 1


def test_a_lot_that_is_held_while_it_is_sent_either_leaves_before_or_not_at_all(
    cast: Cast, planning_week: PlanningWeek
) -> None:
    lot = a_lot(cast, a_plan(cast, planning_week), free=True)
    line = OrderLine.objects.get(week=planning_week, code="L1")
    outcome = at_once(
        [
            lambda: lot_hold(by=cast.cook, code=lot.code, seen="free", reason="Lid", key="h", now=LATER),
            lambda: dispatch_confirm_all(
                by=cast.cook, picked={line.pk: [Picked(lot=lot.code, containers=3)]}, happened_at=LEAVES, key="s",
                now=LEAVES,
            ),
        ]
    )  # fmt: skip
    lot.refresh_from_db()
    assert lot.status == "held"
    assert (outcome, lot.left) in ((["done", "done"], 7), (["done", "lot-not-free"], 10))


def test_four_tablets_send_an_order_once(cast: Cast, planning_week: PlanningWeek) -> None:
    plan = a_plan(cast, planning_week)
    one, two = a_lot(cast, plan, containers=10, free=True), a_lot(cast, plan, containers=10, free=True)
    first, second = (OrderLine.objects.get(week=planning_week, code=code) for code in ("L1", "L2"))
    orders = ((one, two), (two, one))

    def send(number: int) -> Callable[[], object]:
        a, b = orders[number % 2]
        picked = {
            first.pk: [Picked(lot=a.code, containers=3), Picked(lot=b.code, containers=3)],
            second.pk: [Picked(lot=b.code, containers=2)],
        }
        return lambda: dispatch_confirm_all(
            by=cast.cook, picked=picked, happened_at=LEAVES, key=f"s{number}", now=LEAVES
        )

    assert at_once([send(number) for number in range(4)]) == ["done", *["more-than-ordered"] * 3]
    assert sum(lot.left for lot in Lot.objects.all()) == 12
    assert -sum(LotMove.objects.filter(kind="dispatched").values_list("containers", flat=True)) == 8


def test_the_same_packing_sent_four_times_at_once_makes_one_lot_and_others_get_their_own_codes(
    cast: Cast, planning_week: PlanningWeek
) -> None:
    run = a_run(a_plan(cast, planning_week))
    coolings = [a_cooling(run, group=group) for group in (1, 2)]

    def pack(cooling: str, key: str) -> Callable[[], object]:
        return lambda: lot_make(
            by=cast.cook, coolings=[cooling], product="poultry-5", containers=3, store="walk-in", packed_at=PACKED,
            key=key, now=PACKED,
        )  # fmt: skip

    works = [pack(coolings[0].subject, "same") for _ in range(4)] + [pack(coolings[1].subject, "other")]
    assert at_once(works) == ["done"] * 5
    assert Lot.objects.count() == 2
    assert Lot.objects.values("code").distinct().count() == 2
