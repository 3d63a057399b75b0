"""What the floor records, sent in by gateways and other programs."""

from __future__ import annotations

from django.utils import timezone
from rest_framework.exceptions import ParseError
from rest_framework.request import Request
from rest_framework.response import Response

from api.door import BODY, ROLE, KitchenView, documented
from api.floor import EntriesBody, EntriesOut
from api.reading import SmallJson
from production.services.floor import floor_take
from production.services.floor_reading import LARGEST_BYTES


class FloorJson(SmallJson):
    """A JSON body of entries."""

    largest_bytes = LARGEST_BYTES


class Entries(KitchenView):
    parser_classes = (FloorJson,)

    @documented("floor_entries", tag="floor", request=EntriesBody, answer=EntriesOut, refusals=(*ROLE, *BODY, 422))
    def post(self, request: Request, kitchen: str) -> Response:
        """Take entries, each by itself: kept, known already, kept but questioned, or refused with the reason."""
        if not isinstance(request.data, dict):
            raise ParseError("The body is an object with a list of entries.")
        return Response(EntriesOut(floor_take(by=self.by, body=dict(request.data), now=timezone.now())).data)
