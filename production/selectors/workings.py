"""How a number came about: the registry of computations, and the figures of a plan."""

from __future__ import annotations

from django.http import Http404

from production.domain.plan import PlannedRun
from production.domain.workings import REGISTRY, Figure, Working
from production.models import Membership, Plan
from production.selectors.access import Action, require
from production.selectors.plans import plan_content


def workings_all() -> tuple[Working, ...]:
    """Every computation there is, by name."""
    return tuple(REGISTRY[name] for name in sorted(REGISTRY))


def working_named(name: str) -> Working:
    """One computation."""
    if name not in REGISTRY:
        raise Http404("There is no such working.")
    return REGISTRY[name]


def run_of(*, by: Membership, plan: Plan, run: str) -> PlannedRun:
    """One run of a plan."""
    require(by, Action.SEE_PLAN)
    found = next((each for each in plan_content(plan=plan).runs if each.code == run), None)
    if found is None:
        raise Http404("This plan has no such run.")
    return found


def figures_of(*, by: Membership, plan: Plan, run: str) -> tuple[Figure, ...]:
    """Every number of a run that can be opened."""
    require(by, Action.SEE_WORKINGS)
    return run_of(by=by, plan=plan, run=run).figures


def figure_of(*, by: Membership, plan: Plan, run: str, key: str) -> Figure:
    """One number of a run."""
    found = next((each for each in figures_of(by=by, plan=plan, run=run) if each.key == key), None)
    if found is None:
        raise Http404("This run has no such figure.")
    return found
