"""Readings of probes, sent in by a gateway."""

from __future__ import annotations

from dataclasses import asdict

from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response

from api.door import BODY, ROLE, KitchenView, documented
from api.reading import SmallJson
from api.readings import ReadingsBody, ReadingsOut
from production.services.cooling_post import readings_post

LARGEST_BYTES = 1024 * 1024


class ReadingsJson(SmallJson):
    """A JSON body of readings."""

    largest_bytes = LARGEST_BYTES


class Readings(KitchenView):
    parser_classes = (ReadingsJson,)

    @documented("readings_bulk", tag="floor", request=ReadingsBody, answer=ReadingsOut, refusals=(*ROLE, *BODY, 422))
    def post(self, request: Request, kitchen: str) -> Response:
        """Take up to 5,000 readings; each goes to the cooling in which its probe stood, and is answered by itself."""
        posted = readings_post(by=self.by, body=request.data, now=timezone.now())
        # Thousands of answers are plain data already: a serializer would only look at each of them again.
        answers = [asdict(each) for each in posted.answers]
        return Response({"server_now": posted.server_now, "counts": posted.counts, "answers": answers})
