"""What is said of all runs in a kind of pot, against runs worked out one by one: nothing is ever said too much."""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterable
from dataclasses import replace

import pytest

from production.domain.batches.cells import pot_kinds
from production.domain.batches.parts import Part
from production.domain.batches.shapes import Again, Shape, packed_l, packed_sizes
from production.domain.cooling_capacity import STEP_MIN
from production.domain.errors import DoesNotFit, OutOfRange
from production.domain.formula import Charge, charge_run
from production.domain.kitchen import Formula, Pot, SecondDraw, Week
from production.domain.plan import parameters_of
from tests.domain.test_joint import parts
from tests.kitchens import random_week

HAIR = 1e-6
LOOKED_AT = 40  # fills of a pot


def odd_week(seed: int) -> Week:
    """A made-up kitchen with pots, burners and formulas that nobody would choose: pots boil dry, water goes away."""
    rng = random.Random(seed)
    week = random_week(rng.choice(("tiny", "small", "medium")), seed)

    def odd_pot(pot: Pot) -> Pot:
        share = rng.choice((0.05, 0.1, 0.2, 0.35, 0.6))
        width, height = (size * rng.uniform(0.7, 1.4) for size in (pot.inner_diameter_mm, pot.inner_height_mm))
        return replace(pot, min_fill_share=share, inner_diameter_mm=width, inner_height_mm=height)

    def odd_formula(each: Formula) -> Formula:
        second, shortest_h, again_h = each.second_draw, rng.uniform(0.5, 14.0), rng.uniform(0.5, 10.0)
        if second is not None:
            second = SecondDraw(
                refill_share=rng.choice((0.4, 0.6, 0.9, 1.2)),
                simmer_min_h=again_h,
                simmer_max_h=again_h + rng.choice((0.0, 1.0, 6.0)),
            )
        return replace(
            each,
            lid=rng.choice(("open", "ajar", "on")),
            simmer_min_h=shortest_h,
            simmer_max_h=shortest_h + rng.choice((0.0, 0.02, 1.0, 5.0)),
            additions=(),
            second_draw=second,
            reduction_bx=rng.choice((8.0, 15.0, 25.0, 40.0)) if second is not None else None,
        )

    return replace(
        week,
        pots=tuple(odd_pot(pot) for pot in week.pots),
        heat_sources=tuple(
            replace(s, input_kw=s.input_kw * rng.choice((0.3, 0.5, 1.0, 2.0))) for s in week.heat_sources
        ),
        formulas=tuple(odd_formula(each) for each in week.formulas),
    )


def fills(part: Part, shape: Shape) -> Iterable[float]:
    steps = round((shape.largest_l - shape.smallest_l) / part.step_l)
    return (
        shape.smallest_l + n * part.step_l for n in sorted({round(steps * n / LOOKED_AT) for n in range(LOOKED_AT + 1)})
    )


def charges(week: Week, formula: Formula, pot: Pot, litres: float) -> list[Charge]:
    """A run of so many litres, drawn twice, at the ends of its simmers; nothing where one of them does not go."""
    second = formula.second_draw
    assert second is not None
    ends = itertools.product((formula.simmer_min_h, formula.simmer_max_h), (second.simmer_min_h, second.simmer_max_h))
    try:
        return [
            charge_run(
                week=week,
                parameters=parameters_of(week=week),
                formula=formula,
                pot=pot,
                drawn_l=litres,
                simmer_h=simmer_h,
                second=True,
                second_simmer_h=second_h,
                keep_figures=False,
            )
            for simmer_h, second_h in ends
        ]
    except (DoesNotFit, OutOfRange):
        return []


def said_too_much(week: Week, again: Again, litres: float, every: list[Charge]) -> Iterable[str]:
    """What the lines say of a run that is not so at the most favourable end that a schedule may take."""
    tasks, reductions = week.kitchen.tasks, [each.reduction for each in every if each.reduction is not None]
    liquor_l = max(each.liquor.cold_l for each in every if each.liquor is not None)
    reduce_min = max(STEP_MIN, max(each.reduce_min for each in reductions) - tasks.finish_min) + tasks.finish_min
    portion_min = tasks.portion_base_min + tasks.portion_min_per_l * max(each.litres for each in reductions)
    for what, said, really in (
        ("refill", again.refill_h, (tasks.refill_min + max(each.second_heat_up_min for each in every)) / 60.0),
        ("draw", again.draw_h, (tasks.draw_base_min + tasks.draw_min_per_l * liquor_l) / 60.0),
        ("reduce", again.reduce_h, (reduce_min + portion_min) / 60.0),
        ("liquor", again.liquor_l, liquor_l),
    ):
        if said.at(litres) > really + HAIR:
            yield f"{what}: {said.at(litres)} where it is {really}"
    gives_l = min(each.litres for each in reductions)
    if min(line.at(litres) for line in again.gives) < gives_l - HAIR or again.most_l < gives_l - HAIR:
        yield f"gives {gives_l}"


@pytest.mark.parametrize("seed", [10, 20, 28, 34, 68])
def test_no_run_is_quicker_or_gives_more_than_is_said_of_all(seed: int) -> None:
    week, looked_at = odd_week(seed), 0
    formulas = {each.code: each for each in week.formulas}
    for part in parts(week).parts:
        twice = {shape.cell.kind: shape.again for shape in part.shapes if shape.again is not None}
        for shape in part.shapes:
            if shape.again is not None or formulas[part.code].second_draw is None or not part.nets_l:
                continue
            pot = week.get("pots", pot_kinds(week=week)[shape.cell.kind].pots[0])
            for litres in fills(part, shape):
                every = charges(week, formulas[part.code], pot, litres)
                if every:
                    again = twice.get(shape.cell.kind)
                    assert again is not None, f"{part.code} in {pot.code} gives a reduction"
                    assert not list(said_too_much(week, again, litres, every)), (part.code, pot.code, litres)
                    looked_at += 1
    assert looked_at > 30


def test_containers_of_half_a_pint_fill_a_room_as_often_as_they_go_into_it() -> None:
    half_pint_l = 0.236588
    assert packed_l(4 * half_pint_l, [half_pint_l]) == pytest.approx(4 * half_pint_l)
    assert packed_l(4 * half_pint_l - 0.001, [half_pint_l]) == pytest.approx(3 * half_pint_l)
    assert packed_sizes(0.8, [0.5, 0.3]) == pytest.approx([0.0, 0.3, 0.5, 0.6, 0.8])
