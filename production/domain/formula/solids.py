"""How much solids: the most and the least that a pot takes, what they draw, and what draws the litres wanted."""

from __future__ import annotations

from production.domain.formula.parts import Part, coefficients, litres_per_kg_solids, weighted
from production.domain.formula.setting import Setting
from production.domain.thermal.balance import solids_for_drawn_kg, water_mass_kg
from production.domain.thermal.food import stock_density_kg_m3
from production.domain.thermal.properties import water_expansion_share

COLD_C = 4.0  # litres of finished product are counted cold (own definition)
_DENSITY_ROUNDS = 4


def largest_solids_kg(setting: Setting, parts: tuple[Part, ...]) -> float:
    """Solids whose water stands at the freeboard at the first boil, or later with the additions in.

    Equation: min of area x (height - freeboard) / hot litres per kg of solids, at the boil with the solids and its
        swell, at the simmer with the additions.
    Units: setting, parts (records); returns [kg].
    Valid: straight round pots.
    Errors: OutOfRange where a working does not cover the temperatures.
    Source: geometry; freeboard is common practice, no source.
    """
    parameters, kitchen = setting.parameters, setting.week.kitchen
    warmed = setting.boil_c - kitchen.mains_water_c
    grown = 1.0 + water_expansion_share(cold_c=kitchen.mains_water_c, hot_c=setting.boil_c)
    hot_water_l = _water_l_per_kg_solids(setting) * grown
    solids_l = litres_per_kg_solids([part for part in parts if part.is_loaded])
    all_l = litres_per_kg_solids(parts)
    swollen = 1.0 + parameters.value("pot.solids_expansion_per_k") * warmed
    height = setting.pot.inner_height_mm
    at_boil = setting.area_m2 * (height - parameters.value("pot.freeboard_boil_mm"))
    at_simmer = setting.area_m2 * (height - parameters.value("pot.freeboard_simmer_mm"))
    still = 1.0 - parameters.value("pot.boil_swell_share")
    return min(
        at_boil * still / (hot_water_l + solids_l * swollen),
        at_simmer / (hot_water_l + all_l * swollen),
    )


def smallest_solids_kg(setting: Setting, parts: tuple[Part, ...]) -> float:
    """Solids whose charge stands at the least fill of the pot.

    Equation: least fill share x brim / cold litres per kg of solids.
    Units: setting, parts (records); returns [kg].
    Valid: straight round pots.
    Errors: OutOfRange where a working does not cover the water.
    Source: geometry; the least fill is the kitchen's own.
    """
    per_kg = _water_l_per_kg_solids(setting)
    per_kg += litres_per_kg_solids([part for part in parts if part.is_loaded])
    return setting.pot.min_fill_share * setting.brim_l / per_kg


def _water_l_per_kg_solids(setting: Setting) -> float:
    return setting.formula.water_kg_per_kg_solids / water_mass_kg(
        volume_l=1.0, temp_c=setting.week.kitchen.mains_water_c
    )


def drawn_l_of_solids(setting: Setting, parts: tuple[Part, ...], solids_kg: float, simmer_h: float) -> float:
    """Litres that solids draw, cold; zero or less where the pot boils dry.

    Equation: mass drawn by the first-draw balance / density of the stock.
    Units: setting, parts (records), solids_kg [kg], simmer_h [h]; returns [L].
    Valid: any charge; the sign tells a pot that boils dry.
    Errors: OutOfRange where a working does not cover the stock.
    Source: mass balance.
    """
    drawn, percent = _drawn_of_solids(setting, parts, solids_kg, simmer_h)
    if drawn <= 0.0:
        return drawn
    return 1000.0 * drawn / stock_density_kg_m3(solids_percent=percent, temp_c=COLD_C)


def _drawn_of_solids(
    setting: Setting, parts: tuple[Part, ...], solids_kg: float, simmer_h: float
) -> tuple[float, float]:
    """Mass drawn and its dissolved solids in percent, forwards."""
    parameters = setting.parameters
    water = setting.formula.water_kg_per_kg_solids * (1.0 - parameters.value("skim.water_share"))
    solubles = weighted(parts, lambda part: part.soluble_share)
    given = weighted(parts, lambda part: part.material.water_net_share)
    liquid = solids_kg * (water + solubles + given) - setting.evaporation_kg_h * setting.simmering_h(simmer_h)
    cling = solids_kg * weighted(parts, lambda part: part.material.cling_share)
    drawn = liquid - cling - parameters.value("holdup.equipment_kg")
    return drawn, 100.0 * solids_kg * solubles / liquid if drawn > 0.0 else 0.0


def solids_for_kg(setting: Setting, parts: tuple[Part, ...], drawn_l: float, simmer_h: float) -> float:
    """Raw solids that draw the wanted litres; the density of the stock follows from its strength in a few rounds.

    Equation: solids_for_drawn_kg of litres x density, four rounds from the density of water.
    Units: setting, parts (records), drawn_l [L] cold, simmer_h [h]; returns [kg].
    Valid: litres within the range of the pot.
    Errors: DoesNotFit and OutOfRange as the workings.
    Source: mass balance.
    """
    density = 1000.0
    for _ in range(_DENSITY_ROUNDS):
        solids_kg = solids_for_drawn_kg(**_inverse_inputs(setting, parts, drawn_l * density / 1000.0, simmer_h))
        _, percent = _drawn_of_solids(setting, parts, solids_kg, simmer_h)
        density = stock_density_kg_m3(solids_percent=percent, temp_c=COLD_C)
    return setting.sheet.add(
        "solids_kg",
        solids_for_drawn_kg,
        ("skim.water_share", "holdup.equipment_kg", *coefficients(parts, "water_net_share", "cling_share")),
        **_inverse_inputs(setting, parts, drawn_l * density / 1000.0, simmer_h),
    )


def _inverse_inputs(setting: Setting, parts: tuple[Part, ...], wanted_kg: float, simmer_h: float) -> dict[str, float]:
    parameters = setting.parameters
    return {
        "wanted_kg": wanted_kg,
        "water_ratio_kg_kg": setting.formula.water_kg_per_kg_solids,
        "skim_share": parameters.value("skim.water_share"),
        "soluble_share": weighted(parts, lambda part: part.soluble_share),
        "water_net_share": weighted(parts, lambda part: part.material.water_net_share),
        "cling_share": weighted(parts, lambda part: part.material.cling_share),
        "evaporated_kg": setting.evaporation_kg_h * setting.simmering_h(simmer_h),
        "holdup_kg": parameters.value("holdup.equipment_kg"),
    }
