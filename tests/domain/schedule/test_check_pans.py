"""Pans, joined reductions, begun and locked runs, ice bought in: each fault is put in by hand and must be found."""

from __future__ import annotations

from dataclasses import replace

import pytest

from production.domain.schedule.check import check_schedule
from production.domain.schedule.problem import (
    AdditionTask,
    CoolingMode,
    IceDelivery,
    Join,
    Pan,
    Problem,
    RunJob,
    RunOption,
    Stage,
    Window,
)
from production.domain.schedule.result import POUR_OVER, Placed, PlacedRun, Schedule, Unplaced
from tests.domain.schedule.by_hand import set_run, set_schedule
from tests.domain.schedule.problems import BATH, DAY, draw, job, kitchen, option, shifts, stages

WARM = CoolingMode(name="air", places=(("sink", 1),), minutes=30, ice_kg=0.0)


def two_draws(pot: str, *, pan: str | None = None, hosts: bool = True, power_kw: float = 10.0) -> RunOption:
    """First draw, second draw held hot, then poured over; 450 minutes at the shortest, 510 to the end in a pan."""
    chain = (
        *stages(),
        Stage(kind="second_simmer", shortest_min=60, longest_min=60, power_kw=5.0),
        Stage(kind="hot_hold", shortest_min=10, longest_min=120, power_kw=2.0),
        Stage(kind=POUR_OVER, shortest_min=20, longest_min=20, cooks=1),
    )
    draws = [draw(modes=(WARM,))]
    if hosts:
        chain += (
            Stage(kind="reduce", shortest_min=60, longest_min=60, on_site=True, power_kw=power_kw),
            Stage(kind="portion", shortest_min=20, longest_min=20, cooks=1),
        )
        draws.append(draw(name="reduction", stage=8, modes=(WARM,)))
    made = option(pot=pot, chain=chain, draws=tuple(draws))
    return replace(made, pan=Pan(code=pan, supply="electric", pour_stage=6, wash_min=15) if pan else None)


HOST = job("H", two_draws("K1", pan="P1"))
GUEST = job("G", two_draws("K2", hosts=False))
NEXT = job("N", option(pot="K1"))


def joined(*jobs: RunJob, cooks: int = 3, **edit: object) -> Problem:
    on_duty = shifts(3, start_h=5, end_h=22, amount=cooks)
    together = (Join(host="H", guests=("G",)),)
    return replace(kitchen(*jobs, cooks=on_duty, joins=together, electric_kw=10.0), **edit)  # type: ignore[arg-type]


PROBLEM = joined(HOST, GUEST, NEXT)
H, G, N = set_run(HOST, 360), set_run(GUEST, 345, longer={5: 15}), set_run(NEXT, 720)


def codes(problem: Problem, *runs: PlacedRun) -> set[str]:
    return {fault.code for fault in check_schedule(problem, set_schedule(problem, *runs))}


def test_two_runs_poured_over_together_pass_and_free_their_pots_before_the_reduction_ends() -> None:
    assert H.stages[6].start_min == G.stages[6].start_min == 670
    assert (H.pot_free_min, H.stages[-1].end_min, H.pan_free_min) == (705, 770, 785)
    assert codes(PROBLEM, H, G, N) == set()
    assert codes(PROBLEM, set_run(HOST, 360), set_run(GUEST, 360), set_run(NEXT, 705)) == set()


DAMAGED: dict[str, tuple[tuple[PlacedRun, ...], str]] = {
    "the pan has another name": ((replace(H, pan="P2"), G, N), "wrong-pan"),
    "the pan is left out": ((replace(H, pan=""), G, N), "wrong-pan"),
    "a guest is said to be in a pan": ((H, replace(G, pan="P1"), N), "wrong-pan"),
    "the pan is not washed": ((replace(H, pan_wash=None), G, N), "wash"),
    "the pan is washed while it is full": ((set_run(HOST, 360, pan_wash_at=760), G, N), "wash"),
    "the pot is washed before it is poured over": ((set_run(HOST, 360, wash_at=680), G, N), "wash"),
    "a guest is poured over too early": ((H, set_run(GUEST, 345), N), "join"),
    "a guest is poured over too late": ((H, set_run(GUEST, 345, longer={5: 30}), N), "join"),
    "the next run comes before the pot is washed": ((H, G, set_run(NEXT, 700)), "pot"),
}


@pytest.mark.parametrize("damage", DAMAGED)
def test_a_damaged_reduction_in_a_pan_is_caught(damage: str) -> None:
    runs, code = DAMAGED[damage]

    assert codes(PROBLEM, *runs) == {code}


def left_out(schedule: Schedule, code: str) -> Schedule:
    left = Unplaced(job=code, resource="pots", missing=1.0, unit="pots", sentence="", remedy="")
    runs = tuple(run for run in schedule.runs if run.job != code)
    return replace(schedule, status="partial", runs=runs, unplaced=(left,))


@pytest.mark.parametrize("code", ["H", "G"])
def test_a_reduction_that_lacks_one_of_its_runs_is_caught(code: str) -> None:
    faults = check_schedule(PROBLEM, left_out(set_schedule(PROBLEM, H, G, N), code))

    assert {fault.code for fault in faults} == {"join"}


def test_the_pan_draws_its_heat_from_its_own_supply() -> None:
    small_pan = replace(PROBLEM, supplies_kw=(("gas", 100.0), ("electric", 9.0)))
    small_pot = replace(PROBLEM, supplies_kw=(("gas", 39.0), ("electric", 10.0)))

    assert [f.code for f in check_schedule(small_pan, set_schedule(small_pan, H, G, N))] == ["heat"]
    assert codes(small_pot, H, G, N) == {"heat"}


def test_hands_are_needed_for_pouring_over_and_for_washing_the_pan() -> None:
    together = set_run(HOST, 360), set_run(GUEST, 360), set_run(NEXT, 900)

    def short(*cooks: Window) -> list[int]:
        problem = replace(PROBLEM, cooks=cooks)
        return [f.at_min for f in check_schedule(problem, set_schedule(problem, *together)) if f.code == "cooks"]

    assert short(Window(start_min=300, end_min=1400, amount=2)) == []
    assert short(Window(start_min=300, end_min=670, amount=2), Window(start_min=670, end_min=1400)) == [670, 690]
    assert short(Window(start_min=300, end_min=770, amount=2), Window(start_min=785, end_min=1400)) == [770]


def test_two_reductions_in_one_pan_at_the_same_time_are_caught() -> None:
    other = job("O", two_draws("K3", pan="P1", power_kw=0.0))
    problem = joined(HOST, GUEST, other, cooks=9)

    assert codes(problem, H, G, set_run(other, 475)) == set()
    assert codes(problem, H, G, set_run(other, 474)) == {"pot"}


def test_a_pan_out_of_order_or_not_soaked_is_caught() -> None:
    other = job("O", two_draws("K3", pan="P1"))
    fish = joined(HOST, replace(GUEST, allergens=frozenset(["fish"])), other, cooks=9, soak_min=60)
    runs = H, G, set_run(other, 535)

    assert codes(fish, *runs) == set()
    assert codes(replace(fish, soak_min=61), *runs) == {"soak"}
    assert codes(replace(fish, outages=(("P1", Window(start_min=600, end_min=670)),)), *runs) == set()
    assert codes(replace(fish, outages=(("P1", Window(start_min=600, end_min=671)),)), *runs) == {"outage"}
    assert codes(replace(fish, outages=(("P1", Window(start_min=784, end_min=786)),)), *runs) == {"outage", "soak"}


def test_a_pan_that_is_washed_after_the_end_of_the_plan_is_caught() -> None:
    assert codes(replace(PROBLEM, horizon_min=1020), H, G, N) == set()
    assert codes(replace(PROBLEM, horizon_min=1020), set_run(HOST, 360, pan_wash_at=1010), G, N) == {"horizon"}


# Begun and locked


def begun(**edit: object) -> RunJob:
    return replace(job("A", option(), release_min=900), start_at_min=345, **edit)  # type: ignore[arg-type]


def test_a_begun_run_may_have_started_before_now_before_its_goods_and_out_of_hours() -> None:
    assert codes(kitchen(begun(), now_min=400), set_run(begun(), 345)) == set()


def test_a_begun_run_must_be_told_as_it_was() -> None:
    assert codes(kitchen(begun(), now_min=400), set_run(begun(), 350)) == {"moved"}


def test_a_locked_run_is_held_to_its_start_and_to_its_goods() -> None:
    locked = replace(job("A", option()), start_at_min=420)

    assert codes(kitchen(locked), set_run(locked, 420)) == set()
    assert codes(kitchen(locked), set_run(locked, 425)) == {"moved"}
    assert codes(kitchen(replace(locked, release_min=421)), set_run(locked, 420)) == {"too-early"}


def test_what_a_begun_run_took_before_now_breaks_no_limit_and_what_it_takes_from_now_on_does() -> None:
    def found(now_min: int, **cut: object) -> set[str]:
        return codes(kitchen(begun(), now_min=now_min, **cut), set_run(begun(), 345))  # type: ignore[arg-type]

    assert (found(435, gas_kw=19.0), found(434, gas_kw=19.0)) == (set(), {"heat"})
    assert (found(645, sinks=0), found(644, sinks=0)) == (set(), {"cooling-places"})
    assert (found(586, ice_bin_kg=1.0), found(585, ice_bin_kg=1.0)) == (set(), {"ice"})
    out = (("K1", Window(start_min=345, end_min=500)),)
    assert (found(500, outages=out), found(499, outages=out)) == (set(), {"outage"})
    night = (Window(start_min=570, end_min=1080),)
    assert (found(570, cooks=night), found(434, cooks=night)) == (set(), {"nobody-on-site", "cooks"})
    keepless = draw(not_before_min=2000)
    old = replace(begun(), options=(option(draws=(keepless,)),))
    assert codes(kitchen(old, now_min=586), set_run(old, 345)) == set()
    assert codes(kitchen(old, now_min=585), set_run(old, 345)) == {"shelf-life"}


def test_two_begun_runs_of_one_pot_collide_only_from_now_on() -> None:
    first, second = begun(), replace(begun(), code="B", start_at_min=560)
    runs = (set_run(first, 345), set_run(second, 560))

    assert codes(kitchen(first, second, now_min=600), *runs) == set()
    assert codes(kitchen(first, second, now_min=599), *runs) == {"pot"}
    soaked = kitchen(replace(first, allergens=frozenset(["fish"])), second, now_min=600, soak_min=90)
    assert codes(soaked, *runs) == set()


def test_a_run_after_a_begun_one_waits_for_its_soak() -> None:
    first, second = replace(begun(), allergens=frozenset(["fish"])), job("B", option())
    problem = kitchen(first, second, now_min=500, soak_min=90)

    assert codes(problem, set_run(first, 345), set_run(second, 690)) == set()
    assert codes(problem, set_run(first, 345), set_run(second, 689)) == {"soak"}


def test_a_pot_whose_washing_has_begun_is_washed_then() -> None:
    washing = replace(begun(), washed_at_min=590)

    assert codes(kitchen(washing, now_min=595), set_run(washing, 345, wash_at=590)) == set()
    assert codes(kitchen(washing, now_min=595), set_run(washing, 345, wash_at=600)) == {"wash"}


def test_an_addition_that_has_begun_keeps_its_minute_whatever_the_formula_says() -> None:
    done = AdditionTask(name="herbs", stage=2, before_end_min=60, cook_min=10, tolerance_min=5, done_at_min=450)
    run = replace(begun(), options=(option(additions=(done,)),))
    right = set_run(run, 345)
    problem = kitchen(run, now_min=455)

    assert codes(problem, right) == set()
    by_the_book = (Placed(name="herbs", start_min=495, end_min=505),)
    assert codes(problem, replace(right, additions=by_the_book)) == {"addition"}
    assert codes(problem, replace(right, additions=())) == {"addition"}
    no_hands = replace(problem, cooks=(Window(start_min=460, end_min=1080, amount=2),))
    assert "cooks" in codes(no_hands, right)


# Ice bought in

TWO = (job("A", option()), job("B", option(pot="K2")))  # each takes 10 kg: at 600 and at 615
ICED = tuple(set_run(each, start) for each, start in zip(TWO, (360, 375), strict=True))


@pytest.mark.parametrize(
    ("minute", "mass_kg", "found"),
    [
        (615, 10.0, set()),  # before the draw of the same minute
        (616, 10.0, {"ice"}),
        (601, 9.9, {"ice"}),
        (601, 50.0, set()),
        (600, 50.0, {"ice"}),  # the bin is full: all of it is lost
        (599, 50.0, {"ice"}),
    ],
)
def test_ice_bought_in_counts_from_its_minute_and_only_as_far_as_the_bin_holds_it(
    minute: int, mass_kg: float, found: set[str]
) -> None:
    bought = (IceDelivery(minute=minute, mass_kg=mass_kg),)
    problem = replace(kitchen(*TWO, ice_bin_kg=10.0, ice_kg_per_min=0.0), ice_deliveries=bought)

    assert codes(problem, *ICED) == found


def test_ice_delivered_before_now_is_part_of_what_is_in_the_bin() -> None:
    begun_first = replace(TWO[0], start_at_min=360)
    problem = kitchen(begun_first, TWO[1], now_min=370, ice_bin_kg=20.0, ice_start_kg=10.0, ice_kg_per_min=0.0)

    assert codes(replace(problem, ice_deliveries=(IceDelivery(minute=369, mass_kg=10.0),)), *ICED) == {"ice"}
    assert codes(replace(problem, ice_deliveries=(IceDelivery(minute=370, mass_kg=10.0),)), *ICED) == set()
    assert BATH.ice_kg == 10.0
    assert ICED[0].start_min < DAY
