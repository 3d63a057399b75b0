"""The plan of a week: timeline, runs, what is late and what is not served, and what becomes of it."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from production.domain.errors import Conflict
from production.domain.plan import Difference, compare_plans
from production.domain.plan import Plan as PlanContent
from production.drawing.canvas import Size
from production.drawing.extraction_line import stage_key
from production.drawing.plan_timeline import (
    plan_timeline,
    timeline_corner,
    timeline_facts,
    timeline_grip,
    timeline_head,
    timeline_names,
    timeline_width_px,
)
from production.selectors.access import Action, may, require
from production.selectors.asks import asks_of, plan_misses_asks
from production.selectors.fixes import fixes_of
from production.selectors.jobs import planning_under_way
from production.selectors.plans import plan_content, plan_in_force, plan_is_stale, plan_newest, plan_of, plans_of
from production.selectors.weeks import week_of
from production.services.plans import plan_request
from production.services.publishing import plan_leave as leave_plan
from production.services.publishing import plan_publish as publish_plan
from production.services.publishing import plan_take as take_plan
from production.services.replans import replan_request
from production.web.door import kitchen_page, page, request_key
from production.web.forms.changes import PublishForm
from production.web.present.asked import asked_rows, locked_runs
from production.web.present.fixes import fix_rows
from production.web.present.goals import goal_rows
from production.web.present.plan import (
    day_choices,
    late_rows,
    lines_of,
    open_share,
    par_rows,
    run_rows,
    stage_kinds,
    timeline,
    unserved_groups,
    unserved_rows,
)
from production.web.present.waits import Chain, chain_of_line, chain_of_run
from production.web.style import Style, style_of
from production.web.views.jobs import what_it_does

if TYPE_CHECKING:
    from collections.abc import Callable

    from production.models import Membership, Plan, PlanningWeek

_DAY_PX = 300
_ONE_DAY_PX = 840


@kitchen_page
@require_safe
def plan(request: HttpRequest, by: Membership, starts_on: date, number: int | None = None) -> HttpResponse:
    """The plan that is shown unasked, or the one with this number; whole, or one day of it."""
    require(by, Action.SEE_PLAN)
    week = week_of(by=by, starts_on=starts_on)
    shown = plan_newest(by=by, week=week) if number is None else plan_of(by=by, week=week, number=number)
    context = _decisions(by, week, shown)
    if shown is None:
        return page(request, by, "plan.html", context, here="plan", week=week)
    content = plan_content(plan=shown)
    style = style_of(by.kitchen, week)
    asks = tuple(asks_of(by=by, week=week))
    chain = _chain(request, content, _run_href(by, starts_on, number))
    moves = bool(content.runs) and may(by, Action.MAKE_PLAN) and shown == plan_in_force(week=week)
    context |= _drawn(request, by, content, style, shown=shown, number=number, chain=chain, moves=moves)
    context |= {
        "plan": content,
        "chain": chain,
        "zone": by.kitchen.time_zone,
        "stale": plan_is_stale(plan=shown),
        "misses_asks": plan_misses_asks(plan=shown),
        "made": style.when(shown.created_at),
        "first_total": style.amount(sum(run.batch.first_l for run in content.runs), "L"),
        "reduction_total": style.amount(sum(run.batch.reduction_l for run in content.runs), "L"),
        "runs": run_rows(plan=content, style=style, href=_run_href(by, starts_on, number)),
        "unserved": unserved_groups(unserved_rows(content)),
        "unserved_lines": lines_of(content.unserved),
        "late_lines": lines_of(content.late),
        "late": late_rows(plan=content, style=style, href=_run_href(by, starts_on, number)),
        "goals": goal_rows(content),
        "par": par_rows(content),
        "asked": asked_rows(asks=asks, kept=content.asks, week=content.week, style=style),
        **_help(by, shown, content),
    }
    return page(request, by, "plan.html", context, here="plan", week=week)


def _run_href(by: Membership, starts_on: date, number: int | None) -> Callable[[str], str]:
    def href(run: str) -> str:
        return reverse("run", args=[by.kitchen.code, starts_on, run]) + (f"?plan={number}" if number else "")

    return href


def _chain(request: HttpRequest, content: PlanContent, href: Callable[[str], str]) -> Chain | None:
    """The chain of waiting that is asked for in the address: of a run, or of a line that is not served."""
    if "missing" in request.GET:
        return chain_of_line(content, request.GET["missing"], href)
    return chain_of_run(content, request.GET.get("waits", ""), href)


def _decisions(by: Membership, week: PlanningWeek, shown: Plan | None) -> dict[str, object]:
    """What can be done with the plan, and the re-plan that waits for a decision."""
    plans = list(plans_of(by=by, week=week))
    waiting = next((each for each in plans if each.is_proposal), None)
    return {
        "plan_row": shown,
        "plans": plans,
        "newest_number": plans[0].number if plans else 0,
        "waiting": waiting if waiting != shown else None,
        "waiting_words": _waiting_words(waiting) if waiting else "",
        "may_plan": may(by, Action.MAKE_PLAN),
        "may_publish": may(by, Action.PUBLISH_PLAN),
        "under_way": [(each, what_it_does(each)) for each in planning_under_way(by=by, week=week)],
        "request_key": request_key(),
    }


def _help(by: Membership, shown: Plan, content: PlanContent) -> dict[str, object]:
    """What would help, as it was worked out last; nothing where nothing is late or unserved."""
    found = fixes_of(by=by, plan=shown)
    return {
        "needs_help": bool(content.late or content.unserved),
        "helped": found is not None,
        "help": fix_rows(fixes=found.fixes, week=content.week) if found else (),
        "in_vain": tuple(fix.sentence for fix in found.in_vain) if found else (),
        "untried": tuple(fix.sentence for fix in found.untried) if found else (),
    }


def _waiting_words(waiting: Plan) -> str:
    who = waiting.created_by
    by_whom = f" by {who.get_full_name() or who.get_username()}" if who else ""
    base = f" from plan {waiting.base.number}" if waiting.base else ""
    return f"Plan {waiting.number} was worked out{base}{by_whom}."


def _drawn(
    request: HttpRequest,
    by: Membership,
    content: PlanContent,
    style: Style,
    *,
    shown: Plan,
    number: int | None = None,
    before: PlanContent | None = None,
    chain: Chain | None = None,
    moves: bool = False,
) -> dict[str, object]:
    """The timeline with its names, its key and the days that it can be opened at."""
    day = _chosen_day(request)
    line = timeline(
        plan=content,
        style=style,
        href=_run_href(by, shown.week.starts_on, number),
        day=day,
        before=before,
        locked=locked_runs(content.asks),
        chain=chain.runs if chain else (),
        moves=moves,
    )
    size = Size(width_px=timeline_width_px(line, _ONE_DAY_PX if day else _DAY_PX), height_px=0)
    return {
        "timeline": plan_timeline(line, size),
        "grip": asdict(timeline_grip(line, size)) if moves else None,
        "timeline_names": timeline_names(line),
        "timeline_head": timeline_head(line, size),
        "timeline_corner": timeline_corner(line),
        "timeline_facts": timeline_facts(line),
        "open_share": open_share(line),
        "key": stage_key(Size(width_px=640, height_px=0), stage_kinds(line)),
        "key_narrow": stage_key(Size(width_px=350, height_px=0), stage_kinds(line)),
        "days": day_choices(plan=content, style=style, chosen=day),
        "day": day,
    }


@kitchen_page
@require_POST
def plan_make(request: HttpRequest, by: Membership, starts_on: date) -> HttpResponse:
    """Ask for a plan from the orders alone and show how far it is."""
    week = week_of(by=by, starts_on=starts_on)
    job_id = plan_request(by=by, week=week, idempotency_key=request.POST.get("request_key", "")[:80])
    return redirect("job", by.kitchen.code, job_id)


@kitchen_page
@require_POST
def plan_again(request: HttpRequest, by: Membership, starts_on: date) -> HttpResponse:
    """Ask for a re-plan that keeps what has begun and what was asked, and show how far it is."""
    require(by, Action.MAKE_PLAN)
    week = week_of(by=by, starts_on=starts_on)
    seen = _number(request.POST.get("seen", ""))
    job_id = replan_request(by=by, week=week, seen_plan=seen, idempotency_key=request.POST.get("request_key", "")[:80])
    return redirect("job", by.kitchen.code, job_id)


@kitchen_page
def plan_publish(request: HttpRequest, by: Membership, starts_on: date, number: int) -> HttpResponse:
    """What publishing freezes, and doing it."""
    require(by, Action.PUBLISH_PLAN)
    week = week_of(by=by, starts_on=starts_on)
    row = plan_of(by=by, week=week, number=number)
    decisions = _decisions(by, week, row)
    form = PublishForm(request.POST or None, initial={"seen": decisions["newest_number"]})
    status = 200
    if request.method == "POST" and form.is_valid():
        try:
            publish_plan(
                by=by,
                plan=row,
                seen_number=form.cleaned_data["seen"],
                confirm_stale=form.cleaned_data["confirm_stale"],
            )
        except Conflict as error:
            status = 409
            told = form.cleaned_data["confirm_stale"]
            form = PublishForm({"seen": decisions["newest_number"], "confirm_stale": told})
            form.add_error(None, f"{error.sentence} {error.remedy}")
        else:
            messages.success(request, f"Plan {number} is published. Cooks and inspectors see it from now on.")
            return redirect("plan", by.kitchen.code, starts_on)
    content = plan_content(plan=row)
    outdated = plan_is_stale(plan=row) or plan_misses_asks(plan=row)
    context = decisions | {
        "form": form,
        "outdated": outdated,
        "published": next((each for each in plans_of(by=by, week=week) if each.status == "published"), None),
        "runs": len(content.runs),
        "late_lines": lines_of(content.late),
        "unserved_lines": lines_of(content.unserved),
        "orders": len(content.purchases.orders),
        "total": style_of(by.kitchen, week).money(content.purchases.total),
    }
    return page(request, by, "plan_publish.html", context, here="plan", week=week, status=status)


@kitchen_page
@require_POST
def plan_take(request: HttpRequest, by: Membership, starts_on: date, number: int) -> HttpResponse:
    """Work by a re-plan from now on."""
    require(by, Action.MAKE_PLAN)
    take_plan(by=by, plan=plan_of(by=by, week=week_of(by=by, starts_on=starts_on), number=number))
    messages.success(request, f"The kitchen works by plan {number} now. Publish it, so that everybody sees it.")
    return redirect("plan", by.kitchen.code, starts_on)


@kitchen_page
@require_POST
def plan_leave(request: HttpRequest, by: Membership, starts_on: date, number: int) -> HttpResponse:
    """Put a re-plan aside."""
    require(by, Action.MAKE_PLAN)
    leave_plan(by=by, plan=plan_of(by=by, week=week_of(by=by, starts_on=starts_on), number=number))
    messages.success(request, f"Plan {number} is put aside. Nothing has changed.")
    return redirect("plan", by.kitchen.code, starts_on)


@kitchen_page
@require_safe
def plan_compare(request: HttpRequest, by: Membership, starts_on: date, before: int, after: int) -> HttpResponse:
    """What a plan does otherwise than another one."""
    require(by, Action.SEE_PLAN)
    week = week_of(by=by, starts_on=starts_on)
    rows = [plan_of(by=by, week=week, number=each) for each in (before, after)]
    first, second = (plan_content(plan=row) for row in rows)
    style = style_of(by.kitchen, week)
    difference = compare_plans(first, second)
    context = _decisions(by, week, rows[1]) | _drawn(
        request, by, second, style, shown=rows[1], number=after, before=first
    )
    context |= {
        "before": rows[0],
        "after": rows[1],
        "difference": difference,
        "totals": _totals_rows(difference, style),
        "may_decide": rows[1].is_proposal and may(by, Action.MAKE_PLAN),
    }
    return page(request, by, "plan_compare.html", context, here="plan", week=week)


def _totals_rows(difference: Difference, style: Style) -> tuple[tuple[str, str, str], ...]:
    first, second = difference.before, difference.after
    return (
        ("Runs", str(first.runs), str(second.runs)),
        ("Order lines late", str(first.late_lines), str(second.late_lines)),
        ("Hours late, weighed by importance", f"{first.lateness_h:.1f}", f"{second.lateness_h:.1f}"),
        ("Order lines not served in full", str(first.unserved_lines), str(second.unserved_lines)),
        ("Containers not served", str(first.unserved_containers), str(second.unserved_containers)),
        ("Purchases", style.money(first.purchases), style.money(second.purchases)),
    )


def _chosen_day(request: HttpRequest) -> date | None:
    try:
        return date.fromisoformat(request.GET.get("day", ""))
    except ValueError:
        return None


def _number(text: str) -> int:
    return int(text) if text.isdecimal() and len(text) < 7 else 0
