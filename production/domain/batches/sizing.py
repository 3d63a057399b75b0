"""Needs into runs, formula by formula."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

from production.domain.batches.content import Batch, Sized, Sizing, Unmakeable
from production.domain.batches.first_draws import first_draw_batches
from production.domain.batches.second_draws import with_second_draws
from production.domain.batches.units import Making, Unit
from production.domain.batches.unmakeable import without_pot, without_second_draw
from production.domain.demand import Demand, Need
from production.domain.formula import pot_ranges
from production.domain.kitchen import Week
from production.domain.parameters import ParameterSet


def size_batches(
    *,
    week: Week,
    demand: Demand,
    parameters: ParameterSet,
    coolable_l: Mapping[str, float],
    seconds: float = 0.0,
    workers: int = 1,
    seed: int = 0,
    cancelled: Callable[[], bool] | None = None,
) -> Sized:
    """Turn the week's needs into runs, formula by formula.

    Equation: needs of a formula are grouped along time while one day of cooking can serve the whole group (shelf life);
        each group is filled by choose_fills and its containers go to the fillings in order of dispatch; reductions take
        second draws of as few runs as give enough, largest first; where these do not suffice for the orders a further
        run is added (not for par levels).
        Every container of a need is in one batch, or in what comes back as unmakeable.
    Units: week, demand, parameters (records); coolable_l [L] most litres of one draw by formula; seconds [s] for the
        search, workers and seed (counts), cancelled (asks whether to stop); returns records with litres [L].
    Valid: a week that passed its reader.
    Errors: none; what cannot be made comes back as Unmakeable.
    Source: own definition; co-production of broth and second extraction is common practice, no source.
    """
    batches: list[Batch] = []
    unmakeable: list[Unmakeable] = []
    products = {product.code: product for product in week.products}
    for formula in week.formulas:
        needs = [need for need in demand.needs if products[need.product].formula == formula.code]
        if not needs:
            continue
        limit_l = coolable_l.get(formula.code, 0.0)
        allowed = pot_ranges(week=week, parameters=parameters, formula=formula)
        ranges = tuple(
            replace(each, largest_l=min(each.largest_l, limit_l)) for each in allowed if each.smallest_l <= limit_l
        )
        making = Making(week=week, parameters=parameters, formula=formula, products=products, ranges=ranges)
        if not ranges:
            unmakeable.extend(without_pot(making, needs, limit_l, allowed))
            continue
        sized, left = _size_formula(making, needs)
        batches.extend(sized)
        unmakeable.extend(without_second_draw(making, left))
    return Sized(batches=numbered(batches), unmakeable=tuple(unmakeable), sizing=_counted(batches))


def numbered(batches: Iterable[Batch]) -> tuple[Batch, ...]:
    """Batches in the order of their first dispatch, with the codes of that order.

    Equation: sorted by first dispatch, then by formula; R01, R02 and so on.
    Units: no quantities; batches (records); returns records.
    Valid: batches of which each has a peg.
    Errors: none.
    Source: own definition.
    """
    ordered = sorted(batches, key=lambda batch: (batch.first_dispatch_at, batch.formula))
    return tuple(replace(batch, code=f"R{n:02d}") for n, batch in enumerate(ordered, 1))


def _counted(batches: list[Batch]) -> Sizing:
    return Sizing(
        runs=len(batches),
        second_draws=sum(batch.has_second_draw for batch in batches),
        reductions=sum(bool(batch.reduction) for batch in batches),
        surplus_l=sum(batch.surplus_l for batch in batches),
    )


def _size_formula(making: Making, needs: list[Need]) -> tuple[list[Batch], list[Unit]]:
    broths = [need for need in needs if making.products[need.product].kind == "broth"]
    reductions = [need for need in needs if making.products[need.product].kind != "broth"]
    batches = first_draw_batches(making, broths)
    if not reductions:
        return batches, []
    return with_second_draws(making, batches, sorted(reductions, key=lambda need: need.dispatch_at))
