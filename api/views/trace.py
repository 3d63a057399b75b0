"""Where food came from and where it went, and how hazard plans stand."""

from __future__ import annotations

from decimal import ROUND_DOWN, Decimal

from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response

from api.door import ROLE, KitchenView, documented
from api.trace import HazardPlanOut, TraceOut, TraceQuery
from production.domain.records.trace_report import gaps
from production.selectors.hazard_plans import formula_plans
from production.selectors.trace import trace_of


class Trace(KitchenView):
    @documented("trace", tag="records", answer=TraceOut, parameters=[TraceQuery], refusals=(*ROLE, 400))
    def get(self, request: Request, kitchen: str) -> Response:
        """Trace a lot, order line, ingredient lot, supplier, outlet or run, backward and forward."""
        query = TraceQuery(data=request.query_params)
        query.is_valid(raise_exception=True)
        asked = dict(query.validated_data)
        report = trace_of(by=self.by, key=asked.pop("of"), now=timezone.now(), **asked)
        told = {
            "made_at": report.made_at,
            "start": report.start,
            "since": report.since,
            "until": report.until,
            "knots": list(report.graph.nodes.values()),
            "ways": report.graph.edges,
            "lots": [each.balance for each in report.packed],
            "ingredient_lots": [each.balance for each in report.came],
            "found_percent": report.found_percent.quantize(Decimal("0.1"), rounding=ROUND_DOWN),
            "gaps": gaps(report=report),
        }
        return Response(TraceOut(told).data)


class HazardPlans(KitchenView):
    @documented("hazard_plans", tag="records", answer=HazardPlanOut(many=True), refusals=ROLE)
    def get(self, request: Request, kitchen: str) -> Response:
        """Tell for each formula whether its hazard plan is issued, signed and up to date."""
        return Response(HazardPlanOut(formula_plans(by=self.by), many=True).data)
