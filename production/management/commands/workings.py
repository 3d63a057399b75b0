"""List every computation, or compute one: `manage.py workings NAME argument=value ... [--json]`."""

from __future__ import annotations

import json
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

import production.domain.thermal  # noqa: F401  (registers the workings)
from production.domain.errors import PotwrightError
from production.domain.quantities import display_quantity
from production.domain.workings import REGISTRY, Argument, Figure, compute


class Command(BaseCommand):
    help = "List every computation with its arguments and units, or compute one of them."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", nargs="?", help="the computation; without it, all are listed")
        parser.add_argument("arguments", nargs="*", metavar="argument=value", help="for example altitude=5200ft")
        parser.add_argument("--json", action="store_true", dest="as_json", help="print JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        name, as_json = options["name"], options["as_json"]
        if name is None:
            self.stdout.write(_listing_json() if as_json else _listing())
            return
        try:
            found = compute(name, dict(_pair(each) for each in options["arguments"]))
        except PotwrightError as refusal:
            raise CommandError(f"{refusal.sentence} {refusal.remedy}", returncode=2) from refusal
        self.stdout.write(_answer_json(found) if as_json else _answer(found))


def _pair(text: str) -> tuple[str, str]:
    name, equals, value = text.partition("=")
    if not equals or not name:
        raise CommandError(f"{text!r} is not of the form argument=value.", returncode=2)
    return name, value


def _range(argument: Argument) -> str:
    low = "" if argument.low is None else f"{argument.low:g}"
    high = "" if argument.high is None else f"{argument.high:g}"
    default = "" if argument.default is None else f", {argument.default:g} if left out"
    return f"{low}..{high} {argument.unit}{default}"


def _listing() -> str:
    lines: list[str] = []
    for entry in sorted(REGISTRY.values(), key=lambda each: each.name):
        lines.append(f"{entry.name} [{entry.unit}] class {entry.cls}: {entry.summary}")
        lines.extend(f"    {each.name}  {_range(each)}" for each in entry.arguments)
    return "\n".join(lines)


def _described(name: str) -> dict[str, object]:
    entry = REGISTRY[name]
    return {
        "name": entry.name,
        "summary": entry.summary,
        "unit": entry.unit,
        "class": entry.cls,
        "equation": entry.equation,
        "valid": entry.valid,
        "source": entry.source,
        "parameters": list(entry.parameters),
        "arguments": [
            {"name": each.name, "unit": each.unit, "low": each.low, "high": each.high, "default": each.default}
            for each in entry.arguments
        ],
    }


def _listing_json() -> str:
    return json.dumps([_described(name) for name in sorted(REGISTRY)], indent=2)


def _answer(found: Figure) -> str:
    entry = REGISTRY[found.working]
    shown, shown_unit = display_quantity(found.value, found.unit)
    lines = [
        f"{entry.name} = {found.value:.6g} {found.unit}  (shown as {shown} {shown_unit})",
        entry.summary,
        *(f"  {name} = {value:.6g}" for name, value in found.inputs),
        f"Equation: {entry.equation}",
        f"Valid: {entry.valid}",
        f"Class: {entry.cls}",
        f"Source: {entry.source}",
    ]
    return "\n".join(lines)


def _answer_json(found: Figure) -> str:
    answer = _described(found.working)
    answer |= {"value": found.value, "inputs": dict(found.inputs)}
    return json.dumps(answer, indent=2)
