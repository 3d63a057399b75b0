"""Entries of the floor: each answered by itself, kept once, in the kitchen's time."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.db import OperationalError
from django.http import Http404

from production.domain.errors import NotAllowed, PotwrightError
from production.models import Entry, Membership
from production.services import floor
from production.services.floor import Taken, floor_take
from production.services.floor_answers import Answer, Question, draft_kept
from production.services.floor_reading import MOST_ENTRIES
from production.services.records import Draft
from tests.conftest import Cast

NOW = datetime(2027, 2, 2, 17, 0, tzinfo=UTC)


def taste(by: Membership, draft: Draft, now: datetime) -> Answer:
    """A kind of entry that only these tests know."""
    said = draft.content.get("taste")
    if said == "stolen":
        raise Http404
    if said == "mad":
        raise ZeroDivisionError
    question = Question(code="too-salty", sentence="Is it really that salty?") if said == "salty" else None
    return draft_kept(by=by, draft=draft, now=now, question=question)[0]


@pytest.fixture(autouse=True)
def tasting(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(floor.KINDS, "tasted", taste)


def entry(key: str = "k1", at: datetime = NOW, **changes: Any) -> dict[str, Any]:
    said: dict[str, Any] = {"key": key, "kind": "tasted", "subject": "run/2027-02-01/R1", "content": {"taste": "good"}}
    return said | {"happened_at": at.isoformat(), "corrects": None, "reason": ""} | changes


def take(by: Membership, *entries: Any, device_now: datetime | None = NOW, now: datetime = NOW) -> Taken:
    said = device_now.isoformat() if device_now else None
    return floor_take(by=by, body={"device_now": said, "entries": list(entries)}, now=now)


def test_an_entry_is_kept_with_who_and_when(cast: Cast) -> None:
    answer = take(cast.cook, entry()).answers[0]
    row = Entry.objects.get()
    assert (answer.outcome, answer.number, row.by, row.happened_at) == ("kept", 1, cast.cook.user, NOW)


def test_the_same_entry_five_times_is_kept_once(cast: Cast) -> None:
    outcomes = [take(cast.cook, entry()).answers[0].outcome for _ in range(5)]
    assert outcomes == ["kept", "known", "known", "known", "known"]
    assert Entry.objects.count() == 1


def test_five_times_in_one_post_too(cast: Cast) -> None:
    taken = take(cast.cook, *[entry()] * 5)
    assert [each.outcome for each in taken.answers] == ["kept", *["known"] * 4]


def test_a_broken_entry_stops_no_other(cast: Cast) -> None:
    broken: list[Any] = [
        "nonsense",
        {"key": "k2"},
        entry("k3", happened_at="noon"),
        entry("k4", happened_at="2027-02-02T10:00:00"),
        entry("k5", content={"taste": 1.5}),
        entry("k6", content={"taste": "a\x00b"}),
        entry("k7", kind="never_heard_of"),
        entry("k8", content={"taste": "stolen"}),
        entry("k9", content={"taste": "mad"}),
        entry("k10", content={"taste": [[[[["deep"]]]]]}),
        entry("k11", happened_at="0001-01-01T00:00:00+14:00"),
        entry("k12", corrects="nothing", reason="typing mistake"),
        entry("k13", content={"taste": 2**60}),
        entry("k14", happened_at="1970-01-01T00:00:00Z"),
        entry("k" * 81),
    ]
    taken = take(cast.cook, entry("first"), *broken, entry("last"))
    assert [each.outcome for each in taken.answers] == ["kept", *["refused"] * len(broken), "kept"]
    assert [each.code for each in taken.answers[1:-1]] == [
        "entries-unreadable",
        "entries-unreadable",
        "time-unreadable",
        "time-unreadable",
        "content-not-plain",
        "content-not-plain",
        "unknown-entry-kind",
        "not-found",
        "entry-fault",
        "content-not-plain",
        "time-unreadable",
        "nothing-to-correct",
        "content-not-plain",
        "time-unreadable",
        "entries-unreadable",
    ]
    assert all(each.sentence and each.remedy for each in taken.answers[1:-1])
    assert [row.key for row in Entry.objects.order_by("number")] == ["first", "last"]


def test_a_question_is_kept_and_asked_again_with_every_repetition(cast: Cast) -> None:
    salty = entry(content={"taste": "salty"})
    first, again = (take(cast.cook, salty).answers[0] for _ in range(2))
    assert (first.outcome, again.outcome) == ("questioned", "known")
    assert first.code == again.code == "too-salty"
    assert first.sentence == again.sentence == "Is it really that salty?"


def test_another_record_under_a_known_key_is_refused(cast: Cast) -> None:
    take(cast.cook, entry())
    answer = take(cast.cook, entry(content={"taste": "bad"})).answers[0]
    assert (answer.outcome, answer.code) == ("refused", "key-used-for-other-record")
    assert Entry.objects.get().content == {"taste": "good"}


def test_a_tablet_ten_minutes_slow_is_noticed_and_its_times_are_put_right(cast: Cast) -> None:
    slow = NOW - timedelta(minutes=10)
    taken = take(cast.cook, entry(at=slow - timedelta(minutes=1)), device_now=slow)
    assert "about 10 min slow" in taken.notice
    row = Entry.objects.get()
    assert row.happened_at == NOW - timedelta(minutes=1)
    assert row.content["device_offset_s"] == 600


def test_the_same_entry_of_a_wrong_clock_is_known_although_the_post_took_other_seconds(cast: Cast) -> None:
    slow = NOW - timedelta(minutes=10)
    for seconds in (0, 4):
        later = NOW + timedelta(seconds=seconds)
        outcome = take(cast.cook, entry(at=slow), device_now=slow, now=later).answers[0].outcome
    assert outcome == "known"
    assert take(cast.cook, entry(at=slow), device_now=NOW).answers[0].outcome == "known"  # set right meanwhile


def test_a_clock_that_is_a_minute_off_is_left_alone(cast: Cast) -> None:
    taken = take(cast.cook, entry(), device_now=NOW - timedelta(seconds=60))
    assert (taken.notice, Entry.objects.get().happened_at) == ("", NOW)


def test_a_fast_clock_does_not_reach_into_the_future(cast: Cast) -> None:
    fast = NOW + timedelta(minutes=10)
    taken = take(cast.cook, entry(at=fast), device_now=fast)
    assert "fast" in taken.notice
    assert Entry.objects.get().happened_at == NOW
    ahead = take(cast.cook, entry("k2", at=NOW + timedelta(minutes=3))).answers[0]
    assert (ahead.outcome, ahead.code) == ("refused", "in-the-future")


def test_a_correction_needs_a_reason_and_an_entry_of_the_own_kitchen(cast: Cast) -> None:
    take(cast.cook, entry())
    no_reason, other, good = take(
        cast.cook,
        entry("k2", corrects="k1"),
        entry("k3", corrects="k0", reason="slip"),
        entry("k4", corrects="k1", reason="slip"),
    ).answers
    assert (no_reason.code, other.code, good.outcome) == ("reason-missing", "nothing-to-correct", "kept")
    assert take(cast.outsider, entry("k9", corrects="k1", reason="slip")).answers[0].code == "nothing-to-correct"


@pytest.mark.parametrize("role", ["inspector", "administrator"])
def test_who_may_not_record_is_refused(cast: Cast, role: str) -> None:
    with pytest.raises(NotAllowed):
        take(getattr(cast, role), entry())
    assert not Entry.objects.exists()


@pytest.mark.parametrize("body", [b"", b"[]", b"\xff", b"{", b'{"entries": 1}', b"[" * 100_000, b" " * 300_000])
def test_a_post_that_cannot_be_read_is_refused_whole(cast: Cast, body: bytes) -> None:
    with pytest.raises(PotwrightError):
        floor_take(by=cast.cook, body=body, now=NOW)


def test_a_queue_that_is_too_long_is_sent_in_parts(cast: Cast) -> None:
    with pytest.raises(PotwrightError, match="at most"):
        take(cast.cook, *[entry()] * (MOST_ENTRIES + 1))


def test_a_database_that_is_away_is_no_answer(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    def away(by: Membership, draft: Draft, now: datetime) -> Answer:
        raise OperationalError

    monkeypatch.setitem(floor.KINDS, "tasted", away)
    with pytest.raises(OperationalError):
        take(cast.cook, entry())


def test_entries_of_a_sender_without_a_clock_count_as_said(cast: Cast) -> None:
    take(cast.cook, entry(at=NOW - timedelta(hours=3)), device_now=None)
    assert Entry.objects.get().happened_at == NOW - timedelta(hours=3)
