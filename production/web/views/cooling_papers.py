"""Printing completed cooling logs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from production.services.cooling_documents import cooling_log_request
from production.web.door import kitchen_page

if TYPE_CHECKING:
    from production.models import Membership


@kitchen_page
@require_POST
def cooling_print(request: HttpRequest, by: Membership, name: str) -> HttpResponse:
    """Print the completed log of a cooling that was closed."""
    key = request.POST.get("request_key", "")[:60]
    job_id = cooling_log_request(by=by, subject=f"cooling/{name}", idempotency_key=f"cooling-{key}" if key else "")
    return redirect("job", by.kitchen.code, job_id)
