"""What runs take from the week and give back, and what is free around them."""

from __future__ import annotations

import numpy as np

from production.domain.plan.swift.compiled import compiled
from production.domain.plan.swift.tables import (
    ADDS,
    ALIVE,
    CLEARS,
    COOKS,
    COUNTS,
    ENDS,
    FORMULA,
    FREE,
    ICE_DIRTY,
    MODE,
    MOST_COUNTS,
    NEVER,
    PAN,
    PAN_FREE,
    PAN_WASH,
    POT,
    READY,
    RECIPE,
    START,
    SURPLUS,
    TAKEN,
    TRAY,
    TRAYS,
    WASH,
    Fixed,
    Ints,
    Recipes,
    Shorts,
    Stand,
)


@compiled
def take(fixed: Fixed, stand: Stand, row: int, amount: int, start: int, end: int) -> None:
    """Take an amount of a row (give back a negative one) from a step to another; what is read off it grows stale.

    Equation: free - amount at every step from start (not before now) to end.
    Units: row, amount [the row's], start, end [steps].
    Valid: any steps.
    Errors: none.
    Source: own definition.
    """
    begin, stop = max(start, fixed.now), min(end, fixed.steps)
    if begin < stop:
        stand.free[row, begin:stop] -= amount


@compiled
def is_free(stand: Stand, row: int, amount: int, start: int, end: int) -> bool:
    """Whether an amount of a row is free at every step.

    Equation: free >= amount.
    Units: row, amount [the row's], start, end [steps].
    Valid: steps within the week.
    Errors: none.
    Source: own definition.
    """
    free = stand.free[row, start:end]
    for i in range(free.size):
        if free[i] < amount:
            return False
    return True


@compiled
def clear_of(fixed: Fixed, stand: Stand, row: int, need: int) -> int:
    """Where to read, for every step, the first step at or after it in which a need is not free.

    Equation: u(t) = min { s >= t : free(s) < need }, worked out anew when the row has changed.
    Units: row, need [the row's]; returns [row of `clear`].
    Valid: needs up to what the row has.
    Errors: none.
    Source: own definition.
    """
    slot = int(stand.clear_slot[row, need])
    if slot < 0:
        slot = stand.numbers[CLEARS]
        stand.numbers[CLEARS] += 1
        stand.clear_slot[row, need] = slot
        stand.clear_at[slot] = -1
    if stand.clear_at[slot] != stand.version[row]:
        stand.clear_at[slot] = stand.version[row]
        stand.clear[slot, fixed.steps] = fixed.steps
        clear_until(stand.clear[slot, : fixed.steps], stand.free[row, : fixed.steps], need, 0)
    return slot


@compiled
def clear_until(until: Shorts, free: Ints, need: int, first: int) -> None:
    """For every step the first one at or after it in which a need is not free, as far as the arrays go.

    Equation: u(t) = min { s >= t : free(s) < need }.
    Units: until [steps], free, need [the row's], first (the step at which the arrays begin).
    Valid: arrays of one length.
    Errors: none.
    Source: own definition.
    """
    size = until.size
    at = np.int32(first + size)
    for i in range(size):
        place = size - 1 - i
        at = np.int32(first + place) if free[place] < need else at
        until[place] = at


@compiled
def next_hands(fixed: Fixed, stand: Stand, need: int, length: int) -> int:
    """Where to read, for every step, the first step at or after it from which hands are free for so long.

    Equation: n(t) = min { s >= t : free cooks >= need in [s, s + length) }, NEVER where there is none.
    Units: need [cooks], length [steps]; returns [row of `hands_at`].
    Valid: no more pairs of need and length than there are rows.
    Errors: none.
    Source: own definition.
    """
    slot = 0
    while slot < stand.numbers[COUNTS]:
        if stand.count_need[slot] == need and stand.count_length[slot] == length:
            break
        slot += 1
    if slot == stand.numbers[COUNTS]:
        if slot == MOST_COUNTS:
            slot = 0
        else:
            stand.numbers[COUNTS] += 1
        stand.count_need[slot], stand.count_length[slot], stand.count_at[slot] = need, length, -1
    if stand.count_at[slot] != stand.version[COOKS]:
        stand.count_at[slot] = stand.version[COOKS]
        stand.hands_at[slot, fixed.steps] = NEVER if length else fixed.steps
        _next_free(stand.hands_at[slot, : fixed.steps], stand.free[COOKS, : fixed.steps], need, length)
    return slot


@compiled
def _next_free(following: Shorts, free: Ints, need: int, length: int) -> None:
    size = following.size
    until, at = size, NEVER
    for i in range(size):
        place = size - 1 - i
        until = place if free[place] < need else until
        at = place if until >= place + length else at
        following[place] = at


@compiled
def refresh_ice(fixed: Fixed, stand: Stand) -> None:
    """Work out the largest draw of ice at each step that leaves enough for all draws booked later.

    Equation: free(t) = min(level after t, free(t + 1) + what the full bin would have spilled in between).
    Units: [millionths of kg] by step.
    Valid: any draws.
    Errors: none.
    Source: own definition.
    """
    if not stand.numbers[ICE_DIRTY]:
        return
    stand.numbers[ICE_DIRTY] = 0
    level, full = fixed.ice_start, fixed.ice_full
    for t in range(fixed.now, fixed.steps + 1):
        filled = level + fixed.brought[t]
        spilled = max(filled - full, 0)
        after = min(filled, full) - stand.ice_draws[t]
        risen = after + fixed.ice_rate
        stand.ice_after[t] = after
        stand.ice_spill[t] = spilled
        level = min(risen, full)
    free = stand.ice_after[fixed.steps]
    stand.ice_free[fixed.steps] = free
    for t in range(fixed.steps - 1, fixed.now - 1, -1):
        after = stand.ice_after[t]
        free = min(after, free + max(after + fixed.ice_rate - full, 0) + stand.ice_spill[t + 1])
        stand.ice_free[t] = free


@compiled
def take_cold(
    fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, draw: int, mode: int, start: int, sign: int
) -> None:
    """Take (+1) or give back (-1) the places and the ice of a draw that cools from a step on.

    Equation: places from start until cooled; ice at the start.
    Units: recipe, draw, mode (numbers), start [steps], sign.
    Valid: modes of the recipe.
    Errors: none.
    Source: own definition.
    """
    end = start + recipes.mode_length[recipe, draw, mode]
    for place in range(recipes.mode_places[recipe, draw, mode]):
        row, many = recipes.place_row[recipe, draw, mode, place], recipes.place_n[recipe, draw, mode, place]
        take(fixed, stand, row, sign * many, start, end)
    ice = recipes.mode_ice[recipe, draw, mode]
    if ice:
        stand.ice_draws[start] += sign * ice
        stand.numbers[ICE_DIRTY] = 1


@compiled
def take_room(fixed: Fixed, stand: Stand, product: int, containers: int, ready: int, until: int, sign: int) -> None:
    """Take (+1) or give back (-1) room for containers in the store of a product.

    Equation: containers x room of one, from ready until they leave.
    Units: product (number), containers (count), ready, until [steps], sign.
    Valid: products with a store.
    Errors: none.
    Source: own definition.
    """
    row = fixed.store[product]
    begin, stop = max(ready, fixed.now), min(until, fixed.steps + 1)
    if begin < stop:
        stand.free[row, begin:stop] -= sign * containers * fixed.keeps[product]


@compiled
def take_run(fixed: Fixed, recipes: Recipes, stand: Stand, row: int, sign: int) -> None:
    """Take (+1) or give back (-1) everything that a run uses.

    Equation: hands, heat, places, ice, trays, room, vessels, and the containers that it serves.
    Units: row (of runs), sign.
    Valid: rows with a run.
    Errors: none.
    Source: own definition.
    """
    run = stand.runs[row]
    recipe = run[RECIPE]
    begin = run[START]
    stand.version[COOKS] += 1
    for stage in range(recipes.stages[recipe]):
        end = run[ENDS + stage]
        if recipes.hands[recipe, stage]:
            take(fixed, stand, COOKS, sign * recipes.hands[recipe, stage], begin, end)
        if recipes.heat[recipe, stage]:
            take(fixed, stand, recipes.supply[recipe, stage], sign * recipes.heat[recipe, stage], begin, end)
        begin = end
    for n in range(recipes.additions[recipe]):
        take(fixed, stand, COOKS, sign, run[ADDS + n], run[ADDS + n] + recipes.add_length[recipe, n])
    if run[WASH] >= 0:
        take(fixed, stand, COOKS, sign, run[WASH], run[WASH] + recipes.wash[recipe])
    if run[PAN_WASH] >= 0:
        take(fixed, stand, COOKS, sign, run[PAN_WASH], run[PAN_WASH] + recipes.pan_wash[recipe])
    for draw in range(2):
        stage = recipes.draw_stage[recipe, draw]
        if stage >= 0:
            cooled_from = run[ENDS + stage]
            take_cold(fixed, recipes, stand, recipe, draw, run[MODE + draw], cooled_from, sign)
            for place in range(recipes.mode_places[recipe, draw, run[MODE + draw]]):
                stand.version[recipes.place_row[recipe, draw, run[MODE + draw], place]] += 1
            if run[TRAY + draw] >= 0:
                take(fixed, stand, run[TRAY + draw], sign * run[TRAYS + draw], cooled_from, run[READY + draw])
    for n in range(run[TAKEN]):
        need, containers = stand.taken_need[row, n], stand.taken[row, n]
        product = fixed.product[need]
        ready = run[READY] if fixed.is_broth[product] else run[READY + 1]
        take_room(fixed, stand, product, containers, ready, max(ready, fixed.until[need]), sign)
        stand.left[need] -= sign * containers
    if run[SURPLUS]:
        take_room(fixed, stand, fixed.keeper[run[FORMULA]], run[SURPLUS], run[READY], fixed.steps, sign)
    _stay(stand, row, run[POT], run[START], run[FREE], sign)
    if run[PAN] >= 0:
        poured = run[ENDS + recipes.pour[recipe] - 1] if recipes.pour[recipe] else run[START]
        _stay(stand, row, run[PAN], poured, run[PAN_FREE], sign)


@compiled
def _stay(stand: Stand, row: int, vessel: int, start: int, free: int, sign: int) -> None:
    many = stand.stays_n[vessel]
    if sign > 0:
        stand.stays[vessel, many] = row
        stand.stay_start[vessel, many] = start
        stand.stay_free[vessel, many] = free
        stand.stay_formula[vessel, many] = stand.runs[row, FORMULA]
        stand.stays_n[vessel] = many + 1
        return
    for n in range(many):
        if stand.stays[vessel, n] == row:
            last = many - 1
            stand.stays[vessel, n] = stand.stays[vessel, last]
            stand.stay_start[vessel, n] = stand.stay_start[vessel, last]
            stand.stay_free[vessel, n] = stand.stay_free[vessel, last]
            stand.stay_formula[vessel, n] = stand.stay_formula[vessel, last]
            stand.stays_n[vessel] = last
            return


@compiled
def busy_of(fixed: Fixed, stand: Stand, vessel: int, formula: int, place: int) -> None:
    """Write down when a vessel is taken, out of order, or soaking for a run of a formula.

    Equation: stays with the soak before or after them where allergens ask for it, moved out of outages; outages.
    Units: vessel, formula, place (row of `busy`).
    Valid: vessels of the week.
    Errors: none.
    Source: own definition.
    """
    many = 0
    for n in range(fixed.outs_n[vessel]):
        stand.busy[place, many, 0] = max(fixed.outs[vessel, n, 0], fixed.now)
        stand.busy[place, many, 1] = fixed.outs[vessel, n, 1]
        many += 1
    for n in range(stand.stays_n[vessel]):
        begin, end = stand.stay_start[vessel, n], stand.stay_free[vessel, n]
        other = stand.stay_formula[vessel, n]
        if fixed.clash[other, formula]:
            end = _soaked(fixed, vessel, end)
        if fixed.clash[formula, other]:
            begin = _soak_begin(fixed, vessel, begin)
        stand.busy[place, many, 0] = max(begin, fixed.now)
        stand.busy[place, many, 1] = end
        many += 1
    stand.busy_n[place] = many


@compiled
def _soaked(fixed: Fixed, vessel: int, free: int) -> int:
    begin = free
    for n in range(fixed.outs_n[vessel]):
        if fixed.outs[vessel, n, 0] < begin + fixed.soak and begin < fixed.outs[vessel, n, 1]:
            begin = fixed.outs[vessel, n, 1]
    return begin + fixed.soak


@compiled
def _soak_begin(fixed: Fixed, vessel: int, start: int) -> int:
    end = start
    for n in range(fixed.outs_n[vessel] - 1, -1, -1):
        if fixed.outs[vessel, n, 0] < end and end - fixed.soak < fixed.outs[vessel, n, 1]:
            end = fixed.outs[vessel, n, 0]
    return end - fixed.soak


@compiled
def put_up(fixed: Fixed, recipes: Recipes, stand: Stand, row: int) -> None:
    """Let a run stand.

    Equation: take_run, and it is among those that stand.
    Units: row (of runs).
    Valid: rows that do not stand.
    Errors: none.
    Source: own definition.
    """
    take_run(fixed, recipes, stand, row, 1)
    stand.alive[stand.numbers[ALIVE]] = row
    stand.numbers[ALIVE] += 1


@compiled
def take_down(fixed: Fixed, recipes: Recipes, stand: Stand, row: int) -> None:
    """Let a run stand no more; its row keeps what it was.

    Equation: take_run given back.
    Units: row (of runs).
    Valid: rows that stand.
    Errors: none.
    Source: own definition.
    """
    take_run(fixed, recipes, stand, row, -1)
    for n in range(stand.numbers[ALIVE]):
        if stand.alive[n] == row:
            stand.numbers[ALIVE] -= 1
            stand.alive[n] = stand.alive[stand.numbers[ALIVE]]
            return


@compiled
def free_until(fixed: Fixed, stand: Stand, place: int, at: int) -> int:
    """Until when a vessel is free from a step on; the step before where it is not free then.

    Equation: the least begin of its busy spans after the step.
    Units: place (row of `busy`), at [steps]; returns [steps].
    Valid: after busy_of.
    Errors: none.
    Source: own definition.
    """
    until = fixed.steps
    for n in range(stand.busy_n[place]):
        if stand.busy[place, n, 0] > at:
            until = min(until, stand.busy[place, n, 0])
        elif stand.busy[place, n, 1] > at:
            return at - 1
    return until


@compiled
def busy_until(stand: Stand, place: int, at: int) -> int:
    """The end of the busy spans of a vessel that a step lies in.

    Equation: the greatest end of the spans that hold the step; the next step where none does.
    Units: place (row of `busy`), at [steps]; returns [steps].
    Valid: after busy_of.
    Errors: none.
    Source: own definition.
    """
    until = at + 1
    for n in range(stand.busy_n[place]):
        if stand.busy[place, n, 0] <= at < stand.busy[place, n, 1]:
            until = max(until, stand.busy[place, n, 1])
    return until
