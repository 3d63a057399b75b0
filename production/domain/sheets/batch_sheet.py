"""The batch sheet: one run in one pot, in the order of work."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from production.domain.formula import ChargeItem
from production.domain.plan import Plan, PlannedDraw, parameters_of
from production.domain.schedule.result import Placed
from production.domain.sheets.content import BatchSheet, ChargeLine, ExpectedDraw, PotFill, StageLine
from production.domain.sheets.page import Page, filled_of, heading_of, log_key, page_of
from production.domain.sheets.words import PAN_WASH, TITLES, cautions_of, words_of
from production.domain.thermal.pots import pot_volume_l


def batch_sheets(plan: Plan) -> tuple[BatchSheet, ...]:
    """One sheet for each run of a plan.

    Equation: the run's charge, schedule and draws put into the order of work.
    Units: plan (record); contents in kg, L, mm, degC and instants.
    Valid: every plan.
    Errors: none.
    Source: own definition; cautions are common practice, no source.
    """
    return tuple(_batch_sheet(page_of(plan, run)) for run in plan.runs)


def _batch_sheet(page: Page) -> BatchSheet:
    plan, run = page.plan, page.run
    charge = run.charge
    return BatchSheet(
        kind="batch_sheet",
        key=run.code,
        heading=heading_of(plan),
        run=run.code,
        formula=page.formula.name,
        formula_version=run.formula_version,
        start_at=run.start_at,
        end_at=run.end_at,
        fill=_pot_fill(page),
        charge=tuple(_charge_lines(page)),
        stages=tuple(_stage_lines(page)),
        draws=tuple(_expected(page, draw) for draw in run.draws),
        boil_temp_c=charge.boil_c,
        simmer_temp_c=charge.simmer_c,
        evaporation_kg_h=charge.evaporation_kg_h,
        allergens=page.allergens,
        cautions=tuple(cautions_of(page)),
    )


def _pot_fill(page: Page) -> PotFill:
    plan, pot, charge = page.plan, page.pot, page.run.charge
    return PotFill(
        pot=pot.name,
        heat_source=plan.week.get("heat_sources", pot.heat_source).name,
        inner_diameter_mm=pot.inner_diameter_mm,
        inner_height_mm=pot.inner_height_mm,
        brim_l=pot_volume_l(inner_diameter_m=pot.inner_diameter_mm / 1000.0, level_mm=pot.inner_height_mm),
        solids_l=charge.solids_l,
        water_l=charge.water_l,
        cold_fill_l=charge.cold_fill_l,
        fill_mark_mm=charge.fill_mark_mm,
        hot_mark_mm=charge.hot_mark_mm,
        freeboard_mm=parameters_of(week=plan.week).value("pot.freeboard_boil_mm"),
    )


def _charge_lines(page: Page) -> Iterable[ChargeLine]:
    charge = page.run.charge
    items = [(item, part.from_bank_kg) for item, part in zip(charge.items, page.run.sourced, strict=True)]
    solids = [each for each in items if each[0].what == "solids"]
    later = sorted((each for each in items if each[0].what != "solids"), key=lambda x: -(x[0].minutes_before_end or 0))
    water = ChargeItem(
        ingredient="",
        what="water",
        role="",
        mass_kg=charge.water_kg,
        minutes_before_end=None,
        cook_minutes=0,
        figure="water_kg",
    )
    starts: dict[str, list[int]] = {}
    for placed in sorted(page.run.placed.additions, key=lambda each: each.start_min):
        starts.setdefault(placed.name, []).append(placed.start_min)
    for order, (item, from_bank_kg) in enumerate([*solids, (water, 0.0), *later], 1):
        ingredient = page.names.get(item.ingredient)
        yield ChargeLine(
            order=order,
            name=ingredient.name if ingredient else "Water, cold",
            what=item.what,
            role=item.role.replace("_", " "),
            mass_kg=item.mass_kg,
            volume_l=charge.water_l if item.what == "water" else None,
            from_bank_kg=from_bank_kg,
            add_at=page.plan.at(starts[item.ingredient].pop(0)) if item.minutes_before_end is not None else None,
            allergens=ingredient.allergens if ingredient else (),
            figure=item.figure,
        )


def _stage_lines(page: Page) -> Iterable[StageLine]:
    for stage in sorted(_work(page), key=lambda each: each.start_min):
        do, record, caution = words_of(page, stage)
        yield StageLine(
            kind=stage.name,
            title=TITLES[stage.name],
            start_at=page.plan.at(stage.start_min),
            end_at=page.plan.at(stage.end_min),
            do=do,
            record=record,
            caution=caution,
        )


def _work(page: Page) -> Iterable[Placed]:
    """Stages of the chain and the washing up after them."""
    placed = page.run.placed
    yield from placed.stages
    if placed.wash:
        yield placed.wash
    if placed.pan_wash:
        yield replace(placed.pan_wash, name=PAN_WASH)


def _expected(page: Page, draw: PlannedDraw) -> ExpectedDraw:
    charge, batch = page.run.charge, page.run.batch
    reduction = charge.reduction if draw.name == "reduction" else None
    names = {each.code: each.name for each in page.plan.week.cooling_devices}
    return ExpectedDraw(
        name="Reduction" if reduction else "First draw",
        at=draw.start_at,
        mass_kg=reduction.mass_kg if reduction else charge.first.mass_kg,
        cold_l=reduction.litres if reduction else charge.first.cold_l,
        hot_l=reduction.litres if reduction else charge.first.hot_l,
        hot_temp_c=draw.cooling.start_temp_c,
        solids_bx=reduction.solids_bx if reduction else charge.first.solids_bx,
        filled=filled_of(page.plan, batch.reduction if reduction else batch.first),
        cooled_in=" and ".join(
            f"{names[part.device]}, {part.vessels} vessel{'s' if part.vessels > 1 else ''}"
            for part in draw.cooling.parts
        ),
        ice_kg=draw.cooling.mode.ice_kg,
        log_key=", ".join(log_key(page.run, draw, part) for part in draw.cooling.parts),
    )
