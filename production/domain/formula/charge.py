"""A run worked out from the litres wanted: the charge, and the reduction it gives at the least."""

from __future__ import annotations

from dataclasses import dataclass

from production.domain.errors import DoesNotFit, OutOfRange
from production.domain.formula.boiling_down import boil_down
from production.domain.formula.content import Charge, ChargeItem, Draw, Reduction
from production.domain.formula.draws import FirstDraw, first_draw_of, refill_kg, second_draw_of
from production.domain.formula.heat import first_heat_up_min, second_heat_up_min, simmer_kw
from production.domain.formula.levels import levels_of
from production.domain.formula.parts import Part, parts_of, weighted
from production.domain.formula.pouring import in_pan, poured
from production.domain.formula.ranges import pot_ranges
from production.domain.formula.setting import Setting, setting_of
from production.domain.formula.solids import solids_for_kg
from production.domain.kitchen import Formula, Pot, Week
from production.domain.parameters import ParameterSet
from production.domain.thermal.balance import balance_gap_kg, proportion_kg


@dataclass(frozen=True, slots=True, kw_only=True)
class _Second:
    """A second draw with its reduction; all nothing where there is none."""

    simmer_h: float | None = None
    refill_kg: float = 0.0
    heat_up_min: float = 0.0
    liquor: Draw | None = None
    reduction: Reduction | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pouring:
    """Where a second draw goes: into a pan, alone or with others; or into another run's pan, where it ends here."""

    pan: Pot | None = None
    joined: tuple[Draw, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """How a second draw is made: its simmer, by default the formula's longest, and where it goes."""

    simmer_h: float | None = None
    pouring: Pouring | None = None


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
    pouring: Pouring | None = None,
    keep_figures: bool = True,
) -> Charge:
    """Work out the charge that draws a wanted volume, and everything that follows from it.

    Equation: solids from the inverse first-draw balance (solids_for_drawn_kg), water by the formula's ratio, then
        forwards: fill, heat-up, evaporation, first draw, second draw, reduction; every number is kept as a figure.
        The refill is the formula's, or what leaves the freeboard at the boil where that is less. The reduction is made
        in the pot unless the second draw is poured; in a pan, what joins it is boiled down with it.
    Units: week, parameters, formula, pot, pouring (records); drawn_l [L] cold, simmer_h [h], second, keep_figures (yes
        or no), second_simmer_h [h]; returns a Charge with masses [kg], volumes [L], levels [mm], times [min].
    Valid: volumes within pot_ranges for the pot.
    Errors: DoesNotFit `pot-too-small` when it does not go into the pot, `pan-too-small` when the second draw does not
        go into the pan, `no-second-draw` when the formula has none.
    Source: thermal/ and its sources; coefficients from the parameter set.
    """
    setting = setting_of(week, parameters, formula, pot, keep_figures=keep_figures)
    parts = parts_of(setting, simmer_h)
    solids_kg = solids_for_kg(setting, parts, drawn_l, simmer_h)
    water_kg = _proportion(setting, "water_kg", solids_kg, formula.water_kg_per_kg_solids)
    again = Again(simmer_h=second_simmer_h, pouring=pouring) if second else None
    return charge_of(setting, parts, solids_kg=solids_kg, water_kg=water_kg, simmer_h=simmer_h, again=again)


def charge_of(
    setting: Setting,
    parts: tuple[Part, ...],
    *,
    solids_kg: float,
    water_kg: float,
    simmer_h: float,
    again: Again | None,
) -> Charge:
    """Work out everything that follows from what is put into the pot.

    Equation: fill, heat-up, evaporation, first draw, second draw, reduction, forwards from solids and water.
    Units: setting, parts, again (records); solids_kg [kg], water_kg [kg], simmer_h [h]; returns a Charge with masses
        [kg], volumes [L], levels [mm], times [min].
    Valid: what goes into the pot and does not boil dry.
    Errors: DoesNotFit and OutOfRange as the workings.
    Source: thermal/ and its sources; coefficients from the parameter set.
    """
    level = levels_of(setting, parts, solids_kg, water_kg)
    first = first_draw_of(setting, parts, solids_kg, water_kg, simmer_h)
    salt_share = setting.formula.salt_share
    salt_kg = _proportion(setting, "salt_kg", first.draw.mass_kg, salt_share) if salt_share else 0.0
    mass_in_kg = water_kg + solids_kg * weighted(parts, lambda _: 1.0)
    mass_out_kg = _mass_out_kg(setting, first, mass_in_kg)
    then = _second(setting, parts, solids_kg, first, again) if again is not None else _Second()
    pan = again.pouring.pan if again is not None and again.pouring is not None else None
    return Charge(
        formula=setting.formula.code,
        pot=setting.pot.code,
        simmer_h=simmer_h,
        second_simmer_h=then.simmer_h,
        solids_kg=solids_kg,
        water_kg=water_kg,
        water_l=level.water_l,
        items=tuple(_item(setting, part, solids_kg) for part in parts),
        boil_c=setting.boil_c,
        simmer_c=setting.simmer_c,
        solids_l=level.solids_l,
        cold_fill_l=level.cold_fill_l,
        fill_mark_mm=level.fill_mark_mm,
        hot_mark_mm=level.hot_mark_mm,
        water_to_cover_l=level.water_to_cover_l,
        heat_up_min=first_heat_up_min(setting, parts, solids_kg, water_kg),
        second_heat_up_min=then.heat_up_min,
        simmer_kw=simmer_kw(setting, level.cold_fill_l),
        evaporation_kg_h=setting.evaporation_kg_h,
        first=first.draw,
        salt_kg=salt_kg,
        refill_kg=then.refill_kg,
        reduction=then.reduction,
        mass_in_kg=mass_in_kg,
        mass_out_kg=mass_out_kg,
        figures=tuple(setting.sheet.figures),
        liquor=then.liquor,
        pan=pan.code if pan is not None else "",
    )


def _proportion(setting: Setting, key: str, mass_kg: float, ratio_kg_kg: float) -> float:
    return setting.sheet.add(key, proportion_kg, mass_kg=mass_kg, ratio_kg_kg=ratio_kg_kg)


def _item(setting: Setting, part: Part, solids_kg: float) -> ChargeItem:
    key = f"mass_kg.{part.key}"
    return ChargeItem(
        ingredient=part.ingredient.code,
        what=part.what,
        role=part.role,
        mass_kg=_proportion(setting, key, solids_kg, part.share),
        minutes_before_end=part.minutes_before_end,
        cook_minutes=part.cook_minutes,
        figure=key,
    )


def _mass_out_kg(setting: Setting, first: FirstDraw, mass_in_kg: float) -> float:
    """Everything that leaves the first draw's balance; how far it is from what went in is kept as a figure."""
    holdup_kg = setting.parameters.value("holdup.equipment_kg")
    setting.sheet.add(
        "balance_gap_kg",
        balance_gap_kg,
        in_kg=mass_in_kg,
        drawn_kg=first.draw.mass_kg,
        spent_kg=first.spent_kg,
        fat_kg=first.fat_kg,
        evaporated_kg=first.evaporated_kg,
        skim_kg=first.skim_kg,
        holdup_kg=holdup_kg,
    )
    return first.draw.mass_kg + first.spent_kg + first.fat_kg + first.evaporated_kg + first.skim_kg + holdup_kg


def _second(
    setting: Setting,
    parts: tuple[Part, ...],
    solids_kg: float,
    first: FirstDraw,
    again: Again,
) -> _Second:
    formula, simmer_h = setting.formula, again.simmer_h
    if formula.second_draw is None or formula.reduction_bx is None:
        raise _no_second_draw(formula)
    hours = formula.second_draw.simmer_max_h if simmer_h is None else simmer_h
    refill = refill_kg(setting, parts, solids_kg, first, formula.second_draw)
    liquor = second_draw_of(setting, parts, solids_kg, first, refill, hours)
    return _Second(
        simmer_h=hours,
        refill_kg=refill,
        liquor=liquor,
        reduction=_reduction(setting, liquor, formula.reduction_bx, again.pouring),
        heat_up_min=second_heat_up_min(setting, solids_kg, refill),
    )


def _reduction(setting: Setting, liquor: Draw, to_bx: float, pouring: Pouring | None) -> Reduction | None:
    if pouring is None:
        return boil_down(setting, liquor, to_bx)
    if pouring.pan is None:
        return None
    over = in_pan(setting, pouring.pan)
    return boil_down(over, poured(over, liquor, pouring.joined), to_bx, cold_pan=True)


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
                    keep_figures=False,
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
