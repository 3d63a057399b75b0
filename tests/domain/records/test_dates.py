"""How long a lot lives."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from production.domain.errors import OutOfRange
from production.domain.records.dates import day_one, days_used, life_of, thawed_use_by

DENVER = ZoneInfo("America/Denver")


def test_day_one_is_the_kitchens_own_day_and_not_that_of_utc() -> None:
    late = datetime(2027, 2, 3, 5, 30, tzinfo=UTC)  # 22:30 of the day before in Denver
    assert day_one(cooked_at=[late], zone=DENVER) == date(2027, 2, 2)


def test_pooled_broth_keeps_the_day_of_its_oldest_part() -> None:
    first, second = datetime(2027, 2, 1, 20, tzinfo=UTC), datetime(2027, 2, 3, 20, tzinfo=UTC)
    assert day_one(cooked_at=[second, first], zone=DENVER) == date(2027, 2, 1)


def test_a_chilled_lot_within_seven_days_needs_no_caution() -> None:
    life = life_of(made_on=date(2027, 2, 2), packed_on=date(2027, 2, 2), frozen=False, shelf_life_days=7)
    assert (life.use_by, life.cautions) == (date(2027, 2, 8), ())


def test_a_chilled_lot_of_eight_days_says_that_the_plan_must_cover_it() -> None:
    life = life_of(made_on=date(2027, 2, 2), packed_on=date(2027, 2, 2), frozen=False, shelf_life_days=8)
    assert "longer than the 7 days" in life.cautions[0]


def test_packs_sealed_hot_get_seven_days_at_most_and_a_caution() -> None:
    life = life_of(
        made_on=date(2027, 2, 2), packed_on=date(2027, 2, 2), frozen=False, shelf_life_days=20, sealed_hot=True
    )
    assert life.use_by == date(2027, 2, 8)
    assert any("another business" in each for each in life.cautions)


def test_a_frozen_lot_says_how_many_days_are_left_after_thawing() -> None:
    life = life_of(made_on=date(2027, 2, 2), packed_on=date(2027, 2, 3), frozen=True, shelf_life_days=90)
    assert life.days_used == 2  # the day of freezing counts: the careful choice
    assert "within 5 days" in life.cautions[0]


def test_frozen_on_the_last_day_leaves_none_after_thawing() -> None:
    life = life_of(made_on=date(2027, 2, 2), packed_on=date(2027, 2, 8), frozen=True, shelf_life_days=90)
    assert "no day of use is left" in life.cautions[0]
    with pytest.raises(OutOfRange, match="no day is left"):
        thawed_use_by(thawed_on=date(2027, 3, 1), used_days=life.days_used)


def test_nothing_is_frozen_before_it_was_made() -> None:
    with pytest.raises(OutOfRange, match="before it was made"):
        days_used(made_on=date(2027, 2, 2), frozen_on=date(2027, 2, 1), count_freeze_day=False)
