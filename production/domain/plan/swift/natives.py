"""The tables as machine code knows them: one pointer each, where a tuple would be hundreds of arguments.

What is made here and what it was made from are the same arrays: whoever writes into one writes into both.
"""

from __future__ import annotations

from typing import Annotated, Any, TypeVar, cast, get_args, get_origin, get_type_hints

import numba
import numpy as np
from numba.core import types
from numba.experimental import structref

from production.domain.plan.swift.compiled import entry
from production.domain.plan.swift.tables import Fixed, Recipes, Stand

Struct: Any = vars(types)["StructRef"]
NamedTuples: Any = vars(types)["NamedTuple"]
Table = TypeVar("Table", Fixed, Recipes, Stand)


def _fields(table: type) -> list[tuple[str, Any]]:
    """Names and types, as the compiler knows them."""
    found = []
    for name, hint in get_type_hints(table, include_extras=True).items():
        kind: Any = types.int64
        if get_origin(hint) is Annotated:
            array, dimensions = get_args(hint)
            dtype = get_args(get_args(array)[1])[0]
            kind = types.Array(numba.from_dtype(np.dtype(dtype)), dimensions, "C")
        found.append((name, kind))
    return found


@structref.register
class FixedType(Struct):  # type: ignore[misc]
    """Fixed, to the compiler."""


class FixedNative(structref.StructRefProxy):  # type: ignore[misc]
    """Fixed, in the hands of the interpreter."""


@structref.register
class RecipesType(Struct):  # type: ignore[misc]
    """Recipes, to the compiler."""


class RecipesNative(structref.StructRefProxy):  # type: ignore[misc]
    """Recipes, in the hands of the interpreter."""


@structref.register
class StandType(Struct):  # type: ignore[misc]
    """Stand, to the compiler."""


class StandNative(structref.StructRefProxy):  # type: ignore[misc]
    """Stand, in the hands of the interpreter."""


structref.define_boxing(FixedType, FixedNative)
structref.define_boxing(RecipesType, RecipesNative)
structref.define_boxing(StandType, StandNative)
FIXED = FixedType(_fields(Fixed))
RECIPES = RecipesType(_fields(Recipes))
STAND = StandType(_fields(Stand))


@entry
def native_fixed(given: Fixed) -> Any:
    """Fixed, to compiled functions.

    Equation: every field as it was given.
    Units: no quantities.
    Valid: arrays that lie in one piece.
    Errors: none.
    Source: own construction.
    """
    made = structref.new(FIXED)
    made.steps = given.steps
    made.step_min = given.step_min
    made.now = given.now
    made.soak = given.soak
    made.ice_full = given.ice_full
    made.ice_rate = given.ice_rate
    made.ice_start = given.ice_start
    made.staffed = given.staffed
    made.staffed_until = given.staffed_until
    made.brought = given.brought
    made.outs = given.outs
    made.outs_n = given.outs_n
    made.clash = given.clash
    made.product = given.product
    made.containers_of = given.containers_of
    made.due_min = given.due_min
    made.until = given.until
    made.weight = given.weight
    made.leave_day = given.leave_day
    made.first_day = given.first_day
    made.first_min = given.first_min
    made.is_wish = given.is_wish
    made.needs_from = given.needs_from
    made.needs = given.needs
    made.net_ml = given.net_ml
    made.formula_of = given.formula_of
    made.is_broth = given.is_broth
    made.is_frozen = given.is_frozen
    made.tray = given.tray
    made.cubes = given.cubes
    made.cells = given.cells
    made.store = given.store
    made.keeps = given.keeps
    made.keeper = given.keeper
    made.grid_ml = given.grid_ml
    made.kinds_n = given.kinds_n
    made.smallest_ml = given.smallest_ml
    made.largest_ml = given.largest_ml
    made.groups_from = given.groups_from
    made.pots_n = given.pots_n
    made.pots = given.pots
    made.pans = given.pans
    return made


@entry
def native_recipes(given: Recipes) -> Any:
    """Recipes, to compiled functions.

    Equation: every field as it was given.
    Units: no quantities.
    Valid: arrays that lie in one piece.
    Errors: none.
    Source: own construction.
    """
    made = structref.new(RECIPES)
    made.known = given.known
    made.yields = given.yields
    made.freeze_keys = given.freeze_keys
    made.freeze = given.freeze
    made.release = given.release
    made.stages = given.stages
    made.last_pot = given.last_pot
    made.pour = given.pour
    made.pan = given.pan
    made.wash = given.wash
    made.pan_wash = given.pan_wash
    made.shortest = given.shortest
    made.longest = given.longest
    made.hands = given.hands
    made.on_site = given.on_site
    made.heat = given.heat
    made.kw = given.kw
    made.supply = given.supply
    made.additions = given.additions
    made.add_stage = given.add_stage
    made.add_before = given.add_before
    made.add_length = given.add_length
    made.add_tolerance = given.add_tolerance
    made.draw_stage = given.draw_stage
    made.modes = given.modes
    made.longest_mode_min = given.longest_mode_min
    made.mode_length = given.mode_length
    made.mode_ice = given.mode_ice
    made.mode_places = given.mode_places
    made.place_row = given.place_row
    made.place_n = given.place_n
    return made


@entry
def native_stand(given: Stand) -> Any:
    """Stand, to compiled functions.

    Equation: every field as it was given.
    Units: no quantities.
    Valid: arrays that lie in one piece.
    Errors: none.
    Source: own construction.
    """
    made = structref.new(STAND)
    made.numbers = given.numbers
    made.weights = given.weights
    made.chance = given.chance
    made.left = given.left
    made.order = given.order
    made.free = given.free
    made.version = given.version
    made.ice_draws = given.ice_draws
    made.ice_free = given.ice_free
    made.ice_after = given.ice_after
    made.ice_spill = given.ice_spill
    made.clear_slot = given.clear_slot
    made.clear_at = given.clear_at
    made.clear = given.clear
    made.count_need = given.count_need
    made.count_length = given.count_length
    made.count_at = given.count_at
    made.hands_at = given.hands_at
    made.runs = given.runs
    made.values = given.values
    made.taken_need = given.taken_need
    made.taken = given.taken
    made.alive = given.alive
    made.idle = given.idle
    made.removed = given.removed
    made.added = given.added
    made.stays_n = given.stays_n
    made.stays = given.stays
    made.stay_start = given.stay_start
    made.stay_free = given.stay_free
    made.stay_formula = given.stay_formula
    made.job_need = given.job_need
    made.job_taken = given.job_taken
    made.kinds = given.kinds
    made.shares = given.shares
    made.due = given.due
    made.due_weight = given.due_weight
    made.due_n = given.due_n
    made.cand = given.cand
    made.best = given.best
    made.best_values = given.best_values
    made.end = given.end
    made.held = given.held
    made.until = given.until
    made.lands = given.lands
    made.go = given.go
    made.cold = given.cold
    made.soonest = given.soonest
    made.pan_until = given.pan_until
    made.may = given.may
    made.heat_until = given.heat_until
    made.tray_until = given.tray_until
    made.pot_next = given.pot_next
    made.busy_n = given.busy_n
    made.busy = given.busy
    made.walk = given.walk
    made.ready = given.ready
    made.best_runs = given.best_runs
    made.best_run_values = given.best_run_values
    made.best_taken_need = given.best_taken_need
    made.best_taken = given.best_taken
    made.near = given.near
    return made


def tuple_of(table: Any) -> Any:
    """The type of the tuple that a table is made from, as the compiler knows it.

    Equation: the same fields.
    Units: no quantities.
    Valid: FIXED, RECIPES, STAND.
    Errors: none.
    Source: own construction.
    """
    made = {FIXED: Fixed, RECIPES: Recipes, STAND: Stand}[table]
    return NamedTuples([kind for _, kind in table.field_dict.items()], made)


def native(given: Table) -> Table:
    """A table for compiled functions; to whoever calls them it is as good as the tuple.

    Equation: every field as it was given.
    Units: no quantities.
    Valid: tables with arrays that lie in one piece.
    Errors: none.
    Source: own construction.
    """
    if numba.config.DISABLE_JIT:  # the same functions read the tuple itself
        return given
    if isinstance(given, Fixed):
        return cast(Table, native_fixed(given))
    return cast(Table, native_recipes(given) if isinstance(given, Recipes) else native_stand(given))
