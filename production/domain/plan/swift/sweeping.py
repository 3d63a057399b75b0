"""What every step knows of a run: whether the rest of it can follow from there, and when it would end.

As in schedule.placement, going backwards through the stages; here for a stretch of time and in machine code.
"""

from __future__ import annotations

import numpy as np

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
    Flags,
    Ints,
    Recipes,
    Shorts,
    Stand,
)
from production.domain.plan.swift.taking import busy_of, clear_of, clear_until, free_until, next_hands, refresh_ice


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
    cold[lo : hi + 1] = NEVER
    hold, trays = stand.cand[HOLD + draw], stand.cand[TRAYS + draw]
    if trays:
        _tray_until(fixed, stand, stand.cand[TRAY + draw], trays)
    refresh_ice(fixed, stand)
    found = 0
    for mode in range(recipes.modes[recipe, draw]):
        length, ice = recipes.mode_length[recipe, draw, mode], recipes.mode_ice[recipe, draw, mode]
        rest = length + hold
        first, last = max(lo, stand.ready[draw, 0] - rest), min(hi, stand.ready[draw, 1] - rest)
        if last < first:
            continue
        may = stand.may[first : last + 1]
        may[:] = 1
        strike(may, fixed.staffed_until[first : last + 1], first + length)
        for place in range(recipes.mode_places[recipe, draw, mode]):
            row, many = recipes.place_row[recipe, draw, mode, place], recipes.place_n[recipe, draw, mode, place]
            slot = clear_of(fixed, stand, row, many)
            strike(may, stand.clear[slot, first : last + 1], first + length)
        if trays:
            strike(may, stand.tray_until[first : last + 1], first + rest)
        if ice:
            _strike_ice(may, stand.ice_free[first : last + 1], ice)
        found += _least(cold[first : last + 1], may, first + rest)
    return found > 0


# The loops below begin at 0, so that the compiler can work on many steps at once.


@compiled
def strike(may: Flags, until: Shorts, first: int) -> None:
    """Strike out the steps from which something is not free as long as it must.

    Equation: may(i) and until(i) >= first + i.
    Units: may (flag by step), until [steps], first (until when it must be free for the first of the steps).
    Valid: arrays of one length.
    Errors: none.
    Source: own definition.
    """
    wanted = np.int32(first)
    for i in range(may.size):
        may[i] &= np.uint8(until[i] >= wanted + np.int32(i))


@compiled
def _strike_ice(may: Flags, free: Ints, ice: int) -> None:
    for i in range(may.size):
        may[i] &= np.uint8(free[i] >= ice)


@compiled
def _least(cold: Shorts, may: Flags, ready: int) -> int:
    """Put in when it is ready where it may be and is less; how often it may be."""
    found = 0
    at = np.int32(ready)
    for i in range(may.size):
        found += int(may[i])
        cold[i] = min(cold[i], at + np.int32(i)) if may[i] else cold[i]
    return found


@compiled
def _tray_until(fixed: Fixed, stand: Stand, row: int, many: int) -> None:
    clear_until(stand.tray_until[: fixed.steps], stand.free[row, : fixed.steps], many, 0)


@compiled
def pan_of(fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, formula: int, lo: int, hi: int) -> None:
    """Write down for every step until when the pan of a recipe is free for a formula.

    Equation: the first step at or after it in what busy_of says, as far as hi.
    Units: recipe, formula (numbers), lo, hi [steps].
    Valid: recipes with a pan.
    Errors: none.
    Source: own definition.
    """
    place, may = stand.busy_n.size - 1, stand.may
    busy_of(fixed, stand, recipes.pan[recipe], formula, place)
    for t in range(lo, hi + 1):
        may[t] = 1
    for n in range(stand.busy_n[place]):
        for t in range(max(lo, stand.busy[place, n, 0]), min(hi + 1, stand.busy[place, n, 1])):
            may[t] = 0
    until = fixed.steps
    for t in range(hi, lo - 1, -1):
        if not may[t]:
            until = t
        stand.pan_until[t] = until


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
            stand.held[stage + 1, lo : hi + 1] = stand.hands_at[washes, lo : hi + 1] + np.int32(wash)
            _too(stand.go[stage, lo : hi + 1], stand.hands_at[washes, lo : hi + 1])
        in_pan = has_pan and stage >= pour
        if recipes.shortest[recipe, stage] == recipes.longest[recipe, stage]:
            found = _sweep_fixed(fixed, recipes, stand, recipe, stage, lo, hi, in_pan)
        else:
            found = _sweep_flexible(fixed, recipes, stand, recipe, stage, lo, hi, in_pan)
        if not found:
            return False
    return True


@compiled
def _may_end(fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, stage: int, lo: int, hi: int) -> None:
    """Steps at which a stage may end: the rest follows, its draws find places, its additions find hands."""
    go, following = stand.go[stage], stand.end[stage + 1]
    _follows(go[lo : hi + 1], following[lo : hi + 1])
    for draw in range(2):
        if recipes.draw_stage[recipe, draw] == stage:
            _too(go[lo : hi + 1], stand.cold[draw, lo : hi + 1])
    for n in range(recipes.additions[recipe]):
        if recipes.add_stage[recipe, n] == stage:
            length, tolerance = recipes.add_length[recipe, n], recipes.add_tolerance[recipe, n]
            free = next_hands(fixed, stand, recipes.hands[recipe, stage] + 1, length)
            earliest = -(recipes.add_before[recipe, n] + tolerance)
            latest = min(tolerance - recipes.add_before[recipe, n], -length)
            head = max(lo, fixed.now - earliest)  # before that nobody is there yet
            if head > lo:
                go[lo : min(head, hi + 1)] = 0
            if head <= hi:
                strike_after(
                    go[head : hi + 1], stand.hands_at[free, head + earliest : hi + earliest + 1], head + latest
                )


@compiled
def strike_after(may: Flags, at: Shorts, last: int) -> None:
    """Strike out the steps at which something comes later than it may.

    Equation: may(i) and at(i) <= last + i.
    Units: may (flag by step), at [steps], last (the latest for the first of the steps).
    Valid: arrays of one length.
    Errors: none.
    Source: own definition.
    """
    most = np.int32(last)
    for i in range(may.size):
        may[i] &= np.uint8(at[i] <= most + np.int32(i))


@compiled
def _follows(go: Flags, following: Shorts) -> None:
    for i in range(go.size):
        go[i] = np.uint8(following[i] < np.int32(NEVER))


@compiled
def _too(go: Flags, cold: Shorts) -> None:
    for i in range(go.size):
        go[i] &= np.uint8(cold[i] < np.int32(NEVER))


@compiled
def _sweep_fixed(
    fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, stage: int, lo: int, hi: int, in_pan: bool
) -> bool:
    """A stage of one length: its end is known, so that every step can be looked at by itself."""
    length = int(recipes.shortest[recipe, stage])
    last = hi - length
    stand.end[stage, max(lo, last + 1) : hi + 1] = NEVER
    if last < lo:
        return False
    may = stand.may[lo : last + 1]
    may[:] = stand.go[stage, lo + length : hi + 1]
    if recipes.hands[recipe, stage]:
        cooks = clear_of(fixed, stand, COOKS, recipes.hands[recipe, stage])
        strike(may, stand.clear[cooks, lo : last + 1], lo + length)
    elif recipes.on_site[recipe, stage]:
        strike(may, fixed.staffed_until[lo : last + 1], lo + length)
    if recipes.heat[recipe, stage]:
        supply = stand.free[recipes.supply[recipe, stage], lo : hi + 1]
        until = stand.heat_until[lo : hi + 1]
        clear_until(until, supply, recipes.heat[recipe, stage], lo)
        strike(may, until, lo + length)
    if in_pan:
        strike(may, stand.pan_until[lo : last + 1], lo + length)
    if stage <= recipes.last_pot[recipe]:
        stand.held[stage, lo : last + 1] = stand.held[stage + 1, lo + length : hi + 1]
    return _ends(stand.end[stage, lo : last + 1], stand.end[stage + 1, lo + length : hi + 1], may) > 0


@compiled
def _ends(end: Shorts, following: Shorts, may: Flags) -> int:
    found = 0
    for i in range(may.size):
        found += int(may[i])
        end[i] = following[i] if may[i] else np.int32(NEVER)
    return found


@compiled
def _sweep_flexible(
    fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, stage: int, lo: int, hi: int, in_pan: bool
) -> bool:
    """A stage whose length is free between two: it ends as soon as the rest can follow."""
    shortest, longest = int(recipes.shortest[recipe, stage]), int(recipes.longest[recipe, stage])
    hands, on_site = recipes.hands[recipe, stage], recipes.on_site[recipe, stage]
    heat, row = recipes.heat[recipe, stage], recipes.supply[recipe, stage]
    cooks, supply = stand.free[COOKS, lo : hi + 1], stand.free[row, lo : hi + 1]
    staffed, pan = fixed.staffed[lo : hi + 1], stand.pan_until[lo : hi + 1]
    go, following, after = stand.go[stage, lo : hi + 1], stand.end[stage + 1, lo : hi + 1], stand.held[stage + 1]
    end, held = stand.end[stage, lo : hi + 1], stand.held[stage]
    until, lands = stand.until[stage, lo : hi + 1], stand.lands[stage, lo : hi + 1]
    in_pot = stage <= recipes.last_pot[recipe]
    size = end.size
    unusable, landing, found = size, NEVER, False
    for i in range(size):
        t = size - 1 - i
        if (
            (hands and cooks[t] < hands)
            or (heat and supply[t] < heat)
            or (on_site and not staffed[t])
            or (in_pan and pan[t] == lo + t)
        ):
            unusable = t
        until[t] = lo + unusable
        first = t + shortest
        if first < size and go[first]:
            landing = first
        if landing <= unusable and landing <= t + longest:
            end[t], lands[t] = following[landing], lo + landing
            if in_pot:
                held[lo + t] = after[lo + landing]
            found = True
        else:
            end[t], lands[t] = NEVER, NEVER
    return found
