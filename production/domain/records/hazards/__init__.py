"""The hazard plan of a formula: what can go wrong at each step, what is done about it, and the critical limits."""

from production.domain.records.hazards.build import hazard_plan
from production.domain.records.hazards.content import ControlPoint, Hazard, HazardPlan, PlanFacts, Remedy, Step
from production.domain.records.hazards.file import hazard_plan_from_json, hazard_plan_to_json

__all__ = [
    "ControlPoint",
    "Hazard",
    "HazardPlan",
    "PlanFacts",
    "Remedy",
    "Step",
    "hazard_plan",
    "hazard_plan_from_json",
    "hazard_plan_to_json",
]
