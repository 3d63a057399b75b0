"""Which devices take a draw at once through the critical limits, for how long, and with how much ice."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from production.domain.errors import OutOfRange
from production.domain.kitchen import Container, CoolingDevice, Product, Store, Week
from production.domain.limits import CoolingRule, predict_verdict, rule
from production.domain.parameters import ParameterSet
from production.domain.schedule.problem import CoolingMode
from production.domain.thermal.cooling import (
    chiller_equivalent_kg,
    chiller_time_h,
    conductance_w_k,
    cooling_rate_per_h,
    cooling_time_h,
    gelled_slab_time_h,
    heat_to_remove_kj,
    ice_outside_kg,
)
from production.domain.thermal.storage import (
    freeze_cube_time_h,
    freeze_load_kj_kg,
    freeze_power_time_h,
    freeze_slab_time_h,
    freezing_heat_kj_kg,
)
from production.domain.workings import Figure, figure

STEP_MIN = 5
CURVE_POINTS = 24
FREEZER_FILM_W_M2_K = 10.0  # moving air in a walk-in freezer, from memory
FREEZE_TO_C = -18.0  # common practice, no source
FREEZES_C = -0.3  # a broth may begin to freeze here; the models below know no freezing (common practice, no source)
THINNEST_LAYER_MM = 2.0  # a thinner layer counts as this one
_CHILLING_IS_THE_EVENT = "start of chilling"


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingPart:
    """The part of a draw in one device."""

    device: str
    vessels: int
    litres: float  # in all vessels of this device
    fill_l: float  # in the fullest vessel
    depth_mm: float
    ice_kg: float
    minutes: int
    expected: tuple[tuple[float, float], ...]  # (minute, degC) with the coefficients as they are
    slow: tuple[tuple[float, float], ...]  # the same on the slow side
    figures: tuple[Figure, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitMargin:
    """A stage of the cooling rule with the time predicted on the slow side."""

    stage: int
    limit_min: int
    predicted_min: float
    margin_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingChoice:
    """One way to cool a whole draw, predicted to keep every critical limit."""

    mode: CoolingMode
    start_temp_c: float
    parts: tuple[CoolingPart, ...]
    margins: tuple[LimitMargin, ...]  # of the slowest part


@dataclass(frozen=True, slots=True)
class _Load:
    """What has to be cooled; `name` is the word of its heat capacity among the coefficients."""

    name: str
    since_event_min: float  # from the rule's event, where it has one, to the first minute of cooling
    density_kg_l: float
    cp_kj_kg_k: float
    start_c: float
    end_c: float

    def mass_kg(self, litres: float) -> float:
        """Mass of a part of it."""
        return litres * self.density_kg_l


MinutesAt = Callable[[float], float]


def vessel_area_m2(*, container: Container, fill_l: float) -> float:
    """Side and base of a vessel up to the level of its content.

    Equation: round: pi D h + pi D2 / 4; box: 2 (L + W) h + L W; h = height x fill / brim.
    Units: container (record; measures [mm], brim [L]), fill_l [L]; returns [m2].
    Valid: straight walls.
    Errors: none.
    Source: geometry.
    """
    level = vessel_depth_mm(container=container, fill_l=fill_l) / 1000.0
    length, width = container.length_mm / 1000.0, container.width_mm / 1000.0
    if container.shape == "round":
        return math.pi * length * level + math.pi * length**2 / 4.0
    return 2.0 * (length + width) * level + length * width


def vessel_depth_mm(*, container: Container, fill_l: float) -> float:
    """Depth of the content of a vessel.

    Equation: height x fill / brim.
    Units: container (record; height [mm], brim [L]), fill_l [L]; returns [mm].
    Valid: straight walls.
    Errors: none.
    Source: geometry.
    """
    return container.height_mm * fill_l / container.brim_l


def cooling_choices(
    *, week: Week, parameters: ParameterSet, litres: float, density_kg_m3: float, start_c: float, glaze: bool
) -> tuple[CoolingChoice, ...]:
    """All ways to cool a draw at once that are predicted, on the slow side, to keep every critical limit.

    Equation: the volume goes into ice sinks alone, a chiller alone, or one filled first and the rest in the other; each
        part's time comes from the thermal model for its vessel and device; ways that miss a limit are left out. A part
        of a chiller's places counts on that part of its power, since another draw may stand beside it. Where a rule
        counts from an event before the chilling, the minutes of drawing off or portioning have gone by already.
    Units: week, parameters (records); litres [L], density_kg_m3 [kg/m3], start_c [degC], glaze (yes or no);
        returns choices with times [min], ice [kg].
    Valid: start above the final limit of the rule; no choice for a rule that asks for freezing, which is not modelled.
    Errors: UnknownParameter; PotwrightError for a rule that is not known.
    Source: thermal.cooling and its sources; limits from limits.rule.
    """
    law = rule(week.kitchen.cooling_rule)
    name = "cooling.glaze_cp_kj_kg_k" if glaze else "cooling.broth_cp_kj_kg_k"
    load = _Load(
        name=name,
        since_event_min=_since_event_min(week, law, litres, glaze=glaze),
        density_kg_l=density_kg_m3 / 1000.0,
        cp_kj_kg_k=parameters.value(name),
        start_c=start_c,
        end_c=_last_target_c(law),
    )
    if load.end_c < FREEZES_C:
        return ()
    choices: dict[tuple[tuple[str, int], ...], CoolingChoice] = {}
    for plan in _splits(week, litres):
        parts = [_part(week, parameters, load, device, share) for device, share in plan]
        choice = _choice(law, load, [part for part in parts if part is not None]) if None not in parts else None
        if choice is not None:
            choices.setdefault(choice.mode.places, choice)
    return tuple(choices.values())


def _since_event_min(week: Week, law: CoolingRule, litres: float, *, glaze: bool) -> float:
    """Minutes of hands-on work between the end of cooking and the cooling device."""
    if law.event == _CHILLING_IS_THE_EVENT:
        return 0.0
    tasks = week.kitchen.tasks
    if glaze:
        return STEP_MIN + tasks.portion_base_min + tasks.portion_min_per_l * litres
    return STEP_MIN + tasks.draw_base_min + tasks.draw_min_per_l * litres


def _last_target_c(law: CoolingRule) -> float:
    """The coldest temperature that the rule asks for."""
    return min(stage.to_c for stage in law.stages if stage.to_c is not None)


def _splits(week: Week, litres: float) -> Iterable[list[tuple[CoolingDevice, float]]]:
    sinks = [device for device in week.cooling_devices if device.kind == "ice_sink" and week.ice_machine is not None]
    chillers = [device for device in week.cooling_devices if device.kind == "blast_chiller"]
    orders = [
        *(sinks[n:] + sinks[:n] for n in range(len(sinks))),
        *(chillers[n:] + chillers[:n] for n in range(len(chillers))),
    ]
    if sinks and chillers:
        orders += [chillers + sinks, sinks + chillers, *([chiller, *sinks[::-1]] for chiller in chillers)]
    for order in orders:
        left, plan = litres, []
        for device in order:
            taken = min(left, device.places * device.vessel_fill_l)
            if taken > 1e-9:
                plan.append((device, taken))
                left -= taken
        if left <= 1e-9:
            yield plan


def _part(
    week: Week, parameters: ParameterSet, load: _Load, device: CoolingDevice, litres: float
) -> tuple[CoolingPart, MinutesAt] | None:
    vessel: Container = week.get("containers", device.vessel)
    vessels = math.ceil(litres / device.vessel_fill_l - 1e-9)
    fill = min(litres, device.vessel_fill_l)  # all but the last vessel are filled to their mark
    depth = vessel_depth_mm(container=vessel, fill_l=fill)
    if device.kind == "blast_chiller" and depth > parameters.value("cooling.chiller_depth_mm") + 1e-9:
        return None
    build = _sink if device.kind == "ice_sink" else _chiller
    try:
        expected, _ = build(parameters, load, device, vessel, litres, fill, depth, False)
        slow, figures = build(parameters, load, device, vessel, litres, fill, depth, True)
    except OutOfRange:  # the sink or the air is not colder than the limit
        return None
    minutes = slow(load.end_c)
    ice = _ice(parameters, load, litres, figures) if device.kind == "ice_sink" else 0.0
    return (
        CoolingPart(
            device=device.code,
            vessels=vessels,
            litres=litres,
            fill_l=fill,
            depth_mm=depth,
            ice_kg=ice,
            minutes=math.ceil(minutes / STEP_MIN - 1e-9) * STEP_MIN,
            expected=_curve(load, expected),
            slow=_curve(load, slow),
            figures=tuple(figures),
        ),
        slow,
    )


def _curve(load: _Load, minutes_at: MinutesAt) -> tuple[tuple[float, float], ...]:
    drop = (load.start_c - load.end_c) / CURVE_POINTS
    temps = [load.start_c - n * drop for n in range(CURVE_POINTS)] + [load.end_c]
    return tuple((minutes_at(temp), temp) for temp in temps)


def _sink(
    parameters: ParameterSet,
    load: _Load,
    device: CoolingDevice,
    vessel: Container,
    litres: float,
    fill_l: float,
    depth_mm: float,
    slow: bool,
) -> tuple[MinutesAt, list[Figure]]:
    """First-order cooling; the slow side of a stirred sink is that nobody stirs it."""
    if vessel.material != "steel":
        code = "cooling.u_plastic_w_m2_k"
    elif device.stirred and not slow:
        code = "cooling.u_steel_stirred_w_m2_k"
    else:
        code = "cooling.u_steel_still_w_m2_k"
    slowest = slow and not (device.stirred and vessel.material == "steel")
    bath = parameters.high("cooling.bath_temp_c") if slow else parameters.value("cooling.bath_temp_c")
    conductance = figure(
        "conductance_w_k",
        conductance_w_k,
        parameters=(code,),
        area_m2=vessel_area_m2(container=vessel, fill_l=fill_l),
        u_w_m2_k=parameters.low(code) if slowest else parameters.value(code),
    )
    rate = figure(
        "rate_per_h",
        cooling_rate_per_h,
        conductance_w_k=conductance.value,
        mass_kg=load.mass_kg(fill_l),
        cp_kj_kg_k=load.cp_kj_kg_k,
    )

    def minutes_at(temp_c: float) -> float:
        if temp_c >= load.start_c or temp_c <= bath:
            return 0.0 if temp_c >= load.start_c else math.inf
        return 60.0 * cooling_time_h(from_c=load.start_c, to_c=temp_c, sink_c=bath, rate_per_h=rate.value)

    whole = figure(
        "cooling_time_h",
        cooling_time_h,
        parameters=("cooling.bath_temp_c",),
        from_c=load.start_c,
        to_c=load.end_c,
        sink_c=bath,
        rate_per_h=rate.value,
    )
    return minutes_at, [conductance, rate, whole]


def _chiller(
    parameters: ParameterSet,
    load: _Load,
    device: CoolingDevice,
    vessel: Container,
    litres: float,
    fill_l: float,
    depth_mm: float,
    slow: bool,
) -> tuple[MinutesAt, list[Figure]]:
    """The longest of: power and surface, rating, and (on the slow side) conduction through a set layer."""
    top, bottom = "cooling.blast_top_w_m2_k", "cooling.blast_bottom_w_m2_k"
    films = [parameters.low(code) if slow else parameters.value(code) for code in (top, bottom)]
    air = float(device.air_temp_c or 0.0)
    mass = load.mass_kg(litres)
    vessels = math.ceil(litres / fill_l - 1e-9)
    area = vessel.length_mm * vessel.width_mm / 1e6 * vessels
    share = vessels / device.places
    layer_mm = max(depth_mm, THINNEST_LAYER_MM)
    conductance = conductance_w_k(area_m2=area, u_w_m2_k=sum(films))
    per_h = figure(
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
    slab = figure(
        "slab_time_h",
        gelled_slab_time_h,
        parameters=(top, bottom),
        depth_mm=layer_mm,
        from_c=load.start_c,
        to_c=load.end_c,
        air_c=air,
        top_w_m2_k=films[0],
        bottom_w_m2_k=films[1],
    )

    def minutes_at(temp_c: float) -> float:
        if temp_c >= load.start_c or temp_c <= air:
            return 0.0 if temp_c >= load.start_c else math.inf
        done = (load.start_c - temp_c) / (load.start_c - load.end_c)
        hours = [
            mass / per_h.value * done,
            chiller_time_h(
                mass_kg=mass,
                cp_kj_kg_k=load.cp_kj_kg_k,
                from_c=load.start_c,
                to_c=temp_c,
                air_c=air,
                power_kw=share * float(device.power_kw or 0.0),
                conductance_w_k=conductance,
            ),
        ]
        if slow:
            hours.append(
                gelled_slab_time_h(
                    depth_mm=layer_mm,
                    from_c=load.start_c,
                    to_c=temp_c,
                    air_c=air,
                    top_w_m2_k=films[0],
                    bottom_w_m2_k=films[1],
                )
            )
        return 60.0 * max(hours)

    return minutes_at, [per_h, slab]


def _ice(parameters: ParameterSet, load: _Load, litres: float, figures: list[Figure]) -> float:
    heat = figure(
        "heat_to_remove_kj",
        heat_to_remove_kj,
        parameters=(load.name,),
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
    figures.extend((heat, ice))
    return ice.value


def _choice(law: CoolingRule, load: _Load, parts: list[tuple[CoolingPart, MinutesAt]]) -> CoolingChoice | None:
    worst: dict[int, LimitMargin] = {}
    for _, minutes_at in parts:
        for each in predict_verdict(law, minutes_at, since_event_min=load.since_event_min):
            if not each.within:
                return None
            number = each.stage.number
            if each.limit_min is None or each.margin_min is None:
                continue
            if number not in worst or each.margin_min < worst[number].margin_min:
                worst[number] = LimitMargin(
                    stage=number,
                    limit_min=each.limit_min,
                    predicted_min=each.predicted_min,
                    margin_min=each.margin_min,
                )
    minutes = max(part.minutes for part, _ in parts)
    return CoolingChoice(
        mode=CoolingMode(
            name=" + ".join(part.device for part, _ in parts),
            places=tuple((part.device, part.vessels) for part, _ in parts),
            minutes=minutes,
            ice_kg=sum(part.ice_kg for part, _ in parts),
        ),
        start_temp_c=load.start_c,
        parts=tuple(part for part, _ in parts),
        margins=tuple(worst[stage] for stage in sorted(worst)),
    )


def largest_coolable_l(*, week: Week, parameters: ParameterSet, density_kg_m3: float, start_c: float) -> float:
    """Most litres of one draw that any combination of the kitchen's devices takes at once through the limits.

    Equation: the largest volume, to 0.1 L, for which cooling_choices is not empty and whose ice the full bin holds;
        found by halving between 0 and the sum of all places.
    Units: week, parameters (records); density_kg_m3 [kg/m3], start_c [degC]; returns [L], 0 when nothing can be cooled.
    Valid: devices empty and bin full.
    Errors: as cooling_choices.
    Source: own definition.
    """
    bin_kg = week.ice_machine.bin_kg if week.ice_machine else 0.0

    def fits(litres: float) -> bool:
        return any(
            choice.mode.ice_kg <= bin_kg
            for choice in cooling_choices(
                week=week,
                parameters=parameters,
                litres=litres,
                density_kg_m3=density_kg_m3,
                start_c=start_c,
                glaze=False,
            )
        )

    low, high = 0.0, sum(device.places * device.vessel_fill_l for device in week.cooling_devices)
    if not high or not fits(0.5):
        return 0.0
    if fits(high):
        return high
    while high - low > 0.1:
        middle = (low + high) / 2.0
        low, high = (middle, high) if fits(middle) else (low, middle)
    return math.floor(low * 10.0) / 10.0


def freeze_minutes(
    *,
    parameters: ParameterSet,
    product: Product,
    container: Container,
    store: Store,
    mass_kg: float,
    solids_percent: float,
    cell_edge_mm: float | None,
) -> float:
    """Time from the final cooling limit until a frozen product is through, on the slow side.

    Equation: the longer of Plank's time x its factor (cubes one layer of trays, packs as a slab of their smallest
        side) and load / spare power of the freezer.
    Units: product, container, store (records), parameters (record); mass_kg [kg], solids_percent [%],
        cell_edge_mm [mm] of a cube or none; returns [min].
    Valid: freezers colder than the freezing point; packs up to 500 mm.
    Errors: OutOfRange when the freezer is too warm.
    Source: Plank's equation and Chen 1985, both from memory; factor is common practice, no source.
    """
    protein = solids_percent / 100.0
    water = 1.0 - protein
    freezing_c = -0.5 if solids_percent < 10.0 else -4.0  # stock and glaze, class C, common practice, no source
    heat = freezing_heat_kj_kg(water_share=water, protein_share=protein)
    common = {
        "density_kg_m3": 1000.0,
        "heat_kj_kg": heat,
        "freezing_c": freezing_c,
        "air_c": store.air_temp_c,
        "film_w_m2_k": FREEZER_FILM_W_M2_K,
    }
    if product.kind == "cubes" and cell_edge_mm is not None:
        through_h = freeze_cube_time_h(size_mm=cell_edge_mm, **common)
    else:
        smallest = min(container.length_mm, container.width_mm, container.height_mm)
        through_h = freeze_slab_time_h(size_mm=smallest, **common)
    through_h *= parameters.high("storage.freeze_time_factor")
    load = freeze_load_kj_kg(
        from_c=5.0, to_c=FREEZE_TO_C, water_share=water, protein_share=protein, freezing_c=freezing_c
    )
    if store.spare_kw <= 0.0:
        raise OutOfRange(
            f"{store.name} has no spare power to freeze anything.",
            code="no-freezing-power",
            numbers={"spare_kw": store.spare_kw},
            remedy="Enter the freezer's spare power.",
        )
    return 60.0 * max(through_h, freeze_power_time_h(mass_kg=mass_kg, load_kj_kg=load, power_kw=store.spare_kw))
