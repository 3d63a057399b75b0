"""Hazard plans as the pages show them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from production.documents.hazard_plan import hazard_rows, point_words

if TYPE_CHECKING:
    from production.documents.hazard_plan import HazardPaper
    from production.drawing.palette import Meaning
    from production.selectors.hazard_plans import FormulaPlan
    from production.web.style import Style


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRow:
    """A formula with the state of its plan."""

    code: str
    name: str
    state: str
    meaning: Meaning
    version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VersionRow:
    """One issue."""

    version: int
    issued: str
    by: str
    signed: str
    entry: int
    rule: str


def plan_row(*, plan: FormulaPlan, style: Style) -> PlanRow:
    """One line of the list."""
    meaning, state = plan_state(plan)
    newest = plan.newest
    return PlanRow(
        code=plan.now.formula_code,
        name=plan.now.formula,
        state=state,
        meaning=meaning,
        version=f"version {newest.version}, {style.when(newest.issued_at)}" if newest else "",
    )


def plan_state(plan: FormulaPlan) -> tuple[Meaning, str]:
    """In force, waiting, out of date, or not there."""
    newest = plan.newest
    if newest is None:
        return "open", "not issued yet"
    if plan.is_out_of_date:
        return "past", "out of date: something has changed since"
    if not newest.signed_by:
        return "near", "issued, not signed"
    return "within", "signed and in force"


def plan_context(*, plan: FormulaPlan, style: Style) -> dict[str, Any]:
    """Everything the page of a plan shows."""
    meaning, state = plan_state(plan)
    return {
        "plan": plan.now,
        "meaning": meaning,
        "state": state,
        "is_out_of_date": plan.is_out_of_date,
        "in_force": plan.in_force,
        "versions": [_version(each, style) for each in plan.papers],
        "hazards": list(hazard_rows(plan.now)),
        "points": [point_words(each) for each in plan.now.points],
        "prerequisites": [point_words(each) for each in plan.now.prerequisites],
    }


def _version(paper: HazardPaper, style: Style) -> VersionRow:
    signed = f"{paper.signed_by}, {style.when(paper.signed_at)}" if paper.signed_at else ""
    return VersionRow(
        version=paper.version,
        issued=style.when(paper.issued_at),
        by=paper.issued_by,
        signed=signed,
        entry=paper.entry,
        rule=paper.plan.rule,
    )
