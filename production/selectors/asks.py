"""What has been asked of the planner."""

from __future__ import annotations

from django.db.models import QuerySet
from django.http import Http404

from production.domain.plan import Ask, ask_from_json
from production.models import Membership, Plan, PlanAsk, PlanningWeek
from production.selectors.access import Action, require
from production.selectors.plans import plan_content


def asks_of(*, by: Membership, week: PlanningWeek, withdrawn_too: bool = False) -> QuerySet[PlanAsk]:
    """What has been asked for the week and holds, first said first."""
    require(by, Action.SEE_PLAN)
    asks = PlanAsk.objects.filter(week=week, week__kitchen_id=by.kitchen_id).select_related(
        "plan", "created_by", "withdrawn_by"
    )
    asks = asks.defer("plan__input_week", "plan__result")
    return asks if withdrawn_too else asks.filter(withdrawn_at__isnull=True)


def ask_of(*, by: Membership, week: PlanningWeek, ask_id: int) -> PlanAsk:
    """One of them, withdrawn or not."""
    found = asks_of(by=by, week=week, withdrawn_too=True).filter(pk=ask_id).first()
    if found is None:
        raise Http404("Nothing of this number was asked for this week.")
    return found


def ask_content(*, ask: PlanAsk) -> Ask:
    """What it says."""
    return ask_from_json(ask.content)


def asks_that_hold(*, week: PlanningWeek) -> tuple[Ask, ...]:
    """What a re-plan of the week keeps to."""
    held = PlanAsk.objects.filter(week=week, withdrawn_at__isnull=True).order_by("pk")
    return tuple(ask_from_json(content) for content in held.values_list("content", flat=True))


def plan_misses_asks(*, plan: Plan) -> bool:
    """Has something been asked or withdrawn since the plan was made?"""
    return set(plan_content(plan=plan).asks) != set(asks_that_hold(week=plan.week))
