"""Workings: every computation there is, and computing one with values of one's own."""

from __future__ import annotations

from rest_framework.request import Request
from rest_framework.response import Response

from api.door import BODY, SIGNED_IN, ApiView, documented
from api.pages import page_of, paged
from api.serializers import ArgumentsBody, ComputedOut, PageQuery, WorkingOut, WorkingsQuery
from production.domain.workings import compute
from production.selectors.workings import working_named, workings_all


class Workings(ApiView):
    @documented(
        "workings",
        tag="workings",
        answer=paged(WorkingOut),
        parameters=[PageQuery, WorkingsQuery],
        refusals=(*SIGNED_IN, 400),
    )
    def get(self, request: Request) -> Response:
        """List the computations with their arguments, units, ranges, class and source."""
        query = WorkingsQuery(data=request.query_params)
        query.is_valid(raise_exception=True)
        wanted = query.validated_data["find"].lower()
        found = [each for each in workings_all() if wanted in f"{each.name} {each.summary}".lower()]
        return page_of(request, found, WorkingOut)


class Working(ApiView):
    @documented("working", tag="workings", answer=WorkingOut, refusals=(*SIGNED_IN, 404))
    def get(self, request: Request, name: str) -> Response:
        """Tell about one computation."""
        return Response(WorkingOut(working_named(name)).data)


class Compute(ApiView):
    @documented(
        "compute",
        tag="workings",
        request=ArgumentsBody,
        answer=ComputedOut,
        refusals=(*SIGNED_IN, *BODY, 403, 404, 422),
    )
    def post(self, request: Request, name: str) -> Response:
        """Compute one; an argument may carry a unit. Out of range is refused with the range."""
        working = working_named(name)
        body = ArgumentsBody(data=request.data)
        body.is_valid(raise_exception=True)
        figure = compute(name, body.validated_data["arguments"])
        return Response(ComputedOut({"figure": figure, "working": working}).data)
