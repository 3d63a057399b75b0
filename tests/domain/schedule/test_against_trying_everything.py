"""One run, every start, every simmer, every way to cool: the scheduler finds the best, or none where none is.

Simmers are tried to the minute, or in steps of five minutes where all other times of the run are multiples of five.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace

import pytest

from production.domain.schedule.check import check_schedule
from production.domain.schedule.greedy import greedy_schedule
from production.domain.schedule.problem import CoolingMode, Keep, Problem, Stage, Window
from production.domain.schedule.result import Placed, PlacedCooling, PlacedRun, Schedule
from tests.domain.schedule.problems import draw, job, kitchen, option

DUE = 900


def one_run_problem(seed: int, load_min: int) -> Problem:
    dice = random.Random(seed)
    chain = (
        Stage(kind="load", shortest_min=load_min, longest_min=load_min, cooks=1),
        Stage(kind="simmer", shortest_min=60, longest_min=60 + dice.choice([30, 90]), power_kw=8.0),
        Stage(kind="draw_off", shortest_min=15, longest_min=15, cooks=1),
    )
    modes = (
        CoolingMode(name="bath", places=(("sink", 1),), minutes=dice.choice([60, 120]), ice_kg=dice.choice([4.0, 7.0])),
        CoolingMode(name="chill", places=(("chiller", 1),), minutes=dice.choice([30, 200]), ice_kg=0.0),
    )
    served = draw(
        stage=2,
        modes=modes[: dice.randint(1, 2)],
        due=dice.choice([None, dice.randint(400, DUE)]),
        not_before_min=dice.choice([0, 500]),
        keep=(Keep(store="cold", litres=30.0, until_min=1300),),
    )
    on_duty = (
        Window(start_min=dice.randint(200, 400), end_min=dice.randint(600, 710)),
        Window(start_min=dice.randint(720, 800), end_min=dice.randint(900, 1300)),
    )
    return kitchen(
        job("A", option(chain=chain, draws=(served,), wash_min=0)),
        days=1,
        step_min=30,
        cooks=on_duty,
        chillers=1,
        ice_bin_kg=8.0,
        ice_start_kg=dice.choice([3.0, 8.0]),
        ice_kg_per_min=0.01,
        store_l=50.0,
        opening=((dice.choice([100, 600]), 30.0),),
        unattended=dice.random() < 0.6,
        outages=(("K1", Window(start_min=430, end_min=430 + dice.choice([1, 60]))),),
    )


def everything(problem: Problem, step_min: int) -> Iterator[PlacedRun]:
    chosen = problem.jobs[0].options[0]
    load, simmer, draw_off = chosen.stages
    for start in range(0, problem.horizon_min, problem.step_min):
        for length in range(simmer.shortest_min, simmer.longest_min + 1, step_min):
            marks = [start, start + load.shortest_min]
            marks += [marks[1] + length, marks[1] + length + draw_off.shortest_min]
            stages = tuple(
                Placed(name=stage.kind, start_min=begin, end_min=end)
                for stage, begin, end in zip(chosen.stages, marks, marks[1:], strict=False)
            )
            for mode in chosen.draws[0].modes:
                done = marks[-1] + mode.minutes
                cooling = PlacedCooling(
                    draw="first",
                    mode=mode.name,
                    places=mode.places,
                    ice_kg=mode.ice_kg,
                    start_min=marks[-1],
                    end_min=done,
                    ready_min=done,
                )
                yield PlacedRun(
                    job="A",
                    option=0,
                    pot=chosen.pot,
                    stages=stages,
                    additions=(),
                    coolings=(cooling,),
                    wash=None,
                    why_here="",
                )


def lateness(problem: Problem, run: PlacedRun) -> float:
    dues = problem.jobs[0].options[0].draws[0].dues
    return round(sum(max(0, run.coolings[0].ready_min - due.minute) / 60 for due in dues), 6)


@pytest.mark.parametrize(("load_min", "step_min"), [(20, 5), (21, 1)])
@pytest.mark.parametrize("seed", range(20))
def test_the_scheduler_finds_the_best_of_all_placements_of_one_run(seed: int, load_min: int, step_min: int) -> None:
    problem = one_run_problem(seed, load_min)
    schedule = greedy_schedule(problem)
    bare = Schedule(status="complete", method="", runs=(), unplaced=(), late=(), lateness_h=0.0, seconds=0.0, seed=0)
    counted_again = {"late-list", "lateness"}

    allowed = [
        (lateness(problem, run), run.stages[-1].end_min)
        for run in everything(problem, step_min)
        if not {fault.code for fault in check_schedule(problem, replace(bare, runs=(run,)))} - counted_again
    ]

    found = [(round(schedule.lateness_h, 6), run.stages[-1].end_min) for run in schedule.runs]
    assert found == sorted(allowed)[:1]
