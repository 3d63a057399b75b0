"""What is drawn off: the first draw, and the second from what is left in the pot."""

from __future__ import annotations

from dataclasses import dataclass

from production.domain.formula.content import Draw
from production.domain.formula.parts import Part, coefficients, litres_per_kg_solids, weighted
from production.domain.formula.setting import Setting
from production.domain.formula.solids import COLD_C
from production.domain.kitchen import SecondDraw
from production.domain.thermal.balance import (
    aqueous_kg,
    draw_solids_percent,
    drawn_kg,
    evaporated_kg,
    proportion_kg,
    released_kg,
    second_liquid_kg,
    second_solids_percent,
    spent_solids_kg,
    volume_of_mass_l,
    water_mass_kg,
)
from production.domain.thermal.food import stock_density_kg_m3
from production.domain.thermal.pots import safe_cold_fill_l


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstDraw:
    """The first draw, and where the rest of the charge has gone."""

    draw: Draw
    carried_kg: float  # clings to the spent solids, which carry it into a second draw
    fat_kg: float
    spent_kg: float
    skim_kg: float
    evaporated_kg: float


def first_draw_of(
    setting: Setting, parts: tuple[Part, ...], solids_kg: float, water_kg: float, simmer_h: float
) -> FirstDraw:
    """What the first draw gives, forwards from the charge.

    Equation: liquid = water + water of the solids + solubles - evaporated - skimmed; drawn = liquid - cling - hold-up.
    Units: setting, parts (records), solids_kg [kg], water_kg [kg], simmer_h [h]; returns masses [kg], volumes [L].
    Valid: charges that do not boil dry.
    Errors: DoesNotFit and OutOfRange as the workings.
    Source: mass balance, thermal.balance.
    """
    sheet, skim_share = setting.sheet, setting.parameters.value("skim.water_share")
    gone = _evaporated_kg(setting, "evaporated_kg", setting.simmering_h(simmer_h))
    skim = sheet.add("skim_kg", released_kg, ("skim.water_share",), mass_kg=water_kg, yield_share=skim_share)
    solubles = _solubles_kg(setting, parts, solids_kg)
    cling = solids_kg * weighted(parts, lambda part: part.material.cling_share)
    liquid = sheet.add(
        "first_liquid_kg",
        aqueous_kg,
        coefficients(parts, "water_net_share"),
        water_kg=water_kg,
        topup_kg=0.0,
        solids_water_kg=solids_kg * weighted(parts, lambda part: part.material.water_net_share),
        solubles_kg=solubles,
        evaporated_kg=gone,
        skim_kg=skim,
    )
    drawn = _drawn_kg(setting, parts, "first_drawn_kg", liquid, cling)
    percent = sheet.add("first_solids_percent", draw_solids_percent, solubles_kg=solubles, liquid_kg=liquid)
    return FirstDraw(
        draw=draw_of_mass(setting, "first", drawn, percent),
        carried_kg=cling,
        fat_kg=sum(released_kg(mass_kg=part.share * solids_kg, yield_share=part.material.fat_share) for part in parts),
        spent_kg=sum(_spent_kg(part, solids_kg) for part in parts),
        skim_kg=skim,
        evaporated_kg=gone,
    )


def _evaporated_kg(setting: Setting, key: str, time_h: float) -> float:
    return setting.sheet.add(
        key,
        evaporated_kg,
        ("evaporation.simmer_flux_scale",),
        evaporation_kg_h=setting.evaporation_kg_h,
        time_h=time_h,
    )


def _solubles_kg(setting: Setting, parts: tuple[Part, ...], solids_kg: float) -> float:
    return sum(
        setting.sheet.add(
            f"solubles_kg.{part.key}",
            released_kg,
            (f"material.{part.material.code}.soluble_share",),
            mass_kg=part.share * solids_kg,
            yield_share=part.soluble_share,
        )
        for part in parts
    )


def _spent_kg(part: Part, solids_kg: float) -> float:
    return spent_solids_kg(
        mass_kg=part.share * solids_kg,
        soluble_share=part.soluble_share,
        fat_share=part.material.fat_share,
        water_net_share=part.material.water_net_share,
        cling_share=part.material.cling_share,
    )


def _drawn_kg(setting: Setting, parts: tuple[Part, ...], key: str, liquid_kg: float, cling_kg: float) -> float:
    return setting.sheet.add(
        key,
        drawn_kg,
        ("holdup.equipment_kg", *coefficients(parts, "cling_share")),
        liquid_kg=liquid_kg,
        cling_kg=cling_kg,
        holdup_kg=setting.parameters.value("holdup.equipment_kg"),
    )


def draw_of_mass(setting: Setting, name: str, mass_kg: float, percent: float) -> Draw:
    """A mass of stock with its volumes, cold and at the simmer.

    Equation: volume_of_mass_l with stock_density_kg_m3; Brix by the class C factor.
    Units: setting (record), name (word), mass_kg [kg], percent [%] of solids; returns a Draw.
    Valid: any stock.
    Errors: OutOfRange as the workings.
    Source: thermal.food and its sources.
    """
    sheet = setting.sheet
    cold = sheet.add(f"{name}_density_cold_kg_m3", stock_density_kg_m3, solids_percent=percent, temp_c=COLD_C)
    hot = stock_density_kg_m3(solids_percent=percent, temp_c=setting.simmer_c)
    return Draw(
        mass_kg=mass_kg,
        cold_l=sheet.add(f"{name}_cold_l", volume_of_mass_l, mass_kg=mass_kg, density_kg_m3=cold),
        hot_l=sheet.add(f"{name}_hot_l", volume_of_mass_l, mass_kg=mass_kg, density_kg_m3=hot),
        hot_c=setting.simmer_c,
        solids_percent=percent,
        solids_bx=percent / setting.parameters.value("brix.protein_per_bx"),
    )


def refill_kg(
    setting: Setting, parts: tuple[Part, ...], solids_kg: float, first: FirstDraw, second: SecondDraw
) -> float:
    """The formula's refill, or what leaves the freeboard at the boil; solids count as raw, what clings as water.

    Equation: min(refill share x first draw, safe_cold_fill_l x density of the water).
    Units: setting, parts (records), solids_kg [kg], first, second (records); returns [kg].
    Valid: after a first draw.
    Errors: OutOfRange as the workings.
    Source: geometry; freeboard is common practice, no source.
    """
    parameters, water_c = setting.parameters, setting.week.kitchen.mains_water_c
    grown = 1.0 + parameters.value("pot.solids_expansion_per_k") * (setting.boil_c - water_c)
    carried_l = first.carried_kg / water_mass_kg(volume_l=1.0, temp_c=setting.boil_c)
    room_l = setting.sheet.add(
        "refill_room_l",
        safe_cold_fill_l,
        ("pot.freeboard_boil_mm", "pot.boil_swell_share", "pot.solids_expansion_per_k"),
        inner_diameter_m=setting.diameter_m,
        height_mm=setting.pot.inner_height_mm,
        freeboard_mm=parameters.value("pot.freeboard_boil_mm"),
        swell_share=parameters.value("pot.boil_swell_share"),
        solids_l=solids_kg * litres_per_kg_solids(parts) * grown + carried_l,
        cold_c=water_c,
        hot_c=setting.boil_c,
    )
    wanted_kg = second.refill_share * first.draw.mass_kg
    if wanted_kg > water_mass_kg(volume_l=room_l, temp_c=water_c):
        return setting.sheet.add("refill_kg", water_mass_kg, volume_l=room_l, temp_c=water_c)
    return setting.sheet.add("refill_kg", proportion_kg, mass_kg=first.draw.mass_kg, ratio_kg_kg=second.refill_share)


def second_draw_of(
    setting: Setting, parts: tuple[Part, ...], solids_kg: float, first: FirstDraw, refill_kg: float, simmer_h: float
) -> Draw:
    """What the second draw gives, from the solids that are left and the liquid that clings to them.

    Equation: second_liquid_kg and second_solids_percent; drawn = liquid - cling - hold-up.
    Units: setting, parts, first (records), solids_kg [kg], refill_kg [kg], simmer_h [h]; returns a Draw.
    Valid: draws that do not boil dry.
    Errors: DoesNotFit and OutOfRange as the workings.
    Source: mass balance, thermal.balance.
    """
    new_solids_kg = solids_kg * sum(
        part.share * part.soluble_share * part.material.second_soluble_share for part in parts if part.is_loaded
    )
    gone = _evaporated_kg(setting, "second_evaporated_kg", simmer_h)
    inputs = {
        "refill_kg": refill_kg,
        "carried_kg": first.carried_kg,
        "new_solids_kg": new_solids_kg,
        "evaporated_kg": gone,
    }
    liquid = setting.sheet.add("second_liquid_kg", second_liquid_kg, (), **inputs)
    percent = setting.sheet.add(
        "second_solids_percent",
        second_solids_percent,
        coefficients(parts, "second_soluble_share"),
        carried_percent=first.draw.solids_percent,
        **inputs,
    )
    drawn = _drawn_kg(setting, parts, "second_drawn_kg", liquid, first.carried_kg)
    return draw_of_mass(setting, "second", drawn, percent)
