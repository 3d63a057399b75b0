"""A draw in the schedule: how it may be cooled, who waits for it, and where it stands until they come."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from production.domain.batches import Peg, Portion, container_storage_l
from production.domain.cooling_capacity import CoolingChoice, freeze_minutes
from production.domain.demand import first_cook_date
from production.domain.formula import Charge
from production.domain.kitchen import Product, Store
from production.domain.plan.frame import Frame, up_min
from production.domain.schedule.problem import Draw, Due, Keep
from production.domain.thermal.reduction import trays_count


def draw_of(
    frame: Frame,
    name: str,
    portions: tuple[Portion, ...],
    charge: Charge,
    choices: tuple[CoolingChoice, ...],
    *,
    stage: int,
) -> Draw:
    """A draw with its ways to cool, its dues, its room and its trays.

    Equation: frozen products are due earlier by their freezing time, or hold their trays for it; ready no earlier than
        the shelf life of every peg allows.
    Units: frame, portions, charge, choices (records), name (word), stage (index of the stage that ends with it);
        returns a Draw with min and L.
    Valid: portions of products with a store.
    Errors: OutOfRange where a freezer cannot freeze.
    Source: own definition.
    """
    freeze = {portion.product: freeze_min(frame, portion, charge) for portion in portions}
    in_trays = [portion for portion in portions if _has_tray(frame, portion)]
    hold = max((freeze[portion.product] for portion in in_trays), default=0)
    longest = max((choice.mode.minutes for choice in choices), default=0)
    pegged = [(portion, peg) for portion in portions for peg in portion.pegs]
    first_days = [
        first_day_min(frame, frame.products[portion.product], peg.dispatch_at) + longest + hold
        for portion, peg in pegged
    ]
    return Draw(
        name=name,
        stage=stage,
        modes=tuple(choice.mode for choice in choices),
        freeze_min=hold,
        trays=tuple(_trays(frame, portion) for portion in in_trays),
        dues=tuple(
            _due(frame, peg, 0 if _has_tray(frame, portion) else freeze[portion.product]) for portion, peg in pegged
        ),
        not_before_min=max([0, *first_days]),
        keep=tuple(keep for portion in portions for keep in _keeps(frame, portion)),
    )


def _has_tray(frame: Frame, portion: Portion) -> bool:
    return frame.products[portion.product].cube_tray is not None


def first_day_min(frame: Frame, product: Product, dispatch_at: datetime) -> int:
    """Start of the first day on which a product may be cooked for a dispatch.

    Equation: midnight of first_cook_date.
    Units: frame, product (records), dispatch_at [instant]; returns [min].
    Valid: any product of the week.
    Errors: none.
    Source: as first_cook_date.
    """
    first_day = first_cook_date(dispatch_on=frame.local_date(dispatch_at), product=product)
    return frame.minute(frame.local_midnight(first_day))


def room_l(frame: Frame, product: Product) -> float:
    """Room that a container of a product takes in its store.

    Equation: container_storage_l, with a gap for the air where it is frozen.
    Units: frame, product (records); returns [L].
    Valid: any product of the week.
    Errors: none.
    Source: as container_storage_l.
    """
    return container_storage_l(
        container=frame.week.get("containers", product.container),
        air_gap_mm=frame.parameters.value("storage.air_gap_mm") if product.storage == "frozen" else 0.0,
    )


def _due(frame: Frame, peg: Peg, freeze_min: int) -> Due:
    return Due(label=peg.line, minute=frame.minute(peg.dispatch_at) - freeze_min, weight=peg.weight, share=peg.share)


def _keeps(frame: Frame, portion: Portion) -> Iterable[Keep]:
    product = frame.products[portion.product]
    store = _store(frame, product)
    one_l = room_l(frame, product)
    for peg in portion.pegs:
        yield Keep(store=store.code, litres=one_l * peg.containers, until_min=frame.minute(peg.dispatch_at))
    if portion.surplus:
        yield Keep(store=store.code, litres=one_l * portion.surplus, until_min=frame.horizon_min)


def _store(frame: Frame, product: Product) -> Store:
    return next(each for each in frame.week.stores if each.kind == product.storage)


def freeze_min(frame: Frame, portion: Portion, charge: Charge) -> int:
    """Minutes in which a portion freezes, on the grid; 0 for what is kept chilled.

    Equation: freeze_minutes of the mass of the portion at the strength of its draw.
    Units: frame, portion, charge (records); returns [min].
    Valid: products with a store.
    Errors: OutOfRange where a freezer cannot freeze.
    Source: as freeze_minutes.
    """
    product = frame.products[portion.product]
    if product.storage != "frozen":
        return 0
    tray = frame.week.get("cube_trays", product.cube_tray) if product.cube_tray else None
    percent, kg_per_l = charge.first.solids_percent, charge.first.mass_kg / charge.first.cold_l
    if product.kind != "broth" and charge.reduction is not None:
        percent = charge.reduction.solids_bx * frame.parameters.value("brix.protein_per_bx")
        kg_per_l = charge.reduction.mass_kg / charge.reduction.litres
    return up_min(
        freeze_minutes(
            parameters=frame.parameters,
            product=product,
            container=frame.week.get("containers", product.container),
            store=_store(frame, product),
            mass_kg=kg_per_l * portion.litres,
            solids_percent=percent,
            cell_edge_mm=(1000.0 * tray.cell_ml) ** (1.0 / 3.0) if tray else None,
        )
    )


def _trays(frame: Frame, portion: Portion) -> tuple[str, int]:
    product = frame.products[portion.product]
    tray = frame.week.get("cube_trays", product.cube_tray or "")
    cubes = portion.containers * (product.cubes_per_container or 0)
    return tray.code, int(trays_count(cubes_count=cubes, cells_count=tray.cells))
