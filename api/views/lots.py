"""Lots and what is done to them, the stores, what leaves, and the bank of saved bones."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response

from api.door import BODY, ROLE, KitchenView, documented
from api.lots import (
    BonesBody,
    BonesOut,
    DispatchBody,
    DispatchedOut,
    DispatchQuery,
    LeavingsOut,
    LotBody,
    LotOut,
    LotsQuery,
    LotStepBody,
    StoreOut,
)
from api.pages import page_of, paged
from api.serializers import PageQuery
from production.domain.errors import OutOfRange
from production.selectors.bones import bones_there
from production.selectors.lots import lots_of, lots_there
from production.selectors.stock import leaving_on, stores_ahead
from production.services.bones import bones_save
from production.services.dispatch import Picked, dispatch_confirm
from production.services.lot_decisions import lot_count, lot_discard, lot_hold, lot_release
from production.services.lots import lot_make


class Lots(KitchenView):
    @documented("lots", tag="lots", answer=paged(LotOut), parameters=[PageQuery, LotsQuery], refusals=(*ROLE, 400))
    def get(self, request: Request, kitchen: str) -> Response:
        """List the lots of which something is left, first expired first."""
        query = LotsQuery(data=request.query_params)
        query.is_valid(raise_exception=True)
        found = lots_of(by=self.by) if query.validated_data["all_lots"] else lots_there(by=self.by)
        return page_of(request, found, LotOut)

    @documented("lot_make", tag="lots", request=LotBody, answer=LotOut, refusals=(*ROLE, *BODY, 409, 422))
    def post(self, request: Request, kitchen: str) -> Response:
        """Make a lot of a draw whose cooling logs are closed; it is held until it is released."""
        body = LotBody(data=request.data)
        body.is_valid(raise_exception=True)
        return Response(LotOut(lot_make(by=self.by, now=timezone.now(), **body.validated_data)).data)


class LotSteps(KitchenView):
    @documented("lot_step", tag="lots", request=LotStepBody, answer=LotOut, refusals=(*ROLE, *BODY, 409, 422))
    def post(self, request: Request, kitchen: str, lot: str) -> Response:
        """Hold, release, discard or count a lot; refused when somebody has changed it since, or on weak grounds."""
        body = LotStepBody(data=request.data)
        body.is_valid(raise_exception=True)
        return Response(LotOut(self._do(lot, dict(body.validated_data))).data)

    def _do(self, lot: str, said: dict[str, Any]) -> Any:
        about: dict[str, Any] = {
            "by": self.by,
            "code": lot,
            "reason": said["reason"],
            "key": said["key"],
            "now": timezone.now(),
        }
        match said["step"]:
            case "hold":
                return lot_hold(**about, seen=said["seen"])
            case "release":
                return lot_release(**about, seen=said["seen"])
            case "discard":
                return lot_discard(**about, seen_left=said["seen_left"], containers=said["containers"])
            case _:
                return lot_count(**about, seen_left=said["seen_left"], found=said["containers"])


class Stores(KitchenView):
    @documented("stores", tag="lots", answer=StoreOut(many=True), refusals=ROLE)
    def get(self, request: Request, kitchen: str) -> Response:
        """Tell how full each store is today and in the days ahead."""
        return Response(StoreOut(stores_ahead(by=self.by, now=timezone.now()), many=True).data)


class Dispatches(KitchenView):
    @documented("dispatches", tag="lots", answer=LeavingsOut, parameters=[DispatchQuery], refusals=(*ROLE, 400, 422))
    def get(self, request: Request, kitchen: str) -> Response:
        """Tell what leaves on a day and which lots to take it from, first expired first."""
        query = DispatchQuery(data=request.query_params)
        query.is_valid(raise_exception=True)
        day = query.validated_data["day"]
        lines = leaving_on(by=self.by, day=day, now=timezone.now())
        return Response(LeavingsOut({"day": day, "lines": lines}).data)

    @documented(
        "dispatch_confirm", tag="lots", request=DispatchBody, answer=DispatchedOut, refusals=(*ROLE, *BODY, 409, 422)
    )
    def post(self, request: Request, kitchen: str) -> Response:
        """Record what leaves for an order line."""
        body = DispatchBody(data=request.data)
        body.is_valid(raise_exception=True)
        said, now = body.validated_data, timezone.now()
        if said["left_at"] > now + timedelta(minutes=2):
            raise OutOfRange("It cannot have left in the future.", code="in-the-future", remedy="Correct the time.")
        entries = dispatch_confirm(
            by=self.by,
            line=said["id"],
            picked=[Picked(**pick) for pick in said["picks"]],
            happened_at=said["left_at"],
            key=said["key"],
            now=now,
        )
        return Response(DispatchedOut({"entries": [entry.number for entry in entries]}).data)


class BonesBank(KitchenView):
    @documented("bones", tag="lots", answer=paged(BonesOut), parameters=[PageQuery], refusals=(*ROLE, 400))
    def get(self, request: Request, kitchen: str) -> Response:
        """List what is left in the bank of saved bones, first expired first."""
        return page_of(request, bones_there(by=self.by), BonesOut)

    @documented("bones_save", tag="lots", request=BonesBody, answer=BonesOut, refusals=(*ROLE, *BODY, 409, 422))
    def post(self, request: Request, kitchen: str) -> Response:
        """Put bones or trim by."""
        body = BonesBody(data=request.data)
        body.is_valid(raise_exception=True)
        return Response(BonesOut(bones_save(by=self.by, now=timezone.now(), **body.validated_data)).data)
