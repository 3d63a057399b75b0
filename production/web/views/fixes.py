"""What would help a plan: asked for, and done."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from production.selectors.access import Action, require
from production.selectors.plans import plan_of
from production.selectors.weeks import week_of
from production.services.fixes import fix_apply, fixes_request
from production.web.door import kitchen_page

if TYPE_CHECKING:
    from production.models import Membership


@kitchen_page
@require_POST
def fixes_ask(request: HttpRequest, by: Membership, starts_on: date, number: int) -> HttpResponse:
    """Have changes tried out, and show how far that is."""
    require(by, Action.MAKE_PLAN)
    row = plan_of(by=by, week=week_of(by=by, starts_on=starts_on), number=number)
    job_id = fixes_request(by=by, plan=row, idempotency_key=request.POST.get("request_key", "")[:80])
    return redirect("job", by.kitchen.code, job_id)


@kitchen_page
@require_POST
def fix_do(request: HttpRequest, by: Membership, starts_on: date, number: int, index: int) -> HttpResponse:
    """Change the week as the fix says, and re-plan."""
    require(by, Action.MAKE_PLAN)
    row = plan_of(by=by, week=week_of(by=by, starts_on=starts_on), number=number)
    key = request.POST.get("request_key", "")[:80]
    job_id = fix_apply(by=by, plan=row, index=index, idempotency_key=key)
    messages.success(request, "The week is changed. It is re-planned now.")
    return redirect("job", by.kitchen.code, job_id)
