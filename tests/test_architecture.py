"""The walls of the house."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
DOMAIN = ROOT / "production" / "domain"
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "manage.py",
    "production",
    "api",
    "tests",
    "deploy",
    "fixtures",
}
LABELS = ("Equation", "Units", "Valid", "Errors", "Source")
NUMBERS = re.compile(r"\b(float|int|Decimal|floating|NDArray)\b")
TEXT = {".py", ".md", ".toml", ".html", ".css", ".js", ".json", ".yaml", ".yml", ".sh", ".example", ".txt", ".svg", ""}
OUTPUT = {"out", "__pycache__", "node_modules"}

# Spelled in two halves, so that this file does not hold what it forbids.
FORBIDDEN = [
    "TO" + "DO",
    "FIX" + "ME",
    "NotImplemented" + "Error",
    "mark.sk" + "ip",
    "mark.xf" + "ail",
    "pytest.sk" + "ip",
    "pytest.xf" + "ail",
    "/wo" + "rk/",
    "/tm" + "p/",
    "/ro" + "ot/",
    "shared" + "/reference",
    "pypi" + ".org",
    "python" + "hosted.org",
    "npm" + "js.org",
]


def committed_texts() -> Iterator[Path]:
    """Every text that belongs to the house; what Git ignores does not."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"],
        cwd=ROOT,
        capture_output=True,
        text=True,
    )
    assert listed.returncode == 0, listed.stderr
    for name in filter(None, listed.stdout.split("\0")):
        path = ROOT / name
        if path.is_file() and path.suffix in TEXT:
            yield path


def domain_functions() -> Iterator[tuple[str, ast.FunctionDef]]:
    for path in sorted(DOMAIN.rglob("*.py")):
        module = ".".join(path.relative_to(ROOT).with_suffix("").parts)
        for node in ast.parse(path.read_text()).body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                yield f"{module}.{node.name}", node


def sections(docstring: str) -> dict[str, str]:
    """The labelled lines of a docstring; a section runs to the next label."""
    found: dict[str, str] = {}
    label = ""
    for line in docstring.splitlines():
        match = re.match(rf"\s*({'|'.join(LABELS)}):\s*(.*)", line)
        if match:
            label = match[1]
            found[label] = match[2]
        elif label:
            found[label] += f" {line.strip()}"
    return {name: text.strip() for name, text in found.items()}


def number_arguments(function: ast.FunctionDef) -> set[str]:
    arguments = function.args.posonlyargs + function.args.args + function.args.kwonlyargs
    written = {each.arg: ast.unparse(each.annotation) for each in arguments if each.annotation}
    return {name for name, kind in written.items() if NUMBERS.search(kind) and "Callable" not in kind}


def test_the_rooms_know_each_other_only_as_agreed() -> None:
    linted = subprocess.run(
        [Path(sys.executable).parent / "lint-imports", "--no-cache"], cwd=ROOT, capture_output=True, text=True
    )
    assert linted.returncode == 0, linted.stdout + linted.stderr


def test_importing_the_whole_domain_loads_no_framework() -> None:
    script = """
import importlib, pkgutil, sys
import production.domain as domain
names = [found.name for found in pkgutil.walk_packages(domain.__path__, "production.domain.")]
for name in names:
    importlib.import_module(name)
assert len(names) > 5, names
print(",".join(sorted({"django", "rest_framework", "celery", "kombu", "weasyprint", "psycopg"} & set(sys.modules))))
"""
    ran = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True)
    assert ran.returncode == 0, ran.stderr
    assert ran.stdout.strip() == ""


def test_what_is_compiled_rests_on_nothing_whose_change_would_go_unseen() -> None:
    """Machine code is kept for one state of the files of its package."""
    package = "production.domain.plan.swift"
    paths = sorted((DOMAIN / "plan" / "swift").rglob("*.py"))
    nodes = [node for path in paths for node in ast.walk(ast.parse(path.read_text()))]
    imported = {node.module or "" for node in nodes if isinstance(node, ast.ImportFrom)}
    imported |= {alias.name for node in nodes if isinstance(node, ast.Import) for alias in node.names}
    assert "numba" in imported
    assert sorted(name for name in imported if name.startswith("production") and not name.startswith(package)) == []


def test_the_top_level_holds_what_was_agreed_and_nothing_else() -> None:
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")} - OUTPUT
    assert found == TOP_LEVEL


def test_every_public_domain_function_says_equation_units_range_errors_and_source() -> None:
    wrong: list[str] = []
    for name, function in domain_functions():
        told = sections(ast.get_docstring(function) or "")
        missing = [label for label in LABELS if not told.get(label)]
        if missing:
            wrong.append(f"{name}: no {', '.join(missing)}")
        elif "no quantities" not in told["Units"]:
            unnamed = sorted(each for each in number_arguments(function) if each not in told["Units"])
            if unnamed:
                wrong.append(f"{name}: Units does not name {', '.join(unnamed)}")
    assert wrong == []


@pytest.mark.parametrize("word", FORBIDDEN)
def test_no_text_of_the_house_holds(word: str) -> None:
    holders = [str(path.relative_to(ROOT)) for path in committed_texts() if word in path.read_text(errors="replace")]
    assert holders == []
