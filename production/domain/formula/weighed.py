"""A charge as it was weighed: what more or fewer bones mean for water, fill mark, additions and yields."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from production.domain.errors import DoesNotFit
from production.domain.formula.charge import Again, charge_of
from production.domain.formula.content import Charge
from production.domain.formula.parts import Part, litres_per_kg_solids, parts_of
from production.domain.formula.setting import Setting, setting_of
from production.domain.formula.solids import largest_solids_kg
from production.domain.kitchen import Formula, Pot, Week
from production.domain.parameters import ParameterSet
from production.domain.thermal.balance import water_mass_kg
from production.domain.thermal.properties import water_expansion_share

HAIR_KG = 1e-6


@dataclass(frozen=True, slots=True)
class WeighedCharge:
    """The charge, and the solids that must be left out because their water would not go into the pot."""

    charge: Charge
    leave_out_kg: float


def charge_weighed(
    *,
    week: Week,
    parameters: ParameterSet,
    formula: Formula,
    pot: Pot,
    masses_kg: Mapping[str, float],
    water_kg: float | None,
    simmer_h: float,
    again: Again | None,
) -> WeighedCharge:
    """Work out a charge forwards from what was weighed.

    Equation: shares of the solids as weighed; additions that are not weighed yet by the formula's proportion to the
        solids; water by the formula's ratio, at most what leaves the freeboard, or as it was filled in. What to leave
        out is what is above the largest charge of the pot by the ratio.
    Units: week, parameters, formula, pot, again (records); masses_kg [kg] by part, solids all of them; water_kg [kg];
        simmer_h [h]; returns a Charge with masses [kg], volumes [L], levels [mm], and leave_out [kg].
    Valid: solids and water that go into the pot.
    Errors: DoesNotFit `no-solids`; DoesNotFit and OutOfRange as the workings.
    Source: thermal/ and its sources; coefficients from the parameter set.
    """
    setting = setting_of(week, parameters, formula, pot, keep_figures=False)
    as_planned = parts_of(setting, simmer_h)
    solids_kg = sum(masses_kg[part.key] for part in as_planned if part.is_loaded)
    if solids_kg <= 0.0:
        raise DoesNotFit(
            "Nothing but water would be in the pot.",
            code="no-solids",
            numbers={"solids_kg": solids_kg},
            remedy="Weigh the solids again.",
        )
    parts = _as_weighed(as_planned, masses_kg, solids_kg)
    wanted_kg = formula.water_kg_per_kg_solids * solids_kg
    filled_kg = water_kg if water_kg is not None else min(wanted_kg, water_room_kg(setting, parts, solids_kg))
    leave_out_kg = 0.0
    if water_kg is None and filled_kg < wanted_kg - HAIR_KG:
        leave_out_kg = solids_kg - largest_solids_kg(setting, parts)
    charge = charge_of(setting, parts, solids_kg=solids_kg, water_kg=filled_kg, simmer_h=simmer_h, again=again)
    return WeighedCharge(charge, leave_out_kg)


def _as_weighed(parts: tuple[Part, ...], masses_kg: Mapping[str, float], solids_kg: float) -> tuple[Part, ...]:
    return tuple(
        replace(part, share=masses_kg[part.key] / solids_kg) if part.key in masses_kg else part for part in parts
    )


def water_room_kg(setting: Setting, parts: tuple[Part, ...], solids_kg: float) -> float:
    """Most cold water that leaves the freeboard at the first boil, and at the simmer with the additions in.

    Equation: least of [area x (height - freeboard) x still share - swollen solids] at both, / (1 + expansion).
    Units: setting, parts (records), solids_kg [kg]; returns [kg].
    Valid: straight round pots; nothing or less where the solids alone are too much.
    Errors: OutOfRange where a working does not cover the temperatures.
    Source: geometry and water density; freeboard is common practice, no source.
    """
    parameters, cold_c = setting.parameters, setting.week.kitchen.mains_water_c
    swollen = 1.0 + parameters.value("pot.solids_expansion_per_k") * (setting.boil_c - cold_c)
    loaded_l = solids_kg * litres_per_kg_solids([part for part in parts if part.is_loaded]) * swollen
    all_l = solids_kg * litres_per_kg_solids(parts) * swollen
    height_mm = setting.pot.inner_height_mm
    at_boil = setting.area_m2 * (height_mm - parameters.value("pot.freeboard_boil_mm"))
    at_simmer = setting.area_m2 * (height_mm - parameters.value("pot.freeboard_simmer_mm"))
    hot_l = min(at_boil * (1.0 - parameters.value("pot.boil_swell_share")) - loaded_l, at_simmer - all_l)
    cold_l = hot_l / (1.0 + water_expansion_share(cold_c=cold_c, hot_c=setting.boil_c))
    return water_mass_kg(volume_l=max(0.0, cold_l), temp_c=cold_c)
