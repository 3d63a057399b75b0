"""Heat into the pot: minutes to the boil, power of the simmer, minutes on the grid."""

from __future__ import annotations

import math
from collections.abc import Iterable

from production.domain.formula.parts import Part, weighted
from production.domain.formula.setting import Setting
from production.domain.parameters import Material
from production.domain.thermal.evaporation import hold_power_kw
from production.domain.thermal.food import enthalpy_rise_kj_kg, food_cp_kj_kg_k
from production.domain.thermal.heating import charge_capacity_kj_k, heat_up_frozen_min, pot_loss_w_k

CP_AT_C = 40.0  # heat capacity of solids is taken half-way to the boil (own choice)
SPENT_CP_KJ_KG_K = 3.3  # spent solids, wet (common practice, no source)


def rounded_up_min(minutes: float, *, step_min: int) -> int:
    """Whole grid minutes, never fewer than needed.

    Equation: ceil(minutes / step) x step, at least one step.
    Units: minutes [min], step_min [min]; returns [min].
    Valid: minutes >= 0.
    Errors: none.
    Source: own definition; durations on the slow side.
    """
    return max(step_min, math.ceil(minutes / step_min - 1e-9) * step_min)


def loss_w_k(setting: Setting, fill_l: float, loss_w_m2_k: float) -> float:
    """What a pot loses through its wall, filled so far.

    Equation: pot_loss_w_k up to the level of the fill, no higher than the rim.
    Units: setting (record), fill_l [L], loss_w_m2_k [W/m2/K]; returns [W/K].
    Valid: straight round pots.
    Errors: OutOfRange as the working.
    Source: thermal.heating and its sources.
    """
    return pot_loss_w_k(
        inner_diameter_m=setting.diameter_m,
        level_mm=min(setting.pot.inner_height_mm, fill_l / setting.area_m2),
        loss_w_m2_k=loss_w_m2_k,
    )


def simmer_kw(setting: Setting, fill_l: float) -> float:
    """Input power that holds the simmer.

    Equation: hold_power_kw of evaporation and loss / efficiency.
    Units: setting (record), fill_l [L]; returns [kW].
    Valid: simmers that the evaporation working covers.
    Errors: OutOfRange as the working.
    Source: thermal.evaporation and its sources.
    """
    return setting.sheet.add(
        "simmer_kw",
        hold_power_kw,
        (setting.efficiency_code, "heat.pot_loss_w_m2_k"),
        evaporation_kg_h=setting.evaporation_kg_h,
        surface_c=setting.simmer_c,
        loss_w_k=loss_w_k(setting, fill_l, setting.parameters.value("heat.pot_loss_w_m2_k")),
        air_c=setting.week.kitchen.room_temp_c,
        efficiency_share=setting.parameters.value(setting.efficiency_code),
    )


def first_heat_up_min(setting: Setting, parts: Iterable[Part], solids_kg: float, water_kg: float) -> float:
    """Minutes to the first boil on the slow side, frozen solids thawed on the way.

    Equation: heat_up_frozen_min from the water's temperature, shifted by what the solids bring as sensible heat.
    Units: setting, parts (records), solids_kg [kg], water_kg [kg]; returns [min].
    Valid: at least one part that goes in with the load.
    Errors: OutOfRange as the workings; DoesNotFit where the source never reaches the boil.
    Source: thermal.heating and its sources.
    """
    start_c = setting.week.kitchen.mains_water_c
    loaded = [part for part in parts if part.is_loaded]
    frozen = [part for part in loaded if part.ingredient.charge_temp_c <= part.material.freezing_c]
    frozen_kj = solids_kg * weighted(frozen, lambda part: _thawing_kj_kg(part, start_c))
    warm_kj = solids_kg * sum(
        part.share * _cp(part.material) * (part.ingredient.charge_temp_c - start_c)
        for part in loaded
        if part not in frozen
    )
    capacity = _capacity_kj_k(setting, solids_kg, water_kg, weighted(loaded, lambda part: _cp(part.material)))
    return _heat_up_min(setting, "heat_up_min", frozen_kj, capacity, start_c + warm_kj / capacity)


def second_heat_up_min(setting: Setting, solids_kg: float, refill_kg: float) -> float:
    """Minutes to the boil after a refill on the slow side; the spent solids are warmed as if they were cold.

    Equation: heat_up_frozen_min from the water's temperature with nothing frozen.
    Units: setting (record), solids_kg [kg], refill_kg [kg]; returns [min].
    Valid: after a first draw.
    Errors: OutOfRange as the workings; DoesNotFit where the source never reaches the boil.
    Source: thermal.heating and its sources; the heat capacity of spent solids is common practice, no source.
    """
    capacity = _capacity_kj_k(setting, solids_kg, refill_kg, SPENT_CP_KJ_KG_K)
    return _heat_up_min(setting, "second_heat_up_min", 0.0, capacity, setting.week.kitchen.mains_water_c)


def _capacity_kj_k(setting: Setting, solids_kg: float, water_kg: float, solids_cp_kj_kg_k: float) -> float:
    return charge_capacity_kj_k(
        water_kg=water_kg,
        solids_kg=solids_kg,
        solids_cp_kj_kg_k=solids_cp_kj_kg_k,
        pot_kg=setting.pot.mass_kg,
        pot_cp_kj_kg_k=setting.parameters.value(f"thermal.{setting.pot.material}_cp_kj_kg_k"),
    )


def _heat_up_min(setting: Setting, key: str, frozen_kj: float, capacity_kj_k: float, from_c: float) -> float:
    return setting.sheet.add(
        key,
        heat_up_frozen_min,
        (setting.efficiency_code,),
        frozen_heat_kj=frozen_kj,
        capacity_kj_k=capacity_kj_k,
        from_c=max(0.0, from_c),
        to_c=setting.boil_c,
        power_kw=setting.source.input_kw,
        efficiency_share=setting.parameters.low(setting.efficiency_code),
        loss_w_k=0.0,
        air_c=setting.week.kitchen.room_temp_c,
    )


def _thawing_kj_kg(part: Part, to_c: float) -> float:
    return enthalpy_rise_kj_kg(
        from_c=part.ingredient.charge_temp_c,
        to_c=to_c,
        water_share=part.material.water_share,
        protein_share=part.material.protein_share,
        freezing_c=part.material.freezing_c,
    )


def _cp(material: Material) -> float:
    return food_cp_kj_kg_k(
        temp_c=CP_AT_C,
        water_share=material.water_share,
        protein_share=material.protein_share,
        lipid_share=material.lipid_share,
        ash_share=material.ash_share,
        carbohydrate_share=material.carbohydrate_share,
        fibre_share=material.fibre_share,
    )
