"""Washing up does not wait for a later hour than it must."""

from __future__ import annotations

from dataclasses import replace

import pytest

from production.domain.schedule.check import check_schedule
from production.domain.schedule.greedy import greedy_schedule
from production.domain.schedule.problem import Problem
from production.domain.schedule.result import Placed, PlacedRun, Schedule
from production.domain.schedule.tidy import washed_soon
from tests.domain.schedule.problems import job, kitchen, option
from tests.domain.schedule.random_problems import random_week

H = 60


def later_washes(problem: Problem, schedule: Schedule, by_min: int) -> Schedule:
    """The same with the wash of the last run in time put off, where the checker lets it."""
    last = max(schedule.runs, key=lambda run: run.start_min)
    if last.wash is None:
        return schedule
    put_off = replace(last, wash=moved(last.wash, by_min))
    runs = tuple(put_off if run is last else run for run in schedule.runs)
    found = replace(schedule, runs=runs)
    return schedule if check_schedule(problem, found) else found


def moved(wash: Placed, by_min: int) -> Placed:
    return replace(wash, start_min=wash.start_min + by_min, end_min=wash.end_min + by_min)


def wash_of(run: PlacedRun) -> Placed:
    assert run.wash is not None
    return run.wash


def test_a_wash_that_was_put_off_comes_back_to_the_empty_pot() -> None:
    problem = kitchen(job("A", option()))
    schedule = greedy_schedule(problem)
    put_off = later_washes(problem, schedule, 2 * H)
    assert wash_of(put_off.runs[0]).start_min == wash_of(schedule.runs[0]).start_min + 2 * H
    assert washed_soon(problem, put_off) == schedule


@pytest.mark.parametrize("seed", range(12))
def test_no_wash_comes_later_and_every_limit_still_holds(seed: int) -> None:
    problem = random_week(seed)
    schedule = later_washes(problem, greedy_schedule(problem, explain=False), 3 * H)
    tidy = washed_soon(problem, schedule)
    assert check_schedule(problem, tidy) == ()
    before = {run.job: run for run in schedule.runs}
    for run in tidy.runs:
        assert replace(run, wash=None, pan_wash=None) == replace(before[run.job], wash=None, pan_wash=None)
        if run.wash is not None:
            assert run.wash.start_min <= wash_of(before[run.job]).start_min
