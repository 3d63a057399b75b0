"""What must hold in every plan, worked out again from the week and the plan alone."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from datetime import timedelta
from zoneinfo import ZoneInfo

from production.domain.formula import Charge
from production.domain.kitchen import Pot, Week
from production.domain.plan import Plan, PlannedRun
from production.domain.workings import recompute

HANDS_ON = ("load", "skim", "draw_off", "refill", "second_draw_off", "pour_over", "finish", "portion")

# Density of water, kg/m3, at whole tens of degrees (standard tables, from memory); in between a straight line.
_WATER = (999.84, 999.70, 998.20, 995.65, 992.22, 988.04, 983.20, 977.76, 971.79, 965.31, 958.35, 950.95)


def water_kg_m3(temp_c: float) -> float:
    """Density of water from the table."""
    step = min(int(temp_c // 10), len(_WATER) - 2)
    return _WATER[step] + (_WATER[step + 1] - _WATER[step]) * (temp_c / 10 - step)


def surface_below_rim_mm(week: Week, pot: Pot, charge: Charge, *, swell: float, grown_per_k: float) -> float:
    """Where the surface stands at the first boil: hot water, swollen solids and bubbles in a straight pot."""
    cold_c, hot_c = week.kitchen.mains_water_c, charge.boil_c
    water_l = charge.water_kg / water_kg_m3(hot_c) * 1000
    solids_l = charge.solids_l * (1 + grown_per_k * (hot_c - cold_c))
    area_dm2 = math.pi * (pot.inner_diameter_mm / 100) ** 2 / 4
    return pot.inner_height_mm - 100 * (water_l + solids_l) / (1 - swell) / area_dm2


def containers_of_lines(plan: Plan) -> tuple[Counter[str], Counter[str]]:
    """Containers that the lines ask for, and those found again: from stock, in a run, or unserved with a reason."""
    asked = Counter({line.code: line.containers for line in plan.week.order_lines})
    found: Counter[str] = Counter()
    for served in plan.demand.served:
        found[served.line] += served.containers
    for run in plan.runs:
        for portion in (*run.batch.first, *run.batch.reduction):
            for peg in portion.pegs:
                if not peg.line.startswith("par:"):
                    found[peg.line] += peg.containers
    for left in plan.unserved:
        found[left.line] += left.containers
    return asked, found


def faults(plan: Plan) -> Iterator[str]:
    """Everything in a plan that cannot be right."""
    asked, found = containers_of_lines(plan)
    if asked != found:
        yield f"containers: asked {asked - found}, found {found - asked} too many"
    for run in plan.runs:
        for fault in (
            *_charge_faults(plan, run),
            *_time_faults(run),
            *_draw_faults(run),
            *_portion_faults(plan, run),
            *_life_faults(plan, run),
            *_shift_faults(plan, run),
        ):
            yield f"{run.code} ({run.formula} in {run.pot}): {fault}"


def _charge_faults(plan: Plan, run: PlannedRun) -> Iterator[str]:
    charge, pot = run.charge, plan.week.get("pots", run.pot)
    if abs(charge.mass_in_kg - charge.mass_out_kg) > 1e-9 * charge.mass_in_kg:
        yield f"{charge.mass_in_kg} kg in, {charge.mass_out_kg} kg out"
    if not math.isclose(charge.first.cold_l, run.batch.first_l, rel_tol=1e-6):
        yield f"draws {charge.first.cold_l} L instead of {run.batch.first_l} L"
    free_mm = surface_below_rim_mm(plan.week, pot, charge, swell=0.05, grown_per_k=0.0003)
    if free_mm < 100.0 - 0.5:
        yield f"stands {free_mm} mm below the rim at the boil"
    if (
        charge.cold_fill_l
        < pot.min_fill_share * math.pi / 4 * pot.inner_diameter_mm**2 * pot.inner_height_mm / 1e6 - 0.01
    ):
        yield f"{charge.cold_fill_l} L is less than the least fill"
    if charge.reduction is not None and charge.reduction.litres < run.batch.reduction_l - 1e-9:
        yield f"promises {run.batch.reduction_l} L of reduction, gives {charge.reduction.litres} L"
    for figure in run.figures:
        if recompute(figure) != figure.value:
            yield f"figure {figure.key} cannot be worked out again"


def _time_faults(run: PlannedRun) -> Iterator[str]:
    charge, stages = run.charge, {stage.name: stage.end_min - stage.start_min for stage in run.placed.stages}
    wanted = {"heat_up": charge.heat_up_min}
    if charge.liquor is not None:
        wanted["second_heat_up"] = charge.second_heat_up_min
    if charge.reduction is not None:
        stages["reduce"] += stages["finish"]
        wanted["reduce"] = charge.reduction.reduce_min
    for name, minutes in wanted.items():
        if stages[name] < minutes - 1e-6:
            yield f"{name} takes {minutes} min and has {stages[name]}"
    for part in run.sourced:
        if part.there_at is None or part.there_at > run.start_at:
            yield f"starts {run.start_at} before {part.ingredient} is there ({part.there_at})"
        if not math.isclose(part.from_bank_kg + part.from_stock_kg + part.to_buy_kg, part.mass_kg, abs_tol=1e-9):
            yield f"{part.ingredient}: the parts are not the whole"


def _draw_faults(run: PlannedRun) -> Iterator[str]:
    for draw in run.draws:
        if any(margin.margin_min < 0 for margin in draw.cooling.margins) or not draw.cooling.margins:
            yield f"the {draw.name} draw is not cooled in time"
        reduction = run.charge.reduction
        litres = run.charge.first.cold_l if draw.name == "first" or reduction is None else reduction.litres
        if sum(part.litres for part in draw.cooling.parts) < litres * (1 - 1e-6):
            yield f"the {draw.name} draw of {litres} L is cooled in part"


def _portion_faults(plan: Plan, run: PlannedRun) -> Iterator[str]:
    for portion in (*run.batch.first, *run.batch.reduction):
        if portion.surplus < 0:
            yield f"{portion.product}: more pegged than filled"
        net_l = plan.week.get("products", portion.product).net_l
        if not math.isclose(portion.litres, portion.containers * net_l, rel_tol=1e-9):
            yield f"{portion.product}: {portion.containers} containers are not {portion.litres} L"


def _life_faults(plan: Plan, run: PlannedRun) -> Iterator[str]:
    """The day of the draw is day 1; on the day of dispatch the wanted days of life are left."""
    zone = ZoneInfo(plan.week.kitchen.time_zone)
    for draw in run.draws:
        portions = run.batch.reduction if draw.name == "reduction" else run.batch.first
        made_on = draw.start_at.astimezone(zone).date()
        for portion in portions:
            product = plan.week.get("products", portion.product)
            last_day = made_on + timedelta(days=product.shelf_life_days - product.life_at_dispatch_days)
            for peg in portion.pegs:
                if peg.dispatch_at.astimezone(zone).date() > last_day:
                    yield f"{portion.product} of {made_on} is too old on {peg.dispatch_at}"


def _shift_faults(plan: Plan, run: PlannedRun) -> Iterator[str]:
    """Hands-on work lies within the shifts, as the clock on the wall shows them."""
    if run.start_at < plan.week.plan_from:
        yield f"starts {run.start_at}, before the planning"
    hands_on = [stage for stage in run.placed.stages if stage.name in HANDS_ON] + list(run.placed.additions)
    for task in hands_on + [wash for wash in (run.placed.wash, run.placed.pan_wash) if wash]:
        moments = (plan.at(minute) for minute in range(task.start_min, task.end_min))
        if not all(any(shift.start <= moment < shift.end for shift in plan.week.shifts) for moment in moments):
            yield f"{task.name} from {plan.at(task.start_min)} lies outside the shifts"
