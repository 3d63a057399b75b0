"""Whole charges against published yields and worked examples; class C coefficients, so the tolerances are wide."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from production.domain.formula import Charge, charge_run, pot_ranges
from production.domain.kitchen import Addition, Formula, Ingredient, Pot, SecondDraw, Solid, TaskMinutes, Week
from production.domain.parameters import DEFAULT_PARAMETERS, ParameterSet
from production.domain.thermal.evaporation import simmer_evaporation_kg_h
from production.domain.thermal.properties import boiling_point_c
from production.domain.thermal.reduction import (
    reduction_mass_factor,
    removed_mass_percent,
    removed_volume_percent,
    removed_water_percent,
    sucrose_density_kg_m3,
)
from tests.builders import a_kitchen, a_pot, small_kitchen

QUART_L, POUND_KG, GALLON_L = 0.946352946, 0.45359237, 3.785411784
POT = a_pot(inner_diameter_mm=280.0, inner_height_mm=300.0, mass_kg=4.0, heat_source="plate")


def classic(*, simmer_below_boil_k: float, lid: str, **changes: Any) -> Formula:
    """Eight pounds of bones, six quarts of water, one pound of mirepoix."""
    formula = Formula(
        code="classic",
        version=1,
        name="White stock",
        solids=(Solid(role="bones", ingredient="beef", share=1.0),),
        water_kg_per_kg_solids=6 * QUART_L * 0.9997 / (8 * POUND_KG),
        additions=(Addition(ingredient="onion", kind="mirepoix", kg_per_kg_solids=1 / 8, minutes_before_end=60),),
        simmer_below_boil_k=simmer_below_boil_k,
        lid=lid,
        simmer_min_h=5.0,
        simmer_max_h=7.0,
    )
    return replace(formula, **changes)


BEEF = Ingredient(
    code="beef", name="Beef bones", material="beef_bones", roles=("bones",), charge_temp_c=4.0, trim_yield_share=1.0
)


def kitchen(**changes: Any) -> Week:
    week = small_kitchen(pots=(POT,), **changes)
    tasks = TaskMinutes(skim_min=15.0)
    return replace(
        week,
        kitchen=a_kitchen(altitude_m=0.0, tasks=tasks),
        ingredients=(*week.ingredients, BEEF),
    )


def run(formula: Formula, drawn_l: float, *, parameters: ParameterSet = DEFAULT_PARAMETERS, pot: Pot = POT) -> Charge:
    return charge_run(
        week=kitchen(),
        parameters=parameters,
        formula=formula,
        pot=pot,
        drawn_l=drawn_l,
        simmer_h=6.0 - 0.25,
        second=False,
    )


def test_the_worked_example_of_the_classic_stock_comes_out() -> None:
    """Mass balance by a second program: 5.673 kg water, 8 lb bones (soluble .035, fat .03, takes up .03, cling .10),
    1 lb mirepoix (.03, gives .05, cling .15), 6 h at 0.20 kg/h, 0.05 kg skimmed: 4.047 kg drawn with 3.14 % solids."""
    boil_c = boiling_point_c(altitude_m=0.0)
    open_kg_h = simmer_evaporation_kg_h(
        surface_c=95.0,
        inner_diameter_m=0.28,
        air_c=22.0,
        humidity_share=DEFAULT_PARAMETERS.value("room.humidity_share"),
        altitude_m=0.0,
    )
    own = DEFAULT_PARAMETERS.with_values(
        {
            "material.beef_bones.soluble_share": 0.035,
            "material.beef_bones.fat_share": 0.03,
            "material.beef_bones.water_net_share": -0.03,
            "material.beef_bones.cling_share": 0.10,
            "material.beef_bones.t90_h": 6.0,  # nine tenths are out after the six hours, so the share counts in full
            "material.vegetable_bulb.cling_share": 0.15,
            "evaporation.simmer_flux_scale": 0.2 / open_kg_h,
            "skim.water_share": 0.05 / 5.673,
            "holdup.equipment_kg": 0.0,
        }
    )
    # 4.047 kg of stock with 3.14 % protein weigh 1.0077 kg a litre at 4 C (5 % protein at 20 C: 1.0105, water 0.9982)
    charge = run(classic(simmer_below_boil_k=boil_c - 95.0, lid="open"), 4.047 / 1.0077, parameters=own)
    assert charge.solids_kg == pytest.approx(8 * POUND_KG, abs=0.005)
    assert charge.water_kg == pytest.approx(5.673, abs=0.01)
    assert charge.first.mass_kg == pytest.approx(4.047, abs=0.005)
    assert charge.first.solids_percent == pytest.approx(3.14, abs=0.01)


def test_six_quarts_of_water_on_eight_pounds_of_bones_make_about_a_gallon() -> None:
    """Two public cookery courses give this yield; pot, lid and the default coefficients are ours."""
    charge = run(classic(simmer_below_boil_k=5.0, lid="on"), GALLON_L)
    assert charge.solids_kg == pytest.approx(8 * POUND_KG, rel=0.1)
    assert charge.water_kg == pytest.approx(6 * QUART_L * 0.9997, rel=0.1)


def test_the_same_stock_without_a_lid_boils_the_small_pot_nearly_dry() -> None:
    """Still-air flux at 95 C of 17.5 kg/(m2 h) on 0.0616 m2 for six hours: 6.5 kg of 5.7 kg of water."""
    charge = run(classic(simmer_below_boil_k=5.0, lid="open"), 1.0)
    assert charge.evaporation_kg_h == pytest.approx(17.5 * 0.0616, rel=0.05)
    assert charge.water_kg > 5.673


@pytest.mark.parametrize(
    ("from_bx", "to_bx", "factor", "volume_factor", "water_percent"),
    [(3, 15, 5.00, 5.24, 82.5), (3, 20, 6.67, 7.14, 87.6), (4, 20, 5.00, 5.33, 83.3), (4, 32, 8.00, 8.97, 91.1),
     (5, 30, 6.00, 6.64, 87.7)],
)  # fmt: skip
def test_boiling_down_removes_a_share_of_mass_of_volume_and_of_water(
    from_bx: float, to_bx: float, factor: float, volume_factor: float, water_percent: float
) -> None:
    """Solids balance with sucrose densities, worked out by a second program."""
    densities = {
        "from_kg_m3": sucrose_density_kg_m3(solids_bx=from_bx),
        "to_kg_m3": sucrose_density_kg_m3(solids_bx=to_bx),
    }
    assert reduction_mass_factor(from_bx=from_bx, to_bx=to_bx) == pytest.approx(factor, abs=0.005)
    assert removed_mass_percent(from_bx=from_bx, to_bx=to_bx) == pytest.approx(100 * (1 - 1 / factor), abs=0.05)
    assert removed_volume_percent(from_bx=from_bx, to_bx=to_bx, **densities) == pytest.approx(
        100 * (1 - 1 / volume_factor), abs=0.05
    )
    assert removed_water_percent(from_bx=from_bx, to_bx=to_bx) == pytest.approx(water_percent, abs=0.05)


def test_a_sixty_quart_pot_is_three_quarters_full() -> None:
    """Water density by a second program: 75 mm of freeboard and 5 % of swell are 75 % of a 60 qt pot as tall as wide.
    Here 100 mm are kept at the first boil: 25 / 416.6 x 0.95 / 1.043, or 5.5 points, less."""
    pot = a_pot(inner_diameter_mm=416.6, inner_height_mm=416.6)
    formula = classic(simmer_below_boil_k=5.0, lid="on", second_draw=SecondDraw(simmer_min_h=1.0, simmer_max_h=1.0))
    week = replace(kitchen(), pots=(pot,))
    (one,) = pot_ranges(week=week, parameters=DEFAULT_PARAMETERS, formula=formula)
    charge = charge_run(
        week=week,
        parameters=DEFAULT_PARAMETERS,
        formula=formula,
        pot=pot,
        drawn_l=one.largest_l,
        simmer_h=formula.simmer_max_h,
        second=False,
    )
    assert charge.cold_fill_l / (60 * QUART_L) == pytest.approx(0.75 - 0.055, abs=0.01)
