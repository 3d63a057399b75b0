"""The other way round: the room there is, and what could be made to fill it."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from production.selectors.access import Action, may, require
from production.selectors.plans import plan_content, plan_is_stale, plan_newest
from production.selectors.weeks import week_of
from production.web.door import kitchen_page, page, request_key
from production.web.present.storage import store_choices
from production.web.style import style_of

if TYPE_CHECKING:
    from production.models import Membership


@kitchen_page
@require_safe
def storage(request: HttpRequest, by: Membership, starts_on: date) -> HttpResponse:
    """What each store could still take of each product, and the pots that would make it."""
    require(by, Action.SEE_WEEK)
    week = week_of(by=by, starts_on=starts_on)
    newest = plan_newest(by=by, week=week)
    style = style_of(by.kitchen, week)
    context = {
        "may_plan": may(by, Action.MAKE_PLAN),
        "request_key": request_key(),
        "plan_row": newest,
        "stale": newest is not None and plan_is_stale(plan=newest),
        "stores": store_choices(plan=plan_content(plan=newest), style=style) if newest else (),
    }
    return page(request, by, "storage.html", context, here="storage", week=week)
