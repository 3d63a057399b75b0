"""Machine code for everything that the interpreter calls, before anybody waits for it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numba
from numba import types

from production.domain.plan.swift import filling, improving, natives, placing, serving


def compile_all() -> None:
    """Compile what has not been compiled on this machine yet, and keep it on disk.

    Equation: none; no week is planned.
    Units: no quantities.
    Valid: any machine; where nothing can be kept it costs time and does nothing.
    Errors: none.
    Source: own construction.
    """
    tables = (natives.FIXED, natives.RECIPES, natives.STAND)
    number, share, yes = types.int64, types.float64, types.boolean
    _compile(natives.native_fixed, natives.tuple_of(natives.FIXED))
    _compile(natives.native_recipes, natives.tuple_of(natives.RECIPES))
    _compile(natives.native_stand, natives.tuple_of(natives.STAND))
    _compile(placing.freeze_place, natives.RECIPES, number, number, number)
    _compile(placing.place_run, *tables, yes, share)
    _compile(filling.fill_run, *tables, number, number, yes, share)
    _compile(serving.write_run, natives.STAND, number)
    for function in (serving.is_drawn_twice, serving.put_up_next, improving.clear_all, improving.back_to_best):
        _compile(function, *tables)
    _compile(serving.serve, *tables, yes, number, share)
    _compile(improving.keep_if_best, natives.FIXED, natives.STAND)
    _compile(improving.improve, *tables, number, share)


def _compile(function: Callable[..., Any], *kinds: Any) -> None:
    made: Any = function
    if not numba.config.DISABLE_JIT:
        made.compile(kinds)
