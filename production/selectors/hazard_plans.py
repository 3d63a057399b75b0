"""Hazard plans: as they would be made now, and as they were issued and signed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from django.http import Http404

from production.documents.hazard_plan import HazardPaper
from production.domain import kitchen as domain
from production.domain.limits import rule
from production.domain.records.hazards import (
    HazardPlan,
    PlanFacts,
    hazard_plan,
    hazard_plan_from_json,
    hazard_plan_to_json,
)
from production.models import Entry, Formula, Membership, Product, SafetyPlan
from production.selectors.access import Action, require
from production.selectors.care import care_settings
from production.selectors.snapshots import catalogue_of

SUBJECT = "hazard-plan/"
ISSUED, SIGNED = "plan_issued", "plan_signed"


@dataclass(frozen=True, slots=True, kw_only=True)
class FormulaPlan:
    """A formula with its plan as it would be made now, and the issues of it, the newest first."""

    now: HazardPlan
    papers: tuple[HazardPaper, ...]

    @property
    def newest(self) -> HazardPaper | None:
        return self.papers[0] if self.papers else None

    @property
    def is_out_of_date(self) -> bool:
        """The formula, the rule or a setting has changed since the newest issue."""
        return self.newest is not None and hazard_plan_to_json(self.newest.plan) != hazard_plan_to_json(self.now)

    @property
    def in_force(self) -> HazardPaper | None:
        """The newest issue that somebody has signed."""
        return next((each for each in self.papers if each.signed_by), None)


def formula_plans(*, by: Membership) -> tuple[FormulaPlan, ...]:
    """All formulas in use, each with its plan."""
    require(by, Action.SEE_RECORDS)
    papers = _papers(by)
    return tuple(FormulaPlan(now=each, papers=papers.get(each.formula_code, ())) for each in _plans_now(by))


def formula_plan(*, by: Membership, formula: str) -> FormulaPlan:
    """One formula with its plan."""
    found = next((each for each in formula_plans(by=by) if each.now.formula_code == formula), None)
    if found is None:
        raise Http404("This kitchen has no such formula.")
    return found


def hazard_paper(*, by: Membership, formula: str, version: int) -> HazardPaper:
    """One issue of a plan, also of a formula that is no longer in use."""
    require(by, Action.SEE_RECORDS)
    found = next((each for each in _papers(by).get(formula, ()) if each.version == version), None)
    if found is None:
        raise Http404("There is no such version of the plan.")
    return found


def _plans_now(by: Membership) -> tuple[HazardPlan, ...]:
    """The plans of the formulas in use, as formula, rule and settings are now."""
    kitchen, care = by.kitchen, care_settings(kitchen=by.kitchen)
    safety = SafetyPlan.objects.filter(kitchen=kitchen).first() or SafetyPlan(kitchen=kitchen)
    lists = catalogue_of(kitchen=kitchen)
    ingredients: dict[str, domain.Ingredient] = {each.code: each for each in lists["ingredients"].values()}
    products = tuple(lists["products"][pk] for pk in _in_use(Product, by))
    return tuple(
        hazard_plan(
            facts=PlanFacts(
                kitchen=kitchen.name,
                formula=formula,
                ingredients=ingredients,
                products=tuple(each for each in products if each.formula == formula.code),
                rule=rule(kitchen.cooling_rule),
                reheats=safety.reheats_allowed,
                review_days=safety.review_working_days,
                second_person=safety.second_person_excludes,
                unattended=kitchen.unattended_simmer,
                receive_chilled_c=care.receive_chilled_c,
                receive_frozen_c=care.receive_frozen_c,
                store_chilled_c=care.store_chilled_c,
                store_frozen_c=care.store_frozen_c,
                store_every_h=care.store_every_hours,
                check_every_days=care.check_every_days,
            )
        )
        for formula in (lists["formulas"][pk] for pk in _in_use(Formula, by))
    )


def _in_use(table: type[Formula] | type[Product], by: Membership) -> list[int]:
    return list(table.objects.filter(kitchen_id=by.kitchen_id, retired=False).values_list("pk", flat=True))


def _papers(by: Membership) -> Mapping[str, tuple[HazardPaper, ...]]:
    """All issues by formula, the newest first, each with its signature."""
    rows = Entry.objects.filter(
        kitchen_id=by.kitchen_id, subject__gt=SUBJECT, subject__lt="hazard-plan0", kind__in=[ISSUED, SIGNED]
    )
    issued: list[Entry] = []
    signed: dict[tuple[str, int], Entry] = {}
    for entry in rows.order_by("number"):
        if entry.kind == ISSUED:
            issued.append(entry)
        else:
            signed.setdefault((entry.subject, entry.content["version"]), entry)
    found: dict[str, tuple[HazardPaper, ...]] = {}
    for entry in issued:
        formula = entry.subject.removeprefix(SUBJECT)
        paper = _paper(by, entry, signed.get((entry.subject, entry.content["version"])))
        found[formula] = (paper, *found.get(formula, ()))
    return found


def _paper(by: Membership, issued: Entry, signed: Entry | None) -> HazardPaper:
    return HazardPaper(
        plan=hazard_plan_from_json(issued.content["plan"]),
        version=issued.content["version"],
        entry=issued.number,
        issued_at=issued.made_at,
        issued_by=issued.by_name,
        signed_by="" if signed is None else str(signed.content["printed_name"]),
        signed_at=None if signed is None else signed.made_at,
        says="" if signed is None else str(signed.content["says"]),
        digest=str(issued.content["sha256"]),
        time_zone=by.kitchen.time_zone,
    )
