"""Needs into runs, formula by formula."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Mapping, Sequence

from production.domain.batches.content import Batch, Sized, Sizing
from production.domain.batches.first_draws import first_draw_batches
from production.domain.batches.floor import NOTHING_KNOWN
from production.domain.batches.makings import makings_of
from production.domain.batches.parts import Quickest
from production.domain.batches.search import Found, Search, search_sizes
from production.domain.batches.second_draws import with_second_draws
from production.domain.batches.units import Making, Unit, coded, needs_of, units_of
from production.domain.batches.unmakeable import without_second_draw
from production.domain.demand import Demand, Need
from production.domain.kitchen import Week
from production.domain.parameters import ParameterSet


def size_batches(
    *,
    week: Week,
    demand: Demand,
    parameters: ParameterSet,
    coolable_l: Mapping[str, float],
    seconds: float = 0.0,
    seed: int = 0,
    quickest: Quickest = NOTHING_KNOWN,
    cancelled: Callable[[], bool] | None = None,
) -> Sized:
    """Turn the week's needs into runs, formula by formula.

    Equation: needs of a formula are grouped along time while one day of cooking can serve the whole group (shelf life);
        each group is filled by choose_fills and its containers go to the fillings in order of dispatch; reductions take
        second draws of as few runs as give enough, largest first; where these do not suffice for the orders a further
        run is added (not for par levels).
        With seconds to spare the runs are chosen by search_sizes.
        Every container of a need is in one batch, or in what comes back as unmakeable.
    Units: week, demand, parameters, quickest (records); coolable_l [L] most litres of one draw by formula; seconds [s]
        for the search, seed (count), cancelled (asks whether to stop); returns records with litres [L].
    Valid: a week that passed its reader.
    Errors: none; what cannot be made comes back as Unmakeable.
    Source: own definition; co-production of broth and second extraction is common practice, no source.
    """
    began_s = time.monotonic()
    makings, unmakeable = makings_of(week, demand, parameters, coolable_l)
    batches: list[Batch] = []
    left: list[Need] = []
    for making, needs in makings.values():
        sized, units = _size_formula(making, needs)
        batches.extend(sized)
        left.extend(needs_of(units))
    by_rule = sorted(coded(batches), key=lambda batch: batch.code)
    found = None
    if seconds > 0.0:
        found = search_sizes(
            week=week,
            demand=demand,
            parameters=parameters,
            coolable_l=coolable_l,
            quickest=quickest,
            by_rule=by_rule,
            left_by_rule=left,
            search=Search(seconds=seconds, seed=seed, cancelled=cancelled, began_s=began_s),
        )
    if found is None:
        found = Found(batches=tuple(by_rule), left=tuple(left), sizing=_counted(by_rule))
    for making, _ in makings.values():
        unmakeable.extend(without_second_draw(making, _of(making, found.left)))
    return Sized(batches=found.batches, unmakeable=tuple(unmakeable), sizing=found.sizing)


def _of(making: Making, needs: Iterable[Need]) -> list[Unit]:
    own = [need for need in needs if making.products[need.product].formula == making.formula.code]
    return units_of(own, making.products)


def _counted(batches: Sequence[Batch]) -> Sizing:
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
