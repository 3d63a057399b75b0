"""Made-up kitchens through the whole pipeline: every plan is checked, and every container is served or explained."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from production.domain.kitchen import Outage, ParLevel, Week
from production.domain.plan import Plan, make_plan
from production.domain.week_file import dumps_week, parse_week
from tests.benchmarks.measure import figures_of_plan
from tests.domain.plan_facts import faults
from tests.kitchens import SIZES, random_week


@pytest.mark.parametrize("size", SIZES)
def test_a_made_up_kitchen_passes_the_reader_of_week_files(size: str) -> None:
    for seed in range(5):
        week = random_week(size, seed)
        assert parse_week(dumps_week(week).encode()) == week


def test_a_made_up_kitchen_has_the_size_it_is_named_for() -> None:
    for size, pots, lines in (("small", 5, 15), ("medium", 12, 60), ("large", 40, 400)):
        for seed in range(5):
            week = random_week(size, seed)
            assert (len(week.pots), len(week.order_lines)) == (pots, lines)
            assert any(pot.reduction_pan for pot in week.pots) == (size != "small")


# --- plans ---------------------------------------------------------------------------------------------------------


def _half_the_ice(week: Week) -> Week:
    ice = week.ice_machine
    assert ice is not None
    return replace(week, ice_machine=replace(ice, bin_kg=ice.bin_kg / 2, make_kg_per_day=ice.make_kg_per_day / 2))


def _no_chiller(week: Week) -> Week:
    return replace(week, cooling_devices=tuple(each for each in week.cooling_devices if each.kind == "ice_sink"))


def _a_pot_out(week: Week) -> Week:
    out = Outage(start=week.plan_from, end=week.plan_from + timedelta(days=5), reason="its valve leaks")
    return replace(week, pots=(replace(week.pots[0], outages=(out,)), *week.pots[1:]))


def _no_late_shift(week: Week) -> Week:
    zone = ZoneInfo(week.kitchen.time_zone)
    return replace(week, shifts=tuple(each for each in week.shifts if each.start.astimezone(zone).hour < 12))


def _little_heat(week: Week) -> Week:
    largest = {each.supply: 0.0 for each in week.heat_sources}
    for each in week.heat_sources:
        largest[each.supply] = max(largest[each.supply], each.input_kw)
    supplies = (replace(each, capacity_kw=largest.get(each.code, each.capacity_kw)) for each in week.heat_supplies)
    return replace(week, heat_supplies=tuple(supplies))


def _everything_twice(week: Week) -> Week:
    return replace(week, order_lines=tuple(replace(line, containers=2 * line.containers) for line in week.order_lines))


def _more_in_stock(week: Week) -> Week:
    broths = [each for each in week.products if each.kind == "broth"]
    return replace(week, par_levels=tuple(ParLevel(product=each.code, containers=2) for each in broths))


CHANGES: tuple[Callable[[Week], Week], ...] = (
    lambda week: week,
    _half_the_ice,
    _no_chiller,
    _a_pot_out,
    _no_late_shift,
    _little_heat,
    _everything_twice,
    _more_in_stock,
)
ROUNDS = 26  # made-up kitchens of each change; together more than two hundred


@pytest.mark.long
@pytest.mark.parametrize("change", range(len(CHANGES)))
def test_plans_of_many_made_up_kitchens_keep_every_limit(change: int) -> None:
    for seed in range(change * ROUNDS, (change + 1) * ROUNDS):
        plan = make_plan(week=CHANGES[change](random_week("tiny", seed)))
        assert plan.violations == ()
        assert list(faults(plan)) == [], seed  # read again from week and plan alone; every container is told of
        assert all(each.sentence and each.remedy for each in plan.unserved), seed


@pytest.mark.parametrize(("size", "seed"), [("tiny", 2), ("tiny", 6), ("small", 1), ("small", 4)])
def test_a_plan_searched_for_keeps_every_limit_and_is_never_worse_than_the_simple_one(size: str, seed: int) -> None:
    week = random_week(size, seed)
    searched = make_plan(week=week, seconds=2.0, workers=2)
    assert list(faults(searched)) == []
    assert levels_of(searched) <= levels_of(make_plan(week=week))


def levels_of(plan: Plan) -> tuple[float, ...]:
    """Unserved, late, runs with reductions: in this order, whatever the cost in the later ones."""
    figures = figures_of_plan(plan)
    return round(figures.unserved, 6), round(figures.lateness_h, 6), figures.runs
