"""What the runs of each formula are made with, and what they are made for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from production.domain.batches.content import Unmakeable
from production.domain.batches.units import Making
from production.domain.batches.unmakeable import without_pot
from production.domain.demand import Demand, Need
from production.domain.formula import pot_ranges
from production.domain.kitchen import Week
from production.domain.parameters import ParameterSet


def makings_of(
    week: Week, demand: Demand, parameters: ParameterSet, coolable_l: Mapping[str, float]
) -> tuple[dict[str, tuple[Making, list[Need]]], list[Unmakeable]]:
    """What each formula is made with and its needs; those that no pot can make come back apart.

    Equation: pots that take the formula, with no more than can be cooled at once.
    Units: week, demand, parameters (records), coolable_l [L] of one draw by formula; returns records.
    Valid: a week that passed its reader.
    Errors: none.
    Source: own definition.
    """
    products = {product.code: product for product in week.products}
    makings: dict[str, tuple[Making, list[Need]]] = {}
    unmakeable: list[Unmakeable] = []
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
        if ranges:
            makings[formula.code] = (making, needs)
        else:
            unmakeable.extend(without_pot(making, needs, limit_l, allowed))
    return makings, unmakeable
