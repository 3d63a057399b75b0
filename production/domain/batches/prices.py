"""What the runs of a week are measured by, in a scale on which a run counts 100."""

from __future__ import annotations

import math
from dataclasses import dataclass

RUN_COST = 100.0  # the scale of all costs of sizing (own choice, like the costs below)
SECOND_COST = 40.0  # a second draw
REDUCTION_COST = 20.0  # a reduction, of one run or of several together
KWH_COST = 0.2
SURPLUS_L_COST = 8.0
LATE_H_COST = 100.0  # an order line of weight 1, an hour late
UNMADE_COST = 100_000.0  # an order line of weight 1
MOST_RUNS = 1000.0  # of one kind: more than any week has, so that a bound holds for all
MOST_POOLED = 3  # runs whose second draws are reduced together


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """What is counted."""

    run: float = 0.0
    second: float = 0.0
    reduction: float = 0.0
    kwh: float = 0.0
    surplus_l: float = 0.0
    late_h: float = 0.0
    unmade: float | None = None  # an order line that is not made; none: every line is made that can be
    most_late_h: float = math.inf  # that a plan may be late, weighted, in order to count


COST = Measure(
    run=RUN_COST,
    second=SECOND_COST,
    reduction=REDUCTION_COST,
    kwh=KWH_COST,
    surplus_l=SURPLUS_L_COST,
    late_h=LATE_H_COST,
    unmade=UNMADE_COST,
)
LATE = Measure(late_h=1.0)
