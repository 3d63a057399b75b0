"""Logs to review and deviations over the API."""

from __future__ import annotations

from typing import Any

import pytest
import time_machine
from rest_framework.test import APIClient

from production.models import CoolingRecord, Entry, Lot, PlanningWeek
from production.services.reviews import review_sign
from tests.api.conftest import ClientOf
from tests.conftest import Cast
from tests.services.review_kit import after
from tests.web.inspection_kit import some_logs

BASE = "/api/v1/kitchens/small"


@pytest.fixture
def logs(cast: Cast, planning_week: PlanningWeek) -> Any:
    """Two closed logs, looked at the morning after."""
    found = some_logs(cast, planning_week, good=1)
    with time_machine.travel(after(found[0], 1000), tick=False):
        yield found


def test_logs_are_listed_as_on_the_page(cast: Cast, logs: list[CoolingRecord], client_of: ClientOf) -> None:
    client = client_of(cast.inspector.user)
    listed = client.get(f"{BASE}/reviews").data
    assert [each["subject"] for each in listed["entries"]] == [each.subject for each in logs]
    first = listed["entries"][0]
    assert (first["verdict"], first["review"], first["deviations"]) == ("breached", "waiting", [1])
    assert first["lots"] == [Lot.objects.get().code]
    seen = Entry.objects.filter(subject=logs[1].subject).order_by("-number")[0].number
    told: dict[str, Any] = {"meaning": "review", "findings": "", "password": "steam and ladles", "key": "s"}
    review_sign(by=cast.inspector, subject=logs[1].subject, seen=seen, now=after(logs[0], 1000), **told)
    (signed,) = client.get(f"{BASE}/reviews?review=signed&verdict=met").data["entries"]
    assert (signed["review"], signed["signed_by"]) == ("signed", "inspector")
    assert client.get(f"{BASE}/reviews?verdict=fine").status_code == 400


def test_a_deviation_is_acted_upon_and_closed(cast: Cast, logs: list[CoolingRecord], client_of: ClientOf) -> None:
    cook, manager = client_of(cast.cook.user), client_of(cast.manager.user)

    def post(client: APIClient, part: str, **body: str) -> Any:
        return client.post(f"{BASE}/deviations/1/{part}", body, format="json")

    action = {"key": "a", "measure": "discard", "what": "Poured away", "witness": "Kim"}
    first = post(cook, "actions", **action)
    assert (first.status_code, post(cook, "actions", **action).data) == (200, first.data)
    assert Entry.objects.get(number=first.data["entry"]).kind == "corrective_action"
    closing = {"key": "c", "cause": "No ice", "prevention": "Weigh ice", "disposition": "discard", "quantity": "all"}
    assert post(cook, "closing", **closing, witness="Kim").status_code == 403
    refused = post(manager, "closing", **closing)
    assert (refused.status_code, refused.json()["code"]) == (422, "deviation-not-told")
    closed = post(manager, "closing", **closing, witness="Kim").data
    assert (closed["state"], closed["disposition"], closed["closing"]["cause"]) == ("closed", "discard", "No ice")
    assert post(manager, "closing", **closing | {"key": "d"}, witness="Kim").status_code == 409
    assert Lot.objects.get().status == "discarded"
    assert manager.get(f"{BASE}/deviations?state=open").data["total"] == 0
    assert manager.get(f"{BASE}/deviations/2").status_code == 404
