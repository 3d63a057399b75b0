"""A formula in a pot: everything that does not depend on how much is made."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from production.domain.kitchen import Formula, HeatSource, Pot, Week
from production.domain.parameters import ParameterSet
from production.domain.thermal.evaporation import covered_evaporation_kg_h, simmer_evaporation_kg_h
from production.domain.thermal.pots import pot_area_m2, pot_volume_l
from production.domain.thermal.properties import air_pressure_kpa, boiling_point_c, saturation_temp_c
from production.domain.workings import Figure, figure

SURFACE_LIMIT_C = 97.0
SURFACE_PRESSURE_SHARE = 0.9
_LID_SHARES: Mapping[str, tuple[str, ...]] = {
    "open": (),
    "ajar": ("evaporation.lid_ajar_share",),
    "on": ("evaporation.lid_on_share",),
}


@dataclass(slots=True)
class FigureSheet:
    """Collects figures while a charge is worked out, or only works out while a plan is looked for."""

    keep: bool = True
    figures: list[Figure] = field(default_factory=list)

    def add(self, key: str, function: Callable[..., float], parameters: tuple[str, ...] = (), **inputs: float) -> float:
        """Work out a figure, keep it, and hand back its value."""
        if not self.keep:
            return function(**inputs)
        made = figure(key, function, parameters=parameters, **inputs)
        self.figures.append(made)
        return made.value


@dataclass(frozen=True, slots=True)
class Setting:
    """A formula in a pot, with the sheet that its figures go on."""

    week: Week
    parameters: ParameterSet
    formula: Formula
    pot: Pot
    source: HeatSource
    diameter_m: float
    boil_c: float
    simmer_c: float
    evaporation_kg_h: float
    sheet: FigureSheet

    @property
    def efficiency_code(self) -> str:
        """Code of the share of the input that reaches the food."""
        return f"heat.efficiency.{self.source.appliance}"

    @property
    def area_m2(self) -> float:
        """Area in m2, which is also litres per millimetre of level."""
        return pot_area_m2(inner_diameter_m=self.diameter_m)

    @property
    def brim_l(self) -> float:
        """Volume of the pot up to its rim."""
        return pot_volume_l(inner_diameter_m=self.diameter_m, level_mm=self.pot.inner_height_mm)

    def simmering_h(self, simmer_h: float) -> float:
        """Hours from the boil to the end of the simmer."""
        return simmer_h + self.week.kitchen.tasks.skim_min / 60.0


def setting_of(
    week: Week, parameters: ParameterSet, formula: Formula, pot: Pot, *, keep_figures: bool = True
) -> Setting:
    """Put a formula into a pot and work out its temperatures and what evaporates.

    Equation: simmer = boiling point - the formula's distance; evaporation by simmer_evaporation_kg_h and the lid; the
        surface counts as no hotter than evaporation can be worked out for.
    Units: week, parameters, formula, pot (records), keep_figures (yes or no); returns a Setting with degC and kg/h.
    Valid: a week that passed its reader.
    Errors: OutOfRange where a working does not cover the simmer.
    Source: thermal/ and its sources; the limit of the surface is our own choice.
    """
    sheet = FigureSheet(keep=keep_figures)
    altitude = week.kitchen.altitude_m
    boil = sheet.add("boil_c", boiling_point_c, altitude_m=altitude)
    simmer = boil - formula.simmer_below_boil_k
    surface = min(
        simmer,
        SURFACE_LIMIT_C,
        saturation_temp_c(pressure_kpa=SURFACE_PRESSURE_SHARE * air_pressure_kpa(altitude_m=altitude)) - 0.01,
    )
    diameter = pot.inner_diameter_mm / 1000.0
    open_pot = sheet.add(
        "open_evaporation_kg_h",
        simmer_evaporation_kg_h,
        ("evaporation.simmer_flux_scale", "room.humidity_share"),
        surface_c=surface,
        inner_diameter_m=diameter,
        air_c=week.kitchen.room_temp_c,
        humidity_share=parameters.value("room.humidity_share"),
        altitude_m=altitude,
        flux_factor=parameters.value("evaporation.simmer_flux_scale"),
    )
    evaporation = sheet.add(
        "evaporation_kg_h",
        covered_evaporation_kg_h,
        _LID_SHARES[formula.lid],
        open_kg_h=open_pot,
        lid_share=math.prod(parameters.value(code) for code in _LID_SHARES[formula.lid]),
    )
    return Setting(
        week=week,
        parameters=parameters,
        formula=formula,
        pot=pot,
        source=week.get("heat_sources", pot.heat_source),
        diameter_m=diameter,
        boil_c=boil,
        simmer_c=simmer,
        evaporation_kg_h=evaporation,
        sheet=sheet,
    )
