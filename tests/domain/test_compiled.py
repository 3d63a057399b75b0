"""Machine code that is kept on disk: never old, never in the way."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from collections.abc import Callable
from fcntl import LOCK_EX, LOCK_UN, flock
from pathlib import Path
from threading import Thread
from typing import Any

import numba
import pytest
from numba.core import caching

from production.domain.plan.swift import compiled

ROOT = Path(__file__).resolve().parents[2]
PLANNED = """
from numba.core.registry import CPUDispatcher
from production.domain.plan import make_plan
from production.domain.plan.swift import filling, improving, natives, placing, serving, warm
from tests.kitchens import random_week

def forms():
    modules = (filling, improving, natives, placing, serving)
    made = [each for module in modules for each in vars(module).values() if isinstance(each, CPUDispatcher)]
    return {each.py_func.__qualname__: len(each.signatures) for each in made}

warm()
before = forms()
assert sum(before.values()) > 10, before
make_plan(week=random_week("tiny", 1), seconds=2.0)
assert forms() == before, (before, forms())
"""
DOUBLED = """
from production.domain.plan.swift.compiled import entry

@entry
def doubled(count):
    total = 0
    for _ in range(count):
        total += 2
    return total
"""


@pytest.fixture
def written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A module of its own, and a directory where its machine code is kept."""
    monkeypatch.setattr(numba.config, "CACHE_DIR", str(tmp_path / "kept"))
    module = tmp_path / "loops.py"
    module.write_text(DOUBLED)
    return module


def function_of(module: Path) -> Any:
    """The decorated function, as a new process finds it."""
    spec = importlib.util.spec_from_file_location("loops", module)
    assert spec is not None
    assert spec.loader is not None
    loops = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(loops)
    return loops.doubled


def was_kept(function: Any) -> bool:
    """Whether its machine code came from the disk."""
    assert sum(function.stats.cache_hits.values()) + sum(function.stats.cache_misses.values()) == 1
    return bool(function.stats.cache_hits)


def kept_files(module: Path, ending: str) -> list[Path]:
    return list((module.parent / "kept").rglob(f"*{ending}"))


def test_the_next_process_finds_what_one_has_compiled(written: Path) -> None:
    first, second = function_of(written), function_of(written)
    assert (first(4), was_kept(first)) == (8, False)
    assert (second(5), was_kept(second)) == (10, True)


def test_when_any_module_beside_it_has_changed_it_is_compiled_again(
    written: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    function_of(written)(4)
    monkeypatch.setattr(compiled, "_state_of_the_package", lambda: "another")
    again = function_of(written)
    assert (again(4), was_kept(again)) == (8, False)


def test_the_state_of_the_package_is_another_when_one_of_its_files_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: Callable[[], str] = compiled._state_of_the_package.__wrapped__
    monkeypatch.setattr(compiled, "__file__", str(tmp_path / "compiled.py"))
    states = []
    for name, text in (("a.py", "1"), ("a.py", "2"), ("deep/b.py", "2")):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text)
        states.append(seen())
    assert len({*states, seen()}) == 3


@pytest.mark.parametrize("ending", [".nbi", ".nbc"])
def test_a_file_that_was_cut_short_is_no_hindrance(written: Path, ending: str) -> None:
    function_of(written)(4)
    for path in kept_files(written, ending):
        path.write_bytes(path.read_bytes()[:20])
    again = function_of(written)
    assert (again(4), was_kept(again)) == (8, False)
    after = function_of(written)
    assert (after(4), was_kept(after)) == (8, True)


def test_a_disk_that_takes_nothing_is_no_hindrance(written: Path) -> None:
    function = function_of(written)
    for path in kept_files(written, ""):
        path.rmdir()
    (written.parent / "kept").rmdir()
    (written.parent / "kept").write_text("in the way")
    assert (function(4), was_kept(function)) == (8, False)


def test_without_any_directory_to_write_to_nothing_is_kept(written: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(caching.CacheImpl, "_locator_classes", [])
    function_of(written)(4)
    again = function_of(written)
    assert (again(4), was_kept(again)) == (8, False)


def test_planning_needs_no_machine_code_that_warming_has_not_made() -> None:
    ran = subprocess.run([sys.executable, "-c", PLANNED], cwd=ROOT, capture_output=True, text=True)
    assert ran.returncode == 0, ran.stderr


def test_one_process_waits_until_another_has_kept_its_own(written: Path) -> None:
    function = function_of(written)
    (lock := Path(function._cache.cache_path) / "lock").touch()
    with lock.open("w") as other:
        flock(other, LOCK_EX)
        thread = Thread(target=function, args=(4,))
        thread.start()
        thread.join(timeout=1)
        assert (thread.is_alive(), kept_files(written, ".nbc")) == (True, [])
        flock(other, LOCK_UN)
        thread.join(timeout=60)
    assert len(kept_files(written, ".nbc")) == 1
