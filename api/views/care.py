"""Thermometers, deliveries and store temperatures. Checks and temperatures come in through the door of the floor."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response

from api.care import ReceiptBody, ReceiptOut, ReceiptsQuery, StoreTempsOut, ThermometerOut
from api.door import BODY, ROLE, KitchenView, documented
from api.pages import page_of, paged
from production.selectors.receipts import receipts_of
from production.selectors.storage_temps import stores_now
from production.selectors.thermometers import thermometers_now
from production.services.receipts import Came, receipt_take


class Thermometers(KitchenView):
    @documented("thermometers", tag="care", answer=ThermometerOut(many=True), refusals=ROLE)
    def get(self, request: Request, kitchen: str) -> Response:
        """List the thermometers in use and how their checks stand."""
        today = timezone.now().astimezone(ZoneInfo(self.by.kitchen.time_zone)).date()
        return Response(ThermometerOut(thermometers_now(by=self.by, today=today), many=True).data)


class Receipts(KitchenView):
    @documented("receipts", tag="care", answer=paged(ReceiptOut), parameters=[ReceiptsQuery], refusals=(400, *ROLE))
    def get(self, request: Request, kitchen: str) -> Response:
        """List what came in, the newest first."""
        query = ReceiptsQuery(data=request.query_params)
        query.is_valid(raise_exception=True)
        return page_of(request, receipts_of(by=self.by, search=query.validated_data["find"]), ReceiptOut)

    @documented("receipt_take", tag="care", request=ReceiptBody, answer=ReceiptOut, refusals=(*ROLE, *BODY, 409, 422))
    def post(self, request: Request, kitchen: str) -> Response:
        """Take one ingredient of a delivery in, or write down that it goes back."""
        body = ReceiptBody(data=request.data)
        body.is_valid(raise_exception=True)
        said = dict(body.validated_data)
        about = {name: said.pop(name) for name in ("accept", "reason", "key")}
        return Response(ReceiptOut(receipt_take(by=self.by, came=Came(**said), now=timezone.now(), **about)).data)


class StoreTemps(KitchenView):
    @documented("store_temperatures", tag="care", answer=StoreTempsOut(many=True), refusals=ROLE)
    def get(self, request: Request, kitchen: str) -> Response:
        """Tell how cold each store is, and when it was too warm."""
        return Response(StoreTempsOut(stores_now(by=self.by, now=timezone.now()), many=True).data)
