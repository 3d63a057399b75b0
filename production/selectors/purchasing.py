"""What is bought for a plan."""

from __future__ import annotations

from production.domain.sheets import PurchaseList, purchase_lists
from production.models import Membership, Plan
from production.selectors.access import Action, require
from production.selectors.plans import plan_content


def purchase_lists_of(*, by: Membership, plan: Plan) -> tuple[PurchaseList, ...]:
    """One list per supplier and delivery."""
    require(by, Action.SEE_PURCHASING)
    return purchase_lists(plan_content(plan=plan))
