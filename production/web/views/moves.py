"""Would a run fit in another pot or at another time? The answer is a fragment, for script and form alike."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from production.domain.plan import Plan as PlanContent
from production.selectors.access import Action, require
from production.selectors.moves import move_verdict as judged
from production.selectors.plans import plan_content, plan_in_force
from production.selectors.weeks import week_of
from production.web.door import kitchen_page
from production.web.forms.changes import HoldForm
from production.web.present.moves import Verdict, asks_too_little, verdict_of
from production.web.style import style_of

if TYPE_CHECKING:
    from production.models import Membership, Plan


@kitchen_page
@require_safe
def move_verdict(request: HttpRequest, by: Membership, starts_on: date) -> HttpResponse:
    """The verdict on what stands in the form at this moment."""
    require(by, Action.MAKE_PLAN)
    week = week_of(by=by, starts_on=starts_on)
    working = plan_in_force(week=week)
    verdict = None
    if working is not None:
        content = plan_content(plan=working)
        form = HoldForm(content, request.GET)
        style = style_of(by.kitchen, week)
        with timezone.override(style.zone):
            form.full_clean()
        verdict = verdict_on(by, working, form, content)
    return render(request, "components/move_verdict.html", {"verdict": verdict or asks_too_little()})


@kitchen_page
@require_safe
def move_form(request: HttpRequest, by: Membership, starts_on: date) -> HttpResponse:
    """The form that holds a run, filled in as it was put down on the timeline, with the verdict on that."""
    require(by, Action.MAKE_PLAN)
    week = week_of(by=by, starts_on=starts_on)
    working = plan_in_force(week=week)
    if working is None:
        raise Http404("This week has no plan yet.")
    content = plan_content(plan=working)
    style = style_of(by.kitchen, week)
    form = HoldForm(content, HoldForm.put_down(request.GET, content, style.zone))
    with timezone.override(style.zone):
        form.full_clean()
    context = {
        "form": form,
        "kitchen": by.kitchen,
        "week": week,
        "plan_row": working,
        "verdict": verdict_on(by, working, form, content) or asks_too_little(),
    }
    return render(request, "parts/plan_move.html", context)


def verdict_on(by: Membership, plan: Plan, form: HoldForm, content: PlanContent) -> Verdict | None:
    """The verdict on a form that names a run; pot and start are those of the plan where it leaves them open."""
    told = getattr(form, "cleaned_data", {})
    run = next((each for each in content.runs if each.code == told.get("run")), None)
    if run is None or form.errors:
        return None
    pot, start_at = told.get("pot") or run.pot, told.get("start_at") or run.start_at
    return verdict_of(judged(by=by, plan=plan, run=run.code, pot=pot, start_at=start_at))
