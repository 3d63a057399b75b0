"""Whatever an inspector sends, and wherever to: nothing changes but what verification writes."""

from __future__ import annotations

from collections.abc import Iterator
from json import dumps
from typing import Any

import pytest
from django.apps import apps
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse

from production.models import CoolingRecord, Deviation, Plan, PlanningWeek
from tests.api.conftest import ONLY_DONE, PLACES, POT_OUT, Planned, planned
from tests.conftest import Cast
from tests.services.review_kit import key
from tests.web.inspection_kit import some_logs
from tests.web.test_walk import Place, places

__all__ = ["places", "planned"]
PASSWORD = "steam and ladles"
METHODS = ("post", "put", "patch", "delete")
# Where inspectors verify, and where they take the records out (that writes a job and no record); a form that is not
# filled in is shown again there. Everywhere else they are refused.
OPEN_AT = {"inspection-log": (403, 405, 422), "exports": (200, 405, 422)}
REFUSED = (403, 404, 405)
AT = "2027-02-02T08:00:00Z"
# Bodies that would do something in other hands: a refusal must not be owed to a body that cannot be read.
BODIES: dict[str, dict[str, Any]] = {
    "api-order-line": {"containers": 7, "revision": 1},
    "api-formula-roles": {"role": "collagen_rich_meat", "ingredient": "feet"},
    "api-asks": POT_OUT,
    "api-replans": {"seen": 1},
    "api-plan-publish": {"seen": 1},
    "api-move": {"pot": "tall", "start_at": "2027-02-02T14:00:00Z"},
    "api-lots": {
        "key": "k",
        "coolings": ["cooling/x"],
        "product": "poultry-5",
        "containers": 1,
        "store": "walk-in",
        "packed_at": AT,
    },
    "api-lot-steps": {"key": "k", "step": "hold", "reason": "Because", "seen": "free"},
    "api-dispatches": {
        "key": "k",
        "id": 1,
        "picks": [{"lot": "270201001J", "containers": 1}],
        "left_at": "2026-01-01T08:00:00Z",
    },
    "api-bones": {"key": "k", "ingredient": "feet", "mass_kg": "2.00", "saved_on": "2027-02-01", "store": "walk-in"},
    "api-receipts": {
        "key": "k",
        "supplier": "butcher",
        "ingredient": "feet",
        "packs": 1,
        "mass_kg": "5.00",
        "came_as": "chilled",
        "packs_sound": True,
        "received_at": "2026-01-01T08:00:00Z",
        "accept": False,
        "reason": "Too warm",
    },
    "api-deviation-actions": {"key": "k", "measure": "put_right", "what": "Ice bought"},
    "api-deviation-closing": {"key": "k", "cause": "Ice", "prevention": "More ice", "disposition": "none"},
}
# What a hand that tries might send: all the names that forms here use for what they do.
DOINGS = ("act", "close", "release", "discard", "hold", "count", "evaluate", "answer", "labels", "use", "send", "check")


def rows() -> dict[str, Any]:
    """Everything in every table, but for the counter of wrong passwords."""
    ours: list[Any] = [*apps.get_app_config("production").get_models(), User]
    return {
        each.__name__: sorted(map(repr, each._default_manager.values_list()))
        for each in ours
        if each.__name__ != "SignatureTries"
    }


def changed(before: dict[str, Any], after: dict[str, Any]) -> list[str]:
    return [name for name in after if after[name] != before[name]]


@pytest.fixture
def hand(cast: Cast) -> Client:
    """A browser in which the inspector has signed in."""
    client = Client(raise_request_exception=True)
    assert client.login(username="inspector", password=PASSWORD)
    User.objects.filter(pk=cast.inspector.user_id).update(last_login=None)
    return client


@pytest.fixture
def log(cast: Cast, planning_week: PlanningWeek, places: dict[str, Place]) -> CoolingRecord:
    """A log that missed a limit, with its deviation, at the addresses that the walk leaves empty."""
    found = some_logs(cast, planning_week, good=0)[0]
    name = found.subject.removeprefix("cooling/")
    for address, part in (("inspection-log", name), ("cooling-group", name), ("deviation", 1)):
        places[address] = Place(address, reverse(address, args=[cast.kitchen.code, part]), places[address].method)
    return found


def sent(log: CoolingRecord) -> Iterator[dict[str, str]]:
    """Bodies of forms that would do something in other hands."""
    yield {}
    for doing in DOINGS:
        told = {"key": key(), "seen": "held", "seen_left": "4", "reason": "Because", "containers": "1"}
        told |= {"measure": "discard", "what": "Poured away", "cause": "Ice", "prevention": "More", "answer": "So"}
        told |= {"disposition": "discard", "quantity": "all", "witness": "Kim", "found": "1", "subject": log.subject}
        yield {"do": doing, **{f"{doing}-{name}": value for name, value in told.items()}, **told}


def test_no_page_lets_an_inspector_change_anything_but_verifications(
    cast: Cast, plan: Plan, log: CoolingRecord, places: dict[str, Place], hand: Client
) -> None:
    before, wrong = rows(), []
    for place in places.values():
        for method in METHODS:
            for body in sent(log) if method == "post" else [{}]:
                status = getattr(hand, method)(place.href, body).status_code
                if status not in OPEN_AT.get(place.name, REFUSED):
                    wrong.append((place.name, method, body.get("do"), status))
    assert not wrong, "\n" + "\n".join(map(str, wrong))
    assert changed(before, rows()) == []


def test_reading_every_page_changes_nothing(
    cast: Cast, plan: Plan, log: CoolingRecord, places: dict[str, Place], hand: Client
) -> None:
    before = rows()
    for place in places.values():
        hand.get(place.href)
        hand.head(place.href)
    assert changed(before, rows()) == []


def test_no_call_of_the_api_lets_an_inspector_change_anything(cast: Cast, planned: Planned, hand: Client) -> None:
    before, wrong = rows(), []
    for name in PLACES:
        for method in METHODS:
            body = dumps(BODIES.get(name, {}))
            answer = hand.generic(method.upper(), planned.address(name), body, content_type="application/json")
            if answer.status_code not in REFUSED:
                wrong.append((name, method, answer.status_code))
    assert not wrong, "\n" + "\n".join(map(str, wrong))
    assert changed(before, rows()) == []


def test_the_verification_address_writes_what_verification_writes_and_no_more(
    cast: Cast, plan: Plan, log: CoolingRecord, places: dict[str, Place], hand: Client
) -> None:
    before = rows()
    form = next(each for each in hand.get(places["inspection-log"].href).context["forms"] if each.name == "sign")
    told = {"do": "sign", "sign-meaning": "review", "sign-password": PASSWORD}
    told |= {f"sign-{name}": str(form.initial[name]) for name in ("key", "seen")}
    assert hand.post(places["inspection-log"].href, told).status_code == 302
    assert sorted(changed(before, rows())) == ["Entry", "RecordBook", "Review"]
    assert Deviation.objects.get().state == "open"


def test_taking_the_records_out_writes_a_job_and_no_record(
    cast: Cast, plan: Plan, log: CoolingRecord, places: dict[str, Place], hand: Client
) -> None:
    before = rows()
    told = {"first_day": "2027-02-01", "last_day": "2027-02-02", "key": "k"}
    assert hand.post(places["exports"].href, told).status_code == 302
    assert changed(before, rows()) == ["Job"]


def test_every_address_that_only_does_something_was_tried() -> None:
    assert set(PLACES) >= ONLY_DONE | set(BODIES)
