"""How fast a load cools in a device: an ice sink, a blast chiller."""

from __future__ import annotations

import math
from collections.abc import Callable

from production.domain.cooling_capacity.vessels import Load, Standing, vessel_area_m2
from production.domain.parameters import ParameterSet
from production.domain.thermal.cooling import (
    chiller_equivalent_kg,
    chiller_time_h,
    conductance_w_k,
    cooling_rate_per_h,
    cooling_time_h,
    gelled_slab_time_h,
)
from production.domain.workings import Figure, figure

THINNEST_LAYER_MM = 2.0  # a thinner layer counts as this one
THICKEST_LAYER_MM = 500.0  # the end of the slab's range; nothing this thick passes anyway
STILL_TOP_W_M2_K = 0.5  # next to nothing leaves through the top (the least of the slab's range)
_FILMS = ("cooling.blast_top_w_m2_k", "cooling.blast_bottom_w_m2_k")

MinutesAt = Callable[[float], float]  # minutes after which a temperature is reached


def in_sink(
    parameters: ParameterSet, load: Load, standing: Standing, *, slow: bool
) -> tuple[MinutesAt, tuple[Figure, ...]]:
    """First-order cooling in ice; what is not stirred, and every glaze, sets on the way and then only conducts.

    Equation: cooling_time_h with the conductance of side and base of the fullest vessel. The slow side takes the lowest
        conductance of an unstirred liquid and the warmest bath; below the temperature at which it sets, the time of a
        set body is added (the faster of base alone and of both sides, each as a slab), unless the sink is stirred.
    Units: parameters, load, standing (records), slow (yes or no); returns minutes [min] at a temperature [degC], and
        figures.
    Valid: baths colder than the last limit; a stirred sink is stirred until the last limit is reached.
    Errors: OutOfRange where the bath is not colder.
    Source: thermal.cooling and its sources.
    """
    conductance = _sink_conductance(parameters, standing, slow=slow)
    bath_c = parameters.high("cooling.bath_temp_c") if slow else parameters.value("cooling.bath_temp_c")
    rate = figure(
        "rate_per_h",
        cooling_rate_per_h,
        conductance_w_k=conductance.value,
        mass_kg=load.mass_kg(standing.fill_l),
        cp_kj_kg_k=load.cp_kj_kg_k,
    )
    cooling = {"sink_c": bath_c, "rate_per_h": rate.value}
    sets_c = _sets_c(parameters, load, standing, slow=slow)
    liquid_to_c = load.end_c if sets_c is None else max(load.end_c, min(sets_c, load.start_c))
    as_liquid = figure(
        "cooling_time_h",
        cooling_time_h,
        parameters=("cooling.bath_temp_c",),
        from_c=load.start_c,
        to_c=liquid_to_c,
        **cooling,
    )
    figures: tuple[Figure, ...] = (conductance, rate, as_liquid)
    body = _set_body(standing, liquid_to_c, load.end_c, bath_c, _sink_film(parameters, standing, slow=slow)[1])
    if liquid_to_c > load.end_c:
        figures = (*figures, figure("slab_time_h", gelled_slab_time_h, parameters=_sets_codes(load), **body))

    def hours_at(temp_c: float) -> float:
        if temp_c >= liquid_to_c:
            return cooling_time_h(from_c=load.start_c, to_c=temp_c, **cooling)
        return as_liquid.value + gelled_slab_time_h(**{**body, "to_c": temp_c})

    return _minutes_at(load, bath_c, hours_at), figures


def _sets_codes(load: Load) -> tuple[str, ...]:
    return ("cooling.glaze_sets_c" if load.is_glaze else "cooling.broth_sets_c",)


def _sets_c(parameters: ParameterSet, load: Load, standing: Standing, *, slow: bool) -> float | None:
    """Temperature at which the load stops moving, or none while it is stirred."""
    if not load.is_glaze and standing.device.stirred:
        return None
    (code,) = _sets_codes(load)
    return parameters.high(code) if slow else parameters.value(code)


def _set_body(standing: Standing, from_c: float, to_c: float, bath_c: float, film_w_m2_k: float) -> dict[str, float]:
    """A set body in ice as a slab: heat leaves through the base alone, or through both sides, whichever is faster."""
    common = {"from_c": from_c, "to_c": to_c, "air_c": bath_c, "bottom_w_m2_k": film_w_m2_k}
    width_mm = min(standing.vessel.length_mm, standing.vessel.width_mm)
    through_base = {"depth_mm": max(standing.depth_mm, THINNEST_LAYER_MM), "top_w_m2_k": STILL_TOP_W_M2_K, **common}
    through_sides = {"depth_mm": max(width_mm, THINNEST_LAYER_MM), "top_w_m2_k": film_w_m2_k, **common}
    slabs = [{**slab, "depth_mm": min(slab["depth_mm"], THICKEST_LAYER_MM)} for slab in (through_base, through_sides)]
    return min(slabs, key=lambda slab: gelled_slab_time_h(**slab))


def _sink_film(parameters: ParameterSet, standing: Standing, *, slow: bool) -> tuple[str, float]:
    """Code and value of the heat transfer through the wall."""
    if standing.vessel.material != "steel":
        code = "cooling.u_plastic_w_m2_k"
    elif standing.device.stirred and not slow:
        code = "cooling.u_steel_stirred_w_m2_k"
    else:
        code = "cooling.u_steel_still_w_m2_k"
    return code, parameters.low(code) if slow else parameters.value(code)


def _sink_conductance(parameters: ParameterSet, standing: Standing, *, slow: bool) -> Figure:
    code, film = _sink_film(parameters, standing, slow=slow)
    return figure(
        "conductance_w_k",
        conductance_w_k,
        parameters=(code,),
        area_m2=vessel_area_m2(container=standing.vessel, fill_l=standing.fill_l),
        u_w_m2_k=film,
    )


def _minutes_at(load: Load, sink_c: float, hours_at: MinutesAt) -> MinutesAt:
    """Minutes from hours: none at the start, and never at the temperature of what cools."""

    def minutes_at(temp_c: float) -> float:
        if temp_c >= load.start_c:
            return 0.0
        return 60.0 * hours_at(temp_c) if temp_c > sink_c else math.inf

    return minutes_at


def in_chiller(
    parameters: ParameterSet, load: Load, standing: Standing, *, slow: bool
) -> tuple[MinutesAt, tuple[Figure, ...]]:
    """The longest of: power and surface, rating, and (on the slow side) conduction through a set layer.

    Equation: max of chiller_time_h, mass / rated mass per hour x share of the way, gelled_slab_time_h.
    Units: parameters, load, standing (records), slow (yes or no); returns minutes [min] at a temperature [degC], and
        figures.
    Valid: air colder than the last limit.
    Errors: OutOfRange where the air is not colder.
    Source: thermal.cooling and its sources.
    """
    films = [parameters.low(code) if slow else parameters.value(code) for code in _FILMS]
    air_c = float(standing.device.air_temp_c or 0.0)
    mass_kg = load.mass_kg(standing.litres)
    share = standing.vessels / standing.device.places
    per_h = _rated_kg_per_h(parameters, load, standing, share)
    layer = {"depth_mm": max(standing.depth_mm, THINNEST_LAYER_MM), "from_c": load.start_c}
    around = {"air_c": air_c, "top_w_m2_k": films[0], "bottom_w_m2_k": films[1]}
    slab = figure("slab_time_h", gelled_slab_time_h, parameters=_FILMS, **layer, to_c=load.end_c, **around)
    conductance = conductance_w_k(area_m2=_tops_m2(standing), u_w_m2_k=sum(films))

    def hours_at(temp_c: float) -> float:
        rated_h = mass_kg / per_h.value * ((load.start_c - temp_c) / (load.start_c - load.end_c))
        power_h = chiller_time_h(
            mass_kg=mass_kg,
            cp_kj_kg_k=load.cp_kj_kg_k,
            from_c=load.start_c,
            to_c=temp_c,
            air_c=air_c,
            power_kw=share * float(standing.device.power_kw or 0.0),
            conductance_w_k=conductance,
        )
        if not slow:
            return max(rated_h, power_h)
        return max(rated_h, power_h, gelled_slab_time_h(**layer, to_c=temp_c, **around))

    return _minutes_at(load, air_c, hours_at), (per_h, slab)


def _tops_m2(standing: Standing) -> float:
    return standing.vessel.length_mm * standing.vessel.width_mm / 1e6 * standing.vessels


def _rated_kg_per_h(parameters: ParameterSet, load: Load, standing: Standing, share: float) -> Figure:
    device = standing.device
    return figure(
        "chiller_kg_per_h",
        chiller_equivalent_kg,
        parameters=("cooling.rated_cp_kj_kg_k",),
        rated_kg=share * float(device.rated_kg or 0.0),
        rated_cp_kj_kg_k=parameters.value("cooling.rated_cp_kj_kg_k"),
        rated_from_c=float(device.rated_from_c or 0.0),
        rated_to_c=float(device.rated_to_c or 0.0),
        rated_h=float(device.rated_min or 0.0) / 60.0,
        cp_kj_kg_k=load.cp_kj_kg_k,
        from_c=load.start_c,
        to_c=load.end_c,
        time_h=1.0,
    )
