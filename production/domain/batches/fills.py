"""Which pots make a volume."""

from __future__ import annotations

import itertools
import math

from production.domain.formula import HAIR_L, PotRange

_MOST_RUNS_AT_ONCE = 8  # runs of one formula that are sized together


def choose_fills(*, total_l: float, ranges: tuple[PotRange, ...]) -> tuple[PotRange, ...]:
    """The fewest fillings of pots that make a volume, and among those the least room.

    Equation: minimise (number of fillings, sum of largest volumes) subject to
        sum of largest >= total and sum of smallest <= total; a total below every least fill takes the smallest pot.
    Units: total_l [L]; ranges (records; volumes [L]); returns (records).
    Valid: total_l > 0, at least one pot; at most eight fillings, more are taken as the largest pot again and again.
    Errors: none.
    Source: own definition.
    """
    distinct = tuple({(each.smallest_l, each.largest_l): each for each in ranges}.values())
    largest = max(distinct, key=lambda each: each.largest_l)
    head: tuple[PotRange, ...] = ()
    while total_l > _MOST_RUNS_AT_ONCE * largest.largest_l:
        head += (largest,)
        total_l -= largest.largest_l
    for fillings in range(max(1, math.ceil(total_l / largest.largest_l - HAIR_L)), _MOST_RUNS_AT_ONCE + 1):
        fitting = [
            combo
            for combo in itertools.combinations_with_replacement(distinct, fillings)
            if sum(each.largest_l for each in combo) >= total_l - HAIR_L
            and sum(each.smallest_l for each in combo) <= total_l + HAIR_L
        ]
        if fitting:
            return head + min(fitting, key=lambda combo: sum(each.largest_l for each in combo))
    return (*head, min(distinct, key=lambda each: each.smallest_l))
