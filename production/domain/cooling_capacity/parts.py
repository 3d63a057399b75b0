"""The part of a draw in one device: time, ice, and the predicted curve on both sides."""

from __future__ import annotations

from production.domain.cooling_capacity.content import STEP_MIN, CoolingPart
from production.domain.cooling_capacity.devices import MinutesAt, in_chiller, in_sink
from production.domain.cooling_capacity.vessels import Load, Standing
from production.domain.errors import OutOfRange
from production.domain.formula import rounded_up_min
from production.domain.parameters import ParameterSet
from production.domain.thermal.cooling import heat_to_remove_kj, ice_outside_kg
from production.domain.workings import Figure, figure

CURVE_POINTS = 24


def part_of(
    parameters: ParameterSet, load: Load, standing: Standing, *, in_full: bool
) -> tuple[CoolingPart, MinutesAt] | None:
    """The part of a load in one device, with its slow side; none where the device cannot take it.

    Equation: the time to the last limit on the slow side, rounded up to the grid; a layer deeper than a chiller takes,
        or a device that is not colder than the limit, does not count.
    Units: parameters, load, standing (records), in_full (with curves and figures or not); returns
        minutes [min], ice [kg].
    Valid: start above the last limit.
    Errors: UnknownParameter.
    Source: thermal.cooling and its sources.
    """
    sink = standing.device.kind == "ice_sink"
    if not sink and standing.depth_mm > parameters.value("cooling.chiller_depth_mm") + 1e-9:
        return None
    cool = in_sink if sink else in_chiller
    try:
        expected, _ = cool(parameters, load, standing, slow=False)
        slow, figures = cool(parameters, load, standing, slow=True)
    except OutOfRange:  # the sink or the air is not colder than the limit
        return None
    ice = _ice(parameters, load, standing.litres) if sink else ()
    part = CoolingPart(
        device=standing.device.code,
        vessels=standing.vessels,
        litres=standing.litres,
        fill_l=standing.fill_l,
        depth_mm=standing.depth_mm,
        ice_kg=ice[-1].value if ice else 0.0,
        minutes=rounded_up_min(slow(load.end_c), step_min=STEP_MIN),
        expected=_curve(load, expected) if in_full else (),
        slow=_curve(load, slow) if in_full else (),
        figures=(*figures, *ice) if in_full else (),
    )
    return part, slow


def _curve(load: Load, minutes_at: MinutesAt) -> tuple[tuple[float, float], ...]:
    drop = (load.start_c - load.end_c) / CURVE_POINTS
    temps = [load.start_c - n * drop for n in range(CURVE_POINTS)] + [load.end_c]
    return tuple((minutes_at(temp), temp) for temp in temps)


def _ice(parameters: ParameterSet, load: Load, litres: float) -> tuple[Figure, Figure]:
    """The heat that has to go, and the ice that takes it."""
    heat = figure(
        "heat_to_remove_kj",
        heat_to_remove_kj,
        parameters=(load.cp_code,),
        mass_kg=load.mass_kg(litres),
        cp_kj_kg_k=load.cp_kj_kg_k,
        from_c=load.start_c,
        to_c=load.end_c,
    )
    ice = figure(
        "ice_kg",
        ice_outside_kg,
        parameters=("cooling.ice_temp_c", "cooling.melt_leaves_c", "cooling.ice_use_share"),
        heat_kj=heat.value,
        ice_c=parameters.value("cooling.ice_temp_c"),
        melt_leaves_c=parameters.value("cooling.melt_leaves_c"),
        use_share=parameters.low("cooling.ice_use_share"),
    )
    return heat, ice
