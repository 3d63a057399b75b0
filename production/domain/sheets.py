"""What goes on paper, as frozen content: the batch sheet, the blank cooling log, the purchase list."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from functools import cache
from typing import Any, Literal, cast
from zoneinfo import ZoneInfo

from pydantic import TypeAdapter

from production.domain.batches import Portion
from production.domain.cooling_capacity import CoolingPart
from production.domain.formula import ChargeItem, Reduction
from production.domain.kitchen import ALLERGENS, CoolingDevice, Formula, Ingredient, Pot
from production.domain.limits import CoolingRule, rule
from production.domain.plan import Plan, PlannedDraw, PlannedRun, parameters_of
from production.domain.quantities import display_quantity
from production.domain.schedule.result import Placed
from production.domain.thermal.pots import pot_volume_l


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """What every document says about itself."""

    kitchen: str
    time_zone: str
    units: str  # metric or us
    week: date
    plan_made_at: datetime
    parameter_set: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PotFill:
    """The pot in cross-section, for the drawing and the fill mark."""

    pot: str
    heat_source: str
    inner_diameter_mm: float
    inner_height_mm: float
    brim_l: float
    solids_l: float
    water_l: float
    cold_fill_l: float  # solids and water together, cold
    fill_mark_mm: float  # cold surface below the rim
    hot_mark_mm: float  # surface below the rim at the boil, bubbles included
    freeboard_mm: float  # least distance wanted at the boil


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeLine:
    """One weighing, in the order of use."""

    order: int
    name: str
    what: str  # solids, water, mirepoix, aromatics
    role: str
    mass_kg: float
    volume_l: float | None  # water only
    from_bank_kg: float
    add_at: datetime | None  # None = with the load
    allergens: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StageLine:
    """One line of the stage table."""

    kind: str
    title: str
    start_at: datetime
    end_at: datetime
    do: str
    record: str
    caution: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """So many containers of a product."""

    product: str
    container: str
    containers: int
    net_l: float
    pieces: int | None  # cubes


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedDraw:
    """What a draw should give, and where it goes."""

    name: str
    at: datetime
    mass_kg: float
    cold_l: float
    hot_l: float
    hot_temp_c: float
    solids_bx: float
    filled: tuple[Filled, ...]
    cooled_in: str
    ice_kg: float
    log_key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchSheet:
    """One run in one pot, for the cook."""

    kind: str
    key: str
    heading: Heading
    run: str
    formula: str
    formula_version: int
    start_at: datetime
    end_at: datetime
    fill: PotFill
    charge: tuple[ChargeLine, ...]
    stages: tuple[StageLine, ...]
    draws: tuple[ExpectedDraw, ...]
    boil_temp_c: float
    simmer_temp_c: float
    evaporation_kg_h: float
    allergens: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitLine:
    """One critical limit with what is predicted against it."""

    stage: int
    from_temp: Decimal | None
    to_temp: Decimal
    temp_unit: str  # C or F, as the rule prints it
    limit_min: int
    counted_from: str
    inclusive: bool
    predicted_min: float
    margin_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePoint:
    """A point of a predicted cooling curve."""

    minute: float
    temp_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingLog:
    """The blank cooling log of one draw in one device."""

    kind: str
    key: str
    heading: Heading
    run: str
    draw: str
    formula: str
    products: tuple[Filled, ...]
    device: str
    vessel: str
    vessels: int
    fill_l: float
    depth_mm: float
    ice_kg: float
    start_at: datetime
    start_temp_c: float
    rule: str
    jurisdiction: str
    rule_source: str
    limits: tuple[LimitLine, ...]
    clock_starts: str
    expected: tuple[CurvePoint, ...]
    slow: tuple[CurvePoint, ...]
    reading_minutes: tuple[int, ...]  # suggested times of readings after the start
    corrective: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PurchaseLine:
    """So many packs of an ingredient."""

    ingredient: str
    packs: int
    pack_kg: float
    mass_kg: float
    needed_kg: float  # as bought, after stock and bank
    price: Decimal
    cost: Decimal
    needed_by: datetime
    for_runs: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PurchaseList:
    """What is ordered from one supplier for one delivery."""

    kind: str
    key: str
    heading: Heading
    supplier: str
    contact: str
    order_by: datetime
    delivery_at: datetime
    currency: str
    lines: tuple[PurchaseLine, ...]
    total: Decimal


SPARE_L = 0.05  # less than this sticks to pot and ladle (own choice)
SALT_CAUTION_PERCENT = 1.2  # saltier than most people like a sauce (common practice, no source)
REHEAT = {"C": "74 °C", "F": "165 °F"}  # all parts for 15 s: FDA Food Code 3-403.11, read in adopted state texts
HOT_HOLD_C = 65.0  # above the start temperature of every rule in limits (63 is the highest); own choice

_UNATTENDED = "Nobody is in the kitchen for part of this time: follow the plan for unattended heat."
_TITLES: Mapping[str, str] = {
    "load": "Load",
    "heat_up": "Heat up",
    "skim": "Skim",
    "simmer": "Simmer",
    "draw_off": "Draw off and strain",
    "refill": "Refill the bones",
    "second_heat_up": "Heat up again",
    "second_simmer": "Second simmer",
    "second_draw_off": "Second draw",
    "hot_hold": "Hold hot",
    "reduce": "Reduce",
    "finish": "Finish the reduction",
    "portion": "Portion",
    "wash": "Wash the pot",
}


@dataclass(frozen=True, slots=True)
class _Page:
    """What the lines of a run's sheet look things up in."""

    plan: Plan
    run: PlannedRun
    names: Mapping[str, Ingredient]
    formula: Formula
    pot: Pot

    def show(self, value: float, unit: str) -> str:
        """A quantity in the kitchen's units."""
        number, shown = display_quantity(value, unit, _system(self.plan))
        return f"{number} {'°' if unit == 'degC' else ''}{shown}"


def _system(plan: Plan) -> Literal["metric", "us"]:
    return "us" if plan.week.kitchen.units == "us" else "metric"


def _page(plan: Plan, run: PlannedRun) -> _Page:
    week = plan.week
    return _Page(
        plan=plan,
        run=run,
        names={each.code: each for each in week.ingredients},
        formula=week.get("formulas", run.formula),
        pot=week.get("pots", run.pot),
    )


def _heading(plan: Plan) -> Heading:
    kitchen = plan.week.kitchen
    return Heading(
        kitchen=kitchen.name,
        time_zone=kitchen.time_zone,
        units=kitchen.units,
        week=plan.week.starts_on,
        plan_made_at=plan.week.plan_from,
        parameter_set=plan.parameter_set,
    )


def batch_sheets(plan: Plan) -> tuple[BatchSheet, ...]:
    """One sheet for each run of a plan.

    Equation: the run's charge, schedule and draws put into the order of work.
    Units: plan (record); contents in kg, L, mm, degC and instants.
    Valid: every plan.
    Errors: none.
    Source: own definition; cautions are common practice, no source.
    """
    return tuple(_batch_sheet(_page(plan, run)) for run in plan.runs)


def _batch_sheet(page: _Page) -> BatchSheet:
    plan, run, pot = page.plan, page.run, page.pot
    charge = run.charge
    allergens = _allergens(page)
    brim = pot_volume_l(inner_diameter_m=pot.inner_diameter_mm / 1000.0, level_mm=pot.inner_height_mm)
    return BatchSheet(
        kind="batch_sheet",
        key=run.code,
        heading=_heading(plan),
        run=run.code,
        formula=page.formula.name,
        formula_version=run.formula_version,
        start_at=run.start_at,
        end_at=run.end_at,
        fill=PotFill(
            pot=pot.name,
            heat_source=plan.week.get("heat_sources", pot.heat_source).name,
            inner_diameter_mm=pot.inner_diameter_mm,
            inner_height_mm=pot.inner_height_mm,
            brim_l=brim,
            solids_l=charge.solids_l,
            water_l=charge.water_l,
            cold_fill_l=charge.cold_fill_l,
            fill_mark_mm=charge.fill_mark_mm,
            hot_mark_mm=charge.hot_mark_mm,
            freeboard_mm=parameters_of(week=plan.week).value("pot.freeboard_boil_mm"),
        ),
        charge=tuple(_charge_lines(page)),
        stages=tuple(_stage_lines(page)),
        draws=tuple(_expected(page, draw) for draw in run.draws),
        boil_temp_c=charge.boil_c,
        simmer_temp_c=charge.simmer_c,
        evaporation_kg_h=charge.evaporation_kg_h,
        allergens=allergens,
        cautions=tuple(_cautions(page)),
    )


def _allergens(page: _Page) -> tuple[str, ...]:
    found = {name for item in page.run.charge.items for name in page.names[item.ingredient].allergens}
    return tuple(name for name in ALLERGENS if name in found)


def _charge_lines(page: _Page) -> Iterable[ChargeLine]:
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
        )


def _stage_lines(page: _Page) -> Iterable[StageLine]:
    placed = page.run.placed
    for stage in [*placed.stages, *([placed.wash] if placed.wash else [])]:
        do, record, caution = _words(page, stage.name, stage)
        yield StageLine(
            kind=stage.name,
            title=_TITLES[stage.name],
            start_at=page.plan.at(stage.start_min),
            end_at=page.plan.at(stage.end_min),
            do=do,
            record=record,
            caution=caution,
        )


def _words(page: _Page, kind: str, stage: Placed) -> tuple[str, str, str]:
    """What to do, what to record and the caution of one stage."""
    charge, show = page.run.charge, page.show
    lid = {"open": "Lid off.", "ajar": "Lid ajar.", "on": "Lid on."}[page.formula.lid]
    simmer = f"Hold {show(charge.simmer_c, 'degC')}, a bare simmer. {lid}"
    away = _UNATTENDED if _away(page, stage) else ""
    words = {
        "load": (
            f"Weigh the solids, then fill with cold water to {show(charge.fill_mark_mm, 'mm')} below the rim.",
            "weights, fill mark",
            _load_caution(page),
        ),
        "heat_up": (
            f"Full heat to the boil ({show(charge.boil_c, 'degC')} here).",
            "time of first boil",
            "Gas on: ventilation on, never leave it." if _on_gas(page) else "Stay near while it comes to the boil.",
        ),
        "skim": ("Skim foam and fat, then turn down.", "skimmed kg", "Foam rises fast: keep the freeboard."),
        "simmer": (simmer, "temperature each hour", away),
        "draw_off": (
            f"Draw and strain about {show(charge.first.hot_l, 'L')} hot.{_salt(page)} Cool at once.",
            "kg or hot L with temperature",
            "Scald: two people, dry gloves, clear floor.",
        ),
        "refill": (
            f"Refill with {show(charge.refill_kg, 'kg')} cold water.",
            "kg",
            "Steam when cold water meets hot bones.",
        ),
        "second_heat_up": ("Full heat to the boil.", "time of boil", ""),
        "second_simmer": (simmer, "temperature each hour", away),
        "hot_hold": (f"Keep hot, above {show(HOT_HOLD_C, 'degC')}, until the reduction starts.", "temperature", ""),
        "wash": ("Empty, wash and rinse the pot.", "done by", _wash_caution(page)),
    }
    reduction = charge.reduction
    if reduction is not None:
        words |= {
            "second_draw_off": (
                f"Draw about {show(reduction.liquor.hot_l, 'L')}, empty the bones, return the liquor.",
                "kg, Brix",
                "Scald: two people, dry gloves, clear floor.",
            ),
            "reduce": (
                _reduce_words(page, reduction),
                "weight or level, time",
                "",
            ),
            "finish": (
                f"Stir, low heat, to {show(reduction.mass_kg, 'kg')} ({reduction.solids_bx:.0f} Brix).",
                "kg, Brix",
                "It catches: the last litre goes in minutes. Look every 5 minutes.",
            ),
            "portion": (
                f"Portion hot, then cool at once.{_spare(page, reduction)}",
                "containers",
                "Sticky and hot: it burns deeper than water.",
            ),
        }
    return words[kind]


def _reduce_words(page: _Page, reduction: Reduction) -> str:
    start = f"Boil down from {page.show(reduction.liquor.mass_kg, 'kg')} to {page.show(reduction.mass_kg, 'kg')}. "
    smaller = min(page.plan.week.pots, key=lambda pot: pot.inner_diameter_mm)
    turn = f"At {page.show(reduction.scorch_from_kg, 'kg')} "
    if smaller.inner_diameter_mm < page.pot.inner_diameter_mm:
        return start + turn + f"turn the heat down, or move to a pot as narrow as {smaller.name} if one is free."
    return start + turn + "turn the heat down."


def _salt(page: _Page) -> str:
    """Salt goes into the drawn broth, never into the pot, whose bones may be drawn again and boiled down."""
    salt_kg = page.run.charge.salt_kg
    if not salt_kg:
        return ""
    weight = page.show(salt_kg, "kg") if _system(page.plan) == "us" else page.show(1000.0 * salt_kg, "g")
    return f" Stir {weight} of salt into the drawn broth, not the pot."


def _spare(page: _Page, reduction: Reduction) -> str:
    """What a reduction gives beyond the containers that are planned."""
    spare_l = reduction.litres - page.run.batch.reduction_l
    if spare_l < SPARE_L:
        return ""
    return f" About {page.show(spare_l, 'L')} more than planned: fill and label it too, cool it with the rest."


def _load_caution(page: _Page) -> str:
    charge = page.run.charge
    if charge.water_l < charge.water_to_cover_l:
        missing = page.show(charge.water_to_cover_l - charge.water_l, "L")
        return f"The water will not cover the solids (about {missing} short): break or press them. Lift with two."
    return "Heavy: lift with two."


def _wash_caution(page: _Page) -> str:
    allergens = _allergens(page)
    if not allergens:
        return ""
    return f"Allergens ({', '.join(allergens)}): clean by the allergen change-over before another formula."


def _on_gas(page: _Page) -> bool:
    week = page.plan.week
    return str(week.get("heat_supplies", week.get("heat_sources", page.pot.heat_source).supply).kind) == "gas"


def _away(page: _Page, stage: Placed) -> bool:
    """Whether some of a stage falls outside every shift."""
    start, end = page.plan.at(stage.start_min), page.plan.at(stage.end_min)
    covered = start
    for shift in sorted(page.plan.week.shifts, key=lambda each: each.start):
        if shift.start <= covered < shift.end:
            covered = shift.end
    return covered < end


def _cautions(page: _Page) -> Iterable[str]:
    reduction = page.run.charge.reduction
    if reduction is not None and reduction.salt_percent > SALT_CAUTION_PERCENT:
        yield (
            f"Salt in the reduction would reach {reduction.salt_percent:.1f} % "
            f"({reduction.mass_factor:.0f} times as strong): season after reducing."
        )
    yield "Cool through both limits of the cooling log. Never put a deep container of hot liquid into still cold air."
    yield "Do not seal hot broth in bags or airtight packs unless the kitchen's approved plan covers it."
    yield "When in doubt, hold the lot and ask; discard what cannot be shown to be safe."
    yield "Yields and times marked C in Workings are estimates until your own records replace them."


def _filled(plan: Plan, portions: Iterable[Portion]) -> tuple[Filled, ...]:
    week = plan.week
    found = []
    for portion in portions:
        product = week.get("products", portion.product)
        found.append(
            Filled(
                product=product.name,
                container=week.get("containers", product.container).name,
                containers=portion.containers,
                net_l=product.net_l,
                pieces=portion.containers * product.cubes_per_container if product.cubes_per_container else None,
            )
        )
    return tuple(found)


def _log_key(run: PlannedRun, draw: PlannedDraw, part: CoolingPart) -> str:
    return f"{run.code}-{draw.name}" if len(draw.cooling.parts) == 1 else f"{run.code}-{draw.name}-{part.device}"


def _expected(page: _Page, draw: PlannedDraw) -> ExpectedDraw:
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
        filled=_filled(page.plan, batch.reduction if reduction else batch.first),
        cooled_in=" and ".join(
            f"{names[part.device]}, {part.vessels} vessel{'s' if part.vessels > 1 else ''}"
            for part in draw.cooling.parts
        ),
        ice_kg=draw.cooling.mode.ice_kg,
        log_key=", ".join(_log_key(page.run, draw, part) for part in draw.cooling.parts),
    )


def cooling_logs(plan: Plan) -> tuple[CoolingLog, ...]:
    """One blank log for each draw and device of a plan.

    Equation: the rule of the kitchen, the device and vessel of the draw, and the predicted curve on both sides.
    Units: plan (record); contents in degC, min, L, mm, kg; limits in the unit the rule prints.
    Valid: every plan.
    Errors: UnknownParameter for a rule that is not known.
    Source: limits from limits.rule; what a log holds follows 21 CFR 117.305 and 9 CFR 417.5, read.
    """
    return tuple(
        _cooling_log(_page(plan, run), draw, part)
        for run in plan.runs
        for draw in run.draws
        for part in draw.cooling.parts
    )


def _cooling_log(page: _Page, draw: PlannedDraw, part: CoolingPart) -> CoolingLog:
    plan, run = page.plan, page.run
    law = rule(plan.week.kitchen.cooling_rule)
    device = plan.week.get("cooling_devices", part.device)
    portions = run.batch.reduction if draw.name == "reduction" else run.batch.first
    return CoolingLog(
        kind="cooling_log",
        key=_log_key(run, draw, part),
        heading=_heading(plan),
        run=run.code,
        draw="Reduction" if draw.name == "reduction" else "First draw",
        formula=page.formula.name,
        products=_filled(plan, portions),
        device=device.name,
        vessel=plan.week.get("containers", device.vessel).name,
        vessels=part.vessels,
        fill_l=part.fill_l,
        depth_mm=part.depth_mm,
        ice_kg=part.ice_kg,
        start_at=draw.start_at,
        start_temp_c=draw.cooling.start_temp_c,
        rule=f"{law.title} ({law.code})",
        jurisdiction=law.jurisdiction,
        rule_source=law.source,
        limits=tuple(_limits(law, draw)),
        clock_starts=_clock_sentence(law),
        expected=tuple(CurvePoint(minute=minute, temp_c=temp) for minute, temp in part.expected),
        slow=tuple(CurvePoint(minute=minute, temp_c=temp) for minute, temp in part.slow),
        reading_minutes=_reading_minutes(part.minutes),
        corrective=_corrective(law),
        cautions=tuple(_log_cautions(device)),
    )


def _log_cautions(device: CoolingDevice) -> Iterable[str]:
    if device.kind == "ice_sink":
        yield "Ice must be left in the bath until the last limit is reached: top it up, and stir broth and bath."
    yield "Measure at the warmest point: the centre of the fullest vessel, away from wall and ice."
    yield "A missing reading proves nothing. Never fill one in later."


def _limits(law: CoolingRule, draw: PlannedDraw) -> Iterable[LimitLine]:
    margins = {margin.stage: margin for margin in draw.cooling.margins}
    for stage in law.stages:
        if stage.to_temp is None or stage.max_minutes is None:
            continue
        margin = margins[stage.number]
        yield LimitLine(
            stage=stage.number,
            from_temp=stage.from_temp,
            to_temp=stage.to_temp,
            temp_unit=stage.unit,
            limit_min=stage.max_minutes,
            counted_from=_counted_from(law, stage.clock, stage.number),
            inclusive=not stage.strict,
            predicted_min=margin.predicted_min,
            margin_min=margin.margin_min,
        )


def _counted_from(law: CoolingRule, clock: str, number: int) -> str:
    if clock == "from_stage":
        return f"the end of stage {number - 1}"
    if clock == "from_event":
        return law.event
    first = law.stages[0]
    return f"passing {first.from_temp} °{first.unit}"


def _clock_sentence(law: CoolingRule) -> str:
    first = law.stages[0]
    if first.from_temp is None:
        return f"The clock starts at: {law.event}."
    return (
        f"The clock starts at the last reading of {first.from_temp} °{first.unit} or more before the first "
        f"one below it. Time above {first.from_temp} °{first.unit} does not count; pouring and straining do not "
        "stop the clock."
    )


def _reading_minutes(minutes: int) -> tuple[int, ...]:
    step = 15 if minutes <= 90 else 30 if minutes <= 240 else 60
    return tuple(range(0, minutes + step, step))


def _corrective(law: CoolingRule) -> tuple[str, ...]:
    """What may be done; reheating is guidance (sample HACCP procedures), only where the kitchen's plan allows it."""
    first, last = law.stages[0], law.stages[-1]
    lines = ["Too slow, limit not yet passed: more ice, stir, split into shallower vessels, or move to the chiller."]
    if first.from_temp is not None and first.max_minutes is not None:
        lines.append(
            f"Not yet {first.max_minutes} min and it will not reach {first.to_temp} °{first.unit}: reheat once to "
            f"{REHEAT[first.unit]} for 15 s if the kitchen's plan allows it, and open a new log."
        )
        lines.append(f"Above {first.to_temp} °{first.unit} after {first.max_minutes} min: discard.")
    if last.to_temp is not None and last.max_minutes is not None and last is not first:
        lines.append(f"Above {last.to_temp} °{last.unit} when the last limit has passed: discard.")
    lines.append("History not known, or a second failure: discard.")
    return tuple(lines)


def purchase_lists(plan: Plan) -> tuple[PurchaseList, ...]:
    """One list for each supplier and delivery of a plan.

    Equation: the plan's purchase orders with names in place of codes.
    Units: plan (record); masses in kg, money in the kitchen's currency.
    Valid: every plan.
    Errors: none.
    Source: own definition.
    """
    week = plan.week
    names = {each.code: each.name for each in week.ingredients}
    suppliers = {each.code: each for each in week.suppliers}
    return tuple(
        PurchaseList(
            kind="purchase_list",
            key=f"{order.supplier}-{order.delivery_at.astimezone(ZoneInfo(week.kitchen.time_zone)):%Y-%m-%d}",
            heading=_heading(plan),
            supplier=suppliers[order.supplier].name,
            contact=suppliers[order.supplier].contact,
            order_by=order.order_by,
            delivery_at=order.delivery_at,
            currency=week.kitchen.currency,
            lines=tuple(
                PurchaseLine(
                    ingredient=names[item.ingredient],
                    packs=item.packs,
                    pack_kg=item.pack_kg,
                    mass_kg=item.mass_kg,
                    needed_kg=item.needed_kg,
                    price=item.price,
                    cost=item.cost,
                    needed_by=item.needed_at,
                    for_runs=item.runs,
                )
                for item in order.items
            ),
            total=order.total,
        )
        for order in plan.purchases.orders
    )


Content = BatchSheet | CoolingLog | PurchaseList


@cache
def _adapter() -> TypeAdapter[Content]:
    return TypeAdapter(Content)


def content_to_json(content: Content) -> dict[str, Any]:
    """A document's content as plain JSON values, to be frozen in a row.

    Equation: fields as they are; instants in ISO 8601, money and limits as decimal text.
    Units: content (record; every field names its unit); returns plain values.
    Valid: every content.
    Errors: none.
    Source: own format.
    """
    return cast(dict[str, Any], _adapter().dump_python(content, mode="json"))


def content_from_json(data: Mapping[str, Any]) -> Content:
    """Read a document's content back.

    Equation: the inverse of content_to_json; the kind says which.
    Units: data (plain values); returns a record.
    Valid: contents written by this version.
    Errors: pydantic's ValidationError for broken data.
    Source: own format.
    """
    of = {"batch_sheet": BatchSheet, "cooling_log": CoolingLog, "purchase_list": PurchaseList}[data["kind"]]
    return cast(Content, TypeAdapter(of).validate_python(data))
