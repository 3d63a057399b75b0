"""Runs for one order line after another: each in the biggest pot in time, or free first, or the least late."""

from __future__ import annotations

from production.domain.plan.swift.chance import chance, one_of
from production.domain.plan.swift.compiled import compiled, entry
from production.domain.plan.swift.filling import fill_run
from production.domain.plan.swift.placing import HAIR_H, place_run
from production.domain.plan.swift.tables import (
    ADDED,
    ALIVE,
    ASKS,
    AT,
    BIGGEST,
    FOUND,
    FREE_FIRST,
    FREE_IN_TIME,
    FROM_BACK,
    IDLE,
    KWH,
    LATE,
    LOST,
    NOTHING,
    ORDERED,
    START,
    SURPLUS_L,
    TAKEN,
    TAKEN_N,
    WAY,
    Fixed,
    Recipes,
    Stand,
)
from production.domain.plan.swift.taking import put_up

UNSERVED_COST, LATE_H_COST, RUN_COST, KWH_COST, SURPLUS_L_COST = 20_000.0, 200.0, 100.0, 0.2, 8.0  # only to walk by
SKIPPED_KIND, SKIPPED_SECOND, LESS_FULL, FROM_THE_BACK = 0.15, 0.1, 0.2, 0.2  # chances when a choice is shaken
ANY_WAY, FIRST_WAY = 0.3, 0.1  # chances of the pot that is free first, in time or not; of these, in time or not
NO_LIMIT = 1e18


@compiled
def cost_of(stand: Stand) -> float:
    """What the runs that stand cost, in the scale in which the search walks.

    Equation: hours late, runs and reductions, energy, surplus, each times its cost.
    Units: returns a cost.
    Valid: any week.
    Errors: none.
    Source: own definition.
    """
    cost = 0.0
    for n in range(stand.numbers[ALIVE]):
        row = stand.alive[n]
        cost += LATE_H_COST * stand.values[row, LATE] + KWH_COST * stand.values[row, KWH]
        cost += SURPLUS_L_COST * stand.values[row, SURPLUS_L] + RUN_COST * (1 + (stand.runs[row, WAY] > 0))
    return cost


@compiled
def unserved_of(fixed: Fixed, stand: Stand, n: int) -> float:
    """Weight x share of a need that nothing serves.

    Equation: weight x containers left / containers of the line.
    Units: n (number of a need); returns [weighted share].
    Valid: any need.
    Errors: none.
    Source: own definition.
    """
    return float(fixed.weight[n] * stand.left[n] / fixed.containers_of[n])


@entry
def serve(fixed: Fixed, recipes: Recipes, stand: Stand, shaken: bool, way: int, most_cost: float) -> int:
    """Put up runs until every order line of `order` is served, or nothing more can serve it.

    Equation: needs in their order, from the one that is next; for each the run of best_run, until nothing is left of
        it. It ends where what stands costs more than it may.
    Units: shaken (by chance), way (BIGGEST, ...), most_cost [cost]; returns FOUND, NOTHING (too dear) or ASKS.
    Valid: any week; it goes on where it was when it asked.
    Errors: none.
    Source: own definition (list scheduling by earliest due date is a standard method).
    """
    while stand.numbers[AT] < stand.numbers[ORDERED]:
        n = stand.order[stand.numbers[AT]]
        while stand.left[n]:
            most_late_h = NO_LIMIT
            if most_cost < NO_LIMIT:
                rest = most_cost - RUN_COST - UNSERVED_COST * stand.weights[LOST] - cost_of(stand)
                if rest < 0.0:
                    return NOTHING
                most_late_h = rest / LATE_H_COST
            found = _best_run(fixed, recipes, stand, n, shaken=shaken, way=way, most_late_h=most_late_h)
            if found == ASKS:
                return ASKS
            if found == NOTHING:
                stand.weights[LOST] += unserved_of(fixed, stand, n)
                break
            put_up_next(fixed, recipes, stand)
        stand.numbers[AT] += 1
    return FOUND


@entry
def put_up_next(fixed: Fixed, recipes: Recipes, stand: Stand) -> None:
    """Let the run stand that is in the idle row that is next.

    Equation: put_up; it is one of those that were added.
    Units: no quantities.
    Valid: after write_run into that row.
    Errors: none.
    Source: own definition.
    """
    stand.numbers[IDLE] -= 1
    row = stand.idle[stand.numbers[IDLE]]
    put_up(fixed, recipes, stand, row)
    stand.added[stand.numbers[ADDED]] = row
    stand.numbers[ADDED] += 1


@compiled
def _best_run(fixed: Fixed, recipes: Recipes, stand: Stand, n: int, shaken: bool, way: int, most_late_h: float) -> int:
    """The run for a need, in the idle row that is next: in time if it can be, else the least late."""
    if shaken:
        way = BIGGEST
        if chance(stand) < ANY_WAY:
            way = FREE_FIRST if chance(stand) < ANY_WAY else FREE_IN_TIME
        stand.numbers[FROM_BACK] = 1 if chance(stand) < FROM_THE_BACK else 0
    is_broth = fixed.is_broth[fixed.product[n]] == 1
    seconds = 1
    if is_broth:
        seconds = 0
        if _wants_reduction(fixed, stand, n) and not (shaken and chance(stand) < SKIPPED_SECOND):
            seconds = 2
    late_h, late_start = most_late_h, -1
    for turn in range(max(seconds, 1)):
        second = seconds > 0 and turn == 0
        many = _suiting(fixed, stand, n, second=second, shaken=shaken)
        for part in range(1 if is_broth else 2):
            in_time_start = -1
            for place in range(many):
                kind = stand.kinds[place]
                filled = fill_run(fixed, recipes, stand, n, kind, second=second, fill_share=stand.shares[place])
                if filled == ASKS:
                    return ASKS
                if filled == NOTHING or (not is_broth and (_taken_of(stand, n) == stand.left[n]) != (part == 0)):
                    continue
                limit_h = most_late_h if way == FREE_FIRST else late_h
                found = place_run(
                    fixed, recipes, stand, twice=is_drawn_twice(fixed, recipes, stand), most_late_h=limit_h
                )
                if found == ASKS:
                    return ASKS
                if found == NOTHING:
                    continue
                run_late_h, start = stand.best_values[LATE], stand.best[START]
                if run_late_h <= 0.0 or way == FREE_FIRST:
                    if in_time_start < 0 or start < in_time_start:
                        in_time_start = start
                        write_run(stand, stand.idle[stand.numbers[IDLE] - 1])
                    if way == BIGGEST:
                        break
                elif in_time_start < 0 and (late_start < 0 or run_late_h < late_h - HAIR_H or start < late_start):
                    late_h, late_start = run_late_h, start
                    write_run(stand, stand.idle[stand.numbers[IDLE] - 2])
            if in_time_start >= 0:
                return FOUND
    if late_start < 0:
        return NOTHING
    top = stand.numbers[IDLE]
    stand.idle[top - 1], stand.idle[top - 2] = stand.idle[top - 2], stand.idle[top - 1]
    return FOUND


@entry
def write_run(stand: Stand, row: int) -> None:
    """Keep the run that was found in a row.

    Equation: its columns, values and containers.
    Units: row (of runs).
    Valid: after place_run.
    Errors: none.
    Source: own definition.
    """
    stand.runs[row] = stand.best
    stand.values[row] = stand.best_values
    for n in range(stand.best[TAKEN]):
        stand.taken_need[row, n] = stand.job_need[n]
        stand.taken[row, n] = stand.job_taken[n]


@compiled
def _taken_of(stand: Stand, n: int) -> int:
    for place in range(stand.numbers[TAKEN_N]):
        if stand.job_need[place] == n:
            return int(stand.job_taken[place])
    return 0


@entry
def is_drawn_twice(fixed: Fixed, recipes: Recipes, stand: Stand) -> bool:
    """Whether the run that is looked at serves a reduction.

    Equation: any of its needs is none of a broth.
    Units: no quantities.
    Valid: after fill_run.
    Errors: none.
    Source: own definition.
    """
    for place in range(stand.numbers[TAKEN_N]):
        if not fixed.is_broth[fixed.product[stand.job_need[place]]]:
            return True
    return False


@compiled
def _wants_reduction(fixed: Fixed, stand: Stand, n: int) -> bool:
    formula = fixed.formula_of[fixed.product[n]]
    for place in range(fixed.needs_from[formula], fixed.needs_from[formula + 1]):
        m = fixed.needs[place]
        if stand.left[m] and not fixed.is_wish[m] and not fixed.is_broth[fixed.product[m]]:
            return True
    return False


@compiled
def _suiting(fixed: Fixed, stand: Stand, n: int, second: bool, shaken: bool) -> int:
    """Kinds of pots whose least fill is wanted, biggest first; the one with the smallest least fill where none is.

    Each with the share of its range that is filled.
    """
    formula = fixed.formula_of[fixed.product[n]]
    wanted = 0
    for place in range(fixed.needs_from[formula], fixed.needs_from[formula + 1]):
        m = fixed.needs[place]
        if stand.left[m] and fixed.is_broth[fixed.product[m]]:
            wanted += stand.left[m] * fixed.net_ml[fixed.product[m]]
    asked = fixed.kinds_n[formula]
    many = 0
    for kind in range(asked):
        if not shaken or chance(stand) >= SKIPPED_KIND:
            stand.kinds[many] = kind
            many += 1
    if many == 0:
        for kind in range(asked):
            stand.kinds[kind] = kind
        many = asked
    suiting = 0
    for place in range(many):
        if fixed.smallest_ml[formula, stand.kinds[place]] <= wanted:
            suiting += 1
    if suiting:
        kept = 0
        for place in range(many):
            if fixed.smallest_ml[formula, stand.kinds[place]] <= wanted:
                stand.kinds[kept] = stand.kinds[place]
                kept += 1
        many = kept
    else:
        _smallest_first(fixed, stand, formula, many)
        many = many if second else min(many, 1)
    for place in range(many):
        stand.shares[place] = 1.0
        if shaken and chance(stand) < LESS_FULL:
            stand.shares[place] = (0.8, 0.6, 0.3)[one_of(stand, 3)]
    return many


@compiled
def _smallest_first(fixed: Fixed, stand: Stand, formula: int, many: int) -> None:
    for place in range(1, many):
        kind, at = stand.kinds[place], place
        while at and fixed.smallest_ml[formula, stand.kinds[at - 1]] > fixed.smallest_ml[formula, kind]:
            stand.kinds[at] = stand.kinds[at - 1]
            at -= 1
        stand.kinds[at] = kind
