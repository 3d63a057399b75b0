"""Logs to review and deviations. Signing stays with the pages: who signs has looked at the log."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.door import BODY, ROLE, KitchenView, documented
from api.inspection import (
    DeviationActionBody,
    DeviationClosingBody,
    DeviationOut,
    DeviationsQuery,
    EntryNumberOut,
    ReviewOut,
    ReviewsQuery,
)
from api.pages import page_of, paged
from production.selectors.deviations import DeviationFilter, deviation_of, deviations_of
from production.selectors.reviews import ReviewFilter, logs_to_review
from production.services.deviations import deviation_act, deviation_close

DONE = (*ROLE, *BODY, 409, 422)


def _asked(query: serializers.Serializer[Any]) -> dict[str, Any]:
    """What chooses, without what only turns pages."""
    query.is_valid(raise_exception=True)
    return {name: value for name, value in query.validated_data.items() if name not in ("page", "size")}


class Reviews(KitchenView):
    @documented(
        "reviews_list", tag="inspection", answer=paged(ReviewOut), parameters=[ReviewsQuery], refusals=(400, *ROLE)
    )
    def get(self, request: Request, kitchen: str) -> Response:
        """List closed cooling logs: open deviations first, then limits not kept, then the oldest."""
        chosen = ReviewFilter(**_asked(ReviewsQuery(data=request.query_params)))
        return page_of(request, logs_to_review(by=[self.by], chosen=chosen, now=timezone.now()), ReviewOut)


class Deviations(KitchenView):
    @documented(
        "deviations_list",
        tag="inspection",
        answer=paged(DeviationOut),
        parameters=[DeviationsQuery],
        refusals=(400, *ROLE),
    )
    def get(self, request: Request, kitchen: str) -> Response:
        """List deviations, open ones first."""
        chosen = DeviationFilter(**_asked(DeviationsQuery(data=request.query_params)))
        today = timezone.now().astimezone(ZoneInfo(self.by.kitchen.time_zone)).date()
        return page_of(request, deviations_of(by=self.by, today=today, chosen=chosen), DeviationOut)


class Deviation(KitchenView):
    @documented("deviation_get", tag="inspection", answer=DeviationOut, refusals=ROLE)
    def get(self, request: Request, kitchen: str, deviation: int) -> Response:
        """Read one deviation, with how it was closed."""
        return Response(DeviationOut(deviation_of(by=self.by, number=deviation)).data)


class DeviationActions(KitchenView):
    @documented("deviation_act", tag="inspection", request=DeviationActionBody, answer=EntryNumberOut, refusals=DONE)
    def post(self, request: Request, kitchen: str, deviation: int) -> Response:
        """Record what was done about a deviation; it becomes an entry of the book."""
        body = DeviationActionBody(data=request.data)
        body.is_valid(raise_exception=True)
        entry = deviation_act(by=self.by, number=deviation, now=timezone.now(), **body.validated_data)
        return Response(EntryNumberOut(entry).data)


class DeviationClosing(KitchenView):
    @documented("deviation_close", tag="inspection", request=DeviationClosingBody, answer=DeviationOut, refusals=DONE)
    def post(self, request: Request, kitchen: str, deviation: int) -> Response:
        """Close a deviation; its lots are thrown away, released, or wait for the next attempt, at the same moment."""
        body = DeviationClosingBody(data=request.data)
        body.is_valid(raise_exception=True)
        row = deviation_close(by=self.by, number=deviation, now=timezone.now(), **body.validated_data)
        return Response(DeviationOut(row).data)
