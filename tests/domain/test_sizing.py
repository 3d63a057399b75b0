"""The exact choice of runs: nothing lost, no dearer than the rule, not below its bound, right on tiny cases."""

from __future__ import annotations

import itertools
import random
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal

import pytest

from production.domain.batches import Sized, container_storage_l, fill_stores, size_batches
from production.domain.batches.cells import Cell, cells_of, common_l, pot_kinds, reduction_of_l
from production.domain.batches.highs import Mip
from production.domain.batches.prices import KWH_COST, RUN_COST, SURPLUS_L_COST
from production.domain.demand import net_demand
from production.domain.formula import least_reduction_l, pot_ranges
from production.domain.kitchen import Week
from production.domain.parameters import DEFAULT_PARAMETERS
from tests.builders import a_line, a_pot, a_product, at, poultry, small_kitchen
from tests.kitchens import random_week

WEEK = small_kitchen()


def sized(week: Week, *, seconds: float, coolable_l: float = 1000.0) -> Sized:
    return size_batches(
        week=week,
        demand=net_demand(week=week),
        parameters=DEFAULT_PARAMETERS,
        coolable_l={formula.code: coolable_l for formula in week.formulas},
        seconds=seconds,
    )


def accounted(found: Sized) -> Counter[str]:
    counts: Counter[str] = Counter()
    for batch in found.batches:
        for portion in batch.portions:
            for peg in portion.pegs:
                counts[peg.line] += peg.containers
    for each in found.unmakeable:
        counts[each.line] += each.containers
    return counts


# --- the door to the solver ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(5))
def test_a_knapsack_is_filled_as_well_as_by_trying_everything(seed: int) -> None:
    rng = random.Random(seed)
    things = [(rng.randint(1, 30), rng.randint(1, 30)) for _ in range(9)]  # room, value
    mip = Mip()
    taken = [mip.variable(high=1.0, whole=True, cost=-value) for _, value in things]
    mip.row([(index, room) for index, (room, _) in zip(taken, things, strict=True)], high=60.0)
    answer = mip.solve(seconds=10.0, gap_share=0.0)
    best = max(
        sum(value for _, value in chosen)
        for count in range(len(things) + 1)
        for chosen in itertools.combinations(things, count)
        if sum(room for room, _ in chosen) <= 60
    )
    assert answer is not None
    assert answer.proven
    assert -answer.objective == pytest.approx(best)
    assert -answer.bound == pytest.approx(best)


def test_a_program_without_a_solution_gives_no_answer() -> None:
    mip = Mip()
    index = mip.variable(high=1.0, whole=True)
    mip.row([(index, 1.0), (index, 1.0)], low=3.0)
    assert mip.solve(seconds=5.0) is None


# --- sizes --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seconds", [0.0, 2.0])
@pytest.mark.parametrize(("more", "runs"), [(0, 1), (1, 2)])
def test_exactly_one_full_pot_is_one_run_and_a_tenth_of_a_litre_more_is_two(
    more: int, runs: int, seconds: float
) -> None:
    ladle = a_product(net_l=0.1)
    largest_l = max(each.largest_l for each in pot_ranges(week=WEEK, parameters=DEFAULT_PARAMETERS, formula=poultry()))
    full = int(largest_l * 10)
    week = small_kitchen(products=(ladle, *WEEK.products[1:]), order_lines=(a_line(containers=full + more),))
    found = sized(week, seconds=seconds)
    assert len(found.batches) == runs
    assert sum(portion.surplus for batch in found.batches for portion in batch.first) == 0


def least_cost_by_trying(cells: tuple[Cell, ...], wanted_l: float, step_l: float) -> float:
    """The cheapest runs for one dispatch of one broth, all combinations of pots and of whole containers."""

    def fills(cell: Cell) -> list[float]:
        steps = range(int(cell.largest_l / step_l) + 1)
        return [n * step_l for n in steps if cell.smallest_l - 1e-9 <= n * step_l <= cell.largest_l + 1e-9]

    found = []
    for count in (1, 2, 3):
        for chosen in itertools.combinations_with_replacement(cells, count):
            for litres in itertools.product(*(fills(cell) for cell in chosen)):
                if sum(litres) >= wanted_l - 1e-9:
                    kwh = sum(cell.kwh.at(each) for cell, each in zip(chosen, litres, strict=True))
                    found.append(RUN_COST * count + KWH_COST * kwh + SURPLUS_L_COST * (sum(litres) - wanted_l))
    return min(found)


@pytest.mark.parametrize("containers", [1, 3, 5, 8, 11, 12])
def test_one_dispatch_is_sized_as_well_as_by_trying_everything(containers: int) -> None:
    week = small_kitchen(order_lines=(a_line(containers=containers, dispatch_at=at("2027-02-04 20:00")),))
    cells = cells_of(week=week, parameters=DEFAULT_PARAMETERS, formula=poultry(), limit_l=1000.0)
    found = sized(week, seconds=4.0)
    best = least_cost_by_trying(cells, 5.0 * containers, 5.0)
    assert found.sizing.objective == pytest.approx(best, rel=5e-3)
    assert found.sizing.bound is not None
    assert found.sizing.bound <= best + 1e-6
    assert found.sizing.gap_share is not None
    assert found.sizing.gap_share <= 0.01


@pytest.mark.parametrize(("size", "seed"), [("tiny", 1), ("tiny", 2), ("tiny", 3), ("small", 1), ("small", 2)])
def test_the_search_loses_nothing_and_keeps_every_limit(size: str, seed: int) -> None:
    week = random_week(size, seed)
    rule, found = sized(week, seconds=0.0, coolable_l=60.0), sized(week, seconds=6.0, coolable_l=60.0)
    assert accounted(found) == accounted(rule)
    assert found.unmakeable == rule.unmakeable
    assert [batch.code for batch in found.batches] == [f"R{n:02d}" for n in range(1, len(found.batches) + 1)]
    sizing = found.sizing
    assert sizing.method == "search"
    assert sizing.objective is not None
    assert sizing.bound is not None
    assert 0.0 < sizing.bound <= sizing.objective
    assert sizing.gap_share == pytest.approx((sizing.objective - sizing.bound) / sizing.objective)
    assert (sizing.runs, sizing.surplus_l) == (len(found.batches), sum(batch.surplus_l for batch in found.batches))
    for batch in found.batches:
        formula = week.get("formulas", batch.formula)
        ranges = pot_ranges(week=week, parameters=DEFAULT_PARAMETERS, formula=formula)
        assert batch.first_l <= 60.0 + 1e-6
        assert any(each.takes(batch.first_l) for each in ranges)
        if batch.reduction:
            given_l = (
                least_reduction_l(
                    week=replace(week, pots=(pot,)),
                    parameters=DEFAULT_PARAMETERS,
                    formula=formula,
                    drawn_l=batch.first_l,
                )
                for pot in week.pots
            )
            assert batch.reduction_l <= max(given_l) + 1e-6  # there is a pot for it


def test_a_search_that_is_stopped_at_once_gives_the_runs_of_the_rule() -> None:
    week = random_week("small", 1)
    rule = sized(week, seconds=0.0)
    stopped = size_batches(
        week=week,
        demand=net_demand(week=week),
        parameters=DEFAULT_PARAMETERS,
        coolable_l={formula.code: 1000.0 for formula in week.formulas},
        seconds=60.0,
        cancelled=lambda: True,
    )
    assert stopped.batches == rule.batches
    assert stopped.sizing.seconds < 30.0


def test_the_same_search_gives_the_same_runs_again() -> None:
    week = small_kitchen(
        order_lines=(
            a_line(containers=9),
            a_line(code="L2", containers=7, dispatch_at=at("2027-02-05 09:00")),
            a_line(code="F", product="fish-2", containers=10, dispatch_at=at("2027-02-04 09:00")),
        )
    )
    assert sized(week, seconds=20.0).batches == sized(week, seconds=20.0).batches


def test_without_needs_nothing_is_searched_for() -> None:
    found = sized(small_kitchen(), seconds=1.0)
    assert found.batches == ()
    assert found.sizing.method == "rule"


def test_second_draws_of_one_formula_are_poured_into_one_pan() -> None:
    pan = a_pot(code="pan", inner_diameter_mm=900.0, inner_height_mm=300.0, reduction_pan=True)
    lines = (
        a_line(code="B", containers=8, dispatch_at=at("2027-02-05 20:00")),
        a_line(code="G", product="poultry-glaze", containers=2, dispatch_at=at("2027-02-05 20:00")),
    )
    pots = (*WEEK.pots, replace(WEEK.pots[0], code="twin", name="Tall 100, the second"))
    heat = tuple(replace(supply, capacity_kw=200.0) for supply in WEEK.heat_supplies)  # both heat up at once
    alone = sized(small_kitchen(order_lines=lines, heat_supplies=heat, pots=pots), seconds=3.0)
    found = sized(small_kitchen(order_lines=lines, heat_supplies=heat, pots=(*pots, pan)), seconds=3.0)
    assert not any(batch.guests or batch.pours_into for batch in alone.batches)
    (host,) = [batch for batch in found.batches if batch.reduction]
    guests = [batch for batch in found.batches if batch.pours_into]
    assert host.guests == tuple(guest.code for guest in guests) != ()
    assert {guest.pours_into for guest in guests} == {host.code}
    assert all(guest.has_second_draw and not guest.reduction for guest in guests)
    assert sum(portion.containers for portion in host.reduction) == 2
    assert found.sizing.reductions == 1 < found.sizing.second_draws
    room_l = sum(reduction_l(week=WEEK, drawn_l=batch.first_l) for batch in (host, *guests))
    assert host.reduction_l <= room_l + 1e-6


def reduction_l(*, week: Week, drawn_l: float) -> float:
    return least_reduction_l(week=week, parameters=DEFAULT_PARAMETERS, formula=poultry(), drawn_l=drawn_l)


def test_pots_that_are_alike_are_one_kind_and_give_what_each_of_them_gives() -> None:
    twin = replace(WEEK.pots[0], code="twin", name="Tall 100, the second")
    week = replace(WEEK, pots=(*WEEK.pots, twin, a_pot(code="pan", reduction_pan=True)))
    assert [kind.pots for kind in pot_kinds(week=week)] == [("tall", "twin"), ("wide",)]
    for drawn_l in (15.0, 20.0, 30.0):
        known = reduction_of_l(week=week, parameters=DEFAULT_PARAMETERS, formula=poultry(), drawn_l=drawn_l)
        assert known == pytest.approx(reduction_l(week=week, drawn_l=drawn_l))


def test_every_container_holds_a_whole_number_of_grid_steps() -> None:
    assert common_l([2.0, 5.0]) == pytest.approx(1.0)
    assert common_l([0.5, 0.55]) == pytest.approx(0.05)
    assert common_l([10.0, 5.0]) == pytest.approx(5.0)
    assert common_l([0.946352946, 3.785411784, 0.473176473]) == pytest.approx(0.473176473)  # US quart, gallon, pint


# --- storage first ------------------------------------------------------------------------------------------------


def coolable(week: Week) -> Mapping[str, float]:
    return {formula.code: 60.0 for formula in week.formulas}


def test_the_stores_are_filled_as_well_as_by_trying_everything() -> None:
    stores = tuple(replace(store, volume_l=300.0) for store in WEEK.stores)
    week = small_kitchen(stores=stores)
    mix = fill_stores(week=week, parameters=DEFAULT_PARAMETERS, coolable_l=coolable(week))
    room_l = 300.0 * 0.5
    products = [week.get("products", code) for code in ("poultry-5", "fish-2")]
    one_l = [container_storage_l(container=week.get("containers", p.container), air_gap_mm=0.0) for p in products]
    makeable: list[list[int]] = []
    for product, each_l in zip(products, one_l, strict=True):
        cells = cells_of(
            week=week,
            parameters=DEFAULT_PARAMETERS,
            formula=week.get("formulas", product.formula),
            limit_l=60.0,
        )
        counts = range(int(room_l / each_l) + 1)
        makeable.append([n for n in counts if n == 0 or splits(n * product.net_l, cells)])
    best = max(
        a * products[0].value + b * products[1].value
        for a in makeable[0]
        for b in makeable[1]
        if a * one_l[0] + b * one_l[1] <= room_l + 1e-9
    )
    assert mix.value == best
    assert mix.most_value is not None
    assert mix.value <= mix.most_value <= mix.value + Decimal(1)


def splits(litres: float, cells: tuple[Cell, ...]) -> bool:
    """Whether up to six runs make this volume between their least and largest fills."""
    return any(
        sum(each.smallest_l for each in chosen) - 1e-9 <= litres <= sum(each.largest_l for each in chosen) + 1e-9
        for count in range(1, 7)
        for chosen in itertools.combinations_with_replacement(cells, count)
    )


def test_what_stands_in_a_store_already_is_left_out() -> None:
    full = fill_stores(
        week=WEEK,
        parameters=DEFAULT_PARAMETERS,
        coolable_l=coolable(WEEK),
        occupied_l={"walk-in": 3000.0, "freezer": 750.0},
    )
    assert (full.shares, full.value) == ((), Decimal(0))


def test_the_weeks_own_runs_leave_less_time_to_fill_the_stores() -> None:
    week = small_kitchen(shifts=WEEK.shifts[:2], order_lines=(a_line(containers=14),))
    own = sized(week, seconds=0.0, coolable_l=60.0).batches
    free = fill_stores(week=week, parameters=DEFAULT_PARAMETERS, coolable_l=coolable(week))
    joint = fill_stores(week=week, parameters=DEFAULT_PARAMETERS, coolable_l=coolable(week), batches=own)
    assert Decimal(0) < joint.value < free.value


def test_the_shares_of_a_formula_add_up_to_its_fillings() -> None:
    mix = fill_stores(week=WEEK, parameters=DEFAULT_PARAMETERS, coolable_l=coolable(WEEK))
    for formula in {share.formula for share in mix.shares}:
        shares = [share for share in mix.shares if share.formula == formula]
        made_l = sum(each.runs * each.litres for each in shares[0].fillings)
        assert sum(share.litres for share in shares) == pytest.approx(made_l)
    assert mix.value == sum((share.value for share in mix.shares), Decimal(0))
