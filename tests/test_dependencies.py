"""What is imported is declared, so that a fresh machine has it."""

from __future__ import annotations

import ast
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
OURS = {"production", "api", "tests", "manage"}


def imported_in(*rooms: str) -> set[str]:
    found: set[str] = set()
    for path in (path for room in rooms for path in (ROOT / room).rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Import):
                found |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                found.add(node.module.split(".")[0])
    return found - OURS - set(sys.stdlib_module_names)


def declared(lines: list[str]) -> set[str]:
    return {canonicalize_name(Requirement(line).name) for line in lines}


def undeclared(imported: set[str], names: set[str]) -> list[str]:
    """Modules none of whose distributions is declared; kombu is Celery's own messaging and comes with it."""
    known = packages_distributions()
    return sorted(
        module
        for module in imported - {"kombu"}
        if not {canonicalize_name(name) for name in known.get(module, [])} & names
    )


def test_every_library_the_program_imports_is_a_declared_dependency() -> None:
    assert undeclared(imported_in("production", "api"), declared(PROJECT["dependencies"])) == []


def test_every_library_the_tests_import_is_declared_too() -> None:
    names = declared(PROJECT["dependencies"] + PROJECT["optional-dependencies"]["test"])
    assert undeclared(imported_in("tests"), names) == []


def test_the_locks_hold_every_declared_version_and_no_address() -> None:
    for lock, lines in (
        ("requirements.txt", PROJECT["dependencies"]),
        ("requirements-test.txt", PROJECT["dependencies"] + PROJECT["optional-dependencies"]["test"]),
    ):
        text = (ROOT / "deploy" / lock).read_text()
        pinned = [Requirement(line.partition(";")[0].rstrip(" \\")) for line in text.splitlines() if "==" in line]
        locked = {f"{canonicalize_name(need.name)}{need.specifier}" for need in pinned}
        wanted = {f"{canonicalize_name(need.name)}{need.specifier}" for need in map(Requirement, lines)}
        assert locked >= wanted
        assert "://" not in text
