"""How long it takes from now to the target if something is done, on the slow side."""

from __future__ import annotations

import math

from production.domain.cooling_capacity import vessel_area_m2, vessel_depth_mm
from production.domain.errors import OutOfRange
from production.domain.records.advice_content import AdviceInput
from production.domain.thermal.cooling import RATE_PER_H, cooling_time_h, gelled_slab_time_h

THINNEST_MM, THICKEST_MM = 2.0, 500.0  # range of the slab
CLOSED_TOP_W_M2_K = 0.5  # next to nothing leaves through the top


def hours_to_target(state: AdviceInput, *, sink_c: float, rate_per_h: float, fill_l: float, liquid: bool) -> float:
    """From now to the target: as a liquid, and where nobody stirs as a set body from where it may have set.

    Equation: cooling_time_h to the target, or to where it sets and gelled_slab_time_h from there.
    Units: state (record), sink_c [degC], rate_per_h [1/h], fill_l [L] in the fullest vessel, liquid (stays so or not);
        returns [h], infinity where the sink is not colder than the target, or nothing cools.
    Valid: warmer than the target now.
    Errors: UnknownParameter.
    Source: thermal.cooling and its sources.
    """
    slowest, fastest = RATE_PER_H
    if sink_c >= state.target_c or rate_per_h < slowest:
        return math.inf
    turn = state.target_c if liquid else min(state.temp_c, max(state.target_c, state.sets_c))
    hours = cooling_time_h(from_c=state.temp_c, to_c=turn, sink_c=sink_c, rate_per_h=min(rate_per_h, fastest))
    return hours if turn <= state.target_c else hours + _set_hours(state, turn, sink_c, fill_l)


def surface_per_l(state: AdviceInput, fill_l: float) -> float:
    """Cooled surface per litre: what stands in ice by side and base, in air by the top as well.

    Equation: (vessel_area_m2 + top) / fill.
    Units: state (record), fill_l [L]; returns [m2/L].
    Valid: straight walls, vessels that do not touch.
    Errors: none.
    Source: geometry.
    """
    top_m2 = 0.0 if state.place == "ice_sink" else vessel_area_m2(container=state.vessel, fill_l=0.0)
    return (vessel_area_m2(container=state.vessel, fill_l=fill_l) + top_m2) / fill_l


def _set_hours(state: AdviceInput, from_c: float, sink_c: float, fill_l: float) -> float:
    """A set body as a slab: through top and base or through both sides, whichever is faster."""
    top, base = _films(state)
    depth = vessel_depth_mm(container=state.vessel, fill_l=fill_l)
    width = min(state.vessel.length_mm, state.vessel.width_mm)
    try:
        return min(
            gelled_slab_time_h(
                depth_mm=min(THICKEST_MM, max(THINNEST_MM, across)),
                from_c=from_c,
                to_c=state.target_c,
                air_c=sink_c,
                top_w_m2_k=upper,
                bottom_w_m2_k=base,
            )
            for across, upper in ((depth, top), (width, base))
        )
    except OutOfRange:  # the target is too near to the temperature of what cools
        return math.inf


def _films(state: AdviceInput) -> tuple[float, float]:
    """Heat transfer at top and base."""
    low = state.parameters.low
    if state.place == "ice_sink":
        steel = state.vessel.material == "steel"
        return CLOSED_TOP_W_M2_K, low("cooling.u_steel_still_w_m2_k" if steel else "cooling.u_plastic_w_m2_k")
    if state.place == "blast_chiller":
        return low("cooling.blast_top_w_m2_k"), low("cooling.blast_bottom_w_m2_k")
    return low("cooling.container_still_w_m2_k"), low("cooling.container_still_w_m2_k")
