"""Laws that hold for every pot: balances close, inverses invert, more heat is faster, the impossible is refused."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from production.domain.errors import DoesNotFit, OutOfRange, PotwrightError
from production.domain.parameters import DEFAULT_PARAMETERS
from production.domain.thermal import (
    balance,
    cooling,
    evaporation,
    extraction,
    food,
    heating,
    pots,
    properties,
    reduction,
    storage,
)

MATERIALS = [DEFAULT_PARAMETERS.material(code) for code in DEFAULT_PARAMETERS.materials()]


@given(
    water=st.floats(20, 200),
    masses=st.lists(st.tuples(st.sampled_from(MATERIALS), st.floats(0.1, 10)), min_size=1, max_size=5),
    evaporated=st.floats(0, 8),
    topup=st.floats(0, 10),
)
def test_a_first_draw_balances_to_the_gram(
    water: float, masses: list[tuple[object, float]], evaporated: float, topup: float
) -> None:
    total = fat = spent = cling = water_net = solubles = 0.0
    for material, mass in masses:
        shares = {
            name: getattr(material, name) for name in ("soluble_share", "fat_share", "water_net_share", "cling_share")
        }
        total += mass
        fat += balance.released_kg(mass_kg=mass, yield_share=shares["fat_share"])
        cling += balance.released_kg(mass_kg=mass, yield_share=shares["cling_share"])
        water_net += balance.released_kg(mass_kg=mass, yield_share=shares["water_net_share"])
        solubles += balance.released_kg(mass_kg=mass, yield_share=shares["soluble_share"])
        spent += balance.spent_solids_kg(mass_kg=mass, **shares)
    liquid_arguments = {
        "water_kg": water, "topup_kg": topup, "solids_water_kg": water_net, "solubles_kg": solubles,
        "evaporated_kg": evaporated, "skim_kg": 0.01 * water,
    }  # fmt: skip
    room = water + topup + water_net + solubles - evaporated - 0.01 * water - cling - 0.6
    if room <= 0.01:
        return
    liquid = balance.aqueous_kg(**liquid_arguments)
    drawn = balance.drawn_kg(liquid_kg=liquid, cling_kg=cling, holdup_kg=0.6)
    gap = balance.balance_gap_kg(
        in_kg=water + topup + total,
        drawn_kg=drawn,
        spent_kg=spent,
        fat_kg=fat,
        evaporated_kg=evaporated,
        skim_kg=0.01 * water,
        holdup_kg=0.6,
    )
    assert abs(gap) < 1e-9 * (water + total)


@given(
    wanted=st.floats(5, 200),
    ratio=st.floats(1, 4),
    evaporated=st.floats(0, 40),
    topup=st.floats(0, 5),
    material=st.sampled_from(MATERIALS[:9]),
)
def test_the_charge_for_a_wanted_draw_draws_it(
    wanted: float, ratio: float, evaporated: float, topup: float, material: object
) -> None:
    s, j, k = (getattr(material, name) for name in ("soluble_share", "water_net_share", "cling_share"))
    solids = balance.solids_for_drawn_kg(
        wanted_kg=wanted,
        water_ratio_kg_kg=ratio,
        skim_share=0.015,
        soluble_share=s,
        water_net_share=j,
        cling_share=k,
        evaporated_kg=evaporated,
        holdup_kg=0.6,
        topup_kg=topup,
    )
    liquid = balance.aqueous_kg(
        water_kg=ratio * solids,
        topup_kg=topup,
        solids_water_kg=j * solids,
        solubles_kg=s * solids,
        evaporated_kg=evaporated,
        skim_kg=0.015 * ratio * solids,
    )
    assert balance.drawn_kg(liquid_kg=liquid, cling_kg=k * solids, holdup_kg=0.6) == pytest.approx(wanted, rel=1e-9)


@given(st.floats(1, 200), st.floats(0, 20), st.floats(0, 2), st.floats(0, 20))
def test_the_refill_for_a_wanted_second_draw_draws_it(
    wanted: float, carried: float, new_solids: float, evaporated: float
) -> None:
    refill = balance.second_refill_kg(
        wanted_kg=wanted,
        carried_kg=carried,
        new_solids_kg=new_solids,
        evaporated_kg=evaporated,
        cling_kg=carried,
        holdup_kg=0.6,
    )
    if refill == 0.0:
        return
    liquid = balance.second_liquid_kg(
        refill_kg=refill, carried_kg=carried, new_solids_kg=new_solids, evaporated_kg=evaporated
    )
    assert balance.drawn_kg(liquid_kg=liquid, cling_kg=carried, holdup_kg=0.6) == pytest.approx(wanted, rel=1e-9)


@given(st.floats(1, 100), st.floats(1, 10), st.floats(0, 50))
def test_solids_survive_a_reduction(mass: float, start: float, more: float) -> None:
    end = start + more
    left = reduction.reduced_mass_kg(mass_kg=mass, from_bx=start, to_bx=end)
    assert left * end == pytest.approx(mass * start)
    assert reduction.reduction_start_kg(end_mass_kg=left, from_bx=start, to_bx=end) == pytest.approx(mass)


@given(st.floats(1, 10), st.floats(5, 40))
def test_the_three_meanings_of_percent_removed_stay_in_order(start: float, more: float) -> None:
    end = start + more
    of_mass = reduction.removed_mass_percent(from_bx=start, to_bx=end)
    of_volume = reduction.removed_volume_percent(
        from_bx=start,
        to_bx=end,
        from_kg_m3=food.stock_density_kg_m3(solids_percent=start, temp_c=20),
        to_kg_m3=food.stock_density_kg_m3(solids_percent=end, temp_c=20),
    )
    of_water = reduction.removed_water_percent(from_bx=start, to_bx=end)
    assert of_mass < of_volume < of_water <= 100.0 + 1e-9


@given(st.integers(0, 5000), st.floats(5, 100), st.floats(0.5, 1.0), st.floats(0, 0.2))
def test_the_mass_for_a_number_of_cubes_makes_that_number(count: int, cell: float, fill: float, loss: float) -> None:
    mass = reduction.cubes_mass_kg(
        cubes_count=float(count), loss_share=loss, density_kg_m3=1060, cell_ml=cell, fill_share=fill
    )
    made = reduction.cubes_count(mass_kg=mass, loss_share=loss, density_kg_m3=1060, cell_ml=cell, fill_share=fill)
    assert made == count
    trays = reduction.trays_count(cubes_count=made, cells_count=15)
    assert 15 * (trays - 1) < made <= 15 * trays or made == trays == 0


@given(st.floats(0.2, 1.0), st.floats(200, 1000), st.floats(0, 20), st.floats(0, 0.1), st.floats(60, 100))
def test_the_safe_fill_stands_at_the_freeboard_when_hot(
    width: float, height: float, solids: float, swell: float, hot: float
) -> None:
    pot = {"inner_diameter_m": width, "solids_l": solids, "swell_share": swell, "cold_c": 10.0, "hot_c": hot}
    if pots.pot_volume_l(inner_diameter_m=width, level_mm=height - 75) * (1 - swell) <= solids + 0.01:
        return
    fill = pots.safe_cold_fill_l(height_mm=height, freeboard_mm=75, **pot)
    level = pots.hot_level_mm(liquid_l=fill, **pot)
    assert pots.freeboard_mm(height_mm=height, hot_level_mm=level) == pytest.approx(75, abs=1e-6)
    mark = pots.fill_mark_mm(inner_diameter_m=width, height_mm=height, liquid_l=fill, solids_l=solids)
    assert mark > 75 - 1e-6


def test_a_wall_that_grows_and_solids_that_grow_pull_the_level_apart() -> None:
    pot = {"inner_diameter_m": 0.45, "liquid_l": 45.0, "solids_l": 12.0, "cold_c": 10.0, "hot_c": 95.0}
    rigid = pots.hot_level_mm(**pot)
    assert pots.hot_level_mm(**pot, wall_expansion_per_k=1.7e-5) < rigid
    assert pots.hot_level_mm(**pot, solids_expansion_per_k=3e-4) > rigid


def test_mass_depth_and_level_are_inverses() -> None:
    mass = reduction.mass_at_depth_kg(depth_mm=90, density_kg_m3=1050, inner_diameter_m=0.45)
    assert reduction.liquid_depth_mm(mass_kg=mass, density_kg_m3=1050, inner_diameter_m=0.45) == pytest.approx(90)
    volume = balance.volume_of_mass_l(mass_kg=mass, density_kg_m3=1050)
    assert pots.pot_level_mm(inner_diameter_m=0.45, volume_l=volume) == pytest.approx(90)
    bed = pots.bed_height_mm(mass_kg=20, density_kg_m3=1350, packing_share=0.55, inner_diameter_m=0.45)
    cover = pots.water_to_cover_l(
        mass_kg=20, density_kg_m3=1350, packing_share=0.55, inner_diameter_m=0.45, cover_mm=50
    )
    solids = pots.solids_volume_l(mass_kg=20, density_kg_m3=1350)
    assert pots.pot_level_mm(inner_diameter_m=0.45, volume_l=cover + solids) == pytest.approx(bed + 50)


@given(st.floats(-400, 4000), st.floats(1, 400))
def test_water_boils_colder_higher_up(altitude: float, more: float) -> None:
    low, high = (properties.boiling_point_c(altitude_m=each) for each in (altitude, altitude + more))
    assert high < low


@given(st.floats(1, 109))
def test_saturation_pressure_and_temperature_are_inverses(temp: float) -> None:
    pressure = properties.saturation_pressure_kpa(temp_c=temp)
    assert properties.saturation_temp_c(pressure_kpa=pressure) == pytest.approx(temp, abs=1e-6)


@settings(max_examples=25)
@given(st.floats(50, 400), st.floats(2, 12), st.floats(0, 10), st.floats(0, 40))
def test_heat_up_time_agrees_with_the_integrated_balance(
    capacity: float, net: float, loss: float, start: float
) -> None:
    if net * 1000 <= loss * 75 * 1.05:
        return
    closed = heating.heat_up_min(
        capacity_kj_k=capacity,
        from_c=start,
        to_c=95,
        power_kw=net,
        efficiency_share=1.0,
        loss_w_k=loss,
        air_c=20,
    )

    def warming(_: float, y: NDArray[np.float64]) -> list[float]:
        return [(net - loss * (y[0] - 20) / 1000) / capacity]

    end = solve_ivp(warming, (0, closed * 60), [start], rtol=1e-9, atol=1e-9).y[0, -1]
    assert end == pytest.approx(95, abs=0.01)


def test_a_charge_that_is_warm_enough_takes_no_time() -> None:
    common = {"capacity_kj_k": 200.0, "power_kw": 8.0, "efficiency_share": 0.3, "loss_w_k": 5.0, "air_c": 22.0}
    assert heating.heat_up_min(from_c=95, to_c=90, **common) == 0.0
    thawed = heating.heat_up_frozen_min(frozen_heat_kj=0, from_c=10, to_c=95, **common)
    assert thawed == heating.heat_up_min(from_c=10, to_c=95, **common)
    assert heating.heat_up_frozen_min(frozen_heat_kj=5000, from_c=10, to_c=95, **common) > thawed


def test_pot_heat_capacity_and_loss_add_up() -> None:
    capacity = heating.charge_capacity_kj_k(
        water_kg=48, solids_kg=24, solids_cp_kj_kg_k=3.1, pot_kg=9, pot_cp_kj_kg_k=0.5
    )
    assert capacity == pytest.approx(280.02)
    assert heating.pot_loss_w_k(inner_diameter_m=0.45, level_mm=400, loss_w_m2_k=7.5) == pytest.approx(4.241, abs=0.001)


def test_the_power_that_holds_a_simmer_gives_back_its_surface() -> None:
    room = {"air_c": 22.0, "humidity_share": 0.5, "altitude_m": 1600.0, "inner_diameter_m": 0.45}
    leaving = evaporation.simmer_evaporation_kg_h(surface_c=85, **room)
    power = evaporation.hold_power_kw(
        evaporation_kg_h=leaving, surface_c=85, loss_w_k=5, air_c=22, efficiency_share=0.3
    )
    assert evaporation.simmer_surface_c(heat_kw=0.3 * power, loss_w_k=5, **room) == pytest.approx(85, abs=1e-6)
    assert evaporation.simmer_surface_c(heat_kw=20, loss_w_k=5, **room) == properties.boiling_point_c(altitude_m=1600)
    assert evaporation.simmer_surface_c(heat_kw=0, loss_w_k=5, **room) == 22.0


def test_nothing_leaves_a_surface_colder_or_drier_than_the_room() -> None:
    still = evaporation.simmer_flux_kg_m2_h(surface_c=20, air_c=40, humidity_share=1.0, altitude_m=0)
    assert still == 0.0
    gentle = evaporation.simmer_flux_kg_m2_h(surface_c=22, air_c=22, humidity_share=0.5, altitude_m=0)
    assert 0.0 < gentle < 0.5


def test_a_boil_that_is_not_held_gives_no_steam_and_a_cold_feed_costs_some() -> None:
    common = {"efficiency_share": 0.3, "loss_w_k": 6.0, "air_c": 22.0, "altitude_m": 0.0}
    assert evaporation.boil_evaporation_kg_h(power_kw=1, **common) == 0.0
    fed = evaporation.boil_evaporation_kg_h(power_kw=24, feed_kg_h=5, feed_c=15, **common)
    assert fed < evaporation.boil_evaporation_kg_h(power_kw=24, **common)


@given(st.floats(60, 95), st.floats(2, 20), st.floats(-5, 1), st.floats(0.1, 5))
def test_cooling_time_and_temperature_are_inverses(start: float, end: float, sink: float, rate: float) -> None:
    hours = cooling.cooling_time_h(from_c=start, to_c=end, sink_c=sink, rate_per_h=rate)
    back = cooling.cooled_temp_c(from_c=start, sink_c=sink, rate_per_h=rate, time_h=hours)
    assert back == pytest.approx(end, abs=1e-6)
    needed = cooling.required_rate_per_h(from_c=start, to_c=end, sink_c=sink, time_h=max(hours, 0.01))
    assert needed == pytest.approx(rate, rel=1e-6) or hours < 0.01


def test_a_blast_chiller_is_never_faster_than_its_power_or_its_surface() -> None:
    load = {"mass_kg": 25.0, "cp_kj_kg_k": 4.15, "from_c": 90.0, "to_c": 4.0}
    by_power = cooling.power_cooling_time_h(power_kw=4, **load)
    rate = cooling.cooling_rate_per_h(conductance_w_k=60, mass_kg=25, cp_kj_kg_k=4.15)
    by_surface = cooling.cooling_time_h(from_c=90, to_c=4, sink_c=-5, rate_per_h=rate)
    both = cooling.chiller_time_h(air_c=-5, power_kw=4, conductance_w_k=60, **load)
    assert max(by_power, by_surface) < both
    assert cooling.chiller_time_h(air_c=-5, power_kw=4, conductance_w_k=19000, **load) == pytest.approx(by_power)
    assert cooling.chiller_time_h(air_c=-5, power_kw=400, conductance_w_k=60, **load) == pytest.approx(by_surface)


def test_a_thin_set_layer_cools_like_a_mixed_one() -> None:
    """With little resistance inside, conduction must agree with the first-order law."""
    thin = cooling.gelled_slab_time_h(
        depth_mm=5, from_c=60, to_c=10, air_c=0, top_w_m2_k=5, bottom_w_m2_k=5, conductivity_w_m_k=5
    )
    rate = cooling.cooling_rate_per_h(conductance_w_k=10, mass_kg=1010 * 0.005, cp_kj_kg_k=4.05)
    mixed = cooling.cooling_time_h(from_c=60, to_c=10, sink_c=0, rate_per_h=rate)
    assert thin == pytest.approx(mixed, rel=0.01)


def test_a_set_layer_agrees_with_the_printed_series_for_a_cold_surface() -> None:
    """Centre of a slab with both faces at the sink: 4/pi exp(-(pi/L)^2 a t), one term."""
    hours = cooling.gelled_slab_time_h(
        depth_mm=50, from_c=60, to_c=10, air_c=0, top_w_m2_k=1000, bottom_w_m2_k=1000, conductivity_w_m_k=0.1
    )
    diffusivity = 0.1 / (1010 * 4050)
    series = math.log(4 / math.pi * 60 / 10) / ((math.pi / 0.05) ** 2 * diffusivity) / 3600
    assert hours == pytest.approx(series, rel=0.02)


def test_a_wide_flat_cylinder_cools_like_a_slab_cold_from_both_sides() -> None:
    common = {"from_c": 60.0, "to_c": 10.0, "air_c": 0.0}
    flat = cooling.gelled_cylinder_time_h(radius_mm=180, height_mm=60, film_w_m2_k=10, **common)
    slab = cooling.gelled_slab_time_h(depth_mm=60, top_w_m2_k=10, bottom_w_m2_k=10, **common)
    assert 0.9 * slab < flat < 1.1 * slab


def test_an_insulated_base_is_slower() -> None:
    common = {"depth_mm": 50.0, "from_c": 57.0, "to_c": 21.0, "air_c": 3.0, "top_w_m2_k": 12.0}
    assert cooling.gelled_slab_time_h(bottom_w_m2_k=0, **common) > cooling.gelled_slab_time_h(bottom_w_m2_k=6, **common)
    assert cooling.gelled_slab_time_h(**{**common, "to_c": 57.0}, bottom_w_m2_k=6) == 0.0


@given(st.floats(10, 100), st.floats(1.01, 3))
def test_an_open_pan_takes_time_in_proportion_to_its_depth(depth: float, times: float) -> None:
    def hours(depth_mm: float, top: float = 4.0, start: float = 90.0) -> float:
        return cooling.open_pan_time_h(
            depth_mm=depth_mm,
            from_c=start,
            to_c=21,
            air_c=3,
            humidity_share=0.8,
            top_w_m2_k=top,
            bottom_w_m2_k=6,
            altitude_m=1600,
        )

    assert hours(depth * times) == pytest.approx(times * hours(depth))
    assert hours(depth, top=10) < hours(depth)
    assert hours(depth, start=99) > hours(depth)


def test_ice_and_water_take_what_the_food_gives() -> None:
    heat = cooling.heat_to_remove_kj(mass_kg=20, cp_kj_kg_k=4.15, from_c=90, to_c=30)
    assert cooling.running_water_kg(heat_kj=heat, in_c=12, out_c=30) == pytest.approx(66.0, abs=0.1)
    assert cooling.heat_to_remove_kj(mass_kg=20, cp_kj_kg_k=4.15, from_c=5, to_c=30) == 0.0
    ice = cooling.ice_inside_kg(mass_kg=30, cp_kj_kg_k=4.19, from_c=90, to_c=21, ice_c=0)
    mixed = (30 * 90 - ice * (333.55 / 4.19)) / (30 + ice)
    assert mixed == pytest.approx(21, abs=1e-6)


def test_the_wall_and_the_cold_room_take_their_share() -> None:
    area = cooling.wetted_wall_m2(inner_diameter_m=0.285, level_mm=313)
    assert area == pytest.approx(0.344, abs=0.001)
    ua = cooling.conductance_w_k(area_m2=area, u_w_m2_k=80)
    assert cooling.cold_room_load_kw(conductance_w_k=ua, product_c=57, air_c=3) == pytest.approx(ua * 0.054)
    assert cooling.cold_room_load_kw(conductance_w_k=ua, product_c=1, air_c=3) == 0.0


@given(st.floats(0.01, 0.99), st.floats(0.1, 90))
def test_extraction_time_and_share_are_inverses(share: float, t90: float) -> None:
    hours = extraction.extraction_time_h(wanted_share=share, t90_h=t90)
    if hours <= 200:
        assert extraction.extracted_share(time_h=hours, t90_h=t90) == pytest.approx(share)


def test_a_colder_simmer_needs_longer() -> None:
    factor = extraction.extraction_rate_factor(temp_c=90, reference_c=95, activation_kj_mol=80)
    assert extraction.corrected_t90_h(t90_h=4.5, rate_factor=factor) == pytest.approx(6.46, abs=0.02)


def test_storage_is_geometry() -> None:
    assert storage.container_fill_l(brim_l=10, headspace_share=0.1) == pytest.approx(9)
    room = storage.envelope_l(length_mm=200, width_mm=150, height_mm=100, gap_mm=20)
    assert room == pytest.approx(0.24 * 0.19 * 0.12 * 1000)
    assert storage.containers_count(shelf_l=1000, usable_share=0.65, envelope_l=room) == 118
    slab = {"density_kg_m3": 1000.0, "heat_kj_kg": 310.0, "freezing_c": -0.5, "air_c": -20.0, "film_w_m2_k": 10.0}
    assert storage.freeze_slab_time_h(size_mm=40, **slab) > storage.freeze_cube_time_h(size_mm=40, **slab)
    assert reduction.safe_fill_share(expansion_share=0.08) == pytest.approx(0.926, abs=0.001)
    assert reduction.solids_from_brix_percent(reading_bx=4, per_bx_share=0.78) == pytest.approx(3.12)


@given(st.sampled_from(MATERIALS[:12]), st.floats(-30, 60), st.floats(0.1, 20))
def test_heat_content_rises_with_temperature(material: object, temp: float, more: float) -> None:
    it = {name: getattr(material, name) for name in ("water_share", "protein_share", "freezing_c")}
    rise = food.enthalpy_rise_kj_kg(from_c=temp, to_c=temp + more, **it)
    assert rise > 0.0
    assert storage.freeze_load_kj_kg(from_c=temp + more, to_c=temp, **it) == pytest.approx(rise)
    assert food.ice_share(temp_c=temp, **it) >= food.ice_share(temp_c=temp + more, **it)


SLAB = {"depth_mm": 50.0, "top_w_m2_k": 12.0, "bottom_w_m2_k": 6.0}
HEAT = {"capacity_kj_k": 200.0, "from_c": 10.0, "efficiency_share": 0.3, "air_c": 22.0}
DRY = {"water_share": 0.1, "protein_share": 0.5, "freezing_c": -1.0}
POT = {"inner_diameter_m": 0.4, "height_mm": 400.0}
PLANK = {"size_mm": 31.0, "density_kg_m3": 1000.0, "heat_kj_kg": 310.0, "freezing_c": -0.5, "film_w_m2_k": 10.0}
CYLINDER = {"radius_mm": 145.0, "height_mm": 460.0, "film_w_m2_k": 8.0}
RATED = {"rated_kg": 40.0, "rated_cp_kj_kg_k": 3.6, "rated_from_c": 65.0, "rated_to_c": 10.0, "rated_h": 2.0}

REFUSALS: list[tuple[str, type[PotwrightError], Callable[[], float]]] = [
    ("heat-too-small", DoesNotFit, lambda: heating.heat_up_min(to_c=95, power_kw=1, loss_w_k=6, **HEAT)),
    (
        "heat-too-small", DoesNotFit,
        lambda: heating.heat_up_frozen_min(frozen_heat_kj=1000, to_c=10, power_kw=0, loss_w_k=6, **HEAT),
    ),
    (
        "surface-boils", OutOfRange,
        lambda: evaporation.simmer_flux_kg_m2_h(surface_c=95, air_c=22, humidity_share=0.5, altitude_m=2000),
    ),
    (
        "air-saturated", OutOfRange,
        lambda: properties.humidity_ratio_kg_kg(temp_c=100, humidity_share=1.0, pressure_kpa=101.325),
    ),
    (
        "composition", OutOfRange,
        lambda: food.food_cp_kj_kg_k(temp_c=20, water_share=0.5, protein_share=0.1, lipid_share=0.1, ash_share=0.1),
    ),
    ("composition", OutOfRange, lambda: food.food_enthalpy_kj_kg(temp_c=4, **DRY)),
    (
        "boils-dry", DoesNotFit,
        lambda: balance.second_liquid_kg(refill_kg=5, carried_kg=1, new_solids_kg=0, evaporated_kg=7),
    ),
    ("nothing-to-draw", DoesNotFit, lambda: balance.drawn_kg(liquid_kg=2, cling_kg=1.8, holdup_kg=0.6)),
    (
        "ratio-too-dry", DoesNotFit,
        lambda: balance.solids_for_drawn_kg(
            wanted_kg=10, water_ratio_kg_kg=0.2, skim_share=0, soluble_share=0.03, water_net_share=-0.1,
            cling_share=0.15, evaporated_kg=0, holdup_kg=0,
        ),
    ),
    (
        "solids-fill-pot", DoesNotFit,
        lambda: pots.safe_cold_fill_l(freeboard_mm=75, swell_share=0.05, solids_l=50, cold_c=10, hot_c=95, **POT),
    ),
    ("pot-too-small", DoesNotFit, lambda: pots.fill_mark_mm(liquid_l=45, solids_l=10, **POT)),
    ("reduction-backwards", OutOfRange, lambda: reduction.reduction_mass_factor(from_bx=20, to_bx=4)),
    ("reduction-backwards", OutOfRange, lambda: reduction.reduction_min(mass_kg=4, end_mass_kg=5, evaporation_kg_h=3)),
    ("over-seasoned", OutOfRange, lambda: reduction.seasoned_percent(before_percent=20, mass_factor=8)),
    ("sink-too-warm", OutOfRange, lambda: cooling.cooling_time_h(from_c=90, to_c=5, sink_c=5, rate_per_h=1)),
    ("sink-too-warm", OutOfRange, lambda: cooling.gelled_slab_time_h(from_c=4, to_c=5, air_c=3, **SLAB)),
    ("end-near-air", OutOfRange, lambda: cooling.gelled_slab_time_h(from_c=90, to_c=3.1, air_c=3, **SLAB)),
    ("sink-too-warm", OutOfRange, lambda: storage.freeze_cube_time_h(air_c=-0.5, **PLANK)),
    ("no-temperature-rise", OutOfRange, lambda: cooling.running_water_kg(heat_kj=1, in_c=12, out_c=12)),
    (
        "not-cooling", OutOfRange,
        lambda: cooling.chiller_equivalent_kg(cp_kj_kg_k=4.1, from_c=4, to_c=4, time_h=2, **RATED),
    ),
    (
        "not-cooling", OutOfRange,
        lambda: cooling.power_limited_l_h(power_kw=4, density_kg_m3=1000, cp_kj_kg_k=4.15, from_c=5, to_c=5),
    ),
    ("too-early", OutOfRange, lambda: cooling.gelled_cylinder_time_h(from_c=60, to_c=59, air_c=0, **CYLINDER)),
    ("out-of-range", OutOfRange, lambda: extraction.corrected_t90_h(t90_h=90, rate_factor=0.5)),
]  # fmt: skip


@pytest.mark.parametrize(
    ("code", "kind", "attempt"), REFUSALS, ids=[f"{i}-{each[0]}" for i, each in enumerate(REFUSALS)]
)
def test_what_cannot_be_is_refused_with_numbers_and_a_remedy(
    code: str, kind: type[PotwrightError], attempt: Callable[[], float]
) -> None:
    with pytest.raises(kind) as refusal:
        attempt()
    assert refusal.value.code == code
    assert refusal.value.numbers
    assert refusal.value.remedy
    assert refusal.value.sentence.endswith(".")
