"""The week as arrays: what does not change, what runs are like, and what stands at the moment.

Times are steps of the grid, volumes millilitres, and amounts of what runs share millionths, all whole numbers, so that
what is taken and given back leaves no rest. A row of `Stand.runs` is one run; the columns have the names below.
"""

from __future__ import annotations

from typing import Annotated, NamedTuple

import numpy as np
from numpy.typing import NDArray

Ints = Annotated[NDArray[np.int64], 1]  # the number is that of the dimensions
Ints2 = Annotated[NDArray[np.int64], 2]
Ints3 = Annotated[NDArray[np.int64], 3]
Shorts = Annotated[NDArray[np.int32], 1]
Shorts2 = Annotated[NDArray[np.int32], 2]
Shorts3 = Annotated[NDArray[np.int32], 3]
Shorts4 = Annotated[NDArray[np.int32], 4]
Flags = Annotated[NDArray[np.uint8], 1]
Flags2 = Annotated[NDArray[np.uint8], 2]
Floats = Annotated[NDArray[np.float64], 1]
Floats2 = Annotated[NDArray[np.float64], 2]
Chance = Annotated[NDArray[np.uint64], 1]

NEVER = 1 << 30  # later than every step
PLENTY = 1 << 60
UNKNOWN, IMPOSSIBLE = -1, -2  # of a recipe: nobody has asked yet; cannot be made so
MOST_STAGES, MOST_ADDITIONS, MOST_MODES, MOST_PLACES = 16, 24, 64, 8
MOST_TAKEN, MOST_RUNS, MOST_STAYS = 128, 640, 160
MOST_COUNTS = 48  # lengths of hands-on work that are looked up
COOKS, MOST_HANDS = 0, 8  # row of the hands; and how many are asked for at once

# What a compiled call answers
NOTHING, FOUND, ASKS = 0, 1, -1

# Columns of a run
RECIPE, FORMULA, KIND, GROUP, LEVEL, WAY, POT, PAN = range(8)
START, WASH, PAN_WASH, FREE, PAN_FREE, MODE, READY, HOLD = 8, 9, 10, 11, 12, 13, 15, 17  # the last three for each draw
TRAY, TRAYS, SURPLUS, TAKEN = 19, 21, 23, 24  # the first two for each draw
ENDS, ADDS = 28, 28 + MOST_STAGES
COLUMNS = ADDS + MOST_ADDITIONS
LATE, KWH, SURPLUS_L = range(3)  # columns of its weights

# Ways to choose a pot
BIGGEST, FREE_IN_TIME, FREE_FIRST = range(3)

# Numbers that change
ALIVE, IDLE, ORDERED, AT, CLEARS, COUNTS, ICE_DIRTY = range(7)
ASK_KIND, ASK_A, ASK_B, ASK_C, ASK_D = range(7, 12)
BETTER, BEST_N, TRIES, REMOVED, ADDED, TAKEN_N, SURPLUS_N, FROM_BACK = range(12, 20)
NUMBERS = 20
ASK_RECIPE, ASK_YIELD, ASK_FREEZE = range(3)
LOST, HERE, BEST_UNSERVED, BEST_LATE, BEST_RUNS, BEST_KWH, BEST_SURPLUS = range(7)
WEIGHTS = 7


class Fixed(NamedTuple):
    """What does not change while a week is planned."""

    steps: int
    step_min: int
    now: int
    soak: int
    ice_full: int
    ice_rate: int  # for each step
    ice_start: int
    staffed: Flags  # (steps + 1)
    staffed_until: Shorts  # (steps + 1)
    brought: Ints  # ice, (steps + 1)
    outs: Ints3  # (vessels, outages, 2), in the order of time
    outs_n: Ints  # (vessels)
    clash: Flags2  # (formulas, formulas): soaked between the first and the second
    # needs
    product: Ints
    containers_of: Ints
    due_min: Ints
    until: Ints  # step until which what waits for it stands in a store
    weight: Floats
    leave_day: Ints
    first_day: Ints
    first_min: Ints
    is_wish: Flags
    needs_from: Ints  # (formulas + 1)
    needs: Ints  # numbers of the needs, formula by formula
    # products
    net_ml: Ints
    formula_of: Ints
    is_broth: Flags
    is_frozen: Flags
    tray: Ints  # row, or -1
    cubes: Ints  # in a container
    cells: Ints  # of a tray, by row
    store: Ints  # row
    keeps: Ints  # of a container
    # formulas
    keeper: Ints  # smallest container of its broth, or -1
    grid_ml: Ints
    kinds_n: Ints
    smallest_ml: Ints2  # (formulas, kinds), biggest kind first
    largest_ml: Ints2
    groups_from: Ints2  # (formulas, kinds + 1)
    pots_n: Ints  # (groups)
    pots: Ints2  # (groups, pots)
    pans: Ints


class Recipes(NamedTuple):
    """What runs of a formula and a volume are like in a group of pots; filled as they are asked for."""

    known: Shorts3  # (groups, ways, levels): a recipe, UNKNOWN or IMPOSSIBLE
    yields: Ints3  # (formulas, kinds, levels): reduction, or UNKNOWN
    freeze_keys: Ints
    freeze: Ints
    release: Ints
    stages: Ints
    last_pot: Ints
    pour: Ints  # or -1
    pan: Ints  # vessel, or -1
    wash: Ints
    pan_wash: Ints
    shortest: Shorts2  # (recipes, stages), like all up to heat
    longest: Shorts2
    hands: Shorts2
    on_site: Flags2
    heat: Ints2
    kw: Floats2
    supply: Shorts2
    additions: Ints
    add_stage: Shorts2  # (recipes, additions)
    add_before: Shorts2
    add_length: Shorts2
    add_tolerance: Shorts2
    draw_stage: Shorts2  # (recipes, 2); -1 where there is none
    modes: Shorts2
    longest_mode_min: Ints2
    mode_length: Shorts3  # (recipes, 2, modes)
    mode_ice: Ints3
    mode_places: Shorts3
    place_row: Shorts4  # (recipes, 2, modes, places)
    place_n: Shorts4


class Stand(NamedTuple):
    """What stands at the moment, what is free around it, and what a search writes its thoughts on."""

    numbers: Ints
    weights: Floats
    chance: Chance
    left: Ints  # containers still wanted of each need
    order: Ints
    free: Ints2  # (rows, steps + 1)
    version: Ints
    ice_draws: Ints
    ice_free: Ints
    ice_after: Ints
    ice_spill: Ints
    clear_slot: Shorts2  # (rows, needs)
    clear_at: Ints
    clear: Shorts2
    count_need: Ints
    count_length: Ints
    count_at: Ints
    hands_at: Shorts2
    runs: Ints2
    values: Floats2
    taken_need: Shorts2
    taken: Shorts2
    alive: Ints
    idle: Ints  # rows without a run, the last of which is used next
    removed: Ints
    added: Ints
    stays_n: Ints
    stays: Ints2  # (vessels, stays): rows of runs
    stay_start: Ints2
    stay_free: Ints2
    stay_formula: Ints2
    # a run that is looked at
    job_need: Ints
    job_taken: Ints
    kinds: Ints
    shares: Floats
    due: Ints2  # (2, needs)
    due_weight: Floats2
    due_n: Ints
    cand: Ints
    best: Ints
    best_values: Floats
    end: Shorts2  # (stages + 1, steps + 1)
    held: Shorts2
    until: Shorts2
    lands: Shorts2
    go: Flags2
    cold: Shorts2  # (2, steps + 1)
    soonest: Shorts2
    pan_until: Shorts
    may: Flags
    heat_until: Shorts
    tray_until: Shorts
    pot_next: Ints
    busy_n: Ints
    busy: Ints3  # (pots, stays, 2)
    walk: Ints2  # (8, stages)
    ready: Ints2  # (2, 2): from, by
    best_runs: Ints2
    best_run_values: Floats2
    best_taken_need: Shorts2
    best_taken: Shorts2
    near: Floats
