"""The charge of one run in one pot: backwards from the litres wanted to solids, water, fill mark, times, yields."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

from production.domain.errors import DoesNotFit, NotAllowed, OutOfRange
from production.domain.kitchen import Formula, HeatSource, Ingredient, Pot, SecondDraw, Week
from production.domain.parameters import Material, ParameterSet
from production.domain.thermal.balance import (
    aqueous_kg,
    balance_gap_kg,
    draw_solids_percent,
    drawn_kg,
    evaporated_kg,
    proportion_kg,
    released_kg,
    second_liquid_kg,
    second_solids_percent,
    solids_for_drawn_kg,
    spent_solids_kg,
    volume_of_mass_l,
    water_mass_kg,
)
from production.domain.thermal.evaporation import (
    boil_evaporation_kg_h,
    covered_evaporation_kg_h,
    hold_power_kw,
    simmer_evaporation_kg_h,
)
from production.domain.thermal.extraction import corrected_t90_h, extracted_share, extraction_rate_factor
from production.domain.thermal.food import enthalpy_rise_kj_kg, food_cp_kj_kg_k, stock_density_kg_m3
from production.domain.thermal.heating import (
    WATER_CP_KJ_KG_K,
    base_flux_kw_m2,
    charge_capacity_kj_k,
    heat_up_frozen_min,
    heat_up_min,
    pot_loss_w_k,
)
from production.domain.thermal.pots import (
    fill_mark_mm,
    freeboard_mm,
    hot_level_mm,
    pot_area_m2,
    pot_volume_l,
    safe_cold_fill_l,
    solids_volume_l,
    thermal_rise_mm,
    water_to_cover_l,
)
from production.domain.thermal.properties import (
    air_pressure_kpa,
    boiling_point_c,
    saturation_temp_c,
    water_density_kg_m3,
    water_expansion_share,
)
from production.domain.thermal.reduction import (
    liquid_depth_mm,
    mass_at_depth_kg,
    reduced_mass_kg,
    reduction_mass_factor,
    reduction_min,
    reduction_transfer_min,
    removed_mass_percent,
    removed_volume_percent,
    removed_water_percent,
    seasoned_percent,
)
from production.domain.workings import Figure, figure

COLD_C = 4.0  # litres of finished product are counted cold (own definition)
T90_REFERENCE_C = 95.0  # temperature for which the extraction times are given (own definition)
T90_SHARE = 0.9  # the soluble share of a material is what is out after its t90 (own definition)
CP_AT_C = 40.0  # heat capacity of solids is taken half-way to the boil (own choice)
SURFACE_LIMIT_C = 97.0
_DENSITY_ROUNDS = 4
HAIR_L = 1e-6  # rounding of floating-point litres
_LID_SHARES: Mapping[str, tuple[str, ...]] = {
    "open": (),
    "ajar": ("evaporation.lid_ajar_share",),
    "on": ("evaporation.lid_on_share",),
}
SURFACE_PRESSURE_SHARE = 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeItem:
    """One weighing of a charge."""

    ingredient: str
    what: str  # solids, mirepoix, aromatics
    role: str
    mass_kg: float
    minutes_before_end: int | None  # None = with the load
    cook_minutes: int
    figure: str  # key of the figure that says how the mass came about


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """What is drawn off."""

    mass_kg: float
    cold_l: float
    hot_l: float
    hot_c: float
    solids_percent: float
    solids_bx: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Reduction:
    """A second draw boiled down."""

    liquor: Draw
    mass_kg: float
    litres: float
    solids_bx: float
    mass_factor: float
    reduce_min: float  # slow side
    depth_mm: float  # at the end
    scorch_from_kg: float  # below this mass the heat is cut
    salt_percent: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge:
    """A run's charge in a pot with everything that follows from it."""

    formula: str
    pot: str
    simmer_h: float
    second_simmer_h: float | None
    solids_kg: float
    water_kg: float
    water_l: float
    items: tuple[ChargeItem, ...]
    boil_c: float
    simmer_c: float
    solids_l: float
    cold_fill_l: float
    fill_mark_mm: float
    hot_mark_mm: float
    water_to_cover_l: float
    heat_up_min: float  # slow side
    second_heat_up_min: float
    simmer_kw: float
    evaporation_kg_h: float
    first: Draw
    salt_kg: float  # into the drawn broth
    refill_kg: float
    reduction: Reduction | None
    mass_in_kg: float
    mass_out_kg: float
    figures: tuple[Figure, ...]

    @property
    def balance_share(self) -> float:
        """How far mass out is from mass in, as a share of mass in."""
        return abs(self.mass_in_kg - self.mass_out_kg) / self.mass_in_kg


@dataclass(frozen=True, slots=True, kw_only=True)
class PotRange:
    """Litres of first draw, cold, that a pot can make of a formula."""

    pot: str
    smallest_l: float
    largest_l: float

    def takes(self, litres: float) -> bool:
        """Whether the pot can make this volume."""
        return self.smallest_l - HAIR_L <= litres <= self.largest_l + HAIR_L


@dataclass(slots=True)
class _Sheet:
    """Collects figures while a charge is worked out."""

    figures: list[Figure] = field(default_factory=list)

    def add(self, key: str, function: Callable[..., float], parameters: tuple[str, ...] = (), **inputs: float) -> float:
        """Work out a figure, keep it, and hand back its value."""
        made = figure(key, function, parameters=parameters, **inputs)
        self.figures.append(made)
        return made.value


@dataclass(frozen=True, slots=True)
class _Part:
    """A solid or addition with its coefficients, per kilogram of solids."""

    key: str  # the ingredient's code, numbered where a formula uses it more than once
    ingredient: Ingredient
    material: Material
    share: float
    what: str
    role: str
    minutes_before_end: int | None
    cook_minutes: int
    soluble_share: float  # at this run's time and temperature


@dataclass(frozen=True, slots=True)
class _Setting:
    """A formula in a pot: everything that does not depend on how much is made."""

    week: Week
    parameters: ParameterSet
    formula: Formula
    pot: Pot
    source: HeatSource
    diameter_m: float
    boil_c: float
    simmer_c: float
    evaporation_kg_h: float

    @property
    def efficiency(self) -> float:
        """Share of the input that reaches the food."""
        return self.parameters.value(f"heat.efficiency.{self.source.appliance}")

    @property
    def skim_h(self) -> float:
        """Hours between the boil and the simmer proper."""
        return self.week.kitchen.tasks.skim_min / 60.0


def _setting(week: Week, parameters: ParameterSet, formula: Formula, pot: Pot, sheet: _Sheet) -> _Setting:
    altitude = week.kitchen.altitude_m
    boil = sheet.add("boil_c", boiling_point_c, altitude_m=altitude)
    simmer = boil - formula.simmer_below_boil_k
    surface = min(
        simmer,
        SURFACE_LIMIT_C,
        saturation_temp_c(pressure_kpa=SURFACE_PRESSURE_SHARE * air_pressure_kpa(altitude_m=altitude)) - 0.01,
    )
    diameter = pot.inner_diameter_mm / 1000.0
    open_pot = sheet.add(
        "open_evaporation_kg_h",
        simmer_evaporation_kg_h,
        ("evaporation.simmer_flux_scale", "room.humidity_share"),
        surface_c=surface,
        inner_diameter_m=diameter,
        air_c=week.kitchen.room_temp_c,
        humidity_share=parameters.value("room.humidity_share"),
        altitude_m=altitude,
        flux_factor=parameters.value("evaporation.simmer_flux_scale"),
    )
    evaporation = sheet.add(
        "evaporation_kg_h",
        covered_evaporation_kg_h,
        _LID_SHARES[formula.lid],
        open_kg_h=open_pot,
        lid_share=math.prod(parameters.value(code) for code in _LID_SHARES[formula.lid]),
    )
    return _Setting(
        week=week,
        parameters=parameters,
        formula=formula,
        pot=pot,
        source=week.get("heat_sources", pot.heat_source),
        diameter_m=diameter,
        boil_c=boil,
        simmer_c=simmer,
        evaporation_kg_h=evaporation,
    )


def _parts(setting: _Setting, simmer_h: float, sheet: _Sheet) -> tuple[_Part, ...]:
    parameters, formula = setting.parameters, setting.formula
    ingredients = {each.code: each for each in setting.week.ingredients}
    factor = sheet.add(
        "extraction_rate_factor",
        extraction_rate_factor,
        ("extraction.activation_kj_mol",),
        temp_c=setting.simmer_c,
        reference_c=T90_REFERENCE_C,
        activation_kj_mol=parameters.value("extraction.activation_kj_mol"),
    )
    parts = []
    keys = _keys([*(each.ingredient for each in formula.solids), *(each.ingredient for each in formula.additions)])
    for solid in formula.solids:
        ingredient = ingredients[solid.ingredient]
        key = next(keys)
        material = parameters.material(ingredient.material)
        t90 = corrected_t90_h(t90_h=material.t90_h, rate_factor=factor)
        out = sheet.add(
            f"extracted_share.{key}",
            extracted_share,
            (f"material.{material.code}.t90_h",),
            time_h=simmer_h + setting.skim_h,
            t90_h=t90,
        )
        parts.append(
            _Part(
                key=key,
                ingredient=ingredient,
                material=material,
                share=solid.share,
                what="solids",
                role=solid.role,
                minutes_before_end=None,
                cook_minutes=0,
                soluble_share=material.soluble_share * out / T90_SHARE,
            )
        )
    for addition in formula.additions:
        ingredient = ingredients[addition.ingredient]
        material = parameters.material(ingredient.material)
        parts.append(
            _Part(
                key=next(keys),
                ingredient=ingredient,
                material=material,
                share=addition.kg_per_kg_solids,
                what=addition.kind,
                role="",
                minutes_before_end=addition.minutes_before_end,
                cook_minutes=addition.cook_minutes,
                soluble_share=material.soluble_share,
            )
        )
    return tuple(parts)


def _keys(ingredients: Iterable[str]) -> Iterator[str]:
    used: Counter[str] = Counter()
    for code in ingredients:
        used[code] += 1
        yield code if used[code] == 1 else f"{code}.{used[code]}"


def _weighted(parts: Iterable[_Part], value: Callable[[_Part], float]) -> float:
    return sum(part.share * value(part) for part in parts)


def _simmer_hours(setting: _Setting, simmer_h: float) -> float:
    return simmer_h + setting.skim_h


def _litres_per_kg_solids(setting: _Setting, parts: Iterable[_Part]) -> float:
    return _weighted(parts, lambda part: 1000.0 / part.material.density_kg_m3)


def _largest_solids_kg(setting: _Setting, parts: tuple[_Part, ...]) -> float:
    """Solids whose water stands at the freeboard at the first boil, or later with the additions in."""
    parameters, kitchen = setting.parameters, setting.week.kitchen
    water_density = water_mass_kg(volume_l=1.0, temp_c=kitchen.mains_water_c)
    warmed = setting.boil_c - kitchen.mains_water_c
    grown = 1.0 + water_expansion_share(cold_c=kitchen.mains_water_c, hot_c=setting.boil_c)
    hot_water_l = setting.formula.water_kg_per_kg_solids / water_density * grown
    solids_l = _litres_per_kg_solids(setting, [part for part in parts if part.what == "solids"])
    all_l = _litres_per_kg_solids(setting, parts)
    swollen = 1.0 + parameters.value("pot.solids_expansion_per_k") * warmed
    area = pot_area_m2(inner_diameter_m=setting.diameter_m)
    height = setting.pot.inner_height_mm
    at_boil = area * (height - parameters.value("pot.freeboard_boil_mm"))
    at_simmer = area * (height - parameters.value("pot.freeboard_simmer_mm"))
    still = 1.0 - parameters.value("pot.boil_swell_share")
    return min(
        at_boil * still / (hot_water_l + solids_l * swollen),
        at_simmer / (hot_water_l + all_l * swollen),
    )


def _smallest_solids_kg(setting: _Setting, parts: tuple[_Part, ...]) -> float:
    water_density = water_mass_kg(volume_l=1.0, temp_c=setting.week.kitchen.mains_water_c)
    per_kg = setting.formula.water_kg_per_kg_solids / water_density
    per_kg += _litres_per_kg_solids(setting, [part for part in parts if part.what == "solids"])
    brim = pot_volume_l(inner_diameter_m=setting.diameter_m, level_mm=setting.pot.inner_height_mm)
    return setting.pot.min_fill_share * brim / per_kg


def _drawn_of_solids(
    setting: _Setting, parts: tuple[_Part, ...], solids_kg: float, simmer_h: float
) -> tuple[float, float]:
    """Mass drawn and its dissolved solids in percent, forwards."""
    parameters = setting.parameters
    water = setting.formula.water_kg_per_kg_solids * (1.0 - parameters.value("skim.water_share"))
    solubles = _weighted(parts, lambda part: part.soluble_share)
    given = _weighted(parts, lambda part: part.material.water_net_share)
    liquid = solids_kg * (water + solubles + given) - setting.evaporation_kg_h * _simmer_hours(setting, simmer_h)
    cling = solids_kg * _weighted(parts, lambda part: part.material.cling_share)
    drawn = liquid - cling - parameters.value("holdup.equipment_kg")
    return drawn, 100.0 * solids_kg * solubles / liquid if drawn > 0.0 else 0.0


def _drawn_l_of_solids(setting: _Setting, parts: tuple[_Part, ...], solids_kg: float, simmer_h: float) -> float:
    """Litres drawn, cold; zero or less where the pot boils dry."""
    drawn, percent = _drawn_of_solids(setting, parts, solids_kg, simmer_h)
    if drawn <= 0.0:
        return drawn
    return 1000.0 * drawn / stock_density_kg_m3(solids_percent=percent, temp_c=COLD_C)


def pot_allowed(*, formula: Formula, pot: Pot) -> bool:
    """Whether a formula may be cooked in a pot.

    Equation: a pot that names no formulas takes all of them.
    Units: no quantities; formula, pot (records); returns a yes or no.
    Valid: every pot.
    Errors: none.
    Source: own definition.
    """
    return not pot.formulas or formula.code in pot.formulas


def pot_ranges(*, week: Week, parameters: ParameterSet, formula: Formula) -> tuple[PotRange, ...]:
    """Litres of first draw that each allowed pot can make, smallest pot first.

    Equation: largest: water and solids stand at the freeboard at the boil, drawn after the longest simmer; smallest:
        least fill of the pot, drawn after the shortest simmer. A pot is left out where nothing lies between the two,
        where its heat source does not hold the simmer, or where a working does not cover the charge.
    Units: week, formula (records); parameters (record); returns litres [L], cold.
    Valid: a week that passed its reader.
    Errors: UnknownParameter for an unknown material.
    Source: geometry and mass balance; freeboard is common practice, no source.
    """
    return _pot_ranges(week, parameters, formula)


@lru_cache(maxsize=128)
def _pot_ranges(week: Week, parameters: ParameterSet, formula: Formula) -> tuple[PotRange, ...]:
    """Kept, since planning asks for the same formula again and again."""
    found = []
    for pot in week.pots:
        if not pot_allowed(formula=formula, pot=pot):
            continue
        try:
            setting = _setting(week, parameters, formula, pot, _Sheet())
            smallest, largest = _drawn_range_l(setting)
            held = _holds_simmer(setting)
        except OutOfRange:  # a simmer or a charge that the workings do not cover
            continue
        if 0.0 < smallest <= largest and held:
            found.append(PotRange(pot=pot.code, smallest_l=smallest, largest_l=largest))
    return tuple(sorted(found, key=lambda each: (each.largest_l, each.pot)))


def _drawn_range_l(setting: _Setting) -> tuple[float, float]:
    formula = setting.formula
    at_most = _parts(setting, formula.simmer_max_h, _Sheet())
    at_least = _parts(setting, formula.simmer_min_h, _Sheet())
    largest = _drawn_l_of_solids(setting, at_most, _largest_solids_kg(setting, at_most), formula.simmer_max_h)
    smallest = _drawn_l_of_solids(setting, at_least, _smallest_solids_kg(setting, at_least), formula.simmer_min_h)
    return smallest, largest


def _holds_simmer(setting: _Setting) -> bool:
    """Whether the heat source keeps the simmer in a pot full to the brim."""
    brim_l = pot_volume_l(inner_diameter_m=setting.diameter_m, level_mm=setting.pot.inner_height_mm)
    return _simmer_kw(setting, brim_l, _Sheet()) <= setting.source.input_kw


def least_reduction_l(*, week: Week, parameters: ParameterSet, formula: Formula, drawn_l: float) -> float:
    """Litres of reduction that a run of this size gives in the least favourable pot and simmer.

    Equation: minimum over the pots that can make it and over shortest and longest simmer; pots that boil dry on the
        second draw do not count.
    Units: week, formula, parameters (records); drawn_l [L] first draw, cold; returns [L], 0 where no pot gives any.
    Valid: formulas with a second draw and a strength of reduction.
    Errors: DoesNotFit `no-second-draw` for a formula without one.
    Source: mass balance.
    """
    if formula.second_draw is None or formula.reduction_bx is None:
        raise _no_second_draw(formula)
    found = []
    for each in pot_ranges(week=week, parameters=parameters, formula=formula):
        if not each.takes(drawn_l):
            continue
        for simmer_h in (formula.simmer_min_h, formula.simmer_max_h):
            try:
                charge = charge_run(
                    week=week,
                    parameters=parameters,
                    formula=formula,
                    pot=week.get("pots", each.pot),
                    drawn_l=drawn_l,
                    simmer_h=simmer_h,
                    second=True,
                )
            except (DoesNotFit, OutOfRange):
                continue
            if charge.reduction is not None:
                found.append(charge.reduction.litres)
    return min(found, default=0.0)


def _no_second_draw(formula: Formula) -> DoesNotFit:
    return DoesNotFit(
        f"{formula.name} has no second draw.",
        code="no-second-draw",
        numbers={"formula": formula.code},
        remedy="Enter the second draw and the strength of the reduction in the formula.",
    )


def charge_run(
    *,
    week: Week,
    parameters: ParameterSet,
    formula: Formula,
    pot: Pot,
    drawn_l: float,
    simmer_h: float,
    second: bool,
    second_simmer_h: float | None = None,
) -> Charge:
    """Work out the charge that draws a wanted volume, and everything that follows from it.

    Equation: solids from the inverse first-draw balance (solids_for_drawn_kg), water by the formula's ratio, then
        forwards: fill, heat-up, evaporation, first draw, second draw, reduction; every number is kept as a figure.
        The refill is the formula's, or what leaves the freeboard at the boil where that is less.
    Units: week, parameters, formula, pot (records); drawn_l [L] cold, simmer_h [h], second (yes or no),
        second_simmer_h [h]; returns a Charge with masses [kg], volumes [L], levels [mm], times [min].
    Valid: volumes within pot_ranges for the pot.
    Errors: DoesNotFit `pot-too-small` when it does not go into the pot, `no-second-draw` when the formula has none.
    Source: thermal/ and its sources; coefficients from the parameter set.
    """
    sheet = _Sheet()
    setting = _setting(week, parameters, formula, pot, sheet)
    parts = _parts(setting, simmer_h, sheet)
    solids_kg = _solids_for(setting, parts, drawn_l, simmer_h, sheet)
    water_kg = sheet.add("water_kg", proportion_kg, mass_kg=solids_kg, ratio_kg_kg=formula.water_kg_per_kg_solids)
    level = _levels(setting, parts, solids_kg, water_kg, sheet)
    first, carried_kg, fat_kg, spent_kg, skim_kg, gone_kg = _first_draw(
        setting, parts, solids_kg, water_kg, simmer_h, sheet
    )
    salt_kg = 0.0
    if formula.salt_share:
        salt_kg = sheet.add("salt_kg", proportion_kg, mass_kg=first.mass_kg, ratio_kg_kg=formula.salt_share)
    mass_in = water_kg + solids_kg * _weighted(parts, lambda _: 1.0)
    holdup = parameters.value("holdup.equipment_kg")
    sheet.add(
        "balance_gap_kg",
        balance_gap_kg,
        in_kg=mass_in,
        drawn_kg=first.mass_kg,
        spent_kg=spent_kg,
        fat_kg=fat_kg,
        evaporated_kg=gone_kg,
        skim_kg=skim_kg,
        holdup_kg=holdup,
    )
    reduction, refill_kg, second_heat = None, 0.0, 0.0
    if second:
        if formula.second_draw is None or formula.reduction_bx is None:
            raise _no_second_draw(formula)
        second_simmer_h = formula.second_draw.simmer_max_h if second_simmer_h is None else second_simmer_h
        refill_kg = _refill_kg(setting, parts, solids_kg, first, carried_kg, formula.second_draw, sheet)
        reduction = _reduction(setting, parts, solids_kg, first, carried_kg, refill_kg, second_simmer_h, sheet)
        second_heat = _heat_up(setting, (), solids_kg, refill_kg, "second_heat_up_min", sheet)
    return Charge(
        formula=formula.code,
        pot=pot.code,
        simmer_h=simmer_h,
        second_simmer_h=second_simmer_h if second else None,
        solids_kg=solids_kg,
        water_kg=water_kg,
        items=tuple(
            ChargeItem(
                ingredient=part.ingredient.code,
                what=part.what,
                role=part.role,
                mass_kg=sheet.add(f"mass_kg.{part.key}", proportion_kg, mass_kg=solids_kg, ratio_kg_kg=part.share),
                minutes_before_end=part.minutes_before_end,
                cook_minutes=part.cook_minutes,
                figure=f"mass_kg.{part.key}",
            )
            for part in parts
        ),
        boil_c=setting.boil_c,
        simmer_c=setting.simmer_c,
        heat_up_min=_heat_up(setting, parts, solids_kg, water_kg, "heat_up_min", sheet),
        second_heat_up_min=second_heat,
        simmer_kw=_simmer_kw(setting, level["cold_fill_l"], sheet),
        evaporation_kg_h=setting.evaporation_kg_h,
        first=first,
        salt_kg=salt_kg,
        refill_kg=refill_kg,
        reduction=reduction,
        mass_in_kg=mass_in,
        mass_out_kg=first.mass_kg + spent_kg + fat_kg + gone_kg + skim_kg + holdup,
        figures=tuple(sheet.figures),
        **level,
    )


def _solids_for(setting: _Setting, parts: tuple[_Part, ...], drawn_l: float, simmer_h: float, sheet: _Sheet) -> float:
    """Raw solids that draw the wanted litres; the density of the stock follows from its strength in a few rounds."""
    density = 1000.0
    for _ in range(_DENSITY_ROUNDS):
        solids_kg = solids_for_drawn_kg(**_inverse_inputs(setting, parts, drawn_l * density / 1000.0, simmer_h))
        _, percent = _drawn_of_solids(setting, parts, solids_kg, simmer_h)
        density = stock_density_kg_m3(solids_percent=percent, temp_c=COLD_C)
    return sheet.add(
        "solids_kg",
        solids_for_drawn_kg,
        ("skim.water_share", "holdup.equipment_kg", *_coefficients(parts, "water_net_share", "cling_share")),
        **_inverse_inputs(setting, parts, drawn_l * density / 1000.0, simmer_h),
    )


def _inverse_inputs(setting: _Setting, parts: tuple[_Part, ...], wanted_kg: float, simmer_h: float) -> dict[str, float]:
    parameters = setting.parameters
    return {
        "wanted_kg": wanted_kg,
        "water_ratio_kg_kg": setting.formula.water_kg_per_kg_solids,
        "skim_share": parameters.value("skim.water_share"),
        "soluble_share": _weighted(parts, lambda part: part.soluble_share),
        "water_net_share": _weighted(parts, lambda part: part.material.water_net_share),
        "cling_share": _weighted(parts, lambda part: part.material.cling_share),
        "evaporated_kg": setting.evaporation_kg_h * _simmer_hours(setting, simmer_h),
        "holdup_kg": parameters.value("holdup.equipment_kg"),
    }


def _coefficients(parts: Iterable[_Part], *names: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(f"material.{part.material.code}.{name}" for part in parts for name in names))


def _levels(
    setting: _Setting, parts: tuple[_Part, ...], solids_kg: float, water_kg: float, sheet: _Sheet
) -> dict[str, Any]:
    parameters, kitchen, pot = setting.parameters, setting.week.kitchen, setting.pot
    loaded = [part for part in parts if part.what == "solids"]
    density = solids_kg / sum(part.share * solids_kg / part.material.density_kg_m3 for part in loaded)
    names = _coefficients(loaded, "density_kg_m3")
    solids_l = sheet.add("solids_l", solids_volume_l, names, mass_kg=solids_kg, density_kg_m3=density)
    water_l = sheet.add(
        "water_l",
        volume_of_mass_l,
        mass_kg=water_kg,
        density_kg_m3=water_density_kg_m3(temp_c=kitchen.mains_water_c),
    )
    common = {"inner_diameter_m": setting.diameter_m, "liquid_l": water_l, "solids_l": solids_l}
    mark = sheet.add("fill_mark_mm", fill_mark_mm, names, height_mm=pot.inner_height_mm, **common)
    hot = sheet.add(
        "hot_level_mm",
        hot_level_mm,
        ("pot.boil_swell_share", "pot.solids_expansion_per_k"),
        cold_c=kitchen.mains_water_c,
        hot_c=setting.boil_c,
        swell_share=parameters.value("pot.boil_swell_share"),
        solids_expansion_per_k=parameters.value("pot.solids_expansion_per_k"),
        **common,
    )
    sheet.add(
        "thermal_rise_mm",
        thermal_rise_mm,
        volume_l=water_l,
        inner_diameter_m=setting.diameter_m,
        cold_c=kitchen.mains_water_c,
        hot_c=setting.boil_c,
    )
    free = sheet.add(
        "freeboard_mm",
        freeboard_mm,
        ("pot.freeboard_boil_mm",),
        height_mm=pot.inner_height_mm,
        hot_level_mm=hot,
    )
    cover = sheet.add(
        "water_to_cover_l",
        water_to_cover_l,
        ("pot.cover_mm", *_coefficients(loaded, "packing_share")),
        mass_kg=solids_kg,
        density_kg_m3=density,
        packing_share=solids_l / sum(_heap_l(part, solids_kg) for part in loaded),
        inner_diameter_m=setting.diameter_m,
        cover_mm=parameters.value("pot.cover_mm"),
    )
    return {
        "water_l": water_l,
        "solids_l": solids_l,
        "cold_fill_l": water_l + solids_l,
        "fill_mark_mm": mark,
        "hot_mark_mm": free,
        "water_to_cover_l": cover,
    }


def _heap_l(part: _Part, solids_kg: float) -> float:
    return 1000.0 * part.share * solids_kg / part.material.density_kg_m3 / part.material.packing_share


def _first_draw(
    setting: _Setting, parts: tuple[_Part, ...], solids_kg: float, water_kg: float, simmer_h: float, sheet: _Sheet
) -> tuple[Draw, float, float, float, float, float]:
    parameters = setting.parameters
    gone = sheet.add(
        "evaporated_kg",
        evaporated_kg,
        ("evaporation.simmer_flux_scale",),
        evaporation_kg_h=setting.evaporation_kg_h,
        time_h=_simmer_hours(setting, simmer_h),
    )
    skim = sheet.add(
        "skim_kg",
        released_kg,
        ("skim.water_share",),
        mass_kg=water_kg,
        yield_share=parameters.value("skim.water_share"),
    )
    solubles = sum(
        sheet.add(
            f"solubles_kg.{part.key}",
            released_kg,
            (f"material.{part.material.code}.soluble_share",),
            mass_kg=part.share * solids_kg,
            yield_share=part.soluble_share,
        )
        for part in parts
    )
    given = solids_kg * _weighted(parts, lambda part: part.material.water_net_share)
    cling = solids_kg * _weighted(parts, lambda part: part.material.cling_share)
    fat = sum(released_kg(mass_kg=part.share * solids_kg, yield_share=part.material.fat_share) for part in parts)
    spent = sum(
        spent_solids_kg(
            mass_kg=part.share * solids_kg,
            soluble_share=part.soluble_share,
            fat_share=part.material.fat_share,
            water_net_share=part.material.water_net_share,
            cling_share=part.material.cling_share,
        )
        for part in parts
    )
    liquid = sheet.add(
        "first_liquid_kg",
        aqueous_kg,
        _coefficients(parts, "water_net_share"),
        water_kg=water_kg,
        topup_kg=0.0,
        solids_water_kg=given,
        solubles_kg=solubles,
        evaporated_kg=gone,
        skim_kg=skim,
    )
    drawn = sheet.add(
        "first_drawn_kg",
        drawn_kg,
        ("holdup.equipment_kg", *_coefficients(parts, "cling_share")),
        liquid_kg=liquid,
        cling_kg=cling,
        holdup_kg=parameters.value("holdup.equipment_kg"),
    )
    percent = sheet.add("first_solids_percent", draw_solids_percent, solubles_kg=solubles, liquid_kg=liquid)
    draw = _draw("first", parameters, drawn, percent, setting.simmer_c, sheet)
    return draw, cling, fat, spent, skim, gone


def _draw(name: str, parameters: ParameterSet, mass_kg: float, percent: float, hot_c: float, sheet: _Sheet) -> Draw:
    cold = sheet.add(f"{name}_density_cold_kg_m3", stock_density_kg_m3, solids_percent=percent, temp_c=COLD_C)
    hot = stock_density_kg_m3(solids_percent=percent, temp_c=hot_c)
    return Draw(
        mass_kg=mass_kg,
        cold_l=sheet.add(f"{name}_cold_l", volume_of_mass_l, mass_kg=mass_kg, density_kg_m3=cold),
        hot_l=sheet.add(f"{name}_hot_l", volume_of_mass_l, mass_kg=mass_kg, density_kg_m3=hot),
        hot_c=hot_c,
        solids_percent=percent,
        solids_bx=percent / parameters.value("brix.protein_per_bx"),
    )


def _reduction(
    setting: _Setting,
    parts: tuple[_Part, ...],
    solids_kg: float,
    first: Draw,
    carried_kg: float,
    refill_kg: float,
    second_simmer_h: float,
    sheet: _Sheet,
) -> Reduction:
    parameters, formula = setting.parameters, setting.formula
    second_solids = solids_kg * sum(
        part.share * part.soluble_share * part.material.second_soluble_share for part in parts if part.what == "solids"
    )
    gone = sheet.add(
        "second_evaporated_kg",
        evaporated_kg,
        ("evaporation.simmer_flux_scale",),
        evaporation_kg_h=setting.evaporation_kg_h,
        time_h=second_simmer_h,
    )
    inputs = {
        "refill_kg": refill_kg,
        "carried_kg": carried_kg,
        "new_solids_kg": second_solids,
        "evaporated_kg": gone,
    }
    liquid = sheet.add("second_liquid_kg", second_liquid_kg, (), **inputs)
    percent = sheet.add(
        "second_solids_percent",
        second_solids_percent,
        _coefficients(parts, "second_soluble_share"),
        carried_percent=first.solids_percent,
        **inputs,
    )
    drawn = sheet.add(
        "second_drawn_kg",
        drawn_kg,
        ("holdup.equipment_kg", *_coefficients(parts, "cling_share")),
        liquid_kg=liquid,
        cling_kg=carried_kg,
        holdup_kg=parameters.value("holdup.equipment_kg"),
    )
    liquor = _draw("second", parameters, drawn, percent, setting.simmer_c, sheet)
    assert formula.reduction_bx is not None  # noqa: S101  (charge_run has refused it before)
    return _boil_down(setting, liquor, formula.reduction_bx, sheet)


def _refill_kg(
    setting: _Setting,
    parts: tuple[_Part, ...],
    solids_kg: float,
    first: Draw,
    carried_kg: float,
    second: SecondDraw,
    sheet: _Sheet,
) -> float:
    """The formula's refill, or what leaves the freeboard at the boil; solids count as raw, what clings as water."""
    parameters, kitchen = setting.parameters, setting.week.kitchen
    grown = 1.0 + parameters.value("pot.solids_expansion_per_k") * (setting.boil_c - kitchen.mains_water_c)
    carried_l = carried_kg / water_mass_kg(volume_l=1.0, temp_c=setting.boil_c)
    room_l = sheet.add(
        "refill_room_l",
        safe_cold_fill_l,
        ("pot.freeboard_boil_mm", "pot.boil_swell_share", "pot.solids_expansion_per_k"),
        inner_diameter_m=setting.diameter_m,
        height_mm=setting.pot.inner_height_mm,
        freeboard_mm=parameters.value("pot.freeboard_boil_mm"),
        swell_share=parameters.value("pot.boil_swell_share"),
        solids_l=solids_kg * _litres_per_kg_solids(setting, parts) * grown + carried_l,
        cold_c=kitchen.mains_water_c,
        hot_c=setting.boil_c,
    )
    wanted_kg = second.refill_share * first.mass_kg
    if wanted_kg > water_mass_kg(volume_l=room_l, temp_c=kitchen.mains_water_c):
        return sheet.add("refill_kg", water_mass_kg, volume_l=room_l, temp_c=kitchen.mains_water_c)
    return sheet.add("refill_kg", proportion_kg, mass_kg=first.mass_kg, ratio_kg_kg=second.refill_share)


def _boil_down(setting: _Setting, liquor: Draw, to_bx: float, sheet: _Sheet) -> Reduction:
    parameters, formula = setting.parameters, setting.formula
    brix = {"from_bx": liquor.solids_bx, "to_bx": to_bx}
    names = ("brix.protein_per_bx",)
    factor = sheet.add("reduction_factor", reduction_mass_factor, names, **brix)
    mass = sheet.add("reduction_kg", reduced_mass_kg, names, mass_kg=liquor.mass_kg, **brix)
    percent = to_bx * parameters.value("brix.protein_per_bx")
    dense = stock_density_kg_m3(solids_percent=percent, temp_c=20.0)
    thin = stock_density_kg_m3(solids_percent=liquor.solids_percent, temp_c=20.0)
    litres = sheet.add("reduction_l", volume_of_mass_l, names, mass_kg=mass, density_kg_m3=dense)
    sheet.add("removed_mass_percent", removed_mass_percent, names, **brix)
    sheet.add("removed_volume_percent", removed_volume_percent, names, from_kg_m3=thin, to_kg_m3=dense, **brix)
    sheet.add("removed_water_percent", removed_water_percent, names, **brix)
    salt = sheet.add(
        "reduction_salt_percent", seasoned_percent, before_percent=100.0 * formula.salt_share, mass_factor=factor
    )
    depth = sheet.add(
        "reduction_depth_mm", liquid_depth_mm, mass_kg=mass, density_kg_m3=dense, inner_diameter_m=setting.diameter_m
    )
    scorch_mass = mass_at_depth_kg(
        depth_mm=parameters.value("reduction.scorch_depth_mm"),
        density_kg_m3=dense,
        inner_diameter_m=setting.diameter_m,
    )
    scorch_mass = max(scorch_mass, liquor.mass_kg * liquor.solids_bx / parameters.value("reduction.scorch_bx"))
    scorch_from = min(liquor.mass_kg, max(mass, scorch_mass))
    return Reduction(
        liquor=liquor,
        mass_kg=mass,
        litres=litres,
        solids_bx=to_bx,
        mass_factor=factor,
        reduce_min=_reduce_min(setting, liquor, mass, scorch_from, sheet),
        depth_mm=depth,
        scorch_from_kg=scorch_from,
        salt_percent=salt,
    )


def _reduce_min(setting: _Setting, liquor: Draw, mass_kg: float, scorch_from_kg: float, sheet: _Sheet) -> float:
    parameters, kitchen = setting.parameters, setting.week.kitchen
    efficiency = parameters.low(f"heat.efficiency.{setting.source.appliance}")
    loss = pot_loss_w_k(
        inner_diameter_m=setting.diameter_m,
        level_mm=min(setting.pot.inner_height_mm, liquor.cold_l / _area(setting)),
        loss_w_m2_k=parameters.high("heat.pot_loss_w_m2_k"),
    )
    names = (f"heat.efficiency.{setting.source.appliance}", "heat.pot_loss_w_m2_k")
    common = {
        "efficiency_share": efficiency,
        "loss_w_k": loss,
        "air_c": kitchen.room_temp_c,
        "altitude_m": kitchen.altitude_m,
    }
    full = sheet.add("reduction_kg_h", boil_evaporation_kg_h, names, power_kw=setting.source.input_kw, **common)
    flux = sheet.add(
        "base_flux_kw_m2",
        base_flux_kw_m2,
        names,
        power_kw=setting.source.input_kw,
        efficiency_share=efficiency,
        base_diameter_m=setting.diameter_m,
    )
    gentle_kw = setting.source.input_kw * min(1.0, parameters.value("reduction.scorch_base_flux_kw_m2") / flux)
    gentle = sheet.add(
        "reduction_gentle_kg_h",
        boil_evaporation_kg_h,
        (*names, "reduction.scorch_base_flux_kw_m2"),
        power_kw=gentle_kw,
        **common,
    )
    back_to_boil = sheet.add(
        "reduction_heat_up_min",
        heat_up_min,
        names[:1],
        capacity_kj_k=liquor.mass_kg * WATER_CP_KJ_KG_K,
        from_c=liquor.hot_c,
        to_c=setting.boil_c,
        power_kw=setting.source.input_kw,
        efficiency_share=efficiency,
        loss_w_k=loss,
        air_c=kitchen.room_temp_c,
    )
    if scorch_from_kg <= mass_kg:
        return back_to_boil + sheet.add(
            "reduce_min", reduction_min, mass_kg=liquor.mass_kg, end_mass_kg=mass_kg, evaporation_kg_h=full
        )
    return back_to_boil + sheet.add(
        "reduce_min",
        reduction_transfer_min,
        mass_kg=liquor.mass_kg,
        transfer_mass_kg=scorch_from_kg,
        end_mass_kg=mass_kg,
        first_kg_h=full,
        second_kg_h=gentle,
    )


def _area(setting: _Setting) -> float:
    """Area in m2, which is also litres per millimetre of level."""
    return pot_area_m2(inner_diameter_m=setting.diameter_m)


def _heat_up(
    setting: _Setting, parts: tuple[_Part, ...], solids_kg: float, water_kg: float, key: str, sheet: _Sheet
) -> float:
    """Minutes to the boil on the slow side; a refill (no parts) warms the spent solids as if they were cold."""
    parameters, kitchen = setting.parameters, setting.week.kitchen
    start = kitchen.mains_water_c
    loaded = [part for part in parts if part.what == "solids"]
    cp = 3.3  # spent solids, wet (common practice, no source)
    frozen_kj, warm = 0.0, 0.0
    if loaded:
        cp = _weighted(loaded, lambda part: _cp(part.material))
        frozen = [part for part in loaded if part.ingredient.charge_temp_c <= part.material.freezing_c]
        frozen_kj = solids_kg * _weighted(
            frozen,
            lambda part: enthalpy_rise_kj_kg(
                from_c=part.ingredient.charge_temp_c,
                to_c=start,
                water_share=part.material.water_share,
                protein_share=part.material.protein_share,
                freezing_c=part.material.freezing_c,
            ),
        )
        warm = solids_kg * sum(
            part.share * _cp(part.material) * (part.ingredient.charge_temp_c - start)
            for part in loaded
            if part not in frozen
        )
    capacity = charge_capacity_kj_k(
        water_kg=water_kg,
        solids_kg=solids_kg,
        solids_cp_kj_kg_k=cp,
        pot_kg=setting.pot.mass_kg,
        pot_cp_kj_kg_k=parameters.value(f"thermal.{setting.pot.material}_cp_kj_kg_k"),
    )
    return sheet.add(
        key,
        heat_up_frozen_min,
        (f"heat.efficiency.{setting.source.appliance}",),
        frozen_heat_kj=frozen_kj,
        capacity_kj_k=capacity,
        from_c=max(0.0, start + warm / capacity),
        to_c=setting.boil_c,
        power_kw=setting.source.input_kw,
        efficiency_share=parameters.low(f"heat.efficiency.{setting.source.appliance}"),
        loss_w_k=0.0,
        air_c=kitchen.room_temp_c,
    )


def _cp(material: Material) -> float:
    return food_cp_kj_kg_k(
        temp_c=CP_AT_C,
        water_share=material.water_share,
        protein_share=material.protein_share,
        lipid_share=material.lipid_share,
        ash_share=material.ash_share,
        carbohydrate_share=material.carbohydrate_share,
        fibre_share=material.fibre_share,
    )


def _simmer_kw(setting: _Setting, fill_l: float, sheet: _Sheet) -> float:
    parameters = setting.parameters
    loss = pot_loss_w_k(
        inner_diameter_m=setting.diameter_m,
        level_mm=min(setting.pot.inner_height_mm, fill_l / _area(setting)),
        loss_w_m2_k=parameters.value("heat.pot_loss_w_m2_k"),
    )
    return sheet.add(
        "simmer_kw",
        hold_power_kw,
        (f"heat.efficiency.{setting.source.appliance}", "heat.pot_loss_w_m2_k"),
        evaporation_kg_h=setting.evaporation_kg_h,
        surface_c=setting.simmer_c,
        loss_w_k=loss,
        air_c=setting.week.kitchen.room_temp_c,
        efficiency_share=setting.efficiency,
    )


def rounded_up_min(minutes: float, *, step_min: int) -> int:
    """Whole grid minutes, never fewer than needed.

    Equation: ceil(minutes / step) x step, at least one step.
    Units: minutes [min], step_min [min]; returns [min].
    Valid: minutes >= 0.
    Errors: none.
    Source: own definition; durations on the slow side.
    """
    return max(step_min, math.ceil(minutes / step_min - 1e-9) * step_min)


def fill_role(*, week: Week, formula_code: str, role: str, ingredient_code: str, version: int) -> Week:
    """The week with another ingredient in a role of a formula; yields and times follow from its material.

    Equation: the formula's solids with that role's ingredient replaced, under a new version number.
    Units: week (record); codes, version (count); returns a record.
    Valid: an ingredient that lists the role.
    Errors: NotAllowed `role-not-filled` when the formula has no such role or the ingredient cannot fill it.
    Source: own definition; interchangeable solids are common practice, no source.
    """
    formula = next((each for each in week.formulas if each.code == formula_code), None)
    ingredient = next((each for each in week.ingredients if each.code == ingredient_code), None)
    if formula is None or ingredient is None or role not in {solid.role for solid in formula.solids}:
        raise NotAllowed(
            "This formula has no such role, or there is no such ingredient.",
            code="role-not-filled",
            numbers={"formula": formula_code, "role": role, "ingredient": ingredient_code},
            remedy="Choose one of the formula's roles and an ingredient of this kitchen.",
        )
    if role not in ingredient.roles:
        raise NotAllowed(
            f"{ingredient.name} cannot stand in for {role.replace('_', ' ')}.",
            code="role-not-filled",
            numbers={"role": role, "roles": list(ingredient.roles)},
            remedy="Choose an ingredient that lists this role, or add the role to the ingredient.",
        )
    solids = tuple(
        replace(solid, ingredient=ingredient_code) if solid.role == role else solid for solid in formula.solids
    )
    changed = replace(formula, version=version, solids=solids)
    return replace(week, formulas=tuple(changed if each is formula else each for each in week.formulas))
