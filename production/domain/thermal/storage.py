"""Freezing and storing: room, headspace, heat to take out and time to freeze."""

from __future__ import annotations

import math

from production.domain.errors import OutOfRange
from production.domain.thermal.food import FREEZING, enthalpy_rise_kj_kg
from production.domain.thermal.heating import MASS
from production.domain.thermal.pots import DENSITY, VOLUME
from production.domain.thermal.properties import SHARE, ice_density_kg_m3, water_density_kg_m3
from production.domain.workings import working

FROZEN = (-40.0, 100.0)
LENGTH = (1.0, 3000.0)


@working(cls="A", unit="share", ranges={"ice_c": (-40.0, 0.0)})
def water_freezing_share(*, ice_c: float) -> float:
    """How much plain water of 0 degC grows when it becomes ice.

    Equation: rho_water(0) / rho_ice(T) - 1.
    Units: ice_c [degC]; returns [share].
    Valid: -40 to 0 degC.
    Errors: OutOfRange outside that range.
    Source: Kell water density from memory; own fit to IAPWS-06.
    """
    return water_density_kg_m3(temp_c=0.0) / ice_density_kg_m3(temp_c=ice_c) - 1.0


@working(
    cls="A",
    unit="L",
    ranges={"brim_l": VOLUME, "headspace_share": (0.0, 0.9)},
    parameters=("storage.headspace_stock_share", "storage.headspace_glaze_share"),
)
def container_fill_l(*, brim_l: float, headspace_share: float) -> float:
    """Liquid that goes into a container with headspace left.

    Equation: brim x (1 - headspace).
    Units: brim_l [L], headspace_share [share]; returns [L].
    Valid: 0 to 0.9 headspace.
    Errors: OutOfRange outside that range.
    Source: definition.
    """
    return brim_l * (1.0 - headspace_share)


@working(
    cls="A",
    unit="L",
    ranges={
        "length_mm": LENGTH,
        "width_mm": LENGTH,
        "height_mm": LENGTH,
        "gap_mm": (0.0, 200.0),
    },
    parameters=("storage.air_gap_mm",),
)
def envelope_l(*, length_mm: float, width_mm: float, height_mm: float, gap_mm: float) -> float:
    """Shelf room that one container takes, air gap included.

    Equation: (L + 2 g)(W + 2 g)(H + g).
    Units: length_mm [mm], width_mm [mm], height_mm [mm], gap_mm [mm]; returns [L].
    Valid: gap while freezing, 0 once frozen.
    Errors: OutOfRange outside that range.
    Source: geometry; gap is common practice, no source.
    """
    return (length_mm + 2.0 * gap_mm) * (width_mm + 2.0 * gap_mm) * (height_mm + gap_mm) / 1.0e6


@working(
    cls="C",
    unit="pieces",
    ranges={"shelf_l": (0.0, 100000.0), "usable_share": SHARE, "envelope_l": (0.001, 10000.0)},
    parameters=("storage.usable_share",),
)
def containers_count(*, shelf_l: float, usable_share: float, envelope_l: float) -> float:
    """Whole containers that go onto a shelf.

    Equation: floor(shelf x usable / envelope), forgiving one part in 10^9.
    Units: shelf_l [L], usable_share [share], envelope_l [L]; returns [pieces].
    Valid: mixed containers; a shelf measured for one container holds more.
    Errors: OutOfRange outside that range.
    Source: usable share is common practice, no source.
    """
    return float(math.floor(shelf_l * usable_share / envelope_l + 1e-9))


@working(
    cls="B",
    unit="kJ/kg",
    ranges={
        "from_c": FROZEN,
        "to_c": FROZEN,
        "water_share": SHARE,
        "protein_share": SHARE,
        "freezing_c": FREEZING,
    },
)
def freeze_load_kj_kg(
    *, from_c: float, to_c: float, water_share: float, protein_share: float, freezing_c: float
) -> float:
    """Heat to take out of one kilogram to freeze it.

    Equation: h(from) - h(to).
    Units: from_c [degC], to_c [degC], water_share [share], protein_share [share], freezing_c [degC]; returns [kJ/kg].
    Valid: -40 to 100 degC.
    Errors: OutOfRange outside that range.
    Source: Chen 1985 as in ASHRAE Handbook Refrigeration, from memory.
    """
    return -enthalpy_rise_kj_kg(
        from_c=from_c, to_c=to_c, water_share=water_share, protein_share=protein_share, freezing_c=freezing_c
    )


@working(
    cls="B",
    unit="h",
    ranges={"mass_kg": MASS, "load_kj_kg": (0.0, 800.0), "power_kw": (0.01, 500.0)},
)
def freeze_power_time_h(*, mass_kg: float, load_kj_kg: float, power_kw: float) -> float:
    """Time the freezer needs for a load when its spare power is the limit.

    Equation: m q / (3600 P).
    Units: mass_kg [kg], load_kj_kg [kJ/kg], power_kw [kW] spare; returns [h].
    Valid: power, not conduction, is the limit; the longer of both times counts.
    Errors: OutOfRange outside that range.
    Source: energy balance.
    """
    return mass_kg * load_kj_kg / power_kw / 3600.0


@working(cls="B", unit="kJ/kg", ranges={"water_share": SHARE, "protein_share": SHARE})
def freezing_heat_kj_kg(*, water_share: float, protein_share: float) -> float:
    """Heat of freezing alone, as Plank's equation takes it.

    Equation: (xw - 0.4 xp) 333.6.
    Units: water_share [share], protein_share [share]; returns [kJ/kg].
    Valid: water not less than 0.4 of the protein.
    Errors: OutOfRange outside that range.
    Source: Chen 1985 as in ASHRAE Handbook Refrigeration, from memory.
    """
    return max(0.0, water_share - 0.4 * protein_share) * 333.6


_PLANK = {
    "size_mm": (2.0, 500.0),
    "density_kg_m3": DENSITY,
    "heat_kj_kg": (1.0, 340.0),
    "freezing_c": FREEZING,
    "air_c": (-80.0, 0.0),
    "film_w_m2_k": (0.5, 1000.0),
    "conductivity_w_m_k": (0.2, 3.0),
}


def _plank_h(
    size: float, density: float, heat: float, drop: float, film: float, conductivity: float, p: float, r: float
) -> float:
    if drop <= 0.0:
        raise OutOfRange(
            "The air is not colder than the freezing point.",
            code="sink-too-warm",
            numbers={"difference_k": drop},
            remedy="Use colder air.",
        )
    thickness = size / 1000.0
    return 1000.0 * density * heat / drop * (p * thickness / film + r * thickness**2 / conductivity) / 3600.0


@working(cls="B", unit="h", ranges=_PLANK, parameters=("storage.freeze_time_factor", "storage.stacked_time_factor"))
def freeze_cube_time_h(
    *,
    size_mm: float,
    density_kg_m3: float,
    heat_kj_kg: float,
    freezing_c: float,
    air_c: float,
    film_w_m2_k: float,
    conductivity_w_m_k: float = 1.9,
) -> float:
    """Time to freeze a cube through from the freezing point on.

    Equation: rho L / (Tf - Ta) (a / (6 h) + a2 / (24 k)).
    Units: size_mm [mm] edge, density_kg_m3 [kg/m3], heat_kj_kg [kJ/kg], freezing_c [degC], air_c [degC],
        film_w_m2_k [W/(m2 K)], conductivity_w_m_k [W/(m K)] frozen; returns [h].
    Valid: single layer, all faces in moving air; the true time is 10-30 % longer, in stacked trays 2 to 4 times.
    Errors: OutOfRange outside that range or when the air is not colder than the freezing point.
    Source: Plank's equation, standard text-book form.
    """
    drop = freezing_c - air_c
    return _plank_h(size_mm, density_kg_m3, heat_kj_kg, drop, film_w_m2_k, conductivity_w_m_k, 1.0 / 6.0, 1.0 / 24.0)


@working(cls="B", unit="h", ranges=_PLANK, parameters=("storage.freeze_time_factor", "storage.stacked_time_factor"))
def freeze_slab_time_h(
    *,
    size_mm: float,
    density_kg_m3: float,
    heat_kj_kg: float,
    freezing_c: float,
    air_c: float,
    film_w_m2_k: float,
    conductivity_w_m_k: float = 1.9,
) -> float:
    """Time to freeze a flat pack through from the freezing point on.

    Equation: rho L / (Tf - Ta) (a / (2 h) + a2 / (8 k)).
    Units: size_mm [mm] thickness, density_kg_m3 [kg/m3], heat_kj_kg [kJ/kg], freezing_c [degC], air_c [degC],
        film_w_m2_k [W/(m2 K)], conductivity_w_m_k [W/(m K)] frozen; returns [h].
    Valid: cold from both sides; the true time is 10-30 % longer.
    Errors: OutOfRange outside that range or when the air is not colder than the freezing point.
    Source: Plank's equation, standard text-book form.
    """
    drop = freezing_c - air_c
    return _plank_h(size_mm, density_kg_m3, heat_kj_kg, drop, film_w_m2_k, conductivity_w_m_k, 1.0 / 2.0, 1.0 / 8.0)
