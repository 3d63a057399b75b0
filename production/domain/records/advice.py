"""What still helps before a limit is lost, worked out on the slow side; the least work that makes it comes first."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from production.domain.cooling_capacity import vessel_depth_mm
from production.domain.cooling_capacity.devices import in_chiller, in_sink
from production.domain.cooling_capacity.vessels import LEAST_KG, Load, Standing
from production.domain.errors import OutOfRange
from production.domain.records.advice_content import Advice, AdviceInput, FreePlace, Help
from production.domain.records.advice_times import hours_to_target, surface_per_l
from production.domain.thermal.cooling import heat_to_remove_kj, ice_outside_kg
from production.domain.workings import Confidence

WORK: tuple[Help, ...] = ("stir", "add_ice", "move", "split")  # the least first (own order)
KG_PER_L = 1.0  # hot broth is up to 4 % lighter; this asks for a little too much ice
SAFE_FROM = 0.9  # a limit that is likelier kept is left alone; ice may always melt away unseen (own choice)
MOST_PARTS = 8
LEAST_DEPTH_MM = 20.0  # nobody carries a thinner layer level (own choice)


def advise(state: AdviceInput) -> tuple[Advice, ...]:
    """What to do now so that a limit that is in danger is kept; nothing where all is well, reached or lost.

    Equation: first-order cooling from the slow side of the forecast (its warmest now, slowest rate, warmest
        surroundings). Stir: rate x lowest stirred / highest still U of steel. Ice: heat balance of an ice bath, bath
        at its warmest. Split: rate x surface per litre of the smaller filling / that of now, the fewest parts that make
        it. Move: in_sink and in_chiller on their slow side. Where nobody stirs a set slab conducts below the
        temperature at which it may set. What comes too late is told only where it beats what doing nothing comes to.
    Units: state (record; [min], [degC], [L]); returns [min], [kg], [mm].
    Valid: one target; what cools stays as cold as it is; ice as much as the heat from now to the target takes.
    Errors: UnknownParameter.
    Source: thermal.cooling and its sources; surface per litre: first-order law, class B as a liquid, C where it sets.
    """
    if state.chance >= SAFE_FROM or state.now_min >= state.limit_min or state.temp_c <= state.target_c:
        return ()
    found = [*_stir(state), *_add_ice(state), *_move(state), *_split(state)]
    return tuple(sorted((each for each in found if each.makes_it or each.predicted_min < state.idle_min), key=_rank))


def _rank(advice: Advice) -> tuple[bool, float, float]:
    """What makes it, the least work first; then what comes too late, the soonest first."""
    work = float(WORK.index(advice.code))
    return (False, work, advice.predicted_min) if advice.makes_it else (True, advice.predicted_min, work)


def _advice(state: AdviceInput, code: Help, hours: float, cls: Confidence) -> Advice:
    predicted = state.now_min + 60.0 * hours
    return Advice(code=code, predicted_min=predicted, margin_min=state.limit_min - predicted, cls=cls)


def _stir(state: AdviceInput) -> Iterator[Advice]:
    if _stirring_helps(state):
        hours = hours_to_target(
            state,
            sink_c=state.forecast.surroundings_c.high,
            rate_per_h=_stirred_rate(state),
            fill_l=state.fill_l,
            liquid=True,
        )
        yield replace(_advice(state, "stir", hours, _trust(state)), stir=True)


def _stirring_helps(state: AdviceInput) -> bool:
    """In ice, through steel: a plastic wall is itself what holds the heat back."""
    in_ice = state.place == "ice_sink" and state.vessel.material == "steel"
    return in_ice and not state.stirred and state.may_be_liquid


def _trust(state: AdviceInput) -> Confidence:
    return "B" if state.is_liquid else "C"


def _stirred_rate(state: AdviceInput) -> float:
    known = state.parameters
    gain = known.low("cooling.u_steel_stirred_w_m2_k") / known.high("cooling.u_steel_still_w_m2_k")
    return state.forecast.rate_per_h.low * max(1.0, gain)


def _add_ice(state: AdviceInput) -> Iterator[Advice]:
    if state.place == "ice_sink":
        liquid = state.may_be_liquid
        hours = hours_to_target(
            state,
            sink_c=state.parameters.high("cooling.bath_temp_c"),
            rate_per_h=_stirred_rate(state) if _stirring_helps(state) else state.forecast.rate_per_h.low,
            fill_l=state.fill_l,
            liquid=liquid,
        )
        yield replace(_advice(state, "add_ice", hours, _trust(state)), ice_kg=_ice_kg(state), stir=liquid)


def _ice_kg(state: AdviceInput) -> float:
    known = state.parameters
    heat = heat_to_remove_kj(
        mass_kg=max(LEAST_KG, KG_PER_L * state.litres),
        cp_kj_kg_k=state.cp_kj_kg_k,
        from_c=state.temp_c,
        to_c=state.target_c,
    )
    return ice_outside_kg(
        heat_kj=heat,
        ice_c=known.value("cooling.ice_temp_c"),
        melt_leaves_c=known.value("cooling.melt_leaves_c"),
        use_share=known.low("cooling.ice_use_share"),
    )


def _move(state: AdviceInput) -> Iterator[Advice]:
    """To each device that holds it all; into chillers only as deep as they cool as rated."""
    for free in state.free:
        standing = Standing(free.device, free.vessel, state.litres)
        deepest = state.parameters.value("cooling.chiller_depth_mm") + 1e-9
        too_deep = free.device.kind == "blast_chiller" and standing.depth_mm > deepest
        if standing.vessels <= free.device.places and not too_deep:
            yield from _moved(state, free, standing)


def _moved(state: AdviceInput, free: FreePlace, standing: Standing) -> Iterator[Advice]:
    load = Load(state.glaze, 0.0, KG_PER_L, state.cp_kj_kg_k, state.temp_c, state.target_c)
    in_ice = free.device.kind == "ice_sink"
    try:
        minutes_at, _ = (in_sink if in_ice else in_chiller)(state.parameters, load, standing, slow=True)
    except OutOfRange:  # the device is not colder than the target
        return
    yield replace(
        _advice(state, "move", minutes_at(state.target_c) / 60.0, "B"),
        vessels=standing.vessels,
        depth_mm=standing.depth_mm,
        device=free.device.code,
        device_name=free.device.name,
        ice_kg=_ice_kg(state) if in_ice else 0.0,
    )


def _split(state: AdviceInput) -> Iterator[Advice]:
    """The fewest like vessels, filled alike, that make it; else as many as can be."""
    tried = list(_splits(state))
    yield from ([each for each in tried if each.makes_it] or tried[::-1])[:1]


def _splits(state: AdviceInput) -> Iterator[Advice]:
    in_ice, liquid = state.place == "ice_sink", state.stirred
    sink = state.parameters.high("cooling.bath_temp_c") if in_ice else state.forecast.surroundings_c.high
    for parts in range(2, MOST_PARTS + 1):
        fill = state.fill_l / parts
        depth, vessels = vessel_depth_mm(container=state.vessel, fill_l=fill), math.ceil(state.litres / fill - 1e-9)
        if depth < LEAST_DEPTH_MM or vessels > state.places:
            return
        rate = state.forecast.rate_per_h.low * surface_per_l(state, fill) / surface_per_l(state, state.fill_l)
        hours = hours_to_target(state, sink_c=sink, rate_per_h=rate, fill_l=fill, liquid=liquid)
        told = _advice(state, "split", hours, "B" if liquid or state.target_c >= state.sets_c else "C")
        yield replace(told, vessels=vessels, depth_mm=depth, ice_kg=_ice_kg(state) if in_ice else 0.0)
