"""A reduction on the way: how fast it goes by the last two readings, and when it will be done."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from production.domain.formula import Charge, Reduction
from production.domain.plan import Plan, PlannedRun, parameters_of
from production.domain.records.course_content import Level, ReductionNow
from production.domain.thermal.balance import volume_of_mass_l
from production.domain.thermal.food import stock_density_kg_m3
from production.domain.thermal.reduction import mass_at_depth_kg, reduced_mass_kg

MEASURED_C = 20.0  # densities of a reduction, as in the plan
HOT_C = 100.0  # of what boils in the pot
MASS_SD_SHARE, MASS_SD_KG = 0.01, 0.05  # scales and what sticks to them (own choice)
Z_90 = 1.645  # two-sided 90 %
STRONGEST_PERCENT = 60.0  # the density of stock is known up to here
LONGEST_H = 240.0  # no end is told that is farther away (own choice)
_ROUNDS = 6


@dataclass(frozen=True, slots=True)
class Aim:
    """Where a reduction starts and where it goes."""

    start_kg: float
    start_bx: float
    target_kg: float
    target_bx: float
    heat_cut_kg: float
    full_kg_h: float  # boils off at full heat, slow side
    gentle_kg_h: float  # with the heat turned down
    fast_share: float  # how many times faster it may go

    @property
    def gentle_share(self) -> float:
        """Rate with the heat turned down against full heat."""
        return self.gentle_kg_h / self.full_kg_h


def aim_of(plan: Plan, run: PlannedRun, charge: Charge, *, own_kg: float | None, own_bx: float | None) -> Aim | None:
    """The aim of a run's reduction, from its second draw as it was weighed and read.

    Equation: what joins it stays as planned; Brix of all = sum of mass x Brix / mass; target by the solids balance.
    Units: plan, run, charge (records), own_kg [kg], own_bx [Bx]; returns a record.
    Valid: runs that make a reduction.
    Errors: OutOfRange as the workings.
    Source: solids balance; rates as planned, thermal.evaporation and its sources.
    """
    reduction, liquor = charge.reduction, charge.liquor
    if reduction is None or liquor is None:
        return None
    joined_kg = reduction.liquor.mass_kg - liquor.mass_kg
    joined_solids = reduction.liquor.mass_kg * reduction.liquor.solids_bx - liquor.mass_kg * liquor.solids_bx
    mass_kg = liquor.mass_kg if own_kg is None else own_kg
    start_kg = joined_kg + mass_kg
    if start_kg <= 0.0:
        return None
    start_bx = (joined_solids + mass_kg * (liquor.solids_bx if own_bx is None else own_bx)) / start_kg
    target_kg = start_kg
    if start_bx < reduction.solids_bx:
        target_kg = reduced_mass_kg(mass_kg=start_kg, from_bx=start_bx, to_bx=reduction.solids_bx)
    full, gentle = _planned_rates(run)
    return Aim(
        start_kg=start_kg,
        start_bx=start_bx,
        target_kg=target_kg,
        target_bx=reduction.solids_bx,
        heat_cut_kg=max(target_kg, min(start_kg, reduction.scorch_from_kg)),
        full_kg_h=full,
        gentle_kg_h=gentle,
        fast_share=_fast_share(plan, run),
    )


def _planned_rates(run: PlannedRun) -> tuple[float, float]:
    rates = {figure.key: figure.value for figure in run.figures}
    full = rates["reduction_kg_h"]
    return full, min(full, rates["reduction_gentle_kg_h"])


def _fast_share(plan: Plan, run: PlannedRun) -> float:
    """The plan reckons with the slow side of the heat's efficiency; this is its other side."""
    vessel = plan.week.get("pots", run.placed.pan or run.pot)
    code = f"heat.efficiency.{plan.week.get('heat_sources', vessel.heat_source).appliance}"
    parameters = parameters_of(week=plan.week)
    return parameters.high(code) / parameters.low(code)


def level_mass_kg(
    amounts: Mapping[str, float], *, aim: Aim, per_bx_share: float, inner_diameter_m: float
) -> float | None:
    """What is left in the vessel, from its weight or its depth.

    Equation: weight as it is; else area x depth x density, the density by the strength that the solids then have.
    Units: amounts [kg, mm] by box, aim (record), per_bx_share [share], inner_diameter_m [m]; returns [kg].
    Valid: straight vessels.
    Errors: OutOfRange as the workings.
    Source: geometry; thermal.food and its sources.
    """
    if "mass" in amounts or "depth" not in amounts:
        return amounts.get("mass")
    if amounts["depth"] <= 0.0:
        return 0.0
    solids_kg = aim.start_kg * aim.start_bx * per_bx_share / 100.0
    mass_kg = aim.start_kg
    for _ in range(_ROUNDS):
        percent = min(STRONGEST_PERCENT, 100.0 * solids_kg / mass_kg)
        density = stock_density_kg_m3(solids_percent=percent, temp_c=HOT_C)
        mass_kg = mass_at_depth_kg(depth_mm=amounts["depth"], density_kg_m3=density, inner_diameter_m=inner_diameter_m)
    return mass_kg


def reduction_now(aim: Aim, levels: Sequence[Level], *, per_bx_share: float) -> ReductionNow:
    """When a reduction will be done, with a 90 % interval.

    Equation: full rate from the last two levels, what went below the turning down of the heat counted at its planned
        share; time left = (to the turning down) / rate + (from there) / (rate x share). Interval from the scatter of
        the two levels. With one level the planned rate, slow side; with none no time.
    Units: aim (record), levels [instant, kg], per_bx_share [share]; returns a record.
    Valid: levels in the order of time; a rate stays what it was only while the heat does.
    Errors: OutOfRange as the workings.
    Source: mass balance; scatter of scales is our own choice.
    """
    rate, spread = _rate(aim, levels)
    percent = min(STRONGEST_PERCENT, aim.target_bx * per_bx_share)
    dense = stock_density_kg_m3(solids_percent=percent, temp_c=MEASURED_C)
    end = early = late = None
    if levels and rate is not None:
        last = levels[-1]
        end = _after(last.at, _hours(aim, last.mass_kg, rate))
        early = _after(last.at, _hours(aim, last.mass_kg, rate * (aim.fast_share if spread is None else 1.0 + spread)))
        late = end if spread is None else _after(last.at, _hours(aim, last.mass_kg, rate * (1.0 - spread)))
    return ReductionNow(
        start_kg=aim.start_kg,
        target_kg=aim.target_kg,
        target_l=volume_of_mass_l(mass_kg=aim.target_kg, density_kg_m3=dense),
        target_bx=aim.target_bx,
        heat_cut_kg=aim.heat_cut_kg,
        levels=tuple(levels),
        rate_kg_h=rate or 0.0,
        is_fitted=spread is not None,
        end_at=end,
        early_at=early,
        late_at=late,
        sentence=_sentence(aim, levels, rate),
    )


def _rate(aim: Aim, levels: Sequence[Level]) -> tuple[float | None, float | None]:
    """Rate at full heat and its spread as a share: no spread where it is as planned, no rate where nothing is gone."""
    if len(levels) < 2:
        return aim.full_kg_h, None
    before, after = levels[-2], levels[-1]
    hours = (after.at - before.at).total_seconds() / 3600.0
    gone_kg = before.mass_kg - after.mass_kg
    if hours <= 0.0 or gone_kg <= 0.0:
        return None, None
    cut = min(before.mass_kg, max(after.mass_kg, aim.heat_cut_kg))
    rate = ((before.mass_kg - cut) + (cut - after.mass_kg) / aim.gentle_share) / hours
    scatter_kg = math.hypot(*(max(MASS_SD_KG, MASS_SD_SHARE * level.mass_kg) for level in (before, after)))
    return rate, Z_90 * scatter_kg / gone_kg


def _hours(aim: Aim, mass_kg: float, rate_kg_h: float) -> float | None:
    if rate_kg_h <= 0.0:
        return None
    full_kg = max(0.0, mass_kg - max(aim.heat_cut_kg, aim.target_kg))
    gentle_kg = max(0.0, min(mass_kg, aim.heat_cut_kg) - aim.target_kg)
    hours = (full_kg + gentle_kg / aim.gentle_share) / rate_kg_h
    return hours if hours <= LONGEST_H else None


def _after(at: datetime, hours: float | None) -> datetime | None:
    return None if hours is None else at + timedelta(hours=hours)


def _sentence(aim: Aim, levels: Sequence[Level], rate_kg_h: float | None) -> str:
    if rate_kg_h is None:
        return "By the last two readings it does not get lighter: is the heat on, and are both readings right?"
    if levels and levels[-1].mass_kg <= aim.target_kg:
        return "It is as light as it should be: take it off and read its Brix."
    if levels and levels[-1].mass_kg <= aim.heat_cut_kg:
        return "Low heat now, stir: it catches."
    return ""


def reduced_from(
    amounts: Mapping[str, float], reduction: Reduction, *, per_bx_share: float
) -> tuple[float, float] | None:
    """Mass and litres that a reduction gave, from its weight or its volume, by its Brix where it was read.

    Equation: density of its strength.
    Units: amounts [kg, L, Bx] by box, reduction (record), per_bx_share [share]; returns [kg], [L].
    Valid: a weight or a volume.
    Errors: OutOfRange as the workings.
    Source: thermal.food and its sources.
    """
    percent = min(STRONGEST_PERCENT, amounts.get("brix", reduction.solids_bx) * per_bx_share)
    dense = stock_density_kg_m3(solids_percent=percent, temp_c=MEASURED_C)
    if "mass" in amounts:
        return amounts["mass"], volume_of_mass_l(mass_kg=amounts["mass"], density_kg_m3=dense)
    if "volume" in amounts:
        return amounts["volume"] * dense / 1000.0, amounts["volume"]
    return None
