"""A second draw boiled down: how much is left, how long it takes, and when it would catch."""

from __future__ import annotations

from production.domain.formula.content import Draw, Reduction
from production.domain.formula.heat import loss_w_k
from production.domain.formula.setting import Setting
from production.domain.thermal.balance import volume_of_mass_l
from production.domain.thermal.evaporation import boil_evaporation_kg_h
from production.domain.thermal.food import stock_density_kg_m3
from production.domain.thermal.heating import WATER_CP_KJ_KG_K, base_flux_kw_m2, heat_up_min
from production.domain.thermal.reduction import (
    liquid_depth_mm,
    mass_at_depth_kg,
    reduced_mass_kg,
    reduction_mass_factor,
    reduction_min,
    reduction_transfer_min,
    removed_mass_percent,
    removed_volume_percent,
    removed_water_percent,
    seasoned_percent,
)

MEASURED_C = 20.0  # densities of a reduction, as Brix is read (own choice)


def boil_down(setting: Setting, liquor: Draw, to_bx: float, *, cold_pan: bool = False) -> Reduction:
    """Reduce a liquor to a strength, in the pot it was drawn in or in a pan that is still cold.

    Equation: mass = liquor / factor, the factor from the solids; the heat is cut below the depth or above the strength
        at which it catches.
    Units: setting, liquor (records), to_bx [Brix], cold_pan (yes or no); returns masses [kg], volume [L], time [min],
        depth [mm].
    Valid: strengths above the liquor's.
    Errors: DoesNotFit and OutOfRange as the workings.
    Source: thermal.reduction and its sources.
    """
    parameters, sheet = setting.parameters, setting.sheet
    brix = {"from_bx": liquor.solids_bx, "to_bx": to_bx}
    names = ("brix.protein_per_bx",)
    factor = sheet.add("reduction_factor", reduction_mass_factor, names, **brix)
    mass = sheet.add("reduction_kg", reduced_mass_kg, names, mass_kg=liquor.mass_kg, **brix)
    percent = to_bx * parameters.value("brix.protein_per_bx")
    dense = stock_density_kg_m3(solids_percent=percent, temp_c=MEASURED_C)
    thin = stock_density_kg_m3(solids_percent=liquor.solids_percent, temp_c=MEASURED_C)
    litres = sheet.add("reduction_l", volume_of_mass_l, names, mass_kg=mass, density_kg_m3=dense)
    sheet.add("removed_mass_percent", removed_mass_percent, names, **brix)
    sheet.add("removed_volume_percent", removed_volume_percent, names, from_kg_m3=thin, to_kg_m3=dense, **brix)
    sheet.add("removed_water_percent", removed_water_percent, names, **brix)
    salt = sheet.add(
        "reduction_salt_percent",
        seasoned_percent,
        before_percent=100.0 * setting.formula.salt_share,
        mass_factor=factor,
    )
    depth = sheet.add(
        "reduction_depth_mm", liquid_depth_mm, mass_kg=mass, density_kg_m3=dense, inner_diameter_m=setting.diameter_m
    )
    scorch_from = _scorch_from_kg(setting, liquor, mass, dense)
    return Reduction(
        liquor=liquor,
        mass_kg=mass,
        litres=litres,
        solids_bx=to_bx,
        mass_factor=factor,
        reduce_min=_reduce_min(setting, liquor, mass, scorch_from, cold_pan=cold_pan),
        depth_mm=depth,
        scorch_from_kg=scorch_from,
        salt_percent=salt,
    )


def _scorch_from_kg(setting: Setting, liquor: Draw, mass_kg: float, density_kg_m3: float) -> float:
    """Mass below which the heat is cut: shallow or strong enough to catch."""
    parameters = setting.parameters
    shallow_kg = mass_at_depth_kg(
        depth_mm=parameters.value("reduction.scorch_depth_mm"),
        density_kg_m3=density_kg_m3,
        inner_diameter_m=setting.diameter_m,
    )
    strong_kg = liquor.mass_kg * liquor.solids_bx / parameters.value("reduction.scorch_bx")
    return min(liquor.mass_kg, max(mass_kg, shallow_kg, strong_kg))


def _reduce_min(setting: Setting, liquor: Draw, mass_kg: float, scorch_from_kg: float, *, cold_pan: bool) -> float:
    """Minutes from the draw on the slow side: back to the boil, at full heat, then with the heat cut."""
    loss = loss_w_k(setting, liquor.cold_l, setting.parameters.high("heat.pot_loss_w_m2_k"))
    full_kg_h, gentle_kg_h = _boil_off_kg_h(setting, loss)
    back_to_boil = _back_to_boil_min(setting, liquor, loss, cold_pan=cold_pan)
    if scorch_from_kg <= mass_kg:
        return back_to_boil + setting.sheet.add(
            "reduce_min", reduction_min, mass_kg=liquor.mass_kg, end_mass_kg=mass_kg, evaporation_kg_h=full_kg_h
        )
    return back_to_boil + setting.sheet.add(
        "reduce_min",
        reduction_transfer_min,
        mass_kg=liquor.mass_kg,
        transfer_mass_kg=scorch_from_kg,
        end_mass_kg=mass_kg,
        first_kg_h=full_kg_h,
        second_kg_h=gentle_kg_h,
    )


def _boil_off_kg_h(setting: Setting, pot_loss_w_k: float) -> tuple[float, float]:
    """What boils off at full heat, and at the heat that the base may take when it is about to catch."""
    parameters, sheet, input_kw = setting.parameters, setting.sheet, setting.source.input_kw
    names = (setting.efficiency_code, "heat.pot_loss_w_m2_k")
    common = {
        "efficiency_share": parameters.low(setting.efficiency_code),
        "loss_w_k": pot_loss_w_k,
        "air_c": setting.week.kitchen.room_temp_c,
        "altitude_m": setting.week.kitchen.altitude_m,
    }
    full = sheet.add("reduction_kg_h", boil_evaporation_kg_h, names, power_kw=input_kw, **common)
    flux = sheet.add(
        "base_flux_kw_m2",
        base_flux_kw_m2,
        names,
        power_kw=input_kw,
        efficiency_share=common["efficiency_share"],
        base_diameter_m=setting.diameter_m,
    )
    gentle = sheet.add(
        "reduction_gentle_kg_h",
        boil_evaporation_kg_h,
        (*names, "reduction.scorch_base_flux_kw_m2"),
        power_kw=input_kw * min(1.0, parameters.value("reduction.scorch_base_flux_kw_m2") / flux),
        **common,
    )
    return full, gentle


def _back_to_boil_min(setting: Setting, liquor: Draw, pot_loss_w_k: float, *, cold_pan: bool) -> float:
    """Minutes back to the boil; a cold pan takes heat out of what is poured into it."""
    parameters, room_c = setting.parameters, setting.week.kitchen.room_temp_c
    capacity_kj_k, from_c = liquor.mass_kg * WATER_CP_KJ_KG_K, liquor.hot_c
    if cold_pan:
        pan_kj_k = setting.pot.mass_kg * parameters.value(f"thermal.{setting.pot.material}_cp_kj_kg_k")
        from_c = (capacity_kj_k * from_c + pan_kj_k * room_c) / (capacity_kj_k + pan_kj_k)
        capacity_kj_k += pan_kj_k
    return setting.sheet.add(
        "reduction_heat_up_min",
        heat_up_min,
        (setting.efficiency_code,),
        capacity_kj_k=capacity_kj_k,
        from_c=from_c,
        to_c=setting.boil_c,
        power_kw=setting.source.input_kw,
        efficiency_share=parameters.low(setting.efficiency_code),
        loss_w_k=pot_loss_w_k,
        air_c=room_c,
    )
