"""What would help a plan."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any

from pydantic import TypeAdapter

from production.domain.plan import Fix
from production.models import Membership, Plan, PlanFixes
from production.selectors.access import Action, require


@dataclass(frozen=True, slots=True, kw_only=True)
class FixesFound:
    """Changes that were tried out and help, the best first; the place of each is the number by which it is applied."""

    fixes: tuple[Fix, ...]
    in_vain: tuple[Fix, ...]  # tried out as well, without effect
    untried: tuple[Fix, ...]  # for which there was no time
    seconds: float
    asked_by: str
    found_at: datetime


def fixes_of(*, by: Membership, plan: Plan) -> FixesFound | None:
    """What was found to help the plan; None when nobody has asked yet."""
    require(by, Action.SEE_PLAN)
    row = PlanFixes.objects.filter(plan=plan, plan__kitchen_id=by.kitchen_id).select_related("created_by").first()
    if row is None:
        return None
    kept = fixes_from_json(row.content)
    return FixesFound(
        fixes=tuple(fix for fix in kept if fix.helps),
        in_vain=tuple(fix for fix in kept if fix.tried and not fix.helps),
        untried=tuple(fix for fix in kept if not fix.tried),
        seconds=row.seconds,
        asked_by=row.created_by.get_username() if row.created_by else "",
        found_at=row.created_at,
    )


def fixes_to_json(fixes: tuple[Fix, ...]) -> list[dict[str, Any]]:
    """Fixes as plain JSON values, those that help first."""
    content: list[dict[str, Any]] = _adapter().dump_python(fixes, mode="json")
    return content


def fixes_from_json(content: list[dict[str, Any]]) -> tuple[Fix, ...]:
    """The inverse."""
    return _adapter().validate_python(content)


@cache
def _adapter() -> TypeAdapter[tuple[Fix, ...]]:
    return TypeAdapter(tuple[Fix, ...])
