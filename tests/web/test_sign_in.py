"""The door of the pages: not to be opened by trying, and shared with the API."""

from __future__ import annotations

import html

import pytest
import time_machine
from django.conf import settings
from django.test import Client, override_settings
from rest_framework.test import APIClient

from production.services.sign_in import PerAddress
from tests.conftest import Cast

SIGN_IN = "/sign-in/"
RIGHT = {"username": "cook", "password": "steam and ladles"}
WRONG = {"username": "Cook ", "password": "guess"}


def test_name_and_password_open_the_door(cast: Cast) -> None:
    answer = Client().post(SIGN_IN, RIGHT)
    assert (answer.status_code, answer.headers["Location"]) == (302, "/")


def test_after_ten_attempts_a_name_has_to_wait_and_is_told_how_long(cast: Cast, clock: time_machine.Traveller) -> None:
    for attempt in range(10):
        assert Client().post(SIGN_IN, WRONG, REMOTE_ADDR=f"10.0.0.{attempt}").status_code == 200
    refused = Client().post(SIGN_IN, RIGHT, REMOTE_ADDR="10.0.1.1")
    body = html.unescape(refused.content.decode())
    assert (refused.status_code, refused.headers["Retry-After"]) == (429, "60")
    assert "has tried too often. Try again in 60 s." in body
    assert 'value="cook"' in body
    assert "steam and ladles" not in body
    assert Client().post(SIGN_IN, RIGHT | {"username": "manager"}, REMOTE_ADDR="10.0.1.1").status_code == 302


def test_the_name_may_try_again_when_the_time_is_over(cast: Cast, clock: time_machine.Traveller) -> None:
    for _ in range(11):
        Client().post(SIGN_IN, WRONG)
    clock.shift(61)
    assert Client().post(SIGN_IN, RIGHT).status_code == 302


def test_a_device_that_tries_many_names_has_to_wait(cast: Cast, clock: time_machine.Traveller) -> None:
    most = int(PerAddress.rate.partition("/")[0])
    statuses = [
        Client().post(SIGN_IN, {"username": f"n{n}", "password": "x"}, HTTP_X_FORWARDED_FOR=f"10.0.0.{n}").status_code
        for n in range(most + 1)
    ]
    assert statuses == [200] * most + [429]


@override_settings(REST_FRAMEWORK=settings.REST_FRAMEWORK | {"NUM_PROXIES": 1})
def test_behind_the_own_proxy_the_address_it_saw_counts_and_not_what_the_client_claims(
    cast: Cast, clock: time_machine.Traveller
) -> None:
    most = int(PerAddress.rate.partition("/")[0])

    def attempt(n: int, claimed: str, seen: str) -> int:
        wrong = {"username": f"n{n}", "password": "x"}
        return Client().post(SIGN_IN, wrong, HTTP_X_FORWARDED_FOR=f"{claimed}, {seen}").status_code

    assert [attempt(n, f"10.0.0.{n}", "192.0.2.1") for n in range(most + 1)] == [200] * most + [429]
    assert attempt(most + 1, "10.0.0.1", "192.0.2.2") == 200


def test_pages_upkeep_and_api_forbid_whatever_is_not_from_here(cast: Cast) -> None:
    for address in (SIGN_IN, "/admin/login/", "/api/v1/openapi.json", "/nothing-here"):
        policy = Client().get(address).headers["Content-Security-Policy"]
        assert "default-src 'self'" in policy
        assert "unsafe" not in policy


@pytest.mark.parametrize("door", [SIGN_IN, "/admin/login/"])
def test_attempts_at_the_api_count_at_every_other_door(cast: Cast, clock: time_machine.Traveller, door: str) -> None:
    for _ in range(10):
        APIClient().post("/api/v1/sign-in", WRONG, format="json")
    assert Client().post(door, RIGHT).status_code == 429


def test_the_set_up_is_entered_by_the_same_door(cast: Cast) -> None:
    cast.administrator.user.is_staff = True
    cast.administrator.user.save()
    client = Client()
    asked = client.get("/admin/", follow=True)
    assert "registration/login.html" in [each.name for each in asked.templates]
    answer = client.post(asked.redirect_chain[-1][0], RIGHT | {"username": "administrator", "next": "/admin/"})
    assert answer.headers["Location"] == "/admin/"
    assert client.get("/admin/").status_code == 200
