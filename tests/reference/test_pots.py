"""Pots: geometry, thermal rise, safe fill, displacement and charge ratios."""

from __future__ import annotations

from production.domain.thermal import balance, pots
from tests.reference.checks import ARITHMETIC, COOLPROP, Check, every, holds

GEOMETRY = "geometry; 1 US qt = 0.946352946 L exactly"
QUART_L = 0.946352946
POUND_KG = 0.45359237
DRIFT_FLUX = "drift flux with C0 = 1.2 and Vgj = 1.53 (sigma g drho / rho2)^0.25, evaluated by a second program"
RECIPE = "8 lb bones, 6 qt water, 1 lb mirepoix for 1 US gal: the same in two public course pages"


def rise(volume_l: float, alpha: float = 0.0) -> float:
    return pots.thermal_rise_mm(
        volume_l=volume_l, inner_diameter_m=0.4166, cold_c=10, hot_c=100, wall_expansion_per_k=alpha
    )


def square_fill_share(quarts: float) -> float:
    """Cold fill of a pot as tall as wide, as a share of its brim, with 75 mm freeboard and 5 % swell."""
    volume = quarts * QUART_L
    size = pots.square_pot_diameter_mm(volume_l=volume)
    fill = pots.safe_cold_fill_l(
        inner_diameter_m=size / 1000,
        height_mm=size,
        freeboard_mm=75,
        swell_share=0.05,
        solids_l=0,
        cold_c=10,
        hot_c=100,
    )
    return fill / volume


CHECKS = [
    Check("60_qt_as_tall_as_wide", lambda: pots.square_pot_diameter_mm(volume_l=60 * QUART_L), 416.586, 0.1, GEOMETRY),
    Check("level_40_l", lambda: pots.pot_level_mm(inner_diameter_m=0.42, volume_l=40), 288.716, 0.01, "geometry"),
    Check("rise_85_percent", lambda: rise(48.26), 15.2773, 0.05, COOLPROP),
    Check("rise_75_percent", lambda: rise(42.59), 13.4824, 0.05, COOLPROP),
    Check("rise_full", lambda: rise(56.78), 17.9744, 0.05, COOLPROP),
    Check("rise_steel_wall", lambda: rise(48.26, 1.7e-5), 13.6081, 0.05, f"{COOLPROP}; steel 17e-6 per K"),
    Check(
        "safe_cold_fill",
        lambda: pots.safe_cold_fill_l(
            inner_diameter_m=0.4166, height_mm=416.6, freeboard_mm=75, swell_share=0, solids_l=0, cold_c=10, hot_c=100
        ),
        44.6374, 0.05, f"geometry and {COOLPROP}",
    ),
    Check(
        "steam_swell_8_kg_h",
        lambda: 100 * pots.steam_swell_share(evaporation_kg_h=8, inner_diameter_m=0.4166, temp_c=100),
        10.0046, 0.25, DRIFT_FLUX,
    ),
    *(
        Check(
            f"steam_swell_{rate}",
            lambda r=rate: 100 * pots.steam_swell_share(evaporation_kg_h=r, inner_diameter_m=0.45, temp_c=100),
            swell, 0.3, DRIFT_FLUX,
        )
        for rate, swell in [(1.5, 1.8), (3, 3.5), (8, 8.7), (11, 11.5)]
    ),
    Check(
        "displacement_of_a_beef_charge",
        lambda: pots.solids_volume_l(mass_kg=10, density_kg_m3=1400)
        + pots.solids_volume_l(mass_kg=5, density_kg_m3=1060)
        + pots.solids_volume_l(mass_kg=1.5, density_kg_m3=980),
        13.3905, 0.001, ARITHMETIC,
    ),
    Check(
        "classic_ratio_by_weight",
        lambda: balance.water_ratio_kg_kg(
            water_kg=balance.water_mass_kg(volume_l=6 * QUART_L, temp_c=15), solids_kg=8 * POUND_KG
        ),
        1.56336, 0.001, f"{RECIPE}; {ARITHMETIC}",
    ),
    Check(
        "classic_ratio_by_displaced_volume",
        lambda: balance.water_to_displaced_factor(water_l=6 * QUART_L, solids_kg=8 * POUND_KG, density_kg_m3=1300),
        2.03419, 0.001, f"{RECIPE}; {ARITHMETIC}",
    ),
    Check(
        "classic_scaled_to_40_l",
        lambda: balance.scaled_solids_kg(
            finished_l=40, recipe_solids_kg=8 * POUND_KG, recipe_finished_l=4 * QUART_L
        ),
        38.3445, 0.005, f"{RECIPE}; {ARITHMETIC}",
    ),
    *(
        Check(
            f"three_quarters_full_{quarts}_qt", lambda q=quarts: 100 * square_fill_share(q), percent, 1.0,
            "common practice 'three quarters full'; figures by a second program with CoolProp",
        )
        for quarts, percent in [(40, 72), (60, 75), (80, 76), (100, 77), (160, 79)]
    ),
    Check(
        "water_to_cover_beef_bones",
        lambda: pots.water_to_cover_l(
            mass_kg=20, density_kg_m3=1350, packing_share=0.55, inner_diameter_m=0.45, cover_mm=50
        ),
        20.1, 0.05, ARITHMETIC,
    ),
    Check(
        "water_to_cover_frames",
        lambda: pots.water_to_cover_l(
            mass_kg=15, density_kg_m3=1120, packing_share=0.40, inner_diameter_m=0.45, cover_mm=50
        ),
        28.0, 0.1, ARITHMETIC,
    ),
    *(
        Check(
            f"rise_{quarts}_qt",
            lambda q=quarts, s=share: pots.thermal_rise_mm(
                volume_l=s * q * QUART_L,
                inner_diameter_m=pots.square_pot_diameter_mm(volume_l=q * QUART_L) / 1000,
                cold_c=10,
                hot_c=100,
            ),
            mm, 0.1, COOLPROP,
        )
        for quarts, share, mm in [(40, 0.85, 13.3), (80, 0.85, 16.8), (100, 0.85, 18.1), (160, 0.85, 21.2)]
    ),
]  # fmt: skip


@every(CHECKS)
def test_pots_agree_with_outside_values(check: Check) -> None:
    holds(check)


def test_the_rise_of_a_60_quart_pot_lies_in_the_13_to_19_mm_of_practice() -> None:
    """Source: common practice, no source (half to three quarters of an inch)."""
    assert 13.0 <= rise(42.59) <= rise(56.78) <= 19.0
