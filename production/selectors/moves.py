"""Whether a run could stand elsewhere."""

from __future__ import annotations

from datetime import datetime

from django.http import Http404

from production.domain.plan import MoveVerdict, judge_move
from production.models import Membership, Plan
from production.selectors.access import Action, require
from production.selectors.plans import plan_content


def move_verdict(*, by: Membership, plan: Plan, run: str, pot: str, start_at: datetime) -> MoveVerdict:
    """What would stand against a run in this pot at this time, with all others left where they are."""
    require(by, Action.SEE_PLAN)
    if plan.kitchen_id != by.kitchen_id:
        raise Http404("This kitchen has no such plan.")
    return judge_move(plan_content(plan=plan), run=run, pot=pot, start_at=start_at)
