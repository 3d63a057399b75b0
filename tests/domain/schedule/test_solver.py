"""The constraint solver on small kitchens whose answers are known."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

from production.domain.schedule.check import check_schedule
from production.domain.schedule.greedy import greedy_schedule
from production.domain.schedule.levels import LEVELS, is_better, schedule_key
from production.domain.schedule.problem import (
    AdditionTask,
    CoolingMode,
    Due,
    IceDelivery,
    Join,
    Pan,
    Problem,
    RunJob,
    RunOption,
    Stage,
    Was,
    Window,
)
from production.domain.schedule.result import Level, Schedule
from production.domain.schedule.solve import solve_schedule
from production.domain.schedule.tidy import washed_soon
from tests.domain.schedule.problems import BATH, DAY, draw, job, kitchen, option, random_problem, shifts, stages

H = 60


def solved(problem: Problem, *, seconds: float = 10.0, workers: int = 2) -> Schedule:
    start = greedy_schedule(problem)
    schedule = solve_schedule(problem, start, seconds=seconds, workers=workers)
    assert check_schedule(problem, schedule) == ()
    assert not is_better(schedule_key(problem, start), schedule_key(problem, schedule))
    return schedule


def level(schedule: Schedule, name: str) -> Level:
    return next(each for each in schedule.levels if each.name == name)


def due(minute: int, *, pot: str = "K1", simmer: tuple[int, int] = (120, 120)) -> RunOption:
    return option(pot=pot, chain=stages(simmer=simmer), draws=(draw(due=minute),))


def test_one_run_ends_after_the_sum_of_its_stages() -> None:
    schedule = solved(kitchen(job("A", due(6 * H))))

    (run,) = schedule.runs
    assert run.stages[-1].end_min == 6 * H + 30 + 60 + 120 + 30
    assert schedule.lateness_h == pytest.approx((240 + 60) / 60)
    assert level(schedule, "lateness").is_proven


def test_every_level_is_told_with_its_value() -> None:
    problem = kitchen(job("A", due(6 * H)))
    schedule = solved(problem)

    assert tuple(each.name for each in schedule.levels) == LEVELS
    assert tuple(each.value for each in schedule.levels) == schedule_key(problem, schedule)
    assert level(schedule, "unserved").is_proven


def test_two_runs_of_one_cook_do_not_draw_off_together() -> None:
    one_cook = shifts(3, amount=1)
    jobs = (job("A", due(7 * H)), job("B", due(7 * H, pot="K2")))
    schedule = solved(kitchen(*jobs, cooks=one_cook))

    first, second = sorted(run.stages[-1].start_min for run in schedule.runs)
    assert second >= first + 30
    assert level(schedule, "lateness").is_proven


def test_a_long_simmer_goes_over_the_night() -> None:
    schedule = solved(kitchen(job("A", due(10 * H, simmer=(11 * H, 20 * H)))))

    assert schedule.runs[0].stages[-1].start_min == DAY + 6 * H
    assert level(schedule, "lateness").is_proven


def test_a_pot_is_soaked_after_an_allergen() -> None:
    fish = job("fish", due(6 * H), allergens=["fish"])
    plain = job("plain", due(7 * H))
    problem = kitchen(fish, plain, soak_min=45)
    schedule = solved(problem)

    runs = {run.job: run for run in schedule.runs}
    gap = runs["plain"].start_min - runs["fish"].pot_free_min
    assert gap >= 45 or runs["plain"].pot_free_min <= runs["fish"].start_min
    assert level(schedule, "lateness").is_proven


def test_a_sink_too_few_makes_a_draw_late() -> None:
    jobs = tuple(job(f"R{n}", due(11 * H, pot=f"K{n}")) for n in range(3))
    hands = shifts(3, amount=3)
    enough, short = solved(kitchen(*jobs, sinks=3, cooks=hands)), solved(kitchen(*jobs, sinks=2, cooks=hands))

    assert enough.lateness_h == 0.0
    assert short.lateness_h > 0.0
    assert level(short, "lateness").is_proven


def test_ice_holds_draws_apart_and_the_bound_is_not_above_what_was_found() -> None:
    jobs = tuple(job(f"R{n}", due(11 * H, pot=f"K{n}")) for n in range(3))
    schedule = solved(kitchen(*jobs, ice_bin_kg=20.0, ice_kg_per_min=0.05))

    assert schedule.lateness_h > 0.0
    bound = level(schedule, "lateness").bound
    assert bound is not None
    assert 0.0 < bound <= schedule.lateness_h


def test_ice_bought_in_is_used() -> None:
    jobs = tuple(job(f"R{n}", due(11 * H, pot=f"K{n}")) for n in range(3))
    without = kitchen(*jobs, ice_bin_kg=30.0, ice_start_kg=20.0, ice_kg_per_min=0.0)
    bought = replace(without, ice_deliveries=(IceDelivery(minute=8 * H, mass_kg=20.0),))

    assert len(solved(without).runs) == 2
    assert solved(bought).status == "complete"


def test_doubling_what_the_kitchen_has_never_makes_it_later() -> None:
    jobs = tuple(job(f"R{n}", due(10 * H, pot="K1"), due(10 * H, pot="K2")) for n in range(4))
    small = kitchen(*jobs, cooks=shifts(3, amount=1), sinks=1, gas_kw=25.0)
    twice = kitchen(*jobs, cooks=shifts(3, amount=2), sinks=2, gas_kw=50.0)
    before, after = level(solved(small), "lateness"), level(solved(twice), "lateness")

    assert before.is_proven
    assert after.is_proven
    assert after.value <= before.value


def test_a_run_less_never_makes_the_rest_later() -> None:
    jobs = [job(f"R{n}", due((9 + n) * H, pot="K1"), due((9 + n) * H, pot="K2")) for n in range(4)]
    every = level(solved(kitchen(*jobs, sinks=1)), "lateness")
    assert every.is_proven
    for left_out in jobs:
        fewer = level(solved(kitchen(*(each for each in jobs if each is not left_out), sinks=1)), "lateness")
        assert fewer.is_proven
        assert fewer.value <= every.value


def test_the_order_of_pots_and_runs_changes_nothing() -> None:
    jobs = [job(f"R{n}", due((8 + n) * H, pot="K1"), due((8 + n) * H, pot="K2")) for n in range(4)]
    turned = [replace(each, options=each.options[::-1]) for each in jobs[::-1]]
    one, other = solved(kitchen(*jobs, sinks=1)), solved(kitchen(*turned, sinks=1))

    assert level(one, "lateness").is_proven
    assert one.lateness_h == pytest.approx(other.lateness_h)


def test_what_more_lines_wait_for_comes_first_where_not_all_finds_time() -> None:
    small, large = job("1 small", due(DAY)), job("2 large", due(DAY))
    (served,) = large.options[0].draws
    heavy = replace(served, dues=(Due(label="big", minute=DAY, weight=5.0, share=1.0),))
    large = replace(large, options=(replace(large.options[0], draws=(heavy,)),))
    one_window = (Window(start_min=6 * H, end_min=12 * H, amount=2),)
    problem = kitchen(small, large, days=1, cooks=one_window)
    start = greedy_schedule(problem)
    assert [run.job for run in start.runs] == ["1 small"]

    schedule = solved(problem)

    assert [run.job for run in schedule.runs] == ["2 large"]
    assert [item.job for item in schedule.unplaced] == ["1 small"]
    assert level(schedule, "unserved").is_proven


def test_a_locked_run_stays_and_the_others_go_round_it() -> None:
    locked = replace(job("A", due(3 * DAY)), start_at_min=6 * H)
    problem = kitchen(locked, job("B", due(11 * H)))
    start = greedy_schedule(replace(problem, jobs=(replace(locked, release_min=6 * H), problem.jobs[1])))
    if check_schedule(problem, start):
        start = _one_after_the_other(problem)
    schedule = solve_schedule(problem, start, seconds=10.0, workers=2)

    assert check_schedule(problem, schedule) == ()
    assert next(run for run in schedule.runs if run.job == "A").start_min == 6 * H


def test_a_run_that_is_held_to_a_start_before_its_goods_come_is_left_out_and_no_fault() -> None:
    early = replace(job("A", due(3 * DAY)), start_at_min=6 * H, release_min=7 * H)
    problem = kitchen(early, job("B", due(11 * H)))
    start = greedy_schedule(problem)
    schedule = solve_schedule(problem, start, seconds=10.0, workers=2)

    assert check_schedule(problem, schedule) == ()
    assert [item.job for item in schedule.unplaced] == ["A"]
    assert [run.job for run in schedule.runs] == ["B"]


def _one_after_the_other(problem: Problem) -> Schedule:
    """Both runs, the locked one first, from a kitchen in which only it was wanted early."""
    locked, other = problem.jobs
    first = replace(locked, start_at_min=None)
    return greedy_schedule(replace(problem, jobs=(first, replace(other, release_min=11 * H))))


def test_a_run_that_was_somewhere_stays_there_when_nothing_is_won() -> None:
    plain = kitchen(job("A", due(2 * DAY), due(2 * DAY, pot="K2")))
    stays = replace(plain.jobs[0], was=Was(pot="K2", start_min=9 * H))
    schedule = solved(replace(plain, jobs=(stays,)))

    assert (schedule.runs[0].pot, schedule.runs[0].start_min) == ("K2", 9 * H)
    assert level(schedule, "moved").value == 0.0


def _pooled() -> Problem:
    """A host and a guest, reduced together in a pan."""
    simmer = stages()
    hold = Stage(kind="hot_hold", shortest_min=5, longest_min=120, power_kw=2.0)
    pour = Stage(kind="pour_over", shortest_min=10, longest_min=10, cooks=1)
    reduce = Stage(kind="reduce", shortest_min=60, longest_min=60, on_site=True, power_kw=8.0)
    portion = Stage(kind="portion", shortest_min=20, longest_min=20, cooks=1)
    first = draw(due=12 * H)
    host = RunOption(
        pot="K1",
        supply="gas",
        stages=(*simmer, hold, pour, reduce, portion),
        draws=(first, draw(name="reduction", stage=7, due=14 * H)),
        wash_min=15,
        pan=Pan(code="P1", supply="gas", pour_stage=5, wash_min=10),
    )
    guest = RunOption(pot="K2", supply="gas", stages=(*simmer, hold, pour), draws=(first,), wash_min=15)
    return replace(kitchen(job("host", host), job("guest", guest)), joins=(Join(host="host", guests=("guest",)),))


def test_second_draws_that_are_reduced_together_are_poured_in_the_same_minute() -> None:
    problem = _pooled()
    schedule = solved(problem)

    runs = {run.job: run for run in schedule.runs}
    assert schedule.status == "complete"
    assert runs["host"].stages[5].start_min == runs["guest"].stages[-1].start_min
    assert (runs["host"].pan, runs["guest"].pan) == ("P1", "")
    assert runs["host"].pan_wash is not None


def test_one_worker_gives_the_same_answer_twice() -> None:
    problem = random_problem(11)
    start = greedy_schedule(problem)
    once, again = (solve_schedule(problem, start, seconds=1.0, workers=1, seed=3) for _ in range(2))

    assert once == again


def test_a_cancelled_search_keeps_the_start() -> None:
    problem = random_problem(11)
    start = greedy_schedule(problem)
    schedule = solve_schedule(problem, start, seconds=60.0, workers=2, cancelled=lambda: True)

    assert schedule.runs == start.runs


def test_better_schedules_are_told_of_and_keep_every_limit() -> None:
    problem = random_problem(11)
    told: list[Schedule] = []
    schedule = solve_schedule(problem, greedy_schedule(problem), seconds=5.0, workers=2, better=told.append)

    assert told
    assert all(check_schedule(problem, each) == () for each in told)
    assert washed_soon(problem, told[-1]).runs == schedule.runs


@pytest.mark.long
@pytest.mark.parametrize("block", range(6))
def test_levels_are_never_traded_on_random_kitchens(block: int) -> None:
    for seed in range(block * 15, block * 15 + 15):
        problem = random_problem(seed)
        start = greedy_schedule(problem, seed=seed)
        schedule = solve_schedule(problem, start, seconds=1.0, workers=2)
        assert check_schedule(problem, schedule) == (), f"random kitchen {seed}"
        assert not is_better(schedule_key(problem, start), schedule_key(problem, schedule))
        for each in schedule.levels:
            assert each.bound is None or each.bound <= each.value + 1e-9


def _tiny(seed: int) -> Problem:
    """Two or three runs of two lengths in two pots, so few that every start can be tried."""
    starts = [7 * H, 8 * H, 9 * H]
    jobs = []
    for number in range(2 + seed % 2):
        chain = (
            Stage(kind="load", shortest_min=30, longest_min=30, cooks=1),
            Stage(
                kind="simmer", shortest_min=60 * (1 + (seed + number) % 2), longest_min=60 * (1 + (seed + number) % 2)
            ),
            Stage(kind="draw_off", shortest_min=30, longest_min=30, cooks=1),
        )
        cold = CoolingMode(name="bath", places=(("sink", 1),), minutes=60, ice_kg=5.0)
        served = draw(stage=2, modes=(cold,), due=starts[(seed + number) % 3] + 60)
        pots = ["K1", "K2"] if (seed + number) % 3 else ["K1"]
        jobs.append(job(f"R{number}", *(option(pot=pot, chain=chain, draws=(served,), wash_min=0) for pot in pots)))
    return kitchen(*jobs, days=1, step_min=30, cooks=(Window(start_min=6 * H, end_min=15 * H),), sinks=1)


def _best_of_all(problem: Problem) -> float:
    """The least lateness over every start on the grid and every pot."""
    choices = []
    for each in problem.jobs:
        alone = replace(problem, jobs=(each,))
        choices.append(
            [_at(alone, each, index, at) for index in range(len(each.options)) for at in range(360, 780, 30)]
        )
    best = float("inf")
    for runs in itertools.product(*choices):
        lateness = sum(late for _, late in runs)
        if lateness < best:
            placed = tuple(sorted((run.runs[0] for run, _ in runs), key=lambda run: (run.start_min, run.job)))
            late = tuple(item for run, _ in runs for item in run.late)
            whole = replace(runs[0][0], runs=placed, late=late, lateness_h=lateness)
            if not check_schedule(problem, whole):
                best = lateness
    return best


def _at(problem: Problem, one: RunJob, index: int, at: int) -> tuple[Schedule, float]:
    """One run alone in a kitchen that is open at that very minute."""
    chosen = replace(one, options=(one.options[index],), release_min=at)
    open_all_day = (Window(start_min=0, end_min=DAY, amount=9),)
    schedule = greedy_schedule(replace(problem, jobs=(chosen,), cooks=open_all_day))
    (run,) = schedule.runs
    return replace(schedule, runs=(replace(run, option=index),)), schedule.lateness_h


@pytest.mark.parametrize("seed", range(6))
def test_no_try_of_every_start_finds_less_lateness(seed: int) -> None:
    problem = _tiny(seed)
    schedule = solved(problem)

    assert level(schedule, "lateness").is_proven
    assert schedule.lateness_h == pytest.approx(_best_of_all(problem))


def test_additions_keep_to_their_time() -> None:
    herbs = AdditionTask(name="herbs", stage=2, before_end_min=30, cook_min=10)
    problem = kitchen(job("A", replace(due(10 * H), additions=(herbs,))), cooks=shifts(3, amount=1))
    schedule = solved(problem)

    (run,) = schedule.runs
    assert abs(run.stages[2].end_min - 30 - run.additions[0].start_min) <= 15


def test_a_draw_without_dues_is_made_early() -> None:
    schedule = solved(kitchen(job("A", option(draws=(draw(modes=(BATH,)),)))))

    assert schedule.runs[0].start_min == 6 * H


def test_only_the_levels_that_are_asked_for_are_searched() -> None:
    problem = kitchen(job("A", due(7 * H)), job("B", due(7 * H)))
    start = greedy_schedule(problem)
    schedule = solve_schedule(problem, start, seconds=5.0, workers=2, levels=("unserved", "lateness"))

    assert level(schedule, "lateness").is_proven
    assert (level(schedule, "calm").bound, level(schedule, "calm").seconds) == (None, 0.0)
