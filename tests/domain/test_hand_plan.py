"""The plan by hand that the planner is measured against is a real plan: it keeps all limits and leaves nothing out."""

from __future__ import annotations

from collections import Counter
from functools import cache

import pytest

from production.domain.demand import net_demand
from production.domain.formula import pot_ranges
from production.domain.kitchen import Week
from production.domain.plan import make_plan, parameters_of
from production.domain.plan.board import Board
from production.domain.plan.frame import frame_of
from production.domain.plan.in_turn import begin_in_turn
from production.domain.plan.kitchen_tables import KitchenTables
from production.domain.plan.make import coolable_l
from tests.benchmarks.hand import HandPlan, hand_plan
from tests.benchmarks.measure import figures_of_hand, figures_of_plan
from tests.builders import a_week
from tests.kitchens import random_week

KITCHENS = [("tiny", seed) for seed in range(8)] + [("small", seed) for seed in range(3)] + [("medium", 1)]
each_kitchen = pytest.mark.parametrize(("size", "seed"), KITCHENS)


@cache
def by_hand(size: str, seed: int) -> tuple[Week, HandPlan]:
    week = random_week(size, seed)
    return week, hand_plan(week)


@each_kitchen
def test_a_plan_by_hand_passes_the_checker(size: str, seed: int) -> None:
    _, plan = by_hand(size, seed)
    assert plan.batches
    assert plan.violations == ()


@each_kitchen
def test_every_container_is_from_stock_or_in_a_run_or_told_to_be_unserved(size: str, seed: int) -> None:
    week, plan = by_hand(size, seed)
    found = Counter(plan.unserved)
    for served in plan.demand.served:
        found[served.line] += served.containers
    for batch in plan.batches:
        for portion in batch.portions:
            for peg in portion.pegs:
                found[peg.line] += peg.containers
    assert found == Counter({line.code: line.containers for line in week.order_lines})


@each_kitchen
def test_every_run_lies_within_the_range_of_its_pot(size: str, seed: int) -> None:
    week, plan = by_hand(size, seed)
    formulas = {formula.code: formula for formula in week.formulas}
    pots = {run.job: run.pot for run in plan.schedule.runs}
    for batch in plan.batches:
        ranges = pot_ranges(week=week, parameters=parameters_of(week=week), formula=formulas[batch.formula])
        assert next(each for each in ranges if each.pot == pots[batch.code]).takes(batch.first_l)


@each_kitchen
def test_every_run_reduces_in_its_own_pot(size: str, seed: int) -> None:
    _, plan = by_hand(size, seed)
    assert all(run.pan == "" for run in plan.schedule.runs)
    assert all(not batch.guests and not batch.pours_into for batch in plan.batches)


def test_the_same_week_gives_the_same_plan_by_hand() -> None:
    assert hand_plan(a_week()).schedule == hand_plan(a_week()).schedule


@pytest.mark.parametrize(("size", "seed"), [*(("tiny", seed) for seed in range(4)), ("small", 2), ("small", 9)])
def test_a_plan_that_is_looked_for_is_never_worth_less_than_the_one_by_hand(size: str, seed: int) -> None:
    week, plan = by_hand(size, seed)
    ours = figures_of_plan(make_plan(week=week, seconds=2.0))
    assert not ours.is_worse_than(figures_of_hand(week, plan))


@pytest.mark.parametrize("seed", range(6))
def test_the_first_week_on_the_board_serves_no_less_than_the_plan_by_hand(seed: int) -> None:
    week, plan = by_hand("tiny", seed)
    frame = frame_of(week, parameters_of(week=week))
    board = Board(KitchenTables(frame, net_demand(week=week), coolable_l(frame)))
    begin_in_turn(board)
    assert board.worth()[:2] <= (round(figures_of_hand(week, plan).unserved, 9), figures_of_hand(week, plan).lateness_h)
