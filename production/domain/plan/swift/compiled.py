"""The only door to the compiler of loops.

The search tries very many placings a second, more than the interpreter can. What is decorated here is turned into
machine code when it is first called, kept on disk for the next process, and runs without the interpreter's lock, so
that a page can show the best plan so far meanwhile. A decorated function keeps its type and is called as before.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numba

F = TypeVar("F", bound=Callable[..., Any])


def compiled(function: F) -> F:
    """Turn a function of numbers and arrays into machine code at its first call.

    Equation: none; it computes what the function says.
    Units: no quantities.
    Valid: functions of numbers, arrays and tuples of them that call nothing but such functions.
    Errors: the compiler's own, at the first call, when the function holds what it cannot compile.
    Source: none; own construction.
    """
    made: F = numba.njit(cache=True, nogil=True)(function)
    return made
