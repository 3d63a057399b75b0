"""Where each part of a week stands in the file, and how a place is named to a person."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

FORMAT = "potwright-week"
VERSION = 1
LARGEST_BYTES = 8 * 1024 * 1024

Path = tuple[str | int, ...]

# Field of Week -> keys that lead to it in the file, in the order of the file.
PLACE_OF: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "starts_on": ("plan", "starts_on"),
        "days": ("plan", "days"),
        "plan_from": ("plan", "plan_from"),
        "kitchen": ("kitchen",),
        "heat_supplies": ("equipment", "heat_supplies"),
        "heat_sources": ("equipment", "heat_sources"),
        "pots": ("equipment", "pots"),
        "containers": ("equipment", "containers"),
        "cooling_devices": ("equipment", "cooling_devices"),
        "ice_machine": ("equipment", "ice_machine"),
        "ice_deliveries": ("equipment", "ice_deliveries"),
        "cube_trays": ("equipment", "cube_trays"),
        "stores": ("equipment", "stores"),
        "people": ("people", "people"),
        "shifts": ("people", "shifts"),
        "ingredients": ("catalogue", "ingredients"),
        "formulas": ("catalogue", "formulas"),
        "products": ("catalogue", "products"),
        "suppliers": ("catalogue", "suppliers"),
        "offers": ("catalogue", "offers"),
        "lots": ("stock", "lots"),
        "ingredient_stock": ("stock", "ingredients"),
        "saved_bones": ("stock", "saved_bones"),
        "outlets": ("orders", "outlets"),
        "order_lines": ("orders", "lines"),
        "par_levels": ("orders", "par_levels"),
        "parameters": ("parameters",),
    }
)

SECTIONS: Mapping[str, str] = MappingProxyType(
    {
        "plan": "which days are planned and from when",
        "equipment": "heat, pots, containers, cooling and storage",
        "people": "who works when",
        "catalogue": "ingredients, formulas, products and where to buy",
        "stock": "what is already there",
        "orders": "who wants what and when",
    }
)

NOUN_OF: Mapping[str, str] = MappingProxyType(
    {
        "kitchen": "kitchen",
        "heat_supplies": "heat supply",
        "heat_sources": "heat source",
        "pots": "pot",
        "containers": "container",
        "cooling_devices": "cooling device",
        "ice_machine": "ice machine",
        "ice_deliveries": "ice delivery",
        "cube_trays": "cube tray",
        "stores": "store",
        "people": "person",
        "shifts": "shift",
        "ingredients": "ingredient",
        "formulas": "formula",
        "products": "product",
        "suppliers": "supplier",
        "offers": "offer",
        "lots": "stock lot",
        "ingredient_stock": "ingredient stock",
        "saved_bones": "saved bones",
        "outlets": "outlet",
        "order_lines": "order line",
        "par_levels": "par level",
        "parameters": "own coefficient",
    }
)

_NOUN_AT: Mapping[Path, str] = MappingProxyType({PLACE_OF[name]: noun for name, noun in NOUN_OF.items()})


def pointer(path: Path) -> str:
    """Write a path as a JSON pointer.

    Equation: each step after a slash, with ~ as ~0 and / as ~1.
    Units: no quantities.
    Valid: any path; the empty path is the whole file.
    Errors: none.
    Source: RFC 6901; from memory.
    """
    return "".join("/" + str(step).replace("~", "~0").replace("/", "~1") for step in path)


def spoken_place(path: Path, document: Any) -> str:
    """Name a place in the file the way a person would: the kind of entry, its code or number, the field.

    Equation: noun of the list, then the entry's code (its number where it has none), then the remaining keys.
    Units: no quantities.
    Valid: any path; document is the file as read.
    Errors: none.
    Source: own definition.
    """
    listed = next((path[:length] for length in (2, 1) if path[:length] in _NOUN_AT), ())
    name = _NOUN_AT[listed] if listed else "file"
    value = _follow(document, listed)
    parts: list[str] = []
    for step in path[len(listed) :]:
        value = _follow(value, (step,))
        if isinstance(step, str):
            parts.append(step)
            continue
        code = value.get("code") if isinstance(value, dict) else None
        number = f"'{code[:40]}'" if isinstance(code, str) else f"no. {step + 1}"
        if parts:
            parts[-1] += f" {number}"
        else:
            name += f" {number}"
    return ", ".join([name[0].upper() + name[1:], *parts])


def _follow(value: Any, path: Path) -> Any:
    for step in path:
        if isinstance(value, dict):
            value = value.get(step)
        elif isinstance(value, list) and isinstance(step, int) and step < len(value):
            value = value[step]
        else:
            return None
    return value
