"""The door that tablets send their entries to."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.http import require_POST

from production.domain.errors import NotAllowed, PotwrightError
from production.services.floor import floor_take
from production.web.door import kitchen_page

if TYPE_CHECKING:
    from production.models import Membership


_OTHER_PERSON = {
    "code": "other-person",
    "sentence": "Somebody else has signed in on this tablet.",
    "remedy": "What was recorded stays there until its own person signs in again.",
}


@kitchen_page
@require_POST
def entries(request: HttpRequest, by: Membership) -> JsonResponse:
    """Entries in, answers out in the same order; a tablet that has been signed out is sent to the sign-in."""
    if request.headers.get("Floor-Person", str(by.user_id)) != str(by.user_id):
        return JsonResponse(_OTHER_PERSON, status=409)
    try:
        taken = floor_take(by=by, body=request.body, now=timezone.now())
    except PotwrightError as error:
        status = 403 if isinstance(error, NotAllowed) else 422
        said = {"code": error.code, "sentence": error.sentence, "remedy": error.remedy}
        return JsonResponse(said, status=status)
    return JsonResponse(asdict(taken))
