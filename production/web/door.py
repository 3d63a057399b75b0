"""The door of a kitchen's pages: who comes in, what a refusal looks like, and what every page carries."""

from __future__ import annotations

import functools
import uuid
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any, Concatenate, ParamSpec

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.cache import never_cache

from production.domain.errors import Conflict, NotAllowed, PotwrightError
from production.selectors.access import Action, may, membership_for
from production.selectors.weeks import weeks_of
from production.web.style import style_of

if TYPE_CHECKING:
    from production.models import Membership, PlanningWeek

P = ParamSpec("P")

_NOBODY_WAS_FASTER = ("replan-instead", "no-plan-yet", "week-contradicts-itself")

# Areas of the kitchen's pages: page, address, what a role must be allowed to do to see it.
_WEEK_AREA = "Planning"
_WEEK_PAGES = (
    ("Week", "week", Action.SEE_WEEK),
    ("Orders", "orders", Action.SEE_WEEK),
    ("Plan", "plan", Action.SEE_PLAN),
    ("Purchasing", "purchasing", Action.SEE_PURCHASING),
    ("Storage", "storage", Action.SEE_WEEK),
    ("Documents", "documents", Action.SEE_DOCUMENTS),
)
# The kitchen as it is now, whatever week is looked at.
_AREAS_NOW = (
    (
        "Floor",
        (
            ("Floor", "floor", Action.SEE_RECORDS),
            ("Cooling", "cooling", Action.SEE_RECORDS),
            ("Receiving", "receiving", Action.SEE_RECORDS),
            ("Temperatures", "store-temps", Action.SEE_RECORDS),
            ("Thermometers", "thermometers", Action.SEE_RECORDS),
        ),
    ),
    (
        "Stores",
        (
            ("Lots", "lots", Action.SEE_RECORDS),
            ("Dispatch", "dispatch", Action.SEE_RECORDS),
            ("Bones", "bones", Action.SEE_RECORDS),
        ),
    ),
    (
        "Records",
        (
            ("Inspection", "inspection", Action.INSPECT),
            ("Deviations", "deviations", Action.SEE_RECORDS),
            ("Trace", "trace", Action.SEE_RECORDS),
            ("Hazard plans", "hazard-plans", Action.SEE_RECORDS),
        ),
    ),
)


@dataclass(frozen=True, slots=True)
class NavigationItem:
    label: str
    href: str
    current: bool


@dataclass(frozen=True, slots=True)
class NavigationArea:
    """Pages that belong together; the area itself leads to the first of them."""

    label: str
    pages: tuple[NavigationItem, ...]

    @property
    def href(self) -> str:
        return self.pages[0].href

    @property
    def current(self) -> bool:
        return any(each.current for each in self.pages)


def kitchen_page(
    view: Callable[Concatenate[HttpRequest, Membership, P], HttpResponseBase],
) -> Callable[..., HttpResponseBase]:
    """Let members in (404 for others, sign-in for strangers) and answer refusals with a page."""

    @never_cache
    @login_required
    @functools.wraps(view)
    def door(request: HttpRequest, kitchen: str, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
        by = membership_for(user=request.user, kitchen_code=kitchen)
        try:
            return view(request, by, *args, **kwargs)
        except PotwrightError as error:
            return refusal(request, by, error, kwargs.get("starts_on"))

    return door


def refusal(request: HttpRequest, by: Membership, error: PotwrightError, starts_on: object) -> HttpResponse:
    """Say what was refused, why, and what to do instead; a plan that cannot be read is made anew from here."""
    status, head = 422, "That did not work"
    if isinstance(error, NotAllowed):
        status, head = 403, "Not yours to do"
    elif isinstance(error, Conflict):
        status, head = 409, "Somebody was faster" if error.code not in _NOBODY_WAS_FASTER else "Not this way"
    week = weeks_of(by=by).filter(starts_on=starts_on).first() if isinstance(starts_on, date) else None
    plans_again = error.code == "bad-plan" and may(by, Action.MAKE_PLAN)
    shows_plan = error.code != "bad-plan" and may(by, Action.SEE_PLAN)
    plan_href = reverse("plan", args=[by.kitchen.code, week.starts_on]) if week and shows_plan else ""
    context = {
        "head": head,
        "error": error,
        "plan_href": plan_href,
        "plans_again": plans_again,
        "plan_row": True,
        "request_key": request_key(),
    }
    return page(request, by, "refusal.html", context, here="", week=week, status=status)


def page(
    request: HttpRequest,
    by: Membership,
    template: str,
    context: Mapping[str, Any],
    *,
    here: str,
    week: PlanningWeek | None = None,
    status: int = 200,
) -> HttpResponse:
    """Render a page of the kitchen; `here` is the page in the navigation that is marked."""
    week = week or weeks_of(by=by).first()
    carried = {
        "by": by,
        "kitchen": by.kitchen,
        "week": week,
        "style": style_of(by.kitchen, week),
        "navigation": navigation(by, week, here),
    }
    return render(request, template, {**carried, **context}, status=status)


def navigation(by: Membership, week: PlanningWeek | None, here: str) -> tuple[NavigationArea, ...]:
    """The pages that this role may open, by area, for the week that is looked at."""
    code = by.kitchen.code

    def area(label: str, pages: Iterable[tuple[str, str, Action]], *of: object) -> NavigationArea:
        allowed = [(title, name) for title, name, action in pages if may(by, action)]
        return NavigationArea(
            label,
            tuple(NavigationItem(title, reverse(name, args=[code, *of]), name == here) for title, name in allowed),
        )

    areas = [area(_WEEK_AREA, _WEEK_PAGES, week.starts_on)] if week else []
    areas += [area(label, pages) for label, pages in _AREAS_NOW]
    if not week:
        areas.append(_alone("Weeks", reverse("weeks", args=[code]), here == "week"))
    if may(by, Action.SET_UP) and by.user.is_staff:
        areas.append(_alone("Set-up", reverse("admin:index"), False))
    areas.append(_alone("Workings", reverse("workings", args=[code]), here == "workings"))
    return tuple(each for each in areas if each.pages)


def _alone(label: str, href: str, current: bool) -> NavigationArea:
    return NavigationArea(label, (NavigationItem(label, href, current),))


def request_key() -> str:
    """A fresh key for a form, so that sending it twice asks once."""
    return uuid.uuid4().hex
