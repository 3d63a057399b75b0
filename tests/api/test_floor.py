"""Entries of the floor over the API."""

from __future__ import annotations

import pytest
from django.urls import reverse

from production.models import Entry
from production.services import floor
from tests.api.conftest import ClientOf
from tests.conftest import Cast
from tests.services.test_floor import taste
from tests.web.test_floor_door import past


@pytest.fixture(autouse=True)
def tasting(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(floor.KINDS, "tasted", taste)


def address() -> str:
    return reverse("api-floor-entries", kwargs={"kitchen": "small"})


def test_a_gateway_sends_entries_with_its_token(cast: Cast, client_of: ClientOf) -> None:
    sent = {"entries": [past("a"), {"key": "b"}, past("a")]}
    answer = client_of(cast.cook.user).post(address(), sent, format="json")
    assert [each["outcome"] for each in answer.data["answers"]] == ["kept", "refused", "known"]
    assert Entry.objects.get().by == cast.cook.user


@pytest.mark.parametrize(
    ("role", "status"),
    [("manager", 200), ("cook", 200), ("inspector", 403), ("administrator", 403), ("outsider", 404)],
)
def test_only_who_may_record_sends_entries(cast: Cast, client_of: ClientOf, role: str, status: int) -> None:
    client = client_of(getattr(cast, role).user)
    assert client.post(address(), {"entries": [past("a")]}, format="json").status_code == status
    assert Entry.objects.count() == (status == 200)


def test_a_body_without_entries_is_refused_whole(cast: Cast, client_of: ClientOf) -> None:
    client = client_of(cast.cook.user)
    assert client.post(address(), {"entries": 3}, format="json").status_code == 422
    assert client.post(address(), [1], format="json").status_code == 400
