"""The steps of a run in their order: what the sheet prints as stages, taken apart into single things to record."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta

from production.domain.kitchen import Week
from production.domain.records import course_boxes as boxes
from production.domain.records.course_basis import (
    BEGIN,
    BOIL,
    FILL,
    FINISH,
    FIRST,
    SECOND,
    SECOND_BOIL,
    Basis,
    plain_step,
)
from production.domain.records.course_content import Step
from production.domain.records.course_draw_steps import (
    draw_steps,
    hold_steps,
    portion_step,
    reduction_step,
    refill_step,
    tray_steps,
)
from production.domain.sheets import ChargeLine, StageLine
from production.domain.sheets.page import safe_mark_mm

CHECK_EVERY = timedelta(hours=1)  # temperatures of a simmer (common practice, no source)
CHECK_UNTIL = timedelta(minutes=20)  # none so shortly before its end (own choice)


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
    found += tray_steps(basis)
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
            return [plain_step(stage, "skim", "skimmed", boxes.skim(), open_until=FIRST, moves=True)]
        case "simmer":
            return [*_checks(basis, stage, "temp", FIRST), *_additions(basis, stage)]
        case "second_simmer":
            return _checks(basis, stage, "temp.second", SECOND)
        case "draw_off" | "second_draw_off":
            return draw_steps(basis, stage)
        case "refill":
            return [refill_step(basis, stage)]
        case "hot_hold":
            return hold_steps(basis, stage)
        case "pour_over":
            return [plain_step(stage, "pour", "poured", boxes.poured(basis.charge), moves=True)]
        case "reduce" | "finish":
            return [reduction_step(basis, stage)]
        case "portion":
            return [portion_step(basis, stage)]
        case _:
            code = "wash.pan" if stage.kind == "pan_wash" else "wash"
            return [plain_step(stage, code, "washed", (), open_until=FINISH)]


def _load(basis: Basis, stage: StageLine) -> Iterator[Step]:
    yield plain_step(
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
    yield plain_step(
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
    return plain_step(
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
    return plain_step(
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
        yield plain_step(
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
        yield plain_step(
            stage,
            f"add.{line.order}",
            "addition_made",
            boxes.weight(expected_kg=mass, planned_kg=line.mass_kg),
            title=f"Add {line.name}",
            do=f"Add {basis.weight(mass)} of {line.name}.",
            open_until=FIRST,
            at=line.add_at,
        )
