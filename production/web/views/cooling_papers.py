"""Printing what the floor has completed: cooling logs and batch records."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from production.services.batch_documents import batch_record_request
from production.services.cooling_documents import cooling_log_request
from production.web.door import kitchen_page

if TYPE_CHECKING:
    from datetime import date

    from production.models import Membership


@kitchen_page
@require_POST
def cooling_print(request: HttpRequest, by: Membership, name: str) -> HttpResponse:
    """Print the completed log of a cooling that was closed."""
    job_id = cooling_log_request(by=by, subject=f"cooling/{name}", idempotency_key=_key(request, "cooling"))
    return redirect("job", by.kitchen.code, job_id)


@kitchen_page
@require_POST
def batch_record_print(request: HttpRequest, by: Membership, starts_on: date, run: str) -> HttpResponse:
    """Print the completed record of a run that is over."""
    key = _key(request, "batch")
    job_id = batch_record_request(by=by, starts_on=starts_on, code=run, idempotency_key=key)
    return redirect("job", by.kitchen.code, job_id)


def _key(request: HttpRequest, of: str) -> str:
    key = request.POST.get("request_key", "")[:60]
    return f"{of}-{key}" if key else ""
