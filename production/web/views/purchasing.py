"""What has to be bought for the plan."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from production.selectors.access import Action, may, require
from production.selectors.plans import plan_is_stale, plan_newest
from production.selectors.purchasing import purchase_lists_of
from production.selectors.weeks import week_of
from production.web.door import kitchen_page, page, request_key
from production.web.present.purchasing import supplier_lists
from production.web.style import style_of

if TYPE_CHECKING:
    from production.models import Membership


@kitchen_page
@require_safe
def purchasing(request: HttpRequest, by: Membership, starts_on: date) -> HttpResponse:
    """A list for each supplier and delivery, with the time until which it can be ordered."""
    require(by, Action.SEE_PURCHASING)
    week = week_of(by=by, starts_on=starts_on)
    newest = plan_newest(by=by, week=week)
    style = style_of(by.kitchen, week)
    lists = purchase_lists_of(by=by, plan=newest) if newest else ()
    context = {
        "may_receive": may(by, Action.RECORD),
        "may_plan": may(by, Action.MAKE_PLAN),
        "request_key": request_key(),
        "plan_row": newest,
        "stale": newest is not None and plan_is_stale(plan=newest),
        "lists": supplier_lists(lists=lists, style=style),
        "total": style.money(sum((each.total for each in lists), Decimal(0))),
    }
    return page(request, by, "purchasing.html", context, here="purchasing", week=week)
