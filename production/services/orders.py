"""Changing what is ordered."""

from __future__ import annotations

from dataclasses import fields

from django.db import transaction
from django.db.models import F
from django.http import Http404

from production.domain import kitchen as domain
from production.domain.errors import Conflict, OutOfRange
from production.models import Membership, OrderLine, PlanningWeek
from production.selectors.access import Action, require

_CONTAINERS = next(each for each in fields(domain.OrderLine) if each.name == "containers").metadata


@transaction.atomic
def order_line_set(*, by: Membership, week: PlanningWeek, code: str, containers: int, revision: int) -> OrderLine:
    """Order another number of containers; `revision` is the one the person saw, and must still be the newest."""
    require(by, Action.EDIT_ORDERS)
    low, high = _CONTAINERS["low"], _CONTAINERS["high"]
    if not low <= containers <= high:
        raise OutOfRange(
            f"{containers} containers cannot be ordered; allowed are {low} to {high}.",
            code="containers-out-of-range",
            numbers={"containers": containers, "low": low, "high": high},
            remedy="Type the number of containers; take a line out with the next week file.",
        )
    if week.kitchen_id != by.kitchen_id:
        raise Http404("This kitchen has no such week.")
    # No join in the condition: PostgreSQL would not look at the revision again after waiting for another change.
    lines = OrderLine.objects.filter(week_id=week.pk, code=code)
    changed = lines.filter(revision=revision).update(containers=containers, revision=F("revision") + 1)
    line = lines.select_related("product", "outlet").first()
    if line is None:
        raise Http404("This week has no such order line.")
    if not changed:
        raise Conflict(
            f"Somebody else has changed this line meanwhile: it now says {line.containers} containers.",
            code="changed-meanwhile",
            numbers={"containers": line.containers, "revision": line.revision},
            remedy="Look at the new number and decide again.",
        )
    return line
