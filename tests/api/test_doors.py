"""Who may come in where: every address as every member of the cast, as people of other kitchens, and as nobody."""

from __future__ import annotations

from json import dumps
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import URLPattern, reverse
from rest_framework.test import APIClient

from api.urls import urlpatterns
from production.domain.week_file import dumps_week
from production.models import Job, OrderLine, PlanningWeek
from production.services.plans import plan_request
from production.services.week_import import week_import
from tests.api.conftest import ONLY_DONE, PLACES, POT_OUT, QUERIES, ClientOf, Planned
from tests.builders import a_kitchen, a_week
from tests.conftest import Cast

OPEN = {"api-sign-in", "api-schema-week-file", "api-schema-plan", "api-openapi", "api-nothing-here"}
FOR_EVERYBODY_SIGNED_IN = {"api-sign-out", "api-kitchens", "api-workings", "api-working", "api-compute"}
OF_A_JOB = {"api-job", "api-job-cancel"}
ALL, NOT_COOK, MANAGER = "manager cook inspector administrator", "manager inspector administrator", "manager"
READERS = {
    "api-kitchen": ALL,
    "api-weeks": ALL,
    "api-week": ALL,
    "api-week-file": NOT_COOK,
    "api-order-lines": NOT_COOK,
    "api-order-line": NOT_COOK,
    "api-formula-roles": NOT_COOK,
    "api-asks": ALL,
    "api-difference": ALL,
    "api-fixes": ALL,
    "api-move": ALL,
    "api-plans": ALL,
    "api-plan": ALL,
    "api-plan-file": NOT_COOK,
    "api-figures": ALL,
    "api-figure": ALL,
    "api-purchase-lists": NOT_COOK,
    "api-storage-choices": NOT_COOK,
    "api-documents": ALL,
    "api-document": ALL,
    "api-document-pdf": ALL,
    "api-jobs": ALL,
    "api-reviews": NOT_COOK,
    "api-deviations": ALL,
    "api-deviation": ALL,
    "api-thermometers": ALL,
    "api-receipts": ALL,
    "api-store-temps": ALL,
    "api-lots": ALL,
    "api-stores": ALL,
    "api-dispatches": ALL,
    "api-bones": ALL,
    "api-trace": ALL,
    "api-hazard-plans": ALL,
}


def routes() -> dict[str, str]:
    """Name and address pattern of everything."""
    return {str(each.name): str(each.pattern) for each in urlpatterns if isinstance(each, URLPattern)}


def body_of(response: Any) -> bytes:
    return bytes(response.content)


def statuses(cast: Cast, client_of: ClientOf, method: str, address: str, body: Any = None) -> dict[str, int]:
    """The answer's status for each member, outsider and stranger."""
    people: dict[str, User] = {each.role: each.user for each in cast.members()}
    people |= {"outsider": cast.outsider.user, "stranger": cast.stranger}
    return {
        name: client_of(user).generic(method, address, body or "", content_type="application/json").status_code
        for name, user in people.items()
    }


def expected(allowed: str, *, status: int = 200, refused: int = 403) -> dict[str, int]:
    members = {role: status if role in allowed.split() else refused for role in ALL.split()}
    return members | {"outsider": 404, "stranger": 404}


def test_every_address_is_walked_by_these_tests() -> None:
    assert set(routes()) == OPEN | FOR_EVERYBODY_SIGNED_IN | OF_A_JOB | set(PLACES)
    assert set(PLACES) == set(READERS) | ONLY_DONE
    assert {name for name, pattern in routes().items() if pattern.startswith("kitchens/")} == set(PLACES) | OF_A_JOB


@pytest.mark.parametrize("name", sorted(READERS))
def test_members_read_what_their_role_may_and_others_find_nothing(
    name: str, cast: Cast, planned: Planned, client_of: ClientOf
) -> None:
    assert statuses(cast, client_of, "GET", planned.address(name) + QUERIES.get(name, "")) == expected(READERS[name])


def test_nobody_comes_in_without_signing_in(planned: Planned) -> None:
    for name in PLACES:
        for method in ("GET", "POST", "PATCH", "PUT", "DELETE", "OPTIONS"):
            response = APIClient().generic(method, planned.address(name))
            assert response.status_code == 401, name
            assert response["WWW-Authenticate"] == "Token"
            assert response["Content-Type"] == "application/problem+json"


def test_what_is_for_everybody_is_still_not_for_strangers_without_a_token(db: None) -> None:
    for name in FOR_EVERYBODY_SIGNED_IN:
        places = {"name": "boiling_point_c"} if name in {"api-working", "api-compute"} else {}
        for method in ("GET", "POST"):
            assert APIClient().generic(method, reverse(name, kwargs=places)).status_code == 401, name


@pytest.mark.parametrize("method", ["GET", "POST", "PATCH", "PUT", "DELETE", "OPTIONS"])
def test_outsiders_get_the_same_answer_for_a_kitchen_and_for_none(
    method: str, cast: Cast, planned: Planned, client_of: ClientOf
) -> None:
    client = client_of(cast.outsider.user)
    for name in PLACES:
        theirs = client.generic(method, planned.address(name), "{}", content_type="application/json")
        nowhere = client.generic(method, planned.address(name, kitchen="none"), "{}", content_type="application/json")
        assert (theirs.status_code, body_of(theirs)) == (404, body_of(nowhere)), name


def test_an_outsider_finds_nothing_of_the_other_kitchen_under_the_own_one(
    cast: Cast, planned: Planned, client_of: ClientOf
) -> None:
    home = a_kitchen(code="elsewhere", name="Kitchen elsewhere")
    week_import(week=a_week(kitchen=home, order_lines=(), lots=()), by=cast.outsider)
    job_id = plan_request(by=cast.manager, week=planned.week)
    client = client_of(cast.outsider.user)
    for name in sorted(PLACES):
        response = client.get(planned.address(name, kitchen="elsewhere") + QUERIES.get(name, ""))
        found = body_of(response)
        if name in ONLY_DONE:
            assert response.status_code == 405, name
        elif name in {
            "api-asks",
            "api-kitchen",
            "api-weeks",
            "api-week",
            "api-week-file",
            "api-order-lines",
            "api-formula-roles",
            "api-plans",
            "api-trace",
            "api-hazard-plans",
            "api-jobs",
            "api-thermometers",
            "api-receipts",
            "api-store-temps",
            "api-lots",
            "api-stores",
            "api-dispatches",
            "api-bones",
            "api-reviews",
            "api-deviations",
        }:
            assert response.status_code == 200, name
        else:
            assert response.status_code == 404, name
        for secret in (b"Small test kitchen", b'"L1"', planned.plan.input_sha256.encode()):
            assert secret not in found, name
    for name in sorted(OF_A_JOB):
        address = reverse(name, kwargs={"kitchen": "elsewhere", "job": job_id})
        assert client.generic("POST" if name == "api-job-cancel" else "GET", address).status_code == 404
    assert not Job.objects.get(pk=job_id).cancel_requested


def test_only_the_manager_changes_an_order_line(cast: Cast, planned: Planned, client_of: ClientOf) -> None:
    found = statuses(cast, client_of, "PATCH", planned.address("api-order-line"), '{"containers": 7, "revision": 1}')
    assert found == expected(MANAGER)
    assert OrderLine.objects.get(week=planned.week, code="L1").containers == 7


def test_only_manager_and_administrator_bring_in_a_week_file(cast: Cast, planned: Planned, client_of: ClientOf) -> None:
    address, may = planned.address("api-weeks"), "manager administrator"
    assert statuses(cast, client_of, "POST", address, dumps_week(a_week())) == expected(may)
    nonsense = statuses(cast, client_of, "POST", address, "nonsense")
    assert nonsense == expected(may, status=422)


def test_only_an_administrator_brings_in_other_settings(cast: Cast, planned: Planned, client_of: ClientOf) -> None:
    changed = dumps_week(a_week(kitchen=a_kitchen(room_temp_c=31.0)))
    found = statuses(cast, client_of, "POST", planned.address("api-weeks"), changed)
    assert found == expected("administrator") | {"manager": 422}


def test_only_the_manager_fills_a_role(cast: Cast, planned: Planned, client_of: ClientOf) -> None:
    found = statuses(
        cast,
        client_of,
        "POST",
        planned.address("api-formula-roles"),
        '{"role": "collagen_rich_meat", "ingredient": "feet"}',
    )
    assert found == expected(MANAGER)


@pytest.mark.parametrize("name", ["api-plans", "api-documents"])
def test_only_the_manager_asks_for_work(name: str, cast: Cast, planned: Planned, client_of: ClientOf) -> None:
    assert statuses(cast, client_of, "POST", planned.address(name)) == expected(MANAGER, status=202)
    assert Job.objects.count() == 1


@pytest.mark.parametrize(
    ("name", "body", "status"),
    [
        ("api-replans", '{"seen": 1}', 202),
        ("api-fixes", "", 202),
        ("api-fix-apply", "", 202),
        ("api-plan-publish", '{"seen": 1}', 200),
        ("api-plan-take", "", 409),
        ("api-plan-leave", "", 409),
        ("api-asks", dumps(POT_OUT), 200),
        ("api-ask-withdraw", "", 409),
        ("api-move", '{"pot": "tall", "start_at": "2027-02-02T14:00:00Z"}', 200),
    ],
)
def test_only_the_manager_decides_about_plans(
    name: str, body: str, status: int, cast: Cast, planned: Planned, client_of: ClientOf
) -> None:
    assert statuses(cast, client_of, "POST", planned.address(name), body) == expected(MANAGER, status=status)


def test_only_the_manager_stops_a_job(cast: Cast, planned: Planned, client_of: ClientOf) -> None:
    place = {"kitchen": "small", "job": plan_request(by=cast.manager, week=planned.week)}
    others = [each for each in cast.members() if each != cast.manager]
    for member in others:
        assert client_of(member.user).post(reverse("api-job-cancel", kwargs=place)).status_code == 403
    assert Job.objects.get().state == "queued"
    assert statuses(cast, client_of, "GET", reverse("api-job", kwargs=place)) == expected(ALL)
    assert client_of(cast.manager.user).post(reverse("api-job-cancel", kwargs=place)).data["state"] == "cancelled"


def test_a_cook_sees_neither_prices_nor_purchase_lists(cast: Cast, planned: Planned, client_of: ClientOf) -> None:
    client = client_of(cast.cook.user)
    listed = client.get(planned.address("api-documents")).data["entries"]
    assert {each["kind"] for each in listed} == {"batch_sheet", "cooling_log", "week_overview"}
    for name in ("api-document", "api-document-pdf"):
        assert client.get(planned.address(name, document=planned.purchase_list.pk)).status_code == 404
    plan = client.get(planned.address("api-plan"))
    assert plan.data["runs"]
    for word in (b"price", b"cost", b"value_per", b"contact"):
        assert word not in body_of(plan)


def test_a_session_of_the_pages_reads_and_changes_only_with_its_csrf_token(cast: Cast, planned: Planned) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(cast.manager.user)
    assert client.get(planned.address("api-plan")).status_code == 200
    refused = client.post(planned.address("api-plans"))
    assert (refused.status_code, refused["Content-Type"]) == (403, "application/problem+json")
    assert not Job.objects.exists()


def test_people_who_left_do_not_come_in(cast: Cast, planned: Planned, client_of: ClientOf) -> None:
    client = client_of(cast.manager.user)
    cast.manager.user.is_active = False
    cast.manager.user.save()
    assert client.get(planned.address("api-kitchen")).status_code == 401


def test_a_week_of_another_day_is_not_found(manager: APIClient, planning_week: PlanningWeek) -> None:
    for day in ("2027-02-02", "2027-02-31", "2027-2-1", "0000-00-00"):
        response = manager.get(f"/api/v1/kitchens/small/weeks/{day}/plans")
        assert (response.status_code, response["Content-Type"]) == (404, "application/problem+json")
