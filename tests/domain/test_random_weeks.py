"""Made-up kitchens through the whole pipeline: every plan is checked, and every container is served or explained."""

from __future__ import annotations

import pytest

from production.domain.week_file import dumps_week, parse_week
from tests.kitchens import SIZES, random_week


@pytest.mark.parametrize("size", SIZES)
def test_a_made_up_kitchen_passes_the_reader_of_week_files(size: str) -> None:
    for seed in range(5):
        week = random_week(size, seed)
        assert parse_week(dumps_week(week).encode()) == week


def test_a_made_up_kitchen_has_the_size_it_is_named_for() -> None:
    for size, pots, lines in (("small", 5, 15), ("medium", 12, 60), ("large", 40, 400)):
        for seed in range(5):
            week = random_week(size, seed)
            assert (len(week.pots), len(week.order_lines)) == (pots, lines)
            assert any(pot.reduction_pan for pot in week.pots) == (size != "small")
