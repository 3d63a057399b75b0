"""Orders: the grid of a week, and one line of it."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods, require_safe

from production.domain.errors import Conflict, OutOfRange
from production.selectors.access import Action, may, require
from production.selectors.weeks import order_line_of, order_lines_of, week_of
from production.services.orders import order_line_set
from production.web.door import kitchen_page, page
from production.web.forms.orders import OrderLineForm
from production.web.present.orders import OrderCell, order_days
from production.web.style import style_of

if TYPE_CHECKING:
    from production.models import Membership


@kitchen_page
@require_safe
def orders(request: HttpRequest, by: Membership, starts_on: date) -> HttpResponse:
    """Outlets against products, day by day."""
    week = week_of(by=by, starts_on=starts_on)
    cells = tuple(
        OrderCell(
            line=line.code,
            outlet=line.outlet.name,
            product=line.product.name,
            rank=line.product.position,
            containers=line.containers,
            dispatch_at=line.dispatch_at,
        )
        for line in order_lines_of(by=by, week=week)
    )
    days = order_days(cells=cells, style=style_of(by.kitchen, week))
    context = {"days": days, "lines": len(cells), "may_edit": may(by, Action.EDIT_ORDERS)}
    return page(request, by, "orders.html", context, here="orders", week=week)


@kitchen_page
@require_http_methods(["GET", "HEAD", "POST"])
def order_line(request: HttpRequest, by: Membership, starts_on: date, line: str) -> HttpResponse:
    """One order line; a manager changes its containers."""
    week = week_of(by=by, starts_on=starts_on)
    row = order_line_of(by=by, week=week, code=line)
    posted = request.method == "POST"
    if posted:
        require(by, Action.EDIT_ORDERS)
    initial = {"containers": row.containers, "revision": row.revision}
    form = OrderLineForm(request.POST) if posted else OrderLineForm(initial=initial)
    status = 200
    if posted:
        status = 422
        if form.is_valid():
            typed: int = form.cleaned_data["containers"]
            seen: int = form.cleaned_data["revision"]
            if (row.containers, row.revision) == (typed, seen + 1):  # the same form sent twice
                return redirect("orders", by.kitchen.code, starts_on)
            try:
                changed = order_line_set(by=by, week=week, code=line, containers=typed, revision=seen)
            except Conflict as error:
                row = order_line_of(by=by, week=week, code=line)
                form = OrderLineForm({"containers": typed, "revision": row.revision})
                form.add_error(None, f"{error.sentence} {error.remedy}")
                status = 409
            except OutOfRange as error:
                form.add_error("containers", f"{error.sentence} {error.remedy}")
            else:
                messages.success(
                    request,
                    f"{changed.outlet.name} now gets {changed.containers} × {changed.product.name}. "
                    "The plan does not know it yet: plan the week again.",
                )
                return redirect("orders", by.kitchen.code, starts_on)
    context = {"line": row, "form": form, "may_edit": may(by, Action.EDIT_ORDERS)}
    context["dispatch"] = style_of(by.kitchen, week).when(row.dispatch_at)
    return page(request, by, "order_line.html", context, here="orders", week=week, status=status)
