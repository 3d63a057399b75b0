"""What was weighed decides about water, fill mark, additions and yields."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.domain.errors import DoesNotFit
from production.domain.formula import Again, Charge, WeighedCharge, charge_run, charge_weighed
from production.domain.kitchen import Pot
from production.domain.plan import parameters_of
from tests.builders import a_pot, a_week, poultry

WEEK = a_week()
PARAMETERS = parameters_of(week=WEEK)


def planned(drawn_l: float = 25.0) -> Charge:
    return charge_run(
        week=WEEK,
        parameters=PARAMETERS,
        formula=poultry(),
        pot=a_pot(),
        drawn_l=drawn_l,
        simmer_h=4.0,
        second=True,
        second_simmer_h=3.0,
    )


def weighed(
    masses_kg: Mapping[str, float], *, water_kg: float | None = None, pot: Pot | None = None, **changes: Any
) -> WeighedCharge:
    return charge_weighed(
        week=WEEK,
        parameters=PARAMETERS,
        formula=poultry(**changes),
        pot=pot or a_pot(),
        masses_kg=masses_kg,
        water_kg=water_kg,
        simmer_h=4.0,
        again=Again(simmer_h=3.0),
    )


def as_planned(charge: Charge) -> dict[str, float]:
    return {item.ingredient: item.mass_kg for item in charge.items if item.what == "solids"}


def test_what_is_weighed_as_planned_gives_what_was_planned() -> None:
    plan = planned()
    found = weighed(as_planned(plan))
    assert found.leave_out_kg == 0.0
    for name in ("water_kg", "water_l", "fill_mark_mm", "hot_mark_mm", "salt_kg", "refill_kg", "mass_out_kg"):
        assert getattr(found.charge, name) == pytest.approx(getattr(plan, name), rel=1e-9), name
    assert found.charge.first.cold_l == pytest.approx(25.0, rel=1e-9)
    assert found.charge.reduction is not None
    assert plan.reduction is not None
    assert found.charge.reduction.litres == pytest.approx(plan.reduction.litres, rel=1e-9)


def test_a_tenth_more_of_all_bones_takes_a_tenth_more_water_and_additions() -> None:
    plan = planned()
    found = weighed({name: 1.1 * mass for name, mass in as_planned(plan).items()}).charge
    assert found.water_kg == pytest.approx(1.1 * plan.water_kg)
    assert found.fill_mark_mm < plan.fill_mark_mm
    assert found.first.cold_l > plan.first.cold_l
    for now, was in zip(found.items, plan.items, strict=True):
        assert now.mass_kg == pytest.approx(1.1 * was.mass_kg)


def test_more_of_one_bone_only_changes_the_mixture() -> None:
    plan = planned()
    masses = as_planned(plan) | {"feet": 1.5 * as_planned(plan)["feet"]}
    found = weighed(masses).charge
    assert {item.ingredient: item.mass_kg for item in found.items if item.what == "solids"} == pytest.approx(masses)
    assert found.water_kg == pytest.approx(2.0 * sum(masses.values()))


def test_water_that_was_filled_in_counts_as_it_was() -> None:
    plan = planned()
    found = weighed(as_planned(plan), water_kg=plan.water_kg - 5.0).charge
    assert found.water_kg == plan.water_kg - 5.0
    assert plan.first.mass_kg - found.first.mass_kg == pytest.approx(5.0 * (1.0 - PARAMETERS.value("skim.water_share")))


def test_too_many_bones_get_water_up_to_the_freeboard_and_the_cook_is_told_how_much_to_leave_out() -> None:
    masses = {"frames": 36.0, "feet": 9.0}
    full = weighed(masses)
    assert full.leave_out_kg > 0.0
    assert full.charge.water_kg < 2.0 * 45.0
    assert full.charge.hot_mark_mm >= PARAMETERS.value("pot.freeboard_simmer_mm") - 1e-6
    left = 1.0 - full.leave_out_kg / 45.0
    fits = weighed({name: left * mass for name, mass in masses.items()})
    assert fits.leave_out_kg == pytest.approx(0.0, abs=1e-6)
    assert fits.charge.water_kg == pytest.approx(2.0 * left * 45.0, rel=1e-6)
    assert fits.charge.hot_mark_mm >= PARAMETERS.value("pot.freeboard_boil_mm") - 1e-6


def test_bones_that_fill_the_pot_by_themselves_do_not_fit() -> None:
    with pytest.raises(DoesNotFit):
        weighed({"frames": 90.0, "feet": 20.0})


@given(frames=st.floats(4.0, 40.0), feet=st.floats(1.0, 10.0))
def test_the_freeboard_is_kept_whatever_is_weighed(frames: float, feet: float) -> None:
    try:
        found = weighed({"frames": frames, "feet": feet})
    except DoesNotFit:
        return  # it boils dry, or the bones alone are too much
    assert found.charge.hot_mark_mm >= PARAMETERS.value("pot.freeboard_simmer_mm") - 1e-6
    assert (found.leave_out_kg > 0.0) == (found.charge.water_kg < 2.0 * (frames + feet) - 1e-6)
