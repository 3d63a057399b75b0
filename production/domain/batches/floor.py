"""What the runs of a week cost, however they were found, and what no plan of it can undercut."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from production.domain.batches.cells import Cell
from production.domain.batches.content import Batch, Sizing
from production.domain.batches.joint import least
from production.domain.batches.parts import Quickest, parts_of
from production.domain.batches.prices import (
    COST,
    KWH_COST,
    LATE,
    LATE_H_COST,
    REDUCTION_COST,
    RUN_COST,
    SECOND_COST,
    SURPLUS_L_COST,
    UNMADE_COST,
    Measure,
)
from production.domain.demand import Demand
from production.domain.kitchen import Week
from production.domain.parameters import ParameterSet

NOTHING_KNOWN = Quickest()
_HAIR = 1e-4

Cancelled = Callable[[], bool]


@dataclass(frozen=True, slots=True)
class Floor:
    """What no runs of a week cost less than, and what real runs are reckoned with."""

    cost: float
    cells: Mapping[tuple[str, str], Cell]  # by formula and pot

    def sizing(
        self, sizing: Sizing, made: Iterable[tuple[Batch, str]], *, late_h: float, unserved: float, seconds: float
    ) -> Sizing:
        """A sizing with the cost of its runs, each in its pot, beside the least cost; bare where a pot is unknown."""
        runs = [(batch, self.cells.get((batch.formula, pot))) for batch, pot in made]
        cost = LATE_H_COST * late_h + UNMADE_COST * unserved
        for batch, cell in runs:
            if cell is None:
                return sizing
            cost += cost_of(batch, cell)
        return replace(
            sizing,
            objective=cost,
            bound=min(self.cost, cost),
            gap_share=max(0.0, cost - self.cost) / cost if cost else 0.0,
            seconds=seconds,
            energy_kwh=sum(kwh_of(batch, cell) for batch, cell in runs if cell is not None),
        )


def floor_of(
    *,
    week: Week,
    demand: Demand,
    parameters: ParameterSet,
    coolable_l: Mapping[str, float],
    seconds: float,
    seed: int = 0,
    quickest: Quickest = NOTHING_KNOWN,
    cancelled: Cancelled | None = None,
) -> Floor:
    """What no runs for a week's orders cost less than: a proven bound.

    Equation: the least of all runs of the week together: whole runs within their least and largest fills, that take
        the staffed hours, nights and hands of the week; broth that keeps until it leaves; second draws that give what
        every end of their simmers gives; an hour late and what is not made at their cost.
    Units: week, demand, parameters, quickest (records), coolable_l [L] at once by formula, seconds [s], seed (count),
        cancelled (asks whether to stop); returns a cost in the scale on which a run counts 100.
    Valid: a week that passed its reader; heat, places to cool, ice and stores are not in it.
    Errors: UnknownParameter for an unknown material.
    Source: as joint.least.
    """
    found = parts_of(week=week, demand=demand, parameters=parameters, coolable_l=coolable_l, quickest=quickest)
    cost = least(week, found.parts, found.spans, COST, seconds=seconds, seed=seed, cancelled=cancelled)
    return Floor(cost, found.cells)


def least_runs(
    *,
    week: Week,
    demand: Demand,
    parameters: ParameterSet,
    coolable_l: Mapping[str, float],
    seconds: float,
    most_late_h: float = math.inf,
    quickest: Quickest = NOTHING_KNOWN,
    cancelled: Cancelled | None = None,
) -> int:
    """Runs and reductions that every plan of a week has at the least, if it serves all orders that any run can serve.

    Equation: as floor_of, each run and each reduction counting one; rounded up to a whole number.
    Units: week, demand, parameters, quickest (records), coolable_l [L] at once by formula, seconds [s], most_late_h
        [h], weighted, that a plan may be late in order to count, cancelled (asks whether to stop); returns a count.
    Valid: as floor_of; a plan that leaves an order unserved, or is later, may have fewer.
    Errors: UnknownParameter for an unknown material.
    Source: as joint.least.
    """
    found = parts_of(week=week, demand=demand, parameters=parameters, coolable_l=coolable_l, quickest=quickest)
    runs = Measure(run=1.0, reduction=1.0, most_late_h=most_late_h + _HAIR)
    return math.ceil(least(week, found.parts, found.spans, runs, seconds=seconds, cancelled=cancelled) - _HAIR)


def least_lateness_h(
    *,
    week: Week,
    demand: Demand,
    parameters: ParameterSet,
    coolable_l: Mapping[str, float],
    seconds: float = 2.0,
    quickest: Quickest = NOTHING_KNOWN,
    cancelled: Cancelled | None = None,
) -> float:
    """Lateness that no plan of a week avoids, whatever its runs, if it serves all orders that any run can serve.

    Equation: as floor_of, each hour counting weight x share of the order line; runs cost nothing.
    Units: week, demand, parameters, quickest (records), coolable_l [L] at once by formula, seconds [s], cancelled (asks
        whether to stop); returns weighted hours [h].
    Valid: as floor_of; a plan that leaves an order unserved may be less late.
    Errors: UnknownParameter for an unknown material.
    Source: as joint.least.
    """
    found = parts_of(week=week, demand=demand, parameters=parameters, coolable_l=coolable_l, quickest=quickest)
    return least(week, found.parts, found.spans, LATE, seconds=seconds, cancelled=cancelled)


def cost_of(batch: Batch, cell: Cell) -> float:
    """What a run costs in a kind of pot, apart from when it is made.

    Equation: a run 100, a second draw 40, a reduction 20, 0.2 for each kWh, 8 for each litre that nobody waits for.
    Units: batch, cell (records); returns a cost.
    Valid: runs within the range of the cell.
    Errors: none.
    Source: own definition.
    """
    return (
        RUN_COST
        + SECOND_COST * batch.has_second_draw
        + REDUCTION_COST * bool(batch.reduction)
        + KWH_COST * kwh_of(batch, cell)
        + SURPLUS_L_COST * batch.surplus_l
    )


def kwh_of(batch: Batch, cell: Cell) -> float:
    """Energy of a run at its shortest simmers, estimated.

    Equation: the straight lines of its cell.
    Units: batch, cell (records); returns [kWh].
    Valid: runs within the range of the cell.
    Errors: none.
    Source: as cells_of.
    """
    second = cell.second_at(batch.first_l) if batch.has_second_draw else None
    return cell.kwh.at(batch.first_l) + (second.kwh.at(batch.first_l) if second is not None else 0.0)
