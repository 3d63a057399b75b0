"""Weeks: choosing one, its page, its file in and out."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods, require_safe

from production.domain.errors import BadWeekFile, PotwrightError
from production.domain.week_file import LARGEST_BYTES, dumps_week, parse_week
from production.drawing.canvas import Size
from production.drawing.week_strip import week_facts, week_strip
from production.selectors.access import Action, may, require
from production.selectors.fingerprints import week_fingerprint
from production.selectors.plans import plan_content, plan_newest
from production.selectors.snapshots import week_export
from production.selectors.weeks import week_of, weeks_of
from production.services.week_import import week_import
from production.web.door import kitchen_page, page, request_key
from production.web.forms.week_file import WeekFileForm
from production.web.present.week import decisions, product_rows, week_drawing
from production.web.style import style_of

if TYPE_CHECKING:
    from production.models import Membership

_WIDE = Size(width_px=960, height_px=280)
_NARROW = Size(width_px=350, height_px=260)


@kitchen_page
@require_http_methods(["GET", "HEAD", "POST"])
def weeks(request: HttpRequest, by: Membership) -> HttpResponse:
    """All weeks of the kitchen; a manager brings in a week file here."""
    may_import = may(by, Action.IMPORT_WEEK)
    posted = request.method == "POST"
    form = WeekFileForm(request.POST, request.FILES) if posted else WeekFileForm()
    refused: PotwrightError | None = None
    if posted:
        require(by, Action.IMPORT_WEEK)
        if form.is_valid():
            try:
                week = week_import(week=parse_week(form.cleaned_data["file"].read(LARGEST_BYTES + 1)), by=by)
            except PotwrightError as error:
                refused = error
            else:
                return redirect("week", by.kitchen.code, week.starts_on)
    context = {
        "weeks": weeks_of(by=by),
        "form": form if may_import else None,
        "refused": refused,
        "problems": refused.problems if isinstance(refused, BadWeekFile) else (),
        "file_name": getattr(request.FILES.get("file"), "name", ""),
    }
    failed = refused is not None or (posted and not form.is_valid())
    return page(request, by, "weeks.html", context, here="week", status=422 if failed else 200)


@kitchen_page
@require_safe
def week(request: HttpRequest, by: Membership, starts_on: date) -> HttpResponse:
    """Orders against plan against stock, and what needs a decision."""
    require(by, Action.SEE_WEEK)
    row = week_of(by=by, starts_on=starts_on)
    content = week_export(by=by, week=row)
    newest = plan_newest(by=by, week=row)
    plan = plan_content(plan=newest) if newest else None
    style = style_of(by.kitchen, row)
    drawing = week_drawing(week=content, plan=plan, style=style)
    context = {
        "plan_row": newest,
        "plan": plan,
        "wanted": bool(content.order_lines or content.par_levels),
        "products": product_rows(week=content, plan=plan),
        "decisions": decisions(
            plan=plan,
            stale=newest is not None and newest.input_sha256 != week_fingerprint(content),
            style=style,
            sees_purchasing=may(by, Action.SEE_PURCHASING),
        ),
        "strip_wide": week_strip(drawing, _WIDE),
        "strip_narrow": week_strip(drawing, _NARROW),
        "strip_caption": f"{'Litres' if style.units == 'metric' else 'Quarts'} by day: "
        "what leaves above the line, what gets ready below it, stock that may still leave between.",
        "strip_facts": week_facts(drawing),
        "may_plan": may(by, Action.MAKE_PLAN),
        "may_import": may(by, Action.IMPORT_WEEK),
        "may_export": may(by, Action.EXPORT_WEEK),
        "request_key": request_key(),
    }
    return page(request, by, "week.html", context, here="week", week=row)


@kitchen_page
@require_safe
def week_download(request: HttpRequest, by: Membership, starts_on: date) -> HttpResponse:
    """The week as a file that can be brought in again."""
    content = week_export(by=by, week=week_of(by=by, starts_on=starts_on))
    name = f"{by.kitchen.code}-week-{starts_on}.json"
    return HttpResponse(
        dumps_week(content),
        content_type="application/json",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
