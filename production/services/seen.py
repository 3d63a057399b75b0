"""Nobody decides on what they have not seen: of two managers the second is told who was faster, and when."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from django.contrib.auth.models import AbstractBaseUser
from django.http import Http404

from production.domain.errors import Conflict
from production.models import Kitchen, Membership, Plan, PlanningWeek
from production.selectors.plans import newest_living, plan_in_force


def week_locked(*, by: Membership, week: PlanningWeek) -> PlanningWeek:
    """The week's row, held until the end of the transaction; everything that decides about its plans waits here."""
    held = PlanningWeek.objects.select_for_update().filter(pk=week.pk, kitchen_id=by.kitchen_id).first()
    if held is None:
        raise Http404("This kitchen has no such week.")
    return held


def refuse_unseen(*, week: PlanningWeek, seen_number: int) -> None:
    """Refuse when the week has a newer plan than the newest that the person saw."""
    newest = newest_living(week=week)
    if newest is not None and newest.number > seen_number:
        raise _newer(newest, what="was made", seen_number=seen_number)


def plan_worked_by(*, week: PlanningWeek, seen_number: int) -> Plan:
    """The plan that the kitchen works by; refused when it is another than the person was looking at."""
    plan = plan_in_force(week=week)
    if plan is None:
        raise Conflict(
            "This week has no plan yet.",
            code="no-plan-yet",
            remedy="Make a plan first.",
        )
    if plan.number != seen_number:
        raise _newer(plan, what="is the one the kitchen works by; it was made", seen_number=seen_number)
    return plan


def who_and_when(*, who: AbstractBaseUser | None, at: datetime, kitchen: Kitchen) -> str:
    """`by anna on Wed 3 Feb at 10:12`, on the kitchen's clock."""
    day = at.astimezone(ZoneInfo(kitchen.time_zone))
    return f"by {who.get_username() if who else 'nobody known'} on {day:%a} {day.day} {day:%b} at {day:%H:%M}"


def _newer(plan: Plan, *, what: str, seen_number: int) -> Conflict:
    made = who_and_when(who=plan.created_by, at=plan.created_at, kitchen=plan.kitchen)
    return Conflict(
        f"You were looking at plan {seen_number}. Plan {plan.number} {what} {made}.",
        code="other-plan-meanwhile",
        numbers={"seen": seen_number, "plan": plan.number},
        remedy=f"Look at plan {plan.number} and decide again; nothing was changed.",
    )
