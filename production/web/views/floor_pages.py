"""The pages of the floor: the board, a run that is cooked, and what is cooling."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from production.selectors.access import Action, may, require
from production.selectors.record_book import book_size
from production.web.door import kitchen_page, page, request_key

if TYPE_CHECKING:
    from production.models import Membership


@kitchen_page
@require_safe
def board(request: HttpRequest, by: Membership) -> HttpResponse:
    """What is under way, what comes next, and what has the least time left to cool."""
    require(by, Action.SEE_RECORDS)
    return floor_page(request, by, "floor.html", {}, here="floor")


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
    response = page(request, by, template, {**carried, **context}, here=here)
    response.headers["Floor-Person"] = str(by.user_id)
    return response
