"""The only door to the compiler of loops.

The search tries very many placings a second, more than the interpreter can. What is decorated here is turned into
machine code when it is first called, and runs without the interpreter's lock, so that a page can show the best plan so
far meanwhile. A decorated function keeps its type and is called as before.

Entries are kept on disk for the next process. They hold the functions they call, so what is kept is right only while
no module of this package has changed; the compiler's own keeping looks at one file. Compiled modules therefore import
nothing of ours but this package.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from fcntl import LOCK_EX, flock
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any, TypeVar

import numba
from numba.core.caching import FunctionCache, IndexDataCacheFile

F = TypeVar("F", bound=Callable[..., Any])


def compiled(function: F) -> F:
    """Turn a function of numbers and arrays into machine code, for compiled functions that call it.

    Equation: none; it computes what the function says.
    Units: no quantities.
    Valid: functions of numbers, arrays and tables that call nothing but such functions.
    Errors: the compiler's own, when the first caller is compiled and the function holds what it cannot compile.
    Source: none; own construction.
    """
    return _made(function, from_outside=False)


def entry(function: F) -> F:
    """Turn a function into machine code that the interpreter may call, too.

    Equation: as compiled.
    Units: no quantities.
    Valid: as compiled.
    Errors: as compiled, at the first call.
    Source: none; own construction.
    """
    made: Any = _made(function, from_outside=True)
    with suppress(RuntimeError):  # there is no directory to write to
        made._cache = _Kept(function)  # noqa: SLF001  # the switch for keeping takes no other kind
    answer: F = made
    return answer


def _made(function: F, *, from_outside: bool) -> F:
    make = numba.njit(nogil=True, error_model="numpy", no_cpython_wrapper=not from_outside, no_cfunc_wrapper=True)
    made: F = make(function)
    return made


@cache
def _state_of_the_package() -> str:
    said = sha256()
    for path in sorted(Path(__file__).parent.rglob("*.py")):
        said.update(path.name.encode() + path.read_bytes())
    return said.hexdigest()


class _Kept(FunctionCache):  # type: ignore[misc]  # it has no types
    """Machine code on disk. Whatever goes wrong there, the function is compiled again: that costs time and no more."""

    def __init__(self, function: Callable[..., Any]) -> None:
        super().__init__(function)
        self._cache_file = IndexDataCacheFile(
            cache_path=self._cache_path,
            filename_base=self._impl.filename_base,
            source_stamp=_state_of_the_package(),
        )

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        try:
            with self._alone():
                return super().load_overload(sig, target_context)
        except Exception:  # noqa: BLE001  # a file cut short fails in many ways
            with suppress(OSError):
                self.flush()
            return None

    def save_overload(self, sig: Any, data: Any) -> None:
        try:
            self._impl.locator.ensure_cache_path()
            with self._alone():
                super().save_overload(sig, data)
        except OSError:
            self.disable()

    @contextmanager
    def _alone(self) -> Iterator[None]:
        """Two processes that keep different forms of a function would else give both the same file."""
        with (Path(self._cache_path) / "lock").open("w") as file:
            flock(file, LOCK_EX)
            yield
