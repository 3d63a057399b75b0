"""The address that tablets send their entries to."""

from __future__ import annotations

import json

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from production.models import Entry, PlanAsk, PlanningWeek
from production.services import floor
from tests.conftest import Cast
from tests.services.floor_runs import RUN, published, tablet_of
from tests.services.test_floor import entry, taste
from tests.web.conftest import signed_in


@pytest.fixture(autouse=True)
def tasting(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(floor.KINDS, "tasted", taste)


def address(cast: Cast) -> str:
    return reverse("floor-entries", args=[cast.kitchen.code])


def body(*entries: object) -> str:
    return json.dumps({"entries": entries})


def past(key: str) -> dict[str, object]:
    return entry(key) | {"happened_at": "2026-03-01T10:00:00-07:00"}


def test_answers_come_in_the_order_of_the_entries(cast: Cast) -> None:
    sent = body(past("a"), {"key": "b"}, past("c"), past("a"))
    answer = signed_in(cast.cook).post(address(cast), sent, content_type="application/json")
    found = answer.json()
    assert [(each["key"], each["outcome"], each["number"]) for each in found["answers"]] == [
        ("a", "kept", 1),
        ("b", "refused", None),
        ("c", "kept", 2),
        ("a", "known", 1),
    ]
    assert set(found) == {"server_now", "device_offset_s", "notice", "answers"}
    assert "no-store" in answer.headers["Cache-Control"]


def test_an_inspector_is_told_so_in_json(cast: Cast) -> None:
    answer = signed_in(cast.inspector).post(address(cast), body(past("a")), content_type="application/json")
    assert (answer.status_code, answer.json()["code"]) == (403, "not-allowed")
    assert not Entry.objects.exists()


def test_a_page_of_another_site_cannot_record(cast: Cast) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(cast.cook.user)
    assert client.post(address(cast), body(past("a")), content_type="application/json").status_code == 403
    assert not Entry.objects.exists()


def test_a_manager_who_tells_the_planner_finds_what_the_floor_has_recorded(
    cast: Cast, planning_week: PlanningWeek, clock: time_machine.Traveller
) -> None:
    plan = published(cast, planning_week)
    tablet = tablet_of(cast.cook, plan)
    tablet.do("run_begun", 30, step="begin")
    tablet.do("boil_reached", 150, step="boil")
    clock.move_to(tablet.at(151))
    page = signed_in(cast.manager).get(reverse("changes", args=["small", planning_week.starts_on]), {"run": RUN})
    forms = page.context["forms"]
    assert forms["begun"].initial["start_at"].isoformat() == "2027-02-02T06:30:00"
    assert forms["boil"].initial["boil_at"].isoformat() == "2027-02-02T08:30:00"
    assert forms["hold"].initial["start_at"].isoformat() == "2027-02-02T06:00:00"
    tablet.do("run_broken_off", 160, why="scorched", contents="discarded")
    page = signed_in(cast.manager).get(reverse("changes", args=["small", planning_week.starts_on]), {"run": RUN})
    assert page.context["forms"]["lost"].initial["reason"] == "scorched"
    assert not PlanAsk.objects.exists()
