"""What pages show is held against the book: an honest kitchen raises no alarm, and a row that was touched is named."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from production.models import CoolingRecord, Lot, Plan, PlanningWeek, Reading, RunRecord
from production.selectors.record_check import book_check
from production.selectors.record_projections import coolings_check, lots_check, readings_check
from production.services.lot_decisions import lot_count, lot_discard, lot_evaluate, lot_hold, lot_release
from tests.conftest import Cast
from tests.lots import PACKED, a_lot, a_plan
from tests.services.cooling_kit import GOOD, a_run, a_thermometer, act, note, opened, read, read_all, sent, take

pytestmark = pytest.mark.django_db
LATER = PACKED + timedelta(hours=1)


@pytest.fixture
def run(cast: Cast, planning_week: PlanningWeek) -> RunRecord:
    begun = a_run(cast.manager, planning_week)
    note(cast.manager, begun.subject, "run_begun", begun.begun_at, {})
    return begun


@pytest.fixture
def cooling(cast: Cast, run: RunRecord) -> CoolingRecord:
    """A log with all that happens to readings: corrected by the thermometer, confirmed, entered again, set aside."""
    a_thermometer(cast.manager, correction="-0.4")
    log = opened(cast.cook, run)
    read(cast.cook, log, 1, "90", thermometer="t1")
    questioned = read(cast.cook, log, 4, "12.5")
    assert questioned.outcome == "questioned"
    again = sent("reading", log.subject, log.opened_at + timedelta(minutes=5), {"temp": "85", "unit": "C"})
    again |= {"corrects": questioned.key, "reason": "Misread."}
    take(cast.cook, again, now=log.opened_at + timedelta(minutes=5))
    read_all(cast.cook, log, GOOD[1:])
    wrong = read(cast.cook, log, 305, "30")
    confirmed = sent("reading", log.subject, log.opened_at + timedelta(minutes=306), {"temp": "30", "unit": "C"})
    confirmed |= {"corrects": wrong.key, "reason": "It was so."}
    take(cast.cook, confirmed, now=log.opened_at + timedelta(minutes=306))
    aside = sent("reading_excluded", log.subject, log.opened_at + timedelta(minutes=307), {})
    aside |= {"corrects": wrong.key, "reason": "Another pan."}
    take(cast.manager, aside, now=log.opened_at + timedelta(minutes=307))
    act(cast.cook, log, "cooling_closed", 310, {})
    return log


def test_an_honest_log_raises_no_alarm(cast: Cast, cooling: CoolingRecord) -> None:
    assert Reading.objects.filter(excluded=True).count() == 2
    assert CoolingRecord.objects.get().verdict
    assert book_check(kitchen=cast.kitchen).findings == ()


TOUCHED: dict[str, Callable[[], object]] = {
    "a temperature": lambda: Reading.objects.filter(temp="57").update(temp="20"),
    "a unit": lambda: Reading.objects.filter(temp="57").update(unit="F"),
    "a time": lambda: Reading.objects.filter(temp="57").update(measured_at=PACKED - timedelta(days=3)),
    "set aside": lambda: Reading.objects.filter(temp="57").update(excluded=True),
    "counted after all": lambda: Reading.objects.filter(temp="30").update(excluded=False),
    "lost": lambda: Reading.objects.filter(temp="57").delete(),
}


@pytest.mark.parametrize("what", TOUCHED)
def test_a_reading_that_was_touched_in_its_log_is_named(cast: Cast, cooling: CoolingRecord, what: str) -> None:
    numbers = dict(Reading.objects.values_list("temp", "entry__number"))
    TOUCHED[what]()
    (found,) = readings_check(cast.kitchen.pk)
    assert found.first == numbers["30" if what == "counted after all" else "57"]
    assert "otherwise than it was written down" in found.sentence


def test_a_verdict_that_was_touched_is_named(cast: Cast, cooling: CoolingRecord) -> None:
    shown = CoolingRecord.objects.get().verdict
    CoolingRecord.objects.update(verdict="met" if shown != "met" else "breached")
    (found,) = coolings_check(cast.kitchen.pk)
    assert f"written down is {shown!r}" in found.sentence
    CoolingRecord.objects.update(verdict="", closed_at=None)
    (found,) = coolings_check(cast.kitchen.pk)
    assert "shows the verdict 'open'" in found.sentence


@pytest.fixture
def plan(cast: Cast, planning_week: PlanningWeek) -> Plan:
    return a_plan(cast, planning_week)


def a_life_of_lots(cast: Cast, plan: Plan) -> None:
    """Lots that were let go, kept back again, counted, partly and wholly thrown away, released on grounds."""
    kept, gone, breached = a_lot(cast, plan, free=True), a_lot(cast, plan), a_lot(cast, plan, verdict="breached")
    said: dict[str, Any] = {"by": cast.manager, "reason": "Looked at it.", "now": LATER}
    lot_count(code=kept.code, found=9, seen_left=10, key="c", **said)
    lot_discard(code=kept.code, containers=2, seen_left=9, key="d", **said)
    lot_hold(code=kept.code, seen="free", key="h", **said)
    lot_discard(code=gone.code, seen_left=10, key="g", **said)
    lot_evaluate(
        by=cast.manager,
        code=breached.code,
        disposition="discard",
        cause="No ice.",
        action="Thrown away.",
        evaluation="",
        key="e",
        now=LATER,
    )
    lot_release(code=a_lot(cast, plan).code, seen="held", key="r", **said)


def test_honest_lots_raise_no_alarm(cast: Cast, plan: Plan) -> None:
    a_life_of_lots(cast, plan)
    assert sorted(Lot.objects.values_list("status", "left")) == [
        ("discarded", 0),
        ("free", 10),
        ("held", 7),
        ("held", 10),
    ]
    assert list(lots_check(cast.kitchen.pk)) == []


@pytest.mark.parametrize("touched", [{"status": "free"}, {"left": 3}, {"containers": 11}])
def test_a_lot_that_was_touched_is_named(cast: Cast, plan: Plan, touched: dict[str, object]) -> None:
    lot = a_lot(cast, plan)
    Lot.objects.filter(pk=lot.pk).update(**touched)
    (found,) = lots_check(cast.kitchen.pk)
    assert f"Lot {lot.code} is shown as" in found.sentence


def test_a_lot_under_another_code_is_missing_under_its_own(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan)
    Lot.objects.filter(pk=lot.pk).update(code="FORGED1")
    forged, missing = lots_check(cast.kitchen.pk)
    assert "FORGED1 is shown, but it was never written down" in forged.sentence
    assert f"The lot {lot.code} is missing" in missing.sentence
