"""The address that tablets send their entries to."""

from __future__ import annotations

import json

import pytest
from django.test import Client
from django.urls import reverse

from production.models import Entry
from production.services import floor
from tests.conftest import Cast
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
