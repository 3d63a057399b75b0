"""Lots are made once, held until somebody lets them go, and of two people the second is told."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from django.http import Http404

from production.domain.errors import Conflict, NotAllowed, OutOfRange, PotwrightError
from production.models import Entry, Lot, LotMove, Plan, PlanningWeek
from production.selectors.lots import lot_verdict
from production.services.lot_decisions import (
    lot_count,
    lot_discard,
    lot_evaluate,
    lot_hold,
    lot_release,
    lots_hold_unshown,
)
from production.services.lots import lot_make
from production.services.records import Draft, entries_append
from tests.conftest import Cast
from tests.lots import COOKED, PACKED, a_cooling, a_lot, a_plan, a_run

LATER = PACKED + timedelta(hours=1)


@pytest.fixture
def plan(cast: Cast, planning_week: PlanningWeek) -> Plan:
    return a_plan(cast, planning_week)


def test_a_lot_is_held_when_it_is_made_and_says_what_it_is(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan, containers=12)
    assert (lot.status, lot.containers, lot.left) == ("held", 12, 12)
    assert lot.made_on.isoformat() == "2027-02-02"
    assert lot.use_by.isoformat() == "2027-02-07"  # six days, the day of cooking included
    assert lot.code.startswith("270202")
    entry = Entry.objects.get(subject=f"lot/{lot.code}")
    assert (entry.kind, entry.content["containers"], entry.content["verdict"]) == ("lot_made", 12, "met")
    assert [(move.kind, move.containers) for move in lot.moves.all()] == [("made", 12)]


def test_a_lot_that_is_packed_after_midnight_counts_from_the_day_of_cooking(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan, packed_at=PACKED + timedelta(hours=6))
    assert lot.made_on.isoformat() == "2027-02-02"


def test_the_same_packing_sent_five_times_makes_one_lot(cast: Cast, plan: Plan) -> None:
    cooling = a_cooling(a_run(plan))
    made = {
        lot_make(
            by=cast.cook,
            coolings=[cooling.subject],
            product="poultry-5",
            containers=4,
            store="walk-in",
            packed_at=PACKED,
            key="tap",
            now=PACKED,
        ).code
        for _ in range(5)
    }
    assert len(made) == 1
    assert Lot.objects.count() == LotMove.objects.count() == Entry.objects.filter(kind="lot_made").count() == 1


def test_two_lots_of_a_day_have_two_codes(cast: Cast, plan: Plan) -> None:
    assert a_lot(cast, plan).code != a_lot(cast, plan).code


def test_no_lot_is_made_while_a_log_is_open(cast: Cast, plan: Plan) -> None:
    run = a_run(plan)
    a_cooling(run, verdict="not_shown", attempt=1)
    again = a_cooling(run, verdict="", attempt=2)
    with pytest.raises(Conflict) as refused:
        lot_make(
            by=cast.cook,
            coolings=[again.subject],
            product="poultry-5",
            containers=4,
            store="walk-in",
            packed_at=PACKED,
            key="tap",
            now=PACKED,
        )
    assert refused.value.code == "cooling-not-closed"


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"product": "fish-2"}, "not-a-product-of-this-draw"),
        ({"product": "poultry-glaze"}, "not-a-product-of-this-draw"),
        ({"store": "freezer"}, "wrong-kind-of-store"),
        ({"containers": 0}, "lot-count-out-of-range"),
        ({"packed_at": COOKED - timedelta(hours=1)}, "packed-out-of-time"),
        ({"packed_at": PACKED + timedelta(days=1)}, "packed-out-of-time"),
    ],
)
def test_what_cannot_be_a_lot_is_refused(cast: Cast, plan: Plan, changes: dict[str, object], code: str) -> None:
    cooling = a_cooling(a_run(plan))
    values = {
        "coolings": [cooling.subject],
        "product": "poultry-5",
        "containers": 4,
        "store": "walk-in",
        "packed_at": PACKED,
        "key": "tap",
        "now": PACKED,
    } | changes
    with pytest.raises(PotwrightError) as refused:
        lot_make(by=cast.cook, **values)  # type: ignore[arg-type]
    assert refused.value.code == code
    assert not Lot.objects.exists()


def test_an_earlier_attempt_that_failed_stays_with_the_lot(cast: Cast, plan: Plan) -> None:
    run = a_run(plan)
    a_cooling(run, verdict="not_shown", attempt=1)
    a_cooling(run, verdict="met", attempt=2)
    lot = lot_make(
        by=cast.cook,
        coolings=[run.coolings.get(attempt=2).subject],
        product="poultry-5",
        containers=4,
        store="walk-in",
        packed_at=PACKED,
        key="tap",
        now=PACKED,
    )
    assert lot.coolings.count() == 2
    assert lot_verdict(lot) == "not_shown"


def test_a_cook_releases_what_met_its_limits(cast: Cast, plan: Plan) -> None:
    assert a_lot(cast, plan, free=True).status == "free"


def release(by: object, lot: Lot, *, key: str = "go", seen: str = "held") -> Lot:
    return lot_release(by=by, code=lot.code, seen=seen, reason="Looked at it", key=key, now=LATER)  # type: ignore[arg-type]


@pytest.mark.parametrize("verdict", ["breached", "not_shown"])
def test_a_cook_cannot_release_what_did_not(cast: Cast, plan: Plan, verdict: str) -> None:
    lot = a_lot(cast, plan, verdict=verdict)
    with pytest.raises(NotAllowed):
        release(cast.cook, lot)
    lot.refresh_from_db()
    assert lot.status == "held"
    assert not Entry.objects.filter(kind="lot_released").exists()


def test_a_manager_releases_a_breached_lot_only_after_an_evaluation(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan, verdict="breached")
    with pytest.raises(NotAllowed) as refused:
        release(cast.manager, lot)
    assert refused.value.code == "lot-not-evaluated"
    lot_evaluate(
        by=cast.manager,
        code=lot.code,
        disposition="release",
        cause="Ice was late",
        action="Moved to the chiller",
        evaluation="Reviewed with the authority on the telephone",
        key="eval",
        now=LATER,
    )
    assert release(cast.manager, lot).status == "free"


def test_an_evaluation_without_a_word_is_no_evaluation(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan, verdict="breached")
    with pytest.raises(PotwrightError) as refused:
        lot_evaluate(
            by=cast.manager,
            code=lot.code,
            disposition="release",
            cause="Ice",
            action="none",
            evaluation="  ",
            key="e",
            now=LATER,
        )
    assert refused.value.code == "reason-missing"


def test_an_evaluation_for_discarding_does_not_speak_for_release(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan, verdict="breached")
    lot_evaluate(
        by=cast.manager,
        code=lot.code,
        disposition="discard",
        cause="Ice was late",
        action="Held",
        evaluation="",
        key="eval",
        now=LATER,
    )
    with pytest.raises(NotAllowed):
        release(cast.manager, lot)


def test_nobody_releases_a_lot_past_its_last_day(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan)
    with pytest.raises(NotAllowed) as refused:
        lot_release(
            by=cast.manager, code=lot.code, seen="held", reason="Smells good", key="go", now=PACKED + timedelta(days=6)
        )
    assert refused.value.code == "lot-past-use-by"


def test_a_reason_is_needed(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan, free=True)
    for said in ("", "  ", "ok"):
        with pytest.raises(PotwrightError) as refused:
            lot_hold(by=cast.cook, code=lot.code, seen="free", reason=said, key="hold", now=LATER)
        assert refused.value.code == "reason-missing"


def test_of_two_who_decide_at_once_the_second_is_told_by_whom(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan)
    release(cast.cook, lot, key="one")
    with pytest.raises(Conflict, match="by cook") as refused:
        release(cast.manager, lot, key="two")
    assert refused.value.code == "lot-decided-meanwhile"
    assert Entry.objects.filter(kind="lot_released").count() == 1


def test_the_same_release_sent_twice_is_done_once(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan)
    release(cast.cook, lot)
    assert release(cast.cook, lot).status == "free"
    assert Entry.objects.filter(kind="lot_released").count() == 1


def test_an_inspector_decides_nothing(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan)
    with pytest.raises(NotAllowed):
        release(cast.inspector, lot)


def test_a_lot_of_another_kitchen_is_not_there(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan)
    with pytest.raises(Http404):
        release(cast.outsider, lot)


def test_discarding_some_leaves_the_others_and_discarding_all_ends_the_lot(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan, containers=10, free=True)
    some = lot_discard(
        by=cast.cook, code=lot.code, reason="Two leak", key="some", now=LATER, containers=2, seen_left=10
    )
    assert (some.left, some.status) == (8, "free")
    every = lot_discard(by=cast.cook, code=lot.code, reason="Smells", key="all", now=LATER, seen_left=8)
    assert (every.left, every.status) == (0, "discarded")
    with pytest.raises(Conflict):
        lot_hold(by=cast.cook, code=lot.code, seen="discarded", reason="Too late", key="hold", now=LATER)


def test_a_count_that_somebody_has_overtaken_is_told(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan, containers=10)
    assert (
        lot_count(by=cast.cook, code=lot.code, found=9, seen_left=10, reason="One missing", key="a", now=LATER).left
        == 9
    )
    with pytest.raises(Conflict) as refused:
        lot_count(by=cast.cook, code=lot.code, found=10, seen_left=10, reason="All there", key="b", now=LATER)
    assert refused.value.code == "lot-taken-meanwhile"
    with pytest.raises(OutOfRange):
        lot_count(by=cast.cook, code=lot.code, found=11, seen_left=9, reason="More", key="c", now=LATER)


def test_a_free_lot_goes_on_hold_when_its_log_no_longer_shows_that_it_is_safe(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan, free=True)
    cooling = lot.coolings.get()
    assert lots_hold_unshown(by=cast.manager, cooling=cooling, now=LATER) == ()
    cooling.verdict = "not_shown"
    cooling.save()
    (held,) = lots_hold_unshown(by=cast.manager, cooling=cooling, now=LATER)
    assert held.status == "held"
    assert Entry.objects.filter(kind="lot_held").count() == 1


def test_the_sums_of_the_moves_are_what_is_left(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan, containers=10)
    lot_discard(by=cast.cook, code=lot.code, reason="Leaks", key="d", now=LATER, containers=3, seen_left=10)
    lot_count(by=cast.cook, code=lot.code, found=6, seen_left=7, reason="Counted", key="c", now=LATER)
    lot.refresh_from_db()
    assert lot.left == sum(move.containers for move in lot.moves.all()) == 6


def test_the_label_is_frozen_with_the_lot(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan)
    label = lot.label
    assert label["lot"] == lot.code
    assert label["ingredients"][0]["name"] == "Water"
    assert label["law"] == "eu"
    assert label["net_l"] == "5.0"
    assert [each["name"] for each in label["ingredients"]][1] != "Water"


def test_the_label_lists_what_was_really_weighed(cast: Cast, plan: Plan) -> None:
    run = a_run(plan)
    onion = next(line for line in run.sheet["charge"] if line["name"] == "Onion")
    content = {"step": f"add.{onion['order']}", "mass": "500 kg"}
    draft = Draft(
        kind="addition_made", subject=run.subject, content=content, happened_at=COOKED, key="onions", reason=""
    )
    entries_append(by=cast.cook, drafts=[draft], now=COOKED)
    assert a_lot(cast, plan).label["ingredients"][0]["name"] == "Onion"


def test_a_corrective_action_of_a_cook_is_no_managers_decision(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan, verdict="not_shown")
    cooling = lot.coolings.get()
    draft = Draft(
        kind="corrective_action", subject=cooling.subject, content={"what": "More ice"}, happened_at=LATER, key="ice"
    )
    entries_append(by=cast.cook, drafts=[draft], now=LATER)
    with pytest.raises(NotAllowed) as refused:
        release(cast.manager, lot)
    assert refused.value.code == "lot-not-corrected"
    entries_append(by=cast.manager, drafts=[replace(draft, key="looked")], now=LATER)
    assert release(cast.manager, lot).status == "free"
