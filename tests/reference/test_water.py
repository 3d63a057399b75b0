"""Air pressure, boiling point and water: against evaluated standards and an independent library."""

from __future__ import annotations

import warnings

import pytest
from iapws import IAPWS95, IAPWS97

from production.domain.thermal import properties as water
from tests.reference.checks import COOLPROP, Check, every, holds

ISA = "ISO 2533 standard atmosphere, formula evaluated"
BOIL = f"{COOLPROP}, at the standard pressure of the altitude"
IF97 = "IAPWS R7-97(2012), printed verification value, from memory"

CHECKS = [
    *(
        Check(f"air_pressure_{altitude}", lambda a=altitude: water.air_pressure_kpa(altitude_m=a), kpa, 0.02, ISA)
        for altitude, kpa in [
            (0, 101.325), (500, 95.4608), (1000, 89.8746), (1600, 83.5235), (2000, 79.4952), (3000, 70.1085),
        ]
    ),
    *(
        Check(f"boiling_point_{altitude}", lambda a=altitude: water.boiling_point_c(altitude_m=a), temp, 0.05, BOIL)
        for altitude, temp in [
            (0, 99.9743), (500, 98.3125), (1000, 96.6489), (1600, 94.6497), (2000, 93.3153), (3000, 89.9725),
        ]
    ),
    *(
        Check(f"water_density_{temp}", lambda t=temp: water.water_density_kg_m3(temp_c=t), rho, 0.05, COOLPROP)
        for temp, rho in [
            (4, 999.975), (10, 999.702), (20, 998.207), (40, 992.216), (60, 983.196), (80, 971.79), (95, 961.888),
            (100, 958.349),
        ]
    ),
    *(
        Check(f"water_cp_{temp}", lambda t=temp: water.water_cp_kj_kg_k(temp_c=t), cp, 0.002, COOLPROP)
        for temp, cp in [(20, 4.18405), (60, 4.18495), (95, 4.21017)]
    ),
    *(
        Check(f"latent_heat_{temp}", lambda t=temp: water.latent_heat_kj_kg(temp_c=t), heat, 0.1, COOLPROP)
        for temp, heat in [(20, 2453.52), (60, 2357.65), (90, 2282.49), (100, 2256.4)]
    ),
    Check("vapour_pressure_95", lambda: water.saturation_pressure_kpa(temp_c=95), 84.6085, 0.02, COOLPROP),
    Check("viscosity_20", lambda: water.water_viscosity_mpa_s(temp_c=20), 1.0016, 0.001, COOLPROP),
    Check("viscosity_95", lambda: water.water_viscosity_mpa_s(temp_c=95), 0.297085, 0.001, COOLPROP),
    Check(
        "expansion_10_to_100", lambda: 100 * water.water_expansion_share(cold_c=10, hot_c=100), 4.31507, 0.01, COOLPROP
    ),
    Check(
        "expansion_15_to_95", lambda: 100 * water.water_expansion_share(cold_c=15, hot_c=95), 3.86892, 0.01, COOLPROP
    ),
    Check("saturation_at_0.1_MPa", lambda: water.saturation_temp_c(pressure_kpa=100), 99.605919, 1e-5, IF97),
    Check("vapour_pressure_at_300_K", lambda: water.saturation_pressure_kpa(temp_c=26.85), 3.53658941, 1e-6, IF97),
    Check(
        "hand_rule_2000_m", lambda: water.boiling_point_c(altitude_m=2000), 100 - 2000 / 299, 0.05,
        "hand rule of the trade: 100 - altitude in metres / 299",
    ),
    *(
        Check(
            f"boils_at_f_{altitude}", lambda a=altitude: 1.8 * water.boiling_point_c(altitude_m=a) + 32, temp_f, 0.1,
            "CoolProp 8.0.0 (IAPWS-95), table rounded to 0.1 F",
        )
        for altitude, temp_f in [(0, 212.0), (500, 209.0), (1500, 203.0), (2500, 197.0), (3000, 194.0)]
    ),
]  # fmt: skip


@every(CHECKS)
def test_water_agrees_with_published_values(check: Check) -> None:
    holds(check)


def _liquid(temp_c: float) -> IAPWS95:
    return IAPWS95(T=temp_c + 273.15, P=0.101325) if temp_c < 99.9 else IAPWS95(T=temp_c + 273.15, x=0)


GRID = [0.01, *range(5, 101, 5)]


@pytest.mark.parametrize("temp_c", GRID)
def test_liquid_water_is_within_a_thousandth_of_the_iapws_library(temp_c: float) -> None:
    """Source: the iapws library 1.5.5, IAPWS-95 formulation, an implementation that is not ours."""
    outside = _liquid(temp_c)
    assert water.water_density_kg_m3(temp_c=temp_c) == pytest.approx(outside.rho, rel=1e-4)
    assert water.water_cp_kj_kg_k(temp_c=temp_c) == pytest.approx(outside.cp, rel=1e-3)
    assert water.water_viscosity_mpa_s(temp_c=temp_c) == pytest.approx(1000 * outside.mu, rel=1e-3)


@pytest.mark.parametrize("temp_c", [1, *range(5, 101, 5)])
def test_steam_is_within_a_thousandth_of_the_iapws_library(temp_c: float) -> None:
    """Source: the iapws library 1.5.5, IAPWS-95 formulation, an implementation that is not ours."""
    liquid, steam = IAPWS95(T=temp_c + 273.15, x=0), IAPWS95(T=temp_c + 273.15, x=1)
    assert water.saturation_pressure_kpa(temp_c=temp_c) == pytest.approx(1000 * liquid.P, rel=1e-3)
    assert water.latent_heat_kj_kg(temp_c=temp_c) == pytest.approx(steam.h - liquid.h, rel=1e-3)


@pytest.mark.parametrize("altitude_m", range(0, 3001, 250))
def test_boiling_point_is_within_a_twentieth_of_a_degree_of_the_iapws_library(altitude_m: int) -> None:
    """Source: the iapws library 1.5.5, IAPWS-IF97 saturation line at the pressure of ISO 2533."""
    pressure_mpa = 0.101325 * (1 - 0.0065 * altitude_m / 288.15) ** 5.25588
    outside = IAPWS97(P=pressure_mpa, x=0).T - 273.15
    assert water.boiling_point_c(altitude_m=altitude_m) == pytest.approx(outside, abs=0.05)


@pytest.mark.parametrize("temp_c", [-40, -30, -20, -10, -1])
def test_ice_density_agrees_with_the_iapws_library(temp_c: float) -> None:
    """Source: the iapws library 1.5.5, IAPWS-06 formulation of ice."""
    from iapws._iapws import _Ice

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        outside = _Ice(temp_c + 273.15, 0.101325)["rho"]
    assert water.ice_density_kg_m3(temp_c=temp_c) == pytest.approx(outside, rel=1e-4)
