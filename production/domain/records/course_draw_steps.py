"""The steps from the first draw on: draws, refill, hot hold, reduction, portions, trays."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from production.domain.records import course_boxes as boxes
from production.domain.records.course_basis import (
    FINISH,
    FIRST,
    REDUCE,
    REDUCED,
    SECOND,
    SECOND_BOIL,
    Basis,
    plain_step,
)
from production.domain.records.course_content import Step
from production.domain.sheets import StageLine

SHORT_HOLD = timedelta(minutes=15)  # a shorter hot hold is not measured (own choice)


def draw_steps(basis: Basis, stage: StageLine) -> Iterator[Step]:
    """The steps of a draw: what came out, and its Brix.

    Equation: none; amounts of the charge as it is now.
    Units: basis, stage (records); returns records.
    Valid: sheets of a plan.
    Errors: none.
    Source: common practice, no source.
    """
    first = stage.kind == "draw_off"
    charge, planned = basis.charge, basis.run.charge
    draw = charge.first if first else charge.liquor or charge.first
    was = planned.first if first else planned.liquor or planned.first
    into = _first_words(basis) if first else "Draw all of it, empty the bones, keep the liquor hot."
    yield plain_step(
        stage,
        FIRST if first else SECOND,
        "drawn",
        boxes.drawn(draw, was, boil_c=basis.sheet.boil_temp_c),
        ways=(("mass",), ("volume", "temp")),
        do=f"{into} Weigh it, or measure its volume and its temperature.",
        moves=True,
    )
    yield plain_step(
        stage,
        "brix.first" if first else "brix.second",
        "brix_taken",
        boxes.brix(draw.solids_bx, planned_bx=was.solids_bx),
        ways=(("brix",),),
        title="Brix of the draw",
        do="Cool a spoonful, skim its fat and read its Brix.",
        open_until=_brix_until(basis) if first else REDUCE,
    )


def _first_words(basis: Basis) -> str:
    charge = basis.charge
    salt = ""
    if charge.salt_kg:
        salt = f" Stir {basis.weight(charge.salt_kg)} of salt into the drawn broth, not the pot."
    return f"Draw and strain about {basis.show(charge.first.hot_l, 'L')} hot, and cool it at once.{salt}"


def _brix_until(basis: Basis) -> str:
    """A strength that nobody has read by then is not waited for any longer; it may still be recorded."""
    return "refill" if any(stage.kind == "refill" for stage in basis.sheet.stages) else "wash"


def refill_step(basis: Basis, stage: StageLine) -> Step:
    """Water onto the bones for the second draw.

    Equation: none; amounts of the charge as it is now.
    Units: basis, stage (records); returns records.
    Valid: sheets of a plan.
    Errors: none.
    Source: common practice, no source.
    """
    return plain_step(
        stage,
        "refill",
        "refilled",
        boxes.refill(basis.charge, basis.run.charge),
        do=f"Refill the bones with {basis.show(basis.charge.refill_kg, 'kg')} of cold water.",
        open_until=SECOND_BOIL,
        moves=True,
    )


def hold_steps(basis: Basis, stage: StageLine) -> list[Step]:
    """The temperature of liquor that is kept hot for longer than a moment.

    Equation: none; amounts of the charge as it is now.
    Units: basis, stage (records); returns records.
    Valid: sheets of a plan.
    Errors: none.
    Source: common practice, no source.
    """
    if stage.end_at - stage.start_at < SHORT_HOLD:
        return []
    made = boxes.hold(high_c=basis.sheet.boil_temp_c)
    return [plain_step(stage, "temp.hold", "temp_taken", made, ways=(("temp",),))]


def reduction_step(basis: Basis, stage: StageLine) -> Step:
    """Boiling down: readings on the way, and what it gave in the end.

    Equation: none; amounts of the charge as it is now.
    Units: basis, stage (records); returns records.
    Valid: sheets of a plan.
    Errors: none.
    Source: common practice, no source.
    """
    if stage.kind == "reduce":
        return plain_step(
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
    return plain_step(
        stage,
        REDUCED,
        "reduction_checked",
        boxes.reduced(basis.charge, basis.run.charge),
        ways=(("mass",), ("volume",)),
        do=f"Stir, low heat, to {basis.weight(aim.mass_kg)} ({aim.solids_bx:.0f} Brix)." if aim is not None else "",
        moves=True,
    )


def portion_step(basis: Basis, stage: StageLine) -> Step:
    """Pouring a reduction into what it cools in.

    Equation: none; amounts of the charge as it is now.
    Units: basis, stage (records); returns records.
    Valid: sheets of a plan.
    Errors: none.
    Source: common practice, no source.
    """
    vessels = [part.vessels for draw in basis.run.draws if draw.name == "reduction" for part in draw.cooling.parts]
    made = boxes.count("Vessels filled", sum(vessels))
    return plain_step(stage, "portion", "portioned", made, ways=(("count",),), open_until=FINISH, moves=True)


def tray_steps(basis: Basis) -> list[Step]:
    """Cubes go into their trays when the reduction is cold.

    Equation: none; amounts of the charge as it is now.
    Units: basis (records); returns records.
    Valid: sheets of a plan.
    Errors: none.
    Source: common practice, no source.
    """
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
