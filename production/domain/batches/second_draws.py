"""Reductions: second draws of as few runs as give enough, and further runs where these do not suffice."""

from __future__ import annotations

import math
from dataclasses import replace

from production.domain.batches.cells import reduction_of_l
from production.domain.batches.content import Batch, Portion
from production.domain.batches.fills import choose_fills
from production.domain.batches.units import Making, Unit, litres_of, portions_of, take_units, units_of
from production.domain.demand import Need
from production.domain.formula import HAIR_L


def with_second_draws(making: Making, batches: list[Batch], needs: list[Need]) -> tuple[list[Batch], list[Unit]]:
    """Batches with their reductions, and the containers that no second draw was found for.

    Equation: runs give their second draw, largest first, until there is enough; a further run is added as long as an
        order waits (not for par levels).
    Units: making, batches, needs (records); returns records with litres [L].
    Valid: needs for reductions of the formula, in order of dispatch.
    Errors: DoesNotFit `no-second-draw` for a formula without one.
    Source: own definition; co-production of broth and second extraction is common practice, no source.
    """
    units = units_of(needs, making.products)
    wanted_l = litres_of(units)
    drawn = list(batches)
    rooms = [_gives_l(making, batch) for batch in drawn]
    for index in _order(drawn, rooms, wanted_l):
        taken = take_units(units, rooms[index])
        if taken:
            drawn[index] = replace(drawn[index], reduction=portions_of(taken, making.products))
    while any(not unit.need.is_wish for unit in units):
        extra = _further_run(making, units, wanted_l)
        if extra is None:
            break
        drawn.append(extra)
    return drawn, units


def _gives_l(making: Making, batch: Batch) -> float:
    return reduction_of_l(week=making.week, parameters=making.parameters, formula=making.formula, drawn_l=batch.first_l)


def _order(batches: list[Batch], rooms: list[float], wanted_l: float) -> list[int]:
    """The largest runs that give enough, earliest dispatch first; the others behind them."""
    chosen: list[int] = []
    for index in sorted(range(len(batches)), key=lambda i: -rooms[i]):
        if sum(rooms[i] for i in chosen) >= wanted_l - HAIR_L:
            break
        chosen.append(index)
    others = [index for index in range(len(batches)) if index not in chosen]
    return [*sorted(chosen, key=lambda i: _earliest_peg(batches[i])), *others]


def _earliest_peg(batch: Batch) -> float:
    dispatches = [peg.dispatch_at.timestamp() for portion in batch.first for peg in portion.pegs]
    return min(dispatches, default=math.inf)


def _further_run(making: Making, units: list[Unit], wanted_l: float) -> Batch | None:
    """A run for its second draw alone, as large as the rest asks for, or else as large as any pot makes."""
    largest_l = making.ranges[-1].largest_l
    for litres in (litres_of(units) / wanted_l * largest_l, largest_l):
        extra = _surplus_run(making, litres)
        taken = take_units(units, _gives_l(making, extra)) if extra is not None else []
        if extra is not None and taken:
            return replace(extra, reduction=portions_of(taken, making.products))
    return None


def _surplus_run(making: Making, litres: float) -> Batch | None:
    """A run whose first draw nobody ordered: it is filled into the broth that keeps longest."""
    if not making.broths:
        return None
    fill = choose_fills(total_l=min(litres, making.ranges[-1].largest_l), ranges=making.ranges)[0]
    made_l = min(fill.largest_l, max(fill.smallest_l, litres))
    keeper = max(making.broths, key=lambda product: (product.storage == "frozen", product.shelf_life_days))
    containers = math.floor(made_l / keeper.net_l + HAIR_L)
    if containers * keeper.net_l < fill.smallest_l:
        containers += 1
    portion = Portion(product=keeper.code, containers=containers, litres=containers * keeper.net_l, pegs=())
    return Batch(code="", formula=making.formula.code, first=(portion,), reduction=())
