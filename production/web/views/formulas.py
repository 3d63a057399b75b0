"""Formulas: letting another ingredient fill a role."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from production.domain.errors import PotwrightError
from production.selectors.access import Action, require
from production.selectors.formulas import formula_roles
from production.selectors.weeks import week_of
from production.services.formulas import formula_role_fill
from production.web.door import kitchen_page, page
from production.web.forms.roles import RoleForm
from production.web.present.roles import role_tables, words

if TYPE_CHECKING:
    from production.models import Membership


@kitchen_page
@require_http_methods(["GET", "HEAD", "POST"])
def roles(request: HttpRequest, by: Membership, starts_on: date, formula: str) -> HttpResponse:
    """What fills each role and what else could; a choice makes a new version of the formula."""
    require(by, Action.IMPORT_WEEK)
    week = week_of(by=by, starts_on=starts_on)
    offered = formula_roles(by=by, week=week, formula_code=formula)
    posted = request.method == "POST"
    form = RoleForm(offered, request.POST if posted else None)
    if posted and form.is_valid():
        role, ingredient = form.cleaned_data["choice"]
        try:
            version = formula_role_fill(by=by, week=week, formula_code=formula, role=role, ingredient_code=ingredient)
        except PotwrightError as error:
            form.add_error("choice", f"{error.sentence} {error.remedy}")
        else:
            name = dict(form.fields["choice"].choices)[f"{role}/{ingredient}"]  # type: ignore[attr-defined]
            if version == offered.formula.version:
                messages.info(request, f"{name} fills {words(role)} already: nothing was changed.")
            else:
                messages.success(
                    request,
                    f"{offered.formula.name} is version {version} now, with {name} as {words(role)}. "
                    "The plan does not know it yet: plan the week again.",
                )
            return redirect("plan", by.kitchen.code, starts_on)
    context = {
        "formula": offered.formula,
        "form": form,
        "tables": role_tables(offered, request.POST.get("choice", "")),
    }
    return page(request, by, "roles.html", context, here="plan", week=week, status=422 if posted else 200)
