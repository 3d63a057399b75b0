"""Cases whose answer can be worked out by hand. Shifts are 06:00 (360) to 18:00 (1080) unless a test says otherwise."""

from __future__ import annotations

import pytest

from production.domain.schedule.check import check_schedule
from production.domain.schedule.greedy import greedy_schedule
from production.domain.schedule.problem import AdditionTask, CoolingMode, Draw, Due, Keep, Problem, Stage, Window
from production.domain.schedule.result import PlacedRun, Schedule
from tests.domain.schedule.problems import BATH, draw, job, kitchen, option, random_problem, shifts, stages

FAST = CoolingMode(name="chill", places=(("chiller", 1),), minutes=30, ice_kg=0.0)


def plan(problem: Problem) -> Schedule:
    schedule = greedy_schedule(problem)
    assert check_schedule(problem, schedule) == ()
    return schedule


def placed(problem: Problem) -> dict[str, PlacedRun]:
    schedule = plan(problem)
    assert schedule.unplaced == ()
    return {run.job: run for run in schedule.runs}


def test_one_run_in_one_pot_ends_after_the_sum_of_its_stages() -> None:
    run = placed(kitchen(job("A", option())))["A"]

    assert [(stage.name, stage.start_min, stage.end_min) for stage in run.stages] == [
        ("load", 360, 390),
        ("heat_up", 390, 450),
        ("simmer", 450, 570),
        ("draw_off", 570, 600),
    ]
    assert run.wash is not None
    assert (run.wash.start_min, run.pot_free_min) == (600, 615)
    assert (run.coolings[0].start_min, run.coolings[0].end_min, run.coolings[0].ready_min) == (600, 660, 660)


def test_a_run_without_draws_and_without_a_wash_frees_its_pot_at_the_end_of_its_chain() -> None:
    run = placed(kitchen(job("A", option(draws=(), wash_min=0))))["A"]

    assert run.wash is None
    assert run.pot_free_min == 600


def test_two_runs_with_one_cook_never_need_the_cook_twice() -> None:
    runs = placed(kitchen(job("A", option()), job("B", option(pot="K2")), cooks=shifts(1, amount=1), days=1))

    # A: hands on 360-390, 570-600, wash 600-615. B draws off at its start + 210: from 405 on both fit between.
    assert (runs["A"].start_min, runs["B"].start_min) == (360, 405)


def test_a_long_simmer_crosses_the_night_and_starts_as_late_as_its_end_allows() -> None:
    run = placed(kitchen(job("A", option(chain=stages(simmer=(600, 960))))))["A"]

    # By day it would be cooled after 18:00, so it is drawn off at 06:00 (1800); heating must end by 18:00 (1080).
    assert [(stage.start_min, stage.end_min) for stage in run.stages] == [
        (990, 1020),
        (1020, 1080),
        (1080, 1800),
        (1800, 1830),
    ]


def test_a_long_simmer_finds_no_time_where_the_night_is_forbidden() -> None:
    schedule = plan(kitchen(job("A", option(chain=stages(simmer=(600, 960)))), unattended=False))

    # Chain and cooling take 13 h, the shift has 12 h: half an hour at both ends is enough.
    assert schedule.status == "empty"
    assert (schedule.unplaced[0].resource, schedule.unplaced[0].missing, schedule.unplaced[0].unit) == (
        "hours",
        0.5,
        "h",
    )


def test_cooling_lies_in_staffed_time() -> None:
    slow = CoolingMode(name="bath", places=(("sink", 1),), minutes=600, ice_kg=0.0)
    run = placed(kitchen(job("A", option(draws=(draw(modes=(slow,)),), chain=stages(simmer=(120, 900))))))["A"]

    # 10 h of cooling fit only if they begin between 06:00 and 08:00: the simmer runs through the night.
    assert run.coolings[0].start_min == 1830


def test_a_pot_is_soaked_after_fish_before_poultry() -> None:
    fish = job("A", option(), allergens=["fish"])

    runs = placed(kitchen(fish, job("B", option()), soak_min=60))
    assert (runs["A"].pot_free_min, runs["B"].start_min) == (615, 675)

    runs = placed(kitchen(fish, job("B", option(), allergens=["fish", "celery"]), soak_min=60))
    assert runs["B"].start_min == 615


def test_a_run_before_a_placed_one_leaves_time_to_soak() -> None:
    # B is placed first and cannot start before 735; A is washed at 615 and soaked at 735, or 765 with the longer soak.
    late_goods = job("B", option(draws=(draw(due=1100),)), release_min=735)
    fish = job("A", option(draws=(draw(due=1400),)), allergens=["fish"])

    runs = placed(kitchen(late_goods, fish, soak_min=120))
    assert runs["B"].start_min == 735
    assert runs["A"].start_min == 360

    runs = placed(kitchen(late_goods, fish, soak_min=150))
    assert runs["B"].start_min == 735
    assert runs["A"].start_min > 735


@pytest.mark.parametrize(("outage", "start"), [((640, 700), 765), ((615, 700), 765), ((680, 700), 705)])
def test_a_pot_out_of_order_cannot_soak(outage: tuple[int, int], start: int) -> None:
    problem = kitchen(
        job("A", option(), allergens=["fish"]),
        job("B", option()),
        soak_min=60,
        outages=(("K1", Window(start_min=outage[0], end_min=outage[1])),),
    )

    assert placed(problem)["B"].start_min == start


def test_a_soak_before_a_placed_run_does_not_fall_into_an_outage() -> None:
    outage = ("K1", Window(start_min=680, end_min=735))

    problem = kitchen(
        job("B", option(draws=(draw(due=1100),)), release_min=735),
        job("A", option(draws=(draw(due=1400),)), allergens=["fish"]),
        soak_min=65,
        outages=(outage,),
    )

    # A ends its wash at 615 and can soak until 680; with five minutes more it could not.
    assert placed(problem)["A"].start_min == 360


def test_a_second_draw_waits_until_the_ice_bin_has_refilled() -> None:
    runs = placed(kitchen(job("A", option()), job("B", option(pot="K2")), ice_bin_kg=10.0, ice_kg_per_min=0.1))

    # The bin is empty at 600 and full again at 700; 705 is the first draw-off on the grid.
    assert (runs["A"].coolings[0].start_min, runs["B"].coolings[0].start_min) == (600, 705)


def test_an_earlier_draw_leaves_the_ice_that_a_placed_later_one_needs() -> None:
    first = job("A", option(draws=(draw(due=900),)), release_min=585)  # placed first, draws 10 kg at 825
    second = job("B", option(pot="K2", draws=(draw(due=1440),)))

    runs = placed(kitchen(first, second, ice_bin_kg=15.0, ice_kg_per_min=0.02))

    # At 600 the bin would hold 5 kg after B and 9.5 kg at 825: A would starve. B at 585 + 240 = 825 and later: 5 kg at
    # 825, 10 kg at 1075 are too late for staffed cooling; so B is drawn off on the next day at 06:00 or after.
    assert runs["A"].coolings[0].start_min == 825
    assert runs["B"].coolings[0].start_min >= 1800


def test_ice_that_the_full_bin_would_have_spilled_counts_for_both_draws() -> None:
    first = job("A", option(draws=(draw(due=900),)), release_min=585)
    second = job("B", option(pot="K2", draws=(draw(due=1440),)))

    runs = placed(kitchen(first, second, ice_bin_kg=15.0, ice_kg_per_min=0.03))

    # 5 kg left at 600 and 0.03 x 225 = 6.75 kg more at 825: enough for A's 10 kg.
    assert (runs["A"].coolings[0].start_min, runs["B"].coolings[0].start_min) == (825, 600)


def test_two_draws_of_one_run_share_the_ice_bin() -> None:
    chain = (*stages(), Stage(kind="simmer", shortest_min=30, longest_min=300), stages()[3])
    two = option(chain=chain, draws=(draw(), draw(name="second", stage=5)))

    run = placed(kitchen(job("A", two), ice_bin_kg=12.0, ice_kg_per_min=0.1))["A"]

    # 2 kg are left at the first draw-off, 10 kg are there 80 minutes later: simmer 50 instead of 30, then draw off.
    assert [cooling.start_min - run.start_min for cooling in run.coolings] == [240, 320]


def test_cube_trays_are_held_until_the_product_is_frozen() -> None:
    frozen = (draw(freeze_min=240, trays=(("cube", 6),)),)
    runs = placed(kitchen(job("A", option(draws=frozen)), job("B", option(pot="K2", draws=frozen)), trays=10))

    assert runs["A"].coolings[0].ready_min == 900
    assert runs["B"].coolings[0].start_min == 900


def test_a_full_store_delays_the_next_run() -> None:
    first = job("A", option(draws=(draw(due=900, keep=(Keep(store="cold", litres=80.0, until_min=1000),)),)))
    second = job("B", option(pot="K2", draws=(draw(keep=(Keep(store="cold", litres=60.0, until_min=2000),)),)))

    runs = placed(kitchen(first, second, store_l=100.0))

    assert (runs["A"].coolings[0].ready_min, runs["B"].coolings[0].ready_min) == (660, 1005)


def test_equal_thirds_of_a_store_fill_it_exactly() -> None:
    third = (draw(keep=(Keep(store="cold", litres=20 / 3, until_min=2000),)),)
    runs = placed(
        kitchen(*(job(code, option(pot=code, draws=third)) for code in "ABC"), store_l=20.0, cooks=shifts(3, amount=9))
    )

    assert {run.start_min for run in runs.values()} == {360}


def test_opening_stock_leaves_the_store_before_a_run_needs_its_room() -> None:
    keep = (draw(keep=(Keep(store="cold", litres=50.0, until_min=2000),)),)

    runs = placed(kitchen(job("A", option(draws=keep)), store_l=60.0, opening=((800, 40.0),)))

    assert runs["A"].coolings[0].ready_min == 810


def test_a_run_waits_for_the_end_of_an_outage() -> None:
    runs = placed(kitchen(job("A", option()), outages=(("K1", Window(start_min=400, end_min=700)),)))

    assert runs["A"].start_min == 705


def test_a_pot_is_held_until_a_cook_can_wash_it() -> None:
    cooks = (Window(start_min=360, end_min=610, amount=1), Window(start_min=700, end_min=1440, amount=1))
    two = (job("A", option(draws=(), wash_min=45)), job("B", option(draws=(), wash_min=0)))

    runs = placed(kitchen(*two, days=1, cooks=cooks))

    wash = runs["A"].wash
    assert wash is not None
    assert (runs["A"].stages[-1].end_min, wash.start_min, wash.end_min) == (600, 700, 745)
    assert runs["B"].start_min == 750


def test_heat_ups_on_a_small_supply_follow_one_another() -> None:
    runs = placed(
        kitchen(job("A", option()), job("B", option(pot="K2")), gas_kw=25.0, cooks=shifts(1, amount=4), days=1)
    )

    # A heats with 20 kW until 450 and simmers with 5 kW; B's heat-up (20 kW) starts at 450, its load at 420.
    assert (runs["A"].start_min, runs["B"].start_min) == (360, 420)


def test_additions_are_made_at_their_time_and_move_within_their_tolerance() -> None:
    herbs = AdditionTask(name="herbs", stage=2, before_end_min=60, cook_min=10, tolerance_min=15)
    alone = placed(kitchen(job("A", option(additions=(herbs,))), cooks=shifts(1, amount=1), days=1))["A"]
    assert [(task.name, task.start_min, task.end_min) for task in alone.additions] == [("herbs", 510, 520)]

    both = (herbs, AdditionTask(name="vegetables", stage=2, before_end_min=60, cook_min=10, tolerance_min=15))
    pair = placed(kitchen(job("A", option(additions=both)), cooks=shifts(1, amount=1), days=1))["A"]
    assert sorted(task.start_min for task in pair.additions) == [500, 510]


def test_a_run_whose_additions_need_two_cooks_at_once_finds_no_time_with_one() -> None:
    both = tuple(
        AdditionTask(name=name, stage=2, before_end_min=60, cook_min=10, tolerance_min=0) for name in ["herbs", "roots"]
    )
    problem = kitchen(job("A", option(additions=both)), cooks=shifts(1, amount=1), days=1)

    unplaced = plan(problem).unplaced[0]
    assert (unplaced.resource, unplaced.missing) == ("cooks", 1.0)


def test_an_addition_that_never_fits_its_stage_leaves_no_time_at_all() -> None:
    long_task = AdditionTask(name="roots", stage=2, before_end_min=5, cook_min=30, tolerance_min=10)

    unplaced = plan(kitchen(job("A", option(additions=(long_task,))))).unplaced[0]

    assert unplaced.resource == "time"


def test_an_addition_is_not_made_before_its_stage_begins() -> None:
    early = AdditionTask(name="roots", stage=2, before_end_min=125, cook_min=5, tolerance_min=5)

    run = placed(kitchen(job("A", option(additions=(early,)))))["A"]

    assert (run.additions[0].start_min, run.stages[2].start_min) == (450, 450)


def test_the_first_way_to_cool_is_taken_unless_it_would_be_late() -> None:
    modes = (BATH, FAST)

    relaxed = placed(kitchen(job("A", option(draws=(draw(modes=modes, due=660),))), chillers=1))["A"]
    assert relaxed.coolings[0].mode == "bath"

    hurried = placed(kitchen(job("A", option(draws=(draw(modes=modes, due=659),))), chillers=1))["A"]
    assert (hurried.coolings[0].mode, hurried.coolings[0].ready_min) == ("chill", 630)

    too_late = plan(kitchen(job("A", option(draws=(draw(modes=modes, due=600),))), chillers=1))
    assert too_late.runs[0].coolings[0].mode == "chill"
    assert [(late.due_min, late.ready_min) for late in too_late.late] == [(600, 630)]


def test_the_pot_that_ends_earlier_is_taken_and_the_first_offered_where_both_end_together() -> None:
    slow = option(pot="K1", chain=stages(simmer=(180, 180)))

    assert placed(kitchen(job("A", slow, option(pot="K2"))))["A"].pot == "K2"
    assert placed(kitchen(job("A", option(pot="K3"), option(pot="K2"))))["A"].pot == "K3"


def test_a_run_that_must_be_fresh_waits_for_its_first_good_minute() -> None:
    run = placed(kitchen(job("A", option(draws=(draw(not_before_min=1000),)))))["A"]

    assert run.coolings[0].ready_min == 1005


def test_nothing_starts_before_now_or_before_its_ingredients_are_there() -> None:
    runs = placed(
        kitchen(job("A", option()), job("B", option(pot="K2"), release_min=611), now_min=401, cooks=shifts(3, amount=4))
    )

    assert (runs["A"].start_min, runs["B"].start_min) == (405, 615)


def test_lateness_counts_weight_share_and_hours() -> None:
    dues = (
        Due(label="canteen", minute=600, weight=2.0, share=0.5),
        Due(label="ward", minute=630, weight=4.0, share=0.25),
        Due(label="shop", minute=660, weight=9.0, share=1.0),
    )
    served = option(draws=(Draw(name="first", stage=3, modes=(BATH,), dues=dues),))

    schedule = plan(kitchen(job("A", served)))

    # Ready at 660: one hour late for the canteen, half an hour for the ward, just in time for the shop.
    assert schedule.lateness_h == pytest.approx(2.0 * 0.5 * 1.0 + 4.0 * 0.25 * 0.5)
    assert [(late.label, late.ready_min) for late in schedule.late] == [("canteen", 660), ("ward", 660)]


def test_the_least_late_pot_is_taken_when_every_pot_is_late() -> None:
    served = (draw(due=600),)
    slow = option(pot="K1", chain=stages(simmer=(180, 180)), draws=served)

    schedule = plan(kitchen(job("A", slow, option(pot="K2", draws=served))))

    assert (schedule.runs[0].pot, schedule.lateness_h) == ("K2", 1.0)


def test_a_late_start_can_be_less_late_than_an_early_one() -> None:
    # The quick chiller is busy first; on the way to the slow bath a later start with the chiller is ready sooner.
    bath = CoolingMode(name="bath", places=(("sink", 1),), minutes=300, ice_kg=0.0)
    other = job(
        "A",
        option(
            draws=(draw(modes=(CoolingMode(name="c", places=(("chiller", 1),), minutes=90, ice_kg=0.0),), due=690),)
        ),
    )
    served = job("B", option(pot="K2", draws=(draw(modes=(bath, FAST), due=691),)))

    schedule = plan(kitchen(other, served, chillers=1, cooks=shifts(3, amount=9)))

    run = {run.job: run for run in schedule.runs}["B"]
    assert (run.coolings[0].mode, run.coolings[0].start_min, run.coolings[0].ready_min) == ("chill", 690, 720)


def test_the_earlier_dispatch_gets_the_pot_first() -> None:
    runs = placed(kitchen(job("A", option(draws=(draw(due=2000),))), job("B", option(draws=(draw(due=700),)))))

    assert runs["B"].start_min < runs["A"].start_min


def test_a_week_without_runs_is_empty() -> None:
    schedule = plan(kitchen())

    assert (schedule.status, schedule.runs, schedule.lateness_h) == ("empty", (), 0.0)


def test_the_same_seed_gives_the_same_schedule() -> None:
    problem = random_problem(8)

    assert greedy_schedule(problem, seed=4, passes=4) == greedy_schedule(problem, seed=4, passes=4)


def test_further_passes_never_make_a_plan_worse() -> None:
    better = 0
    for number in range(25):
        problem = random_problem(number)
        one, many = greedy_schedule(problem), greedy_schedule(problem, seed=1, passes=6)
        before, after = (
            (len(plan.unplaced), round(plan.lateness_h, 6), sum(run.stages[-1].end_min for run in plan.runs))
            for plan in (one, many)
        )
        assert after <= before
        better += after < before
    assert better > 0


def test_progress_rises_to_one() -> None:
    heard: list[float] = []

    greedy_schedule(kitchen(job("A", option()), job("B", option(pot="K2"))), passes=2, progress=heard.append)

    assert heard == [0.25, 0.5, 0.75, 1.0]


def test_a_cancelled_plan_keeps_what_it_has_placed_and_says_what_it_left() -> None:
    problem = kitchen(job("A", option()), job("B", option(pot="K2")))
    asked: list[bool] = []

    def stop() -> bool:
        asked.append(True)
        return len(asked) > 1

    schedule = greedy_schedule(problem, passes=3, cancelled=stop)

    assert check_schedule(problem, schedule) == ()
    assert [run.job for run in schedule.runs] == ["A"]
    assert [(left.job, left.resource) for left in schedule.unplaced] == [("B", "stopped")]


def test_a_plan_cancelled_in_a_later_pass_keeps_the_finished_pass() -> None:
    problem = kitchen(job("A", option()), job("B", option(pot="K2")))
    asked: list[bool] = []

    def stop() -> bool:
        asked.append(True)
        return len(asked) > 3

    assert greedy_schedule(problem, passes=3, cancelled=stop).status == "complete"


def test_identical_pots_can_be_named_in_any_order() -> None:
    def starts(pots: list[str]) -> list[int]:
        runs = placed(kitchen(*(job(code, *(option(pot=pot) for pot in pots)) for code in "ABC")))
        return [runs[code].start_min for code in "ABC"]

    assert starts(["K1", "K2"]) == starts(["K2", "K1"])


def test_shifts_that_meet_or_overlap_are_one_staffed_time_with_the_hands_of_both() -> None:
    steps = (
        Window(start_min=360, end_min=600, amount=1),
        Window(start_min=600, end_min=900, amount=1),
        Window(start_min=570, end_min=640, amount=1),
        Window(start_min=2000, end_min=2001, amount=0),
    )

    runs = placed(kitchen(job("A", option()), job("B", option(pot="K2")), cooks=steps))

    # One cook loads at 360 and 390; from 570 on two can draw off and wash at the same time.
    assert (runs["A"].start_min, runs["B"].start_min) == (360, 390)
