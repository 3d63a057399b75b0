"""One week from orders to runs: the whole pipeline, and the plan it returns."""

from __future__ import annotations

import contextlib
import dataclasses
import hashlib
import itertools
import json
import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from typing import Any, cast
from zoneinfo import ZoneInfo

from pydantic import TypeAdapter, ValidationError

from production.domain import kitchen
from production.domain.batches import (
    Batch,
    Portion,
    StorageChoice,
    Unmakeable,
    container_storage_l,
    size_batches,
    storage_first,
)
from production.domain.cooling_capacity import CoolingChoice, cooling_choices, freeze_minutes, largest_coolable_l
from production.domain.demand import PAR_PREFIX, Demand, first_cook_date, net_demand
from production.domain.errors import DoesNotFit, OutOfRange, PotwrightError
from production.domain.formula import Charge, charge_run, pot_ranges, rounded_up_min
from production.domain.kitchen import Formula, Pot, Product, Week
from production.domain.parameters import DEFAULT_PARAMETERS, Parameter, ParameterSet
from production.domain.purchasing import Purchases, build_purchases
from production.domain.quantities import unit_of_name
from production.domain.schedule.check import check_schedule
from production.domain.schedule.greedy import greedy_schedule
from production.domain.schedule.problem import (
    AdditionTask,
    Draw,
    Due,
    Keep,
    Problem,
    RunJob,
    RunOption,
    Stage,
    StoreRoom,
    Window,
)
from production.domain.schedule.result import PlacedRun, Schedule
from production.domain.sourcing import Portioned, Wanted, source_ingredients
from production.domain.thermal.cooling import ice_available_kg
from production.domain.thermal.properties import boiling_point_c
from production.domain.thermal.reduction import trays_count
from production.domain.workings import Figure

STEP_MIN = 5
BROTH_KG_M3 = 1015.0  # a strong broth, cold; only to bound what can be cooled at once
DAYS_AFTER = 3  # a week that ends late is late, not impossible
Progress = Callable[[str, int, int], None]
_Choices = dict[str, tuple[CoolingChoice, ...]]
_Charges = Mapping[str, tuple[tuple[Charge, ...], ...]]  # by run; one entry for each pot that takes it
_Jobs = dict[str, tuple[RunJob, _Choices]]

FORMAT = "potwright-plan"
VERSION = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedDraw:
    """A draw with the way it is cooled."""

    name: str  # first or reduction
    cooling: CoolingChoice
    device_names: tuple[str, ...]
    start_at: datetime
    end_at: datetime
    ready_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class StageLoad:
    """What a stage takes while it lasts."""

    kind: str
    start_min: int
    end_min: int
    cooks: int
    supply: str
    power_kw: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedRun:
    """One run of the plan."""

    code: str
    batch: Batch
    formula: str
    formula_version: int
    pot: str
    charge: Charge
    placed: PlacedRun
    loads: tuple[StageLoad, ...]
    draws: tuple[PlannedDraw, ...]
    sourced: tuple[Portioned, ...]
    start_at: datetime
    end_at: datetime
    figures: tuple[Figure, ...]  # every number of the run that can be opened

    def figure(self, key: str) -> Figure:
        """The figure with this key."""
        return next(each for each in self.figures if each.key == key)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unserved:
    """An order line, or a part of it, that cannot be served."""

    line: str
    product: str
    containers: int
    resource: str
    missing: float
    unit: str
    sentence: str
    remedy: str


_Refused = list[tuple[Batch, Unserved]]


@dataclass(frozen=True, slots=True, kw_only=True)
class LateLine:
    """An order line that leaves late, with what holds it."""

    line: str
    run: str
    due_at: datetime
    ready_at: datetime
    resource: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A week's plan with its frozen input."""

    format: str
    version: int
    week: Week
    parameter_set: str
    origin: datetime  # minute 0 of the schedule, in UTC: minutes are counted through a change of the clocks
    demand: Demand
    runs: tuple[PlannedRun, ...]
    schedule: Schedule
    purchases: Purchases
    unserved: tuple[Unserved, ...]
    late: tuple[LateLine, ...]
    storage_choices: tuple[StorageChoice, ...]
    violations: tuple[str, ...]  # what the independent checker found; always empty in a plan that is kept

    def at(self, minute: float) -> datetime:
        """The instant of a minute of the schedule."""
        return self.origin + timedelta(minutes=minute)


def parameters_of(*, week: Week, base: ParameterSet = DEFAULT_PARAMETERS) -> ParameterSet:
    """The parameter set a week is planned with: the defaults with the kitchen's own coefficients in their place.

    Equation: each own coefficient replaces value, interval, confidence, count and source of the default; the version
        names the kitchen and a digest of its coefficients, so that different sets never share a name.
    Units: week, base (records; each coefficient keeps its unit); returns a record.
    Valid: a week that passed its reader.
    Errors: UnknownParameter for a code that the base does not hold.
    Source: own definition.
    """
    own = {each.code: each for each in week.parameters}
    for code in own:
        base.get(code)
    if not own:
        return base
    changed = tuple(
        Parameter(
            each.code,
            own[each.code].value,
            each.unit,
            own[each.code].confidence,  # type: ignore[arg-type]
            own[each.code].n,
            own[each.code].source,
            own[each.code].low,
            own[each.code].high,
            each.note,
        )
        if each.code in own
        else each
        for each in base.parameters
    )
    digest = hashlib.sha256(repr(sorted(own.items())).encode()).hexdigest()[:6]
    return ParameterSet(f"{base.version}+{week.kitchen.code}-{digest}", changed)


@dataclass(frozen=True, slots=True)
class _Frame:
    """What every step of planning looks things up in."""

    week: Week
    parameters: ParameterSet
    zone: ZoneInfo
    origin: datetime
    products: Mapping[str, Product]
    formulas: Mapping[str, Formula]
    pots: Mapping[str, Pot]

    def minute(self, at: datetime) -> int:
        """Minutes from the origin, rounded down (limits and dispatches are never stretched)."""
        return int((at - self.origin).total_seconds() // 60)

    def local_midnight(self, day: date) -> datetime:
        """The instant at which a local calendar day begins."""
        return datetime.combine(day, time(), self.zone).astimezone(UTC)

    @property
    def horizon_min(self) -> int:
        """End of the planned time."""
        return self.minute(self.local_midnight(self.week.starts_on + timedelta(days=self.week.days + DAYS_AFTER)))


def make_plan(
    *,
    week: Week,
    parameters: ParameterSet | None = None,
    seed: int = 0,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Plan:
    """Plan a week: net, size, source, schedule, check, buy.

    Equation: the stations of the domain in their order; the schedule is read again by the independent checker
        before the plan is returned.
    Units: week, parameters (records); seed (count); returns a Plan.
    Valid: a week that passed its reader.
    Errors: PotwrightError `plan-breaks-a-limit` when the checker finds a fault (a mistake of the program).
    Source: own definition.
    """
    tell = progress or (lambda *_: None)
    zone = ZoneInfo(week.kitchen.time_zone)
    frame = _Frame(
        week=week,
        parameters=parameters or parameters_of(week=week),
        zone=zone,
        origin=datetime.combine(week.plan_from.astimezone(zone).date(), time(), zone).astimezone(UTC),
        products={each.code: each for each in week.products},
        formulas={each.code: each for each in week.formulas},
        pots={each.code: each for each in week.pots},
    )
    tell("net the orders", 0, 5)
    demand = net_demand(week=week)
    tell("size the runs", 1, 5)
    boil_c = boiling_point_c(altitude_m=week.kitchen.altitude_m)
    coolable = {
        formula.code: largest_coolable_l(
            week=week,
            parameters=frame.parameters,
            density_kg_m3=BROTH_KG_M3,
            start_c=boil_c - formula.simmer_below_boil_k,
        )
        for formula in week.formulas
    }
    batches, unmakeable = size_batches(week=week, demand=demand, parameters=frame.parameters, coolable_l=coolable)
    tell("find pots and times", 2, 5)
    charges = {batch.code: tuple(_charges(frame, batch)) for batch in batches}
    sourced = source_ingredients(week=week, wanted=tuple(_wanted(frame, batches, charges)))
    jobs, refused = _jobs(frame, batches, charges, sourced)
    laid = _lay_out(frame, demand, batches, jobs, refused, seed, cancelled)
    tell("work out sheets and purchases", 3, 5)
    purchases = build_purchases(week=week, sourced=laid.sourced, starts=laid.starts)
    runs = tuple(
        _planned_run(frame, batch, laid.charges[batch.code], placed, *jobs[batch.code], laid.sourced)
        for batch, placed in laid.kept
    )
    tell("done", 5, 5)
    return Plan(
        format=FORMAT,
        version=VERSION,
        week=week,
        parameter_set=frame.parameters.version,
        origin=frame.origin,
        demand=demand,
        runs=runs,
        schedule=laid.schedule,
        purchases=purchases,
        unserved=tuple(_unserved(batches, unmakeable, refused, laid.schedule)),
        late=tuple(_late(frame, laid.schedule)),
        storage_choices=storage_first(week=week, parameters=frame.parameters),
        violations=(),
    )


@dataclass(frozen=True, slots=True)
class _Laid:
    """A schedule with the charges, the starts and the ingredients of its runs, in the order of their starts."""

    schedule: Schedule
    kept: tuple[tuple[Batch, PlacedRun], ...]
    charges: Mapping[str, Charge]
    starts: Mapping[str, datetime]
    sourced: tuple[Portioned, ...]


def _lay_out(
    frame: _Frame,
    demand: Demand,
    batches: tuple[Batch, ...],
    jobs: _Jobs,
    refused: _Refused,
    seed: int,
    cancelled: Callable[[], bool] | None,
) -> _Laid:
    """Schedule; and again with later releases as long as a run would start before all that it needs has come.

    What a run needs is known only with its pot and day. Each round delays a run to a delivery or gives it up, so this
    ends.
    """
    by_code = {batch.code: batch for batch in batches}
    while True:
        schedule = _checked_schedule(frame, demand, jobs, seed, cancelled)
        laid = _laid(frame, by_code, schedule)
        waiting = [part for part in laid.sourced if part.there_at is None or part.there_at > laid.starts[part.run]]
        for part in waiting:
            if part.run not in jobs:
                continue
            job, choices = jobs[part.run]
            if part.there_at is None:
                del jobs[part.run]
                refused.append((by_code[part.run], _no_supplier(frame, by_code[part.run], part)))
            else:
                release_min = max(job.release_min, _up(frame.minute(part.there_at)))
                jobs[part.run] = (dataclasses.replace(job, release_min=release_min), choices)
        if not waiting:
            return laid


def _checked_schedule(
    frame: _Frame, demand: Demand, jobs: _Jobs, seed: int, cancelled: Callable[[], bool] | None
) -> Schedule:
    problem = _problem(frame, demand, tuple(job for job, _ in jobs.values()))
    schedule = greedy_schedule(problem, seed=seed, cancelled=cancelled)
    violations = check_schedule(problem, schedule)
    if violations:
        raise PotwrightError(
            f"The plan breaks a limit: {violations[0].sentence}",
            code="plan-breaks-a-limit",
            numbers={"violations": len(violations), "first": violations[0].code},
            remedy="This is a fault of the program, not of the kitchen: report it with the week file.",
        )
    return schedule


def _laid(frame: _Frame, by_code: Mapping[str, Batch], schedule: Schedule) -> _Laid:
    placed = sorted(schedule.runs, key=lambda run: (run.start_min, run.job))
    kept = tuple((by_code[run.job], run) for run in placed)
    charges = {batch.code: _final_charge(frame, batch, run) for batch, run in kept}
    starts = {run.job: frame.origin + timedelta(minutes=run.start_min) for run in placed}
    wanted = tuple(
        Wanted(
            run=batch.code,
            ingredient=item.ingredient,
            mass_kg=item.mass_kg,
            use_on=starts[batch.code].astimezone(frame.zone).date(),
        )
        for batch, _ in kept
        for item in charges[batch.code].items
    )
    return _Laid(schedule, kept, charges, starts, source_ingredients(week=frame.week, wanted=wanted))


def _wanted(frame: _Frame, batches: Iterable[Batch], charges: _Charges) -> Iterable[Wanted]:
    """Ingredients of each batch in the pot that takes most, on the day before its first dispatch."""
    for batch in batches:
        every = [charge for ends in charges[batch.code] for charge in ends]
        if not every:
            continue
        charge = max(every, key=lambda each: each.solids_kg)
        pegs = [peg.dispatch_at for portion in (*batch.first, *batch.reduction) for peg in portion.pegs]
        use_on = max(min(pegs) - timedelta(days=1), frame.week.plan_from).astimezone(frame.zone).date()
        for item in charge.items:
            yield Wanted(run=batch.code, ingredient=item.ingredient, mass_kg=item.mass_kg, use_on=use_on)


def _charges(frame: _Frame, batch: Batch) -> Iterable[tuple[Charge, ...]]:
    """The batch in every pot that takes it, smallest pot first; in each at the ends of its simmers, longest first."""
    formula = frame.formulas[batch.formula]
    second = formula.second_draw if batch.reduction else None
    for each in pot_ranges(week=frame.week, parameters=frame.parameters, formula=formula):
        if each.takes(batch.first_l):
            try:
                yield tuple(
                    charge_run(
                        week=frame.week,
                        parameters=frame.parameters,
                        formula=formula,
                        pot=frame.pots[each.pot],
                        drawn_l=batch.first_l,
                        simmer_h=simmer_h,
                        second=second is not None,
                        second_simmer_h=second_h,
                    )
                    for simmer_h in (formula.simmer_max_h, formula.simmer_min_h)
                    for second_h in ((second.simmer_max_h, second.simmer_min_h) if second else (None,))
                )
            except (DoesNotFit, OutOfRange):  # this pot would boil dry on the second draw, or the reduction is none
                continue


def _jobs(
    frame: _Frame, batches: Iterable[Batch], all_charges: _Charges, sourced: Iterable[Portioned]
) -> tuple[_Jobs, _Refused]:
    """Batches as jobs of the schedule; those that can never run come back with the reason."""
    by_run: dict[str, list[Portioned]] = {}
    for part in sourced:
        by_run.setdefault(part.run, []).append(part)
    jobs: _Jobs = {}
    refused: _Refused = []
    for batch in batches:
        parts = by_run.get(batch.code, [])
        missing = next((part for part in parts if part.there_at is None), None)
        charges = all_charges[batch.code]
        choices = _choices(frame, batch, [charge for ends in charges for charge in ends])
        if missing is not None:
            refused.append((batch, _no_supplier(frame, batch, missing)))
        elif not charges:
            refused.append((batch, _boils_dry(frame, batch)))
        elif not choices["first"] or (batch.reduction and not choices["reduction"]):
            refused.append((batch, _no_cooling(frame, batch, first=not choices["first"])))
        else:
            try:
                jobs[batch.code] = (_job(frame, batch, charges, choices, parts), choices)
            except OutOfRange as error:  # a freezer that cannot freeze
                refused.append((batch, _refusal(batch, "storage", batch.first_l, "L", error.sentence, error.remedy)))
    return jobs, refused


def _choices(frame: _Frame, batch: Batch, charges: list[Charge]) -> _Choices:
    """Ways to cool each draw of a batch, for the largest mass any of its pots gives."""
    if not charges:
        return {"first": (), "reduction": ()}
    first = max((charge.first for charge in charges), key=lambda draw: draw.cold_l)
    found = {
        "first": cooling_choices(
            week=frame.week,
            parameters=frame.parameters,
            litres=batch.first_l,
            density_kg_m3=1000.0 * first.mass_kg / first.cold_l,
            start_c=first.hot_c,
            glaze=False,
        ),
        "reduction": (),
    }
    reductions = [charge.reduction for charge in charges if charge.reduction is not None]
    if batch.reduction and reductions:
        largest = max(reductions, key=lambda each: each.litres)
        found["reduction"] = cooling_choices(
            week=frame.week,
            parameters=frame.parameters,
            litres=largest.litres,
            density_kg_m3=1000.0 * largest.mass_kg / largest.litres,
            start_c=charges[0].boil_c,
            glaze=True,
        )
    return found


def _job(
    frame: _Frame,
    batch: Batch,
    charges: tuple[tuple[Charge, ...], ...],
    choices: _Choices,
    parts: list[Portioned],
) -> RunJob:
    ingredients = {each.code: each for each in frame.week.ingredients}
    allergens = {name for item in charges[0][0].items for name in ingredients[item.ingredient].allergens}
    there = [part.there_at for part in parts if part.there_at is not None]
    return RunJob(
        code=batch.code,
        formula=batch.formula,
        allergens=frozenset(allergens),
        options=tuple(_option(frame, batch, ends, choices) for ends in charges),
        release_min=_up(frame.minute(max([frame.week.plan_from, *there]))),
    )


def _up(minutes: float) -> int:
    return rounded_up_min(minutes, step_min=STEP_MIN)


def _option(frame: _Frame, batch: Batch, ends: tuple[Charge, ...], choices: _Choices) -> RunOption:
    """The run in one pot; each stage is long enough for the charge at either end of the simmers."""
    week, formula, tasks = frame.week, frame.formulas[batch.formula], frame.week.kitchen.tasks
    charge = ends[0]
    pot = frame.pots[charge.pot]
    source = week.get("heat_sources", pot.heat_source)
    full, low = source.input_kw, max(each.simmer_kw for each in ends)
    simmer = _simmer("simmer", formula.simmer_min_h, formula.simmer_max_h, power_kw=low)
    stages = [
        Stage(kind="load", shortest_min=_up(tasks.load_min), longest_min=_up(tasks.load_min), cooks=1),
        _fixed("heat_up", max(each.heat_up_min for each in ends), on_site=True, power_kw=full),
        _fixed("skim", tasks.skim_min, cooks=1, power_kw=low),
        simmer,
        _fixed("draw_off", tasks.draw_base_min + tasks.draw_min_per_l * charge.first.cold_l, cooks=1),
    ]
    draws = [_draw_of(frame, "first", batch.first, charge, choices["first"], stage=4)]
    reductions = [each.reduction for each in ends if each.reduction is not None]
    if reductions and formula.second_draw is not None:
        second = formula.second_draw
        liquor_l = max(each.liquor.cold_l for each in reductions)
        reduce_min = max(each.reduce_min for each in reductions)
        reduced_l = max(each.litres for each in reductions)
        stages += [
            _fixed("refill", tasks.refill_min, cooks=1),
            _fixed("second_heat_up", max(each.second_heat_up_min for each in ends), on_site=True, power_kw=full),
            _simmer("second_simmer", second.simmer_min_h, second.simmer_max_h, power_kw=low),
            _fixed("second_draw_off", tasks.draw_base_min + tasks.draw_min_per_l * liquor_l, cooks=1),
            Stage(
                kind="hot_hold",
                shortest_min=STEP_MIN,
                longest_min=max(STEP_MIN, _down(60 * week.kitchen.hot_hold_max_h)),
                power_kw=low,
            ),
            _fixed("reduce", max(STEP_MIN, reduce_min - tasks.finish_min), on_site=True, power_kw=full),
            _fixed("finish", tasks.finish_min, cooks=1, power_kw=full),
            _fixed("portion", tasks.portion_base_min + tasks.portion_min_per_l * reduced_l, cooks=1),
        ]
        draws.append(_draw_of(frame, "reduction", batch.reduction, charge, choices["reduction"], stage=len(stages) - 1))
    return RunOption(
        pot=charge.pot,
        supply=source.supply,
        stages=tuple(stages),
        draws=tuple(draws),
        additions=tuple(
            AdditionTask(
                name=item.ingredient,
                stage=3,
                before_end_min=_up(item.minutes_before_end),
                cook_min=_up(item.cook_minutes),
            )
            for item in charge.items
            if item.minutes_before_end is not None
        ),
        wash_min=_up(tasks.wash_min),
    )


def _down(minutes: float) -> int:
    return int(minutes // STEP_MIN) * STEP_MIN


def _simmer(kind: str, shortest_h: float, longest_h: float, *, power_kw: float) -> Stage:
    """A simmer on the grid, or to the minute where its window is too narrow for the grid."""
    shortest, longest = _up(60 * shortest_h), _down(60 * longest_h)
    if shortest > longest:
        shortest = longest = round(60 * longest_h)
    return Stage(kind=kind, shortest_min=shortest, longest_min=longest, power_kw=power_kw)


def _fixed(kind: str, minutes: float, *, cooks: int = 0, on_site: bool = False, power_kw: float = 0.0) -> Stage:
    whole = _up(minutes)
    return Stage(kind=kind, shortest_min=whole, longest_min=whole, cooks=cooks, on_site=on_site, power_kw=power_kw)


def _draw_of(
    frame: _Frame,
    name: str,
    portions: tuple[Portion, ...],
    charge: Charge,
    choices: tuple[CoolingChoice, ...],
    *,
    stage: int,
) -> Draw:
    freeze = {portion.product: _freeze_min(frame, portion, charge) for portion in portions}
    in_trays = [portion for portion in portions if frame.products[portion.product].cube_tray is not None]
    longest = max((choice.mode.minutes for choice in choices), default=0)
    dues, keep, not_before = [], [], 0
    hold = max((freeze[portion.product] for portion in in_trays), default=0)
    for portion in portions:
        product = frame.products[portion.product]
        store = next(each for each in frame.week.stores if each.kind == product.storage)
        room_l = container_storage_l(
            container=frame.week.get("containers", product.container),
            air_gap_mm=frame.parameters.value("storage.air_gap_mm") if product.storage == "frozen" else 0.0,
        )
        extra = freeze[portion.product] if portion not in in_trays else 0
        for peg in portion.pegs:
            leaves = peg.dispatch_at.astimezone(frame.zone).date()
            first_day = frame.local_midnight(first_cook_date(dispatch_on=leaves, product=product))
            not_before = max(not_before, frame.minute(first_day) + longest + hold)
            dues.append(
                Due(
                    label=peg.line,
                    minute=frame.minute(peg.dispatch_at) - extra,
                    weight=peg.weight,
                    share=peg.share,
                )
            )
            keep.append(Keep(store=store.code, litres=room_l * peg.containers, until_min=frame.minute(peg.dispatch_at)))
        if portion.surplus:
            keep.append(Keep(store=store.code, litres=room_l * portion.surplus, until_min=frame.horizon_min))
    return Draw(
        name=name,
        stage=stage,
        modes=tuple(choice.mode for choice in choices),
        freeze_min=hold,
        trays=tuple(_trays(frame, portion) for portion in in_trays),
        dues=tuple(dues),
        not_before_min=not_before,
        keep=tuple(keep),
    )


def _freeze_min(frame: _Frame, portion: Portion, charge: Charge) -> int:
    product = frame.products[portion.product]
    if product.storage != "frozen":
        return 0
    store = next(each for each in frame.week.stores if each.kind == "frozen")
    tray = frame.week.get("cube_trays", product.cube_tray) if product.cube_tray else None
    percent, kg_per_l = charge.first.solids_percent, charge.first.mass_kg / charge.first.cold_l
    if product.kind != "broth" and charge.reduction is not None:
        percent = charge.reduction.solids_bx * frame.parameters.value("brix.protein_per_bx")
        kg_per_l = charge.reduction.mass_kg / charge.reduction.litres
    return _up(
        freeze_minutes(
            parameters=frame.parameters,
            product=product,
            container=frame.week.get("containers", product.container),
            store=store,
            mass_kg=kg_per_l * portion.litres,
            solids_percent=percent,
            cell_edge_mm=(1000.0 * tray.cell_ml) ** (1.0 / 3.0) if tray else None,
        )
    )


def _trays(frame: _Frame, portion: Portion) -> tuple[str, int]:
    product = frame.products[portion.product]
    tray = frame.week.get("cube_trays", product.cube_tray or "")
    cubes = portion.containers * (product.cubes_per_container or 0)
    return tray.code, int(trays_count(cubes_count=cubes, cells_count=tray.cells))


def _problem(frame: _Frame, demand: Demand, jobs: tuple[RunJob, ...]) -> Problem:
    week = frame.week
    ice = week.ice_machine
    return Problem(
        horizon_min=frame.horizon_min,
        now_min=_up(frame.minute(week.plan_from)),
        step_min=STEP_MIN,
        cooks=_staffing(frame),
        supplies_kw=tuple((each.code, each.capacity_kw) for each in week.heat_supplies),
        devices=tuple((each.code, each.places) for each in week.cooling_devices),
        ice_bin_kg=ice.bin_kg if ice else 0.0,
        ice_start_kg=ice.bin_kg * ice.start_share if ice else 0.0,
        ice_kg_per_min=(
            ice_available_kg(
                bin_kg=0.0,
                make_kg_d=ice.make_kg_per_day,
                time_h=1.0,
                make_share=frame.parameters.value("ice.hot_room_share"),
            )
            / 60.0
            if ice
            else 0.0
        ),
        trays=tuple((each.code, each.trays) for each in week.cube_trays),
        stores=tuple(_store_room(frame, demand, each.code) for each in week.stores),
        unattended_simmer=week.kitchen.unattended_simmer,
        soak_min=_up(week.kitchen.tasks.soak_min) if week.kitchen.tasks.soak_min else 0,
        jobs=jobs,
        outages=tuple(
            (
                pot.code,
                Window(
                    start_min=max(0, frame.minute(outage.start)),
                    end_min=max(1, math.ceil((outage.end - frame.origin).total_seconds() / 60)),
                ),
            )
            for pot in week.pots
            for outage in pot.outages
            if outage.end > frame.origin
        ),
    )


def _staffing(frame: _Frame) -> tuple[Window, ...]:
    """Shifts of all people as steps of how many are there."""
    steps: dict[int, int] = {}
    for shift in frame.week.shifts:
        start = max(0, math.ceil((shift.start - frame.origin).total_seconds() / 60))
        end = min(frame.horizon_min, frame.minute(shift.end))
        if end > start:
            steps[start] = steps.get(start, 0) + 1
            steps[end] = steps.get(end, 0) - 1
    windows, there = [], 0
    for start, end in itertools.pairwise(sorted(steps)):
        there += steps[start]
        if there:
            windows.append(Window(start_min=start, end_min=end, amount=there))
    return tuple(windows)


def _store_room(frame: _Frame, demand: Demand, code: str) -> StoreRoom:
    """Room of a store and what of the opening stock stands in it until when."""
    week = frame.week
    store = week.get("stores", code)
    lines = {line.code: line for line in week.order_lines}
    left = dict(demand.left_over)
    opening = []
    for lot in week.lots:
        if lot.store != code:
            continue
        product = frame.products[lot.product]
        one_l = container_storage_l(container=week.get("containers", product.container), air_gap_mm=0.0)
        opening += [
            (frame.minute(lines[served.line].dispatch_at), served.containers * one_l)
            for served in demand.served
            if served.lot == lot.code
        ]
        if left.get(lot.code):
            gone = min(frame.horizon_min, frame.minute(frame.local_midnight(lot.use_by + timedelta(days=1))))
            opening.append((gone, left[lot.code] * one_l))
    usable = store.volume_l * store.usable_share
    return StoreRoom(code=code, litres=max(usable, sum(litres for _, litres in opening)), opening=tuple(opening))


def _final_charge(frame: _Frame, batch: Batch, placed: PlacedRun) -> Charge:
    """The charge for the pot and the simmers that the schedule has given the run, within their windows."""
    minutes = {stage.name: stage.end_min - stage.start_min for stage in placed.stages}
    formula = frame.formulas[batch.formula]
    second = formula.second_draw if batch.reduction else None
    return charge_run(
        week=frame.week,
        parameters=frame.parameters,
        formula=formula,
        pot=frame.pots[placed.pot],
        drawn_l=batch.first_l,
        simmer_h=_within(minutes["simmer"], formula.simmer_min_h, formula.simmer_max_h),
        second=second is not None,
        second_simmer_h=(
            _within(minutes["second_simmer"], second.simmer_min_h, second.simmer_max_h) if second else None
        ),
    )


def _within(minutes: int, shortest_h: float, longest_h: float) -> float:
    """Hours of a simmer; in a window too narrow for whole minutes the schedule is up to half a minute beside it."""
    return min(longest_h, max(shortest_h, minutes / 60.0))


def _planned_run(
    frame: _Frame,
    batch: Batch,
    charge: Charge,
    placed: PlacedRun,
    job: RunJob,
    choices: _Choices,
    sourced: tuple[Portioned, ...],
) -> PlannedRun:
    option = job.options[placed.option]
    draws = []
    figures = list(charge.figures)
    names = {each.code: each.name for each in frame.week.cooling_devices}
    for cooling in placed.coolings:
        choice = next(each for each in choices[cooling.draw] if each.mode.name == cooling.mode)
        for part in choice.parts:
            figures += [
                dataclasses.replace(each, key=f"{cooling.draw}.{part.device}.{each.key}") for each in part.figures
            ]
        draws.append(
            PlannedDraw(
                name=cooling.draw,
                cooling=choice,
                device_names=tuple(names[device] for device, _ in cooling.places),
                start_at=frame.origin + timedelta(minutes=cooling.start_min),
                end_at=frame.origin + timedelta(minutes=cooling.end_min),
                ready_at=frame.origin + timedelta(minutes=cooling.ready_min),
            )
        )
    return PlannedRun(
        code=batch.code,
        batch=batch,
        formula=batch.formula,
        formula_version=frame.formulas[batch.formula].version,
        pot=placed.pot,
        charge=charge,
        placed=placed,
        loads=tuple(
            StageLoad(
                kind=each.name,
                start_min=each.start_min,
                end_min=each.end_min,
                cooks=stage.cooks,
                supply=option.supply,
                power_kw=stage.power_kw,
            )
            for each, stage in zip(placed.stages, option.stages, strict=True)
        ),
        draws=tuple(draws),
        sourced=tuple(part for part in sourced if part.run == batch.code),
        start_at=frame.origin + timedelta(minutes=placed.start_min),
        end_at=frame.origin + timedelta(minutes=placed.pot_free_min),
        figures=tuple(figures),
    )


def _lines_of(batch: Batch) -> Iterable[tuple[str, str, int]]:
    for portion in (*batch.first, *batch.reduction):
        for peg in portion.pegs:
            yield peg.line, portion.product, peg.containers


def _unserved(
    batches: Iterable[Batch],
    unmakeable: Iterable[Unmakeable],
    refused: Iterable[tuple[Batch, Unserved]],
    schedule: Schedule,
) -> Iterable[Unserved]:
    """Every line that cannot be served, with the reason; par levels are wishes and not counted."""
    by_code = {batch.code: batch for batch in batches}
    for need in unmakeable:
        if not need.line.startswith(PAR_PREFIX):
            yield Unserved(**{name: getattr(need, name) for name in Unserved.__dataclass_fields__})
    for batch, reason in refused:
        for line, product, containers in _lines_of(batch):
            if not line.startswith(PAR_PREFIX):
                yield dataclasses.replace(reason, line=line, product=product, containers=containers)
    for out in schedule.unplaced:
        for line, product, containers in _lines_of(by_code[out.job]):
            if not line.startswith(PAR_PREFIX):
                yield Unserved(
                    line=line,
                    product=product,
                    containers=containers,
                    resource=out.resource,
                    missing=out.missing,
                    unit=out.unit,
                    sentence=out.sentence,
                    remedy=out.remedy,
                )


def _late(frame: _Frame, schedule: Schedule) -> Iterable[LateLine]:
    lines = {line.code: line for line in frame.week.order_lines}
    for late in schedule.late:
        if late.label in lines:
            due = lines[late.label].dispatch_at
            behind = timedelta(minutes=late.ready_min - late.due_min)
            yield LateLine(
                line=late.label,
                run=late.job,
                due_at=due,
                ready_at=due + behind,
                resource=late.resource,
                sentence=late.sentence,
            )


def _refusal(batch: Batch, resource: str, missing: float, unit: str, sentence: str, remedy: str) -> Unserved:
    return Unserved(
        line="",
        product="",
        containers=0,
        resource=resource,
        missing=missing,
        unit=unit,
        sentence=f"Run {batch.code}: {sentence}",
        remedy=remedy,
    )


def _no_supplier(frame: _Frame, batch: Batch, missing: Portioned) -> Unserved:
    name = frame.week.get("ingredients", missing.ingredient).name
    return _refusal(
        batch,
        "ingredients",
        missing.to_buy_kg,
        "kg",
        f"{missing.to_buy_kg:.1f} kg of {name} are missing and no supplier offers it.",
        f"Enter a supplier for {name}, or let another ingredient fill its role.",
    )


def _boils_dry(frame: _Frame, batch: Batch) -> Unserved:
    return _refusal(
        batch,
        "pots",
        batch.first_l,
        "L",
        f"no pot makes {batch.first_l:.1f} L of {frame.formulas[batch.formula].name} with what the formula asks for.",
        "Allow a larger pot, keep the lid on, or shorten the simmer.",
    )


def _no_cooling(frame: _Frame, batch: Batch, *, first: bool) -> Unserved:
    litres = batch.first_l if first else batch.reduction_l
    what = "" if first else "reduction of "
    return _refusal(
        batch,
        "cooling",
        litres,
        "L",
        f"no cooling device takes {litres:.1f} L of {what}{frame.formulas[batch.formula].name} through the limits.",
        "Add an ice sink or a blast chiller, or shallower vessels.",
    )


@cache
def _adapter() -> TypeAdapter[Plan]:
    return TypeAdapter(Plan)


def plan_to_json(plan: Plan) -> dict[str, Any]:
    """A plan as plain JSON values.

    Equation: fields as they are; instants in ISO 8601, money as decimal text.
    Units: plan (record; every field names its unit); returns plain values.
    Valid: every plan.
    Errors: none.
    Source: own format, described by plan_schema.
    """
    return cast(dict[str, Any], _adapter().dump_python(plan, mode="json"))


def plan_dumps(plan: Plan) -> str:
    """A plan as the text of its file.

    Equation: plan_to_json, indented by one space, UTF-8.
    Units: plan (record); returns text.
    Valid: every plan.
    Errors: none.
    Source: own format, described by plan_schema.
    """
    return json.dumps(plan_to_json(plan), ensure_ascii=False, indent=1) + "\n"


def plan_from_json(data: Mapping[str, Any]) -> Plan:
    """Read a plan back from plain JSON values.

    Equation: the inverse of plan_to_json.
    Units: data (plain values); returns a record.
    Valid: plans of this version.
    Errors: PotwrightError `bad-plan` for another version or a broken file.
    Source: own format, described by plan_schema.
    """
    if data.get("format") != FORMAT or data.get("version") != VERSION:
        raise PotwrightError(
            "This is not a plan of the version that is read here.",
            code="bad-plan",
            numbers={"format": data.get("format"), "version": data.get("version")},
            remedy="Plan the week again.",
        )
    try:
        return _adapter().validate_python(data)
    except ValidationError as error:
        first = error.errors()[0]
        raise PotwrightError(
            f"The plan is broken at {'/'.join(str(part) for part in first['loc'])}: {first['msg']}.",
            code="bad-plan",
            numbers={"problems": error.error_count()},
            remedy="Plan the week again.",
        ) from error


def plan_schema() -> dict[str, Any]:
    """JSON Schema of the plan file.

    Equation: derived from the dataclasses; a property says what its field says of itself, or the unit of its name.
    Units: no quantities; returns plain values.
    Valid: this version.
    Errors: none.
    Source: JSON Schema draft 2020-12.
    """
    schema = _adapter().json_schema(mode="serialization")
    for name, made in schema["$defs"].items():
        spoken = {each.name: each.metadata for each in dataclasses.fields(getattr(kitchen, name, _Nothing))}
        for field_name, described in made.get("properties", {}).items():
            described.update(_described(field_name, spoken.get(field_name, {})))
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:potwright:plan:{VERSION}",
        **schema,
    }


@dataclass(frozen=True)
class _Nothing:
    """Stands for the dataclasses outside the kitchen's module, whose fields carry no metadata."""


def _described(field_name: str, spoken: Mapping[str, Any]) -> dict[str, str]:
    unit = spoken.get("unit", "")
    with contextlib.suppress(PotwrightError):
        unit = unit or unit_of_name(field_name)
    words = [spoken.get("doc", ""), f"in {unit}" if unit else ""]
    text = ", ".join(word for word in words if word)
    return {"description": text} if text else {}
