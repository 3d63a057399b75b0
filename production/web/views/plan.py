"""The plan of a week: timeline, runs, what is late and what is not served."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from production.drawing.canvas import Size
from production.drawing.extraction_line import stage_key
from production.drawing.plan_timeline import plan_timeline, timeline_facts, timeline_names, timeline_width_px
from production.selectors.access import Action, may, require
from production.selectors.plans import plan_content, plan_is_stale, plan_newest
from production.selectors.weeks import week_of
from production.services.plans import plan_request
from production.web.door import kitchen_page, page, request_key
from production.web.present.plan import (
    day_choices,
    late_rows,
    lines_of,
    now_share,
    run_rows,
    stage_kinds,
    timeline,
    unserved_rows,
)
from production.web.style import style_of

if TYPE_CHECKING:
    from production.models import Membership

_DAY_PX = 240
_ONE_DAY_PX = 840


@kitchen_page
@require_safe
def plan(request: HttpRequest, by: Membership, starts_on: date) -> HttpResponse:
    """The newest plan of the week, whole or one day of it."""
    require(by, Action.SEE_PLAN)
    week = week_of(by=by, starts_on=starts_on)
    newest = plan_newest(by=by, week=week)
    may_plan = may(by, Action.MAKE_PLAN)
    context: dict[str, object] = {"plan_row": newest, "may_plan": may_plan, "request_key": request_key()}
    if newest is None:
        return page(request, by, "plan.html", context, here="plan", week=week)
    content = plan_content(plan=newest)
    style = style_of(by.kitchen, week)
    day = _chosen_day(request)

    def href(run: str) -> str:
        return reverse("run", args=[by.kitchen.code, starts_on, run])

    line = timeline(plan=content, style=style, href=href, day=day)
    width_px = timeline_width_px(line, _ONE_DAY_PX if day else _DAY_PX)
    context |= {
        "plan": content,
        "stale": plan_is_stale(plan=newest),
        "made": style.when(newest.created_at),
        "first_total": style.amount(sum(run.batch.first_l for run in content.runs), "L"),
        "reduction_total": style.amount(sum(run.batch.reduction_l for run in content.runs), "L"),
        "timeline": plan_timeline(line, Size(width_px=width_px, height_px=0)),
        "timeline_names": timeline_names(line),
        "timeline_facts": timeline_facts(line),
        "now_share": now_share(line),
        "key": stage_key(Size(width_px=640, height_px=0), stage_kinds(line)),
        "key_narrow": stage_key(Size(width_px=350, height_px=0), stage_kinds(line)),
        "days": day_choices(plan=content, style=style, chosen=day),
        "day": day,
        "runs": run_rows(plan=content, style=style, href=href),
        "unserved": unserved_rows(content),
        "unserved_lines": lines_of(content.unserved),
        "late_lines": lines_of(content.late),
        "late": late_rows(plan=content, style=style, href=href),
    }
    return page(request, by, "plan.html", context, here="plan", week=week)


@kitchen_page
@require_POST
def plan_make(request: HttpRequest, by: Membership, starts_on: date) -> HttpResponse:
    """Ask for a plan and show how far it is."""
    week = week_of(by=by, starts_on=starts_on)
    job_id = plan_request(by=by, week=week, idempotency_key=request.POST.get("request_key", "")[:80])
    return redirect("job", by.kitchen.code, job_id)


def _chosen_day(request: HttpRequest) -> date | None:
    try:
        return date.fromisoformat(request.GET.get("day", ""))
    except ValueError:
        return None
