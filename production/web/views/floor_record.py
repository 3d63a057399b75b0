"""Recording without scripts: a form of the floor becomes the same entry that a tablet would send."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from production.services.floor import floor_take
from production.web.door import kitchen_page
from production.web.present.floor_forms import TYPED, entry_of

if TYPE_CHECKING:
    from production.models import Membership
    from production.services.floor_answers import Answer

_LONGEST_AGO_MIN = 24 * 60


@kitchen_page
@require_POST
def record(request: HttpRequest, by: Membership) -> HttpResponse:
    """One entry from a form; afterwards the page it came from."""
    now = timezone.now()
    entry = entry_of(request.POST.dict())
    happened_at = now - timedelta(minutes=_minutes_ago(request.POST.get("ago_min", "")))
    taken = floor_take(by=by, body={"entries": [entry | {"happened_at": happened_at.isoformat()}]}, now=now)
    _tell(request, taken.answers[0], entry)
    return redirect(_back(request, by.kitchen.code))


def _tell(request: HttpRequest, answer: Answer, entry: dict[str, object]) -> None:
    told = f"{answer.sentence} {answer.remedy}".strip()
    if answer.outcome == "refused":
        request.session[TYPED] = entry | {"step": request.POST.get("step", ""), "sentence": told}
        messages.error(request, told)
    elif told:
        messages.warning(request, f"Recorded. {told}")
    else:
        messages.success(request, "Recorded.")


def _minutes_ago(text: str) -> int:
    return min(int(text), _LONGEST_AGO_MIN) if text.isdecimal() and len(text) < len("10000") else 0


def _back(request: HttpRequest, kitchen: str) -> str:
    """The page of the floor that the form stood on."""
    floor = reverse("floor", args=[kitchen])
    came_from = urlsplit(request.headers.get("Referer", "")).path
    return came_from if came_from.startswith(floor) else floor
