"""What a schedule is worth, level by level."""

from __future__ import annotations

from dataclasses import replace

import pytest

from production.domain.schedule.greedy import greedy_schedule
from production.domain.schedule.levels import is_better, schedule_key
from production.domain.schedule.problem import Was
from production.domain.schedule.result import Schedule, Unplaced
from tests.domain.schedule.problems import DAY, draw, job, kitchen, option, stages

OUT = Unplaced(job="A", resource="pots", missing=1.0, unit="", sentence="", remedy="")


def test_calm_counts_the_end_from_now_and_the_night_of_a_run() -> None:
    problem = kitchen(
        job("A", option(chain=stages(simmer=(780, 780))))
    )  # 6:00 to 18:00, the simmer goes over the night
    schedule = greedy_schedule(problem)
    (run,) = schedule.runs
    night_min = 12 * 60

    assert run.start_min < 18 * 60 < 30 * 60 <= run.stages[-1].end_min
    assert schedule_key(problem, schedule)[3] == pytest.approx((run.stages[-1].end_min + night_min) / 60)


def test_calm_does_not_count_what_lies_before_now() -> None:
    problem = kitchen(job("A", option()), now_min=7 * 60)
    schedule = greedy_schedule(problem)

    end = schedule.runs[0].stages[-1].end_min
    assert schedule_key(problem, schedule)[3] == pytest.approx((end - 7 * 60) / 60)


def test_a_run_left_out_costs_what_waits_for_it_and_never_nothing() -> None:
    problem = kitchen(job("A", option(draws=(draw(due=DAY),))))
    nobody = kitchen(job("A", option()))
    empty = Schedule(status="empty", method="", runs=(), unplaced=(OUT,), late=(), lateness_h=0.0, seconds=0.0, seed=0)

    assert schedule_key(problem, empty)[0] == 1.0
    assert 0.0 < schedule_key(nobody, empty)[0] < 0.01


@pytest.mark.parametrize(("pot", "shift_min", "points"), [("K1", 0, 0.0), ("K1", 90, 51.5), ("K2", 0, 80.0)])
def test_a_move_costs_once_and_another_pot_more(pot: str, shift_min: int, points: float) -> None:
    plain = kitchen(job("A", option()))
    schedule = greedy_schedule(plain)
    start = schedule.runs[0].start_min
    moved = replace(plain, jobs=(replace(plain.jobs[0], was=Was(pot=pot, start_min=start + shift_min)),))

    assert schedule_key(moved, schedule)[2] == pytest.approx(points)


def test_an_earlier_level_decides_whatever_the_later_ones_say() -> None:
    assert is_better((0.0, 5.0, 9.0, 9.0), (0.0, 6.0, 0.0, 0.0))
    assert not is_better((1.0, 0.0, 0.0, 0.0), (0.0, 99.0, 99.0, 99.0))
    assert not is_better((0.0, 5.0, 0.0, 0.0), (0.0, 5.0 + 1e-9, 0.0, 0.0))
