"""Workings: every computation there is, and one of them to try."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from production.domain.errors import PotwrightError
from production.domain.workings import Figure, compute
from production.selectors.access import Action, require
from production.selectors.workings import working_named, workings_all
from production.web.door import kitchen_page, page
from production.web.forms.workings import WorkingForm
from production.web.present.figures import exact_text, working_facts, working_groups
from production.web.style import style_of

if TYPE_CHECKING:
    from production.models import Membership


@kitchen_page
@require_safe
def workings(request: HttpRequest, by: Membership) -> HttpResponse:
    """The registry."""
    require(by, Action.SEE_WORKINGS)
    known = workings_all()
    wanted = request.GET.get("find", "")[:60].strip()
    found = tuple(each for each in known if wanted.lower() in f"{each.name} {each.summary}".lower())
    context = {"groups": working_groups(found), "count": len(known), "found": len(found), "wanted": wanted}
    return page(request, by, "workings.html", context, here="workings")


@kitchen_page
@require_safe
def working(request: HttpRequest, by: Membership, name: str) -> HttpResponse:
    """One computation; with arguments in the address it is computed."""
    require(by, Action.SEE_WORKINGS)
    entry = working_named(name)
    typed = {each.name: request.GET[each.name] for each in entry.arguments if each.name in request.GET}
    form = WorkingForm(entry, typed or None)
    result: Figure | None = None
    if typed and form.is_valid():
        try:
            result = compute(name, form.arguments)
        except PotwrightError as error:
            argument = error.numbers.get("argument")
            form.add_error(argument if argument in form.fields else None, f"{error.sentence} {error.remedy}")
    context = {
        "working": entry,
        "facts": working_facts(entry),
        "form": form,
        "result": result,
        "shown": style_of(by.kitchen).amount(result.value, result.unit) if result else None,
        "exact": exact_text(result.value, result.unit) if result else "",
    }
    return page(request, by, "working.html", context, here="workings", status=422 if form.errors else 200)
