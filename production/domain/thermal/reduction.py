"""Boiling down: what is left, what was removed, how concentrated it is, how long it takes, how many cubes it makes."""

from __future__ import annotations

import math

from production.domain.errors import OutOfRange
from production.domain.thermal.heating import MASS, POT_WIDTH
from production.domain.thermal.pots import pot_area_m2
from production.domain.workings import working

BRIX = (0.1, 80.0)
FACTOR = (1.0, 500.0)
LIQUID_DENSITY = (900.0, 1450.0)
RATE = (1e-3, 500.0)


def _check_order(from_bx: float, to_bx: float) -> None:
    if to_bx < from_bx:
        raise OutOfRange(
            f"Boiling down cannot take {from_bx:g} Bx to {to_bx:g} Bx.",
            code="reduction-backwards",
            numbers={"from_bx": from_bx, "to_bx": to_bx},
            remedy="Give an end that is stronger than the start.",
        )


@working(cls="A", unit="times", ranges={"from_bx": BRIX, "to_bx": BRIX})
def reduction_mass_factor(*, from_bx: float, to_bx: float) -> float:
    """How many times lighter the liquid gets; also how many times stronger salt, pepper and gelatin get.

    Equation: Bx1 / Bx0.
    Units: from_bx [Bx], to_bx [Bx]; returns [times].
    Valid: both readings of the same liquid at the same temperature; volatile aroma is lost, not concentrated.
    Errors: OutOfRange outside that range or when the end is weaker than the start.
    Source: solids balance.
    """
    _check_order(from_bx, to_bx)
    return to_bx / from_bx


@working(cls="A", unit="kg", ranges={"mass_kg": MASS, "from_bx": BRIX, "to_bx": BRIX})
def reduced_mass_kg(*, mass_kg: float, from_bx: float, to_bx: float) -> float:
    """Mass that is left when a stock is boiled down to a strength.

    Equation: m0 Bx0 / Bx1.
    Units: mass_kg [kg], from_bx [Bx], to_bx [Bx]; returns [kg].
    Valid: nothing but water leaves.
    Errors: OutOfRange outside that range or when the end is weaker than the start.
    Source: solids balance.
    """
    return mass_kg / reduction_mass_factor(from_bx=from_bx, to_bx=to_bx)


@working(cls="A", unit="kg", ranges={"end_mass_kg": MASS, "from_bx": BRIX, "to_bx": BRIX})
def reduction_start_kg(*, end_mass_kg: float, from_bx: float, to_bx: float) -> float:
    """Mass of stock that boils down to a wanted mass of glaze.

    Equation: m1 Bx1 / Bx0.
    Units: end_mass_kg [kg], from_bx [Bx], to_bx [Bx]; returns [kg].
    Valid: nothing but water leaves.
    Errors: OutOfRange outside that range or when the end is weaker than the start.
    Source: solids balance.
    """
    return end_mass_kg * reduction_mass_factor(from_bx=from_bx, to_bx=to_bx)


@working(
    cls="B",
    unit="times",
    ranges={"mass_factor": FACTOR, "from_kg_m3": LIQUID_DENSITY, "to_kg_m3": LIQUID_DENSITY},
)
def reduction_volume_factor(*, mass_factor: float, from_kg_m3: float, to_kg_m3: float) -> float:
    """How many times the volume shrinks; more than the mass, since the glaze is denser.

    Equation: V0 / V1 = mass factor x rho1 / rho0.
    Units: mass_factor [times], from_kg_m3 [kg/m3], to_kg_m3 [kg/m3]; returns [times].
    Valid: both densities at the same temperature.
    Errors: OutOfRange outside that range.
    Source: definition.
    """
    return mass_factor * to_kg_m3 / from_kg_m3


@working(cls="A", unit="%", ranges={"from_bx": BRIX, "to_bx": BRIX})
def removed_mass_percent(*, from_bx: float, to_bx: float) -> float:
    """Share of the mass that was boiled away.

    Equation: 100 (1 - Bx0 / Bx1).
    Units: from_bx [Bx], to_bx [Bx]; returns [%] of the starting mass.
    Valid: nothing but water leaves.
    Errors: OutOfRange outside that range or when the end is weaker than the start.
    Source: solids balance.
    """
    return 100.0 * (1.0 - 1.0 / reduction_mass_factor(from_bx=from_bx, to_bx=to_bx))


@working(
    cls="B",
    unit="%",
    ranges={"from_bx": BRIX, "to_bx": BRIX, "from_kg_m3": LIQUID_DENSITY, "to_kg_m3": LIQUID_DENSITY},
)
def removed_volume_percent(*, from_bx: float, to_bx: float, from_kg_m3: float, to_kg_m3: float) -> float:
    """Share of the volume that is gone, both volumes at the same temperature.

    Equation: 100 (1 - V1 / V0).
    Units: from_bx [Bx], to_bx [Bx], from_kg_m3 [kg/m3], to_kg_m3 [kg/m3]; returns [%] of the starting volume.
    Valid: nothing but water leaves.
    Errors: OutOfRange outside that range or when the end is weaker than the start.
    Source: solids balance.
    """
    mass_factor = reduction_mass_factor(from_bx=from_bx, to_bx=to_bx)
    shrunk = reduction_volume_factor(mass_factor=mass_factor, from_kg_m3=from_kg_m3, to_kg_m3=to_kg_m3)
    return 100.0 * (1.0 - 1.0 / shrunk)


@working(cls="A", unit="%", ranges={"from_bx": BRIX, "to_bx": BRIX})
def removed_water_percent(*, from_bx: float, to_bx: float) -> float:
    """Share of the water, not of the liquid, that was boiled away.

    Equation: 100 (1 - Bx0 / Bx1) / (1 - Bx0 / 100).
    Units: from_bx [Bx], to_bx [Bx]; returns [%] of the starting water.
    Valid: Brix taken as solids by weight.
    Errors: OutOfRange outside that range or when the end is weaker than the start.
    Source: solids balance.
    """
    return removed_mass_percent(from_bx=from_bx, to_bx=to_bx) / (1.0 - from_bx / 100.0)


@working(cls="A", unit="kg/m3", ranges={"solids_bx": (0.0, 65.0)})
def sucrose_density_kg_m3(*, solids_bx: float) -> float:
    """Density of a sugar solution at 20 degC; for stock it is an upper bound.

    Equation: 998.2071 + w (385.1761 + w (135.3705 + w (40.9299 + w (-3.9643 + w (13.4853 - 17.2890 w))))),
        w = Bx / 100.
    Units: solids_bx [Bx]; returns [kg/m3].
    Valid: 0 to 65 Bx, 20 degC.
    Errors: OutOfRange outside that range.
    Source: ICUMSA-type polynomial at 20 degC, from memory; within 0.2 of NBS Circular C440 to 60 Bx.
    """
    w = solids_bx / 100.0
    return 998.2071 + w * (385.1761 + w * (135.3705 + w * (40.9299 + w * (-3.9643 + w * (13.4853 - 17.2890 * w)))))


@working(
    cls="C",
    unit="%",
    ranges={"reading_bx": (0.0, 80.0), "per_bx_share": (0.1, 1.5)},
    parameters=("brix.protein_per_bx", "brix.salt_per_bx"),
)
def solids_from_brix_percent(*, reading_bx: float, per_bx_share: float) -> float:
    """True solids behind a refractometer reading, which is made for sugar.

    Equation: Bx x true percent per Brix.
    Units: reading_bx [Bx], per_bx_share [share]; returns [%] w/w.
    Valid: cooled, defatted sample; an oven-dry check gives the kitchen's own factor.
    Errors: OutOfRange outside that range.
    Source: refractive increments from memory.
    """
    return reading_bx * per_bx_share


@working(cls="A", unit="%", ranges={"before_percent": (0.0, 100.0), "mass_factor": FACTOR})
def seasoned_percent(*, before_percent: float, mass_factor: float) -> float:
    """Salt or another non-volatile seasoning after boiling down.

    Equation: before x mass factor.
    Units: before_percent [%] w/w, mass_factor [times]; returns [%] w/w.
    Valid: non-volatile seasoning that stays dissolved.
    Errors: OutOfRange outside that range or when more than everything would be seasoning.
    Source: solids balance.
    """
    after = before_percent * mass_factor
    if after > 100.0:
        raise OutOfRange(
            f"{before_percent:g} % seasoning cannot be concentrated {mass_factor:g} times.",
            code="over-seasoned",
            numbers={"after_percent": after},
            remedy="Season after the reduction.",
        )
    return after


def _check_end(mass_kg: float, end_mass_kg: float) -> None:
    if end_mass_kg > mass_kg:
        raise OutOfRange(
            f"Boiling down cannot turn {mass_kg:g} kg into {end_mass_kg:g} kg.",
            code="reduction-backwards",
            numbers={"mass_kg": mass_kg, "end_mass_kg": end_mass_kg},
            remedy="Give an end that is lighter than the start.",
        )


@working(cls="B", unit="min", ranges={"mass_kg": MASS, "end_mass_kg": MASS, "evaporation_kg_h": RATE})
def reduction_min(*, mass_kg: float, end_mass_kg: float, evaporation_kg_h: float) -> float:
    """Time to boil down in one pot.

    Equation: 60 (m0 - m1) / E.
    Units: mass_kg [kg], end_mass_kg [kg], evaporation_kg_h [kg/h]; returns [min].
    Valid: steady boil, straight wall; the last litre goes in minutes.
    Errors: OutOfRange outside that range or when the end is heavier than the start.
    Source: mass balance.
    """
    _check_end(mass_kg, end_mass_kg)
    return 60.0 * (mass_kg - end_mass_kg) / evaporation_kg_h


@working(
    cls="B",
    unit="min",
    ranges={
        "mass_kg": MASS,
        "transfer_mass_kg": MASS,
        "end_mass_kg": MASS,
        "first_kg_h": RATE,
        "second_kg_h": RATE,
    },
)
def reduction_transfer_min(
    *, mass_kg: float, transfer_mass_kg: float, end_mass_kg: float, first_kg_h: float, second_kg_h: float
) -> float:
    """Time to boil down when the liquid is moved to a smaller pot on the way.

    Equation: 60 (m0 - mt) / E1 + 60 (mt - m1) / E2.
    Units: mass_kg [kg], transfer_mass_kg [kg], end_mass_kg [kg], first_kg_h [kg/h], second_kg_h [kg/h]; returns [min].
    Valid: the handling time of the move is not counted.
    Errors: OutOfRange outside that range or when the masses do not fall.
    Source: mass balance.
    """
    before = reduction_min(mass_kg=mass_kg, end_mass_kg=transfer_mass_kg, evaporation_kg_h=first_kg_h)
    return before + reduction_min(mass_kg=transfer_mass_kg, end_mass_kg=end_mass_kg, evaporation_kg_h=second_kg_h)


@working(
    cls="A",
    unit="mm",
    ranges={"mass_kg": MASS, "density_kg_m3": LIQUID_DENSITY, "inner_diameter_m": POT_WIDTH},
    parameters=("reduction.transfer_depth_mm", "reduction.scorch_depth_mm"),
)
def liquid_depth_mm(*, mass_kg: float, density_kg_m3: float, inner_diameter_m: float) -> float:
    """Depth of a mass of liquid in a straight pot.

    Equation: m / (rho A).
    Units: mass_kg [kg], density_kg_m3 [kg/m3], inner_diameter_m [m]; returns [mm].
    Valid: straight wall, flat base.
    Errors: OutOfRange outside that range.
    Source: geometry.
    """
    return 1.0e6 * mass_kg / density_kg_m3 / (1000.0 * pot_area_m2(inner_diameter_m=inner_diameter_m))


@working(
    cls="A",
    unit="kg",
    ranges={"depth_mm": (0.0, 3000.0), "density_kg_m3": LIQUID_DENSITY, "inner_diameter_m": POT_WIDTH},
)
def mass_at_depth_kg(*, depth_mm: float, density_kg_m3: float, inner_diameter_m: float) -> float:
    """Mass of liquid in a straight pot at a depth; at the transfer depth it is time for a smaller pot.

    Equation: rho A h.
    Units: depth_mm [mm], density_kg_m3 [kg/m3], inner_diameter_m [m]; returns [kg].
    Valid: straight wall, flat base.
    Errors: OutOfRange outside that range.
    Source: geometry.
    """
    return density_kg_m3 * pot_area_m2(inner_diameter_m=inner_diameter_m) * depth_mm / 1000.0


@working(
    cls="A",
    unit="pieces",
    ranges={
        "mass_kg": MASS,
        "loss_share": (0.0, 0.5),
        "density_kg_m3": LIQUID_DENSITY,
        "cell_ml": (0.5, 2000.0),
        "fill_share": (0.1, 1.0),
    },
    parameters=("cubes.loss_share", "cubes.fill_share"),
)
def cubes_count(*, mass_kg: float, loss_share: float, density_kg_m3: float, cell_ml: float, fill_share: float) -> float:
    """Whole cubes that a mass of glaze or stock fills.

    Equation: floor[m (1 - loss) / rho / (cell x fill)], forgiving one part in 10^9 of a cube.
    Units: mass_kg [kg], loss_share [share], density_kg_m3 [kg/m3], cell_ml [mL], fill_share [share];
        returns [pieces].
    Valid: cells filled level, not to the brim.
    Errors: OutOfRange outside that range.
    Source: arithmetic.
    """
    return float(math.floor(1.0e6 * mass_kg * (1.0 - loss_share) / density_kg_m3 / (cell_ml * fill_share) + 1e-9))


@working(
    cls="A",
    unit="kg",
    ranges={
        "cubes_count": (0.0, 1.0e6),
        "loss_share": (0.0, 0.5),
        "density_kg_m3": LIQUID_DENSITY,
        "cell_ml": (0.5, 2000.0),
        "fill_share": (0.1, 1.0),
    },
)
def cubes_mass_kg(
    *, cubes_count: float, loss_share: float, density_kg_m3: float, cell_ml: float, fill_share: float
) -> float:
    """Mass of glaze or stock that a number of cubes needs, loss included.

    Equation: n cell fill rho / (1 - loss).
    Units: cubes_count [pieces], loss_share [share], density_kg_m3 [kg/m3], cell_ml [mL], fill_share [share];
        returns [kg].
    Valid: cells filled level, not to the brim.
    Errors: OutOfRange outside that range.
    Source: arithmetic.
    """
    return cubes_count * cell_ml * fill_share * density_kg_m3 / 1.0e6 / (1.0 - loss_share)


@working(cls="A", unit="pieces", ranges={"cubes_count": (0.0, 1.0e6), "cells_count": (1.0, 1000.0)})
def trays_count(*, cubes_count: float, cells_count: float) -> float:
    """Trays that hold a number of cubes.

    Equation: ceil(cubes / cells per tray).
    Units: cubes_count [pieces], cells_count [pieces] per tray; returns [pieces].
    Valid: whole numbers.
    Errors: OutOfRange outside that range.
    Source: arithmetic.
    """
    return float(math.ceil(cubes_count / cells_count))


@working(cls="A", unit="share", ranges={"expansion_share": (0.0, 0.2)})
def safe_fill_share(*, expansion_share: float) -> float:
    """Largest fill of a cell or tub that still has room to freeze.

    Equation: 1 / (1 + expansion).
    Units: expansion_share [share]; returns [share].
    Valid: rigid container.
    Errors: OutOfRange outside that range.
    Source: geometry.
    """
    return 1.0 / (1.0 + expansion_share)
