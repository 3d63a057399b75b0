"""The critical chain: each link names what a run waits for and who has it, back to the hours of the kitchen."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from production.domain.schedule.chain import Link, critical_chain
from production.domain.schedule.greedy import greedy_schedule
from production.domain.schedule.problem import Window
from tests.domain.schedule.problems import DAY, draw, job, kitchen, option, shifts
from tests.domain.schedule.random_problems import SMALL, random_week

A, B, C = (job(code, option(draws=(draw(due=due),))) for code, due in [("A", 700), ("B", 800), ("C", 900)])


def test_a_chain_goes_from_run_to_run_in_one_pot_and_ends_at_the_hours() -> None:
    problem = kitchen(A, B, C, cooks=shifts(3, end_h=22))
    schedule = greedy_schedule(problem)

    assert critical_chain(problem, schedule, "C") == (
        Link(job="C", resource="pots", code="K1", what="load", from_min=855, until_min=870, blocked_by=("B",)),
        Link(job="B", resource="pots", code="K1", what="load", from_min=600, until_min=615, blocked_by=("A",)),
        Link(job="A", resource="hours", code="", what="load", from_min=345, until_min=360, blocked_by=()),
    )


def test_a_chain_names_the_ice_and_the_run_that_took_it() -> None:
    problem = kitchen(A, replace(B, options=(option(pot="K2", draws=(draw(due=800),)),)), ice_bin_kg=10.0)
    schedule = greedy_schedule(problem)

    # The bin is empty at 600 and full at 700: 705 is the first draw-off on the grid, 690 the last that is too early.
    ice, hours = critical_chain(problem, schedule, "B")
    assert ice == Link(job="B", resource="ice", code="", what="first", from_min=690, until_min=705, blocked_by=("A",))
    assert hours.resource == "hours"


def test_a_chain_ends_at_what_has_begun_and_at_goods() -> None:
    problem = kitchen(replace(A, start_at_min=330), B, now_min=400)
    schedule = greedy_schedule(problem)
    assert [(link.job, link.blocked_by) for link in critical_chain(problem, schedule, "B")] == [("B", ("A",))]
    assert critical_chain(problem, schedule, "A") == ()

    waits = kitchen(replace(A, release_min=500))
    (goods,) = critical_chain(waits, greedy_schedule(waits), "A")
    assert (goods.resource, goods.until_min) == ("ingredients", 510)


def test_a_run_that_nothing_holds_and_a_run_that_is_left_out_have_no_chain() -> None:
    open_all_day = kitchen(A, cooks=(Window(start_min=0, end_min=3 * DAY, amount=2),))
    assert critical_chain(open_all_day, greedy_schedule(open_all_day), "A") == ()

    left_out = kitchen(A, sinks=0)
    assert critical_chain(left_out, greedy_schedule(left_out), "A") == ()


def test_a_chain_has_at_most_six_links() -> None:
    queue = [job(f"R{number}", option(draws=(draw(due=700 + number),))) for number in range(9)]
    problem = kitchen(*queue, days=9, cooks=shifts(9, start_h=0, end_h=24))
    schedule = greedy_schedule(problem)

    chain = critical_chain(problem, schedule, "R8")
    assert [link.job for link in chain] == ["R8", "R7", "R6", "R5", "R4", "R3"]


def test_every_late_run_of_random_weeks_has_a_chain_through_runs_of_the_plan() -> None:
    late = 0
    for seed in range(6):
        problem = random_week(seed, SMALL)
        schedule = greedy_schedule(problem, explain=False)
        placed = {run.job for run in schedule.runs}
        for code in {item.job for item in schedule.late}:
            chain = critical_chain(problem, schedule, code)
            late += 1
            assert chain[0].job == code
            assert all(link.from_min < link.until_min for link in chain)
            assert all(placed.issuperset(link.blocked_by) for link in chain)
            assert all(after.job in before.blocked_by for before, after in pairwise(chain))
            assert all(after.until_min < before.until_min for before, after in pairwise(chain))
    assert late >= 2
