"""Thermometers, deliveries and store temperatures over the API."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from production.models import PlanningWeek, Receipt, Supplier
from tests.api.conftest import ClientOf
from tests.conftest import Cast
from tests.services.cooling_kit import a_thermometer, sent, take


@pytest.fixture(autouse=True)
def week(planning_week: PlanningWeek) -> PlanningWeek:
    return planning_week


def address(name: str) -> str:
    return reverse(name, kwargs={"kitchen": "small"})


def arriving(cast: Cast, **changes: Any) -> dict[str, Any]:
    told = {
        "key": "r-1",
        "supplier": Supplier.objects.filter(kitchen=cast.kitchen)[0].code,
        "ingredient": "frames",
        "packs": 4,
        "mass_kg": "40.00",
        "came_as": "chilled",
        "temp": "38 F",
        "packs_sound": True,
        "supplier_lot": "CB-118",
        "received_at": timezone.now().isoformat(),
        "accept": True,
    }
    return told | changes


def test_a_delivery_comes_in_once_and_is_found_by_its_lot(cast: Cast, client_of: ClientOf) -> None:
    client, body = client_of(cast.cook.user), arriving(cast)
    first = client.post(address("api-receipts"), body, format="json")
    again = client.post(address("api-receipts"), body, format="json")
    assert (first.status_code, again.data["code"]) == (200, first.data["code"])
    assert (first.data["temp"], first.data["unit"], first.data["left_kg"]) == ("38", "F", "40.00")
    found = client.get(address("api-receipts"), {"find": "cb-118"})
    assert [each["lot"] for each in found.data["entries"]] == [Receipt.objects.get().lot.code]


def test_what_is_too_warm_is_refused_with_the_reason(cast: Cast, client_of: ClientOf) -> None:
    answer = client_of(cast.cook.user).post(address("api-receipts"), arriving(cast, temp="7 C"), format="json")
    assert (answer.status_code, answer.json()["code"]) == (403, "receipt-past-limits")
    assert "7 °C is warmer than 5 °C." in answer.json()["detail"]
    back = arriving(cast, temp="7 C", accept=False, reason="too warm")
    answer = client_of(cast.cook.user).post(address("api-receipts"), back, format="json")
    assert (answer.status_code, answer.data["accepted"], answer.data["lot"]) == (200, False, None)


@pytest.mark.parametrize(("role", "status"), [("inspector", 403), ("administrator", 403), ("cook", 200)])
def test_only_who_works_in_the_kitchen_takes_in(cast: Cast, client_of: ClientOf, role: str, status: int) -> None:
    client = client_of(getattr(cast, role).user)
    assert client.post(address("api-receipts"), arriving(cast), format="json").status_code == status


def test_stores_tell_when_they_were_too_warm(cast: Cast, client_of: ClientOf) -> None:
    now = timezone.now()
    take(cast.cook, sent("storage_temp", "store/walk-in", now, {"temp": "7.25", "measured": "food"}), now=now)
    answer = client_of(cast.inspector.user).get(address("api-store-temps"))
    store = next(each for each in answer.data if each["store"] == "walk-in")
    assert (store["last"]["temp"], store["most_c"], store["is_overdue"]) == ("7.25", "5.0", False)
    assert [(each["state"], each["measured"]) for each in store["excursions"]] == [("over", "food")]


def test_thermometers_tell_how_their_checks_stand(cast: Cast, client_of: ClientOf) -> None:
    a_thermometer(cast.manager, check_due_on=None)
    answer = client_of(cast.cook.user).get(address("api-thermometers"))
    assert [(each["code"], each["is_overdue"]) for each in answer.data] == [("t1", True)]
