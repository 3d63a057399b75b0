"""Getting heat out: ice, baths, moving air, chillers, pans, and how long the warmest point takes."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING

from production.domain.errors import OutOfRange
from production.domain.thermal.heating import MASS, POT_WIDTH, POWER, sensible_heat_kj
from production.domain.thermal.pots import DENSITY, pot_area_m2
from production.domain.thermal.properties import (
    ALTITUDE,
    SHARE,
    air_pressure_kpa,
    humidity_ratio_kg_kg,
    latent_heat_kj_kg,
    saturation_temp_c,
)
from production.domain.workings import working

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

PRODUCT = (-40.0, 110.0)
CP = (0.5, 4.3)
HEAT = (0.0, 5.0e6)
ICE = (-40.0, 0.0)
CONDUCTANCE = (1e-4, 20000.0)
RATE_PER_H = (1e-4, 200.0)
MELTING_KJ_KG = 333.55
ICE_CP_KJ_KG_K = 2.10
WATER_CP_KJ_KG_K = 4.19


def _check_falls(from_c: float, to_c: float, sink_c: float) -> None:
    if not sink_c < to_c <= from_c:
        raise OutOfRange(
            f"A sink of {sink_c:.1f} degC cannot take food from {from_c:.1f} to {to_c:.1f} degC.",
            code="sink-too-warm",
            numbers={"from_c": from_c, "to_c": to_c, "sink_c": sink_c},
            remedy="Use a colder sink, or give an end between the sink and the start.",
        )


@working(
    cls="A",
    unit="kJ",
    ranges={"mass_kg": MASS, "cp_kj_kg_k": CP, "from_c": PRODUCT, "to_c": PRODUCT},
    parameters=("cooling.broth_cp_kj_kg_k", "cooling.glaze_cp_kj_kg_k"),
)
def heat_to_remove_kj(*, mass_kg: float, cp_kj_kg_k: float, from_c: float, to_c: float) -> float:
    """Heat that has to leave the food, without freezing.

    Equation: m c (T0 - T1), never below 0.
    Units: mass_kg [kg], cp_kj_kg_k [kJ/(kg K)], from_c [degC], to_c [degC]; returns [kJ].
    Valid: no freezing between the two temperatures.
    Errors: OutOfRange outside that range.
    Source: energy balance.
    """
    return max(0.0, -sensible_heat_kj(mass_kg=mass_kg, cp_kj_kg_k=cp_kj_kg_k, from_c=from_c, to_c=to_c))


@working(
    cls="A",
    unit="kg",
    ranges={"heat_kj": HEAT, "ice_c": ICE, "melt_leaves_c": (0.0, 40.0), "use_share": (0.1, 1.0)},
    parameters=("cooling.ice_use_share", "cooling.ice_temp_c", "cooling.melt_leaves_c"),
)
def ice_outside_kg(*, heat_kj: float, ice_c: float, melt_leaves_c: float, use_share: float) -> float:
    """Ice that takes up a heat in a bath around the container.

    Equation: Q / [(333.55 + 2.10 |Tice| + 4.19 Tmelt) use].
    Units: heat_kj [kJ], ice_c [degC], melt_leaves_c [degC], use_share [share]; returns [kg].
    Valid: the melt water leaves at melt_leaves_c; the use share covers what the room and the tub take.
    Errors: OutOfRange outside that range.
    Source: energy balance, heat of melting 333.55 kJ/kg.
    """
    return heat_kj / ((MELTING_KJ_KG - ICE_CP_KJ_KG_K * ice_c + WATER_CP_KJ_KG_K * melt_leaves_c) * use_share)


@working(
    cls="A",
    unit="kg",
    ranges={
        "mass_kg": MASS,
        "cp_kj_kg_k": CP,
        "from_c": (0.0, 110.0),
        "to_c": (0.0, 110.0),
        "ice_c": ICE,
    },
    parameters=("cooling.broth_cp_kj_kg_k", "cooling.ice_temp_c"),
)
def ice_inside_kg(*, mass_kg: float, cp_kj_kg_k: float, from_c: float, to_c: float, ice_c: float) -> float:
    """Potable ice, made from withheld water, that cools the food at once when stirred in.

    Equation: m c (T0 - T1) / (333.55 + 2.10 |Tice| + 4.19 T1).
    Units: mass_kg [kg], cp_kj_kg_k [kJ/(kg K)], from_c [degC], to_c [degC], ice_c [degC]; returns [kg].
    Valid: all the ice melts; the stock was made stronger by as much water as the ice brings.
    Errors: OutOfRange outside that range.
    Source: energy balance, heat of melting 333.55 kJ/kg.
    """
    heat = heat_to_remove_kj(mass_kg=mass_kg, cp_kj_kg_k=cp_kj_kg_k, from_c=from_c, to_c=to_c)
    return heat / (MELTING_KJ_KG - ICE_CP_KJ_KG_K * ice_c + WATER_CP_KJ_KG_K * to_c)


@working(cls="A", unit="kg", ranges={"heat_kj": HEAT, "in_c": (0.0, 60.0), "out_c": (0.1, 100.0)})
def running_water_kg(*, heat_kj: float, in_c: float, out_c: float) -> float:
    """Cold running water that takes up a heat.

    Equation: Q / [4.19 (Tout - Tin)].
    Units: heat_kj [kJ], in_c [degC], out_c [degC]; returns [kg].
    Valid: the water leaves warmer than it comes.
    Errors: OutOfRange outside that range or when it does not.
    Source: energy balance.
    """
    if out_c <= in_c:
        raise OutOfRange(
            f"Water that comes at {in_c:g} and leaves at {out_c:g} degC takes no heat.",
            code="no-temperature-rise",
            numbers={"in_c": in_c, "out_c": out_c},
            remedy="Give an outlet warmer than the inlet.",
        )
    return heat_kj / (WATER_CP_KJ_KG_K * (out_c - in_c))


@working(
    cls="B",
    unit="W/(m2 K)",
    ranges={
        "inside_w_m2_k": (0.1, 10000.0),
        "outside_w_m2_k": (0.1, 10000.0),
        "wall_mm": (0.0, 100.0),
        "conductivity_w_m_k": (0.01, 500.0),
    },
)
def wall_u_w_m2_k(*, inside_w_m2_k: float, outside_w_m2_k: float, wall_mm: float, conductivity_w_m_k: float) -> float:
    """Heat transfer through a container wall with liquid on both sides.

    Equation: 1 / (1 / h_in + wall / k + 1 / h_out).
    Units: inside_w_m2_k [W/(m2 K)], outside_w_m2_k [W/(m2 K)], wall_mm [mm], conductivity_w_m_k [W/(m K)];
        returns [W/(m2 K)].
    Valid: thin wall.
    Errors: OutOfRange outside that range.
    Source: series resistances.
    """
    return 1.0 / (1.0 / inside_w_m2_k + wall_mm / 1000.0 / conductivity_w_m_k + 1.0 / outside_w_m2_k)


@working(cls="A", unit="m2", ranges={"inner_diameter_m": POT_WIDTH, "level_mm": (0.0, 3000.0)})
def wetted_wall_m2(*, inner_diameter_m: float, level_mm: float) -> float:
    """Side and base of a round container up to the level of the liquid.

    Equation: pi D h + pi D2 / 4.
    Units: inner_diameter_m [m], level_mm [mm]; returns [m2].
    Valid: straight wall.
    Errors: OutOfRange outside that range.
    Source: geometry.
    """
    side = math.pi * inner_diameter_m * level_mm / 1000.0
    return side + pot_area_m2(inner_diameter_m=inner_diameter_m)


@working(
    cls="B",
    unit="W/K",
    ranges={"area_m2": (1e-4, 100.0), "u_w_m2_k": (0.1, 10000.0)},
    parameters=(
        "cooling.u_steel_stirred_w_m2_k",
        "cooling.u_steel_still_w_m2_k",
        "cooling.u_plastic_w_m2_k",
        "cooling.container_still_w_m2_k",
        "cooling.container_fan_w_m2_k",
    ),
)
def conductance_w_k(*, area_m2: float, u_w_m2_k: float) -> float:
    """Heat that passes from food to sink per degree.

    Equation: UA = U A.
    Units: area_m2 [m2] exposed to the sink, u_w_m2_k [W/(m2 K)]; returns [W/K].
    Valid: only exposed faces count; touching containers are one body.
    Errors: OutOfRange outside that range.
    Source: definition.
    """
    return u_w_m2_k * area_m2


@working(
    cls="B",
    unit="1/h",
    ranges={"conductance_w_k": CONDUCTANCE, "mass_kg": (0.001, 5000.0), "cp_kj_kg_k": CP},
    parameters=("cooling.broth_cp_kj_kg_k",),
)
def cooling_rate_per_h(*, conductance_w_k: float, mass_kg: float, cp_kj_kg_k: float) -> float:
    """Rate of first-order cooling.

    Equation: k = 3.6 UA / (m c).
    Units: conductance_w_k [W/K], mass_kg [kg], cp_kj_kg_k [kJ/(kg K)]; returns [1/h].
    Valid: well-mixed liquid; not once it has set.
    Errors: OutOfRange outside that range.
    Source: energy balance.
    """
    return 3.6 * conductance_w_k / (mass_kg * cp_kj_kg_k)


@working(
    cls="A",
    unit="h",
    ranges={"from_c": PRODUCT, "to_c": PRODUCT, "sink_c": PRODUCT, "rate_per_h": RATE_PER_H},
)
def cooling_time_h(*, from_c: float, to_c: float, sink_c: float, rate_per_h: float) -> float:
    """Time between two temperatures in a sink that stays as cold as it is.

    Equation: ln[(T0 - Ts) / (T1 - Ts)] / k.
    Units: from_c [degC], to_c [degC], sink_c [degC], rate_per_h [1/h]; returns [h].
    Valid: sink < end <= start; an ice bath counts only while ice is left.
    Errors: OutOfRange outside that range or when the sink is not colder than the end.
    Source: first-order cooling.
    """
    _check_falls(from_c, to_c, sink_c)
    return math.log((from_c - sink_c) / (to_c - sink_c)) / rate_per_h


@working(
    cls="A",
    unit="degC",
    ranges={"from_c": PRODUCT, "sink_c": PRODUCT, "rate_per_h": RATE_PER_H, "time_h": (0.0, 1000.0)},
)
def cooled_temp_c(*, from_c: float, sink_c: float, rate_per_h: float, time_h: float) -> float:
    """Temperature after a time in a sink that stays as cold as it is.

    Equation: Ts + (T0 - Ts) e^(-k t).
    Units: from_c [degC], sink_c [degC], rate_per_h [1/h], time_h [h]; returns [degC].
    Valid: well-mixed liquid.
    Errors: OutOfRange outside that range.
    Source: first-order cooling.
    """
    return sink_c + (from_c - sink_c) * math.exp(-rate_per_h * time_h)


@working(
    cls="A",
    unit="1/h",
    ranges={"from_c": PRODUCT, "to_c": PRODUCT, "sink_c": PRODUCT, "time_h": (0.01, 1000.0)},
)
def required_rate_per_h(*, from_c: float, to_c: float, sink_c: float, time_h: float) -> float:
    """Rate that is needed to get from one temperature to another in time.

    Equation: ln[(T0 - Ts) / (T1 - Ts)] / t.
    Units: from_c [degC], to_c [degC], sink_c [degC], time_h [h]; returns [1/h].
    Valid: sink < end <= start.
    Errors: OutOfRange outside that range or when the sink is not colder than the end.
    Source: first-order cooling.
    """
    _check_falls(from_c, to_c, sink_c)
    return math.log((from_c - sink_c) / (to_c - sink_c)) / time_h


@working(
    cls="A",
    unit="1/h",
    ranges={"from_c": PRODUCT, "to_c": PRODUCT, "sink_c": PRODUCT, "time_h": (0.01, 1000.0)},
)
def two_point_log10_per_h(*, from_c: float, to_c: float, sink_c: float, time_h: float) -> float:
    """Slope of cooling between two readings on a decimal log scale.

    Equation: [log10(T0 - Ts) - log10(T1 - Ts)] / t.
    Units: from_c [degC], to_c [degC], sink_c [degC], time_h [h]; returns [1/h], decades per hour.
    Valid: sink < end <= start.
    Errors: OutOfRange outside that range or when the sink is not colder than the end.
    Source: two-point method, J. Environ. Health 2022 (abstract read).
    """
    return required_rate_per_h(from_c=from_c, to_c=to_c, sink_c=sink_c, time_h=time_h) / math.log(10.0)


@working(
    cls="A",
    unit="h",
    ranges={
        "mass_kg": MASS,
        "cp_kj_kg_k": CP,
        "from_c": PRODUCT,
        "to_c": PRODUCT,
        "power_kw": (0.01, 500.0),
    },
)
def power_cooling_time_h(*, mass_kg: float, cp_kj_kg_k: float, from_c: float, to_c: float, power_kw: float) -> float:
    """Time while the machine's power is the limit.

    Equation: m c (T0 - T1) / (3600 P).
    Units: mass_kg [kg], cp_kj_kg_k [kJ/(kg K)], from_c [degC], to_c [degC], power_kw [kW]; returns [h].
    Valid: hot food in thin layers.
    Errors: OutOfRange outside that range.
    Source: energy balance.
    """
    return heat_to_remove_kj(mass_kg=mass_kg, cp_kj_kg_k=cp_kj_kg_k, from_c=from_c, to_c=to_c) / power_kw / 3600.0


@working(
    cls="B",
    unit="h",
    ranges={
        "mass_kg": (0.001, 5000.0),
        "cp_kj_kg_k": CP,
        "from_c": PRODUCT,
        "to_c": PRODUCT,
        "air_c": PRODUCT,
        "power_kw": (0.01, 500.0),
        "conductance_w_k": CONDUCTANCE,
    },
)
def chiller_time_h(
    *,
    mass_kg: float,
    cp_kj_kg_k: float,
    from_c: float,
    to_c: float,
    air_c: float,
    power_kw: float,
    conductance_w_k: float,
) -> float:
    """Time in a blast chiller: first its power is the limit, then the surface of the food.

    Equation: m c (T0 - T*) / P down to T* = Ta + P / UA, then ln[(T* - Ta) / (T1 - Ta)] / k.
    Units: mass_kg [kg], cp_kj_kg_k [kJ/(kg K)], from_c [degC], to_c [degC], air_c [degC], power_kw [kW],
        conductance_w_k [W/K]; returns [h].
    Valid: well-mixed liquid in thin layers; conduction limits anything deeper than about 50 mm.
    Errors: OutOfRange outside that range or when the air is not colder than the end.
    Source: energy balance.
    """
    _check_falls(from_c, to_c, air_c)
    turn = min(from_c, max(to_c, air_c + 1000.0 * power_kw / conductance_w_k))
    first = power_cooling_time_h(mass_kg=mass_kg, cp_kj_kg_k=cp_kj_kg_k, from_c=from_c, to_c=turn, power_kw=power_kw)
    rate = 3.6 * conductance_w_k / (mass_kg * cp_kj_kg_k)
    return first + math.log((turn - air_c) / (to_c - air_c)) / rate


@working(
    cls="B",
    unit="kg",
    ranges={
        "rated_kg": MASS,
        "rated_cp_kj_kg_k": CP,
        "rated_from_c": PRODUCT,
        "rated_to_c": PRODUCT,
        "rated_h": (0.1, 24.0),
        "cp_kj_kg_k": CP,
        "from_c": PRODUCT,
        "to_c": PRODUCT,
        "time_h": (0.1, 24.0),
    },
)
def chiller_equivalent_kg(
    *,
    rated_kg: float,
    rated_cp_kj_kg_k: float,
    rated_from_c: float,
    rated_to_c: float,
    rated_h: float,
    cp_kj_kg_k: float,
    from_c: float,
    to_c: float,
    time_h: float,
) -> float:
    """Stock that a blast chiller cools in a time, from the load it is rated for.

    Equation: rated kg x c_test dT_rated / (c dT) x t / t_rated.
    Units: rated_kg [kg], rated_cp_kj_kg_k [kJ/(kg K)], rated_from_c [degC], rated_to_c [degC], rated_h [h],
        cp_kj_kg_k [kJ/(kg K)], from_c [degC], to_c [degC], time_h [h]; returns [kg].
    Valid: one open layer of at most about 50 mm; ratings assume a test load, never hot stock in buckets.
    Errors: OutOfRange outside that range or when the end is not colder than the start.
    Source: energy equivalence.
    """
    if to_c >= from_c or rated_to_c > rated_from_c:
        raise OutOfRange(
            "A chiller cools: the end must be colder than the start.",
            code="not-cooling",
            numbers={"from_c": from_c, "to_c": to_c},
            remedy="Give a start warmer than the end.",
        )
    rated_heat = rated_kg * rated_cp_kj_kg_k * (rated_from_c - rated_to_c)
    return rated_heat / (cp_kj_kg_k * (from_c - to_c)) * time_h / rated_h


@working(
    cls="A",
    unit="L/h",
    ranges={
        "power_kw": POWER,
        "density_kg_m3": DENSITY,
        "cp_kj_kg_k": CP,
        "from_c": PRODUCT,
        "to_c": PRODUCT,
    },
)
def power_limited_l_h(*, power_kw: float, density_kg_m3: float, cp_kj_kg_k: float, from_c: float, to_c: float) -> float:
    """Litres per hour that a cooling power handles.

    Equation: 3600 P / (rho c dT).
    Units: power_kw [kW], density_kg_m3 [kg/m3], cp_kj_kg_k [kJ/(kg K)], from_c [degC], to_c [degC]; returns [L/h].
    Valid: while power is the limit.
    Errors: OutOfRange outside that range or when the end is not colder than the start.
    Source: energy balance.
    """
    _check_falls(from_c, to_c, -math.inf)
    if to_c == from_c:
        raise OutOfRange(
            "There is nothing to cool.",
            code="not-cooling",
            numbers={"from_c": from_c, "to_c": to_c},
            remedy="Give a start warmer than the end.",
        )
    return 3.6e6 * power_kw / (density_kg_m3 * cp_kj_kg_k * (from_c - to_c))


_PAN_STEPS = 64
_BLACK_BODY = 0.95 * 5.670374e-8


@working(
    cls="B",
    unit="h",
    ranges={
        "depth_mm": (5.0, 300.0),
        "from_c": (0.0, 100.0),
        "to_c": (0.0, 100.0),
        "air_c": (-40.0, 30.0),
        "humidity_share": SHARE,
        "top_w_m2_k": (0.5, 100.0),
        "bottom_w_m2_k": (0.0, 100.0),
        "altitude_m": ALTITUDE,
        "cp_kj_kg_k": CP,
    },
    parameters=("cooling.pan_still_w_m2_k", "cooling.pan_fan_w_m2_k", "cooling.broth_cp_kj_kg_k"),
)
def open_pan_time_h(
    *,
    depth_mm: float,
    from_c: float,
    to_c: float,
    air_c: float,
    humidity_share: float,
    top_w_m2_k: float,
    bottom_w_m2_k: float,
    altitude_m: float,
    cp_kj_kg_k: float = 4.15,
) -> float:
    """Time for a liquid, uncovered and still thin, in a shallow pan in cold air.

    Equation: dT / dt = -[h_top dT + h_bottom dT + radiation + h_top / 1.006 (W_surface - W_air) h_fg] / (rho c depth).
    Units: depth_mm [mm], from_c [degC], to_c [degC], air_c [degC], humidity_share [share], top_w_m2_k [W/(m2 K)],
        bottom_w_m2_k [W/(m2 K)], altitude_m [m], cp_kj_kg_k [kJ/(kg K)]; returns [h].
    Valid: 5 to 300 mm, well-mixed liquid; covering stops the evaporation that does most of the early work.
    Errors: OutOfRange outside that range or when the air is not colder than the end.
    Source: energy balance, Lewis relation, black surface 0.95; film coefficients from memory.
    """
    _check_falls(from_c, to_c, air_c)
    pressure = air_pressure_kpa(altitude_m=altitude_m)
    hottest = saturation_temp_c(pressure_kpa=0.9 * pressure) - 1e-6
    room = humidity_ratio_kg_kg(temp_c=max(air_c, 0.0), humidity_share=humidity_share, pressure_kpa=pressure)

    def flux_w_m2(temp_c: float) -> float:
        surface = min(temp_c, hottest)
        ratio = humidity_ratio_kg_kg(temp_c=surface, humidity_share=1.0, pressure_kpa=pressure)
        steam = top_w_m2_k / 1.006 * max(0.0, ratio - room) * latent_heat_kj_kg(temp_c=surface)
        radiation = _BLACK_BODY * ((temp_c + 273.15) ** 4 - (air_c + 273.15) ** 4)
        return float((top_w_m2_k + bottom_w_m2_k) * (temp_c - air_c) + radiation + steam)

    low, high = math.log(to_c - air_c), math.log(from_c - air_c)
    step = (high - low) / _PAN_STEPS
    total = 0.0
    for number in range(_PAN_STEPS + 1):
        lift = math.exp(low + number * step)
        weight = 1.0 if number in (0, _PAN_STEPS) else 4.0 if number % 2 else 2.0
        total += weight * lift / flux_w_m2(air_c + lift)
    return 1000.0 * cp_kj_kg_k * depth_mm * total * step / 3.0 / 3600.0


_SLAB_CELLS = 40
_SLAB_STEP = 0.002
_SLAB_LEAST_SHARE = 0.005
_SLAB_STEPS_AT_ONCE = 128  # so few that the product stays on one processor


@working(
    cls="A",
    unit="h",
    ranges={
        "depth_mm": (2.0, 500.0),
        "from_c": PRODUCT,
        "to_c": PRODUCT,
        "air_c": PRODUCT,
        "top_w_m2_k": (0.5, 1000.0),
        "bottom_w_m2_k": (0.0, 1000.0),
        "conductivity_w_m_k": (0.1, 5.0),
        "density_kg_m3": DENSITY,
        "cp_kj_kg_k": CP,
    },
)
def gelled_slab_time_h(
    *,
    depth_mm: float,
    from_c: float,
    to_c: float,
    air_c: float,
    top_w_m2_k: float,
    bottom_w_m2_k: float,
    conductivity_w_m_k: float = 0.55,
    density_kg_m3: float = 1010.0,
    cp_kj_kg_k: float = 4.05,
) -> float:
    """Time until the warmest point of a set or thick layer is cold enough.

    Equation: rho c dT/dt = k d2T/dx2, h dT at top and bottom; Crank-Nicolson on 40 cells.
    Units: depth_mm [mm], from_c [degC], to_c [degC], air_c [degC], top_w_m2_k [W/(m2 K)], bottom_w_m2_k [W/(m2 K)],
        conductivity_w_m_k [W/(m K)], density_kg_m3 [kg/m3], cp_kj_kg_k [kJ/(kg K)]; returns [h].
    Valid: no freezing, no mixing; time is counted at the warmest cell.
    Errors: OutOfRange outside that range or when the air is not colder than the end.
    Source: one-dimensional heat conduction.
    """
    _check_falls(from_c, to_c, air_c)
    if to_c == from_c:
        return 0.0
    share = (to_c - air_c) / (from_c - air_c)
    return _slab_h(
        depth_mm / 1000.0, share, top_w_m2_k, bottom_w_m2_k, conductivity_w_m_k, 1000.0 * density_kg_m3 * cp_kj_kg_k
    )


def _slab_h(depth: float, share: float, top: float, bottom: float, conductivity: float, capacity: float) -> float:
    """Hours until the warmest cell has `share` of the starting difference left."""
    import numpy as np

    if share < _SLAB_LEAST_SHARE:
        raise OutOfRange(
            "The end is too near to the temperature of the air.",
            code="end-near-air",
            numbers={"share_left": share},
            remedy="Use colder air, or give a warmer end.",
        )
    left, hours = _slab_curve(depth, top, bottom, conductivity, capacity)
    return float(np.interp(-share, left, hours))


@lru_cache(maxsize=256)
def _slab_curve(
    depth: float, top: float, bottom: float, conductivity: float, capacity: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(minus the share of the starting difference left in the warmest cell, hours), one pass for all ends."""
    import numpy as np
    from scipy.linalg import eigh_tridiagonal

    cell = depth / _SLAB_CELLS
    between = conductivity / cell
    films = [1.0 / (1.0 / film + cell / 2.0 / conductivity) if film else 0.0 for film in (top, bottom)]
    step = _SLAB_STEP * (depth**2 * capacity / conductivity / 4.0 + depth * capacity / (top + bottom))
    losses = np.full(_SLAB_CELLS, 2.0 * between)
    losses[0], losses[-1] = between + films[0], between + films[1]
    half = step / (2.0 * capacity * cell)
    # Many steps at once: a step of Crank-Nicolson only shrinks each of the modes of the (symmetric) losses.
    sizes, modes = eigh_tridiagonal(half * losses, np.full(_SLAB_CELLS - 1, -half * between))
    shrink = (1.0 - sizes) / (1.0 + sizes)
    ahead = shrink ** np.arange(1, _SLAB_STEPS_AT_ONCE + 1)[:, None]
    now = modes.sum(axis=0)
    left = [np.ones(1)]
    while left[-1][-1] > _SLAB_LEAST_SHARE:
        left.append(((ahead * now) @ modes.T).max(axis=1))
        now = now * ahead[-1]
    shares = -np.concatenate(left)
    last = int(np.argmax(shares >= -_SLAB_LEAST_SHARE)) + 1
    return shares[:last], np.arange(last, dtype=np.float64) * (step / 3600.0)


@working(
    cls="B",
    unit="h",
    ranges={
        "radius_mm": (10.0, 1000.0),
        "height_mm": (20.0, 3000.0),
        "from_c": PRODUCT,
        "to_c": PRODUCT,
        "air_c": PRODUCT,
        "film_w_m2_k": (0.5, 1000.0),
        "conductivity_w_m_k": (0.1, 5.0),
        "density_kg_m3": DENSITY,
        "cp_kj_kg_k": CP,
    },
)
def gelled_cylinder_time_h(
    *,
    radius_mm: float,
    height_mm: float,
    from_c: float,
    to_c: float,
    air_c: float,
    film_w_m2_k: float,
    conductivity_w_m_k: float = 0.55,
    density_kg_m3: float = 1010.0,
    cp_kj_kg_k: float = 4.05,
) -> float:
    """Time until the centre of a tall container of set or thick food is cold enough.

    Equation: first term of the cylinder series x first term of the slab series, the same film all round.
    Units: radius_mm [mm], height_mm [mm], from_c [degC], to_c [degC], air_c [degC], film_w_m2_k [W/(m2 K)],
        conductivity_w_m_k [W/(m K)], density_kg_m3 [kg/m3], cp_kj_kg_k [kJ/(kg K)]; returns [h].
    Valid: no mixing, no freezing, later than a Fourier number of 0.2 in the smaller of radius and half height; where
        the other is still early, the time comes out too long, which is the safe side.
    Errors: OutOfRange outside that range, when the air is not colder than the end, or too early for one term.
    Source: one-term conduction solutions, standard text-book form.
    """
    from scipy.optimize import brentq
    from scipy.special import j0, j1

    _check_falls(from_c, to_c, air_c)
    radius, half_height = radius_mm / 1000.0, height_mm / 2000.0
    diffusivity = conductivity_w_m_k / (1000.0 * density_kg_m3 * cp_kj_kg_k)
    round_biot = film_w_m2_k * radius / conductivity_w_m_k
    flat_biot = film_w_m2_k * half_height / conductivity_w_m_k
    a = float(brentq(lambda x: x * j1(x) - round_biot * j0(x), 1e-9, 2.404825557))
    b = float(brentq(lambda x: x * math.sin(x) - flat_biot * math.cos(x), 1e-9, math.pi / 2.0))
    lead = 2.0 / a * float(j1(a)) / (float(j0(a)) ** 2 + float(j1(a)) ** 2)
    lead *= 4.0 * math.sin(b) / (2.0 * b + math.sin(2.0 * b))
    decay = diffusivity * ((a / radius) ** 2 + (b / half_height) ** 2)
    seconds = math.log(lead * (from_c - air_c) / (to_c - air_c)) / decay
    if seconds * diffusivity < 0.2 * min(radius, half_height) ** 2:
        raise OutOfRange(
            "The centre of this container has hardly begun to cool; one term does not describe it yet.",
            code="too-early",
            numbers={"hours": seconds / 3600.0},
            remedy="Give a colder end or a smaller container.",
        )
    return seconds / 3600.0


@working(
    cls="A",
    unit="kg",
    ranges={
        "bin_kg": MASS,
        "make_kg_d": (0.0, 20000.0),
        "time_h": (0.0, 200.0),
        "make_share": SHARE,
    },
    parameters=("ice.hot_room_share",),
)
def ice_available_kg(*, bin_kg: float, make_kg_d: float, time_h: float, make_share: float) -> float:
    """Ice that can be used within a time.

    Equation: bin + make / 24 x hours x share.
    Units: bin_kg [kg], make_kg_d [kg/d], time_h [h], make_share [share] of the rated make; returns [kg].
    Valid: the bin does not overflow meanwhile.
    Errors: OutOfRange outside that range.
    Source: arithmetic.
    """
    return bin_kg + make_kg_d / 24.0 * time_h * make_share


@working(cls="A", unit="L", ranges={"ice_kg": (0.0, 20000.0), "need_kg_l": (0.01, 10.0)})
def ice_litres_l(*, ice_kg: float, need_kg_l: float) -> float:
    """Stock that an amount of ice can cool.

    Equation: ice / ice per litre.
    Units: ice_kg [kg], need_kg_l [kg/L]; returns [L].
    Valid: check also that the ice is there when it is needed, not only in sum.
    Errors: OutOfRange outside that range.
    Source: arithmetic.
    """
    return ice_kg / need_kg_l


@working(
    cls="B",
    unit="kW",
    ranges={"conductance_w_k": CONDUCTANCE, "product_c": PRODUCT, "air_c": PRODUCT},
    parameters=("cooling.walk_in_spare_share",),
)
def cold_room_load_kw(*, conductance_w_k: float, product_c: float, air_c: float) -> float:
    """Heat that warm food gives to a cold room right now; the first minute is the worst.

    Equation: UA (T - Ta) / 1000, never below 0.
    Units: conductance_w_k [W/K], product_c [degC], air_c [degC]; returns [kW].
    Valid: at this moment, not on average.
    Errors: OutOfRange outside that range.
    Source: definition.
    """
    return max(0.0, conductance_w_k * (product_c - air_c) / 1000.0)
