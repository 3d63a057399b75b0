"""Weeks, their files and their order lines."""

from __future__ import annotations

from datetime import date

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from rest_framework.request import Request
from rest_framework.response import Response

from api.door import BODY, MEMBER, ROLE, KitchenView, documented
from api.pages import page_of, paged
from api.reading import WeekFileBytes, week_file_of
from api.serializers import OrderLineBody, OrderLineOut, PageQuery, WeekOut
from production.domain.week_file import dumps_week, parse_week
from production.selectors.snapshots import week_export
from production.selectors.weeks import order_line_of, order_lines_of, week_of, weeks_of
from production.services.orders import order_line_set
from production.services.week_import import require_import, week_import


class Weeks(KitchenView):
    parser_classes = (WeekFileBytes,)

    @documented("weeks", tag="weeks", answer=paged(WeekOut), parameters=[PageQuery], refusals=(*MEMBER, 400))
    def get(self, request: Request, kitchen: str) -> Response:
        """List the weeks, newest first."""
        return page_of(request, weeks_of(by=self.by), WeekOut)

    @documented(
        "week_file_in",
        tag="weeks",
        request=OpenApiTypes.OBJECT,
        answer=WeekOut,
        refusals=(*ROLE, 409, 413, 415, 422),
    )
    def post(self, request: Request, kitchen: str) -> Response:
        """Bring in a week file (described at /api/v1/schemas/week-file): all of it, or nothing and every problem."""
        require_import(self.by)
        week = parse_week(week_file_of(request))
        return Response(WeekOut(week_import(week=week, by=self.by)).data)


class Week(KitchenView):
    @documented("week", tag="weeks", answer=WeekOut, refusals=MEMBER)
    def get(self, request: Request, kitchen: str, starts_on: date) -> Response:
        """Tell about one week."""
        return Response(WeekOut(week_of(by=self.by, starts_on=starts_on)).data)


class WeekFile(KitchenView):
    @documented("week_file_out", tag="weeks", answer=OpenApiTypes.OBJECT, refusals=ROLE)
    def get(self, request: Request, kitchen: str, starts_on: date) -> HttpResponse:
        """Take out the week as a file that can be brought in again."""
        content = week_export(by=self.by, week=week_of(by=self.by, starts_on=starts_on))
        name = f"{self.by.kitchen.code}-week-{starts_on}.json"
        return HttpResponse(
            dumps_week(content),
            content_type="application/json",
            headers={"Content-Disposition": f'attachment; filename="{name}"'},
        )


class OrderLines(KitchenView):
    @documented("order_lines", tag="orders", answer=paged(OrderLineOut), parameters=[PageQuery], refusals=(*ROLE, 400))
    def get(self, request: Request, kitchen: str, starts_on: date) -> Response:
        """List what is ordered, in the order of the week file."""
        week = week_of(by=self.by, starts_on=starts_on)
        return page_of(request, order_lines_of(by=self.by, week=week), OrderLineOut)


class OrderLine(KitchenView):
    @documented("order_line", tag="orders", answer=OrderLineOut, refusals=ROLE)
    def get(self, request: Request, kitchen: str, starts_on: date, line: str) -> Response:
        """Tell about one order line."""
        week = week_of(by=self.by, starts_on=starts_on)
        return Response(OrderLineOut(order_line_of(by=self.by, week=week, code=line)).data)

    @documented(
        "order_line_change",
        tag="orders",
        request=OrderLineBody,
        answer=OrderLineOut,
        refusals=(*ROLE, *BODY, 409, 422),
    )
    def patch(self, request: Request, kitchen: str, starts_on: date, line: str) -> Response:
        """Order another number of containers; refused when somebody has changed the line since `revision`."""
        body = OrderLineBody(data=request.data)
        body.is_valid(raise_exception=True)
        week = week_of(by=self.by, starts_on=starts_on)
        return Response(OrderLineOut(order_line_set(by=self.by, week=week, code=line, **body.validated_data)).data)
