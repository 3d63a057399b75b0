"""Mass balance of the draws, reduction, sugar density and cubes."""

from __future__ import annotations

import pytest

from production.domain.thermal import balance, food, reduction
from production.domain.thermal.evaporation import boil_evaporation_kg_h
from tests.reference.checks import ARITHMETIC, ENERGY, MASS, Check, every, holds

SOLIDS = "solids balance by hand"
SUGAR = "ICUMSA-type polynomial; NBS Circular C440 table within 0.2 kg/m3, table from memory"
BONES_KG = 8 * 0.45359237
MIREPOIX_KG = 0.45359237


def classic_solubles() -> float:
    return balance.released_kg(mass_kg=BONES_KG, yield_share=0.035) + balance.released_kg(
        mass_kg=MIREPOIX_KG, yield_share=0.03
    )


def classic_liquid() -> float:
    return balance.aqueous_kg(
        water_kg=5.673,
        topup_kg=0,
        solids_water_kg=balance.released_kg(mass_kg=BONES_KG, yield_share=-0.03)
        + balance.released_kg(mass_kg=MIREPOIX_KG, yield_share=0.05),
        solubles_kg=classic_solubles(),
        evaporated_kg=balance.evaporated_kg(evaporation_kg_h=0.20, time_h=6),
        skim_kg=0.05,
    )


def classic_drawn() -> float:
    cling = balance.released_kg(mass_kg=BONES_KG, yield_share=0.10) + balance.released_kg(
        mass_kg=MIREPOIX_KG, yield_share=0.15
    )
    return balance.drawn_kg(liquid_kg=classic_liquid(), cling_kg=cling, holdup_kg=0)


def boil(power: float, eta: float, loss: float) -> float:
    return boil_evaporation_kg_h(power_kw=power, efficiency_share=eta, loss_w_k=loss, air_c=22, altitude_m=0)


def sugar_volume_factor(start: float, end: float) -> float:
    return reduction.reduction_volume_factor(
        mass_factor=reduction.reduction_mass_factor(from_bx=start, to_bx=end),
        from_kg_m3=reduction.sucrose_density_kg_m3(solids_bx=start),
        to_kg_m3=reduction.sucrose_density_kg_m3(solids_bx=end),
    )


def sugar_removed_volume(start: float, end: float) -> float:
    return reduction.removed_volume_percent(
        from_bx=start,
        to_bx=end,
        from_kg_m3=reduction.sucrose_density_kg_m3(solids_bx=start),
        to_kg_m3=reduction.sucrose_density_kg_m3(solids_bx=end),
    )


REDUCTIONS = [
    (3, 15, 5.00, 5.24, 82.5), (3, 20, 6.67, 7.14, 87.6), (4, 20, 5.00, 5.33, 83.3), (4, 32, 8.00, 8.97, 91.1),
    (5, 30, 6.00, 6.64, 87.7),
]  # fmt: skip

CHECKS = [
    Check("classic_drawn", classic_drawn, 4.04652, 0.001, MASS),
    Check(
        "classic_solids",
        lambda: balance.draw_solids_percent(solubles_kg=classic_solubles(), liquid_kg=classic_liquid()),
        3.1405, 0.002, MASS,
    ),
    Check(
        "second_draw_solids",
        lambda: balance.second_solids_percent(
            refill_kg=40, carried_kg=4, carried_percent=3, new_solids_kg=0.35, evaporated_kg=5
        ),
        1.19441, 0.0005, MASS,
    ),
    Check(
        "second_draw_without_new_solids",
        lambda: balance.second_solids_percent(
            refill_kg=40, carried_kg=4, carried_percent=3, new_solids_kg=0, evaporated_kg=5
        ),
        0.31, 0.005, MASS,
    ),
    Check("reduced_mass", lambda: reduction.reduced_mass_kg(mass_kg=40, from_bx=4, to_bx=32), 5.0, 1e-9, SOLIDS),
    Check("removed_of_water", lambda: reduction.removed_water_percent(from_bx=4, to_bx=32), 91.1458, 0.001, SOLIDS),
    Check("removed_of_mass", lambda: reduction.removed_mass_percent(from_bx=4, to_bx=32), 87.5, 1e-9, SOLIDS),
    Check("removed_of_volume", lambda: sugar_removed_volume(4, 32), 88.9, 0.1, f"{SOLIDS}; {SUGAR}"),
    Check("volume_factor", lambda: sugar_volume_factor(4, 32), 8.96914, 0.001, f"{SOLIDS}; {SUGAR}"),
    Check("salt", lambda: reduction.seasoned_percent(before_percent=0.45, mass_factor=8), 3.6, 1e-9, ARITHMETIC),
    Check(
        "minutes_one_pot",
        lambda: reduction.reduction_min(mass_kg=40, end_mass_kg=5, evaporation_kg_h=boil(24, 0.30, 6)),
        195.521, 0.2, ENERGY,
    ),
    Check(
        "minutes_with_transfer",
        lambda: reduction.reduction_transfer_min(
            mass_kg=40, transfer_mass_kg=12, end_mass_kg=5, first_kg_h=boil(24, 0.30, 6), second_kg_h=boil(8, 0.35, 3)
        ),
        259.007, 0.2, ENERGY,
    ),
    *(
        Check(f"sugar_{bx}_bx", lambda b=bx: reduction.sucrose_density_kg_m3(solids_bx=b), rho, 0.2, SUGAR)
        for bx, rho in [
            (10, 1038.12), (20, 1080.98), (30, 1127.04), (40, 1176.52), (50, 1229.66), (60, 1286.62),
        ]
    ),
    *(
        Check(
            f"brewing_form_{bx}_bx",
            lambda b=bx: reduction.sucrose_density_kg_m3(solids_bx=b) / 998.2071,
            1 + bx / (258.6 - 227.1 * bx / 258.2), 0.0005,
            "brewing form of specific gravity, SG = 1 + Bx / (258.6 - 227.1 Bx / 258.2), from memory",
        )
        for bx in (5, 10, 20, 30, 40)
    ),
    *(
        Check(
            f"mass_factor_{a}_{b}", lambda a=a, b=b: reduction.reduction_mass_factor(from_bx=a, to_bx=b), factor, 0.005,
            SOLIDS,
        )
        for a, b, factor, _, _ in REDUCTIONS
    ),
    *(
        Check(f"volume_factor_{a}_{b}", lambda a=a, b=b: sugar_volume_factor(a, b), factor, 0.01, f"{SOLIDS}; {SUGAR}")
        for a, b, _, factor, _ in REDUCTIONS
    ),
    *(
        Check(
            f"water_removed_{a}_{b}", lambda a=a, b=b: reduction.removed_water_percent(from_bx=a, to_bx=b), percent,
            0.05, SOLIDS,
        )
        for a, b, _, _, percent in REDUCTIONS
    ),
    Check(
        "protein_stock_5_percent", lambda: food.stock_density_kg_m3(solids_percent=5, temp_c=20), 1010.5, 1.0,
        "Choi and Okos protein with IAPWS water, evaluated by a second program",
    ),
    Check(
        "protein_stock_30_percent", lambda: food.stock_density_kg_m3(solids_percent=30, temp_c=20), 1077, 2.0,
        "Choi and Okos protein with IAPWS water, evaluated by a second program",
    ),
    Check(
        "glaze_depth_wide_pot",
        lambda: reduction.liquid_depth_mm(mass_kg=5, density_kg_m3=1127, inner_diameter_m=0.45), 28, 0.5, ARITHMETIC,
    ),
    Check(
        "glaze_depth_small_pot",
        lambda: reduction.liquid_depth_mm(mass_kg=5, density_kg_m3=1127, inner_diameter_m=0.25), 90, 0.5, ARITHMETIC,
    ),
    Check(
        "cubes",
        lambda: reduction.cubes_count(mass_kg=5.2, loss_share=0, density_kg_m3=1060, cell_ml=30, fill_share=0.92),
        177, 0, ARITHMETIC,
    ),
]  # fmt: skip


@every(CHECKS)
def test_balances_agree_with_outside_values(check: Check) -> None:
    holds(check)


def test_six_quarts_of_water_on_eight_pounds_of_bones_draw_about_a_gallon() -> None:
    """Source: 8 lb bones, 6 qt water, 1 lb mirepoix give 1 US gal; the same in two public course pages."""
    drawn_l = balance.volume_of_mass_l(mass_kg=classic_drawn(), density_kg_m3=1005)
    assert drawn_l == pytest.approx(3.785, rel=0.10)
