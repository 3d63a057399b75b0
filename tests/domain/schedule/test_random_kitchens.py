"""Random small kitchens: whatever the scheduler returns, the second reader finds nothing wrong with it."""

from __future__ import annotations

import pytest

from production.domain.schedule.check import check_schedule
from production.domain.schedule.greedy import greedy_schedule
from tests.domain.schedule.problems import random_problem


@pytest.mark.long
@pytest.mark.parametrize("block", range(12))
def test_every_schedule_of_a_random_kitchen_passes_the_check(block: int) -> None:
    placed = 0
    for seed in range(block * 20, block * 20 + 20):
        problem = random_problem(seed)
        schedule = greedy_schedule(problem, seed=seed, passes=1 + seed % 3)
        assert check_schedule(problem, schedule) == (), f"random kitchen {seed}"
        assert len(schedule.runs) + len(schedule.unplaced) == len(problem.jobs)
        placed += len(schedule.runs)
    assert placed >= 10
