"""Days of life and check characters against published examples."""

from __future__ import annotations

from datetime import date

import pytest

from production.domain.demand import use_by_date
from production.domain.records.dates import days_used, thawed_use_by
from production.domain.records.lots import check_character


def test_seven_days_from_the_first_of_july_end_on_the_seventh() -> None:
    # A city's notice on date marking under FDA Food Code 3-501.17(A): prepared July 1, discard July 7.
    assert use_by_date(made_on=date(2026, 7, 1), shelf_life_days=7) == date(2026, 7, 7)


def test_freezing_pauses_the_days_as_in_the_north_carolina_example() -> None:
    # North Carolina sheet of examples: cooked Oct 1 (day 1), Oct 2 (day 2), frozen Oct 3, thawed Oct 10 (day 3),
    # use by midnight of Oct 14 (day 7).
    used = days_used(made_on=date(2026, 10, 1), frozen_on=date(2026, 10, 3), count_freeze_day=False)
    assert used == 2
    assert thawed_use_by(thawed_on=date(2026, 10, 10), used_days=used) == date(2026, 10, 14)


@pytest.mark.parametrize(
    ("text", "character"),
    [
        ("A12425GABC1234002", "M"),  # IFPI GRid standard, example A1-2425G-ABC1234002-M, from memory
    ],
)
def test_the_check_character_is_the_one_of_the_published_example(text: str, character: str) -> None:
    assert check_character(text) == character
