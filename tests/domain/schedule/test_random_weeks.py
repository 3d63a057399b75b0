"""Random weeks of whole kitchens: whatever is planned, also from mid-week on, passes the second reader."""

from __future__ import annotations

import pytest

from production.domain.schedule.check import check_schedule
from production.domain.schedule.greedy import greedy_schedule
from tests.domain.schedule.random_problems import MEDIUM, SMALL, TINY, Size, later, random_week

WEDNESDAY_10 = 2 * 1440 + 600


@pytest.mark.long
@pytest.mark.parametrize("block", range(5))
def test_random_weeks_pass_the_check_from_the_start_and_from_any_later_minute(block: int) -> None:
    placed = joined = begun = 0
    for seed in range(block * 40, block * 40 + 40):
        problem = random_week(seed, TINY)
        schedule = greedy_schedule(problem, seed=seed, explain=seed % 4 == 0)
        assert check_schedule(problem, schedule) == (), f"random week {seed}"
        placed += len(schedule.runs)
        there = {run.job for run in schedule.runs}
        joined += sum(join.host in there for join in problem.joins)

        rest = later(problem, schedule, 700 + 17 * seed)
        again = greedy_schedule(rest, seed=seed, explain=False)
        assert check_schedule(rest, again) == (), f"random week {seed}, later"
        held = {job.code for job in rest.jobs if job.start_at_min is not None}
        assert held <= {run.job for run in again.runs}, f"random week {seed}: what has begun goes on"
        begun += len(held)
    assert placed >= 120
    assert joined >= 1
    assert begun >= 5


@pytest.mark.long
@pytest.mark.parametrize(("size", "seed"), [(SMALL, 1), (SMALL, 2), (SMALL, 3), (MEDIUM, 1), (MEDIUM, 2)])
def test_larger_random_weeks_pass_the_check_and_are_planned_again_on_wednesday(size: Size, seed: int) -> None:
    problem = random_week(seed, size)
    schedule = greedy_schedule(problem)
    assert check_schedule(problem, schedule) == ()
    assert len(schedule.runs) > size.runs / 2

    rest = later(problem, schedule, WEDNESDAY_10)
    assert check_schedule(rest, greedy_schedule(rest)) == ()
