"""The pages of the floor: the board, a run that is cooked, and what is cooling."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from functools import partial
from typing import TYPE_CHECKING, Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from production.selectors.access import Action, may, require
from production.selectors.cooling_log import names_for_a_part, newest_readings, places_to_cool
from production.selectors.coolings import cooling_now, coolings_now
from production.selectors.floor_weeks import boards_of
from production.selectors.receipts import lots_to_weigh
from production.selectors.record_book import book_size
from production.selectors.run_records import run_live as run_live_of
from production.selectors.thermometers import thermometers_now
from production.selectors.weeks import week_of
from production.web.door import kitchen_page, page, request_key
from production.web.present.floor_board import board_page
from production.web.present.floor_cooling_page import cooling_page
from production.web.present.floor_coolings import groups_view
from production.web.present.floor_forms import TYPED, with_typed
from production.web.present.floor_lots import with_lots
from production.web.present.floor_run import run_page
from production.web.style import Style, style_of

if TYPE_CHECKING:
    from production.models import Membership


@kitchen_page
@require_safe
def board(request: HttpRequest, by: Membership) -> HttpResponse:
    """What is under way, what comes next, and what has the least time left to cool."""
    require(by, Action.SEE_RECORDS)
    style = style_of(by.kitchen)
    shown = board_page(
        boards_of(by=by, today=style.day_of(style.now), now=style.now),
        cooling=coolings_now(by=by, now=style.now),
        style=style,
        href=partial(_run_href, by.kitchen.code),
    )
    return floor_page(request, by, "floor.html", {"board": shown}, here="floor")


@kitchen_page
@require_safe
def cooling(request: HttpRequest, by: Membership) -> HttpResponse:
    """Everything that cools, the least time left first."""
    require(by, Action.SEE_RECORDS)
    style = style_of(by.kitchen)
    shown = groups_view(coolings_now(by=by, now=style.now), style)
    context = {"groups": shown, "thermometers": _thermometers(by, style)}
    return floor_page(request, by, "coolings.html", context, here="cooling")


@kitchen_page
@require_safe
def cooling_group(request: HttpRequest, by: Membership, name: str) -> HttpResponse:
    """One group with its whole log, and everything that can be done about it."""
    require(by, Action.SEE_RECORDS)
    style, subject = style_of(by.kitchen), f"cooling/{name}"
    shown = cooling_page(
        cooling_now(by=by, subject=subject, now=style.now),
        readings=newest_readings(by=by, subject=subject),
        places=places_to_cool(by=by),
        parts=names_for_a_part(by=by, subject=subject),
        probes=_thermometers(by, style, kind="probe"),
        style=style,
    )
    context = {"group": shown, "thermometers": _thermometers(by, style)}
    return floor_page(request, by, "cooling_group.html", context, here="cooling")


@kitchen_page
@require_safe
def run_live(request: HttpRequest, by: Membership, starts_on: date, run: str) -> HttpResponse:
    """One run as it is cooked."""
    require(by, Action.SEE_RECORDS)
    style = style_of(by.kitchen, week_of(by=by, starts_on=starts_on))
    live = run_live_of(by=by, starts_on=starts_on, code=run, now=style.now)
    lots = lots_to_weigh(by=by, names=[line.name for line in live.sheet.charge], today=style.day_of(style.now))
    shown = run_page(sheet=live.sheet, course=live.course, subject=live.subject, style=style)
    context = {
        "run": with_lots(shown, sheet=live.sheet, lots=lots, style=style),
        "cooling": live.cooling,
        "may_plan": live.may_replan,
        "print_href": reverse("batch-record-print", args=[by.kitchen.code, starts_on, run]),
        "replan_href": reverse("changes", args=[by.kitchen.code, starts_on]) + f"?run={run}",
    }
    return floor_page(request, by, "run_live.html", context, here="floor")


def floor_page(
    request: HttpRequest, by: Membership, template: str, context: Mapping[str, Any], *, here: str
) -> HttpResponse:
    """A page that the tablet keeps: it says whose it is, when it was made and how far the book was then."""
    carried = {
        "made": timezone.now(),
        "book": book_size(by=by),
        "may_record": may(by, Action.RECORD),
        "request_key": request_key(),
    }
    typed = request.session.pop(TYPED, None)
    shown = {name: with_typed(view, typed) for name, view in context.items()}
    response = page(request, by, template, {**carried, **shown}, here=here)
    response.headers["Floor-Person"] = str(by.user_id)
    return response


def _thermometers(by: Membership, style: Style, *, kind: str = "hand") -> tuple[tuple[str, str], ...]:
    """Hand thermometers to choose from, or the probes, which send their readings themselves."""
    today = style.day_of(style.now)
    listed = (each for each in thermometers_now(by=by, today=today) if each.kind == kind)
    return tuple((each.code, f"{each.name}, check overdue" if each.is_overdue else each.name) for each in listed)


def _run_href(kitchen: str, subject: str) -> str:
    _, first_day, code = subject.split("/")
    return reverse("run-live", args=[kitchen, date.fromisoformat(first_day), code])
