"""Where the surface stands in the pot, cold and hot."""

from __future__ import annotations

from dataclasses import dataclass

from production.domain.formula.parts import Part, coefficients
from production.domain.formula.setting import Setting
from production.domain.thermal.balance import volume_of_mass_l
from production.domain.thermal.pots import (
    fill_mark_mm,
    freeboard_mm,
    hot_level_mm,
    solids_volume_l,
    thermal_rise_mm,
    water_to_cover_l,
)
from production.domain.thermal.properties import water_density_kg_m3


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """Volumes of a charge and the marks they reach."""

    water_l: float
    solids_l: float
    fill_mark_mm: float
    hot_mark_mm: float
    water_to_cover_l: float

    @property
    def cold_fill_l(self) -> float:
        """Solids and water together, cold."""
        return self.water_l + self.solids_l


def levels_of(setting: Setting, parts: tuple[Part, ...], solids_kg: float, water_kg: float) -> Levels:
    """Volumes and marks of a charge.

    Equation: mass / density for the volumes; fill_mark_mm, hot_level_mm, freeboard_mm, water_to_cover_l for the marks.
    Units: setting, parts (records), solids_kg [kg], water_kg [kg]; returns litres [L] and marks [mm].
    Valid: at least one part that goes in with the load.
    Errors: DoesNotFit when the charge does not go into the pot; OutOfRange as the workings.
    Source: geometry and thermal.pots with its sources.
    """
    loaded = [part for part in parts if part.is_loaded]
    density = solids_kg / sum(part.share * solids_kg / part.material.density_kg_m3 for part in loaded)
    names = coefficients(loaded, "density_kg_m3")
    solids_l = setting.sheet.add("solids_l", solids_volume_l, names, mass_kg=solids_kg, density_kg_m3=density)
    water_l = setting.sheet.add(
        "water_l",
        volume_of_mass_l,
        mass_kg=water_kg,
        density_kg_m3=water_density_kg_m3(temp_c=setting.week.kitchen.mains_water_c),
    )
    mark, free = _marks(setting, names, water_l, solids_l)
    cover = setting.sheet.add(
        "water_to_cover_l",
        water_to_cover_l,
        ("pot.cover_mm", *coefficients(loaded, "packing_share")),
        mass_kg=solids_kg,
        density_kg_m3=density,
        packing_share=solids_l / sum(_heap_l(part, solids_kg) for part in loaded),
        inner_diameter_m=setting.diameter_m,
        cover_mm=setting.parameters.value("pot.cover_mm"),
    )
    return Levels(water_l=water_l, solids_l=solids_l, fill_mark_mm=mark, hot_mark_mm=free, water_to_cover_l=cover)


def _marks(setting: Setting, names: tuple[str, ...], water_l: float, solids_l: float) -> tuple[float, float]:
    """How far below the rim the surface stands, cold and at the boil."""
    parameters, height_mm = setting.parameters, setting.pot.inner_height_mm
    cold_c = setting.week.kitchen.mains_water_c
    common = {"inner_diameter_m": setting.diameter_m, "liquid_l": water_l, "solids_l": solids_l}
    mark = setting.sheet.add("fill_mark_mm", fill_mark_mm, names, height_mm=height_mm, **common)
    hot = setting.sheet.add(
        "hot_level_mm",
        hot_level_mm,
        ("pot.boil_swell_share", "pot.solids_expansion_per_k"),
        cold_c=cold_c,
        hot_c=setting.boil_c,
        swell_share=parameters.value("pot.boil_swell_share"),
        solids_expansion_per_k=parameters.value("pot.solids_expansion_per_k"),
        **common,
    )
    setting.sheet.add(
        "thermal_rise_mm",
        thermal_rise_mm,
        volume_l=water_l,
        inner_diameter_m=setting.diameter_m,
        cold_c=cold_c,
        hot_c=setting.boil_c,
    )
    free = setting.sheet.add(
        "freeboard_mm", freeboard_mm, ("pot.freeboard_boil_mm",), height_mm=height_mm, hot_level_mm=hot
    )
    return mark, free


def _heap_l(part: Part, solids_kg: float) -> float:
    return 1000.0 * part.share * solids_kg / part.material.density_kg_m3 / part.material.packing_share
