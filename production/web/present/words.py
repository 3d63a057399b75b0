"""Entries of a week in words."""

from __future__ import annotations

from production.domain.kitchen import Week
from production.domain.quantities import UNIT_OF_SUFFIX
from production.domain.workings import Argument
from production.web.style import unit_text


def line_name(week: Week, code: str) -> str:
    """An order line in words; a par level where that is what waits."""
    if code.startswith("par:"):
        return f"par level of {week.get('products', code.removeprefix('par:')).name}"
    line = week.get("order_lines", code)
    product, outlet = week.get("products", line.product), week.get("outlets", line.outlet)
    return f"{line.containers} × {product.name} for {outlet.name}"


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
