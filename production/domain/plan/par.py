"""Par levels that a plan leaves unfilled: what nobody has ordered gets no run of its own."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from production.domain.plan.content import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class ParLeft:
    """Containers that a par level asks for beyond stock, and how many of them the plan makes."""

    product: str
    wanted: int
    made: int


def par_left(plan: Plan) -> tuple[ParLeft, ...]:
    """Par levels that stay unfilled, with what the plan makes towards them.

    Equation: made = containers of the product that are meant for its par level, or for nobody, at most as many as
        wanted.
    Units: plan (record); returns containers.
    Valid: any plan.
    Errors: none.
    Source: own definition.
    """
    wishes = [need for need in plan.demand.needs if need.is_wish]
    lines = {need.line for need in wishes}
    spare: Counter[str] = Counter()
    for run in plan.runs:
        for portion in run.batch.portions:
            ordered = sum(peg.containers for peg in portion.pegs if peg.line not in lines)
            spare[portion.product] += portion.containers - ordered
    found = (
        ParLeft(product=need.product, wanted=need.containers, made=min(need.containers, spare[need.product]))
        for need in wishes
    )
    return tuple(each for each in found if each.made < each.wanted)
