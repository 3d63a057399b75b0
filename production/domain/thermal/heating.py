"""Bringing a pot to the boil: heat capacity, losses, time, and the heat that goes through the base."""

from __future__ import annotations

import math

from production.domain.errors import DoesNotFit
from production.domain.thermal.properties import AIR, SHARE
from production.domain.workings import working

POWER = (0.0, 500.0)
LOSS = (0.0, 100.0)
MASS = (0.0, 5000.0)
POT_WIDTH = (0.05, 3.0)
LIQUID_C = (0.0, 110.0)
WATER_CP_KJ_KG_K = 4.19
_NO_LOSS_W_K = 1e-6  # below this the logarithm is all rounding


@working(
    cls="A",
    unit="kJ/K",
    ranges={
        "water_kg": MASS,
        "solids_kg": MASS,
        "solids_cp_kj_kg_k": (0.5, 4.3),
        "pot_kg": (0.0, 1000.0),
        "pot_cp_kj_kg_k": (0.1, 1.5),
    },
    parameters=("thermal.steel_cp_kj_kg_k", "thermal.aluminium_cp_kj_kg_k"),
)
def charge_capacity_kj_k(
    *, water_kg: float, solids_kg: float, solids_cp_kj_kg_k: float, pot_kg: float, pot_cp_kj_kg_k: float
) -> float:
    """Heat that warms water, solids and pot by one degree.

    Equation: 4.19 m_water + m_solids c_solids + m_pot c_pot.
    Units: water_kg [kg], solids_kg [kg], solids_cp_kj_kg_k [kJ/(kg K)], pot_kg [kg], pot_cp_kj_kg_k [kJ/(kg K)];
        returns [kJ/K].
    Valid: unfrozen charge, up to 5000 kg.
    Errors: OutOfRange outside that range.
    Source: energy balance; water 4.19 is within 0.5 % from 5 to 99 degC.
    """
    return WATER_CP_KJ_KG_K * water_kg + solids_kg * solids_cp_kj_kg_k + pot_kg * pot_cp_kj_kg_k


@working(
    cls="B",
    unit="W/K",
    ranges={"inner_diameter_m": POT_WIDTH, "level_mm": (0.0, 3000.0), "loss_w_m2_k": (0.0, 20.0)},
    parameters=("heat.pot_loss_w_m2_k",),
)
def pot_loss_w_k(*, inner_diameter_m: float, level_mm: float, loss_w_m2_k: float) -> float:
    """Heat that the wetted wall of a bare pot loses to the room per degree.

    Equation: UA = U pi D h.
    Units: inner_diameter_m [m], level_mm [mm], loss_w_m2_k [W/(m2 K)]; returns [W/K].
    Valid: 0.05 to 3 m wide, uninsulated wall; the surface loss is evaporation and counted there.
    Errors: OutOfRange outside that range.
    Source: wall area x heat transfer coefficient.
    """
    return loss_w_m2_k * math.pi * inner_diameter_m * level_mm / 1000.0


@working(
    cls="B",
    unit="kW",
    ranges={
        "power_kw": POWER,
        "efficiency_share": SHARE,
        "loss_w_k": LOSS,
        "temp_c": LIQUID_C,
        "air_c": AIR,
    },
)
def net_power_kw(*, power_kw: float, efficiency_share: float, loss_w_k: float, temp_c: float, air_c: float) -> float:
    """Heat that stays in the food at a temperature (negative when the pot cools).

    Equation: eta P - UA (T - Ta) / 1000.
    Units: power_kw [kW], efficiency_share [share], loss_w_k [W/K], temp_c [degC], air_c [degC]; returns [kW].
    Valid: up to 500 kW; an efficiency measured with this pot already holds the loss, then loss_w_k is 0.
    Errors: OutOfRange outside that range.
    Source: energy balance.
    """
    return efficiency_share * power_kw - loss_w_k * (temp_c - air_c) / 1000.0


@working(
    cls="B",
    unit="min",
    ranges={
        "capacity_kj_k": (0.0, 25000.0),
        "from_c": LIQUID_C,
        "to_c": LIQUID_C,
        "power_kw": POWER,
        "efficiency_share": SHARE,
        "loss_w_k": LOSS,
        "air_c": AIR,
    },
)
def heat_up_min(
    *,
    capacity_kj_k: float,
    from_c: float,
    to_c: float,
    power_kw: float,
    efficiency_share: float,
    loss_w_k: float,
    air_c: float,
) -> float:
    """Time to heat a charge with a steady flame or element and a steady loss per degree.

    Equation: C (T1 - T0) / (eta P) without loss, else -(C / UA) ln[(eta P - UA (T1 - Ta)) / (eta P - UA (T0 - Ta))].
    Units: capacity_kj_k [kJ/K], from_c [degC], to_c [degC], power_kw [kW], efficiency_share [share],
        loss_w_k [W/K], air_c [degC]; returns [min].
    Valid: unfrozen charge; 0 when it is already warm enough.
    Errors: OutOfRange outside that range; DoesNotFit when the heat never reaches the end temperature.
    Source: energy balance, closed form.
    """
    if to_c <= from_c:
        return 0.0
    start = net_power_kw(
        power_kw=power_kw, efficiency_share=efficiency_share, loss_w_k=loss_w_k, temp_c=from_c, air_c=air_c
    )
    end = net_power_kw(
        power_kw=power_kw, efficiency_share=efficiency_share, loss_w_k=loss_w_k, temp_c=to_c, air_c=air_c
    )
    if end <= 0.0:
        raise DoesNotFit(
            f"{power_kw:g} kW never brings this pot to {to_c:.1f} degC.",
            code="heat-too-small",
            numbers={"power_kw": power_kw, "to_c": to_c, "missing_kw": -end},
            remedy="Use a stronger heat source, a smaller charge or a lid.",
        )
    if loss_w_k < _NO_LOSS_W_K:
        return capacity_kj_k * (to_c - from_c) / start / 60.0
    return 1000.0 * capacity_kj_k / loss_w_k * math.log(start / end) / 60.0


@working(
    cls="B",
    unit="min",
    ranges={
        "frozen_heat_kj": (0.0, 2.0e6),
        "capacity_kj_k": (0.0, 25000.0),
        "from_c": LIQUID_C,
        "to_c": LIQUID_C,
        "power_kw": POWER,
        "efficiency_share": SHARE,
        "loss_w_k": LOSS,
        "air_c": AIR,
    },
)
def heat_up_frozen_min(
    *,
    frozen_heat_kj: float,
    capacity_kj_k: float,
    from_c: float,
    to_c: float,
    power_kw: float,
    efficiency_share: float,
    loss_w_k: float,
    air_c: float,
) -> float:
    """Time to heat a charge part of which goes in frozen.

    Equation: frozen heat / (eta P - UA (T0 - Ta)) + heat-up time of the thawed charge;
        no gain is counted from a warm room.
    Units: frozen_heat_kj [kJ] that lifts the frozen part to from_c, capacity_kj_k [kJ/K] of the whole thawed charge,
        from_c [degC], to_c [degC], power_kw [kW], efficiency_share [share], loss_w_k [W/K], air_c [degC];
        returns [min].
    Valid: the frozen part is thawed at the starting temperature of the liquid.
    Errors: OutOfRange outside that range; DoesNotFit when the heat never reaches the end temperature.
    Source: energy balance.
    """
    warming = heat_up_min(
        capacity_kj_k=capacity_kj_k,
        from_c=from_c,
        to_c=to_c,
        power_kw=power_kw,
        efficiency_share=efficiency_share,
        loss_w_k=loss_w_k,
        air_c=air_c,
    )
    if frozen_heat_kj == 0.0:
        return warming
    thawing = net_power_kw(
        power_kw=power_kw,
        efficiency_share=efficiency_share,
        loss_w_k=loss_w_k,
        temp_c=max(from_c, min(air_c, LIQUID_C[1])),
        air_c=air_c,
    )
    if thawing <= 0.0:
        raise DoesNotFit(
            f"{power_kw:g} kW never thaws this charge.",
            code="heat-too-small",
            numbers={"power_kw": power_kw, "missing_kw": -thawing},
            remedy="Use a stronger heat source or thaw the charge first.",
        )
    return warming + frozen_heat_kj / thawing / 60.0


@working(
    cls="A",
    unit="kW/m2",
    ranges={"power_kw": POWER, "efficiency_share": SHARE, "base_diameter_m": POT_WIDTH},
    parameters=("reduction.scorch_base_flux_kw_m2",),
)
def base_flux_kw_m2(*, power_kw: float, efficiency_share: float, base_diameter_m: float) -> float:
    """Net heat through each square metre of the base of a pot; what decides whether a glaze catches.

    Equation: eta P / (pi D2 / 4).
    Units: power_kw [kW], efficiency_share [share], base_diameter_m [m]; returns [kW/m2].
    Valid: heat spread evenly over the base; a small burner under a wide pot is hotter in its middle.
    Errors: OutOfRange outside that range.
    Source: energy balance.
    """
    return efficiency_share * power_kw / (math.pi * base_diameter_m**2 / 4.0)


@working(
    cls="A",
    unit="kJ",
    ranges={"mass_kg": MASS, "cp_kj_kg_k": (0.5, 4.3), "from_c": (-40.0, 110.0), "to_c": (-40.0, 110.0)},
)
def sensible_heat_kj(*, mass_kg: float, cp_kj_kg_k: float, from_c: float, to_c: float) -> float:
    """Heat that takes an unfrozen mass from one temperature to another (negative when it cools).

    Equation: m c (T1 - T0).
    Units: mass_kg [kg], cp_kj_kg_k [kJ/(kg K)], from_c [degC], to_c [degC]; returns [kJ].
    Valid: no freezing or boiling between the two temperatures.
    Errors: OutOfRange outside that range.
    Source: energy balance.
    """
    return mass_kg * cp_kj_kg_k * (to_c - from_c)
