"""The steps of a run in their order: what the sheet prints as stages, taken apart into single things to record."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from production.domain.formula import Charge
from production.domain.kitchen import Week
from production.domain.plan import PlannedRun
from production.domain.quantities import display_quantity, rounded_text
from production.domain.records import course_boxes as boxes
from production.domain.records.course_content import Step
from production.domain.sheets import BatchSheet, ChargeLine, StageLine
from production.domain.sheets.page import safe_mark_mm

CHECK_EVERY = timedelta(hours=1)  # temperatures of a simmer (common practice, no source)
CHECK_UNTIL = timedelta(minutes=20)  # none so shortly before its end (own choice)
SHORT_HOLD = timedelta(minutes=15)  # a shorter hot hold is not measured (own choice)
FINISH, FIRST, SECOND, REDUCED = "finish", "draw.first", "draw.second", "reduced"
BEGIN, FILL, BOIL, SECOND_BOIL, REDUCE = "begin", "fill", "boil", "boil.second", "reduce"


@dataclass(frozen=True, slots=True)
class Basis:
    """What the steps are made from: the frozen sheet, the planned run, and its charge as it is now."""

    sheet: BatchSheet
    week: Week
    run: PlannedRun
    charge: Charge

    def show(self, value: float, unit: str) -> str:
        """A quantity in the kitchen's units."""
        number, shown = display_quantity(value, unit, "us" if self.sheet.heading.units == "us" else "metric")
        return f"{number} {'°' if unit == 'degC' else ''}{shown}"

    def weight(self, mass_kg: float) -> str:
        """A weight in the kitchen's units; in grams where a kilogram says too little."""
        if self.sheet.heading.units == "us" or mass_kg >= 1.0:
            return self.show(mass_kg, "kg")
        return f"{rounded_text(1000.0 * mass_kg, '5' if mass_kg >= 0.1 else '1')} g"


def steps_of(basis: Basis) -> tuple[Step, ...]:
    """The steps of a run in the order of the sheet.

    Equation: each stage gives its steps; within a stage they are put in the order of their planned times.
    Units: basis (records); expected values in the unit that each box names.
    Valid: sheets of a plan, with the planned run they were made from.
    Errors: none.
    Source: common practice, no source.
    """
    found: list[Step] = []
    for stage in basis.sheet.stages:
        found += sorted(_steps(basis, stage), key=lambda step: step.planned_at)
    found += _tray_step(basis)
    last = max(step.planned_at for step in found)
    found.append(
        Step(
            code=FINISH,
            kind="run_finished",
            stage="finish",
            title="Close the run",
            do="Close the run when nothing of it is left to do.",
            caution="",
            planned_at=last,
        )
    )
    return tuple(found)


def _steps(basis: Basis, stage: StageLine) -> Iterable[Step]:
    match stage.kind:
        case "load":
            return _load(basis, stage)
        case "heat_up" | "second_heat_up":
            return [_boil(basis, stage)]
        case "skim":
            return [_plain(stage, "skim", "skimmed", boxes.skim(), open_until=FIRST, moves=True)]
        case "simmer":
            return [*_checks(basis, stage, "temp", FIRST), *_additions(basis, stage)]
        case "second_simmer":
            return _checks(basis, stage, "temp.second", SECOND)
        case "draw_off" | "second_draw_off":
            return _draw(basis, stage)
        case "refill":
            return [_refill(basis, stage)]
        case "hot_hold":
            return _hold(basis, stage)
        case "pour_over":
            return [_plain(stage, "pour", "poured", boxes.poured(basis.charge), moves=True)]
        case "reduce" | "finish":
            return [_reduction(basis, stage)]
        case "portion":
            return [_portion(basis, stage)]
        case _:
            code = "wash.pan" if stage.kind == "pan_wash" else "wash"
            return [_plain(stage, code, "washed", (), open_until=FINISH)]


def _plain(
    stage: StageLine,
    code: str,
    kind: str,
    made: boxes.Boxes,
    *,
    ways: tuple[tuple[str, ...], ...] = (),
    do: str = "",
    title: str = "",
    open_until: str = "",
    moves: bool = False,
    repeats: bool = False,
    at: datetime | None = None,
) -> Step:
    return Step(
        code=code,
        kind=kind,
        stage=stage.kind,
        title=title or stage.title,
        do=do or stage.do,
        caution=stage.caution,
        planned_at=at or stage.end_at,
        fields=made,
        ways=ways,
        open_until=open_until,
        moves_times=moves,
        repeats=repeats,
    )


def _load(basis: Basis, stage: StageLine) -> Iterator[Step]:
    yield _plain(
        stage,
        BEGIN,
        "run_begun",
        (),
        title=f"Begin {basis.sheet.run}",
        do=f"Begin {basis.sheet.formula} in {basis.sheet.fill.pot}; everything is recorded to this run from now on.",
        moves=True,
        at=stage.start_at,
    )
    for line in basis.sheet.charge:
        if line.what == "solids":
            yield _weighing(basis, stage, line)
    is_us = basis.sheet.heading.units == "us"
    mark_mm = safe_mark_mm(length_mm=basis.charge.fill_mark_mm, is_us=is_us)
    mark, water = basis.show(mark_mm, "mm"), basis.show(basis.charge.water_l, "L")
    yield _plain(
        stage,
        FILL,
        "filled",
        boxes.fill(basis.charge, basis.run.charge, mark_mm=mark_mm),
        title="Fill with water",
        do=f"Fill with cold water to {mark} below the rim, about {water}.",
        open_until=BOIL,
    )


def _weighing(basis: Basis, stage: StageLine, line: ChargeLine) -> Step:
    bank = f" {basis.weight(line.from_bank_kg)} of it are saved bones." if line.from_bank_kg > 0.0 else ""
    return _plain(
        stage,
        f"charge.{line.order}",
        "charge_weighed",
        boxes.weight(expected_kg=line.mass_kg, planned_kg=line.mass_kg),
        ways=(("mass",),),
        title=f"Weigh {line.name}",
        do=f"Weigh {line.name} into the pot and say what the scales show.{bank}",
        open_until=BOIL,
        at=stage.start_at,
    )


def _boil(basis: Basis, stage: StageLine) -> Step:
    code = BOIL if stage.kind == "heat_up" else SECOND_BOIL
    boil = basis.show(basis.sheet.boil_temp_c, "degC")
    return _plain(
        stage,
        code,
        "boil_reached",
        (),
        title="Boil reached",
        do=f"Full heat; tap when it boils ({boil} here).",
        moves=True,
    )


def _checks(basis: Basis, stage: StageLine, code: str, closes: str) -> Iterator[Step]:
    """The temperature at the start, each hour while somebody is there, and on return."""
    times = sorted({_attended(basis.week, at, stage.end_at) for at in _hours(stage)} - {None}, key=_instant)
    for number, at in enumerate(times, 1):
        yield _plain(
            stage,
            f"{code}.{number}",
            "temp_taken",
            boxes.temperature(basis.sheet.simmer_temp_c, high_c=basis.sheet.boil_temp_c),
            ways=(("temp",),),
            title="Check the simmer",
            do=f"Measure the temperature: {basis.show(basis.sheet.simmer_temp_c, 'degC')}, a bare simmer.",
            open_until=f"{code}.{number + 1}" if number < len(times) else closes,
            at=at,
        )


def _hours(stage: StageLine) -> Iterator[datetime]:
    at = stage.start_at
    yield at
    while (at := at + CHECK_EVERY) <= stage.end_at - CHECK_UNTIL:
        yield at


def _attended(week: Week, at: datetime, end: datetime) -> datetime | None:
    """The instant itself where somebody is in the kitchen, else the return of the first; none before the end."""
    if any(shift.start <= at < shift.end for shift in week.shifts):
        return at
    later = [shift.start for shift in week.shifts if at < shift.start < end]
    return min(later, default=None)


def _instant(at: datetime | None) -> float:
    return at.timestamp() if at else 0.0


def _additions(basis: Basis, stage: StageLine) -> Iterator[Step]:
    now = {item.figure: item.mass_kg for item in basis.charge.items}
    for line in basis.sheet.charge:
        if line.add_at is None:
            continue
        mass = now.get(line.figure, line.mass_kg)
        yield _plain(
            stage,
            f"add.{line.order}",
            "addition_made",
            boxes.weight(expected_kg=mass, planned_kg=line.mass_kg),
            title=f"Add {line.name}",
            do=f"Add {basis.weight(mass)} of {line.name}.",
            open_until=FIRST,
            at=line.add_at,
        )


def _draw(basis: Basis, stage: StageLine) -> Iterator[Step]:
    first = stage.kind == "draw_off"
    charge, planned = basis.charge, basis.run.charge
    draw = charge.first if first else charge.liquor or charge.first
    was = planned.first if first else planned.liquor or planned.first
    into = _first_words(basis) if first else "Draw all of it, empty the bones, keep the liquor hot."
    yield _plain(
        stage,
        FIRST if first else SECOND,
        "drawn",
        boxes.drawn(draw, was, boil_c=basis.sheet.boil_temp_c),
        ways=(("mass",), ("volume", "temp")),
        do=f"{into} Weigh it, or measure its volume and its temperature.",
        moves=True,
    )
    yield _plain(
        stage,
        "brix.first" if first else "brix.second",
        "brix_taken",
        boxes.brix(draw.solids_bx, planned_bx=was.solids_bx),
        ways=(("brix",),),
        title="Brix of the draw",
        do="Cool a spoonful, skim its fat and read its Brix.",
        open_until=_brix_until(basis) if first else REDUCE,
    )


def _brix_until(basis: Basis) -> str:
    """A strength that nobody has read by then is not waited for any longer; it may still be recorded."""
    return "refill" if any(stage.kind == "refill" for stage in basis.sheet.stages) else "wash"


def _first_words(basis: Basis) -> str:
    charge = basis.charge
    salt = ""
    if charge.salt_kg:
        salt = f" Stir {basis.weight(charge.salt_kg)} of salt into the drawn broth, not the pot."
    return f"Draw and strain about {basis.show(charge.first.hot_l, 'L')} hot, and cool it at once.{salt}"


def _refill(basis: Basis, stage: StageLine) -> Step:
    return _plain(
        stage,
        "refill",
        "refilled",
        boxes.refill(basis.charge, basis.run.charge),
        do=f"Refill the bones with {basis.show(basis.charge.refill_kg, 'kg')} of cold water.",
        open_until=SECOND_BOIL,
        moves=True,
    )


def _hold(basis: Basis, stage: StageLine) -> list[Step]:
    if stage.end_at - stage.start_at < SHORT_HOLD:
        return []
    made = boxes.hold(high_c=basis.sheet.boil_temp_c)
    return [_plain(stage, "temp.hold", "temp_taken", made, ways=(("temp",),))]


def _reduction(basis: Basis, stage: StageLine) -> Step:
    if stage.kind == "reduce":
        return _plain(
            stage,
            REDUCE,
            "reduction_checked",
            boxes.reducing(basis.charge),
            ways=(("mass",), ("depth",)),
            do="Boil down. Weigh it or measure its depth now and then: two readings tell when it is done.",
            repeats=True,
            open_until=REDUCED,
            at=stage.start_at,
        )
    aim = basis.charge.reduction
    return _plain(
        stage,
        REDUCED,
        "reduction_checked",
        boxes.reduced(basis.charge, basis.run.charge),
        ways=(("mass",), ("volume",)),
        do=f"Stir, low heat, to {basis.weight(aim.mass_kg)} ({aim.solids_bx:.0f} Brix)." if aim is not None else "",
        moves=True,
    )


def _portion(basis: Basis, stage: StageLine) -> Step:
    vessels = [part.vessels for draw in basis.run.draws if draw.name == "reduction" for part in draw.cooling.parts]
    made = boxes.count("Vessels filled", sum(vessels))
    return _plain(stage, "portion", "portioned", made, ways=(("count",),), open_until=FINISH, moves=True)


def _tray_step(basis: Basis) -> list[Step]:
    """Cubes go into their trays when the reduction is cold."""
    week, run = basis.week, basis.run
    products = [week.get("products", portion.product) for portion in run.batch.reduction]
    codes = sorted({product.cube_tray for product in products if product.cube_tray})
    cold = [draw.end_at for draw in run.draws if draw.name == "reduction"]
    if not codes or not cold:
        return []
    pieces = sum(
        portion.containers * (product.cubes_per_container or 0)
        for portion, product in zip(run.batch.reduction, products, strict=True)
        if product.cube_tray
    )
    return [
        Step(
            code="tray",
            kind="trayed",
            stage="tray",
            title="Fill the cube trays",
            do=f"When the last limit of its log is met: {pieces} cubes into "
            + " and ".join(week.get("cube_trays", code).name for code in codes)
            + ", then freeze.",
            caution="",
            planned_at=max(cold),
            fields=boxes.count("Cubes filled", pieces),
            ways=(("count",),),
            open_until=FINISH,
        )
    ]
