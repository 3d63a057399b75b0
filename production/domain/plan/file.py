"""The plan file: a plan as JSON and back, and the schema of it."""

from __future__ import annotations

import contextlib
import dataclasses
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, cast

from pydantic import TypeAdapter, ValidationError

from production.domain import kitchen
from production.domain.errors import PotwrightError
from production.domain.plan.content import FORMAT, VERSION, Plan, Preview
from production.domain.quantities import unit_of_name


@cache
def _adapter() -> TypeAdapter[Plan]:
    return TypeAdapter(Plan)


@cache
def _preview_adapter() -> TypeAdapter[Preview]:
    return TypeAdapter(Preview)


def mark_of(plan: Plan) -> str:
    """A short digest that tells this plan from every other.

    Equation: first six hexadecimal digits of the SHA-256 of the plan's JSON without its mark.
    Units: plan (record); returns text.
    Valid: every plan.
    Errors: none.
    Source: FIPS 180-4 for the digest.
    """
    bare = plan_to_json(plan) | {"mark": ""}
    return hashlib.sha256(json.dumps(bare, sort_keys=True).encode()).hexdigest()[:6]


def plan_to_json(plan: Plan) -> dict[str, Any]:
    """A plan as plain JSON values.

    Equation: fields as they are; instants in ISO 8601, money as decimal text.
    Units: plan (record; every field names its unit); returns plain values.
    Valid: every plan.
    Errors: none.
    Source: own format, described by plan_schema.
    """
    return cast(dict[str, Any], _adapter().dump_python(plan, mode="json"))


def preview_to_json(preview: Preview) -> dict[str, Any]:
    """A preview as plain JSON values.

    Equation: fields as they are; instants in ISO 8601.
    Units: preview (record; every field names its unit); returns plain values.
    Valid: every preview.
    Errors: none.
    Source: own definition.
    """
    return cast(dict[str, Any], _preview_adapter().dump_python(preview, mode="json"))


def plan_dumps(plan: Plan) -> str:
    """A plan as the text of its file.

    Equation: plan_to_json, indented by one space, UTF-8.
    Units: plan (record); returns text.
    Valid: every plan.
    Errors: none.
    Source: own format, described by plan_schema.
    """
    return json.dumps(plan_to_json(plan), ensure_ascii=False, indent=1) + "\n"


def plan_from_json(data: Mapping[str, Any]) -> Plan:
    """Read a plan back from plain JSON values.

    Equation: the inverse of plan_to_json.
    Units: data (plain values); returns a record.
    Valid: plans of this version.
    Errors: PotwrightError `bad-plan` for another version or a broken file.
    Source: own format, described by plan_schema.
    """
    if data.get("format") != FORMAT or data.get("version") != VERSION:
        raise PotwrightError(
            "This is not a plan of the version that is read here.",
            code="bad-plan",
            numbers={"format": data.get("format"), "version": data.get("version")},
            remedy="Plan the week again.",
        )
    try:
        return _adapter().validate_python(data)
    except ValidationError as error:
        first = error.errors()[0]
        raise PotwrightError(
            f"The plan is broken at {'/'.join(str(part) for part in first['loc'])}: {first['msg']}.",
            code="bad-plan",
            numbers={"problems": error.error_count()},
            remedy="Plan the week again.",
        ) from error


def plan_schema() -> dict[str, Any]:
    """JSON Schema of the plan file.

    Equation: derived from the dataclasses; a property says what its field says of itself, or the unit of its name.
    Units: no quantities; returns plain values.
    Valid: this version.
    Errors: none.
    Source: JSON Schema draft 2020-12.
    """
    schema = _adapter().json_schema(mode="serialization")
    for name, made in schema["$defs"].items():
        spoken = {each.name: each.metadata for each in dataclasses.fields(getattr(kitchen, name, _Nothing))}
        for field_name, described in made.get("properties", {}).items():
            described.update(_described(field_name, spoken.get(field_name, {})))
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:potwright:plan:{VERSION}",
        **schema,
    }


@dataclass(frozen=True)
class _Nothing:
    """Stands for the dataclasses outside the kitchen's module, whose fields carry no metadata."""


def _described(field_name: str, spoken: Mapping[str, Any]) -> dict[str, str]:
    unit = spoken.get("unit", "")
    with contextlib.suppress(PotwrightError):
        unit = unit or unit_of_name(field_name)
    words = [spoken.get("doc", ""), f"in {unit}" if unit else ""]
    text = ", ".join(word for word in words if word)
    return {"description": text} if text else {}
