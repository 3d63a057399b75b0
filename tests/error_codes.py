"""All error codes of the program, read from its source; `python -m tests.error_codes` renews the printed table."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
BEGIN, END = "<!-- error codes: begin -->", "<!-- error codes: end -->"
CODE = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
FAMILY = {"PotwrightError", "OutOfRange", "BadQuantity", "UnknownParameter", "DoesNotFit", "BadWeekFile"} | {
    "NotAllowed",
    "Conflict",
}
SETTERS = FAMILY | {"_fail"}


def sources() -> Iterator[Path]:
    for room in ("production", "api"):
        yield from sorted((ROOT / room).rglob("*.py"))


def error_codes() -> dict[str, set[str]]:
    """Code -> the modules that may raise it."""
    found: dict[str, set[str]] = {}
    for path in sources():
        module = ".".join(path.relative_to(ROOT).with_suffix("").parts)
        for node in ast.walk(ast.parse(path.read_text())):
            for code in _codes_in(node):
                found.setdefault(code, set()).add(module)
    return dict(sorted(found.items()))


def _codes_in(node: ast.AST) -> Iterator[str]:
    if isinstance(node, ast.Call):
        setter = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
        for keyword in node.keywords:
            if keyword.arg == "error_code" or (keyword.arg == "code" and setter in SETTERS):
                yield from _constant(keyword.value)
    if isinstance(node, ast.ClassDef) and {base.id for base in node.bases if isinstance(base, ast.Name)} & (
        FAMILY | {"Exception"}
    ):
        for statement in node.body:
            match statement:
                case ast.Assign(targets=[ast.Name(id="code")], value=value):
                    yield from _constant(value)
                case ast.AnnAssign(target=ast.Name(id="code"), value=ast.Constant() as value):
                    yield from _constant(value)


def _constant(value: ast.expr) -> Iterator[str]:
    if isinstance(value, ast.Constant) and isinstance(value.value, str) and CODE.fullmatch(value.value):
        yield value.value


def table() -> str:
    lines = ["| code | raised in |", "|---|---|"]
    lines += [f"| `{code}` | {', '.join(sorted(modules))} |" for code, modules in error_codes().items()]
    return "\n".join(lines)


def renew(path: Path) -> None:
    text = path.read_text()
    before, rest = text.split(BEGIN)
    _, after = rest.split(END)
    path.write_text(f"{before}{BEGIN}\n{table()}\n{END}{after}")


if __name__ == "__main__":
    renew(ROOT / "DEVELOPERS.md")
