"""One run in one pot from one start, step by step, with what its own draws and additions take on the way."""

from __future__ import annotations

from production.domain.plan.swift.compiled import compiled
from production.domain.plan.swift.sweeping import ready_from
from production.domain.plan.swift.tables import (
    ADDS,
    COOKS,
    ENDS,
    FREE,
    FROM_BACK,
    HOLD,
    MODE,
    NEVER,
    PAN,
    PAN_FREE,
    PAN_WASH,
    READY,
    START,
    TAKEN_N,
    TRAY,
    TRAYS,
    WASH,
    Fixed,
    Recipes,
    Stand,
)
from production.domain.plan.swift.taking import free_until, is_free, next_hands, refresh_ice, take, take_cold, take_room

MOST_ENDS = 400  # ends of stages that are tried out from one start
BEGIN, TRIED = 0, 1  # rows of `walk`


@compiled
def late_of(fixed: Fixed, stand: Stand, draw: int, ready: int) -> float:
    """Weighted hours by which the draw that is looked at is late.

    Equation: sum of weight x share x max(0, ready - due) / 60.
    Units: draw (number), ready [steps]; returns [h, weighted].
    Valid: any step.
    Errors: none.
    Source: own definition.
    """
    late = 0.0
    at = ready * fixed.step_min
    for n in range(stand.due_n[draw]):
        if at > stand.due[draw, n]:
            late += stand.due_weight[draw, n] * (at - stand.due[draw, n]) / 60.0
    return late


@compiled
def walk(
    fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, start: int, pot_until: int, hi: int, in_time: bool
) -> bool:
    """Whether a run can be made from a start in a pot that is free so long; if so `cand` holds its times.

    Equation: depth first through the ends of its stages, earliest first; additions as near to their offset as hands
        allow; of the ways to cool the least late one.
    Units: recipe (number), start, pot_until, hi [steps], in_time (whether it is on time in any case).
    Valid: after a sweep up to hi.
    Errors: none.
    Source: own definition.
    """
    stages, last_pot, wash = recipes.stages[recipe], recipes.last_pot[recipe], recipes.wash[recipe]
    washes = next_hands(fixed, stand, 1, wash)
    cand = stand.cand
    cand[START] = start
    stage, budget, done = 0, MOST_ENDS, False
    stand.walk[BEGIN, 0], stand.walk[TRIED, 0] = start, start + recipes.shortest[recipe, 0] - 1
    while True:
        begin = stand.walk[BEGIN, stage]
        last = min(begin + recipes.longest[recipe, stage], hi)
        if recipes.shortest[recipe, stage] < recipes.longest[recipe, stage]:
            last = min(last, stand.until[stage, begin])
        end = max(stand.walk[TRIED, stage] + 1, begin + recipes.shortest[recipe, stage])
        settled = False
        while end <= last:
            if stand.go[stage, end]:
                budget -= 1
                if budget < 0 or (stage == last_pot and stand.hands_at[washes, end] + wash > pot_until):
                    break
                if _settle(fixed, recipes, stand, recipe, stage, begin, end, in_time=in_time):
                    settled = True
                    break
            end += 1
        stand.walk[TRIED, stage] = end
        if settled:
            cand[ENDS + stage] = end
            stage += 1  # so many stages are settled
            if stage < stages:
                stand.walk[BEGIN, stage] = end
                stand.walk[TRIED, stage] = end + recipes.shortest[recipe, stage] - 1
                continue
            done = _washed(fixed, recipes, stand, recipe, pot_until)
        is_over = done or budget < 0 or stage == 0
        kept = 0 if is_over else stage - 1
        while stage > kept:
            stage -= 1
            _unsettle(fixed, recipes, stand, recipe, stage)
        if is_over:
            return done


@compiled
def _settle(
    fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, stage: int, begin: int, end: int, in_time: bool
) -> bool:
    """Place the additions and the draws of a stage; nothing is left behind where that does not work."""
    done = 0
    for n in range(recipes.additions[recipe]):
        if recipes.add_stage[recipe, n] == stage:
            at = _addition(recipes, stand, recipe, n, recipes.hands[recipe, stage] + 1, begin, end)
            if at < 0:
                break
            stand.cand[ADDS + n] = at
            _take_hands(stand, at, recipes.add_length[recipe, n], 1)
        done += 1
    fits = bool(done == recipes.additions[recipe])
    if fits:
        for draw in range(2):
            if recipes.draw_stage[recipe, draw] == stage:
                fits = _cool(fixed, recipes, stand, recipe, draw, end, in_time=in_time)
    if not fits:
        for n in range(done):
            if recipes.add_stage[recipe, n] == stage:
                _take_hands(stand, stand.cand[ADDS + n], recipes.add_length[recipe, n], -1)
    return fits


@compiled
def _unsettle(fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, stage: int) -> None:
    for n in range(recipes.additions[recipe]):
        if recipes.add_stage[recipe, n] == stage:
            _take_hands(stand, stand.cand[ADDS + n], recipes.add_length[recipe, n], -1)
    if recipes.draw_stage[recipe, 1] >= 0 and recipes.draw_stage[recipe, 0] == stage:
        _take_first(fixed, recipes, stand, recipe, stand.cand[ENDS + stage], -1)


@compiled
def _take_hands(stand: Stand, start: int, length: int, sign: int) -> None:
    """Hands of a run that is tried out; they are given back before anybody else looks."""
    for t in range(start, start + length):
        stand.free[COOKS, t] -= sign


@compiled
def _addition(recipes: Recipes, stand: Stand, recipe: int, n: int, hands: int, begin: int, end: int) -> int:
    """The start of an addition that is nearest to its offset, or -1."""
    length, tolerance = recipes.add_length[recipe, n], recipes.add_tolerance[recipe, n]
    wanted = end - recipes.add_before[recipe, n]
    earliest, latest = max(begin, wanted - tolerance), min(end - length, wanted + tolerance)
    for off in range(tolerance + 1):
        for at in (wanted - off, wanted + off):
            if earliest <= at <= latest and is_free(stand, COOKS, hands, at, at + length):
                return int(at)
    return -1


@compiled
def _cool(fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, draw: int, start: int, in_time: bool) -> bool:
    """Choose the least late way to cool a draw; the first of two is taken for the time being."""
    best, least = -1, 0.0
    first = stand.ready[draw, 0]
    if draw == 1:
        first = max(first, ready_from(fixed, recipes, stand, recipe, 1))
        refresh_ice(fixed, stand)
    many = recipes.modes[recipe, draw]
    for n in range(many):
        mode = many - 1 - n if stand.numbers[FROM_BACK] else n
        if _can_cool(fixed, recipes, stand, recipe, draw, mode, start, first):
            late = 0.0
            if not in_time:
                ready = start + recipes.mode_length[recipe, draw, mode] + stand.cand[HOLD + draw]
                late = late_of(fixed, stand, draw, ready)
            if best < 0 or late < least:
                best, least = mode, late
                if late <= 0.0:
                    break
    if best < 0:
        return False
    stand.cand[MODE + draw] = best
    stand.cand[READY + draw] = start + recipes.mode_length[recipe, draw, best] + stand.cand[HOLD + draw]
    if draw == 0 and recipes.draw_stage[recipe, 1] >= 0:
        _take_first(fixed, recipes, stand, recipe, start, 1)
    return True


@compiled
def _can_cool(
    fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, draw: int, mode: int, start: int, first: int
) -> bool:
    length = recipes.mode_length[recipe, draw, mode]
    end, ready = start + length, start + length + stand.cand[HOLD + draw]
    if ready < first or ready > stand.ready[draw, 1] or fixed.staffed_until[start] < end:
        return False
    for place in range(recipes.mode_places[recipe, draw, mode]):
        row, many = recipes.place_row[recipe, draw, mode, place], recipes.place_n[recipe, draw, mode, place]
        if not is_free(stand, row, many, start, end):
            return False
    trays = stand.cand[TRAYS + draw]
    if trays and not is_free(stand, stand.cand[TRAY + draw], trays, start, min(ready, fixed.steps)):
        return False
    ice = recipes.mode_ice[recipe, draw, mode]
    return not ice or stand.ice_free[start] >= ice


@compiled
def _take_first(fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, start: int, sign: int) -> None:
    """What the first of two draws takes, and gives back, while the run is tried out."""
    mode, ready = stand.cand[MODE], stand.cand[READY]
    take_cold(fixed, recipes, stand, recipe, 0, mode, start, sign)
    if stand.cand[TRAYS]:
        take(fixed, stand, stand.cand[TRAY], sign * stand.cand[TRAYS], start, ready)
    for n in range(stand.numbers[TAKEN_N]):
        need = stand.job_need[n]
        product = fixed.product[need]
        if fixed.is_broth[product]:
            take_room(fixed, stand, product, stand.job_taken[n], ready, max(ready, fixed.until[need]), sign)


@compiled
def _washed(fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, pot_until: int) -> bool:
    """Wash the pot, and the pan with hands that the chain leaves free."""
    cand, last_pot = stand.cand, recipes.last_pot[recipe]
    wash, pan_wash = recipes.wash[recipe], recipes.pan_wash[recipe]
    emptied = cand[ENDS + last_pot]
    washes = next_hands(fixed, stand, 1, wash)
    if recipes.pan[recipe] < 0:
        at = int(stand.hands_at[washes, emptied])
        cand[WASH], cand[PAN_WASH] = (at if wash else -1), -1
        cand[PAN], cand[PAN_FREE] = -1, 0
        cand[FREE] = at + wash if wash else emptied
        return bool(at + wash <= pot_until)
    stages = recipes.stages[recipe]
    for stage in range(1, stages):
        if recipes.hands[recipe, stage]:
            begin, end = cand[ENDS + stage - 1], cand[ENDS + stage]
            _take_hands(stand, begin, end - begin, recipes.hands[recipe, stage])
    at = _hands_free(stand, washes, emptied, wash, pot_until)
    last = cand[ENDS + stages - 1]
    pan_at = NEVER
    if at < NEVER:
        _take_hands(stand, at, wash, 1)
        pan_until = free_until(fixed, stand, stand.busy_n.size - 1, last)
        pan_at = _hands_free(stand, next_hands(fixed, stand, 1, pan_wash), last, pan_wash, pan_until)
        _take_hands(stand, at, wash, -1)
    for stage in range(1, stages):
        if recipes.hands[recipe, stage]:
            begin, end = cand[ENDS + stage - 1], cand[ENDS + stage]
            _take_hands(stand, begin, end - begin, -recipes.hands[recipe, stage])
    if at >= NEVER or pan_at >= NEVER:
        return False
    cand[WASH], cand[PAN_WASH] = (at if wash else -1), (pan_at if pan_wash else -1)
    cand[PAN] = recipes.pan[recipe]
    cand[FREE] = at + wash if wash else emptied
    cand[PAN_FREE] = pan_at + pan_wash if pan_wash else last
    return True


@compiled
def _hands_free(stand: Stand, washes: int, emptied: int, wash: int, until: int) -> int:
    """The first start of a wash for which a cook is free, the chain's own cooks left out; or NEVER."""
    start = int(stand.hands_at[washes, emptied])
    while start + wash <= until:
        if is_free(stand, COOKS, 1, start, start + wash):
            return start
        start = int(stand.hands_at[washes, start + 1])
    return NEVER
