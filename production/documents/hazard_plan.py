"""A hazard plan as its template sets it: flow, hazard table, control points, signature."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import TYPE_CHECKING

from production.documents.trace_report import moment_text
from production.documents.words import Clock

if TYPE_CHECKING:
    from production.domain.records.hazards import ControlPoint, Hazard, HazardPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class HazardPaper:
    """One issue of a plan: which version, from which entry, and who has signed it."""

    plan: HazardPlan
    version: int
    entry: int
    issued_at: datetime
    issued_by: str
    signed_by: str  # nothing while nobody has signed
    signed_at: datetime | None
    says: str  # what the signature means
    digest: str  # SHA-256 of the content
    time_zone: str


MARKS = {
    "read": "read",
    "read in part": "read in part",
    "memory": "from memory",
    "common practice": "common practice",
    "own": "own",
}


def hazard_plan_view(paper: HazardPaper) -> dict[str, object]:
    """Everything the template needs."""
    plan = paper.plan
    clock = Clock.spanning(paper.time_zone, paper.issued_at, paper.issued_at)
    return {
        "title": f"Hazard plan: {plan.formula}, version {paper.version}",
        "plan": plan,
        "paper": paper,
        "issued": moment_text(paper.issued_at, clock),
        "signed": "" if paper.signed_at is None else moment_text(paper.signed_at, clock),
        "flow": [f"{step.number} {step.name}" for step in plan.steps],
        "hazards": list(hazard_rows(plan)),
        "points": [point_words(each) for each in plan.points],
        "prerequisites": [point_words(each) for each in plan.prerequisites],
    }


def hazard_rows(plan: HazardPlan) -> Iterable[dict[str, object]]:
    """The table step by step."""
    steps = {step.code: step for step in plan.steps}
    order = {step.code: step.number for step in plan.steps}
    kept = sorted((each for each in plan.hazards if each.step in steps), key=lambda each: order[each.step])
    for code, group in groupby(kept, key=lambda each: each.step):
        yield {"number": order[code], "step": steps[code].name, "lines": [_line(each) for each in group]}


def _line(hazard: Hazard) -> dict[str, str]:
    return {
        "kind": hazard.kind.value,
        "letter": hazard.kind.value[0].upper(),
        "what": hazard.what,
        "why": hazard.why,
        "control": hazard.control,
        "point": hazard.point or "good practice",
        "source": hazard.source,
        "mark": MARKS[hazard.mark],
    }


def point_words(point: ControlPoint) -> dict[str, object]:
    """A control point with its remedies by the state they are for."""
    groups = groupby(point.remedies, key=lambda each: each.when)
    return {
        "code": point.code,
        "name": point.name,
        "hazard": point.hazard,
        "limits": point.limits,
        "what": point.what,
        "how": point.how,
        "when": point.when,
        "who": point.who,
        "verification": point.verification,
        "record": point.record,
        "source": point.source,
        "mark": MARKS[point.mark],
        "remedies": [
            {
                "when": when,
                "lines": [
                    {"sentence": each.sentence, "source": each.source, "mark": MARKS[each.mark]} for each in group
                ],
            }
            for when, group in groups
        ],
    }
