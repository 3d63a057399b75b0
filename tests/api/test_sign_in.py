"""Tokens: given for name and password, taken back at sign-out, not to be guessed."""

from __future__ import annotations

import time_machine
from rest_framework.authtoken.models import Token
from rest_framework.test import APIClient

from production.services.sign_in import PerAddress
from tests.api.conftest import ClientOf
from tests.conftest import Cast

SIGN_IN, SIGN_OUT, KITCHENS = "/api/v1/sign-in", "/api/v1/sign-out", "/api/v1/kitchens"
PASSWORD = "steam and ladles"


def test_a_token_opens_the_door_until_it_is_given_back(cast: Cast) -> None:
    signed_in = APIClient().post(SIGN_IN, {"username": "cook", "password": PASSWORD}, format="json")
    assert signed_in.status_code == 200
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Token {signed_in.data['token']}")
    entries = client.get(KITCHENS).data["entries"]
    assert [(each["code"], each["role"]) for each in entries] == [("small", "cook")]
    assert client.post(SIGN_OUT).status_code == 204
    assert client.get(KITCHENS).status_code == 401
    assert client.post(SIGN_OUT).status_code == 401
    again = APIClient().post(SIGN_IN, {"username": "cook", "password": PASSWORD}, format="json")
    assert again.data["token"] != signed_in.data["token"]


def test_signing_out_leaves_other_people_signed_in(cast: Cast, client_of: ClientOf) -> None:
    cook, manager = client_of(cast.cook.user), client_of(cast.manager.user)
    cook.post(SIGN_OUT)
    assert manager.get(KITCHENS).status_code == 200


def test_wrong_names_and_wrong_passwords_get_the_same_answer(cast: Cast) -> None:
    answers = [
        APIClient().post(SIGN_IN, body, format="json")
        for body in (
            {"username": "cook", "password": "ladles and steam"},
            {"username": "nobody", "password": PASSWORD},
        )
    ]
    assert [each.status_code for each in answers] == [401, 401]
    assert answers[0].content == answers[1].content
    assert not Token.objects.exists()


def test_a_person_who_left_gets_no_token(cast: Cast) -> None:
    cast.cook.user.is_active = False
    cast.cook.user.save()
    response = APIClient().post(SIGN_IN, {"username": "cook", "password": PASSWORD}, format="json")
    assert response.status_code == 401


def test_after_ten_attempts_a_name_has_to_wait_whatever_address_they_come_from(
    cast: Cast, clock: time_machine.Traveller
) -> None:
    wrong = {"username": "Cook ", "password": "guess"}
    for attempt in range(10):
        response = APIClient().post(SIGN_IN, wrong, format="json", REMOTE_ADDR=f"10.0.0.{attempt}")
        assert response.status_code == 401
    right = {"username": "cook", "password": PASSWORD}
    refused = APIClient().post(SIGN_IN, right, format="json", REMOTE_ADDR="10.0.1.1")
    assert (refused.status_code, refused.json()["code"]) == (429, "too-often")
    assert 0 < int(refused["Retry-After"]) <= 60
    other = {"username": "manager", "password": PASSWORD}
    assert APIClient().post(SIGN_IN, other, format="json", REMOTE_ADDR="10.0.1.1").status_code == 200


def test_an_address_that_tries_many_names_has_to_wait_whatever_it_says_of_itself(
    cast: Cast, clock: time_machine.Traveller
) -> None:
    most = int(PerAddress.rate.partition("/")[0])
    answers = [
        APIClient().post(
            SIGN_IN,
            {"username": f"n{attempt}", "password": "x"},
            format="json",
            HTTP_X_FORWARDED_FOR=f"10.0.0.{attempt}",
        )
        for attempt in range(most + 1)
    ]
    assert [each.status_code for each in answers] == [401] * most + [429]
