"""Pot geometry: what fits cold, where the mark is, and where the surface stands when it is hot."""

from __future__ import annotations

import math

from production.domain.errors import DoesNotFit
from production.domain.thermal.heating import LIQUID_C, MASS, POT_WIDTH
from production.domain.thermal.properties import (
    saturation_pressure_kpa,
    water_density_kg_m3,
    water_expansion_share,
)
from production.domain.workings import working

VOLUME = (0.0, 5000.0)
POT_HEIGHT = (20.0, 3000.0)
DENSITY = (200.0, 2500.0)
WALL = (0.0, 5.0e-5)


@working(cls="A", unit="m2", ranges={"inner_diameter_m": POT_WIDTH})
def pot_area_m2(*, inner_diameter_m: float) -> float:
    """Inside area of a straight round pot.

    Equation: pi D2 / 4.
    Units: inner_diameter_m [m]; returns [m2].
    Valid: 0.05 to 3 m, straight wall.
    Errors: OutOfRange outside that range.
    Source: geometry.
    """
    return math.pi * inner_diameter_m**2 / 4.0


@working(cls="A", unit="L", ranges={"inner_diameter_m": POT_WIDTH, "level_mm": (0.0, 3000.0)})
def pot_volume_l(*, inner_diameter_m: float, level_mm: float) -> float:
    """Volume of a straight round pot up to a level.

    Equation: A h.
    Units: inner_diameter_m [m], level_mm [mm]; returns [L].
    Valid: 0.05 to 3 m wide, up to 3 m high.
    Errors: OutOfRange outside that range.
    Source: geometry.
    """
    return pot_area_m2(inner_diameter_m=inner_diameter_m) * level_mm


@working(cls="A", unit="mm", ranges={"inner_diameter_m": POT_WIDTH, "volume_l": VOLUME})
def pot_level_mm(*, inner_diameter_m: float, volume_l: float) -> float:
    """Level that a volume reaches in a straight round pot.

    Equation: V / A.
    Units: inner_diameter_m [m], volume_l [L]; returns [mm].
    Valid: 0.05 to 3 m wide, up to 5000 L; the pot may be lower than that.
    Errors: OutOfRange outside that range.
    Source: geometry.
    """
    return volume_l / pot_area_m2(inner_diameter_m=inner_diameter_m)


@working(cls="A", unit="mm", ranges={"volume_l": (0.1, 5000.0)})
def square_pot_diameter_mm(*, volume_l: float) -> float:
    """Inside diameter of a pot of this brim volume that is as tall as it is wide.

    Equation: D = (4 V / pi)^(1/3).
    Units: volume_l [L]; returns [mm].
    Valid: 0.1 to 5000 L.
    Errors: OutOfRange outside that range.
    Source: geometry.
    """
    return float(1000.0 * (4.0 * volume_l / 1000.0 / math.pi) ** (1.0 / 3.0))


@working(cls="B", unit="L", ranges={"mass_kg": MASS, "density_kg_m3": DENSITY})
def solids_volume_l(*, mass_kg: float, density_kg_m3: float) -> float:
    """Liquid that a solid displaces.

    Equation: m / rho.
    Units: mass_kg [kg], density_kg_m3 [kg/m3]; returns [L].
    Valid: solids that lie under the surface.
    Errors: OutOfRange outside that range.
    Source: geometry.
    """
    return 1000.0 * mass_kg / density_kg_m3


@working(cls="A", unit="L", ranges={"volume_l": VOLUME, "cold_c": LIQUID_C, "hot_c": LIQUID_C})
def hot_volume_l(*, volume_l: float, cold_c: float, hot_c: float) -> float:
    """Volume of a cold liquid once it is hot.

    Equation: V rho(cold) / rho(hot).
    Units: volume_l [L], cold_c [degC], hot_c [degC]; returns [L].
    Valid: 0 to 110 degC, water or thin stock.
    Errors: OutOfRange outside that range.
    Source: water density.
    """
    return volume_l * (1.0 + water_expansion_share(cold_c=cold_c, hot_c=hot_c))


@working(
    cls="A",
    unit="mm",
    ranges={
        "volume_l": VOLUME,
        "inner_diameter_m": POT_WIDTH,
        "cold_c": LIQUID_C,
        "hot_c": LIQUID_C,
        "wall_expansion_per_k": WALL,
    },
    parameters=("thermal.steel_expansion_per_k", "thermal.aluminium_expansion_per_k"),
)
def thermal_rise_mm(
    *, volume_l: float, inner_diameter_m: float, cold_c: float, hot_c: float, wall_expansion_per_k: float = 0.0
) -> float:
    """How much nearer to the rim the surface stands when it is hot.

    Equation: V (rho0 / rho1) / (A w2) - (V / A) w, w = 1 + alpha (T1 - T0); alpha = 0 is a rigid wall.
    Units: volume_l [L] cold, inner_diameter_m [m], cold_c [degC], hot_c [degC], wall_expansion_per_k [1/K];
        returns [mm].
    Valid: 0 to 110 degC, straight wall.
    Errors: OutOfRange outside that range.
    Source: geometry and water density.
    """
    area = pot_area_m2(inner_diameter_m=inner_diameter_m)
    wall = 1.0 + wall_expansion_per_k * (hot_c - cold_c)
    return hot_volume_l(volume_l=volume_l, cold_c=cold_c, hot_c=hot_c) / (area * wall**2) - volume_l / area * wall


@working(
    cls="B",
    unit="share",
    ranges={"evaporation_kg_h": (0.0, 500.0), "inner_diameter_m": POT_WIDTH, "temp_c": (80.0, 105.0)},
)
def steam_swell_share(*, evaporation_kg_h: float, inner_diameter_m: float, temp_c: float) -> float:
    """Share of the hot volume that steam bubbles take at the boil; foam comes on top.

    Equation: e = j / (1.2 j + Vgj), j = steam volume per second and area, Vgj = 1.53 (sigma g drho / rho2)^0.25.
    Units: evaporation_kg_h [kg/h], inner_diameter_m [m], temp_c [degC]; returns [share].
    Valid: rolling boil; an upper estimate, since bubbles shrink on the way up until the bulk boils.
    Errors: OutOfRange outside that range.
    Source: drift-flux form of Zuber and Findlay, from memory; surface tension IAPWS R1-76, from memory.
    """
    kelvin = temp_c + 273.15
    steam = saturation_pressure_kpa(temp_c=temp_c) * 18.015268 / (8.314462618 * kelvin)
    water = water_density_kg_m3(temp_c=temp_c)
    reduced = 1.0 - kelvin / 647.096
    tension_n_m = 0.2358 * reduced**1.256 * (1.0 - 0.625 * reduced)
    drift = 1.53 * (tension_n_m * 9.81 * (water - steam) / water**2) ** 0.25
    rise = evaporation_kg_h / 3600.0 / steam / pot_area_m2(inner_diameter_m=inner_diameter_m)
    return float(rise / (1.2 * rise + drift))


@working(
    cls="B",
    unit="L",
    ranges={
        "inner_diameter_m": POT_WIDTH,
        "height_mm": POT_HEIGHT,
        "freeboard_mm": (0.0, 1000.0),
        "swell_share": (0.0, 0.5),
        "solids_l": VOLUME,
        "cold_c": LIQUID_C,
        "hot_c": LIQUID_C,
    },
    parameters=("pot.freeboard_simmer_mm", "pot.freeboard_boil_mm", "pot.boil_swell_share"),
)
def safe_cold_fill_l(
    *,
    inner_diameter_m: float,
    height_mm: float,
    freeboard_mm: float,
    swell_share: float,
    solids_l: float,
    cold_c: float,
    hot_c: float,
) -> float:
    """Most cold liquid that leaves the freeboard at the boil.

    Equation: [A (H - F)(1 - e) - V_solids] / (rho0 / rho1).
    Units: inner_diameter_m [m], height_mm [mm], freeboard_mm [mm], swell_share [share], solids_l [L], cold_c [degC],
        hot_c [degC]; returns [L].
    Valid: straight wall, solids that do not grow.
    Errors: OutOfRange outside that range; DoesNotFit when the solids alone are too much.
    Source: geometry and water density; freeboard is common practice, no source.
    """
    room = pot_area_m2(inner_diameter_m=inner_diameter_m) * (height_mm - freeboard_mm) * (1.0 - swell_share) - solids_l
    if room <= 0.0:
        raise DoesNotFit(
            f"{solids_l:.1f} L of solids leave no room for liquid under {freeboard_mm:g} mm of freeboard.",
            code="solids-fill-pot",
            numbers={"solids_l": solids_l, "missing_l": -room},
            remedy="Use a larger pot or fewer solids.",
        )
    return room / (1.0 + water_expansion_share(cold_c=cold_c, hot_c=hot_c))


@working(
    cls="A",
    unit="mm",
    ranges={"inner_diameter_m": POT_WIDTH, "height_mm": POT_HEIGHT, "liquid_l": VOLUME, "solids_l": VOLUME},
)
def fill_mark_mm(*, inner_diameter_m: float, height_mm: float, liquid_l: float, solids_l: float) -> float:
    """Distance from the rim down to the cold surface, solids in the pot.

    Equation: H - (V_liquid + V_solids) / A.
    Units: inner_diameter_m [m], height_mm [mm], liquid_l [L], solids_l [L]; returns [mm] below the rim.
    Valid: straight wall, solids under the surface.
    Errors: OutOfRange outside that range; DoesNotFit when it runs over.
    Source: geometry.
    """
    mark = height_mm - (liquid_l + solids_l) / pot_area_m2(inner_diameter_m=inner_diameter_m)
    if mark < 0.0:
        raise DoesNotFit(
            f"{liquid_l + solids_l:.1f} L do not go into this pot.",
            code="pot-too-small",
            numbers={"content_l": liquid_l + solids_l, "over_the_rim_mm": -mark},
            remedy="Use a larger pot or split the run.",
        )
    return mark


@working(
    cls="B",
    unit="mm",
    ranges={
        "inner_diameter_m": POT_WIDTH,
        "liquid_l": VOLUME,
        "solids_l": VOLUME,
        "cold_c": LIQUID_C,
        "hot_c": LIQUID_C,
        "swell_share": (0.0, 0.5),
        "solids_expansion_per_k": (0.0, 0.001),
        "wall_expansion_per_k": WALL,
    },
    parameters=("pot.boil_swell_share", "pot.solids_expansion_per_k", "thermal.steel_expansion_per_k"),
)
def hot_level_mm(
    *,
    inner_diameter_m: float,
    liquid_l: float,
    solids_l: float,
    cold_c: float,
    hot_c: float,
    swell_share: float = 0.0,
    solids_expansion_per_k: float = 0.0,
    wall_expansion_per_k: float = 0.0,
) -> float:
    """Height of the hot surface above the base, solids in the pot, bubbles included.

    Equation: [V_liquid rho0 / rho1 + V_solids (1 + beta dT)] / [(1 - e) A w2], w = 1 + alpha dT.
    Units: inner_diameter_m [m], liquid_l [L] cold, solids_l [L] cold, cold_c [degC], hot_c [degC],
        swell_share [share], solids_expansion_per_k [1/K], wall_expansion_per_k [1/K]; returns [mm].
    Valid: straight wall; alpha = 0 is the safe side.
    Errors: OutOfRange outside that range.
    Source: geometry and water density.
    """
    warmed = hot_c - cold_c
    wall = 1.0 + wall_expansion_per_k * warmed
    content = hot_volume_l(volume_l=liquid_l, cold_c=cold_c, hot_c=hot_c)
    content += solids_l * (1.0 + solids_expansion_per_k * warmed)
    return content / ((1.0 - swell_share) * pot_area_m2(inner_diameter_m=inner_diameter_m) * wall**2)


@working(cls="A", unit="mm", ranges={"height_mm": POT_HEIGHT, "hot_level_mm": (0.0, 5000.0)})
def freeboard_mm(*, height_mm: float, hot_level_mm: float) -> float:
    """Distance from the hot surface up to the rim (negative: it boils over).

    Equation: H - hot level.
    Units: height_mm [mm], hot_level_mm [mm]; returns [mm].
    Valid: the pot's height when cold.
    Errors: OutOfRange outside that range.
    Source: geometry.
    """
    return height_mm - hot_level_mm


@working(
    cls="C",
    unit="mm",
    ranges={
        "mass_kg": MASS,
        "density_kg_m3": DENSITY,
        "packing_share": (0.1, 1.0),
        "inner_diameter_m": POT_WIDTH,
    },
)
def bed_height_mm(*, mass_kg: float, density_kg_m3: float, packing_share: float, inner_diameter_m: float) -> float:
    """Height of a bed of solids thrown into a pot.

    Equation: m / (rho phi A).
    Units: mass_kg [kg], density_kg_m3 [kg/m3], packing_share [share], inner_diameter_m [m]; returns [mm].
    Valid: raw solids, not pressed.
    Errors: OutOfRange outside that range.
    Source: geometry; packing is common practice, no source.
    """
    heaped = solids_volume_l(mass_kg=mass_kg, density_kg_m3=density_kg_m3) / packing_share
    return heaped / pot_area_m2(inner_diameter_m=inner_diameter_m)


@working(
    cls="C",
    unit="L",
    ranges={
        "mass_kg": MASS,
        "density_kg_m3": DENSITY,
        "packing_share": (0.1, 1.0),
        "inner_diameter_m": POT_WIDTH,
        "cover_mm": (0.0, 500.0),
    },
    parameters=("pot.cover_mm",),
)
def water_to_cover_l(
    *, mass_kg: float, density_kg_m3: float, packing_share: float, inner_diameter_m: float, cover_mm: float
) -> float:
    """Liquid that just covers a bed of solids by a given depth.

    Equation: m / rho (1 / phi - 1) + A cover.
    Units: mass_kg [kg], density_kg_m3 [kg/m3], packing_share [share], inner_diameter_m [m], cover_mm [mm];
        returns [L].
    Valid: raw solids, not pressed.
    Errors: OutOfRange outside that range.
    Source: geometry; packing is common practice, no source.
    """
    gaps = solids_volume_l(mass_kg=mass_kg, density_kg_m3=density_kg_m3) * (1.0 / packing_share - 1.0)
    return gaps + pot_area_m2(inner_diameter_m=inner_diameter_m) * cover_mm
