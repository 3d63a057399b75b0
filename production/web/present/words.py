"""Entries of a week in words."""

from __future__ import annotations

import re

from production.domain.kitchen import Week
from production.domain.quantities import UNIT_OF_SUFFIX
from production.domain.workings import Argument
from production.web.style import duration_text, unit_text

_HOURS = re.compile(r"\b(\d+) h(?: (\d+) min)?\b")
_LONG_H = 48


def line_name(week: Week, code: str) -> str:
    """An order line in words; a par level where that is what waits."""
    if code.startswith("par:"):
        return f"par level of {week.get('products', code.removeprefix('par:')).name}"
    line = week.get("order_lines", code)
    product, outlet = week.get("products", line.product), week.get("outlets", line.outlet)
    return f"{line.containers} × {product.name} for {outlet.name}"


def part_of_line(week: Week, code: str, containers: int) -> str:
    """So many containers of an order line in words."""
    whole = containers == week.get("order_lines", code).containers
    return line_name(week, code) if whole else f"{containers} of {line_name(week, code)}"


def days_said(sentence: str) -> str:
    """The sentence with its long spans of hours in days: 185 h 5 min is 7 d 17 h."""

    def said(span: re.Match[str]) -> str:
        hours, minutes = int(span[1]), int(span[2] or 0)
        return duration_text(60 * hours + minutes) if hours >= _LONG_H else span[0]

    return _HOURS.sub(said, sentence)


def range_text(argument: Argument) -> str:
    """The range of an argument in words; empty where it is open on both sides."""
    low, high, unit = argument.low, argument.high, unit_text(argument.unit)
    if low is not None and high is not None:
        text = f"{low:g} to {high:g} {unit}"
    elif low is not None:
        text = f"from {low:g} {unit}"
    elif high is not None:
        text = f"up to {high:g} {unit}"
    else:
        return ""
    return text.replace("-", "−")


def name_in_words(name: str) -> str:
    """A name of a number without its unit: `first_drawn_kg` is "first drawn".

    What stands before or after a dot says of what: `solubles_kg.onion` is "solubles, onion".
    """
    parts = [_without_unit(part) for part in name.split(".")]
    named = next((n for n, part in enumerate(name.split(".")) if _without_unit(part) != part), 0)
    ordered = [parts[named], *parts[:named], *parts[named + 1 :]]
    return ", ".join(part.replace("_", " ").replace("-", " ") for part in ordered)


def _without_unit(name: str) -> str:
    suffix = max((each for each in UNIT_OF_SUFFIX if name.endswith(f"_{each}")), key=len, default="")
    return name.removesuffix(f"_{suffix}")
