"""A sound schedule is damaged in one place at a time; the second reader must find each damage."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from production.domain.schedule.check import check_schedule
from production.domain.schedule.greedy import greedy_schedule
from production.domain.schedule.problem import (
    AdditionTask,
    CoolingMode,
    Keep,
    Problem,
    Stage,
    StoreRoom,
    Window,
)
from production.domain.schedule.result import Late, Placed, PlacedRun, Schedule, Unplaced
from tests.domain.schedule.problems import DAY, draw, job, kitchen, option, shifts, stages

KEEP = (Keep(store="cold", litres=60.0, until_min=2 * DAY),)
SIMMERED = (*stages(simmer=(120, 240)), Stage(kind="refill", shortest_min=10, longest_min=10, cooks=1))
FIRST = option(
    chain=SIMMERED,
    additions=(AdditionTask(name="herbs", stage=2, before_end_min=30, cook_min=10),),
    draws=(draw(due=5000, freeze_min=120, trays=(("cube", 6),), keep=KEEP),),
)
SECOND = option(pot="K2", chain=SIMMERED, draws=(draw(due=5001, keep=KEEP),))
PROBLEM = kitchen(
    job("A", FIRST, replace(FIRST, pot="K3"), allergens=["fish"], release_min=360),
    job("B", SECOND),
    soak_min=30,
    store_l=120.0,
)
SOUND = greedy_schedule(PROBLEM)


def change(code: str, edit: Callable[[PlacedRun], PlacedRun]) -> Schedule:
    return replace(SOUND, runs=tuple(edit(run) if run.job == code else run for run in SOUND.runs))


def moved(placed: Placed, by: int) -> Placed:
    return replace(placed, start_min=placed.start_min + by, end_min=placed.end_min + by)


def shifted(run: PlacedRun, by: int) -> PlacedRun:
    return replace(
        run,
        stages=tuple(moved(stage, by) for stage in run.stages),
        additions=tuple(moved(task, by) for task in run.additions),
        wash=moved(run.wash, by) if run.wash else None,
        coolings=tuple(
            replace(c, start_min=c.start_min + by, end_min=c.end_min + by, ready_min=c.ready_min + by)
            for c in run.coolings
        ),
    )


def with_stage(run: PlacedRun, index: int, start_by: int, end_by: int) -> PlacedRun:
    stage = run.stages[index]
    other = replace(stage, start_min=stage.start_min + start_by, end_min=stage.end_min + end_by)
    return replace(run, stages=(*run.stages[:index], other, *run.stages[index + 1 :]))


def cooled(run: PlacedRun, **edit: object) -> PlacedRun:
    return replace(run, coolings=(replace(run.coolings[0], **edit),))  # type: ignore[arg-type]


def washed(run: PlacedRun, wash: Placed | None) -> PlacedRun:
    return replace(run, wash=wash)


def codes(problem: Problem, schedule: Schedule) -> set[str]:
    return {violation.code for violation in check_schedule(problem, schedule)}


def test_the_sound_schedule_has_no_violation() -> None:
    assert SOUND.status == "complete"
    assert check_schedule(PROBLEM, SOUND) == ()


A, B = SOUND.runs[0], SOUND.runs[1]
LATE = Late(job="A", label="line 5000", due_min=5000, ready_min=9000, resource="ice", sentence="")
LEFT = Unplaced(job="B", resource="ice", missing=1.0, unit="kg", sentence="", remedy="")

DAMAGED: dict[str, tuple[Schedule, str]] = {
    "a run is missing": (replace(SOUND, runs=(A,)), "run-count"),
    "a run is there twice": (replace(SOUND, runs=(A, B, B)), "run-count"),
    "a run is placed and listed as unplaced": (replace(SOUND, unplaced=(LEFT,)), "run-count"),
    "a run is unknown": (replace(SOUND, runs=(A, B, replace(B, job="X"))), "unknown-run"),
    "an option is unknown": (change("B", lambda run: replace(run, option=3)), "unknown-option"),
    "the status is wrong": (replace(SOUND, status="partial"), "status"),
    "the pot is not the option's": (change("A", lambda run: replace(run, pot="K7")), "wrong-pot"),
    "the option is not the pot's": (change("A", lambda run: replace(run, option=1)), "wrong-pot"),
    "a run starts before its ingredients are there": (change("A", lambda run: shifted(run, -15)), "too-early"),
    "a stage is left out": (change("A", lambda run: replace(run, stages=run.stages[:-1])), "stages"),
    "two stages have changed places": (
        change("A", lambda run: replace(run, stages=(run.stages[1], run.stages[0], *run.stages[2:]))),
        "stages",
    ),
    "there is a gap between stages": (change("A", lambda run: with_stage(run, 2, 5, 0)), "gap"),
    "stages overlap": (change("A", lambda run: with_stage(run, 2, 0, 5)), "gap"),
    "a simmer is too short": (change("A", lambda run: with_stage(run, 2, 0, -5)), "stage-length"),
    "a load is too long": (change("A", lambda run: with_stage(run, 0, -5, 0)), "stage-length"),
    "an addition is forgotten": (change("A", lambda run: replace(run, additions=())), "addition"),
    "an addition is made twice": (change("A", lambda run: replace(run, additions=run.additions * 2)), "addition"),
    "an addition is made too early": (
        change("A", lambda run: replace(run, additions=(moved(run.additions[0], -16),))),
        "addition",
    ),
    "an addition takes too little time": (
        change("A", lambda run: replace(run, additions=(replace(a := run.additions[0], end_min=a.end_min - 1),))),
        "addition",
    ),
    "a draw is not cooled": (change("A", lambda run: replace(run, coolings=())), "draws"),
    "an unknown draw is cooled": (change("A", lambda run: cooled(run, draw="third")), "draws"),
    "cooling waits a minute": (
        change("A", lambda run: cooled(run, start_min=601, end_min=661, ready_min=781)),
        "cooling-start",
    ),
    "cooling is cut short": (change("A", lambda run: cooled(run, end_min=650, ready_min=770)), "cooling-mode"),
    "cooling takes less ice": (change("A", lambda run: cooled(run, ice_kg=9.0)), "cooling-mode"),
    "cooling takes other places": (change("A", lambda run: cooled(run, places=(("sink", 2),))), "cooling-mode"),
    "cooling has another name": (change("A", lambda run: cooled(run, mode="snow")), "cooling-mode"),
    "freezing is cut short": (change("A", lambda run: cooled(run, ready_min=700)), "freezing"),
    "the wash is forgotten": (change("A", lambda run: washed(run, None)), "wash"),
    "the wash is too short": (
        change("A", lambda run: washed(run, Placed(name="wash", start_min=610, end_min=620))),
        "wash",
    ),
    "the pot is washed while it is full": (
        change("A", lambda run: washed(run, Placed(name="wash", start_min=580, end_min=595))),
        "wash",
    ),
    "a run goes on after the end of the plan": (change("B", lambda run: shifted(run, 3 * DAY - 500)), "horizon"),
    "a load lies in the night": (change("B", lambda run: shifted(run, 1000)), "nobody-on-site"),
    "a draw is cooled in the night": (change("B", lambda run: shifted(run, 435)), "cooling-unattended"),
    "the late list names what is not late": (replace(SOUND, late=(LATE,)), "late-list"),
    "the lateness is made up": (replace(SOUND, lateness_h=0.5), "lateness"),
}


@pytest.mark.parametrize("damage", DAMAGED)
def test_a_damaged_schedule_is_caught(damage: str) -> None:
    schedule, code = DAMAGED[damage]

    assert code in codes(PROBLEM, schedule)


SHRUNK: dict[str, tuple[Problem, str]] = {
    "fewer cooks": (replace(PROBLEM, cooks=shifts(3, amount=1)), "cooks"),
    "no cooks at the end of a shift": (replace(PROBLEM, cooks=shifts(3, start_h=6, end_h=10)), "cooks"),
    "nobody at all": (replace(PROBLEM, cooks=(Window(start_min=0, end_min=3 * DAY, amount=0),)), "nobody-on-site"),
    "less heat": (replace(PROBLEM, supplies_kw=(("gas", 39.0),)), "heat"),
    "fewer places": (replace(PROBLEM, devices=(("sink", 1), ("chiller", 0))), "cooling-places"),
    "fewer trays": (replace(PROBLEM, trays=(("cube", 5),)), "trays"),
    "less room": (replace(PROBLEM, stores=(StoreRoom(code="cold", litres=119.0),)), "store"),
    "more opening stock": (
        replace(PROBLEM, stores=(StoreRoom(code="cold", litres=120.0, opening=((DAY, 1.0),)),)),
        "store",
    ),
    "a smaller ice bin": (replace(PROBLEM, ice_bin_kg=9.0), "ice"),
    "less ice to begin with": (replace(PROBLEM, ice_start_kg=0.0, ice_kg_per_min=0.001), "ice"),
    "a pot out of order": (
        replace(PROBLEM, outages=(("K1", Window(start_min=500, end_min=501)),)),
        "outage",
    ),
    "a later now": (replace(PROBLEM, now_min=361), "too-early"),
    "a shorter plan": (replace(PROBLEM, horizon_min=700), "horizon"),
}


@pytest.mark.parametrize("cut", SHRUNK)
def test_a_schedule_is_caught_when_the_kitchen_has_less(cut: str) -> None:
    problem, code = SHRUNK[cut]

    assert code in codes(problem, SOUND)


def test_opening_stock_that_overfills_a_store_by_itself_is_no_fault_of_the_schedule() -> None:
    empty = kitchen(job("A", option()), store_l=10.0, opening=((DAY, 50.0),))

    assert check_schedule(empty, greedy_schedule(empty)) == ()


def test_a_simmer_in_the_night_is_caught_where_the_night_is_forbidden() -> None:
    problem = kitchen(job("A", option(chain=stages(simmer=(600, 960)))))
    schedule = greedy_schedule(problem)

    assert check_schedule(problem, schedule) == ()
    assert codes(replace(problem, unattended_simmer=False), schedule) == {"unattended"}


def test_two_runs_in_one_pot_at_the_same_time_are_caught() -> None:
    problem = kitchen(job("A", option()), job("B", option()), cooks=shifts(3, amount=4))
    schedule = greedy_schedule(problem)
    early = tuple(shifted(run, -1) if run.job == "B" else run for run in schedule.runs)

    assert codes(problem, schedule) == set()
    assert codes(problem, replace(schedule, runs=early)) == {"pot"}


@pytest.mark.parametrize(
    ("soak_min", "outage", "found"),
    [
        (60, None, set()),
        (61, None, {"soak"}),
        (50, (615, 625), set()),
        (51, (615, 625), {"soak"}),
        (40, (635, 640), {"soak"}),
        (35, (635, 640), set()),
    ],
)
def test_a_soak_that_is_too_short_is_caught(soak_min: int, outage: tuple[int, int] | None, found: set[str]) -> None:
    outages = (("K1", Window(start_min=outage[0], end_min=outage[1])),) if outage else ()
    problem = kitchen(job("A", option(), allergens=["fish"]), job("B", option(), release_min=675))
    schedule = greedy_schedule(problem)

    # The pot is free at 615 and used again at 675.
    assert [run.start_min for run in schedule.runs] == [360, 675]
    assert codes(replace(problem, soak_min=soak_min, outages=outages), schedule) == found


def test_a_draw_ready_before_it_may_be_is_caught() -> None:
    problem = kitchen(job("A", option()))
    fresh = kitchen(job("A", option(draws=(draw(not_before_min=661),))))

    assert codes(fresh, greedy_schedule(problem)) == {"shelf-life"}


def test_a_late_dispatch_left_off_the_list_is_caught() -> None:
    problem = kitchen(job("A", option(draws=(draw(due=600),))))
    schedule = greedy_schedule(problem)

    assert codes(problem, schedule) == set()
    assert codes(problem, replace(schedule, late=())) == {"late-list"}
    assert codes(problem, replace(schedule, lateness_h=0.0)) == {"lateness"}


def test_additions_with_the_same_name_are_told_apart_by_their_times() -> None:
    twice = tuple(
        AdditionTask(name="herbs", stage=2, before_end_min=before, cook_min=10, tolerance_min=15) for before in (30, 50)
    )
    problem = kitchen(job("A", option(additions=twice)))
    schedule = greedy_schedule(problem)

    assert check_schedule(problem, schedule) == ()
    both_late = replace(
        schedule.runs[0], additions=tuple(replace(a, start_min=550, end_min=560) for a in schedule.runs[0].additions)
    )
    assert codes(problem, replace(schedule, runs=(both_late,))) == {"addition"}


def test_a_run_without_stages_is_not_read_as_a_plan() -> None:
    hollow = replace(SOUND.runs[0], stages=(), additions=(), coolings=(), wash=None)

    assert "stages" in codes(PROBLEM, replace(SOUND, runs=(hollow, B)))


def test_a_second_mode_of_cooling_is_accepted_where_the_draw_has_it() -> None:
    chill = CoolingMode(name="chill", places=(("sink", 1),), minutes=60, ice_kg=0.0)
    problem = kitchen(job("A", option()))
    schedule = greedy_schedule(problem)
    run = cooled(schedule.runs[0], mode="chill", ice_kg=0.0)

    assert codes(problem, replace(schedule, runs=(run,))) == {"cooling-mode"}
    both = kitchen(job("A", option(draws=(draw(modes=(chill,)),))))
    assert codes(both, replace(schedule, runs=(run,))) == set()
