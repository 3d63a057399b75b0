"""Lots that somebody has kept back for a reason other than their cooling log, and times that cannot be."""

from __future__ import annotations

from datetime import timedelta

import pytest

from production.domain.errors import NotAllowed, OutOfRange
from production.models import Deviation, OrderLine, PlanningWeek
from production.services.deviations import deviation_open
from production.services.dispatch import Picked, dispatch_confirm
from production.services.lot_decisions import lot_hold, lot_release
from tests.conftest import Cast
from tests.lots import PACKED, a_lot, a_plan

LATER = PACKED + timedelta(hours=1)


def test_what_a_manager_keeps_back_a_cook_does_not_let_go(cast: Cast, planning_week: PlanningWeek) -> None:
    lot = a_lot(cast, a_plan(cast, planning_week), free=True)
    lot_hold(by=cast.manager, code=lot.code, seen="free", reason="Glass in the room", key="h", now=LATER)
    with pytest.raises(NotAllowed) as refused:
        lot_release(by=cast.cook, code=lot.code, seen="held", reason="Looks fine", key="r", now=LATER)
    assert refused.value.code == "lot-kept-back"
    assert (
        lot_release(by=cast.manager, code=lot.code, seen="held", reason="Searched", key="m", now=LATER).status == "free"
    )


def test_what_a_cook_keeps_back_a_cook_lets_go(cast: Cast, planning_week: PlanningWeek) -> None:
    lot = a_lot(cast, a_plan(cast, planning_week), free=True)
    lot_hold(by=cast.cook, code=lot.code, seen="free", reason="Lid loose", key="h", now=LATER)
    assert lot_release(by=cast.cook, code=lot.code, seen="held", reason="Lid on", key="r", now=LATER).status == "free"


def test_a_lot_with_an_open_deviation_waits_for_who_decides(cast: Cast, planning_week: PlanningWeek) -> None:
    lot = a_lot(cast, a_plan(cast, planning_week))
    facts = {"sentence": "The walk-in was warm.", "lots": [lot.code]}
    kind = Deviation.Kind.STORAGE.value
    deviation_open(by=cast.cook, kind=kind, subject="store/walk-in", facts=facts, key="warm", now=LATER)
    with pytest.raises(NotAllowed) as refused:
        lot_release(by=cast.cook, code=lot.code, seen="held", reason="Looks fine", key="r", now=LATER)
    assert refused.value.code == "lot-kept-back"


def test_nothing_leaves_before_it_was_packed(cast: Cast, planning_week: PlanningWeek) -> None:
    lot = a_lot(cast, a_plan(cast, planning_week), free=True)
    line = OrderLine.objects.get(week=planning_week, code="L1")
    with pytest.raises(OutOfRange) as refused:
        dispatch_confirm(
            by=cast.cook,
            line=line.pk,
            picked=[Picked(lot=lot.code, containers=1)],
            happened_at=PACKED - timedelta(days=1),
            key="s",
            now=LATER,
        )
    assert refused.value.code == "left-before-packed"
