"""What the kitchen's approved food-safety plan allows: set by an administrator, every change written down."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from production.models import Membership, SafetyPlan
from production.selectors.access import Action, require
from production.services.records import Draft, entries_append

CHANGED = "safety_plan_changed"
SUBJECT = "safety-plan"
FIELDS = ("reheats_allowed", "second_person_excludes", "review_working_days")


@transaction.atomic
def safety_plan_set(*, by: Membership, plan: SafetyPlan, key: str, now: datetime) -> SafetyPlan:
    """Keep the settings as they are given; what they were before stands beside them in the book."""
    require(by, Action.SET_UP)
    before = SafetyPlan.objects.select_for_update().filter(kitchen_id=by.kitchen_id).first()
    plan.kitchen_id = by.kitchen_id
    plan.pk = None if before is None else before.pk
    plan.full_clean()
    plan.save()
    content = {"now": _told(plan), "before": _told(before or SafetyPlan())}
    draft = Draft(kind=CHANGED, subject=SUBJECT, content=content, happened_at=now, key=key)
    entries_append(by=by, drafts=[draft], now=now)
    return plan


def _told(plan: SafetyPlan) -> dict[str, Any]:
    return {name: getattr(plan, name) for name in FIELDS}
