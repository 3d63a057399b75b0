"""Lots, stores, dispatches and saved bones over HTTP."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from rest_framework.test import APIClient

from production.models import Bones, Lot, OrderLine
from tests.api.conftest import ClientOf, Planned
from tests.conftest import Cast
from tests.lots import PACKED, a_cooling, a_lot, a_run

HOME = "/api/v1/kitchens/small"


@pytest.fixture(autouse=True)
def evening() -> Iterator[None]:
    with time_machine.travel(PACKED + timedelta(hours=1), tick=False):
        yield


@pytest.fixture
def cook(cast: Cast, client_of: ClientOf) -> APIClient:
    return client_of(cast.cook.user)


def done(client: APIClient, lot: Lot, **said: Any) -> Any:
    body = {"key": "k", "reason": "Looked at it"} | said
    return client.post(f"{HOME}/lots/{lot.code}/steps", body, format="json")


def test_a_draw_is_packed_and_listed(cook: APIClient, planned: Planned) -> None:
    cooling = a_cooling(a_run(planned.plan))
    body = {
        "key": "pack",
        "coolings": [cooling.subject],
        "product": "poultry-5",
        "containers": 8,
        "store": "walk-in",
        "packed_at": PACKED.isoformat(),
    }
    made = cook.post(f"{HOME}/lots", body, format="json").json()
    assert cook.post(f"{HOME}/lots", body, format="json").json() == made
    assert (made["status"], made["verdict"], made["left"]) == ("held", "met", 8)
    listed = cook.get(f"{HOME}/lots").json()
    assert [each["code"] for each in listed["entries"]] == [made["code"]]


def test_steps_are_done_once_and_the_second_of_two_is_told(cook: APIClient, cast: Cast, planned: Planned) -> None:
    lot = a_lot(cast, planned.plan)
    assert done(cook, lot, step="release", seen="held").json()["status"] == "free"
    assert done(cook, lot, step="release", seen="held").status_code == 200
    late = done(cook, lot, step="release", seen="held", key="other")
    assert (late.status_code, late.json()["code"]) == (409, "lot-decided-meanwhile")
    assert done(cook, lot, step="discard", seen_left=10, containers=4, key="d").json()["left"] == 6
    assert done(cook, lot, step="count", seen_left=6, containers=5, key="c").json()["left"] == 5
    assert done(cook, lot, step="hold", seen="free", key="h").json()["status"] == "held"


@pytest.mark.parametrize("said", [{"step": "release"}, {"step": "discard"}, {"step": "eat", "seen": "held"}])
def test_a_step_without_what_it_needs_is_refused(
    cook: APIClient, cast: Cast, planned: Planned, said: dict[str, Any]
) -> None:
    assert done(cook, a_lot(cast, planned.plan), **said).status_code == 400


def test_a_breached_lot_stays_and_an_inspector_changes_nothing(
    cook: APIClient, cast: Cast, planned: Planned, client_of: ClientOf
) -> None:
    lot = a_lot(cast, planned.plan, verdict="breached")
    refused = done(cook, lot, step="release", seen="held")
    assert (refused.status_code, refused.json()["code"]) == (403, "lot-not-yours-to-release")
    inspector = client_of(cast.inspector.user)
    assert done(inspector, lot, step="hold", seen="held").status_code == 403
    assert done(client_of(cast.outsider.user), lot, step="hold", seen="held").status_code == 404


def test_what_leaves_is_listed_with_its_lots_and_recorded(cook: APIClient, cast: Cast, planned: Planned) -> None:
    OrderLine.objects.filter(code="L2").delete()
    lot = a_lot(cast, planned.plan, containers=4, free=True)
    (line,) = cook.get(f"{HOME}/dispatches?day=2027-02-03").json()["lines"]
    assert line["picks"] == [{"lot": lot.code, "containers": 4}]
    assert (line["line"], line["short"], line["sent"]) == ("L1", 2, 0)
    body = {"key": "s", "id": line["id"], "picks": line["picks"], "left_at": PACKED.isoformat()}
    assert len(cook.post(f"{HOME}/dispatches", body, format="json").json()["entries"]) == 1
    again = cook.post(f"{HOME}/dispatches", body | {"key": "other"}, format="json")
    assert again.status_code == 409
    assert Lot.objects.get().left == 0
    assert cook.get(f"{HOME}/dispatches?day=9999-12-31").status_code == 422


def test_the_stores_tell_their_room(cook: APIClient, cast: Cast, planned: Planned) -> None:
    a_lot(cast, planned.plan)
    stores = {each["store"]: each for each in cook.get(f"{HOME}/stores").json()}
    assert stores["walk-in"]["days"][0]["litres"] > 90
    assert stores["freezer"]["freezing"][0]["hours"] == 0.0


def test_bones_are_put_by(cook: APIClient, planned: Planned) -> None:
    body = {"key": "b", "ingredient": "frames", "mass_kg": "12.50", "saved_on": "2027-02-02", "store": "freezer"}
    kept = cook.post(f"{HOME}/bones", body, format="json").json()
    assert (kept["left_kg"], kept["use_by"]) == ("12.50", "2027-05-02")
    assert cook.get(f"{HOME}/bones").json()["total"] == Bones.objects.count() == 1
    assert cook.post(f"{HOME}/bones", body | {"key": "c", "mass_kg": "0"}, format="json").status_code == 422
