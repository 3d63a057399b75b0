"""What no runs of a week cost less than, however they are found, and what real runs cost in the same measure."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from production.domain.batches import Floor, Sizing, floor_of, size_batches
from production.domain.batches.prices import LATE_H_COST, REDUCTION_COST, RUN_COST, SECOND_COST, UNMADE_COST
from production.domain.demand import net_demand
from production.domain.kitchen import Outage, Week
from production.domain.plan import make_plan, parameters_of, search
from production.domain.plan.draft import Draft, careful, drafted
from production.domain.plan.effort import Effort
from production.domain.plan.frame import frame_of
from production.domain.plan.jobs import Held
from production.domain.plan.make import coolable_l
from production.domain.plan.quickest import quickest_of
from production.domain.plan.worth import worth_of
from tests.builders import a_kitchen, a_line, a_pot, a_product, at, small_kitchen
from tests.kitchens import random_week


def floor(week: Week) -> Floor:
    parameters = parameters_of(week=week)
    frame = frame_of(week, parameters)
    return floor_of(
        week=week,
        demand=net_demand(week=week),
        parameters=parameters,
        coolable_l=coolable_l(frame),
        seconds=10.0,
        quickest=quickest_of(frame),
    )


def by_rule(week: Week) -> Draft:
    parameters = parameters_of(week=week)
    frame, demand = frame_of(week, parameters), net_demand(week=week)
    sized = size_batches(week=week, demand=demand, parameters=parameters, coolable_l=coolable_l(frame))
    return drafted(frame, demand, sized, held=Held(), scheduler=careful(Effort()))


def reckoned(week: Week, draft: Draft) -> Sizing:
    unserved, late_h, *_ = worth_of(draft)
    made = [(batch, run.pot) for batch, run in draft.laid.kept]
    return floor(week).sizing(Sizing(method="search"), made, late_h=late_h, unserved=unserved, seconds=1.0)


def test_one_full_run_costs_the_least() -> None:
    week = small_kitchen(order_lines=(a_line(containers=4),))
    found = reckoned(week, by_rule(week))
    assert found.objective == pytest.approx(found.bound)
    assert found.objective == pytest.approx(RUN_COST + 0.2 * found.energy_kwh)
    assert found.gap_share == pytest.approx(0.0, abs=1e-6)


def test_what_no_pot_holds_takes_two_runs() -> None:
    one, two = (floor(small_kitchen(order_lines=(a_line(containers=count),))).cost for count in (4, 5))
    assert one < 1.5 * RUN_COST
    assert 2.0 * RUN_COST < two < 3.0 * RUN_COST


def test_broth_that_does_not_keep_for_both_lines_takes_two_runs() -> None:
    lines = (
        a_line(containers=2, dispatch_at=at("2027-02-02 20:00")),
        a_line(code="L2", containers=2, dispatch_at=at("2027-02-05 20:00")),
    )
    week = small_kitchen(order_lines=lines)
    young = replace(week, products=(a_product(shelf_life_days=2), *week.products[1:]))
    assert floor(week).cost < 2.0 * RUN_COST < floor(young).cost


def test_a_reduction_takes_a_second_draw() -> None:
    lines = (a_line(containers=4), a_line(code="G1", product="poultry-glaze", containers=1))
    broth, both = (floor(small_kitchen(order_lines=lines[:count])).cost for count in (1, 2))
    assert both - broth > SECOND_COST + REDUCTION_COST
    assert both < 2.0 * RUN_COST + SECOND_COST  # out of the same run


def test_a_reduction_needs_as_many_runs_as_its_whole_containers_take() -> None:
    costs = [
        floor(small_kitchen(order_lines=(a_line(product="poultry-glaze", containers=count),))).cost for count in (1, 3)
    ]
    assert costs[1] > costs[0] + 2.0 * RUN_COST  # one jar of each run


def test_what_is_late_or_not_made_costs_more() -> None:
    week = small_kitchen(order_lines=(a_line(containers=4),))
    draft = by_rule(week)
    made = [(batch, run.pot) for batch, run in draft.laid.kept]

    def cost(late_h: float, unserved: float) -> float:
        found = floor(week).sizing(Sizing(), made, late_h=late_h, unserved=unserved, seconds=0.0)
        assert found.objective is not None
        return found.objective

    assert cost(2.0, 0.0) - cost(0.0, 0.0) == pytest.approx(2.0 * LATE_H_COST)
    assert cost(0.0, 0.5) - cost(0.0, 0.0) == pytest.approx(0.5 * UNMADE_COST)


@pytest.mark.parametrize(("size", "seed"), [*(("tiny", seed) for seed in range(8)), ("small", 0), ("medium", 2)])
def test_no_runs_by_rule_cost_less_than_the_floor(size: str, seed: int) -> None:
    week = random_week(size, seed)
    found = reckoned(week, by_rule(week))
    assert found.objective is not None
    assert 0.0 < floor(week).cost <= found.objective + 1e-6
    assert found.gap_share is not None
    assert 0.0 <= found.gap_share < 1.0


def test_a_plan_that_is_looked_for_tells_how_little_its_runs_could_cost(monkeypatch: pytest.MonkeyPatch) -> None:
    week, known = random_week("tiny", 3), list[Floor]()

    def known_by(**asked: Any) -> Floor:
        known.append(floor_of(**asked))
        return known[0]

    monkeypatch.setattr(search, "floor_of", known_by)
    sizing = make_plan(week=week, seconds=60.0, cancelled=lambda: bool(known)).sizing  # time enough on any machine
    assert sizing.objective is not None
    assert sizing.bound is not None
    assert 0.0 < sizing.bound <= floor(week).cost + 1e-6  # in less time less can be proven
    assert floor(week).cost <= sizing.objective + 1e-6


def test_nothing_is_claimed_of_runs_in_an_unknown_pot() -> None:
    week = small_kitchen(order_lines=(a_line(containers=4),))
    ((batch, _), *_) = by_rule(week).laid.kept
    bare = Sizing(method="search", runs=1)
    assert floor(week).sizing(bare, [(batch, "elsewhere")], late_h=0.0, unserved=0.0, seconds=0.0) == bare


def test_quarts_gallons_and_half_pints_fill_whole_runs_as_litres_do() -> None:
    quart_l = 0.946352946
    kitchen = small_kitchen(
        order_lines=(
            a_line(containers=5, product="quart"),
            a_line(code="L2", containers=3, product="gallon", dispatch_at=at("2027-02-04 09:00")),
            a_line(code="L3", containers=4, product="poultry-glaze", dispatch_at=at("2027-02-04 09:00")),
        )
    )
    _, glaze, *others = kitchen.products
    broths = (a_product(code="quart", net_l=quart_l), a_product(code="gallon", net_l=4 * quart_l))
    week = replace(kitchen, products=(*broths, replace(glaze, net_l=quart_l / 4), *others))
    found = reckoned(week, by_rule(week))
    assert found.objective is not None
    assert 2.0 * RUN_COST < floor(week).cost < 3.0 * RUN_COST
    assert floor(week).cost <= found.objective


def test_nothing_is_claimed_of_containers_without_a_common_measure() -> None:
    kitchen = small_kitchen(order_lines=(a_line(containers=4, product="quart"),))
    week = replace(kitchen, products=(a_product(code="quart", net_l=0.946352946), *kitchen.products))
    assert floor(week).cost == 0.0


def test_a_pot_that_is_out_of_use_twice_over_is_out_of_use_once() -> None:
    def told(times: int) -> Week:
        kitchen = small_kitchen(
            kitchen=a_kitchen(unattended_simmer=False),
            order_lines=(a_line(containers=6, dispatch_at=at("2027-02-02 22:00")),),
        )
        outages = tuple(
            Outage(start=at(f"2027-02-0{day} 06:00"), end=at(f"2027-02-0{day} 13:0{n}"), reason="leaks")
            for day in range(1, 6)
            for n in range(times)
        )
        return replace(kitchen, pots=(replace(kitchen.pots[0], outages=outages),))

    for times in (1, 2, 3):
        found = reckoned(told(times), by_rule(told(times)))
        assert found.objective is not None
        assert floor(told(times)).cost <= found.objective + 1e-6


def test_an_order_that_takes_more_than_a_hundred_small_runs_can_be_made() -> None:
    kitchen = small_kitchen(order_lines=(a_line(product="fish-2", containers=260, dispatch_at=at("2027-02-05 22:00")),))
    small = a_pot(inner_diameter_mm=250.0, inner_height_mm=330.0, mass_kg=5.0)  # takes two tubs at once
    week = replace(
        kitchen,
        pots=tuple(replace(small, code=f"small-{n}") for n in range(16)),
        shifts=kitchen.shifts * 6,
        products=tuple(replace(each, shelf_life_days=9) for each in kitchen.products),
    )
    assert floor(week).cost < 1.2 * 130.0 * RUN_COST
