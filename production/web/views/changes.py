"""What the planner is told: runs that are held or moved, and what has happened; and taking it back."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from production.domain.errors import Conflict, PotwrightError
from production.domain.plan import Ask, ask_text
from production.domain.plan import Plan as PlanContent
from production.selectors.access import Action, require
from production.selectors.asks import ask_of, asks_of
from production.selectors.plans import plan_content, plan_in_force, plan_newest, plans_of
from production.selectors.run_records import asks_from_floor
from production.selectors.weeks import week_of
from production.services.asks import ask_add
from production.services.asks import ask_withdraw as withdraw
from production.web.door import kitchen_page, page, request_key
from production.web.forms.changes import FORMS, AnyChangeForm, HoldForm
from production.web.present.asked import asked_rows
from production.web.present.moves import asks_too_little
from production.web.style import Style, style_of
from production.web.views.moves import verdict_on

if TYPE_CHECKING:
    from production.models import Membership, PlanningWeek


@kitchen_page
def changes(request: HttpRequest, by: Membership, starts_on: date) -> HttpResponse:
    """One form for each thing that can be told, and the list of what was told already."""
    require(by, Action.MAKE_PLAN)
    week = week_of(by=by, starts_on=starts_on)
    working = plan_in_force(week=week)
    if working is None:
        newest = plan_newest(by=by, week=week)
        context: dict[str, object] = {"plan_row": newest, "may_plan": True, "request_key": request_key()}
        return page(request, by, "changes.html", context, here="plan", week=week)
    content = plan_content(plan=working)
    style = style_of(by.kitchen, week)
    status, told, verdict = 200, None, None
    if request.method == "POST":
        told = _told(request, content, style)
        if "try" in request.POST and isinstance(told, HoldForm):
            verdict = verdict_on(by, working, told, content) or asks_too_little()
        elif told.is_valid():
            try:
                seen = request.POST.get("plan_number", "")
                ask = told.ask()
                ask_add(by=by, week=week, plan_number=int(seen) if seen.isdecimal() else 0, ask=ask)
            except PotwrightError as error:
                told.add_error(None, f"{error.sentence} {error.remedy}")
                status = 409 if isinstance(error, Conflict) else 422
            else:
                messages.success(request, f"{ask_text(ask, content.week)} The next re-plan keeps to it.")
                # The form was sent to its own place on the page; what was told stands at the top.
                return redirect(reverse("changes", args=[by.kitchen.code, starts_on]) + "#main")
        else:
            status = 422
    forms = _forms(request, content, style, _recorded(request, by, week, style)) | ({told.kind: told} if told else {})
    plans = list(plans_of(by=by, week=week))
    context = {
        "plan_row": working,
        "newest_number": plans[0].number,
        "forms": {kind.replace("-", "_"): form for kind, form in forms.items()},
        "verdict": verdict,
        "asked": asked_rows(asks=asks_of(by=by, week=week), kept=content.asks, week=content.week, style=style),
        "may_plan": True,
        "request_key": request_key(),
    }
    return page(request, by, "changes.html", context, here="plan", week=week, status=status)


def _told(request: HttpRequest, content: PlanContent, style: Style) -> AnyChangeForm:
    """The form that was sent; times are on the kitchen's clock."""
    form = FORMS.get(request.POST.get("kind", ""))
    if form is None:
        raise Http404("There is no such form.")
    told = form(content, request.POST)
    with timezone.override(style.zone):
        told.full_clean()
    return told


def _recorded(request: HttpRequest, by: Membership, week: PlanningWeek, style: Style) -> dict[str, dict[str, object]]:
    """What the floor has recorded of the run that the page was opened from, as the forms that tell it begin."""
    code = request.GET.get("run", "")
    found = asks_from_floor(by=by, week=week, code=code, now=style.now) if code else ()
    return {_FORM_OF[ask.kind]: _filled_in(ask, style) for ask in found if ask.kind in _FORM_OF}


_FORM_OF = {"started-at": "begun", "boil-at": "boil", "run-lost": "lost"}


def _filled_in(ask: Ask, style: Style) -> dict[str, object]:
    said = {name: getattr(ask, name) for name in ("start_at", "boil_at", "reason") if hasattr(ask, name)}
    return {
        name: style.local(value).replace(tzinfo=None) if isinstance(value, datetime) else value
        for name, value in said.items()
    }


def _forms(
    request: HttpRequest, content: PlanContent, style: Style, recorded: dict[str, dict[str, object]]
) -> dict[str, AnyChangeForm]:
    """Empty forms; opened from a run they begin with where it stands, by the floor's records where there are any."""
    run = next((each for each in content.runs if each.code == request.GET.get("run", "")), None)
    initial: dict[str, object] = {"batch_lost": True}
    if run is not None:
        start = style.local(run.start_at).replace(tzinfo=None)
        initial |= {"run": run.code, "pot": run.pot, "start_at": start}
    return {kind: form(content, initial=initial | recorded.get(kind, {})) for kind, form in FORMS.items()}


@kitchen_page
@require_POST
def change_withdraw(request: HttpRequest, by: Membership, starts_on: date, ask_id: int) -> HttpResponse:
    """Take back what was told."""
    require(by, Action.MAKE_PLAN)
    ask = ask_of(by=by, week=week_of(by=by, starts_on=starts_on), ask_id=ask_id)
    withdraw(by=by, ask=ask)
    messages.success(request, "Taken back. The next re-plan no longer keeps to it.")
    return redirect("changes", by.kitchen.code, starts_on)
