"""Plans as they were stored."""

from __future__ import annotations

from django.db.models import QuerySet
from django.http import Http404

from production.domain.plan import Plan as PlanContent
from production.domain.plan import plan_from_json
from production.models import Membership, Plan, PlanningWeek
from production.selectors.access import Action, require
from production.selectors.fingerprints import week_fingerprint
from production.selectors.snapshots import week_snapshot

LARGE = ("input_week", "result")


def plans_of(*, by: Membership, week: PlanningWeek) -> QuerySet[Plan]:
    """The week's plans, newest first, without their content."""
    require(by, Action.SEE_PLAN)
    return Plan.objects.filter(kitchen_id=by.kitchen_id, week=week).select_related("created_by").defer(*LARGE)


def plan_newest(*, by: Membership, week: PlanningWeek) -> Plan | None:
    """The newest plan with its content, if there is one."""
    return plans_of(by=by, week=week).defer(None).select_related("kitchen", "week").first()


def plan_of(*, by: Membership, week: PlanningWeek, number: int | None = None) -> Plan:
    """One plan by its number, or the newest, with its content."""
    plans = plans_of(by=by, week=week).defer(None).select_related("kitchen", "week")
    found = (plans if number is None else plans.filter(number=number)).first()
    if found is None:
        raise Http404("This week has no such plan.")
    return found


def plan_content(*, plan: Plan) -> PlanContent:
    """What the plan says."""
    return plan_from_json(plan.result)


def plan_is_stale(*, plan: Plan) -> bool:
    """Have orders, stock or set-up changed since the plan was made?"""
    now = week_fingerprint(week_snapshot(kitchen=plan.kitchen, week_id=plan.week_id))
    return now != plan.input_sha256
