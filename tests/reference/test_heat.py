"""Specific heat, frozen charges, heat-up time and evaporation."""

from __future__ import annotations

import pytest

from production.domain.thermal import evaporation, food, heating
from tests.reference.checks import CHOI_OKOS, ENERGY, Check, every, holds

CHEN = "Chen 1985 as in ASHRAE Handbook Refrigeration chapter 19, evaluated by a second program"
STILL_AIR = "still-air correlation with C = 35, evaluated by a second program"
BEEF = {"water_share": 0.65, "protein_share": 0.19, "lipid_share": 0.15, "ash_share": 0.01}
THAW_BEEF = {"from_c": -18.0, "to_c": 4.0, "water_share": 0.65, "protein_share": 0.19, "freezing_c": -1.7}


def heat_up(capacity: float, start: float, power: float, eta: float, loss: float, end: float = 95) -> float:
    return heating.heat_up_min(
        capacity_kj_k=capacity,
        from_c=start,
        to_c=end,
        power_kw=power,
        efficiency_share=eta,
        loss_w_k=loss,
        air_c=22,
    )


def frozen_beef_charge() -> float:
    thaw = food.enthalpy_rise_kj_kg(**THAW_BEEF)
    return heating.heat_up_frozen_min(
        frozen_heat_kj=12 * (thaw + 3.48 * (15 - 4)),
        capacity_kj_k=40 * 4.19 + 12 * 3.48,
        from_c=15,
        to_c=95,
        power_kw=7.2,
        efficiency_share=1.0,
        loss_w_k=0.0,
        air_c=22,
    )


def boil(power: float, eta: float, loss: float, altitude: float = 0) -> float:
    return evaporation.boil_evaporation_kg_h(
        power_kw=power, efficiency_share=eta, loss_w_k=loss, air_c=22, altitude_m=altitude
    )


def simmer(surface: float, diameter: float = 0.45) -> float:
    return evaporation.simmer_evaporation_kg_h(
        surface_c=surface, inner_diameter_m=diameter, air_c=22, humidity_share=0.5, altitude_m=0
    )


def settles_at(heat_kw: float) -> float:
    return evaporation.simmer_surface_c(
        heat_kw=heat_kw, inner_diameter_m=0.45, loss_w_k=5, air_c=22, humidity_share=0.5, altitude_m=0
    )


CHARGE = 48 * 4.19 + 24 * 3.1 + 9 * 0.5
CHECKS = [
    Check("cp_beef", lambda: food.food_cp_kj_kg_k(temp_c=20, **BEEF), 3.38313, 0.001, CHOI_OKOS),
    Check("density_beef", lambda: food.food_density_kg_m3(temp_c=20, **BEEF), 1036.87, 0.2, CHOI_OKOS),
    Check("thaw_beef", lambda: food.enthalpy_rise_kj_kg(**THAW_BEEF), 224.996, 0.1, CHEN),
    Check("heat_up_without_loss", lambda: heat_up(50 * 4.19, 15, 24, 0.30, 0), 38.7963, 0.01, ENERGY),
    Check(
        "heat_up_with_loss", lambda: heat_up(50 * 4.19 + 10 * 0.5, 15, 24, 0.30, 6), 40.8615, 0.05,
        f"{ENERGY} that integrates the differential equation",
    ),
    Check("heat_up_frozen_charge", frozen_beef_charge, 46.0836, 0.1, f"{ENERGY}; {CHEN}"),
    Check("boil_at_sea_level", lambda: boil(24, 0.30, 6), 10.7406, 0.01, ENERGY),
    Check("boil_at_1600_m", lambda: boil(24, 0.30, 6, 1600), 10.7251, 0.01, ENERGY),
    Check("simmer_85", lambda: simmer(85), 1.75896, 0.02, STILL_AIR),
    Check("simmer_90", lambda: simmer(90), 2.22199, 0.02, STILL_AIR),
    Check("simmer_95", lambda: simmer(95), 2.78504, 0.02, STILL_AIR),
    *(
        Check(f"simmer_{surface}_in_{cm}_cm", lambda s=surface, d=cm: simmer(s, d / 100), kg_h, 0.02, STILL_AIR)
        for surface, cm, kg_h in [(80, 40, 1.09), (80, 50, 1.70), (90, 40, 1.76), (95, 50, 3.44)]
    ),
    *(
        Check(f"pot_settles_under_{kw}_kw", lambda k=kw: settles_at(k), temp, 1.0, f"{STILL_AIR} and an energy balance")
        for kw, temp in [(1.0, 76), (1.5, 86), (2.0, 93.5)]
    ),
    *(
        Check(f"boil_on_{name}", lambda p=power, e=eta: boil(p, e, 5), kg_h, 0.1, ENERGY)
        for name, power, eta, kg_h in [
            ("stock_pot_gas", 26, 0.30, 11.8), ("open_burner", 8, 0.30, 3.2), ("induction", 8, 0.80, 9.6),
            ("electric_kettle", 15, 0.90, 20.9),
        ]
    ),
    *(
        Check(
            f"charge_on_{name}", lambda p=power, e=eta: heat_up(CHARGE, 10, p, e, 5), minutes, 2.5,
            f"{ENERGY}; room temperature not stated",
        )
        for name, power, eta, minutes in [
            ("open_burner", 8, 0.30, 179), ("stock_pot_gas", 26, 0.30, 53), ("induction", 8, 0.80, 64),
            ("electric_kettle", 15, 0.90, 30),
        ]
    ),
    Check(
        "base_flux_45_cm", lambda: heating.base_flux_kw_m2(power_kw=26, efficiency_share=0.30, base_diameter_m=0.45),
        49, 0.5, ENERGY,
    ),
    Check(
        "base_flux_25_cm", lambda: heating.base_flux_kw_m2(power_kw=2.8, efficiency_share=1.0, base_diameter_m=0.25),
        57, 0.5, ENERGY,
    ),
]  # fmt: skip


@every(CHECKS)
def test_heat_agrees_with_outside_values(check: Check) -> None:
    holds(check)


@pytest.mark.parametrize("parts", [BEEF, {**BEEF, "water_share": 0.60, "carbohydrate_share": 0.05}])
def test_specific_heat_lies_between_its_parts(parts: dict[str, float]) -> None:
    """Source: Choi and Okos 1986; a mixture cannot leave the range of ash (lowest) and water (highest)."""
    assert 1.09 < food.food_cp_kj_kg_k(temp_c=20, **parts) < 4.13
