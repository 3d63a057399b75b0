"""Bad requests: each is refused with a problem that says what and where; nothing is written and nothing breaks."""

from __future__ import annotations

import json
from io import BytesIO
from typing import Any

import pytest
from rest_framework.test import APIClient

from api.errors import problem_handler
from production.domain.errors import OutOfRange
from production.domain.week_file import LARGEST_BYTES, dump_week
from production.models import Job, OrderLine, PlanningWeek
from tests.api.conftest import Planned
from tests.builders import a_week
from tests.conftest import Cast

COMPUTE = "/api/v1/workings/boiling_point_c/compute"
WEEKS = "/api/v1/kitchens/small/weeks"
MEMBERS = {"type", "title", "status", "detail", "code", "numbers", "remedy"}


def send(client: APIClient, method: str, address: str, body: bytes, content_type: str = "application/json") -> Any:
    """The body as it is, byte for byte."""
    sender: Any = client.generic
    return sender(method, address, body, content_type=content_type)


def problem_of(response: Any, status: int, code: str) -> dict[str, Any]:
    """The problem, checked for its form."""
    assert response["Content-Type"] == "application/problem+json"
    assert response["Cache-Control"] == "no-store"
    problem: dict[str, Any] = json.loads(response.content)
    assert (response.status_code, problem["status"], problem["code"]) == (status, status, code)
    assert set(problem) - {"problems"} == MEMBERS
    assert problem["type"] == f"urn:potwright:problem:{code}"
    assert problem["detail"]
    return problem


@pytest.mark.parametrize(
    "body",
    [
        b"{",
        b"not json",
        b'{"arguments": NaN}',
        b'{"arguments": {"altitude_m": Infinity}}',
        b'{"arguments": {"altitude": "\\ud800"}}',
        b"\xff\xfe{}",
        b"[" * 30_000,
        b'{"a":' * 9_000,
        b"1" * 5_000,
    ],
)
def test_what_is_not_json_is_refused(body: bytes, manager: APIClient) -> None:
    problem_of(send(manager, "POST", COMPUTE, body), 400, "bad-request")


@pytest.mark.parametrize(
    ("arguments", "pointer"),
    [
        ({"altitude_m": None}, "/arguments/altitude_m"),
        ({"altitude_m": True}, "/arguments/altitude_m"),
        ({"altitude_m": [1]}, "/arguments/altitude_m"),
        ({"altitude_m": {"a": 1}}, "/arguments/altitude_m"),
        ({"altitude": "5200 ft" + " " * 80}, "/arguments/altitude"),
        ({"altitude": "5200\x00ft"}, "/arguments/altitude"),
        ({"a/b~c": None}, "/arguments/a~1b~0c"),
        ([1, 2], "/arguments"),
        ("altitude", "/arguments"),
    ],
)
def test_arguments_of_a_wrong_kind_are_refused_with_their_place(
    arguments: object, pointer: str, manager: APIClient
) -> None:
    response = manager.post(COMPUTE, {"arguments": arguments}, format="json")
    problem = problem_of(response, 400, "bad-request")
    assert [each["pointer"] for each in problem["problems"]] == [pointer]


@pytest.mark.parametrize("number", ["1e999", "-1e999", "1" + "0" * 400])
def test_numbers_that_no_computation_can_use_are_refused(number: str, manager: APIClient) -> None:
    body = f'{{"arguments": {{"altitude_m": {number}}}}}'.encode()
    problem_of(send(manager, "POST", COMPUTE, body), 400, "bad-request")


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        ({}, "missing-argument"),
        ({"height_m": 3}, "unknown-argument"),
        ({"altitude": "3 m", "altitude_m": 3}, "repeated-argument"),
        ({"altitude": 5200}, "unit-missing"),
        ({"altitude": "5200 kg"}, "wrong-kind"),
        ({"altitude_m": -10_000}, "out-of-range"),
    ],
)
def test_arguments_that_do_not_fit_are_refused_by_the_working(arguments: object, code: str, manager: APIClient) -> None:
    problem = problem_of(manager.post(COMPUTE, {"arguments": arguments}, format="json"), 422, code)
    assert problem["remedy"]


def test_an_unknown_working_is_not_found(manager: APIClient) -> None:
    problem_of(manager.get("/api/v1/workings/perpetual_motion_kw"), 404, "not-found")
    problem_of(manager.post("/api/v1/workings/perpetual_motion_kw/compute"), 404, "not-found")


@pytest.mark.parametrize(
    ("body", "status", "code"),
    [
        ({}, 400, "bad-request"),
        ({"containers": 3}, 400, "bad-request"),
        ({"containers": "many", "revision": 1}, 400, "bad-request"),
        ({"containers": 3.5, "revision": 1}, 400, "bad-request"),
        ({"containers": 3, "revision": 0}, 400, "bad-request"),
        ({"containers": 3, "revision": 10**30}, 400, "bad-request"),
        ([3, 1], 400, "bad-request"),
        ({"containers": 0, "revision": 1}, 422, "containers-out-of-range"),
        ({"containers": -3, "revision": 1}, 422, "containers-out-of-range"),
        ({"containers": 10**30, "revision": 1}, 422, "containers-out-of-range"),
    ],
)
def test_a_bad_change_of_an_order_line_changes_nothing(
    body: object, status: int, code: str, planning_week: PlanningWeek, manager: APIClient
) -> None:
    address = f"{WEEKS}/{planning_week.starts_on}/order-lines/L1"
    problem_of(manager.patch(address, body, format="json"), status, code)
    line = OrderLine.objects.get(week=planning_week, code="L1")
    assert (line.containers, line.revision) == (6, 1)


def test_a_bad_week_file_is_refused_with_every_problem_at_once(cast: Cast, manager: APIClient) -> None:
    document = dump_week(a_week())
    document["orders"]["lines"][0]["containers"] = -2
    document["surplus"] = 1
    problem = problem_of(manager.post(WEEKS, document, format="json"), 422, "bad-week-file")
    pointers = [each["pointer"] for each in problem["problems"]]
    assert "/surplus" in pointers
    assert "/orders/lines/0/containers" in pointers
    assert all(each["found"] and each["allowed"] and each["sentence"] for each in problem["problems"])
    assert not PlanningWeek.objects.exists()


@pytest.mark.parametrize("body", [b"", b"nonsense", b"null", b"[" * 100_000, b"\xff", b"{}", b'{"version": 99}'])
def test_a_week_file_that_is_none_is_refused(body: bytes, cast: Cast, manager: APIClient) -> None:
    response = send(manager, "POST", WEEKS, body)
    problem_of(response, 422, "bad-week-file")
    assert not PlanningWeek.objects.exists()


def test_the_week_file_of_another_kitchen_is_refused(cast: Cast, manager: APIClient) -> None:
    document = dump_week(a_week())
    document["kitchen"]["code"] = "elsewhere"
    problem = problem_of(manager.post(WEEKS, document, format="json"), 422, "bad-week-file")
    assert [each["pointer"] for each in problem["problems"]] == ["/kitchen/code"]


class Endless(BytesIO):
    """A body that must not be read to its end."""

    def __init__(self) -> None:
        super().__init__()
        self.given = 0

    def read(self, size: int | None = -1) -> bytes:
        assert size is not None
        assert size >= 0
        self.given += size
        return b" " * size


@pytest.mark.parametrize(
    ("method", "address", "largest"),
    [
        ("POST", WEEKS, LARGEST_BYTES),
        ("POST", COMPUTE, 64 * 1024),
        ("PATCH", f"{WEEKS}/2027-02-01/order-lines/L1", 64 * 1024),
        ("POST", "/api/v1/sign-in", 64 * 1024),
    ],
)
def test_bodies_that_are_too_long_are_refused_without_being_read(
    method: str, address: str, largest: int, cast: Cast, manager: APIClient
) -> None:
    body = Endless()
    announced = {"CONTENT_LENGTH": str(50 * 1024 * 1024), "wsgi.input": body}
    response = manager.generic(method, address, content_type="application/json", **announced)  # type: ignore[arg-type]
    problem = problem_of(response, 413, "too-large")
    assert f"{largest // 1024} KiB" in problem["detail"]
    assert body.given == 0


def test_a_week_file_one_byte_too_long_is_refused(cast: Cast, manager: APIClient) -> None:
    for surplus, status in ((0, 422), (1, 413)):
        body = b" " * (LARGEST_BYTES + surplus)
        assert send(manager, "POST", WEEKS, body).status_code == status


@pytest.mark.parametrize("content_type", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data"])
def test_other_forms_than_json_are_refused(content_type: str, cast: Cast, manager: APIClient) -> None:
    for address in (COMPUTE, WEEKS, "/api/v1/sign-in"):
        response = send(manager, "POST", address, b"username=cook", content_type)
        problem_of(response, 415, "wrong-content-type")


def test_a_content_type_with_a_charset_is_taken(manager: APIClient) -> None:
    body = '{"arguments": {"altitude_m": 300}}'
    response = manager.generic("POST", COMPUTE, body, content_type="Application/JSON; charset=utf-8")
    assert response.status_code == 200


def test_a_wrong_method_is_told_which_ones_there_are(manager: APIClient) -> None:
    response = manager.delete(COMPUTE)
    problem_of(response, 405, "wrong-method")
    assert response["Allow"] == "POST"


@pytest.mark.parametrize(
    "query",
    [{"page": "0"}, {"page": "-1"}, {"page": "x"}, {"size": "0"}, {"size": "201"}, {"page": "9" * 40}, {"size": "1e3"}],
)
def test_a_bad_page_is_refused(query: dict[str, str], manager: APIClient) -> None:
    problem = problem_of(manager.get("/api/v1/workings", query), 400, "bad-request")
    assert [each["pointer"] for each in problem["problems"]] == [f"/{next(iter(query))}"]


@pytest.mark.parametrize("key", ["x" * 81, "two words", "caf\xe9", "tab\there"])
def test_a_bad_idempotency_key_asks_for_nothing(key: str, planned: Planned, manager: APIClient) -> None:
    for name in ("api-plans", "api-documents"):
        problem_of(manager.post(planned.address(name), HTTP_IDEMPOTENCY_KEY=key), 400, "bad-request")
    assert not Job.objects.exists()


def test_half_a_document_name_asks_for_nothing(planned: Planned, manager: APIClient) -> None:
    for body in ({"kind": "batch_sheet"}, {"key": "R01"}, {"kind": "menu", "key": "R01"}, {"key": "\x00", "kind": "x"}):
        problem_of(manager.post(planned.address("api-documents"), body, format="json"), 400, "bad-request")
    assert not Job.objects.exists()


@pytest.mark.parametrize(
    "address",
    [
        "",
        "nothing",
        "kitchens/small/nothing",
        "kitchens/small%00",
        "kitchens/sm%20all/weeks",
        "kitchens/small/documents/0",
        "kitchens/small/documents/99999999999999999999",
        "kitchens/small/jobs/999999999999999999",
        "kitchens/small/jobs/1.5",
        "kitchens/small/weeks/2027-02-01/plans/0",
        "kitchens/small/weeks/2027-02-01/plans/999999999",
        "kitchens/small/weeks/2027-02-01/order-lines/%00",
        "workings/%00",
        "openapi.json/",
    ],
)
def test_addresses_that_do_not_exist_are_not_found(
    address: str, planning_week: PlanningWeek, manager: APIClient
) -> None:
    problem_of(manager.get(f"/api/v1/{address}"), 404, "not-found")


def test_an_infinite_number_in_a_refusal_is_told_as_text() -> None:
    error = OutOfRange("Too much.", numbers={"value": float("inf"), "below": [float("nan"), {"x": 1.5}]})
    response: Any = problem_handler(error, {})
    assert json.loads(response.content)["numbers"] == {"value": "inf", "below": ["nan", {"x": 1.5}]}


def test_a_fault_of_the_program_is_not_passed_off_as_a_refusal() -> None:
    assert problem_handler(ZeroDivisionError(), {}) is None
