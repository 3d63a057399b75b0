"""The JSON Schema of the week file, derived from the field descriptions of the dataclasses."""

from __future__ import annotations

from dataclasses import MISSING, Field, fields
from typing import Any

from production.domain.kitchen import Week
from production.domain.week_file.layout import FORMAT, PLACE_OF, SECTIONS, VERSION

_MOST_ITEMS = 20_000
_ABOUT = (
    "A kitchen, its catalogue and stock, and the orders of one week. A quantity is a number in the unit that its field "
    "names, or a text with any unit of the same kind, such as '60 qt', '15 lb 4 oz' or '180 F'."
)
_CODE = "^[A-Za-z0-9][A-Za-z0-9._-]{0,39}$"
_NOT_BLANK = r"\S"
_PATTERNS = {
    "date": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$",
    "clock": "^([01][0-9]|2[0-3]):[0-5][0-9]$",
    "instant": "^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}(:[0-9]{2})?(Z|[+-][0-9]{2}:[0-9]{2})$",
}
_FORMS = {
    "date": "a day, for instance 2027-02-01",
    "clock": "a time of day, for instance 05:30",
    "instant": "a moment with its offset from UTC, for instance 2027-02-01T05:30:00-07:00",
}


def week_schema() -> dict[str, Any]:
    """Give the JSON Schema (2020-12) of the week file.

    Equation: one definition per dataclass, one property per field, from the field's description.
    Units: no quantities (every property names its own unit).
    Valid: version 1 of the week file.
    Errors: none.
    Source: own definition; JSON Schema 2020-12.
    """
    definitions: dict[str, Any] = {}
    root: dict[str, Any] = {
        "format": {"const": FORMAT, "description": "what kind of file this is"},
        "version": {"const": VERSION, "description": "version of the week file"},
    }
    required = ["format", "version"]
    by_name = {described.name: described for described in fields(Week)}
    for name, place in PLACE_OF.items():
        if len(place) == 1:
            root[place[0]] = _field_schema(by_name[name], definitions)
            if _is_required(by_name[name]):
                required.append(place[0])
            continue
        section, key = place
        if section not in root:
            root[section] = _object({}, [], SECTIONS[section])
            required.append(section)
        root[section]["properties"][key] = _field_schema(by_name[name], definitions)
        if _is_required(by_name[name]):
            root[section]["required"].append(key)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:potwright:week:{VERSION}",
        "title": "Week file",
        **_object(root, required, _ABOUT),
        "$defs": dict(sorted(definitions.items())),
    }


def _object(properties: dict[str, Any], required: list[str], doc: str) -> dict[str, Any]:
    return {
        "type": "object",
        "description": doc,
        "properties": properties,
        "required": required,
        "additionalProperties": False,
    }


def _is_required(described: Field[Any]) -> bool:
    return described.default is MISSING


def _reference(of: type, definitions: dict[str, Any]) -> dict[str, Any]:
    definitions[of.__name__] = _object(
        {described.name: _field_schema(described, definitions) for described in fields(of)},
        [described.name for described in fields(of) if _is_required(described)],
        (of.__doc__ or "").strip().splitlines()[0],
    )
    return {"$ref": f"#/$defs/{of.__name__}"}


def _field_schema(described: Field[Any], definitions: dict[str, Any]) -> dict[str, Any]:
    meta = described.metadata
    unit = f" [{meta['unit']}]" if meta["kind"] == "quantity" else ""
    schema = {"description": meta["doc"] + unit, **_shape(meta, definitions)}
    if described.default is None:
        return _or_nothing(schema)
    if described.default is not MISSING:
        schema["default"] = list(described.default) if isinstance(described.default, tuple) else described.default
    return schema


def _or_nothing(schema: dict[str, Any]) -> dict[str, Any]:
    if "$ref" in schema:
        reference = {"$ref": schema.pop("$ref")}
        return {**schema, "if": {"type": "null"}, "else": reference}
    kinds = schema["type"] if isinstance(schema["type"], list) else [schema["type"]]
    return {**schema, "type": [*kinds, "null"]}


def _shape(meta: Any, definitions: dict[str, Any]) -> dict[str, Any]:
    match meta["kind"]:
        case "item":
            return _reference(meta["of"], definitions)
        case "items":
            items = _reference(meta["of"], definitions)
            return {"type": "array", "items": items, "minItems": meta["at_least"], "maxItems": _MOST_ITEMS}
        case "refs" | "words" | "weekdays":
            return {"type": "array", "uniqueItems": True, **_several(meta)}
        case kind if kind in _PATTERNS:
            return {"type": "string", "form": _FORMS[kind], "pattern": _PATTERNS[kind]}
        case _:
            return _single(meta)


def _several(meta: Any) -> dict[str, Any]:
    match meta["kind"]:
        case "refs":
            return {"items": _single({**meta, "kind": "ref"}), "maxItems": 1000}
        case "words":
            return {"items": _single({**meta, "kind": "choice"}), "maxItems": len(meta["choices"])}
        case _:
            return {"items": {"type": "integer", "minimum": 1, "maximum": 7}, "minItems": 1, "maxItems": 7}


def _single(meta: Any) -> dict[str, Any]:
    match meta["kind"]:
        case "quantity":
            typed = ["number"] if meta["unit"] == "any" else ["number", "string"]
            return {"type": typed, "unit": meta["unit"], "minimum": meta["low"], "maximum": meta["high"]}
        case "count":
            return {"type": "integer", "minimum": meta["low"], "maximum": meta["high"]}
        case "money":
            return {
                "type": ["string", "integer"],
                "unit": "money",
                "pattern": r"^[0-9]{1,9}(\.[0-9]{1,2})?$",
                "minimum": int(meta["low"]),
                "maximum": int(meta["high"]),
            }
        case "choice":
            return {"type": "string", "enum": list(meta["choices"])}
        case "text":
            return {"type": "string", "pattern": _NOT_BLANK, "maxLength": meta["longest"]}
        case "code":
            return {"type": "string", "pattern": _CODE}
        case "ref":
            return {"type": "string", "pattern": _CODE, "refersTo": "/".join(PLACE_OF[meta["to"]])}
        case _:
            return {"type": "boolean"}
