"""The best place of one run: least late, then ending first, then starting last."""

from __future__ import annotations

from production.domain.plan.swift.compiled import compiled, entry
from production.domain.plan.swift.sweeping import colds_of, pan_of, ready_from, sweep
from production.domain.plan.swift.tables import (
    ASK_A,
    ASK_B,
    ASK_C,
    ASK_D,
    ASK_FREEZE,
    ASK_KIND,
    ASK_RECIPE,
    ASKS,
    ENDS,
    FORMULA,
    FOUND,
    GROUP,
    HOLD,
    IMPOSSIBLE,
    KIND,
    KWH,
    LATE,
    LEVEL,
    NEVER,
    NOTHING,
    POT,
    READY,
    RECIPE,
    START,
    SURPLUS,
    SURPLUS_L,
    SURPLUS_N,
    TAKEN,
    TAKEN_N,
    TRAY,
    TRAYS,
    TRIES,
    UNKNOWN,
    WAY,
    Fixed,
    Recipes,
    Stand,
)
from production.domain.plan.swift.taking import busy_of, busy_until, free_until
from production.domain.plan.swift.walking import late_of, walk

HAIR_H = 1e-9
FIRST_PAN = 2  # ways from here on are made in a pan
MOST_WALKS = 60  # starts from which a run is tried out
MOST_LATER = 12  # later starts with the same end


@entry
def place_run(fixed: Fixed, recipes: Recipes, stand: Stand, twice: bool, most_late_h: float) -> int:
    """The best place that a kind of pot has for the run that is looked at, in a pan only where it is late otherwise.

    Equation: minimum of (lateness, end); nothing later than it may be. What is found stands in `best`.
    Units: twice (drawn twice or once), most_late_h [h, weighted]; returns FOUND, NOTHING or ASKS.
    Valid: `cand` names formula, kind and level, `job_*` what it serves.
    Errors: none.
    Source: own definition (serial schedule generation, a standard method).
    """
    stand.numbers[TRIES] += 1
    found, most_h = NOTHING, most_late_h
    for turn in range(4 if twice else 2):  # in time or not, in the pot or in a pan
        in_time, in_pan = (turn < 2, turn % 2 == 1) if twice else (turn == 0, False)
        if not in_time and most_late_h <= 0.0:
            break
        first = FIRST_PAN if in_pan else 1 if twice else 0
        last = FIRST_PAN + fixed.pans.size if in_pan else first + 1
        answer = _in_groups(fixed, recipes, stand, first, last, most_h, in_time)
        if answer == ASKS:
            return ASKS
        if answer == FOUND:
            found = FOUND
            if in_time or in_pan:
                break
            most_h = stand.best_values[LATE] - HAIR_H
    return found


@compiled
def _in_groups(
    fixed: Fixed, recipes: Recipes, stand: Stand, first: int, last: int, most_late_h: float, in_time: bool
) -> int:
    """The best of all groups of pots of the kind, in the ways from the first to before the last."""
    cand = stand.cand
    kinds = fixed.groups_from[cand[FORMULA]]
    answer = NOTHING
    for group in range(kinds[cand[KIND]], kinds[cand[KIND] + 1]):
        for way in range(first, last):
            recipe = int(recipes.known[group, way, cand[LEVEL]])
            if recipe == IMPOSSIBLE:
                continue
            if recipe == UNKNOWN:
                ask(stand, ASK_RECIPE, group, way, cand[LEVEL], 0)
                return ASKS
            cand[GROUP], cand[WAY], cand[RECIPE] = group, way, recipe
            found = _search(fixed, recipes, stand, recipe, most_late_h, answer == FOUND, in_time=in_time)
            if found == ASKS:
                return ASKS
            if found == FOUND:
                answer = FOUND
                most_late_h = min(most_late_h, stand.best_values[LATE])
    return answer


@compiled
def ask(stand: Stand, kind: int, a: int, b: int, c: int, d: int) -> None:
    """Write down what is not known yet, for whoever runs the search.

    Equation: none.
    Units: kind (ASK_...), a, b, c, d (numbers).
    Valid: any numbers.
    Errors: none.
    Source: own definition.
    """
    stand.numbers[ASK_KIND] = kind
    stand.numbers[ASK_A], stand.numbers[ASK_B], stand.numbers[ASK_C], stand.numbers[ASK_D] = a, b, c, d


@entry
def freeze_place(recipes: Recipes, recipe: int, product: int, containers: int) -> int:
    """Where the freezing of containers of a product is kept, or where it is to be written.

    Equation: open addressing by a hash of the three numbers.
    Units: recipe, product (numbers), containers (count); returns [row].
    Valid: a table that is not full.
    Errors: none.
    Source: a standard method (hashing with linear probing).
    """
    key = (recipe * 1_000 + product) * 10_000 + containers + 1
    size = recipes.freeze_keys.size
    at = (key * 7_919) % size
    while recipes.freeze_keys[at] not in (0, key):
        at = (at + 1) % size
    return at


@compiled
def _looked_up(fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int) -> bool:
    """Dues, trays and freezing of the run that is looked at; False where somebody has to be asked."""
    cand = stand.cand
    for draw in range(2):
        stand.due_n[draw] = 0
        cand[HOLD + draw], cand[TRAY + draw], cand[TRAYS + draw] = 0, -1, 0
    for n in range(stand.numbers[TAKEN_N]):
        need, containers = stand.job_need[n], stand.job_taken[n]
        product = fixed.product[need]
        draw = 0 if fixed.is_broth[product] else 1
        due = fixed.due_min[need]
        if fixed.is_frozen[product]:
            together = 0
            for m in range(stand.numbers[TAKEN_N]):
                if fixed.product[stand.job_need[m]] == product:
                    together += stand.job_taken[m]
            if draw == 0 and product == fixed.keeper[cand[FORMULA]]:
                together += stand.numbers[SURPLUS_N]
            at = freeze_place(recipes, recipe, product, together)
            if not recipes.freeze_keys[at]:
                ask(stand, ASK_FREEZE, recipe, product, together, at)
                return False
            if fixed.tray[product] >= 0:
                cells = fixed.cells[fixed.tray[product]]
                cand[HOLD + draw] = max(cand[HOLD + draw], -(-recipes.freeze[at] // fixed.step_min))
                cand[TRAY + draw] = fixed.tray[product]
                cand[TRAYS + draw] = -(-together * fixed.cubes[product] // cells)
            else:
                due -= recipes.freeze[at]
        place = stand.due_n[draw]
        stand.due[draw, place] = due
        stand.due_weight[draw, place] = fixed.weight[need] * containers / fixed.containers_of[need]
        stand.due_n[draw] = place + 1
    return True


@compiled
def _search(
    fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, most_late_h: float, has_best: bool, in_time: bool
) -> int:
    """The best place of the run in the pots of one group, if it is better than what is known."""
    cand = stand.cand
    if not _looked_up(fixed, recipes, stand, recipe):
        return ASKS
    lo, last = _window(fixed, recipes, stand, recipe, most_late_h, in_time=in_time)
    if in_time and has_best:
        last = min(last, stand.best[ENDS + recipes.stages[stand.best[RECIPE]] - 1])
    if recipes.pan[recipe] >= 0 and lo <= last:
        pan_of(fixed, recipes, stand, recipe, cand[FORMULA], lo, last)
    if lo > last:
        return NOTHING
    for draw in range(2):
        if recipes.draw_stage[recipe, draw] >= 0 and not colds_of(fixed, recipes, stand, recipe, draw, lo, last):
            return NOTHING
    if not sweep(fixed, recipes, stand, recipe, lo, last):
        return NOTHING
    return _from_starts(fixed, recipes, stand, recipe, lo, last, most_late_h, has_best, in_time=in_time)


@compiled
def _window(
    fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, most_late_h: float, in_time: bool
) -> tuple[int, int]:
    """The first start and the last end that can matter; fills when the draws may be ready."""
    lo, hi = max(fixed.now, recipes.release[recipe]), fixed.steps
    last_stage = recipes.stages[recipe] - 1
    for draw in range(2):
        stage = recipes.draw_stage[recipe, draw]
        if stage < 0:
            continue
        by = fixed.steps
        for n in range(stand.due_n[draw]):
            due = float(stand.due[draw, n])
            if not in_time:
                due += 60.0 * most_late_h / max(stand.due_weight[draw, n], 1e-9)
            if due < fixed.steps * fixed.step_min:
                by = min(by, int(due // fixed.step_min))
        stand.ready[draw, 1] = by
        stand.ready[draw, 0] = ready_from(fixed, recipes, stand, recipe, draw)
        quickest, slowest = NEVER, 0
        for mode in range(recipes.modes[recipe, draw]):
            quickest = min(quickest, recipes.mode_length[recipe, draw, mode])
            slowest = max(slowest, recipes.mode_length[recipe, draw, mode])
        hold = stand.cand[HOLD + draw]
        if stand.ready[draw, 0] > by or quickest >= NEVER:
            return 1, 0
        longest = slowest + hold
        for each in range(stage + 1):
            longest += recipes.longest[recipe, each]
        lo = max(lo, stand.ready[draw, 0] - longest)
        if stage == last_stage:
            hi = min(hi, by - quickest - hold)
    shortest = 0
    for stage in range(last_stage + 1):
        shortest += recipes.shortest[recipe, stage]
    return (lo, hi) if lo + shortest <= hi else (1, 0)


@compiled
def _from_starts(
    fixed: Fixed,
    recipes: Recipes,
    stand: Stand,
    recipe: int,
    lo: int,
    hi: int,
    most_late_h: float,
    has_best: bool,
    in_time: bool,
) -> int:
    """Starts in their order, until no later one can be better; in the first pot that is free, or the longest free."""
    cand = stand.cand
    group, many = cand[GROUP], fixed.pots_n[cand[GROUP]]
    for pot in range(many):
        busy_of(fixed, stand, fixed.pots[group, pot], cand[FORMULA], pot)
        stand.pot_next[pot] = lo
    if not in_time:
        _soonest(recipes, stand, recipe, lo, hi)
    best_end = stand.best[ENDS + recipes.stages[stand.best[RECIPE]] - 1] if has_best else NEVER
    best_late = stand.best_values[LATE] if has_best else most_late_h + 2.0 * HAIR_H
    found, walks = False, 0
    for start in range(lo, hi + 1):
        if stand.end[0, start] >= NEVER:
            continue
        if in_time and has_best and stand.end[0, start] >= best_end:
            break
        least_h = 0.0 if in_time else _least_late(fixed, recipes, stand, recipe, start)
        if least_h > most_late_h or (found and least_h >= best_late - HAIR_H):
            break
        if not found and has_best and least_h > best_late - HAIR_H and stand.end[0, start] >= best_end:
            break
        if not _in_any_pot(fixed, recipes, stand, recipe, start, hi, many, in_time=in_time):
            continue
        walks += 1
        if cand[POT] >= 0:
            late_h = 0.0 if in_time else _late_now(fixed, recipes, stand, recipe)
            end = cand[ENDS + recipes.stages[recipe] - 1]
            if late_h < best_late - HAIR_H or (late_h < best_late + HAIR_H and end < best_end):
                best_late, best_end, found = late_h, end, True
                _keep(fixed, recipes, stand, recipe, late_h)
                if in_time:
                    break
        if walks > MOST_WALKS:
            break
    if not found:
        return NOTHING
    _start_later(fixed, recipes, stand, recipe, hi, many, in_time=in_time)
    return FOUND


@compiled
def _in_any_pot(
    fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, start: int, hi: int, many: int, in_time: bool
) -> bool:
    """Whether any pot is free for the chain from a start; `cand` names the pot in which it goes, or none."""
    first, first_until, longest, longest_until = -1, 0, -1, -1
    held = stand.held[0, start]
    for pot in range(many):
        if start < stand.pot_next[pot]:
            continue
        until = free_until(fixed, stand, pot, start)
        if until < start:
            stand.pot_next[pot] = busy_until(stand, pot, start)
            continue
        if until >= held:
            if first < 0:
                first, first_until = pot, until
            if until > longest_until:
                longest, longest_until = pot, until
    stand.cand[POT] = -1
    if first < 0:
        return False
    pot, until = first, first_until
    for _ in range(2):
        if walk(fixed, recipes, stand, recipe, start, until, hi, in_time):
            stand.cand[POT] = pot
            break
        if longest_until <= first_until:
            break
        pot, until = longest, longest_until
    return True


@compiled
def _soonest(recipes: Recipes, stand: Stand, recipe: int, lo: int, hi: int) -> None:
    """When a draw would be ready at the soonest if it is drawn at a step or later."""
    for draw in range(2):
        if recipes.draw_stage[recipe, draw] >= 0:
            soonest = NEVER
            for t in range(hi, lo - 1, -1):
                soonest = min(soonest, stand.cold[draw, t])
                stand.soonest[draw, t] = soonest


@compiled
def _least_late(fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, start: int) -> float:
    """The least lateness that a start can have: draws come no earlier, and are ready no sooner later on."""
    late_h, at = 0.0, start
    for stage in range(recipes.stages[recipe]):
        if recipes.shortest[recipe, stage] < recipes.longest[recipe, stage]:
            at = stand.lands[stage, at]
        else:
            at += recipes.shortest[recipe, stage]
        for draw in range(2):
            if recipes.draw_stage[recipe, draw] == stage:
                late_h += late_of(fixed, stand, draw, stand.soonest[draw, at])
    return late_h


@compiled
def _late_now(fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int) -> float:
    late_h = 0.0
    for draw in range(2):
        if recipes.draw_stage[recipe, draw] >= 0:
            late_h += late_of(fixed, stand, draw, stand.cand[READY + draw])
    return late_h


@compiled
def _keep(fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, late_h: float) -> None:
    cand = stand.cand
    cand[TAKEN], cand[SURPLUS] = stand.numbers[TAKEN_N], stand.numbers[SURPLUS_N]
    kwh, begin = 0.0, cand[START]
    for stage in range(recipes.stages[recipe]):
        end = cand[ENDS + stage]
        kwh += recipes.kw[recipe, stage] * (end - begin) * fixed.step_min / 60.0
        begin = end
    stand.best[:] = cand
    stand.best[POT] = fixed.pots[cand[GROUP], cand[POT]]
    stand.best_values[LATE], stand.best_values[KWH] = late_h, kwh
    stand.best_values[SURPLUS_L] = 0.0
    if cand[SURPLUS]:
        stand.best_values[SURPLUS_L] = cand[SURPLUS] * fixed.net_ml[fixed.keeper[cand[FORMULA]]] / 1000.0


@compiled
def _start_later(fixed: Fixed, recipes: Recipes, stand: Stand, recipe: int, hi: int, many: int, in_time: bool) -> None:
    """A run that is held back by its end need not simmer longer than it must: same end, later start, first pot."""
    end, first = stand.best[ENDS + recipes.stages[recipe] - 1], stand.best[START]
    late_h = stand.best_values[LATE]
    last = first
    for start in range(first + 1, end):
        if stand.end[0, start] == end:
            last = start
        elif stand.end[0, start] < NEVER:
            break
    tries = 0
    for start in range(last, first, -1):
        if stand.end[0, start] != end:
            continue
        for pot in range(many):
            until = free_until(fixed, stand, pot, start)
            if until >= stand.held[0, start]:
                tries += 1
                if walk(fixed, recipes, stand, recipe, start, until, hi, in_time=in_time):
                    now_h = 0.0 if in_time else _late_now(fixed, recipes, stand, recipe)
                    if now_h <= late_h + HAIR_H and stand.cand[ENDS + recipes.stages[recipe] - 1] <= end:
                        stand.cand[POT] = pot
                        _keep(fixed, recipes, stand, recipe, now_h)
                        return
                break
        if tries > MOST_LATER:
            return
