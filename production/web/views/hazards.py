"""Hazard plans: as they would be now, issued and signed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from production.domain.errors import Conflict, NotAllowed, PotwrightError
from production.selectors.access import Action, may, require
from production.selectors.hazard_plans import formula_plan, formula_plans
from production.services.hazard_plans import hazard_plan_issue, hazard_plan_sign
from production.services.papers_now import hazard_paper_pdf
from production.web.door import kitchen_page, page, request_key
from production.web.forms.trace import IssueForm, SignForm
from production.web.present.hazards import plan_context, plan_row
from production.web.style import style_of

if TYPE_CHECKING:
    from production.models import Membership
    from production.selectors.hazard_plans import FormulaPlan
    from production.web.forms.lots import KeyedForm


@kitchen_page
@require_safe
def hazard_plans(request: HttpRequest, by: Membership) -> HttpResponse:
    """Every formula, with the state of its plan."""
    style = style_of(by.kitchen)
    context = {"rows": [plan_row(plan=each, style=style) for each in formula_plans(by=by)]}
    return page(request, by, "hazard_plans.html", context, here="hazard-plans")


@sensitive_post_parameters("sign-password")
@kitchen_page
@require_http_methods(["GET", "HEAD", "POST"])
def hazard_plan(request: HttpRequest, by: Membership, formula: str) -> HttpResponse:
    """One plan as it would be now, its versions, and what the manager can do with it."""
    status, refused = 200, None
    if request.method == "POST":
        require(by, Action.ISSUE_DOCUMENTS)
        form = next((kind(request.POST) for kind in (IssueForm, SignForm) if kind.name == request.POST.get("do")), None)
        if form is None:
            raise Http404("There is nothing like that to do to a plan.")
        status, refused = 422, form
        if form.is_valid():
            try:
                messages.success(request, _do(by, formula, form))
            except PotwrightError as error:
                form.add_error(None, f"{error.sentence} {error.remedy}".strip())
                status = 403 if isinstance(error, NotAllowed) else 409 if isinstance(error, Conflict) else 422
            else:
                return redirect("hazard-plan", by.kitchen.code, formula)
    found = formula_plan(by=by, formula=formula)
    context = plan_context(plan=found, style=style_of(by.kitchen)) | {"forms": _forms(by, found, refused)}
    return page(request, by, "hazard_plan.html", context, here="hazard-plans", status=status)


def _do(by: Membership, formula: str, form: KeyedForm) -> str:
    said: dict[str, Any] = form.cleaned_data
    if form.name == "issue":
        paper = hazard_plan_issue(by=by, formula=formula, now=timezone.now(), **said)
        return f"Version {paper.version} is issued. Read it with the food-safety team, then sign it."
    paper = hazard_plan_sign(by=by, formula=formula, now=timezone.now(), **said)
    return f"Version {paper.version} is signed and in force."


def _forms(by: Membership, plan: FormulaPlan, refused: KeyedForm | None) -> list[KeyedForm]:
    """What can be done to the plan as it is; a refused form stays as it was typed."""
    if not may(by, Action.ISSUE_DOCUMENTS):
        return []
    newest = plan.newest
    found: list[KeyedForm] = []
    if newest is None or plan.is_out_of_date:
        found.append(IssueForm(initial={"key": request_key(), "seen": newest.version if newest else 0}))
    elif not newest.signed_by:
        found.append(SignForm(initial={"key": request_key(), "version": newest.version}))
    if refused is None:
        return found
    return [refused, *(each for each in found if each.name != refused.name)]


@kitchen_page
@require_safe
def hazard_plan_pdf(request: HttpRequest, by: Membership, formula: str, version: int) -> HttpResponse:
    """One version on paper."""
    pdf = hazard_paper_pdf(by=by, formula=formula, version=version)
    answer = HttpResponse(pdf, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="hazard-plan-version-{version}.pdf"'
    return answer
