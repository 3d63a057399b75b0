"""Weeks that are taken down in part and served anew; a worse one is kept for a while, the best is remembered."""

from __future__ import annotations

import math

from production.domain.plan.swift.chance import chance, noise, one_of
from production.domain.plan.swift.compiled import compiled, entry
from production.domain.plan.swift.serving import NO_LIMIT, UNSERVED_COST, cost_of, serve, unserved_of
from production.domain.plan.swift.tables import (
    ADDED,
    ALIVE,
    ASKS,
    AT,
    BEST_KWH,
    BEST_LATE,
    BEST_N,
    BEST_RUNS,
    BEST_SURPLUS,
    BEST_UNSERVED,
    BETTER,
    FORMULA,
    FOUND,
    HERE,
    IDLE,
    KWH,
    LATE,
    LOST,
    ORDERED,
    POT,
    REMOVED,
    START,
    SURPLUS_L,
    TAKEN,
    WAY,
    Fixed,
    Recipes,
    Stand,
)
from production.domain.plan.swift.taking import put_up, take_down

MOST_TAKEN_DOWN = 6  # own choice, like what follows
NOISE_H = 10.0  # spread of the noise on a dispatch
TROUBLED = 0.7  # chance to begin with a run that is late, or of a formula of which something is unserved
FAR = 100_000.0
ROUNDS = 3  # what is nearest to a run is chosen among so many times as many as are taken down
HAIR = 1e-6


@compiled
def order_needs(fixed: Fixed, stand: Stand) -> None:
    """Put all open needs in order of their dispatch.

    Equation: needs that are wanted and ordered, by number.
    Units: no quantities.
    Valid: needs in the order of their dispatch.
    Errors: none.
    Source: own definition.
    """
    many = 0
    for n in range(stand.left.size):
        if stand.left[n] and not fixed.is_wish[n]:
            stand.order[many] = n
            many += 1
    stand.numbers[ORDERED], stand.numbers[AT], stand.numbers[ADDED] = many, 0, 0
    stand.weights[LOST] = 0.0


@compiled
def unserved(fixed: Fixed, stand: Stand) -> float:
    """Weight x share of the order lines that nothing serves.

    Equation: sum of unserved_of over the needs that were ordered.
    Units: returns [weighted share].
    Valid: any week.
    Errors: none.
    Source: own definition.
    """
    total = 0.0
    for n in range(stand.left.size):
        if stand.left[n] and not fixed.is_wish[n]:
            total += unserved_of(fixed, stand, n)
    return total


@entry
def keep_if_best(fixed: Fixed, stand: Stand) -> bool:
    """Remember what stands where it is worth more than the best: unserved, late, runs, energy, surplus in this order.

    Equation: lexicographic order; levels within 10^-6 of each other are equal.
    Units: no quantities.
    Valid: any week.
    Errors: none.
    Source: own definition.
    """
    late_h, runs, kwh, surplus_l = 0.0, 0.0, 0.0, 0.0
    for n in range(stand.numbers[ALIVE]):
        row = stand.alive[n]
        late_h += stand.values[row, LATE]
        runs += 1.0 + (stand.runs[row, WAY] > 0)
        kwh += stand.values[row, KWH]
        surplus_l += stand.values[row, SURPLUS_L]
    worth = (unserved(fixed, stand), late_h, runs, kwh, surplus_l)
    for level in range(5):
        best = stand.weights[BEST_UNSERVED + level]
        if worth[level] > best + HAIR:
            return False
        if worth[level] < best - HAIR:
            break
        if level == 4:
            return False
    stand.weights[BEST_UNSERVED], stand.weights[BEST_LATE], stand.weights[BEST_RUNS] = worth[0], worth[1], worth[2]
    stand.weights[BEST_KWH], stand.weights[BEST_SURPLUS] = worth[3], worth[4]
    stand.numbers[BETTER] = 1
    many = stand.numbers[ALIVE]
    stand.numbers[BEST_N] = many
    for n in range(many):
        row = stand.alive[n]
        stand.best_runs[n] = stand.runs[row]
        stand.best_run_values[n] = stand.values[row]
        for m in range(stand.runs[row, TAKEN]):
            stand.best_taken_need[n, m] = stand.taken_need[row, m]
            stand.best_taken[n, m] = stand.taken[row, m]
    return True


@entry
def clear_all(fixed: Fixed, recipes: Recipes, stand: Stand) -> None:
    """Let nothing stand.

    Equation: take_down of every run.
    Units: no quantities.
    Valid: any week.
    Errors: none.
    Source: own definition.
    """
    while stand.numbers[ALIVE]:
        row = stand.alive[stand.numbers[ALIVE] - 1]
        take_down(fixed, recipes, stand, row)
        _give_back(stand, row)


@entry
def back_to_best(fixed: Fixed, recipes: Recipes, stand: Stand) -> None:
    """Let stand what was best, and nothing else.

    Equation: the runs that are remembered.
    Units: no quantities.
    Valid: after keep_if_best.
    Errors: none.
    Source: own definition.
    """
    clear_all(fixed, recipes, stand)
    for n in range(stand.numbers[BEST_N]):
        stand.numbers[IDLE] -= 1
        row = stand.idle[stand.numbers[IDLE]]
        stand.runs[row] = stand.best_runs[n]
        stand.values[row] = stand.best_run_values[n]
        for m in range(stand.runs[row, TAKEN]):
            stand.taken_need[row, m] = stand.best_taken_need[n, m]
            stand.taken[row, m] = stand.best_taken[n, m]
        put_up(fixed, recipes, stand, row)
    stand.weights[HERE] = UNSERVED_COST * unserved(fixed, stand) + cost_of(stand)


@compiled
def _give_back(stand: Stand, row: int) -> None:
    stand.idle[stand.numbers[IDLE]] = row
    stand.numbers[IDLE] += 1


@entry
def improve(fixed: Fixed, recipes: Recipes, stand: Stand, rounds: int, heat: float) -> int:
    """Some rounds of taking runs down and serving anew what they served; how many rounds were done.

    Equation: simulated annealing over ruin and recreate: 1 to 6 runs near a chosen one (in time, pot or formula) are
        taken down; the needs that are open then are served in an order of chance. A week that costs more is kept with
        probability exp(-difference / heat).
    Units: rounds (count), heat [cost]; returns a count; fewer than asked where somebody has to be asked.
    Valid: any week; what is best is remembered beside it.
    Errors: none.
    Source: own definition; ruin and recreate (Schrimpf et al. 2000) and simulated annealing, from memory.
    """
    for done in range(rounds):
        if not stand.numbers[ALIVE]:
            return rounds
        before = stand.chance[0]
        most_cost = stand.weights[HERE] - heat * math.log(1.0 - chance(stand))
        _take_some_down(fixed, recipes, stand)
        order_needs(fixed, stand)
        _shuffle(fixed, stand)
        answer = serve(fixed, recipes, stand, shaken=True, way=0, most_cost=most_cost)
        cost = NO_LIMIT
        if answer == FOUND:
            cost = UNSERVED_COST * unserved(fixed, stand) + cost_of(stand)
            keep_if_best(fixed, stand)
        if cost <= most_cost:
            stand.weights[HERE] = cost
            for n in range(stand.numbers[REMOVED]):
                _give_back(stand, stand.removed[n])
            continue
        for n in range(stand.numbers[ADDED]):
            take_down(fixed, recipes, stand, stand.added[n])
            _give_back(stand, stand.added[n])
        for n in range(stand.numbers[REMOVED]):
            put_up(fixed, recipes, stand, stand.removed[n])
        if answer == ASKS:
            stand.chance[0] = before
            return done
    return rounds


@compiled
def _take_some_down(fixed: Fixed, recipes: Recipes, stand: Stand) -> None:
    """A run and some of those nearest to it: in time, of its formula, or in its pot."""
    first = _chosen(fixed, stand)
    count, distance = one_of(stand, MOST_TAKEN_DOWN), one_of(stand, 3)
    many = stand.numbers[ALIVE]
    for n in range(many):
        row = stand.alive[n]
        stand.near[n] = abs(stand.runs[row, START] - stand.runs[first, START])
        if distance == 1 and stand.runs[row, FORMULA] != stand.runs[first, FORMULA]:
            stand.near[n] += FAR
        if distance == 2 and stand.runs[row, POT] != stand.runs[first, POT]:
            stand.near[n] += FAR
        if row == first:
            stand.near[n] = -1.0
    among = 0
    for _ in range(min(ROUNDS * count + 1, many)):
        nearest = 0
        for n in range(1, many):
            if stand.near[n] < stand.near[nearest]:
                nearest = n
        stand.near[nearest] = 1e18
        stand.removed[among] = stand.alive[nearest]
        among += 1
    for n in range(1, min(count + 1, among)):
        other = n + one_of(stand, among - n)
        stand.removed[n], stand.removed[other] = stand.removed[other], stand.removed[n]
    stand.numbers[REMOVED] = min(count + 1, among)
    for n in range(stand.numbers[REMOVED]):
        take_down(fixed, recipes, stand, stand.removed[n])


@compiled
def _chosen(fixed: Fixed, stand: Stand) -> int:
    """A late run, one of a formula of which something is unserved, or any."""
    many = stand.numbers[ALIVE]
    if chance(stand) < TROUBLED:
        troubled = 0
        for n in range(many):
            if _is_troubled(fixed, stand, stand.alive[n]):
                stand.removed[troubled] = stand.alive[n]
                troubled += 1
        if troubled:
            return int(stand.removed[one_of(stand, troubled)])
    return int(stand.alive[one_of(stand, many)])


@compiled
def _is_troubled(fixed: Fixed, stand: Stand, row: int) -> bool:
    if stand.values[row, LATE] > 0.0:
        return True
    formula = stand.runs[row, FORMULA]
    for place in range(fixed.needs_from[formula], fixed.needs_from[formula + 1]):
        if stand.left[fixed.needs[place]] and not fixed.is_wish[fixed.needs[place]]:
            return True
    return False


@compiled
def _shuffle(fixed: Fixed, stand: Stand) -> None:
    """Open needs by dispatch, by dispatch with noise, or in any order."""
    many, way = stand.numbers[ORDERED], chance(stand)
    if way < 0.3:
        return
    if way < 0.6:
        for n in range(many - 1):
            other = n + one_of(stand, many - n)
            stand.order[n], stand.order[other] = stand.order[other], stand.order[n]
        return
    for n in range(many):
        need = stand.order[n]
        key, at = fixed.due_min[need] / 60.0 + noise(stand, NOISE_H), n
        while at and stand.near[at - 1] > key:
            stand.near[at], stand.order[at] = stand.near[at - 1], stand.order[at - 1]
            at -= 1
        stand.near[at], stand.order[at] = key, need
