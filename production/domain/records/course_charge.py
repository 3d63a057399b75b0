"""The charge as the scales have shown it, and what it means for water, mark, additions and draws."""

from __future__ import annotations

from collections.abc import Mapping

from production.domain.errors import PotwrightError
from production.domain.formula import Again, Charge, Pouring, charge_weighed
from production.domain.plan import Plan, PlannedRun, parameters_of
from production.domain.quantities import System, display_quantity
from production.domain.records.course_content import ChargeNow
from production.domain.sheets.page import safe_mark_mm
from production.domain.thermal.balance import water_mass_kg
from production.domain.thermal.pots import pot_area_m2

SAME_SHARE = 0.002  # weighed so close to the sheet, nothing is told to have changed (own choice)


def charge_now(
    plan: Plan, run: PlannedRun, *, masses_kg: Mapping[str, float], filled: Mapping[str, float]
) -> tuple[Charge, ChargeNow]:
    """The charge from what was weighed and filled in so far; what is not weighed yet counts as planned.

    Equation: charge_weighed with the masses by ingredient; water from its volume, its mass, or its level below the rim.
    Units: plan, run (records), masses_kg [kg] by key of the charge's part, filled [L, kg or mm] by box; returns
        records.
    Valid: runs of the plan; a charge that does not fit is told in a sentence and left as planned.
    Errors: none.
    Source: as charge_weighed.
    """
    planned = run.charge
    system: System = "us" if plan.week.kitchen.units == "us" else "metric"
    if not masses_kg and not filled:
        return planned, _told(planned, planned, 0.0, "", is_weighed=False)
    all_kg = _solids(planned) | dict(masses_kg)
    try:
        found = charge_weighed(
            week=plan.week,
            parameters=parameters_of(week=plan.week),
            formula=plan.week.get("formulas", run.formula),
            pot=plan.week.get("pots", run.pot),
            masses_kg=all_kg,
            water_kg=_water_kg(plan, run, filled, sum(all_kg[part] for part in _solids(planned))),
            simmer_h=planned.simmer_h,
            again=_again(plan, run),
        )
    except PotwrightError as error:
        return planned, _told(planned, planned, 0.0, f"{error.sentence} {error.remedy}".strip(), is_weighed=True)
    sentence = _changes(found.charge, planned, found.leave_out_kg, system)
    return found.charge, _told(found.charge, planned, found.leave_out_kg, sentence, is_weighed=True)


def part_of(figure: str) -> str:
    """Key of the part of a charge that a weighing belongs to.

    Equation: what follows "mass_kg." in the key of its figure.
    Units: no quantities; figure (key); returns a key.
    Valid: figures of weighings.
    Errors: none.
    Source: own definition.
    """
    return figure.removeprefix("mass_kg.")


def _solids(planned: Charge) -> dict[str, float]:
    return {part_of(item.figure): item.mass_kg for item in planned.items if item.what == "solids"}


def _water_kg(plan: Plan, run: PlannedRun, filled: Mapping[str, float], solids_kg: float) -> float | None:
    cold_c = plan.week.kitchen.mains_water_c
    if "mass" in filled:
        return filled["mass"]
    if "volume" in filled:
        return water_mass_kg(volume_l=filled["volume"], temp_c=cold_c)
    if "level" in filled:
        pot = plan.week.get("pots", run.pot)
        area_m2 = pot_area_m2(inner_diameter_m=pot.inner_diameter_mm / 1000.0)
        solids_l = run.charge.solids_l * solids_kg / run.charge.solids_kg
        litres = area_m2 * (pot.inner_height_mm - filled["level"]) - solids_l
        return water_mass_kg(volume_l=max(0.0, litres), temp_c=cold_c)
    return None


def _again(plan: Plan, run: PlannedRun) -> Again | None:
    if not run.batch.has_second_draw:
        return None
    pouring = None
    if run.batch.pours_into:
        pouring = Pouring()
    elif run.placed.pan:
        guests = [each.charge.liquor for each in plan.runs if each.batch.pours_into == run.code]
        joined = tuple(liquor for liquor in guests if liquor is not None)
        pouring = Pouring(pan=plan.week.get("pots", run.placed.pan), joined=joined)
    return Again(simmer_h=run.charge.second_simmer_h, pouring=pouring)


def _told(charge: Charge, planned: Charge, leave_out_kg: float, sentence: str, *, is_weighed: bool) -> ChargeNow:
    reduction = charge.reduction
    return ChargeNow(
        is_weighed=is_weighed,
        solids_kg=charge.solids_kg,
        planned_solids_kg=planned.solids_kg,
        water_kg=charge.water_kg,
        water_l=charge.water_l,
        planned_water_l=planned.water_l,
        fill_mark_mm=charge.fill_mark_mm,
        planned_fill_mark_mm=planned.fill_mark_mm,
        hot_mark_mm=charge.hot_mark_mm,
        leave_out_kg=leave_out_kg,
        first=charge.first,
        planned_first=planned.first,
        liquor=charge.liquor,
        planned_liquor=planned.liquor,
        reduction_kg=reduction.mass_kg if reduction is not None else None,
        reduction_l=reduction.litres if reduction is not None else None,
        sentence=sentence,
    )


def _changes(charge: Charge, planned: Charge, leave_out_kg: float, system: System) -> str:
    """What is different from the sheet, in one breath."""

    def show(value: float, unit: str) -> str:
        return " ".join(display_quantity(value, unit, system))

    mark = show(safe_mark_mm(length_mm=charge.fill_mark_mm, is_us=system == "us"), "mm")
    if leave_out_kg > 0.0:
        return (
            f"The pot would be too full: leave out {show(leave_out_kg, 'kg')} of the solids, or fill only to "
            f"{mark} below the rim, which makes less and stronger broth."
        )
    gives, was = show(charge.first.cold_l, "L"), show(planned.first.cold_l, "L")
    change = charge.first.cold_l - planned.first.cold_l
    if gives == was or abs(change) < SAME_SHARE * planned.first.cold_l:
        return ""
    return (
        f"{show(charge.solids_kg, 'kg')} of solids instead of {show(planned.solids_kg, 'kg')}: fill to "
        f"{mark} below the rim ({show(charge.water_l, 'L')} of water); the first draw "
        f"gives about {gives} instead of {was}."
    )
