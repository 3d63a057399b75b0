"""One run of the plan, and the workings of its numbers."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_safe

from production.domain.plan import parameters_of
from production.selectors.access import Action, may, require
from production.selectors.plans import plan_content, plan_is_stale, plan_of
from production.selectors.weeks import week_of
from production.selectors.workings import figure_of, working_named
from production.web.door import kitchen_page, page
from production.web.present.figures import (
    exact_text,
    figure_label,
    input_rows,
    names_of,
    parameter_rows,
    recomputed_text,
    working_facts,
)
from production.web.present.runs import run_page
from production.web.style import style_of

if TYPE_CHECKING:
    from production.models import Membership

_LONGEST_NUMBER = 6


@kitchen_page
@require_safe
def run(request: HttpRequest, by: Membership, starts_on: date, run: str) -> HttpResponse:
    """The run as planned: pot, charge, stages, draws, and every number with its workings."""
    week = week_of(by=by, starts_on=starts_on)
    number = _number_asked(request)
    newest = plan_of(by=by, week=week, number=number)
    content = plan_content(plan=newest)
    planned = next((each for each in content.runs if each.code == run), None)
    if planned is None:
        raise Http404("This plan has no such run.")
    style = style_of(by.kitchen, week)

    def href(key: str) -> str:
        return reverse("run-working", args=[by.kitchen.code, starts_on, run, key]) + _of_plan(number)

    context = {
        "plan_row": newest,
        "stale": plan_is_stale(plan=newest),
        "formula_code": planned.formula,
        "may_fill": may(by, Action.IMPORT_WEEK),
        "may_plan": may(by, Action.MAKE_PLAN),
        "of_plan": _of_plan(number),
        "run": run_page(plan=content, run=planned, style=style, href=href),
    }
    return page(request, by, "run.html", context, here="plan", week=week)


@kitchen_page
@require_safe
def run_working(request: HttpRequest, by: Membership, starts_on: date, run: str, key: str) -> HttpResponse:
    """One number of a run: how it came about, computed again now."""
    require(by, Action.SEE_WORKINGS)
    week = week_of(by=by, starts_on=starts_on)
    number = _number_asked(request)
    newest = plan_of(by=by, week=week, number=number)
    content = plan_content(plan=newest)
    figure = figure_of(by=by, plan=newest, run=run, key=key)
    working = working_named(figure.working)
    again, equal = recomputed_text(figure)
    context = {
        "plan_row": newest,
        "run_code": run,
        "of_plan": _of_plan(number),
        "figure": figure,
        "label": figure_label(key, names_of(content.week)),
        "working": working,
        "facts": working_facts(working),
        "shown": style_of(by.kitchen, week).amount(figure.value, figure.unit),
        "exact": exact_text(figure.value, figure.unit),
        "again": again,
        "equal": equal,
        "inputs": input_rows(figure, working),
        "parameters": parameter_rows(figure, parameters_of(week=content.week)),
    }
    return page(request, by, "figure.html", context, here="plan", week=week)


def _number_asked(request: HttpRequest) -> int | None:
    """The number of the plan that is asked for in the address; none is the plan that is shown unasked."""
    text = request.GET.get("plan", "")
    return int(text) if text.isdecimal() and len(text) <= _LONGEST_NUMBER else None


def _of_plan(number: int | None) -> str:
    return f"?plan={number}" if number else ""
