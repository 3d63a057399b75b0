"""What no plan can do better than: its rows hold for every plan, and its answers are right where one can count."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from dataclasses import replace

import pytest

from production.domain.batches import Quickest, Sizing, floor_of, least_lateness_h, least_runs
from production.domain.batches.alone import Alone
from production.domain.batches.cells import pot_kinds
from production.domain.batches.floor import Floor
from production.domain.batches.flow import Terms
from production.domain.batches.highs import Mip
from production.domain.batches.joint import Joint
from production.domain.batches.parts import Part, Parts, parts_of
from production.domain.batches.prices import COST
from production.domain.batches.shapes import Shape, packed_l
from production.domain.demand import net_demand
from production.domain.errors import DoesNotFit, OutOfRange
from production.domain.formula import Charge, charge_run, pot_ranges
from production.domain.kitchen import Formula, Week
from production.domain.parameters import DEFAULT_PARAMETERS
from production.domain.plan import parameters_of
from production.domain.plan.draft import Draft
from production.domain.plan.frame import frame_of
from production.domain.plan.make import coolable_l
from production.domain.plan.quickest import quickest_of
from production.domain.plan.worth import worth_of
from tests.builders import a_line, a_product, at, poultry, small_kitchen
from tests.domain.test_floor import by_rule
from tests.kitchens import random_week


def least_late_h(week: Week, *, quickest: bool = True, seconds: float = 2.0) -> float:
    parameters = parameters_of(week=week)
    frame = frame_of(week, parameters)
    return least_lateness_h(
        week=week,
        demand=net_demand(week=week),
        parameters=parameters,
        coolable_l=coolable_l(frame),
        seconds=seconds,
        quickest=quickest_of(frame) if quickest else Quickest(),
    )


def fewest_runs(week: Week, *, most_late_h: float = 0.0, seconds: float = 2.0) -> int:
    parameters = parameters_of(week=week)
    frame = frame_of(week, parameters)
    return least_runs(
        week=week,
        demand=net_demand(week=week),
        parameters=parameters,
        coolable_l=coolable_l(frame),
        seconds=seconds,
        most_late_h=most_late_h,
        quickest=quickest_of(frame),
    )


def parts(week: Week) -> Parts:
    frame = frame_of(week, parameters_of(week=week))
    return parts_of(
        week=week,
        demand=net_demand(week=week),
        parameters=frame.parameters,
        coolable_l=coolable_l(frame),
        quickest=quickest_of(frame),
    )


# --- every plan keeps the rows -------------------------------------------------------------------------------------


def least_with_the_runs_of(week: Week, draft: Draft, *, alone: bool = False) -> float | None:
    """The least cost of the program, of all formulas or of each alone, with as many runs and litres as a plan has."""
    found, kinds = parts(week), pot_kinds(week=week)
    runs: Counter[object] = Counter()
    litres: defaultdict[object, float] = defaultdict(float)
    for batch, run in draft.laid.kept:
        kind = next(n for n, each in enumerate(kinds) if run.pot in each.pots)
        runs[batch.formula, kind, batch.has_second_draw] += 1
        litres[batch.formula, kind, batch.has_second_draw] += batch.first_l
    mips: list[Mip] = []
    joint = Joint(week, kinds, found.spans, COST)

    def keep(mip: Mip, part: Part, shape: Shape, count: Terms, drawn: Terms) -> None:
        key = part.ways.formula.code, shape.cell.kind, shape.again is not None
        mip.row(count, low=float(runs[key]), high=float(runs[key]))
        mip.row(drawn, low=litres[key] - 1e-6, high=litres[key] + 1e-6)
        del runs[key]

    for part in found.parts:
        if alone:
            own = Alone(part, COST, surely=False)
            mips.append(own.mip)
            for shape in part.shapes:
                choices = [each for each in own.choices if each.shape is shape]
                count = [(each.runs, 1.0) for each in choices]
                keep(own.mip, part, shape, count, [term for each in choices for term in each.litres])
        else:
            joint.add(part)
            for shape, (runs_at, litres_at) in zip(part.shapes, joint.totals[-len(part.shapes) :], strict=True):
                keep(joint.mip, part, shape, [(runs_at, 1.0)], [(litres_at, 1.0)])
    if not alone:
        joint.limit()
        joint.mip.whole = [False] * len(joint.mip.whole)
        mips.append(joint.mip)
    assert not +runs
    answers = [mip.solve(seconds=20.0) for mip in mips]
    return sum(each.bound for each in answers if each is not None) if all(answers) else None


def cost_of(week: Week, draft: Draft) -> float:
    unserved, late_h, *_ = worth_of(draft)
    made = [(batch, run.pot) for batch, run in draft.laid.kept]
    found = Floor(0.0, parts(week).cells).sizing(Sizing(), made, late_h=late_h, unserved=unserved, seconds=0.0)
    assert found.objective is not None
    return found.objective


@pytest.mark.long
@pytest.mark.parametrize(
    ("size", "seed"), [*(("tiny", seed) for seed in range(40, 52)), ("small", 21), ("small", 22), ("medium", 3)]
)
def test_the_runs_of_a_plan_that_was_checked_fit_into_the_program_and_cost_no_less(size: str, seed: int) -> None:
    week = random_week(size, seed)
    draft = by_rule(week)
    for alone in (False, True):
        least = least_with_the_runs_of(week, draft, alone=alone)
        assert least is not None
        assert least <= cost_of(week, draft) * (1.0 + 1e-6)


def test_over_night_a_pot_holds_one_run_and_by_day_no_longer_than_the_day() -> None:
    week = random_week("small", 21)
    found, kinds = parts(week), pot_kinds(week=week)
    joint = Joint(week, kinds, found.spans, COST)
    for part in found.parts:
        joint.add(part)
    nights = [limit for limit in joint.shared if limit.what == "night"]
    days = [limit for limit in joint.shared if limit.what == "pots"]
    assert nights
    assert days
    for limit in nights:
        assert joint.amount_of(limit) == len(kinds[limit.kind].pots)
    for limit in days:
        span = found.spans[limit.span]
        hours = joint.amount_of(limit) / len(kinds[limit.kind].pots)
        assert hours == pytest.approx(span.end_h - span.begin_h) or kinds[limit.kind].outages


# --- no plan does better -------------------------------------------------------------------------------------------


def _twice(week: Week) -> Week:
    return replace(week, order_lines=tuple(replace(line, containers=2 * line.containers) for line in week.order_lines))


def _early(week: Week) -> Week:
    """Everything leaves on Monday and Tuesday."""
    first = min(line.dispatch_at for line in week.order_lines)
    lines = (replace(line, dispatch_at=first + (line.dispatch_at - first) / 6) for line in week.order_lines)
    return replace(week, order_lines=tuple(lines))


@pytest.mark.long
@pytest.mark.parametrize("change", [lambda week: week, _twice, _early], ids=["as it is", "twice", "early"])
def test_no_plan_is_less_late_or_has_fewer_runs_than_was_proven(change: object) -> None:
    assert callable(change)
    compared, late = 0, 0
    for seed in range(100, 114):
        week = change(random_week("tiny", seed))
        unserved, late_h, _, runs, *_ = worth_of(by_rule(week))
        if unserved > 0.0:
            continue
        proven_h = least_late_h(week, seconds=1.0)
        assert proven_h <= late_h + 1e-6, seed
        assert fewest_runs(week, most_late_h=late_h, seconds=1.0) <= runs, seed
        compared, late = compared + 1, late + (proven_h > 0.0)
    assert compared >= 8
    assert late > 0 or change is not _early


def test_what_leaves_before_it_can_be_cold_is_late_by_what_is_missing() -> None:
    week = small_kitchen(order_lines=(a_line(containers=4, weight=2.0, dispatch_at=at("2027-02-01 09:00")),))
    _, late_h, *_ = worth_of(by_rule(week))
    proven_h = least_late_h(week)
    assert 0.0 < proven_h <= late_h
    # the plan draws more than the least fill, and its minutes are rounded up
    assert proven_h > late_h - 2.0 * 1.0
    assert least_late_h(week, quickest=False) < proven_h


def test_what_no_pot_has_the_hours_for_is_late_even_if_each_line_alone_were_not() -> None:
    due_at = at("2027-02-01 16:00")
    lines = [a_line(code=f"L{n}", containers=4, dispatch_at=due_at) for n in range(8)]
    alone, together = (small_kitchen(order_lines=tuple(lines[:count])) for count in (1, 8))
    assert least_late_h(alone) == 0.0
    _, late_h, *_ = worth_of(by_rule(together))
    assert 10.0 < least_late_h(together) <= late_h


def test_a_week_with_time_enough_is_not_called_late() -> None:
    assert least_late_h(small_kitchen(order_lines=(a_line(containers=4),))) == 0.0


@pytest.mark.parametrize("containers", [1, 4, 5, 8, 9, 13])
def test_the_fewest_runs_of_one_broth_are_those_of_the_largest_pot(containers: int) -> None:
    week = small_kitchen(order_lines=(a_line(containers=containers, dispatch_at=at("2027-02-05 20:00")),))
    ranges = pot_ranges(week=week, parameters=DEFAULT_PARAMETERS, formula=poultry())
    most = max(math.floor(each.largest_l / 5.0) for each in ranges)
    assert fewest_runs(week) == math.ceil(containers / most)


@pytest.mark.parametrize(("jars", "runs"), [(1, 2), (2, 4), (3, 6)])
def test_every_jar_of_a_small_kitchen_takes_a_run_and_a_reduction(jars: int, runs: int) -> None:
    week = small_kitchen(order_lines=(a_line(product="poultry-glaze", containers=jars),))
    assert fewest_runs(week) == runs


def test_broth_that_does_not_keep_takes_a_run_for_each_line() -> None:
    lines = (
        a_line(containers=2, dispatch_at=at("2027-02-02 20:00")),
        a_line(code="L2", containers=2, dispatch_at=at("2027-02-05 20:00")),
    )
    week = small_kitchen(order_lines=lines)
    young = replace(week, products=(a_product(shelf_life_days=2), *week.products[1:]))
    assert (fewest_runs(week), fewest_runs(young)) == (1, 2)
    assert fewest_runs(young, most_late_h=100.0) == 1  # then it waits for the other


# --- what the rows are made of -------------------------------------------------------------------------------------


def charged(week: Week, shape: Shape, formula: Formula, litres: float) -> list[Charge]:
    """A run of a shape at the ends of its first simmer, and the longest of its second."""
    pot = pot_kinds(week=week)[shape.cell.kind].pots[0]
    try:
        return [
            charge_run(
                week=week,
                parameters=parameters_of(week=week),
                formula=formula,
                pot=week.get("pots", pot),
                drawn_l=litres,
                simmer_h=simmer_h,
                second=shape.again is not None,
                keep_figures=False,
            )
            for simmer_h in (formula.simmer_min_h, formula.simmer_max_h)
        ]
    except (DoesNotFit, OutOfRange):
        return []


@pytest.mark.parametrize(("size", "seed"), [("tiny", 7), ("medium", 1)])
def test_no_run_is_shorter_and_none_gives_more_reduction_than_its_shape_says(size: str, seed: int) -> None:
    week = random_week(size, seed)
    for part in parts(week).parts:
        formula = part.ways.formula
        for shape in part.shapes:
            steps = round((shape.largest_l - shape.smallest_l) / part.step_l)
            for n in range(0, steps + 1, max(1, steps // 10)):  # a draw fills whole containers
                litres = shape.smallest_l + n * part.step_l
                charges = charged(week, shape, formula, litres)
                if not charges:  # it does not go into the pot, or boils dry
                    continue
                tasks = week.kitchen.tasks
                heated_h = (tasks.load_min + tasks.skim_min + max(each.heat_up_min for each in charges)) / 60.0
                assert shape.prepare_h.at(litres) <= heated_h + 1e-6
                if shape.again is not None:
                    given_l = min(each.reduction.litres for each in charges if each.reduction is not None)
                    assert min(line.at(litres) for line in shape.again.gives) >= given_l - 1e-3
                    assert shape.again.packed_l <= max(line.at(shape.largest_l) for line in shape.again.gives) + 1e-3


@pytest.mark.parametrize(
    ("room_l", "nets_l", "packed"),
    [
        (2.13, [0.5, 0.55], 2.1),
        (2.09, [0.5, 0.55], 2.05),
        (2.13, [0.5], 2.0),
        (0.49, [0.5, 0.55], 0.0),
        (2.0, [0.5], 2.0),
        (1.65, [0.55], 1.65),
    ],
)
def test_a_room_is_packed_with_whole_containers(room_l: float, nets_l: list[float], packed: float) -> None:
    assert packed_l(room_l, nets_l) == pytest.approx(packed)


def test_more_time_proves_no_less() -> None:
    week = random_week("small", 5)
    frame = frame_of(week, parameters_of(week=week))
    costs = [
        floor_of(
            week=week,
            demand=net_demand(week=week),
            parameters=frame.parameters,
            coolable_l=coolable_l(frame),
            seconds=seconds,
        ).cost
        for seconds in (0.05, 5.0)
    ]
    assert 0.0 < costs[0] <= costs[1] * (1.0 + 1e-3)
