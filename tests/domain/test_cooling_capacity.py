"""Which devices take a draw through the critical limits: times, ice, depth, rules."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from production.domain.cooling_capacity import (
    CoolingChoice,
    Hot,
    choice_in_full,
    cooling_choices,
    freeze_minutes,
    largest_coolable_l,
    vessel_area_m2,
    vessel_depth_mm,
)
from production.domain.errors import OutOfRange
from production.domain.kitchen import CoolingDevice, Week
from production.domain.limits import RULES
from production.domain.parameters import DEFAULT_PARAMETERS
from production.domain.workings import recompute
from tests.builders import a_kitchen, small_kitchen

WEEK = small_kitchen()
SINK, CHILLER = WEEK.cooling_devices
BATH_C = DEFAULT_PARAMETERS.high("cooling.bath_temp_c")
U_SLOWEST = DEFAULT_PARAMETERS.low("cooling.u_steel_still_w_m2_k")


def kitchen_with(*devices: CoolingDevice, rule: str = "FDA_A_C", **changes: Any) -> Week:
    return replace(WEEK, kitchen=a_kitchen(cooling_rule=rule), cooling_devices=devices, **changes)


def ways(week: Week, litres: float, *, start_c: float = 85.0, glaze: bool = False) -> tuple[CoolingChoice, ...]:
    return cooling_choices(
        week=week,
        parameters=DEFAULT_PARAMETERS,
        hot=Hot(litres=litres, density_kg_m3=1005.0, start_c=start_c, glaze=glaze),
    )


def only(week: Week, litres: float, **changes: Any) -> CoolingChoice:
    (choice,) = ways(week, litres, **changes)
    return choice


def sink_minutes(litres: float, from_c: float, to_c: float) -> float:
    """Newton's law of cooling for one can of the small kitchen on the slow side, worked out by hand."""
    level_m = 0.345 * litres / 15.4
    area_m2 = math.pi * 0.244 * level_m + math.pi * 0.244**2 / 4
    per_h = 3.6 * U_SLOWEST * area_m2 / (litres * 1.005 * 4.15)
    return 60 / per_h * math.log((from_c - BATH_C) / (to_c - BATH_C))


def test_a_can_in_an_ice_sink_follows_newtons_law_on_the_slow_side() -> None:
    choice = only(kitchen_with(SINK), 12.0)
    assert [margin.predicted_min for margin in choice.margins] == pytest.approx(
        [sink_minutes(12.0, 57.0, 21.0), sink_minutes(12.0, 57.0, 5.0)]
    )
    assert [margin.limit_min for margin in choice.margins] == [120, 360]
    whole = sink_minutes(12.0, 85.0, 5.0)
    assert whole <= choice.mode.minutes < whole + 5
    assert choice.mode.minutes % 5 == 0


def test_a_stage_on_its_own_is_counted_from_the_end_of_the_one_before() -> None:
    # Both from 60 C: 21 C within 120 min, then 5 C within a further 240 min of its own.
    choice = only(kitchen_with(SINK, rule="AU_322"), 12.0)
    assert [margin.predicted_min for margin in choice.margins] == pytest.approx(
        [sink_minutes(12.0, 60.0, 21.0), sink_minutes(12.0, 21.0, 5.0)]
    )
    assert [margin.limit_min for margin in choice.margins] == [120, 240]


def test_fahrenheit_limits_are_not_rounded_to_celsius() -> None:
    # 135 F is 57.22 C, 70 F is 21.11 C, 41 F is 5 C
    choice = only(kitchen_with(SINK, rule="FDA_A"), 12.0)
    assert [margin.predicted_min for margin in choice.margins] == pytest.approx(
        [sink_minutes(12.0, 515 / 9, 190 / 9), sink_minutes(12.0, 515 / 9, 5.0)]
    )


def test_a_plastic_can_is_slower_than_a_steel_one() -> None:
    plastic = tuple(
        replace(each, material="plastic") if each.code == "cooling-can" else each for each in WEEK.containers
    )
    steel = only(kitchen_with(SINK), 12.0).margins[0].predicted_min
    in_plastic = only(kitchen_with(SINK, containers=plastic), 12.0).margins[0].predicted_min
    assert in_plastic / steel == pytest.approx(U_SLOWEST / DEFAULT_PARAMETERS.low("cooling.u_plastic_w_m2_k"))


def test_a_deep_can_that_is_not_stirred_sets_and_is_not_offered() -> None:
    # 269 mm of set broth: conduction goes with the square of the depth, the middle is warm for more than a day
    assert ways(kitchen_with(replace(SINK, stirred=False)), 12.0) == ()


def test_a_shallow_layer_that_is_not_stirred_is_offered_and_takes_longer() -> None:
    still = only(kitchen_with(replace(SINK, stirred=False)), 1.0)
    stirred = only(kitchen_with(SINK), 1.0)
    assert still.margins[1].predicted_min > stirred.margins[1].predicted_min
    # The set layer, heat leaving through the base alone, must take at least a quarter of depth squared over diffusivity
    depth_m, diffusivity = 0.345 / 15.4, 0.55 / (1010.0 * 4050.0)
    assert still.margins[1].predicted_min > depth_m**2 / diffusivity / 4 / 60


def test_the_figures_of_what_sets_add_up_to_the_time_it_takes() -> None:
    # The longest of its kind: 1 L of unstirred broth, first as a liquid down to the setting point, then as a layer
    part = only(kitchen_with(replace(SINK, stirred=False)), 1.0).parts[0]
    hours = {each.key: each.value for each in part.figures}
    assert hours["slab_time_h"] > 0.0
    assert 60.0 * (hours["cooling_time_h"] + hours["slab_time_h"]) == pytest.approx(part.slow[-1][0])
    stirred = only(kitchen_with(SINK), 1.0).parts[0]
    assert 60.0 * {each.key: each.value for each in stirred.figures}["cooling_time_h"] == pytest.approx(
        stirred.slow[-1][0]
    )


def test_a_glaze_sets_however_hard_it_is_stirred() -> None:
    assert ways(kitchen_with(SINK), 6.0, glaze=True) == ()
    assert ways(kitchen_with(SINK), 0.5, glaze=True) != ()
    assert ways(kitchen_with(CHILLER), 6.0, glaze=True) != ()


def test_what_fills_less_than_one_can_is_cooled_faster() -> None:
    assert only(kitchen_with(SINK), 4.0).margins[0].predicted_min == pytest.approx(sink_minutes(4.0, 57.0, 21.0))


def test_the_fullest_can_decides_how_long_a_draw_takes() -> None:
    # 40 L in cans of 12 L: three full ones and one with 4 L
    choice = only(kitchen_with(SINK), 40.0)
    assert choice.mode.places == (("sink", 4),)
    assert choice.mode.minutes == only(kitchen_with(SINK), 12.0).mode.minutes


def test_the_ice_takes_the_heat_of_the_whole_draw() -> None:
    value = DEFAULT_PARAMETERS.value
    leaves_c, ice_c = value("cooling.melt_leaves_c"), value("cooling.ice_temp_c")
    per_kg_ice = (333.55 - 2.10 * ice_c + 4.19 * leaves_c) * DEFAULT_PARAMETERS.low("cooling.ice_use_share")
    expected = 40.0 * 1.005 * 4.15 * (85.0 - 5.0) / per_kg_ice
    assert only(kitchen_with(SINK), 40.0).mode.ice_kg == pytest.approx(expected)


def test_a_chiller_takes_no_ice() -> None:
    assert only(kitchen_with(CHILLER), 30.0).mode.ice_kg == 0.0


def test_a_layer_deeper_than_a_chiller_cools_is_not_offered() -> None:
    # 65 mm for 9 L: 6.9 L stand 49.8 mm deep, 7.0 L stand 50.6 mm deep
    assert ways(kitchen_with(replace(CHILLER, vessel_fill_l=6.9)), 30.0, start_c=70.0)
    assert ways(kitchen_with(replace(CHILLER, vessel_fill_l=7.0)), 30.0, start_c=70.0) == ()


@pytest.mark.parametrize("plate", [{"power_kw": 0.6, "rated_kg": 500.0}, {"power_kw": 100.0, "rated_kg": 8.0}])
def test_a_load_counts_only_on_its_share_of_a_chiller(plate: dict[str, Any]) -> None:
    # Another draw may stand beside it: one pan of six has a sixth of the power, and takes as long as all six.
    week = kitchen_with(replace(CHILLER, vessel_fill_l=2.0, **plate))
    one, all_six = only(week, 2.0), only(week, 12.0)
    assert one.mode.minutes == all_six.mode.minutes
    assert one.mode.places == (("chiller", 1),)
    slab = next(each for each in one.parts[0].figures if each.key == "slab_time_h")
    assert one.mode.minutes > 60 * slab.value + 5


def test_a_chiller_is_never_faster_than_its_power_its_rating_or_the_layer() -> None:
    choice = only(kitchen_with(CHILLER), 36.0)
    mass_kg = 36.0 * 1.005
    by_power_min = mass_kg * 4.15 * (85.0 - 5.0) / 8.0 / 60
    rated_kg = 40.0 * 3.6 * (70.0 - 3.0) / (4.15 * (85.0 - 5.0))
    by_rating_min = 90.0 * mass_kg / rated_kg
    assert choice.mode.minutes >= max(by_power_min, by_rating_min)
    slab = next(each for each in choice.parts[0].figures if each.key == "slab_time_h")
    assert choice.mode.minutes >= 60 * slab.value


def test_a_volume_for_neither_device_alone_is_shared_between_both() -> None:
    week = kitchen_with(SINK, CHILLER)
    choices = ways(week, 70.0)  # 48 L in the sink, 36 L in the chiller
    assert choices
    for choice in choices:
        assert {part.device for part in choice.parts} == {"sink", "chiller"}
        assert sum(part.litres for part in choice.parts) == pytest.approx(70.0)
        assert choice.mode.minutes == max(part.minutes for part in choice.parts)
    assert ways(week, 84.1) == ()


def test_without_a_device_or_without_ice_nothing_is_cooled() -> None:
    assert ways(kitchen_with(), 10.0) == ()
    assert ways(kitchen_with(SINK, ice_machine=None), 10.0) == ()


def test_no_way_is_offered_that_misses_a_limit() -> None:
    # A plastic barrel of 75 L has a time constant of 1.7 h: 57 to 5 C over a bath of 4 C takes ln 53 of them, 6.6 h
    barrel = replace(WEEK.get("containers", "tub-5"), code="barrel", length_mm=450.0, width_mm=450.0, height_mm=500.0)
    week = kitchen_with(
        replace(SINK, vessel="barrel", vessel_fill_l=75.0),
        containers=(*WEEK.containers, replace(barrel, brim_l=75.0)),
    )
    assert ways(week, 75.0) == ()
    assert ways(week, 2.0)


@pytest.mark.parametrize("code", [code for code in RULES if code != "EU_852"])
@pytest.mark.parametrize("litres", [0.5, 5.0, 20.0, 60.0])
def test_whatever_is_offered_keeps_every_limit_with_a_falling_curve(code: str, litres: float) -> None:
    for choice in ways(kitchen_with(SINK, CHILLER, rule=code), litres):
        assert choice.margins
        for margin in choice.margins:
            assert margin.margin_min == pytest.approx(margin.limit_min - margin.predicted_min)
            assert margin.margin_min >= 0.0
        for part in choice.parts:
            for curve in (part.expected, part.slow):
                assert [temp for _, temp in curve] == sorted((temp for _, temp in curve), reverse=True)
                assert [minute for minute, _ in curve] == sorted(minute for minute, _ in curve)
            assert all(slow >= soon for (slow, _), (soon, _) in zip(part.slow, part.expected, strict=True))
            assert part.slow[-1][0] <= part.minutes
            for figure in part.figures:
                assert recompute(figure) == figure.value


def test_a_rule_that_counts_from_the_end_of_cooking_counts_the_drawing_off() -> None:
    shallow = replace(CHILLER, vessel_fill_l=2.0, power_kw=40.0, rated_kg=200.0, air_temp_c=-20.0)
    ireland = only(kitchen_with(shallow, rule="IE_GN15"), 10.0).margins[0].predicted_min
    britain = only(kitchen_with(shallow, rule="UK_CC89"), 10.0).margins[0].predicted_min
    # 10 min and 0.2 min a litre, and one step of the plan; the other rule counts from the start of chilling
    assert ireland - britain == pytest.approx(10.0 + 0.2 * 10.0 + 5.0)


def test_a_glaze_waits_while_it_is_portioned() -> None:
    shallow = replace(CHILLER, vessel_fill_l=2.0, power_kw=40.0, rated_kg=200.0, air_temp_c=-20.0)
    ireland = only(kitchen_with(shallow, rule="IE_GN15"), 4.0, glaze=True).margins[0].predicted_min
    britain = only(kitchen_with(shallow, rule="UK_CC89"), 4.0, glaze=True).margins[0].predicted_min
    assert ireland - britain == pytest.approx(10.0 + 2.0 * 4.0 + 5.0)


def test_a_rule_that_asks_for_freezing_is_not_predicted() -> None:
    arctic = replace(CHILLER, air_temp_c=-40.0, power_kw=100.0, rated_kg=500.0)
    assert ways(kitchen_with(arctic, rule="UK_CF89"), 1.0) == ()


def test_figures_of_a_glaze_name_the_heat_capacity_of_a_glaze() -> None:
    heat = next(
        each for each in only(kitchen_with(SINK), 0.5, glaze=True).parts[0].figures if each.key == "heat_to_remove_kj"
    )
    assert heat.parameters == ("cooling.glaze_cp_kj_kg_k",)
    assert dict(heat.inputs)["cp_kj_kg_k"] == DEFAULT_PARAMETERS.value("cooling.glaze_cp_kj_kg_k")


def most(week: Week) -> float:
    return largest_coolable_l(week=week, parameters=DEFAULT_PARAMETERS, density_kg_m3=1005.0, start_c=85.0)


def test_the_most_that_can_be_cooled_at_once_is_what_all_places_hold() -> None:
    assert most(kitchen_with(SINK)) == pytest.approx(48.0)
    assert most(kitchen_with(SINK, CHILLER)) == pytest.approx(84.0)
    assert most(kitchen_with()) == 0.0


def test_the_most_that_can_be_cooled_at_once_is_bounded_by_the_ice_in_the_bin() -> None:
    assert WEEK.ice_machine is not None
    a_litre_kg = only(kitchen_with(SINK), 1.0).mode.ice_kg
    week = kitchen_with(SINK, ice_machine=replace(WEEK.ice_machine, bin_kg=20.0))
    assert 20.0 / a_litre_kg - 0.2 <= most(week) <= 20.0 / a_litre_kg


def test_measures_of_a_vessel_are_plain_geometry() -> None:
    can, pan = WEEK.get("containers", "cooling-can"), WEEK.get("containers", "pan")
    assert vessel_depth_mm(container=pan, fill_l=4.5) == pytest.approx(32.5)
    assert vessel_area_m2(container=pan, fill_l=4.5) == pytest.approx(0.53 * 0.325 + 2 * (0.53 + 0.325) * 0.0325)
    assert vessel_area_m2(container=can, fill_l=15.4) == pytest.approx(math.pi * 0.244 * (0.345 + 0.061))


FREEZER = WEEK.get("stores", "freezer")


def frozen_in(
    *, code: str = "poultry-cubes", percent: float = 15.6, edge_mm: float | None = 30.0, **store: Any
) -> float:
    product = WEEK.get("products", code)
    return freeze_minutes(
        parameters=DEFAULT_PARAMETERS,
        product=product,
        container=WEEK.get("containers", product.container),
        store=replace(FREEZER, **store),
        mass_kg=1.0,
        solids_percent=percent,
        cell_edge_mm=edge_mm,
    )


def test_cubes_freeze_by_planks_equation_on_the_slow_side() -> None:
    # 15.6 % solids: (0.844 - 0.4 x 0.156) x 333.6 kJ/kg; -4 to -20 C; 10 W/m2 K; 1.9 W/m K; 30 mm; times 1.3
    heat = (0.844 - 0.4 * 0.156) * 333.6
    hours = 1000.0 * heat * 1000.0 / 16.0 * (0.030 / 60.0 + 0.030**2 / (24.0 * 1.9)) / 3600.0
    assert frozen_in() == pytest.approx(60.0 * 1.3 * hours)


def test_a_pack_freezes_through_its_smallest_side() -> None:
    # The cube bag is 60 mm thick; broth with 4 % solids freezes from -0.5 C
    heat = (0.96 - 0.4 * 0.04) * 333.6
    hours = 1000.0 * heat * 1000.0 / 19.5 * (0.060 / 20.0 + 0.060**2 / (8.0 * 1.9)) / 3600.0
    assert frozen_in(percent=4.0, edge_mm=None) == pytest.approx(60.0 * 1.3 * hours)


def test_a_weak_freezer_takes_as_long_as_its_power_needs() -> None:
    assert frozen_in(spare_kw=0.01) > 2 * frozen_in()
    assert frozen_in(spare_kw=0.01) == pytest.approx(2 * frozen_in(spare_kw=0.02))


@pytest.mark.parametrize("store", [{"spare_kw": 0.0}, {"air_temp_c": 0.0}])
def test_a_freezer_that_cannot_freeze_is_refused_with_what_to_do(store: dict[str, Any]) -> None:
    with pytest.raises(OutOfRange) as refused:
        frozen_in(**store)
    assert refused.value.remedy


@pytest.mark.parametrize(("litres", "glaze"), [(6.0, False), (25.0, False), (60.0, False), (6.0, True)])
def test_what_is_left_out_while_times_are_looked_for_is_there_in_the_end(litres: float, glaze: bool) -> None:
    hot = Hot(litres=litres, density_kg_m3=1005.0, start_c=85.0, glaze=glaze)
    full = cooling_choices(week=WEEK, parameters=DEFAULT_PARAMETERS, hot=hot)
    short = cooling_choices(week=WEEK, parameters=DEFAULT_PARAMETERS, hot=hot, in_full=False)
    assert full
    assert [(each.mode, each.margins) for each in short] == [(each.mode, each.margins) for each in full]
    assert not any(part.expected or part.slow or part.figures for each in short for part in each.parts)
    completed = [choice_in_full(week=WEEK, parameters=DEFAULT_PARAMETERS, hot=hot, choice=each) for each in short]
    assert completed == list(full)
