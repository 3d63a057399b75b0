"""One run as a page shows it: the content of its batch sheet and cooling logs, each number with its workings."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from django.utils.html import format_html
from django.utils.safestring import SafeString

from production.documents.batch_sheet import in_order_of_use
from production.documents.cooling_log import limit_words
from production.documents.pictures import corridor_drawn, course_drawn, pot_drawn
from production.documents.words import Clock, Units
from production.domain.plan import Plan, PlannedRun
from production.domain.sheets import (
    BatchSheet,
    ChargeLine,
    CoolingLog,
    ExpectedDraw,
    Filled,
    batch_sheets,
    cooling_logs,
)
from production.domain.workings import REGISTRY, Figure
from production.drawing.canvas import Size, Svg
from production.drawing.cooling_corridor import cooling_corridor
from production.drawing.extraction_line import extraction_line
from production.drawing.pot_section import pot_section
from production.web.present.figures import figure_label, names_of
from production.web.present.plan import Margin, margin_of
from production.web.present.words import days_said, line_name, part_of_line
from production.web.style import Amount, Style, duration_text, minutes_between

_POT = Size(width_px=340, height_px=300)
_LINE_WIDE = Size(width_px=1100, height_px=0)
_LINE_NARROW = Size(width_px=350, height_px=0)
_CORRIDOR_WIDE = Size(width_px=960, height_px=260)
_CORRIDOR_NARROW = Size(width_px=350, height_px=300)

# The numbers a cook looks for first: figure, label.
_HEROES = (
    ("fill_mark_mm", "Fill cold to below the rim"),
    ("solids_kg", "Solids"),
    ("water_l", "Water"),
    ("first_cold_l", "First draw, cold"),
    ("reduction_l", "Reduction, cold"),
    ("evaporation_kg_h", "Boils off at the simmer"),
)
# Groups of figures by the words their keys begin with, the narrow ones first; what fits nowhere comes last.
_GROUPS = (
    ("Cooling", ("first.", "reduction.")),
    ("First draw", ("first_",)),
    ("Second draw and reduction", ("second_", "refill", "reduc", "removed_", "base_flux")),
    ("Pot and fill", ("fill_", "hot_", "freeboard", "thermal_", "water_to", "solids_l")),
    ("Heat and water lost", ("boil", "heat_up", "simmer", "evaporat", "open_evaporat", "skim")),
    ("Charge and yield", ("solids_kg", "mass_kg", "water_kg", "water_l", "solubles", "extract", "balance")),
)
_SHOWN_IN_ORDER = (
    "Charge and yield", "Pot and fill", "Heat and water lost", "First draw", "Second draw and reduction", "Cooling",
    "Further numbers",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Number:
    """A figure of the run with the address of its workings."""

    label: str
    value: Amount
    exact: float  # in the unit it is computed in
    href: str
    cls: str


@dataclass(frozen=True, slots=True)
class Opened:
    """An amount that opens its workings where it has any."""

    amount: Amount
    href: str

    def __str__(self) -> SafeString:
        shown = self.amount.__str__()
        return format_html('<a class="workings" href="{}">{}</a>', self.href, shown) if self.href else shown


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """A span of time that opens its workings."""

    label: str
    text: str
    href: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberGroup:
    label: str
    numbers: tuple[Number, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeRow:
    order: int
    name: str
    what: str
    mass: Opened
    volume: Opened | None
    from_bank: Amount | None
    add_at: str
    allergens: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StageRow:
    title: str
    when: str
    lasts: str
    do: str
    record: str
    caution: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitRow:
    words: str
    predicted: str
    margin: Margin


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingView:
    """One draw in one device, as predicted."""

    device: str
    vessels: str
    fill: Amount
    depth: Amount
    ice: Opened | None
    durations: tuple[Opening, ...]
    start: str
    start_temp: Amount
    caption: str
    limits: tuple[LimitRow, ...]
    corridor_wide: Svg
    corridor_narrow: Svg


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawView:
    name: str
    at: str
    mass: Opened
    cold: Opened
    hot: Opened
    hot_temp: Amount
    strength: Amount
    solids: Opened | None  # the dissolved solids by weight, where they are a figure of their own
    filled: tuple[str, ...]
    coolings: tuple[CoolingView, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunPage:
    code: str
    formula: str
    version: int
    pot: str
    heat_source: str
    when: str
    lasts: str
    why_here: str
    heroes: tuple[Number, ...]
    pot_drawing: Svg
    line_wide: Svg
    line_narrow: Svg
    charge: tuple[ChargeRow, ...]
    stages: tuple[StageRow, ...]
    draws: tuple[DrawView, ...]
    serves: tuple[str, ...]
    cautions: tuple[str, ...]
    allergens: str
    late: tuple[str, ...]
    groups: tuple[NumberGroup, ...]


def run_page(*, plan: Plan, run: PlannedRun, style: Style, href: Callable[[str], str]) -> RunPage:
    """Everything the page of a run needs."""
    sheet = next(each for each in batch_sheets(plan) if each.run == run.code)
    logs = tuple(each for each in cooling_logs(plan) if each.run == run.code)
    parts = ((draw.name, part.device) for draw in run.draws for part in draw.cooling.parts)
    about = {log.key: f"{draw}.{device}" for log, (draw, device) in zip(logs, parts, strict=True)}
    names = names_of(plan.week)
    numbers = {each.key: _number(each, names, style, href) for each in run.figures}
    units = Units(style.units)
    course = course_drawn(sheet, Clock.spanning(sheet.heading.time_zone, sheet.start_at, sheet.end_at))
    return RunPage(
        code=run.code,
        formula=sheet.formula,
        version=sheet.formula_version,
        pot=sheet.fill.pot,
        heat_source=sheet.fill.heat_source,
        when=style.between(sheet.start_at, sheet.end_at),
        lasts=duration_text(minutes_between(run.start_at, run.end_at)),
        why_here=days_said(_with_the_pots_name(run.placed.why_here, run.pot, sheet.fill.pot)),
        heroes=tuple(_renamed(numbers[key], label) for key, label in _HEROES if key in numbers),
        pot_drawing=pot_section(pot_drawn(sheet.fill, units), _POT),
        line_wide=extraction_line(course, _LINE_WIDE),
        line_narrow=extraction_line(course, _LINE_NARROW),
        charge=tuple(_charge_row(each, style, numbers) for each in in_order_of_use(sheet)),
        stages=_stage_rows(sheet, style),
        draws=tuple(_draw_view(each, logs, style, numbers, about) for each in sheet.draws),
        serves=_serves(plan, run, style),
        cautions=sheet.cautions,
        allergens=", ".join(sheet.allergens),
        late=tuple(days_said(each.sentence) for each in plan.late if each.run == run.code),
        groups=_groups(numbers),
    )


def _number(figure: Figure, names: Mapping[str, str], style: Style, href: Callable[[str], str]) -> Number:
    return Number(
        label=figure_label(figure.key, names),
        value=style.amount(figure.value, figure.unit),
        exact=figure.value,
        href=href(figure.key),
        cls=REGISTRY[figure.working].cls,
    )


def _renamed(number: Number, label: str) -> Number:
    return replace(number, label=label)


def _groups(numbers: dict[str, Number]) -> tuple[NumberGroup, ...]:
    left = dict(numbers)
    groups = []
    for label, beginnings in _GROUPS:
        taken = [key for key in left if key.startswith(beginnings)]
        groups.append(NumberGroup(label=label, numbers=tuple(left.pop(key) for key in taken)))
    groups.append(NumberGroup(label="Further numbers", numbers=tuple(left.values())))
    groups.sort(key=lambda group: _SHOWN_IN_ORDER.index(group.label))
    return tuple(group for group in groups if group.numbers)


def _with_the_pots_name(sentence: str, code: str, name: str) -> str:
    """The sentence opens with the pot or ends with it."""
    place = re.escape(code)
    return re.sub(rf"^{place}(?= starts )|(?<= in ){place}(?=\.$)", lambda _: name, sentence)


def _charge_row(line: ChargeLine, style: Style, numbers: Mapping[str, Number]) -> ChargeRow:
    def opened(value: float, unit: str, key: str) -> Opened:
        return Opened(style.amount(value, unit), numbers[key].href)

    return ChargeRow(
        order=line.order,
        name=line.name,
        what=(line.role or line.what).replace("_", " "),
        mass=opened(line.mass_kg, "kg", line.figure),
        volume=None if line.volume_l is None else opened(line.volume_l, "L", "water_l"),
        from_bank=style.amount(line.from_bank_kg, "kg") if line.from_bank_kg > 0 else None,
        add_at=style.when(line.add_at) if line.add_at else "with the load",
        allergens=", ".join(line.allergens),
    )


def _stage_rows(sheet: BatchSheet, style: Style) -> tuple[StageRow, ...]:
    return tuple(
        StageRow(
            title=stage.title,
            when=style.between(stage.start_at, stage.end_at),
            lasts=duration_text(minutes_between(stage.start_at, stage.end_at)),
            do=stage.do,
            record=stage.record,
            caution=stage.caution,
        )
        for stage in sheet.stages
    )


# Figures of what a draw gives: mass, cold and hot volume, dissolved solids.
_GIVEN = {
    "First draw": ("first_drawn_kg", "first_cold_l", "first_hot_l", "first_solids_percent"),
    "Reduction": ("reduction_kg", "reduction_l", "reduction_hot_l", "reduction_solids_percent"),
}
_COOLING_TIMES = (("cooling_time_h", "as a liquid"), ("slab_time_h", "as a gelled slab"))


def _draw_view(
    draw: ExpectedDraw,
    logs: tuple[CoolingLog, ...],
    style: Style,
    numbers: Mapping[str, Number],
    about: Mapping[str, str],
) -> DrawView:
    *given, solids_key = _GIVEN[draw.name]
    mass, cold, hot = (numbers[key].href if key in numbers else "" for key in given)
    solids = numbers.get(solids_key)
    return DrawView(
        name=draw.name,
        at=style.when(draw.at),
        mass=Opened(style.amount(draw.mass_kg, "kg"), mass),
        cold=Opened(style.amount(draw.cold_l, "L"), cold),
        hot=Opened(style.amount(draw.hot_l, "L"), hot),
        hot_temp=style.amount(draw.hot_temp_c, "degC"),
        strength=style.amount(draw.solids_bx, "Bx"),
        solids=Opened(solids.value, solids.href) if solids else None,
        filled=tuple(_filled(each, style) for each in draw.filled),
        coolings=tuple(_cooling_view(log, style, numbers, about[log.key]) for log in logs if log.draw == draw.name),
    )


def _filled(filled: Filled, style: Style) -> str:
    pieces = f", {filled.pieces} cubes each" if filled.pieces else ""
    return (
        f"{filled.containers} × {filled.product} in {filled.container} ({style.amount(filled.net_l, 'L').text}{pieces})"
    )


def _cooling_view(log: CoolingLog, style: Style, numbers: Mapping[str, Number], about: str) -> CoolingView:
    clock = Clock.spanning(log.heading.time_zone, style.now, style.now)
    corridor = corridor_drawn(log, Units(style.units), clock)
    return CoolingView(
        device=log.device,
        vessels=f"{log.vessels} × {log.vessel}",
        fill=style.amount(log.fill_l, "L"),
        depth=style.amount(log.depth_mm, "mm"),
        ice=Opened(style.amount(log.ice_kg, "kg"), numbers[f"{about}.ice_kg"].href) if log.ice_kg > 0 else None,
        durations=tuple(
            Opening(label=label, text=duration_text(60 * numbers[key].exact), href=numbers[key].href)
            for key, label in ((f"{about}.{name}", label) for name, label in _COOLING_TIMES)
            if key in numbers
        ),
        start=style.when(log.start_at),
        start_temp=style.amount(log.start_temp_c, "degC"),
        caption=f"Expected cooling of run {log.run}, {log.draw.lower()}, in {log.device}, on the slow side too. "
        f"Limits: {log.jurisdiction}, {log.rule}.",
        limits=tuple(
            LimitRow(
                words=limit_words(limit),
                predicted=duration_text(limit.predicted_min),
                margin=margin_of(limit.margin_min),
            )
            for limit in log.limits
        ),
        corridor_wide=cooling_corridor(corridor, _CORRIDOR_WIDE),
        corridor_narrow=cooling_corridor(corridor, _CORRIDOR_NARROW),
    )


def _serves(plan: Plan, run: PlannedRun, style: Style) -> tuple[str, ...]:
    """The order lines and par levels that wait for this run, and what is left over."""
    served, spare = [], []
    for portion in (*run.batch.first, *run.batch.reduction):
        for peg in portion.pegs:
            if peg.line.startswith("par:"):
                served.append(f"{peg.containers} for the {line_name(plan.week, peg.line)}")
                continue
            part = part_of_line(plan.week, peg.line, peg.containers)
            served.append(f"{part}, leaves {style.when(peg.dispatch_at)}")
        if portion.surplus:
            name = plan.week.get("products", portion.product).name
            spare.append(f"{portion.surplus} × {name} that no order waits for: into stock")
    return (*served, *spare)
