"""Par levels that a plan leaves unfilled are counted against what it makes that nobody has ordered."""

from __future__ import annotations

from production.domain.kitchen import ParLevel
from production.domain.plan import ParLeft, make_plan, par_left
from tests.builders import a_line, small_kitchen


def test_a_par_level_that_is_filled_on_the_way_is_not_told() -> None:
    week = small_kitchen(order_lines=(a_line(containers=2),), par_levels=(ParLevel(product="poultry-5", containers=1),))
    assert par_left(make_plan(week=week)) == ()


def test_what_is_made_beyond_the_orders_counts_towards_the_par_level() -> None:
    week = small_kitchen(
        order_lines=(a_line(containers=2),), par_levels=(ParLevel(product="poultry-5", containers=40),)
    )
    plan = make_plan(week=week)
    made = sum(
        portion.containers for run in plan.runs for portion in run.batch.portions if portion.product == "poultry-5"
    )
    assert 2 < made < 42
    assert par_left(plan) == (ParLeft(product="poultry-5", wanted=40, made=made - 2),)


def test_without_a_run_nothing_of_the_par_level_is_made() -> None:
    week = small_kitchen(shifts=(), par_levels=(ParLevel(product="poultry-5", containers=4),))
    assert par_left(make_plan(week=week)) == (ParLeft(product="poultry-5", wanted=4, made=0),)
