"""A hazard plan as JSON and back."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any, cast

from pydantic import TypeAdapter

from production.domain.records.hazards.content import HazardPlan


@cache
def _adapter() -> TypeAdapter[HazardPlan]:
    return TypeAdapter(HazardPlan)


def hazard_plan_to_json(plan: HazardPlan) -> dict[str, Any]:
    """A plan as plain values that the book can keep: text, whole numbers and lists.

    Equation: fields as they are.
    Units: plan (record) [no quantities]; returns plain values.
    Valid: every plan.
    Errors: none.
    Source: own format.
    """
    return cast(dict[str, Any], _adapter().dump_python(plan, mode="json"))


def hazard_plan_from_json(data: Mapping[str, Any]) -> HazardPlan:
    """Read a plan back.

    Equation: the inverse of hazard_plan_to_json.
    Units: data [no quantities]; returns a record.
    Valid: plans written by this version.
    Errors: pydantic's ValidationError for broken data.
    Source: own format.
    """
    return _adapter().validate_python(data)
