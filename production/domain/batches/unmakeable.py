"""Why a need cannot be made."""

from __future__ import annotations

import itertools
from collections.abc import Iterable

from production.domain.batches.content import Unmakeable
from production.domain.batches.units import Making, Unit, pegs_of
from production.domain.demand import Need
from production.domain.formula import PotRange, pot_allowed


def without_pot(
    making: Making, needs: Iterable[Need], limit_l: float, ranges: tuple[PotRange, ...]
) -> list[Unmakeable]:
    """Why no pot can make a formula: none is allowed, none holds it, or its least fill is too much to cool at once.

    Equation: the first of the three that holds; what is missing are the litres wanted, or those too many to cool.
    Units: making, needs, ranges (records), limit_l [L] that can be cooled at once; returns records with litres [L].
    Valid: formulas for which every pot has dropped out.
    Errors: none.
    Source: own definition.
    """
    formula, too_much_l = making.formula, 0.0
    if not any(pot_allowed(formula=formula, pot=pot) for pot in making.week.pots):
        resource = "pots"
        reason = f"no pot may be used for {formula.name}"
        remedy = "Allow a pot for this formula."
    elif not ranges:
        resource = "pots"
        reason = (
            f"no pot that may be used for {formula.name} takes a charge of it: too little room between least fill and "
            "freeboard, too little heat for the simmer, or a simmer too cold to reckon with"
        )
        remedy = "Allow another pot, keep the lid on, shorten the simmer, or hold it nearer to the boil."
    else:
        least_l = min(each.smallest_l for each in ranges)
        resource, too_much_l = "cooling", least_l - limit_l
        reason = (
            f"the least draw of {formula.name} is {least_l:.0f} L, and the cooling devices take {limit_l:.0f} L at "
            "once through the critical limits"
        )
        remedy = f"Add cooling for {too_much_l:.0f} L (an ice sink, a blast chiller, more ice), or allow a smaller pot."
    return [
        Unmakeable(
            line=need.line,
            product=need.product,
            containers=need.containers,
            resource=resource,
            missing=too_much_l or making.litres(need.product, need.containers),
            unit="L",
            sentence=f"{need.containers} × {making.products[need.product].name}: {reason}.",
            remedy=remedy,
        )
        for need in needs
    ]


def without_second_draw(making: Making, units: Iterable[Unit]) -> Iterable[Unmakeable]:
    """Containers of reduction for which no second draw was found.

    Equation: one entry for each order line and product.
    Units: making, units (records); returns records with litres [L].
    Valid: units in the order of their needs.
    Errors: none.
    Source: own definition.
    """
    reason = f"no run of {making.formula.name} gives its second draw"
    for (_, product), members in itertools.groupby(units, key=lambda unit: (unit.need.line, unit.need.product)):
        for peg in pegs_of(members):
            yield Unmakeable(
                line=peg.line,
                product=product,
                containers=peg.containers,
                resource="pots",
                missing=making.litres(product, peg.containers),
                unit="L",
                sentence=f"{peg.containers} × {making.products[product].name}: {reason}.",
                remedy="Allow a larger pot for this formula, or enter a broth that the first draw can be filled into.",
            )
