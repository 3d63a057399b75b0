"""A run for an order line in one kind of pot, filled with what else it can serve."""

from __future__ import annotations

from production.domain.plan.swift.compiled import compiled, entry
from production.domain.plan.swift.placing import ask
from production.domain.plan.swift.tables import (
    ASK_YIELD,
    ASKS,
    FORMULA,
    FOUND,
    KIND,
    LEVEL,
    MOST_TAKEN,
    NOTHING,
    SURPLUS_N,
    TAKEN_N,
    UNKNOWN,
    Fixed,
    Recipes,
    Stand,
)

FILLS = 6  # first draws that are tried for a run that is made for its reduction (own choice)


@entry
def fill_run(fixed: Fixed, recipes: Recipes, stand: Stand, n: int, kind: int, second: bool, fill_share: float) -> int:
    """Write down the run of a kind of pot for need n and what goes with it.

    Equation: the need first, then broth of the formula by dispatch that one day of cooking can serve with it, as long
        as there is room; up to the least fill with par levels, then with broth that nobody waits for. Drawn twice, the
        reduction goes to the needs for it by dispatch; a run for a reduction is drawn as large as that asks for.
    Units: n, kind (numbers), second (yes or no), fill_share [0..1] of the range of the pot that is used; returns FOUND,
        NOTHING (it would serve nothing of the need) or ASKS.
    Valid: kinds of the formula of the need.
    Errors: none.
    Source: own definition.
    """
    formula = fixed.formula_of[fixed.product[n]]
    keeper = fixed.keeper[formula]
    if keeper < 0:
        return NOTHING
    smallest, largest, net = fixed.smallest_ml[formula, kind], fixed.largest_ml[formula, kind], fixed.net_ml[keeper]
    room = smallest + int(fill_share * (largest - smallest))
    stand.cand[FORMULA], stand.cand[KIND] = formula, kind
    stand.numbers[TAKEN_N] = 0
    litres = _take_broths(fixed, stand, n, formula, room, wishes=False)
    first = _whole(max(litres, smallest), litres, net, largest)
    if second:
        if not fixed.is_broth[fixed.product[n]]:
            first = _enough(fixed, recipes, stand, n, first, litres, room, net, largest)
            if first < 0:
                return ASKS
        given = _yield_of(fixed, recipes, stand, formula, kind, min(first, largest))
        if given < 0:
            return ASKS
        _take_reductions(fixed, stand, n, formula, given)
    if not _is_taken(stand, n):
        return NOTHING
    reductions = stand.numbers[TAKEN_N]
    wished = _take_broths(fixed, stand, n, formula, first - litres, wishes=True)
    if _topped_up(fixed, stand, formula, litres + wished, first, net, smallest, largest):
        return FOUND
    stand.numbers[TAKEN_N] = reductions
    if _topped_up(fixed, stand, formula, litres, first, net, smallest, largest):
        return FOUND
    return NOTHING


@compiled
def _take(stand: Stand, need: int, containers: int) -> None:
    place = stand.numbers[TAKEN_N]
    stand.job_need[place], stand.job_taken[place] = need, containers
    stand.numbers[TAKEN_N] = place + 1


@compiled
def _is_taken(stand: Stand, n: int) -> bool:
    for place in range(stand.numbers[TAKEN_N]):
        if stand.job_need[place] == n:
            return True
    return False


@compiled
def _take_broths(fixed: Fixed, stand: Stand, n: int, formula: int, room: int, wishes: bool) -> int:
    """Broth that one day of cooking can serve together with need n, that one first, as long as there is room."""
    own_is_broth = fixed.is_broth[fixed.product[n]]
    opens, latest, litres = fixed.leave_day[n], -1_000_000, 0
    if own_is_broth:
        latest = fixed.first_day[n]
        if not wishes:
            litres += _take_some(fixed, stand, n, room - litres)
    for place in range(fixed.needs_from[formula], fixed.needs_from[formula + 1]):
        m = fixed.needs[place]
        if m == n or not stand.left[m] or not fixed.is_broth[fixed.product[m]]:
            continue
        if (fixed.is_wish[m] == 1) != wishes:
            continue
        leaves, newest = min(opens, fixed.leave_day[m]), max(latest, fixed.first_day[m])
        if newest <= leaves - 1:
            opens, latest = leaves, newest
            litres += _take_some(fixed, stand, m, room - litres)
    return litres


@compiled
def _take_some(fixed: Fixed, stand: Stand, m: int, room: int) -> int:
    net = fixed.net_ml[fixed.product[m]]
    containers = min(stand.left[m], max(room, 0) // net)
    if containers <= 0 or stand.numbers[TAKEN_N] >= MOST_TAKEN:
        return 0
    _take(stand, m, containers)
    return int(containers * net)


@compiled
def _whole(first: int, litres: int, net: int, largest: int) -> int:
    """A first draw in whole containers: what the needs take, and no less than asked for unless the pot ends."""
    return litres + min((largest - litres) // net, -(-(first - litres) // net)) * net


@compiled
def _yield_of(fixed: Fixed, recipes: Recipes, stand: Stand, formula: int, kind: int, first: int) -> int:
    """The reduction that a first draw gives at the least; negative where somebody has to be asked."""
    level = first // fixed.grid_ml[formula]
    given = int(recipes.yields[formula, kind, level])
    if given == UNKNOWN:
        ask(stand, ASK_YIELD, formula, kind, level, 0)
    return given


@compiled
def _enough(
    fixed: Fixed, recipes: Recipes, stand: Stand, n: int, first: int, litres: int, room: int, net: int, largest: int
) -> int:
    """The smallest of a few first draws whose bones give the reduction wanted, or as large as the pot makes."""
    wanted = stand.left[n] * fixed.net_ml[fixed.product[n]]
    formula, kind = stand.cand[FORMULA], stand.cand[KIND]
    for step in range(FILLS):
        drawn = _whole(first + (room - first) * step // FILLS, litres, net, largest)
        given = _yield_of(fixed, recipes, stand, formula, kind, min(drawn, largest))
        if given < 0:
            return -1
        if given >= wanted:
            return drawn
    return _whole(max(first, room), litres, net, largest)


@compiled
def _take_reductions(fixed: Fixed, stand: Stand, n: int, formula: int, given: int) -> None:
    room = given
    if not fixed.is_broth[fixed.product[n]]:
        room -= _take_some(fixed, stand, n, room)
    for place in range(fixed.needs_from[formula], fixed.needs_from[formula + 1]):
        m = fixed.needs[place]
        if m != n and stand.left[m] and not fixed.is_broth[fixed.product[m]]:
            room -= _take_some(fixed, stand, m, room)


@compiled
def _topped_up(
    fixed: Fixed, stand: Stand, formula: int, litres: int, first: int, net: int, smallest: int, largest: int
) -> bool:
    """Fill up to the volume wanted in the smallest container of the broth; whether the pot may be filled so."""
    surplus = max(0, -(-(first - litres) // net))
    total = litres + surplus * net
    if total < smallest or total > largest:
        return False
    stand.numbers[SURPLUS_N] = surplus
    stand.cand[LEVEL] = total // fixed.grid_ml[formula]
    return True
