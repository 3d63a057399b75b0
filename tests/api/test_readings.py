"""Readings of probes over the API."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from production.models import CoolingRecord, PlanningWeek, Reading
from tests.api.conftest import ClientOf
from tests.conftest import Cast
from tests.services.cooling_kit import a_run, a_thermometer, opened, sent, take


@pytest.fixture
def cooling(cast: Cast, planning_week: PlanningWeek) -> CoolingRecord:
    """A draw that has just been poured, with a probe in it."""
    now = timezone.now()
    found = opened(cast.cook, a_run(cast.manager, planning_week), at=now)
    a_thermometer(cast.manager, code="p1", name="Probe 1", kind="probe")
    told = {"cooling": found.subject}
    take(cast.cook, sent("probe_placed", "thermometer/p1", now, told), now=now)
    return found


def address() -> str:
    return reverse("api-readings", kwargs={"kitchen": "small"})


def reading(cooling: CoolingRecord, temp: str = "82.5", **fields: Any) -> dict[str, Any]:
    return {"probe": "p1", "at": cooling.opened_at.isoformat(), "temp": temp} | fields


def test_a_gateway_is_answered_for_each_reading(cast: Cast, client_of: ClientOf, cooling: CoolingRecord) -> None:
    broken: list[Any] = [3, {}, reading(cooling, temp="x" * 30), reading(cooling, at="noon"), reading(cooling, key=7)]
    body = {"readings": [*broken, reading(cooling), reading(cooling)]}
    answer = client_of(cast.cook.user).post(address(), body, format="json")
    assert answer.status_code == 200
    assert [each["outcome"] for each in answer.data["answers"]] == ["refused"] * 5 + ["kept"] * 2
    assert {each["code"] for each in answer.data["answers"][:5]} == {"reading-unreadable"}
    assert answer.data["counts"] == {"kept": 2, "known": 0, "questioned": 0, "refused": 5}
    assert Reading.objects.get().cooling == cooling
    again = client_of(cast.cook.user).post(address(), {"readings": [reading(cooling)]}, format="json")
    assert again.data["counts"]["known"] == 1


@pytest.mark.parametrize(
    ("role", "status"),
    [("manager", 200), ("cook", 200), ("inspector", 403), ("administrator", 403), ("outsider", 404)],
)
def test_only_who_may_record_sends_readings(
    cast: Cast, client_of: ClientOf, cooling: CoolingRecord, role: str, status: int
) -> None:
    client = client_of(getattr(cast, role).user)
    assert client.post(address(), {"readings": [reading(cooling)]}, format="json").status_code == status
    assert Reading.objects.count() == (status == 200)


def test_a_body_without_readings_is_refused_whole(cast: Cast, client_of: ClientOf) -> None:
    client = client_of(cast.cook.user)
    for body in ({"readings": 3}, {}, [1]):
        assert client.post(address(), body, format="json").status_code in (400, 422)
