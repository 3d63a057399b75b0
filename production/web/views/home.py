"""The way in: to the person's kitchen, and there to the week that matters now."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from production.selectors.access import Action, may, memberships_of
from production.selectors.weeks import weeks_of
from production.web.door import kitchen_page
from production.web.style import style_of

if TYPE_CHECKING:
    from production.models import Membership


@login_required
@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """One kitchen: go there. Several: choose. None: say whom to ask."""
    memberships = list(memberships_of(user=request.user))
    if len(memberships) == 1:
        return redirect("kitchen", memberships[0].kitchen.code)
    inspects = any(may(each, Action.VERIFY) for each in memberships)
    return render(request, "home.html", {"memberships": memberships, "inspects": inspects})


@kitchen_page
@require_safe
def kitchen(request: HttpRequest, by: Membership) -> HttpResponse:
    """The week that runs today, or else the newest one; for who verifies, the logs that wait."""
    if may(by, Action.VERIFY):
        return redirect("inspection", by.kitchen.code)
    today = style_of(by.kitchen).day_of(style_of(by.kitchen).now)
    weeks = list(weeks_of(by=by))
    if not weeks:
        return redirect("weeks", by.kitchen.code)
    running = (week for week in weeks if week.starts_on <= today < week.starts_on + timedelta(days=week.days))
    week = next(running, weeks[0])
    return redirect("week" if may(by, Action.SEE_WEEK) else "plan", by.kitchen.code, week.starts_on)
