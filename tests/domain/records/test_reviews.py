"""Working days, signatures and dispositions."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.domain.errors import NotAllowed, PotwrightError
from production.domain.records.actions import Kind
from production.domain.records.reviews import (
    ToSign,
    dispositions_for,
    overdue_up_to,
    quarter_of,
    refuse_signature,
    working_days_after,
)

days = st.dates(min_value=date(2020, 1, 1), max_value=date(2040, 12, 31))


@pytest.mark.parametrize(
    ("made", "last"),
    [
        (date(2026, 11, 27), date(2026, 12, 8)),  # a Friday: Mon 30 Nov is the first of seven
        (date(2026, 11, 28), date(2026, 12, 8)),  # a Saturday
        (date(2026, 11, 30), date(2026, 12, 9)),  # a Monday
    ],
)
def test_seven_working_days_leave_weekends_out(made: date, last: date) -> None:
    assert working_days_after(day=made, days=7) == last


@given(today=days, allowed=st.integers(min_value=1, max_value=20))
def test_what_is_overdue_today_is_exactly_what_was_made_up_to_one_day(today: date, allowed: int) -> None:
    newest = overdue_up_to(today=today, days=allowed)
    assert working_days_after(day=newest, days=allowed) < today
    assert working_days_after(day=newest + timedelta(days=1), days=allowed) >= today


@given(day=days)
def test_a_quarter_holds_its_day_and_three_months(day: date) -> None:
    first, last = quarter_of(day=day)
    assert first <= day <= last
    assert first.day == 1
    assert (last + timedelta(days=1)).day == 1
    assert 90 <= (last - first).days + 1 <= 92


FIT = ToSign(
    meaning="approval",
    verdict="met",
    recorded_by=("Kim",),
    is_own=False,
    signed_by="",
    open_deviations=(),
    seen=7,
    newest=7,
)


def test_a_closed_log_of_others_that_was_seen_whole_can_be_signed() -> None:
    refuse_signature(FIT)
    refuse_signature(replace(FIT, meaning="review", verdict="breached", open_deviations=(3,)))


@pytest.mark.parametrize(
    ("asked", "code"),
    [
        (replace(FIT, meaning="fine"), "signature-without-meaning"),
        (replace(FIT, verdict=""), "review-of-open-log"),
        (replace(FIT, is_own=True), "reviewer-recorded"),
        (replace(FIT, signed_by="Lee"), "signed-already"),
        (replace(FIT, newest=8), "log-changed-meanwhile"),
        (replace(FIT, open_deviations=(3,)), "approval-before-closing"),
    ],
)
def test_a_signature_that_could_not_stand_for_what_it_says_is_refused(asked: ToSign, code: str) -> None:
    with pytest.raises(PotwrightError) as caught:
        refuse_signature(asked)
    assert caught.value.code == code
    assert caught.value.remedy


def test_own_work_is_a_matter_of_the_role_and_a_changed_log_one_of_time() -> None:
    with pytest.raises(NotAllowed):
        refuse_signature(replace(FIT, is_own=True))


@pytest.mark.parametrize(
    ("verdict", "allowed", "again", "food", "wanted"),
    [
        ("breached", {Kind.DISCARD, Kind.HOLD}, False, True, ("discard", "release")),
        ("breached", {Kind.DISCARD}, False, True, ("discard",)),
        ("not_shown", {Kind.HOLD, Kind.DISCARD}, True, False, ("discard", "reheat", "release")),
        ("met", set(), False, True, ("none", "discard", "release")),
        ("", set(), False, False, ("none",)),
    ],
)
def test_what_may_become_of_the_food_follows_the_rule(
    verdict: str, allowed: set[Kind], again: bool, food: bool, wanted: tuple[str, ...]
) -> None:
    found = dispositions_for(verdict=verdict, allowed=allowed, has_next_attempt=again, holds_food=food)
    assert found == wanted
