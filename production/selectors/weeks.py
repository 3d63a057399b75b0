"""Weeks and their orders."""

from __future__ import annotations

from datetime import date

from django.db.models import QuerySet
from django.http import Http404

from production.models import Membership, OrderLine, PlanningWeek
from production.selectors.access import Action, require


def weeks_of(*, by: Membership) -> QuerySet[PlanningWeek]:
    """The kitchen's weeks, newest first. Any member may know which there are."""
    return PlanningWeek.objects.filter(kitchen_id=by.kitchen_id).select_related("kitchen")


def week_of(*, by: Membership, starts_on: date) -> PlanningWeek:
    """One week by its first day."""
    found = weeks_of(by=by).filter(starts_on=starts_on).first()
    if found is None:
        raise Http404("This kitchen has no such week.")
    return found


def order_lines_of(*, by: Membership, week: PlanningWeek) -> QuerySet[OrderLine]:
    """The week's order lines in the order of the file."""
    require(by, Action.SEE_WEEK)
    return OrderLine.objects.filter(week=week, week__kitchen_id=by.kitchen_id).select_related(
        "outlet", "product", "product__container"
    )


def order_line_of(*, by: Membership, week: PlanningWeek, code: str) -> OrderLine:
    """One order line by its code."""
    found = order_lines_of(by=by, week=week).filter(code=code).first()
    if found is None:
        raise Http404("This week has no such order line.")
    return found
