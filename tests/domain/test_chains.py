"""Times of runs before pots are given out: attended where they must be, simmered as long as the formula says."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import pytest

from production.domain.batches import size_batches
from production.domain.batches.cells import Cell, cells_of, pot_kinds
from production.domain.batches.chains import CHILLER_H, SINK_H, Chains, Times, cooling_h, quarters
from production.domain.batches.loads import POT_H_COST, Capacity, capacity_of, overload_cost
from production.domain.batches.slots import Clock, clock_of, draw_moments
from production.domain.demand import net_demand
from production.domain.kitchen import Week
from production.domain.parameters import DEFAULT_PARAMETERS
from tests.builders import a_line, at, poultry, small_kitchen
from tests.kitchens import random_week

WEEK = small_kitchen()
HAIR_H = 1e-6


def clock(week: Week) -> Clock:
    return clock_of(week=week, until=max(shift.end for shift in week.shifts))


def ways(week: Week) -> Iterator[tuple[Chains, Cell, Times]]:
    hours = clock(week)
    for formula in week.formulas:
        chains = Chains(clock=hours, formula=formula, release_h=0.0)
        for cell in cells_of(week=week, parameters=DEFAULT_PARAMETERS, formula=formula, limit_l=60.0):
            for moment in draw_moments(hours, from_h=0.0, step_h=1.0, after_begin_h=0.0, wished_h=()):
                times = chains.times(cell, moment)
                if times is not None:
                    yield chains, cell, times


@pytest.mark.parametrize(("size", "seed"), [("small", 1), ("small", 6), ("medium", 2)])
def test_somebody_is_there_for_every_hand_and_until_every_draw_is_cold(size: str, seed: int) -> None:
    week = random_week(size, seed)
    hours, tasks, found, twice = clock(week), week.kitchen.tasks, 0, 0
    for chains, _, times in ways(week):
        found += 1
        begins, boils = times.load_h, times.simmered[0]
        assert hours.is_staffed(begins, boils + tasks.skim_min / 60.0)
        assert hours.is_staffed(times.drawn[0], times.drawn[1] + SINK_H)
        simmer_h = times.simmered[1] - boils - tasks.skim_min / 60.0
        assert chains.formula.simmer_min_h - HAIR_H <= simmer_h <= chains.formula.simmer_max_h + HAIR_H
        if not week.kitchen.unattended_simmer:
            assert hours.is_staffed(begins, times.drawn[1])
        for second in times.seconds:
            if second is None:
                continue
            twice += 1
            draw = chains.formula.second_draw
            assert draw is not None
            assert hours.is_staffed(times.drawn[0], second.simmered[0])
            assert hours.is_staffed(*second.drawn)
            assert hours.is_staffed(second.reduced[0], second.portioned[1])
            simmer_h = second.drawn[0] - second.simmered[0]
            assert draw.simmer_min_h - HAIR_H <= simmer_h <= draw.simmer_max_h + HAIR_H
            held_h = second.reduced[0] - second.drawn[1]
            assert 0.0 < held_h <= week.kitchen.hot_hold_max_h + HAIR_H
    assert found > 20
    assert twice > 0 or all(formula.second_draw is None for formula in week.formulas)


def test_a_run_begins_as_late_as_its_shortest_simmer_allows() -> None:
    chains = Chains(clock=clock(WEEK), formula=poultry(), release_h=0.0)
    (cell, *_) = cells_of(week=WEEK, parameters=DEFAULT_PARAMETERS, formula=poultry(), limit_l=60.0)
    tasks = WEEK.kitchen.tasks
    opens_h = chains.clock.windows[0][0]
    times = chains.times(cell, opens_h + 6.0)
    assert times is not None
    preparing_h = (tasks.load_min + tasks.skim_min) / 60.0 + cell.heat_up_h
    assert times.load_h == pytest.approx(opens_h + 6.0 - poultry().simmer_min_h - preparing_h)
    assert chains.times(cell, opens_h + poultry().simmer_min_h) is None  # it would have to be loaded before


def test_goods_that_come_later_hold_a_run_up() -> None:
    opens_h = clock(WEEK).windows[0][0]
    chains = Chains(clock=clock(WEEK), formula=poultry(), release_h=opens_h + 3.0)
    for cell in cells_of(week=WEEK, parameters=DEFAULT_PARAMETERS, formula=poultry(), limit_l=60.0):
        assert chains.times(cell, opens_h + 6.0) is None
        later = chains.times(cell, opens_h + 9.0)
        assert later is not None
        assert later.load_h >= opens_h + 3.0


def test_pots_are_drawn_off_just_in_time_for_a_dispatch() -> None:
    hours = Clock(week=WEEK, windows=((0.0, 8.0), (20.0, 28.0)))
    steps = draw_moments(hours, from_h=2.0, step_h=4.0, after_begin_h=0.5, wished_h=())
    assert steps == (2.0, 6.0, 20.5, 24.5)
    wished = draw_moments(hours, from_h=2.0, step_h=4.0, after_begin_h=0.5, wished_h=(7.25, 12.0, 23.0))
    assert wished == (2.0, 7.25, 20.5, 23.0, 24.5)


def test_staffed_time_is_cut_off_at_the_last_moment() -> None:
    hours = clock_of(week=WEEK, until=WEEK.shifts[0].end - timedelta(hours=1))
    assert hours.windows == ((hours.hours(WEEK.shifts[0].start), hours.hours(WEEK.shifts[0].end) - 1.0),)
    assert clock_of(week=replace(WEEK, shifts=()), until=WEEK.shifts[0].end).windows == ()


def test_what_the_sinks_cannot_take_cools_as_long_as_in_a_chiller() -> None:
    sinks_l = sum(each.places * each.vessel_fill_l for each in WEEK.cooling_devices if each.kind == "ice_sink")
    has_chiller = any(each.kind == "blast_chiller" for each in WEEK.cooling_devices)
    assert cooling_h(WEEK, sinks_l) == SINK_H
    assert cooling_h(WEEK, sinks_l + 1.0) == (CHILLER_H if has_chiller else SINK_H)
    assert (quarters(1.0), quarters(1.01), quarters(1.26)) == (1.0, 1.25, 1.5)


# --- what runs take from the kitchen ------------------------------------------------------------------------------


def capacity(week: Week) -> Capacity:
    return capacity_of(
        week=week,
        parameters=DEFAULT_PARAMETERS,
        clock=clock(week),
        kinds=pot_kinds(week=week),
        slack_share=0.0,
        most_l=60.0,
    )


def test_a_run_takes_its_pot_from_loading_to_washing_and_its_litres_once() -> None:
    there = capacity(WEEK)
    for _, cell, times in ways(WEEK):
        loads = there.loads(cell, times, None)
        by_name = {name: [load for load in loads if name_of(there, load.limit) == name] for name in there.first}
        held_h = sum(load.per_run for load in by_name["pots"])
        assert held_h == pytest.approx(min(times.free_h, there.edges[-1]) - times.load_h)
        assert [load.per_l for load in by_name["places"]] == [1.0]
        hands_h = sum(load.per_run for load in by_name["cooks"])
        tasks = WEEK.kitchen.tasks
        drawing_h = times.drawn[1] - times.drawn[0]
        assert hands_h == pytest.approx((tasks.load_min + tasks.skim_min + tasks.wash_min) / 60.0 + drawing_h)


def name_of(there: Capacity, limit: int) -> str:
    return max((first, name) for name, first in there.first.items() if first <= limit)[1]


def test_two_runs_in_one_pot_cost_the_hours_that_they_share() -> None:
    there = capacity(WEEK)
    _, cell, times = next(way for way in ways(WEEK) if len(pot_kinds(week=WEEK)[way[1].kind].pots) == 1)
    pots = {load.limit: load.per_run for load in there.loads(cell, times, None) if name_of(there, load.limit) == "pots"}
    assert overload_cost(there, pots) == 0.0
    shared_h = sum(max(0.0, 2.0 * hours - there.limits[limit].amount) for limit, hours in pots.items())
    assert 0.0 < shared_h <= times.free_h - times.load_h
    assert overload_cost(there, {limit: 2.0 * hours for limit, hours in pots.items()}) == pytest.approx(
        POT_H_COST * shared_h
    )


def test_what_no_shift_can_attend_keeps_the_runs_of_the_rule() -> None:
    kitchen = replace(WEEK.kitchen, unattended_simmer=False)
    long = replace(poultry(), simmer_min_h=30.0, simmer_max_h=40.0)
    formulas = tuple(long if each.code == long.code else each for each in WEEK.formulas)
    week = small_kitchen(kitchen=kitchen, formulas=formulas, order_lines=(a_line(containers=4),))
    demand = net_demand(week=week)
    limits_l = {formula.code: 60.0 for formula in week.formulas}
    rule, found = (
        size_batches(week=week, demand=demand, parameters=DEFAULT_PARAMETERS, coolable_l=limits_l, seconds=seconds)
        for seconds in (0.0, 1.0)
    )
    assert found.batches == rule.batches
    assert found.sizing.method == "rule"


def test_a_broth_that_would_not_keep_is_cooked_apart() -> None:
    # both lines fit one pot, but the first cannot wait for a broth that is still good for the second
    soon, later = at("2027-02-02 20:00"), at("2027-02-06 20:00")
    young = replace(WEEK.products[0], shelf_life_days=2)
    week = small_kitchen(
        products=(young, *WEEK.products[1:]),
        order_lines=(
            a_line(containers=2, dispatch_at=soon),
            a_line(code="L2", containers=2, dispatch_at=later),
        ),
    )
    found = size_batches(
        week=week,
        demand=net_demand(week=week),
        parameters=DEFAULT_PARAMETERS,
        coolable_l={formula.code: 60.0 for formula in week.formulas},
        seconds=2.0,
    )
    assert len(found.batches) == 2
