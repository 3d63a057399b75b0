"""Needs into runs: no container lost, the fewest fillings, no reduction promised that no second draw gives."""

from __future__ import annotations

import itertools
from collections import Counter
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.domain.batches import (
    Batch,
    Unmakeable,
    choose_fills,
    container_storage_l,
    size_batches,
    storage_first,
)
from production.domain.demand import net_demand
from production.domain.formula import PotRange, least_reduction_l, pot_ranges
from production.domain.kitchen import OrderLine, ParLevel, StockLot, Week
from production.domain.parameters import DEFAULT_PARAMETERS
from tests.builders import a_line, a_pot, a_product, at, fish, poultry, small_kitchen

WEEK = small_kitchen()


def range_of(smallest_l: float, largest_l: float) -> PotRange:
    return PotRange(pot=f"{smallest_l}-{largest_l}", smallest_l=smallest_l, largest_l=largest_l)


ranges = st.lists(
    st.tuples(st.integers(1, 40), st.integers(0, 40)).map(lambda two: range_of(two[0], two[0] + two[1])),
    min_size=1,
    max_size=3,
).map(tuple)


@given(total_l=st.integers(1, 160), pots=ranges)
def test_the_fillings_are_the_fewest_and_then_the_least_room_of_all_combinations(
    total_l: int, pots: tuple[PotRange, ...]
) -> None:
    chosen = choose_fills(total_l=total_l, ranges=pots)
    possible = [
        combination
        for count in range(1, 6)
        for combination in itertools.combinations_with_replacement(pots, count)
        if sum(each.smallest_l for each in combination) <= total_l <= sum(each.largest_l for each in combination)
    ]
    if possible and len(chosen) <= 5:
        best = min((len(each), sum(pot.largest_l for pot in each)) for each in possible)
        assert (len(chosen), sum(pot.largest_l for pot in chosen)) == best
    if total_l < min(each.smallest_l for each in pots):
        assert [each.smallest_l for each in chosen] == [min(each.smallest_l for each in pots)]


def test_more_than_eight_fillings_are_the_largest_pot_again_and_again() -> None:
    small, large = range_of(5.0, 20.0), range_of(10.0, 50.0)
    chosen = choose_fills(total_l=1000.0, ranges=(small, large))
    assert len(chosen) == 20
    assert Counter(chosen)[large] == 20


def sized(week: Week, *, coolable_l: float = 1000.0) -> tuple[tuple[Batch, ...], tuple[Unmakeable, ...]]:
    found = size_batches(
        week=week,
        demand=net_demand(week=week),
        parameters=DEFAULT_PARAMETERS,
        coolable_l={formula.code: coolable_l for formula in week.formulas},
    )
    return found.batches, found.unmakeable


def accounted(batches: tuple[Batch, ...], unmakeable: tuple[Unmakeable, ...]) -> Counter[str]:
    found: Counter[str] = Counter()
    for batch in batches:
        for portion in (*batch.first, *batch.reduction):
            for peg in portion.pegs:
                found[peg.line] += peg.containers
    for each in unmakeable:
        found[each.line] += each.containers
    return found


def ordered(*lines: OrderLine, **changes: object) -> Week:
    return small_kitchen(order_lines=lines, **changes)


lines = st.lists(
    st.tuples(
        st.sampled_from(["poultry-5", "poultry-glaze", "poultry-cubes", "fish-2"]),
        st.integers(1, 30),
        st.integers(2, 7),
        st.integers(6, 20),
    ),
    max_size=6,
)


@pytest.mark.long
@given(orders=lines, coolable_l=st.sampled_from([0.0, 12.0, 25.0, 40.0, 1000.0]), par=st.integers(0, 8))
def test_every_container_is_in_exactly_one_batch_or_told_as_unmakeable(
    orders: list[tuple[str, int, int, int]], coolable_l: float, par: int
) -> None:
    week = ordered(
        *(
            a_line(code=f"L{n}", product=product, containers=count, dispatch_at=at(f"2027-02-0{day} {hour:02d}:00"))
            for n, (product, count, day, hour) in enumerate(orders)
        ),
        par_levels=(ParLevel(product="poultry-glaze", containers=par),),
    )
    batches, unmakeable = sized(week, coolable_l=coolable_l)
    asked = Counter({need.line: need.containers for need in net_demand(week=week).needs})
    assert accounted(batches, unmakeable) == asked
    for batch in batches:
        assert batch.first_l > 0
        for portion in (*batch.first, *batch.reduction):
            assert portion.surplus >= 0
            product = week.get("products", portion.product)
            assert portion.litres == pytest.approx(portion.containers * product.net_l)
        if batch.reduction:
            assert batch.reduction_l <= 1e-6 + least_reduction_l(
                week=week,
                parameters=DEFAULT_PARAMETERS,
                formula=week.get("formulas", batch.formula),
                drawn_l=batch.first_l,
            )
    for each in unmakeable:
        assert each.sentence
        assert each.remedy
        assert each.missing > 0


def test_needs_of_one_day_share_a_run_in_the_order_of_their_dispatch() -> None:
    week = ordered(
        a_line(code="noon", containers=1, dispatch_at=at("2027-02-03 12:00")),
        a_line(code="morning", containers=3, dispatch_at=at("2027-02-03 06:00")),
    )
    (batch,), _ = sized(week)
    assert [(peg.line, peg.containers, peg.share) for peg in batch.first[0].pegs] == [
        ("morning", 3, 1.0),
        ("noon", 1, 1.0),
    ]
    assert batch.first_l == pytest.approx(20.0)


@pytest.mark.parametrize(
    ("second_day", "runs"),
    [
        ("2027-02-07", 1),
        ("2027-02-08", 2),
    ],
)
def test_needs_that_one_day_of_cooking_cannot_serve_are_cooked_apart(second_day: str, runs: int) -> None:
    # cooked on the 3rd (day 1) it is good until the 8th, and leaves with two days of life until the 7th
    week = ordered(
        a_line(code="first", containers=2, dispatch_at=at("2027-02-04 09:00")),
        a_line(code="second", containers=2, dispatch_at=at(f"{second_day} 09:00")),
    )
    batches, _ = sized(week)
    assert len(batches) == runs


def test_a_need_below_the_least_fill_makes_a_surplus_of_what_keeps_longest() -> None:
    (small, *_) = sorted(
        pot_ranges(week=WEEK, parameters=DEFAULT_PARAMETERS, formula=poultry()), key=lambda each: each.smallest_l
    )
    (batch,), _ = sized(ordered(a_line(containers=1)))
    (portion,) = batch.first
    assert 5.0 < small.smallest_l <= batch.first_l < small.smallest_l + 5.0
    assert portion.surplus == portion.containers - 1


def test_a_draw_is_never_larger_than_what_can_be_cooled_at_once() -> None:
    batches, unmakeable = sized(ordered(a_line(containers=20)), coolable_l=16.0)
    assert unmakeable == ()
    # 100 L in draws of at most 16 L, which are three tubs: seven draws
    assert sorted(batch.first_l for batch in batches) == [15.0] * 7
    assert sum(portion.surplus for batch in batches for portion in batch.first) == 1


def test_where_the_least_draw_cannot_be_cooled_the_cooling_is_named() -> None:
    batches, (told,) = sized(ordered(a_line(), a_line(code="F", product="fish-2", containers=4)), coolable_l=9.0)
    assert {batch.formula for batch in batches} == {"fish"}
    least_l = min(each.smallest_l for each in pot_ranges(week=WEEK, parameters=DEFAULT_PARAMETERS, formula=poultry()))
    assert (told.resource, told.line, told.containers, told.unit) == ("cooling", "L1", 6, "L")
    assert told.missing == pytest.approx(least_l - 9.0)


@pytest.mark.parametrize(
    "pots",
    [
        (),
        (a_pot(formulas=("fish",)),),
        (a_pot(inner_height_mm=150.0),),
        (a_pot(inner_diameter_mm=1900.0, inner_height_mm=900.0, mass_kg=200.0, heat_source="plate"),),
    ],
    ids=["none", "not allowed", "too low", "too little heat"],
)
def test_without_a_pot_for_it_the_pots_are_named(pots: tuple[object, ...]) -> None:
    batches, (told,) = sized(ordered(a_line(), pots=pots))
    assert batches == ()
    assert (told.resource, told.containers, told.missing) == ("pots", 6, 30.0)


def test_a_reduction_takes_the_second_draw_of_a_run_that_is_made_anyway() -> None:
    week = ordered(a_line(containers=4), a_line(code="G", product="poultry-glaze", containers=1))
    (batch,), unmakeable = sized(week)
    assert unmakeable == ()
    assert [(portion.product, portion.containers) for portion in batch.reduction] == [("poultry-glaze", 1)]


def test_what_one_second_draw_leaves_over_goes_to_the_next_before_a_run_is_added() -> None:
    # Three runs of 20 L give 0.84 L each: two are enough for the litres of three bags of 0.55 L, but not for the bags.
    room_l = least_reduction_l(week=WEEK, parameters=DEFAULT_PARAMETERS, formula=poultry(), drawn_l=20.0)
    assert 3 * 0.55 / 2 < room_l < 2 * 0.55
    batches, unmakeable = sized(ordered(a_line(containers=12), a_line(code="C", product="poultry-cubes", containers=3)))
    assert unmakeable == ()
    assert [sum(portion.containers for portion in batch.reduction) for batch in batches] == [1, 1, 1]


def test_a_reduction_that_nobody_cooks_a_broth_for_gets_a_run_whose_broth_is_surplus() -> None:
    batches, unmakeable = sized(ordered(a_line(code="G", product="poultry-glaze", containers=2)))
    assert unmakeable == ()
    assert sum(portion.containers for batch in batches for portion in batch.reduction) == 2
    for batch in batches:
        assert batch.first[0].product == "poultry-5"
        assert batch.first[0].surplus == batch.first[0].containers


def test_a_par_level_alone_is_no_reason_to_cook_for_a_reduction() -> None:
    week = small_kitchen(par_levels=(ParLevel(product="poultry-glaze", containers=3),))
    batches, (told,) = sized(week)
    assert batches == ()
    assert (told.line, told.containers) == ("par:poultry-glaze", 3)


def test_a_reduction_without_any_broth_to_fill_the_first_draw_into_is_told() -> None:
    products = tuple(product for product in WEEK.products if product.code != "poultry-5")
    batches, (told,) = sized(ordered(a_line(code="G", product="poultry-glaze", containers=2), products=products))
    assert batches == ()
    assert (told.line, told.product, told.containers, told.resource) == ("G", "poultry-glaze", 2, "pots")
    assert told.missing == pytest.approx(1.0)


def test_runs_are_numbered_by_their_first_dispatch() -> None:
    week = ordered(
        a_line(code="late", containers=4, dispatch_at=at("2027-02-07 09:00")),
        a_line(code="fish", product="fish-2", containers=10, dispatch_at=at("2027-02-02 09:00")),
    )
    batches, _ = sized(week)
    assert [(batch.code, batch.formula) for batch in batches] == [("R01", "fish"), ("R02", "poultry")]


def test_containers_that_do_not_divide_a_total_are_all_filled() -> None:
    # Whole tubs never fill two pots exactly: what does not fit goes into a filling of its own.
    tubs = (a_product(net_l=5.5), *WEEK.products[1:])
    batches, unmakeable = sized(ordered(a_line(containers=23), products=tubs), coolable_l=20.0)
    assert unmakeable == ()
    assert sum(peg.containers for batch in batches for portion in batch.first for peg in portion.pegs) == 23
    assert all(batch.first_l <= 20.0 + 1e-6 for batch in batches)


def test_without_needs_nothing_is_made() -> None:
    assert sized(WEEK) == ((), ())


def test_a_formula_that_nobody_needs_makes_no_run() -> None:
    batches, _ = sized(replace(ordered(a_line()), formulas=(poultry(), fish())))
    assert {batch.formula for batch in batches} == {"poultry"}


def test_a_round_tub_takes_its_square_on_the_shelf_with_air_around_it() -> None:
    tub = WEEK.get("containers", "tub-5")  # 225 mm wide, 190 mm high
    assert container_storage_l(container=tub, air_gap_mm=0.0) == pytest.approx(2.25 * 2.25 * 1.9)
    assert container_storage_l(container=tub, air_gap_mm=20.0) == pytest.approx(2.65 * 2.65 * 2.1)


def test_free_room_is_offered_to_products_by_what_a_litre_of_it_is_worth() -> None:
    lot = StockLot(
        code="lot",
        product="poultry-5",
        containers=100,
        made_on=at("2027-01-29 12:00").date(),
        use_by=at("2027-02-03 12:00").date(),
        store="walk-in",
    )
    choices = storage_first(week=small_kitchen(lots=(lot,)), parameters=DEFAULT_PARAMETERS)
    tub_5_l, tub_2_l = 2.25 * 2.25 * 1.9, 1.7 * 1.7 * 1.35
    free_l = 6000.0 * 0.5 - 100 * tub_5_l
    assert [(choice.product, choice.containers) for choice in choices] == [
        ("fish-2", int(free_l / tub_2_l)),
        ("poultry-5", int(free_l / tub_5_l)),
    ]
    assert choices[0].value == 19 * choices[0].containers
    assert choices[0].value_per_storage_l == (Decimal("19") / Decimal(repr(tub_2_l))).quantize(Decimal("0.01"))
    for choice in choices:
        net_l = WEEK.get("products", choice.product).net_l
        assert choice.litres == pytest.approx(net_l * choice.containers)
        assert sum(each.runs * each.litres for each in choice.fillings) == pytest.approx(choice.litres)


def test_a_full_store_and_a_kitchen_without_pots_offer_nothing() -> None:
    tiny = tuple(replace(store, volume_l=10.0, usable_share=0.1) for store in WEEK.stores)
    assert storage_first(week=small_kitchen(stores=tiny), parameters=DEFAULT_PARAMETERS) == ()
    assert storage_first(week=small_kitchen(pots=()), parameters=DEFAULT_PARAMETERS) == ()
