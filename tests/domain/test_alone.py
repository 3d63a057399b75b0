"""The runs of one formula fill by fill: what is proven of them no runs undercut, and the runs are real."""

from __future__ import annotations

import itertools
import random
from collections import Counter

import pytest

from production.domain.batches import size_batches
from production.domain.batches.alone import Alone
from production.domain.batches.cells import Line, pot_kinds
from production.domain.batches.pooling import least_pools
from production.domain.batches.prices import COST
from production.domain.batches.shapes import Fill, lines_over, packed_l
from production.domain.demand import net_demand
from production.domain.kitchen import Formula, Pot, Week
from production.domain.plan import parameters_of
from production.domain.plan.frame import frame_of
from production.domain.plan.make import coolable_l
from production.domain.plan.quickest import quickest_of
from tests.domain.test_joint import parts
from tests.domain.test_shapes import charges
from tests.kitchens import random_week

# --- pools ---------------------------------------------------------------------------------------------------------


def some_fills(dice: random.Random, count: int) -> list[Fill]:
    gives, litres, found = 0.0, 10.0, []
    for _ in range(count):
        gives += dice.choice([0.0, 0.1, 0.25, 0.4, 0.45])
        litres += 5.0
        found.append(Fill(least_l=litres, most_l=litres, gives_l=gives, liquor_l=0.8 * litres))
    return found


@pytest.mark.parametrize("seed", range(8))
def test_every_pool_fills_as_much_as_the_best_of_the_least_pools_within_it(seed: int) -> None:
    dice = random.Random(seed)
    nets_l = dice.choice([[0.5], [0.55], [0.5, 0.55], [0.25, 1.0]])
    fills = {kind: some_fills(dice, dice.randint(1, 5)) for kind in range(dice.randint(1, 3))}
    pan_l = dice.choice([40.0, 70.0, 200.0])
    pools = least_pools(fills, nets_l, pan_l)

    def within(pool: tuple[tuple[int, int], ...], larger: tuple[tuple[int, int], ...]) -> bool:
        """Whether each draw of a pool can be one of the larger ones."""
        return len(pool) <= len(larger) and any(
            all(mine[0] == theirs[0] and mine[1] <= theirs[1] for mine, theirs in zip(pool, order, strict=False))
            for order in itertools.permutations(larger)
        )

    every = [(kind, place) for kind, own in fills.items() for place in range(len(own))]
    for size in (1, 2, 3):
        for members in itertools.combinations_with_replacement(every, size):
            if sum(fills[kind][place].liquor_l for kind, place in members) > pan_l:
                continue
            filled = packed_l(sum(fills[kind][place].gives_l for kind, place in members), nets_l)
            best = max((pool.packed_l for pool in pools if within(pool.members, members)), default=0.0)
            assert best == pytest.approx(filled)
    for pool in pools:
        for n in range(len(pool.members)):
            fewer = pool.members[:n] + pool.members[n + 1 :]
            assert packed_l(sum(fills[kind][place].gives_l for kind, place in fewer), nets_l) < pool.packed_l - 1e-9


@pytest.mark.parametrize(
    "points",
    [[(10.0, 0.0)], [(10.0, 0.0), (20.0, 1.0)], [(1.0, 0.0), (2.0, 0.1), (3.0, 0.9), (4.0, 1.0), (5.0, 1.0)]],
)
def test_lines_over_points_lie_above_each_and_touch_those_that_stick_out(points: list[tuple[float, float]]) -> None:
    lines = list(lines_over(points))

    def over(litres: float) -> float:
        return min(line.at(litres) for line in lines)

    assert all(over(litres) >= value - 1e-12 for litres, value in points)
    assert over(points[0][0]) == pytest.approx(points[0][1])
    assert over(points[-1][0]) == pytest.approx(points[-1][1])
    assert all(isinstance(line, Line) for line in lines)


# --- fills ---------------------------------------------------------------------------------------------------------


def least_given_l(week: Week, formula: Formula, pot: Pot, litres: float) -> float:
    """Of the ends of both simmers."""
    found = charges(week, formula, pot, litres)
    return min(each.reduction.litres for each in found if each.reduction is not None)


@pytest.mark.parametrize(("size", "seed"), [("medium", 16), ("large", 1)])
def test_no_fill_gives_more_than_a_run_of_its_litres_and_one_by_itself_just_that(size: str, seed: int) -> None:
    week = random_week(size, seed)
    kinds = pot_kinds(week=week)
    looked_at = Counter[bool]()
    for part in parts(week).parts:
        for shape in part.shapes:
            pot = week.get("pots", kinds[shape.cell.kind].pots[0])
            for fill in shape.again.fills[::3] if shape.again is not None else ():
                given_l = least_given_l(week, part.ways.formula, pot, fill.most_l)
                is_one = fill.least_l == fill.most_l
                looked_at[is_one] += 1
                if is_one:
                    assert fill.gives_l == pytest.approx(given_l)
                else:
                    between_l = (fill.least_l + fill.most_l) / 2.0
                    middle_l = least_given_l(week, part.ways.formula, pot, between_l)
                    assert fill.gives_l >= max(given_l, middle_l) - 1e-6
    assert looked_at[size == "medium"] > 0


# --- what is proven ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("size", "seed"),
    [*(("tiny", seed) for seed in range(20, 32)), *(("small", seed) for seed in range(30, 36))],
)
def test_no_runs_that_are_found_cost_less_than_what_is_proven_of_any(size: str, seed: int) -> None:
    week = random_week(size, seed)
    frame = frame_of(week, parameters_of(week=week))
    found = size_batches(
        week=week,
        demand=net_demand(week=week),
        parameters=frame.parameters,
        coolable_l=coolable_l(frame),
        seconds=3.0,
        quickest=quickest_of(frame),
    ).sizing.objective
    answers = [Alone(part, COST, surely=False).mip.solve(seconds=10.0) for part in parts(week).parts]
    proven = sum(each.bound for each in answers if each is not None)
    assert found is None or 0.0 < proven <= found * (1.0 + 1e-6)  # none: a formula has its runs by rule


def test_a_container_may_be_of_draws_that_are_ready_at_several_times() -> None:
    """Three draws of one day fill 4.55 of their 4.56 L, an earlier one 1.65 of its 1.88; in a pan they fill 6.4 L."""
    part = next(each for each in parts(random_week("medium", 3)).parts if each.code == "poultry")
    alone = Alone(part, COST, surely=False)
    wanted = {(0, 50.0): 1, (1, 40.0): 3}  # runs by kind of pot and litres
    for (kind, each_l), count in wanted.items():
        own = [
            each
            for each in alone.choices
            if each.shape.again and each.shape.cell.kind == kind and each.least_l <= each_l <= each.most_l
        ]
        alone.mip.row([(each.runs, 1.0) for each in own], low=count, high=count)
        litres = each_l * count
        alone.mip.row([term for each in own for term in each.litres], low=litres, high=litres)
    answer = alone.mip.solve(seconds=20.0)
    assert answer is not None
    assert answer.objective < 1200.0  # with nothing unmade
