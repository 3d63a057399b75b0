"""How the files look, for programs that write or read them; nothing of any kitchen is in here."""

from __future__ import annotations

from drf_spectacular.types import OpenApiTypes
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response

from api.door import ApiView, documented
from production.domain.plan import plan_schema
from production.domain.week_file import week_schema


class WeekFileSchema(ApiView):
    authentication_classes = ()
    permission_classes = (AllowAny,)

    @documented("schema_week_file", tag="schemas", answer=OpenApiTypes.OBJECT)
    def get(self, request: Request) -> Response:
        """Give the JSON Schema of the week file."""
        return Response(week_schema())


class PlanSchema(ApiView):
    authentication_classes = ()
    permission_classes = (AllowAny,)

    @documented("schema_plan", tag="schemas", answer=OpenApiTypes.OBJECT)
    def get(self, request: Request) -> Response:
        """Give the JSON Schema of the plan file."""
        return Response(plan_schema())
