"""Second draws poured into a reduction pan, alone or several together."""

from __future__ import annotations

from dataclasses import replace

from production.domain.errors import DoesNotFit, OutOfRange
from production.domain.formula.content import Draw, PotRange
from production.domain.formula.draws import draw_of_mass
from production.domain.formula.setting import Setting
from production.domain.formula.solids import COLD_C
from production.domain.kitchen import Pot, Week
from production.domain.parameters import ParameterSet
from production.domain.thermal.balance import joined_kg, joined_percent
from production.domain.thermal.pots import pot_volume_l, safe_cold_fill_l
from production.domain.thermal.properties import boiling_point_c


def in_pan(setting: Setting, pan: Pot) -> Setting:
    """The setting with a pan in place of the pot, over the pan's own heat source.

    Equation: the pan's measures and heat; temperatures stay those of the formula.
    Units: setting, pan (records); returns a Setting.
    Valid: reduction pans.
    Errors: none.
    Source: own definition.
    """
    return replace(
        setting,
        pot=pan,
        source=setting.week.get("heat_sources", pan.heat_source),
        diameter_m=pan.inner_diameter_mm / 1000.0,
    )


def poured(setting: Setting, own: Draw, joined: tuple[Draw, ...]) -> Draw:
    """What stands in the pan once the second draws are poured over, which has to find room in it.

    Equation: joined_kg and joined_percent of the own second draw and of those that join it.
    Units: setting of the pan, own, joined (records); returns a Draw.
    Valid: second draws of one formula.
    Errors: DoesNotFit `pan-too-small` when they stand too high, or not high enough, in the pan.
    Source: mass balance.
    """
    liquor = _together(setting, own, joined)
    takes = _range_of(setting.week, setting.parameters, setting.pot)
    if not takes.takes(liquor.cold_l):
        raise DoesNotFit(
            f"{liquor.cold_l:.1f} L of second draw do not go into {setting.pot.name}, "
            f"which takes {takes.smallest_l:.1f} to {takes.largest_l:.1f} L.",
            code="pan-too-small",
            numbers={"litres": liquor.cold_l, "smallest_l": takes.smallest_l, "largest_l": takes.largest_l},
            remedy="Pour fewer or other runs together, or reduce in the pot.",
        )
    return liquor


def _together(setting: Setting, own: Draw, joined: tuple[Draw, ...]) -> Draw:
    if not joined:
        return own
    guests_kg = sum(each.mass_kg for each in joined)
    mass_kg = setting.sheet.add("joined_kg", joined_kg, first_kg=own.mass_kg, second_kg=guests_kg)
    percent = setting.sheet.add(
        "joined_solids_percent",
        joined_percent,
        first_kg=own.mass_kg,
        first_percent=own.solids_percent,
        second_kg=guests_kg,
        second_percent=sum(each.mass_kg * each.solids_percent for each in joined) / guests_kg,
    )
    return draw_of_mass(setting, "joined", mass_kg, percent)


def pan_ranges(*, week: Week, parameters: ParameterSet, formula: str) -> tuple[PotRange, ...]:
    """Litres of second draw, cold, that each reduction pan takes of a formula, smallest pan first.

    Equation: from the pan's least fill to the freeboard at the boil; a pan that names no formulas takes all.
    Units: week, parameters (records), formula (code); returns [L].
    Valid: a week that passed its reader.
    Errors: none; a pan too low for any freeboard is left out.
    Source: geometry and water density; freeboard is common practice, no source.
    """
    found = []
    for pan in week.pots:
        if pan.reduction_pan and (not pan.formulas or formula in pan.formulas):
            try:
                found.append(_range_of(week, parameters, pan))
            except (DoesNotFit, OutOfRange):
                continue
    return tuple(sorted(found, key=lambda each: (each.largest_l, each.pot)))


def _range_of(week: Week, parameters: ParameterSet, pan: Pot) -> PotRange:
    diameter = pan.inner_diameter_mm / 1000.0
    largest = safe_cold_fill_l(
        inner_diameter_m=diameter,
        height_mm=pan.inner_height_mm,
        freeboard_mm=parameters.value("pot.freeboard_boil_mm"),
        swell_share=parameters.value("pot.boil_swell_share"),
        solids_l=0.0,
        cold_c=COLD_C,
        hot_c=boiling_point_c(altitude_m=week.kitchen.altitude_m),
    )
    brim_l = pot_volume_l(inner_diameter_m=diameter, level_mm=pan.inner_height_mm)
    return PotRange(pot=pan.code, smallest_l=pan.min_fill_share * brim_l, largest_l=largest)
