"""What the floor records about lots and bones without a network arrives once and is answered."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from production.models import Bones, Entry, Lot, Plan, PlanningWeek
from production.services.bones import bones_save
from production.services.floor import floor_take
from tests.conftest import Cast
from tests.lots import PACKED, a_lot, a_plan

NOW = PACKED + timedelta(hours=2)


@pytest.fixture
def plan(cast: Cast, planning_week: PlanningWeek) -> Plan:
    return a_plan(cast, planning_week)


def sent(cast: Cast, kind: str, subject: str, content: dict[str, Any], *, reason: str = "", key: str = "e") -> Any:
    entry = {
        "key": key,
        "kind": kind,
        "subject": subject,
        "content": content,
        "happened_at": (NOW - timedelta(minutes=30)).isoformat(),
        "corrects": None,
        "reason": reason,
    }
    body = {"device_now": NOW.isoformat(), "entries": [entry]}
    return floor_take(by=cast.cook, body=body, now=NOW).answers[0]


def test_a_lot_is_held_at_the_time_it_was_done_and_the_entry_sent_five_times_is_kept_once(
    cast: Cast, plan: Plan
) -> None:
    lot = a_lot(cast, plan, free=True)
    answers = [
        sent(cast, "lot_held", f"lot/{lot.code}", {"where": "top shelf"}, reason="Lid loose").outcome for _ in range(5)
    ]
    assert answers == ["kept", "known", "known", "known", "known"]
    entry = Entry.objects.get(kind="lot_held")
    assert entry.happened_at == NOW - timedelta(minutes=30)
    assert entry.content["where"] == "top shelf"
    assert Lot.objects.get().status == "held"


def test_a_count_and_a_discard_change_the_lot(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan, containers=10)
    subject = f"lot/{lot.code}"
    assert sent(cast, "lot_counted", subject, {"found": 9, "before": 10}, reason="Counted", key="a").outcome == "kept"
    assert sent(cast, "lot_discarded", subject, {"containers": 2}, reason="Leaks", key="b").outcome == "kept"
    assert Lot.objects.get().left == 7
    late = sent(cast, "lot_counted", subject, {"found": 10, "before": 10}, reason="Counted", key="c")
    assert (late.outcome, late.code) == ("refused", "lot-taken-meanwhile")


@pytest.mark.parametrize(
    ("kind", "content", "reason", "code"),
    [
        ("lot_held", {}, "", "reason-missing"),
        ("lot_discarded", {"containers": "two"}, "Leaks", "bad-count"),
        ("lot_discarded", {"containers": 99}, "Leaks", "lot-has-not-so-many"),
        ("lot_counted", {}, "Counted", "bad-count"),
    ],
)
def test_what_is_wrong_is_refused_with_a_sentence(
    cast: Cast, plan: Plan, kind: str, content: dict[str, Any], reason: str, code: str
) -> None:
    lot = a_lot(cast, plan, free=True)
    answer = sent(cast, kind, f"lot/{lot.code}", content, reason=reason)
    assert (answer.outcome, answer.code) == ("refused", code)
    assert answer.sentence
    assert not Entry.objects.filter(kind=kind).exists()


def test_a_breached_lot_is_not_released_through_this_door_either(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan, verdict="breached")
    answer = sent(cast, "lot_released", f"lot/{lot.code}", {}, reason="Smells fine")
    assert (answer.outcome, answer.code) == ("refused", "lot-not-yours-to-release")


def test_nobody_writes_a_better_verdict_into_the_book_than_the_log_has(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan)
    told = {"seen": "held", "verdict": "splendid"}
    answer = sent(cast, "lot_released", f"lot/{lot.code}", told, reason="Right", key="a")
    assert (answer.outcome, answer.code) == ("refused", "content-not-its-own")
    assert sent(cast, "lot_released", f"lot/{lot.code}", {"seen": "held"}, reason="Right", key="b").outcome == "kept"
    assert Entry.objects.get(kind="lot_released").content["verdict"] == "met"


def test_a_lot_that_is_not_there_is_refused(cast: Cast, plan: Plan) -> None:
    assert sent(cast, "lot_held", "lot/2702029999", {}, reason="Which one").outcome == "refused"


def test_bones_are_taken_with_their_unit(cast: Cast, plan: Plan) -> None:
    bones = bones_save(
        by=cast.cook,
        ingredient="frames",
        mass_kg=Decimal("10"),
        saved_on=date(2027, 2, 2),
        store="freezer",
        key="save",
        now=PACKED,
    )
    subject = f"bones/{bones.code}"
    assert sent(cast, "bones_used", subject, {"mass": "4 kg"}).outcome == "kept"
    assert sent(cast, "bones_used", subject, {"mass": "4"}, key="no unit").outcome == "refused"
    assert sent(cast, "bones_discarded", subject, {}, reason="Freezer burn", key="bin").outcome == "kept"
    assert Bones.objects.get().left_kg == 0
