"""Pans, joined reductions and begun runs as they are placed: cases that can be worked out by hand."""

from __future__ import annotations

import time
from dataclasses import replace

from production.domain.schedule.check import check_schedule
from production.domain.schedule.greedy import greedy_schedule
from production.domain.schedule.problem import AdditionTask, IceDelivery, Problem, Window
from production.domain.schedule.result import PlacedRun
from tests.domain.schedule.problems import DAY, draw, job, kitchen, option, shifts
from tests.domain.schedule.random_problems import SMALL, random_week
from tests.domain.schedule.test_check_pans import GUEST, HOST, NEXT, joined, two_draws


def placed(problem: Problem) -> dict[str, PlacedRun]:
    schedule = greedy_schedule(problem)
    assert check_schedule(problem, schedule) == ()
    assert schedule.unplaced == ()
    return {run.job: run for run in schedule.runs}


def test_a_run_that_moves_into_a_pan_leaves_its_pot_to_the_next_run() -> None:
    in_pan, in_pot = job("A", two_draws("K1", pan="P1")), job("A", two_draws("K1"))
    next_run = job("N", option(pot="K1", draws=(draw(due=5000),)))
    long_day = shifts(3, start_h=0, end_h=24)

    early, late = (placed(kitchen(each, next_run, cooks=long_day)) for each in (in_pan, in_pot))

    # Poured over after 330 minutes, the pot is washed at 345; reduced in the pot, it is washed 80 minutes later, and
    # 435 is the next start on the grid.
    assert [early[code].start_min for code in "AN"] == [0, 345]
    assert [late[code].start_min for code in "AN"] == [0, 435]
    assert (early["A"].pan, late["A"].pan) == ("P1", "")
    assert (early["A"].pot_free_min, late["A"].pot_free_min) == (345, 425)


def test_runs_that_are_reduced_together_are_poured_over_in_one_minute() -> None:
    runs = placed(joined(HOST, GUEST, NEXT))

    assert runs["H"].stages[6].start_min == runs["G"].stages[6].start_min


def test_the_host_waits_for_a_guest_that_comes_later() -> None:
    late_goods = replace(GUEST, release_min=420)

    runs = placed(joined(HOST, late_goods))

    # The guest is poured over at 420 + 310 = 730 at the earliest; the host starts later and need not be held longer.
    assert (runs["H"].stages[6].start_min, runs["G"].stages[6].start_min) == (730, 730)
    assert runs["H"].start_min == 420


def test_a_reduction_for_which_hands_are_missing_is_left_out_with_all_of_its_runs() -> None:
    schedule = greedy_schedule(joined(HOST, GUEST, cooks=1))

    assert schedule.runs == ()
    assert {(item.job, item.resource, item.missing) for item in schedule.unplaced} == {
        ("H", "cooks", 1.0),
        ("G", "cooks", 1.0),
    }
    alone = kitchen(HOST, cooks=shifts(3, amount=1, end_h=22))
    assert greedy_schedule(alone).status == "complete"


def test_host_and_guest_that_share_their_only_pot_cannot_be_reduced_together() -> None:
    same_pot = replace(GUEST, options=(replace(GUEST.options[0], pot="K1"),))
    other_way = replace(GUEST, options=(*same_pot.options, GUEST.options[0]))

    assert greedy_schedule(joined(HOST, same_pot)).runs == ()
    assert placed(joined(HOST, other_way))["G"].pot == "K2"


def test_one_cook_washes_the_pot_when_the_reduction_in_the_pan_leaves_a_hand_free() -> None:
    run = placed(kitchen(HOST, cooks=shifts(3, amount=1, end_h=22)))["H"]

    assert run.wash is not None
    assert run.pan_wash is not None
    portion = run.stages[8]
    assert run.wash.end_min <= portion.start_min or run.wash.start_min >= portion.end_min
    assert run.pan_wash.start_min >= portion.end_min


def test_what_has_begun_goes_first_even_where_others_are_due_sooner() -> None:
    begun = replace(job("A", option(draws=(draw(due=3000),))), start_at_min=345)
    urgent = job("B", option(draws=(draw(due=700),)))

    runs = placed(kitchen(begun, urgent, now_min=400))

    assert (runs["A"].start_min, runs["B"].start_min) == (345, 600)


def test_a_begun_addition_and_a_begun_wash_keep_their_minutes() -> None:
    done = AdditionTask(name="herbs", stage=2, before_end_min=60, cook_min=10, done_at_min=450)
    begun = replace(job("A", option(additions=(done,))), start_at_min=345, washed_at_min=590)

    run = placed(kitchen(begun, now_min=595))["A"]

    assert run.wash is not None
    assert (run.additions[0].start_min, run.wash.start_min) == (450, 590)


def test_a_locked_run_stands_and_the_others_go_round_it() -> None:
    locked = replace(job("A", option(draws=(draw(due=3000),))), start_at_min=480)
    urgent = job("B", option(draws=(draw(due=700),)))

    runs = placed(kitchen(locked, urgent, cooks=shifts(3, end_h=22)))

    assert (runs["A"].start_min, runs["B"].start_min) == (480, 735)


def test_ice_bought_in_lets_a_draw_go_earlier_but_does_not_take_what_a_later_one_needs() -> None:
    def draws(*bought: IceDelivery) -> list[int]:
        two = job("A", option(draws=(draw(due=660),))), job("B", option(pot="K2", draws=(draw(due=3000),)))
        runs = placed(kitchen(*two, ice_bin_kg=10.0, ice_kg_per_min=0.1, ice_deliveries=bought))
        return [runs[code].coolings[0].start_min for code in "AB"]

    assert draws() == [600, 705]
    assert draws(IceDelivery(minute=630, mass_kg=10.0)) == [600, 630]
    assert draws(IceDelivery(minute=599, mass_kg=10.0)) == [600, 705]


def test_passes_end_with_the_time_that_is_given() -> None:
    problem = random_week(0, SMALL)
    began = time.process_time()

    limited = greedy_schedule(problem, passes=100_000, seconds=0.3, explain=False)

    assert time.process_time() - began < 3
    assert check_schedule(problem, limited) == ()


def test_without_reasons_the_schedule_is_the_same_but_for_its_sentences() -> None:
    problem = kitchen(
        *(job(code, option(draws=(draw(due=700),))) for code in "ABC"),
        outages=(("K1", Window(start_min=2 * DAY, end_min=2 * DAY + 60)),),
    )
    told, bare = greedy_schedule(problem), greedy_schedule(problem, explain=False)

    assert tuple(replace(run, why_here="") for run in told.runs) == bare.runs
    assert [(late.job, late.ready_min) for late in told.late] == [(late.job, late.ready_min) for late in bare.late]
    assert all(run.why_here for run in told.runs)
    assert not any(run.why_here for run in bare.runs)
