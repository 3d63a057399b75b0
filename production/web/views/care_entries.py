"""What the pages of care record goes through the same door as what tablets send."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpRequest

from production.services.floor import floor_take

if TYPE_CHECKING:
    from django import forms

    from production.models import Membership
    from production.services.floor_answers import Answer


def entry_taken(
    *,
    by: Membership,
    kind: str,
    subject: str,
    content: Mapping[str, object],
    key: str,
    at: datetime,
    now: datetime,
    corrects: str = "",
    reason: str = "",
) -> Answer:
    """One entry, as a tablet would send it."""
    entry = {
        "key": key,
        "kind": kind,
        "subject": subject,
        "content": {name: value for name, value in content.items() if value not in ("", None)},
        "happened_at": at.isoformat(),
        "corrects": corrects or None,
        "reason": reason,
    }
    return floor_take(by=by, body={"entries": [entry]}, now=now).answers[0]


def answer_told(request: HttpRequest, form: forms.Form, answer: Answer, *, done: str) -> int:
    """Say what became of an entry; 0 where the page may be opened anew, else the status of the answer."""
    told = f"{answer.sentence} {answer.remedy}".strip()
    if answer.outcome == "refused":
        form.add_error(None, told)
        return 404 if answer.code == "not-found" else 422
    if told:
        messages.warning(request, f"{done} {told}")
    else:
        messages.success(request, done)
    return 0
