"""Sending out: what leaves on a day, which lots to pick, and what has really been taken."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from production.domain.errors import PotwrightError
from production.selectors.access import Action, may, require
from production.selectors.lots import lots_there
from production.selectors.stock import picks_of_day
from production.services.dispatch import dispatch_confirm_all
from production.services.dispatch_notes import note_request
from production.web.door import kitchen_page, page, request_key
from production.web.forms.dispatch import picks_read
from production.web.present.dispatch import day_links, leaving_of
from production.web.style import style_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from production.models import Membership

DAYS_SHOWN = range(-1, 6)


@kitchen_page
@require_safe
def dispatch(request: HttpRequest, by: Membership) -> HttpResponse:
    """What leaves on a day, by time and outlet."""
    require(by, Action.SEE_RECORDS)
    return _page(request, by, _day(request.GET.get("day", ""), by))


@kitchen_page
@require_POST
def dispatch_send(request: HttpRequest, by: Membership) -> HttpResponse:
    """Record what has been picked and leaves."""
    require(by, Action.RECORD)
    now = timezone.now()
    key = request.POST.get("key", "")[:60] or request_key()
    day = _day(request.POST.get("day", ""), by)
    try:
        sent = dispatch_confirm_all(by=by, picked=picks_read(request.POST), happened_at=now, key=key, now=now)
    except PotwrightError as error:
        messages.error(request, f"Nothing was recorded. {error.sentence} {error.remedy}")
        return _page(request, by, day, typed=request.POST, status=422)
    messages.success(request, f"{sent} container{'' if sent == 1 else 's'} recorded as sent.")
    return redirect(f"{reverse('dispatch', args=[by.kitchen.code])}?day={day}")


@kitchen_page
@require_POST
def dispatch_note(request: HttpRequest, by: Membership) -> HttpResponse:
    """Print the note for an outlet at a time."""
    require(by, Action.RECORD)
    try:
        at = datetime.fromisoformat(request.POST.get("at", ""))
    except ValueError:
        raise Http404("Nothing leaves then.") from None
    outlet, key = request.POST.get("outlet", ""), request.POST.get("key", "")[:70]
    job_id = note_request(by=by, outlet=outlet, dispatch_at=at, idempotency_key=f"note-{key}" if key else "")
    return redirect("job", by.kitchen.code, job_id)


def _page(
    request: HttpRequest, by: Membership, day: date, *, typed: Mapping[str, str] | None = None, status: int = 200
) -> HttpResponse:
    style = style_of(by.kitchen)
    now = timezone.now()
    today = style.day_of(now)
    states, picks = picks_of_day(by=by, day=day, now=now)
    lots = {each.code: each for each in lots_there(by=by)}
    days = sorted({day, *(today + timedelta(days=n) for n in DAYS_SHOWN)})
    context = {
        "day": day,
        "day_said": style.day(day),
        "days": day_links(days=days, day=day, style=style),
        "leaving": leaving_of(states=states, picks=picks, lots=lots, day=day, style=style, typed=typed or {}),
        "may_record": may(by, Action.RECORD),
        "key": request_key(),
    }
    return page(request, by, "dispatch.html", context, here="dispatch", status=status)


def _day(said: str, by: Membership) -> date:
    try:
        return date.fromisoformat(said)
    except ValueError:
        return style_of(by.kitchen).day_of(timezone.now())
