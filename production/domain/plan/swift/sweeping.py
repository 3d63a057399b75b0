"""What every step knows of a run: whether the rest of it can follow from there, and when it would end.

As in schedule.placement, going backwards through the stages; here for a stretch of time and in machine code.
"""

from __future__ import annotations

from production.domain.plan.swift.compiled import compiled
from production.domain.plan.swift.tables import (
    COOKS,
    FORMULA,
    HOLD,
    NEVER,
    SURPLUS_N,
    TAKEN_N,
    TRAY,
    TRAYS,
    Fixed,
    Recipes,
    Stand,
)
from production.domain.plan.swift.taking import busy_of, clear_of, free_until, next_hands, refresh_ice


@compiled
def ready_from(fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, draw: int) -> int:
    """The first step in which a draw may be ready: shelf life, and room in the stores from then on.

    Equation: the latest of: begin of the first day of cooking of each need + longest way to cool + freezing in trays;
        the step after the last one in which a store has no room for what still stands there.
    Units: recipe, draw (numbers); returns [steps].
    Valid: the run that is looked at.
    Errors: none.
    Source: own definition.
    """
    first = 0
    rest_min = recipes.longest_mode_min[recipe, draw] + stand.cand[HOLD + draw] * fixed.step_min
    for n in range(stand.numbers[TAKEN_N]):
        need = stand.job_need[n]
        if fixed.is_broth[fixed.product[need]] == (draw == 0):
            at = -(-(fixed.first_min[need] + rest_min) // fixed.step_min)
            first = max(first, at)
            first = max(first, _room_from(fixed, stand, fixed.store[fixed.product[need]], draw, first))
    if draw == 0 and stand.numbers[SURPLUS_N]:
        row = fixed.store[fixed.keeper[stand.cand[FORMULA]]]
        first = max(first, _room_from(fixed, stand, row, draw, first))
    return first


@compiled
def _room_from(fixed: Fixed, stand: Stand, row: int, draw: int, first: int) -> int:
    """The step after the last one, not before the first, in which a store lacks room for the draw."""
    last, total = 0, 0
    surplus = stand.numbers[SURPLUS_N] if draw == 0 else 0
    keeper = fixed.keeper[stand.cand[FORMULA]]
    if surplus and fixed.store[keeper] == row:
        last, total = fixed.steps, surplus * fixed.keeps[keeper]
    for n in range(stand.numbers[TAKEN_N]):
        need = stand.job_need[n]
        product = fixed.product[need]
        if fixed.is_broth[product] == (draw == 0) and fixed.store[product] == row:
            last = max(last, fixed.until[need])
            total += stand.job_taken[n] * fixed.keeps[product]
    for t in range(min(last, fixed.steps + 1) - 1, max(first, fixed.now) - 1, -1):
        if stand.free[row, t] < total:  # all of it would have room: no need to look closer
            wanted = surplus * fixed.keeps[keeper] if surplus and fixed.store[keeper] == row and t < fixed.steps else 0
            for n in range(stand.numbers[TAKEN_N]):
                need = stand.job_need[n]
                product = fixed.product[need]
                if fixed.is_broth[product] == (draw == 0) and fixed.store[product] == row and t < fixed.until[need]:
                    wanted += stand.job_taken[n] * fixed.keeps[product]
            if wanted and stand.free[row, t] < wanted:
                return t + 1
    return 0


@compiled
def colds_of(fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, draw: int, lo: int, hi: int) -> bool:
    """For every step when a draw would be ready that cools from then on; whether there is any.

    Equation: least step + cooling + freezing over the ways that find places, trays, ice and somebody on site, ready
        within the steps in which it may be.
    Units: recipe, draw (numbers), lo, hi [steps].
    Valid: the run that is looked at.
    Errors: none.
    Source: own definition.
    """
    cold = stand.cold[draw]
    for t in range(lo, hi + 1):
        cold[t] = NEVER
    hold, trays = stand.cand[HOLD + draw], stand.cand[TRAYS + draw]
    if trays:
        _tray_until(fixed, stand, stand.cand[TRAY + draw], trays)
    refresh_ice(fixed, stand)
    found = False
    for mode in range(recipes.modes[recipe, draw]):
        length, ice = recipes.mode_length[recipe, draw, mode], recipes.mode_ice[recipe, draw, mode]
        rest = length + hold
        first, last = max(lo, stand.ready[draw, 0] - rest), min(hi, stand.ready[draw, 1] - rest)
        many = recipes.mode_places[recipe, draw, mode]
        one = clear_of(fixed, stand, recipes.place_row[recipe, draw, mode, 0], recipes.place_n[recipe, draw, mode, 0])
        for t in range(first, last + 1):
            if cold[t] <= t + rest or stand.clear[one, t] < t + length or fixed.staffed_until[t] < t + length:
                continue
            if ice and stand.ice_free[t] < ice:
                continue
            if trays and stand.tray_until[t] < t + rest:
                continue
            fits = True
            for place in range(1, many):
                other = clear_of(
                    fixed,
                    stand,
                    recipes.place_row[recipe, draw, mode, place],
                    recipes.place_n[recipe, draw, mode, place],
                )
                if stand.clear[other, t] < t + length:
                    fits = False
                    break
            if fits:
                cold[t] = t + rest
                found = True
    return found


@compiled
def _tray_until(fixed: Fixed, stand: Stand, row: int, many: int) -> None:
    until = fixed.steps
    for t in range(fixed.steps - 1, fixed.now - 1, -1):
        if stand.free[row, t] < many:
            until = t
        stand.tray_until[t] = until


@compiled
def pan_of(fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, formula: int, lo: int, hi: int) -> None:
    """Mark for every step whether the pan of a recipe is free for a formula.

    Equation: free outside of what busy_of says.
    Units: recipe, formula (numbers), lo, hi [steps].
    Valid: recipes with a pan.
    Errors: none.
    Source: own definition.
    """
    place = stand.busy_n.size - 1
    busy_of(fixed, stand, recipes.pan[recipe], formula, place)
    for t in range(lo, hi + 1):
        stand.pan_free[t] = 1
    for n in range(stand.busy_n[place]):
        for t in range(max(lo, stand.busy[place, n, 0]), min(hi + 1, stand.busy[place, n, 1])):
            stand.pan_free[t] = 0


@compiled
def sweep(fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, lo: int, hi: int) -> bool:
    """Fill `end`, `held`, `until`, `lands` and `go` for the steps from lo to hi; whether any start is left.

    Equation: end(stage, t) = end(stage + 1, e) for the first e within the lengths of the stage from which the rest can
        follow, as long as hands, heat and the pan are there.
    Units: recipe (number), lo, hi [steps].
    Valid: `cold` is filled for the draws; nothing ends after hi.
    Errors: none.
    Source: own definition (dynamic programming over time, a standard method).
    """
    stages, last_pot, pour = recipes.stages[recipe], recipes.last_pot[recipe], recipes.pour[recipe]
    wash, has_pan = recipes.wash[recipe], recipes.pan[recipe] >= 0
    washes = next_hands(fixed, stand, 1, wash)
    if has_pan:
        pan_washes = next_hands(fixed, stand, 1, recipes.pan_wash[recipe])
        place = stand.busy_n.size - 1
        for t in range(lo, hi + 1):
            washed = stand.hands_at[pan_washes, t] + recipes.pan_wash[recipe]
            stand.end[stages, t] = t if washed <= free_until(fixed, stand, place, t) else NEVER
    else:
        for t in range(lo, hi + 1):
            stand.end[stages, t] = t
    for stage in range(stages - 1, -1, -1):
        _may_end(fixed, recipes, stand, recipe, stage, lo, hi)
        if stage == last_pot:
            for t in range(lo, hi + 1):
                at = stand.hands_at[washes, t]
                stand.held[stage + 1, t] = at + wash
                if at >= NEVER:
                    stand.go[stage, t] = 0
        found = _sweep_stage(fixed, recipes, stand, recipe, stage, lo, hi, has_pan and stage >= pour)
        if not found:
            return False
    return True


@compiled
def _may_end(fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, stage: int, lo: int, hi: int) -> None:
    """Steps at which a stage may end: the rest follows, its draws find places, its additions find hands."""
    go, following = stand.go[stage], stand.end[stage + 1]
    for t in range(lo, hi + 1):
        go[t] = 1 if following[t] < NEVER else 0
    for draw in range(2):
        if recipes.draw_stage[recipe, draw] == stage:
            cold = stand.cold[draw]
            for t in range(lo, hi + 1):
                if cold[t] >= NEVER:
                    go[t] = 0
    for n in range(recipes.additions[recipe]):
        if recipes.add_stage[recipe, n] == stage:
            length, tolerance = recipes.add_length[recipe, n], recipes.add_tolerance[recipe, n]
            free = next_hands(fixed, stand, recipes.hands[recipe, stage] + 1, length)
            earliest = -(recipes.add_before[recipe, n] + tolerance)
            latest = min(tolerance - recipes.add_before[recipe, n], -length)
            for t in range(lo, hi + 1):
                at = max(t + earliest, fixed.now)
                if stand.hands_at[free, at] > t + latest:
                    go[t] = 0


@compiled
def _sweep_stage(
    fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, stage: int, lo: int, hi: int, in_pan: bool
) -> bool:
    shortest, longest = int(recipes.shortest[recipe, stage]), int(recipes.longest[recipe, stage])
    hands, on_site = recipes.hands[recipe, stage], recipes.on_site[recipe, stage]
    heat, row = recipes.heat[recipe, stage], recipes.supply[recipe, stage]
    cooks, supply = stand.free[COOKS], stand.free[row]
    go, following, held_after = stand.go[stage], stand.end[stage + 1], stand.held[stage + 1]
    end, held, until, lands = stand.end[stage], stand.held[stage], stand.until[stage], stand.lands[stage]
    last_pot = recipes.last_pot[recipe]
    in_pot = stage <= last_pot
    unusable, landing, found = hi + 1, NEVER, False
    for t in range(hi, lo - 1, -1):
        if (
            (hands and cooks[t] < hands)
            or (heat and supply[t] < heat)
            or (on_site and not fixed.staffed[t])
            or (in_pan and not stand.pan_free[t])
        ):
            unusable = t
        until[t] = unusable
        first = t + shortest
        if first <= hi:
            if go[first]:
                landing = first
            elif shortest == longest:
                landing = NEVER
        if landing <= unusable and landing <= t + longest:
            end[t], lands[t] = following[landing], landing
            if in_pot:
                held[t] = held_after[landing]
            found = True
        else:
            end[t], lands[t] = NEVER, NEVER
    return found
