"""The charge of one run: what goes in, what comes out, what fits, how long it takes."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from production.domain.errors import DoesNotFit
from production.domain.formula import (
    Charge,
    charge_run,
    fill_role,
    least_reduction_l,
    pot_allowed,
    pot_ranges,
    rounded_up_min,
)
from production.domain.kitchen import Formula, Ingredient, Pot, SecondDraw, Solid, Week
from production.domain.parameters import DEFAULT_PARAMETERS
from production.domain.workings import recompute
from tests.builders import a_kitchen, a_pot, fish, poultry, small_kitchen
from tests.domain.plan_facts import surface_below_rim_mm

WEEK = small_kitchen()
VALUE = DEFAULT_PARAMETERS.value
VEAL = Ingredient(
    code="veal-bones",
    name="Veal bones",
    material="veal_bones",
    roles=("bones", "frames"),
    charge_temp_c=4.0,
    trim_yield_share=1.0,
)


def charged(
    *,
    week: Week = WEEK,
    formula: Formula | None = None,
    pot: Pot | None = None,
    drawn_l: float = 20.0,
    simmer_h: float = 4.0,
    **more: Any,
) -> Charge:
    settings: dict[str, Any] = {"second": False, "parameters": DEFAULT_PARAMETERS} | more
    return charge_run(
        week=week,
        formula=formula or poultry(),
        pot=pot or a_pot(),
        drawn_l=drawn_l,
        simmer_h=simmer_h,
        **settings,
    )


def at_altitude(altitude_m: float) -> Week:
    return replace(WEEK, kitchen=a_kitchen(altitude_m=altitude_m))


def with_ingredients(**changes: Any) -> Week:
    """The small kitchen with the same changes to all of its ingredients."""
    return replace(WEEK, ingredients=tuple(replace(each, **changes) for each in WEEK.ingredients))


def figure(charge: Charge, key: str) -> float:
    return next(each.value for each in charge.figures if each.key == key)


# --- what goes in comes out ------------------------------------------------------------------------------------------


@settings(max_examples=60, deadline=None)
@given(
    made=st.sampled_from([("poultry", "tall"), ("fish", "tall"), ("fish", "wide")]),
    part=st.floats(0.0, 1.0),
    hours=st.floats(0.0, 1.0),
    altitude_m=st.floats(-90.0, 3500.0),
    lid=st.sampled_from(["open", "ajar", "on"]),
    frozen=st.booleans(),
    second=st.booleans(),
)
def test_mass_in_is_mass_out_and_the_wanted_litres_are_drawn(
    made: tuple[str, str], part: float, hours: float, altitude_m: float, lid: str, frozen: bool, second: bool
) -> None:
    formula = replace(poultry() if made[0] == "poultry" else fish(), lid=lid)
    week = replace(with_ingredients(charge_temp_c=-18.0 if frozen else 4.0), kitchen=a_kitchen(altitude_m=altitude_m))
    room = {each.pot: each for each in pot_ranges(week=week, parameters=DEFAULT_PARAMETERS, formula=formula)}
    if made[1] not in room:
        assert altitude_m > 300.0 or lid == "open"
        return
    one = room[made[1]]
    charge = charged(
        week=week,
        formula=formula,
        pot=week.get("pots", one.pot),
        drawn_l=one.smallest_l + part * (one.largest_l - one.smallest_l),
        simmer_h=formula.simmer_min_h + hours * (formula.simmer_max_h - formula.simmer_min_h),
        second=second and formula.second_draw is not None and lid == "on",  # an open one would boil dry
    )
    pot = week.get("pots", one.pot)
    assert charge.balance_share < 1e-9
    assert figure(charge, "balance_gap_kg") == pytest.approx(0.0, abs=1e-9)
    assert charge.first.cold_l == pytest.approx(one.smallest_l + part * (one.largest_l - one.smallest_l), rel=1e-7)
    assert surface_below_rim_mm(week, pot, charge, swell=0.05, grown_per_k=0.0003) >= 100.0 - 0.5
    assert (
        charge.cold_fill_l
        >= pot.min_fill_share * math.pi / 4 * pot.inner_diameter_mm** 2 * pot.inner_height_mm / 1e6 - (1e-6)
    )
    for each in charge.figures:
        assert recompute(each) == each.value


def test_the_solids_follow_from_the_mass_balance_worked_out_by_hand() -> None:
    charge = charged()
    # per kilogram of solids: 0.8 frames, 0.2 feet, 0.1 onion, 0.002 bay
    factor = figure(charge, "extraction_rate_factor")
    hours = 4.0 + 20.0 / 60.0

    def out(t90_h: float) -> float:
        return (1.0 - math.pow(10.0, -hours * factor / t90_h)) / 0.9

    solubles = 0.8 * 0.045 * out(4.5) + 0.2 * 0.07 * out(5.0) + 0.1 * 0.03 + 0.002 * 0.05
    given_up = 0.8 * 0.02 + 0.2 * 0.0 + 0.1 * 0.05 + 0.002 * -1.0
    cling = 0.8 * 0.18 + 0.2 * 0.12 + 0.1 * 0.22 + 0.002 * 0.5
    gone_kg = charge.evaporation_kg_h * hours
    per_kg = 2.0 * (1.0 - 0.015) + given_up + solubles - cling
    assert charge.solids_kg == pytest.approx((charge.first.mass_kg + gone_kg + 0.6) / per_kg, rel=1e-9)
    assert charge.water_kg == pytest.approx(2.0 * charge.solids_kg)
    liquid_kg = charge.solids_kg * (2.0 * 0.985 + given_up + solubles) - gone_kg
    assert charge.first.solids_percent == pytest.approx(100.0 * charge.solids_kg * solubles / liquid_kg, rel=1e-9)
    assert charge.first.solids_bx == pytest.approx(charge.first.solids_percent / 0.78)


def test_the_weighings_are_the_shares_of_the_formula() -> None:
    charge = charged()
    assert {item.ingredient: item.mass_kg / charge.solids_kg for item in charge.items} == pytest.approx(
        {"frames": 0.8, "feet": 0.2, "onion": 0.1, "bay": 0.002}
    )
    assert [item.what for item in charge.items] == ["solids", "solids", "mirepoix", "aromatics"]


def test_a_hot_draw_is_larger_and_no_lighter_than_the_cold_one() -> None:
    first = charged().first
    # Water at 4 C weighs 1.000, at 95 C 0.9619 kg a litre: 4 % more litres
    assert first.hot_l / first.cold_l == pytest.approx(1.0 / 0.9619, abs=0.002)


# --- what fits -------------------------------------------------------------------------------------------------------


def test_the_largest_draw_stands_at_the_freeboard_and_the_smallest_at_the_least_fill() -> None:
    (tall,) = pot_ranges(week=WEEK, parameters=DEFAULT_PARAMETERS, formula=poultry())
    fullest = charged(drawn_l=tall.largest_l, simmer_h=6.0)
    assert fullest.hot_mark_mm == pytest.approx(100.0, abs=0.01)
    assert surface_below_rim_mm(WEEK, a_pot(), fullest, swell=0.05, grown_per_k=0.0003) == pytest.approx(100.0, abs=0.5)
    emptiest = charged(drawn_l=tall.smallest_l, simmer_h=3.0)
    assert emptiest.cold_fill_l == pytest.approx(0.35 * math.pi / 4 * 25.0 * 5.1, rel=1e-6)


def test_the_fill_mark_is_the_distance_from_the_rim_to_water_and_solids() -> None:
    charge = charged()
    # 10 C water weighs 0.9997 kg a litre; frames 1120, feet 1080 kg a cubic metre; the pot holds 0.19635 L a millimetre
    solids_l = charge.solids_kg * (0.8 / 1.12 + 0.2 / 1.08)
    assert charge.solids_l == pytest.approx(solids_l)
    assert charge.fill_mark_mm == pytest.approx(
        510.0 - (charge.water_kg / 0.9997 + solids_l) / (math.pi * 0.25**2), abs=0.02
    )


def test_a_draw_that_runs_over_the_rim_is_refused() -> None:
    with pytest.raises(DoesNotFit) as refused:
        charged(drawn_l=80.0)
    assert refused.value.code == "pot-too-small"


@pytest.mark.parametrize(
    "pot",
    [
        a_pot(inner_height_mm=150.0),  # no room under the freeboard
        a_pot(min_fill_share=0.9),  # least fill above the freeboard
        a_pot(
            inner_diameter_mm=1900.0, inner_height_mm=900.0, heat_source="plate"
        ),  # 8 kW under 2.8 m2: 7 kg/m2 h are 12 kW
    ],
    ids=["low", "least fill", "heat"],
)
def test_a_pot_that_holds_no_charge_has_no_range(pot: Pot) -> None:
    assert pot_ranges(week=small_kitchen(pots=(pot,)), parameters=DEFAULT_PARAMETERS, formula=poultry(lid="ajar")) == ()


def test_a_simmer_too_cold_to_reckon_with_has_no_range() -> None:
    cold = poultry(simmer_below_boil_k=30.0)
    assert pot_ranges(week=at_altitude(3900.0), parameters=DEFAULT_PARAMETERS, formula=cold) == ()


def test_a_pot_takes_only_the_formulas_it_names() -> None:
    assert pot_allowed(formula=poultry(), pot=a_pot())
    assert pot_allowed(formula=poultry(), pot=a_pot(formulas=("fish", "poultry")))
    assert not pot_allowed(formula=poultry(), pot=a_pot(formulas=("fish",)))
    week = small_kitchen(pots=(a_pot(formulas=("fish",)),))
    assert pot_ranges(week=week, parameters=DEFAULT_PARAMETERS, formula=poultry()) == ()


def test_solids_that_stand_out_of_the_water_are_seen() -> None:
    # Frames at 0.4 packing need more than twice their own volume of water to be covered
    assert (
        charged(formula=poultry(water_kg_per_kg_solids=1.0)).water_l
        < charged(formula=poultry(water_kg_per_kg_solids=1.0)).water_to_cover_l
    )
    assert (
        charged(formula=poultry(water_kg_per_kg_solids=3.0)).water_l
        > charged(formula=poultry(water_kg_per_kg_solids=3.0)).water_to_cover_l
    )


# --- heat, height, lid -----------------------------------------------------------------------------------------------


def test_high_up_the_pot_boils_colder_and_gives_less_in_the_same_time() -> None:
    low, high = charged(week=at_altitude(0.0)), charged(week=at_altitude(2000.0))
    # Standard atmosphere: water boils at 99.97 C at the sea and at 93.32 C at 2000 m
    assert (low.boil_c, high.boil_c) == pytest.approx((99.97, 93.32), abs=0.02)
    assert (low.simmer_c, high.simmer_c) == pytest.approx((95.97, 89.32), abs=0.02)
    assert high.first.solids_percent < low.first.solids_percent
    assert high.heat_up_min < low.heat_up_min


@pytest.mark.parametrize(("lid", "share"), [("ajar", 0.4), ("on", 0.1)])
def test_a_lid_lets_its_share_of_the_steam_pass_and_saves_solids_and_heat(lid: str, share: float) -> None:
    uncovered, covered = charged(), charged(formula=poultry(lid=lid))
    assert covered.evaporation_kg_h == pytest.approx(share * uncovered.evaporation_kg_h)
    assert covered.solids_kg < uncovered.solids_kg
    assert covered.simmer_kw < uncovered.simmer_kw
    assert covered.first.solids_percent < uncovered.first.solids_percent


def test_a_longer_simmer_takes_a_larger_charge_and_gives_a_stronger_stock() -> None:
    short, long = charged(simmer_h=3.0), charged(simmer_h=6.0)
    assert long.solids_kg > short.solids_kg
    assert long.first.solids_percent > short.first.solids_percent
    assert long.first.cold_l == pytest.approx(short.first.cold_l)


def test_the_heat_up_time_is_the_heat_of_the_charge_over_the_weakest_flame() -> None:
    charge = charged(week=with_ingredients(charge_temp_c=10.0))
    # All at 10 C: water 4.19, frames about 3.1 and feet about 3.2 kJ/kg K, 15 kg of steel at 0.5; 26 kW at 25 %
    kj_k = charge.water_kg * 4.19 + charge.solids_kg * 3.13 + 15.0 * 0.5
    assert charge.heat_up_min == pytest.approx(kj_k * (charge.boil_c - 10.0) / (26.0 * 0.25) / 60.0, rel=0.02)


def test_a_frozen_charge_heats_longer_by_the_heat_of_thawing() -> None:
    frozen = with_ingredients(charge_temp_c=-18.0)
    longer_min = charged(week=frozen).heat_up_min - charged().heat_up_min
    # Poultry bone from -18 to 4 C takes about 204 kJ/kg (Chen 1985, by a second program); feet hold more water
    solids_kg = charged().solids_kg
    assert longer_min == pytest.approx(204.0 * solids_kg / (26.0 * 0.25) / 60.0, rel=0.05)


def test_warm_bones_shorten_the_heat_up() -> None:
    assert charged(week=with_ingredients(charge_temp_c=30.0)).heat_up_min < charged().heat_up_min


# --- second draw and reduction ---------------------------------------------------------------------------------------


def test_the_second_draw_and_its_reduction_follow_from_what_the_bones_still_hold() -> None:
    charge = charged(second=True, second_simmer_h=3.0)
    reduction = charge.reduction
    assert reduction is not None
    cling_kg = charge.solids_kg * (0.8 * 0.18 + 0.2 * 0.12 + 0.1 * 0.22 + 0.002 * 0.5)
    solubles = {
        each.key.partition(".")[2]: each.value for each in charge.figures if each.key.startswith("solubles_kg.")
    }
    new_kg = 0.12 * solubles["frames"] + 0.20 * solubles["feet"]  # vegetables and spices give nothing more
    refill_kg = charge.first.mass_kg
    liquid_kg = refill_kg + cling_kg + new_kg - 3.0 * charge.evaporation_kg_h
    percent = 100.0 * (cling_kg * charge.first.solids_percent / 100.0 + new_kg) / liquid_kg
    assert charge.refill_kg == pytest.approx(refill_kg)
    assert reduction.liquor.solids_percent == pytest.approx(percent)
    assert reduction.liquor.mass_kg == pytest.approx(liquid_kg - cling_kg - 0.6)
    # Boiled down to 20 Brix: solids stay, water goes
    assert reduction.mass_factor == pytest.approx(20.0 / (percent / 0.78))
    assert reduction.mass_kg * 20.0 * 0.78 == pytest.approx(reduction.liquor.mass_kg * percent)
    # 15.6 % of protein: about 2.46 kg/m3 a percent over water at 20 C
    assert reduction.litres == pytest.approx(reduction.mass_kg / (0.9982 + 0.00246 * 15.6), rel=0.01)


def test_percent_removed_means_three_things() -> None:
    charge = charged(second=True)
    assert charge.reduction is not None
    factor = charge.reduction.mass_factor
    before_bx = 20.0 / factor
    of_mass, of_volume, of_water = (figure(charge, f"removed_{name}_percent") for name in ("mass", "volume", "water"))
    assert of_mass == pytest.approx(100.0 * (1.0 - 1.0 / factor))
    assert of_water == pytest.approx(of_mass / (1.0 - before_bx / 100.0))
    left_l, before_l = charge.reduction.litres, charge.reduction.liquor.cold_l
    assert of_volume == pytest.approx(100.0 * (1.0 - left_l / before_l), abs=0.1)  # cold at 4 C, not at 20 C
    assert of_mass < of_volume < of_water


def test_the_reduction_takes_at_least_as_long_as_boiling_the_water_away_needs() -> None:
    charge = charged(second=True)
    reduction = charge.reduction
    assert reduction is not None
    gone_kg = reduction.liquor.mass_kg - reduction.mass_kg
    # 26 kW at no more than 25 %, about 2260 kJ for each kilogram of steam
    assert reduction.reduce_min > gone_kg * 2260.0 / (26.0 * 0.25) / 60.0


def test_a_strong_flame_is_turned_down_before_the_glaze_catches() -> None:
    gentle = charged(formula=poultry(lid="on"), drawn_l=35.0, second=True)
    assert gentle.reduction is not None
    assert gentle.reduction.mass_kg < gentle.reduction.scorch_from_kg < gentle.reduction.liquor.mass_kg
    # 26 kW at 25 % on 0.196 m2 are 33 kW/m2, over the 20 that a thin layer bears
    assert figure(gentle, "base_flux_kw_m2") == pytest.approx(26.0 * 0.25 / (math.pi * 0.25**2))
    assert figure(gentle, "reduction_gentle_kg_h") < figure(gentle, "reduction_kg_h")


def test_a_deep_and_thin_reduction_is_boiled_at_full_heat_to_the_end() -> None:
    narrow = a_pot(inner_diameter_mm=250.0, inner_height_mm=900.0)
    charge = charged(
        formula=poultry(reduction_bx=5.0, lid="on", second_draw=SecondDraw(simmer_min_h=1.0, simmer_max_h=1.0)),
        pot=narrow,
        drawn_l=18.0,
        second=True,
    )
    assert charge.reduction is not None
    assert charge.reduction.depth_mm > 50.0
    assert charge.reduction.scorch_from_kg == charge.reduction.mass_kg


def test_salt_is_concentrated_like_everything_that_does_not_boil_away() -> None:
    charge = charged(formula=poultry(salt_share=0.005), second=True)
    assert charge.reduction is not None
    assert charge.reduction.salt_percent == pytest.approx(0.5 * charge.reduction.mass_factor)


def test_a_refill_leaves_the_freeboard_too() -> None:
    formula = poultry(lid="on", second_draw=SecondDraw(refill_share=2.0, simmer_min_h=2.0, simmer_max_h=4.0))
    (tall,) = (
        each for each in pot_ranges(week=WEEK, parameters=DEFAULT_PARAMETERS, formula=formula) if each.pot == "tall"
    )
    charge = charged(formula=formula, drawn_l=tall.largest_l, simmer_h=6.0, second=True)
    assert charge.refill_kg < 2.0 * charge.first.mass_kg
    room_l = 0.95 * math.pi * 0.25**2 * (510.0 - 100.0)
    held_l = charge.refill_kg / 0.9584 * 0.999 + charge.solids_l * 1.027 + charge.solids_kg * 0.1 / 0.97
    assert held_l < room_l
    assert charge.refill_kg > 0.8 * charge.first.mass_kg


def test_a_formula_without_a_second_draw_gives_no_reduction() -> None:
    with pytest.raises(DoesNotFit) as refused:
        charged(formula=fish(), drawn_l=20.0, simmer_h=0.5, second=True)
    assert refused.value.code == "no-second-draw"
    with pytest.raises(DoesNotFit):
        least_reduction_l(week=WEEK, parameters=DEFAULT_PARAMETERS, formula=fish(), drawn_l=20.0)


@pytest.mark.parametrize("simmer_h", [3.0, 4.5, 6.0])
@pytest.mark.parametrize("second_h", [2.0, 3.0, 4.0])
def test_no_simmer_gives_less_reduction_than_was_promised(simmer_h: float, second_h: float) -> None:
    least_l = least_reduction_l(week=WEEK, parameters=DEFAULT_PARAMETERS, formula=poultry(), drawn_l=20.0)
    charge = charged(simmer_h=simmer_h, second=True, second_simmer_h=second_h)
    assert charge.reduction is not None
    assert 0.0 < least_l <= charge.reduction.litres


def test_where_no_pot_gives_a_reduction_none_is_promised() -> None:
    dry = poultry(second_draw=SecondDraw(refill_share=0.2, simmer_min_h=48.0, simmer_max_h=48.0))
    assert least_reduction_l(week=WEEK, parameters=DEFAULT_PARAMETERS, formula=dry, drawn_l=20.0) == 0.0
    thick = poultry(reduction_bx=5.0, second_draw=SecondDraw(refill_share=0.2, simmer_min_h=0.5, simmer_max_h=1.0))
    small = poultry(water_kg_per_kg_solids=1.0)
    thick = replace(thick, water_kg_per_kg_solids=small.water_kg_per_kg_solids, lid="on")
    assert least_reduction_l(week=WEEK, parameters=DEFAULT_PARAMETERS, formula=thick, drawn_l=20.0) == 0.0


# --- interchangeable solids ------------------------------------------------------------------------------------------


def test_what_fills_a_role_changes_yields_and_times() -> None:
    week = replace(WEEK, ingredients=(*WEEK.ingredients, VEAL))
    swapped = fill_role(week=week, formula_code="poultry", role="frames", ingredient_code="veal-bones", version=2)
    formula = swapped.get("formulas", "poultry")
    assert [(solid.role, solid.ingredient, solid.share) for solid in formula.solids] == [
        ("frames", "veal-bones", 0.8),
        ("collagen_rich_meat", "feet", 0.2),
    ]
    assert formula.version == 2
    before, after = charged(week=week), charged(week=swapped, formula=formula)
    # Veal bones cling less (0.11 for 0.18) but take up water (-0.03 for +0.02), give more and later (8 h for 4.5 h)
    assert after.solids_kg != pytest.approx(before.solids_kg, rel=1e-3)
    assert after.solids_l / after.solids_kg < before.solids_l / before.solids_kg
    assert figure(after, "extracted_share.veal-bones") < figure(before, "extracted_share.frames")
    assert after.heat_up_min != pytest.approx(before.heat_up_min, rel=1e-3)
    assert after.balance_share < 1e-9


@pytest.mark.parametrize(
    ("formula", "role", "ingredient"),
    [
        ("nothing", "frames", "frames"),
        ("poultry", "frames", "nothing"),
        ("poultry", "scrap", "frames"),
        ("poultry", "frames", "onion"),
    ],
)
def test_a_role_is_filled_only_by_an_ingredient_that_lists_it(formula: str, role: str, ingredient: str) -> None:
    with pytest.raises(DoesNotFit) as refused:
        fill_role(week=WEEK, formula_code=formula, role=role, ingredient_code=ingredient, version=2)
    assert refused.value.code == "role-not-filled"
    assert refused.value.remedy


def test_the_same_solid_in_two_roles_is_charged_twice_over() -> None:
    split = poultry(
        solids=(
            Solid(role="frames", ingredient="frames", share=0.5),
            Solid(role="bones", ingredient="frames", share=0.5),
        )
    )
    whole = poultry(solids=(Solid(role="frames", ingredient="frames", share=1.0),))
    assert charged(formula=split).solids_kg == pytest.approx(charged(formula=whole).solids_kg)


@pytest.mark.parametrize(("minutes", "rounded"), [(0.0, 5), (0.1, 5), (5.0, 5), (5.1, 10), (60.0, 60), (61.0, 65)])
def test_minutes_are_rounded_up_to_the_grid(minutes: float, rounded: int) -> None:
    assert rounded_up_min(minutes, step_min=5) == rounded
