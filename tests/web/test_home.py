"""The way in."""

from __future__ import annotations

from datetime import UTC, date, datetime

import time_machine
from django.contrib.auth.models import User
from django.test import Client

from production.models import PlanningWeek
from production.services.kitchens import membership_set
from tests.conftest import Cast
from tests.web.conftest import address, signed_in


def test_a_person_of_one_kitchen_comes_to_its_week(cast: Cast, planning_week: PlanningWeek) -> None:
    response = signed_in(cast.manager).get("/", follow=True)
    assert response.redirect_chain[-1][0] == address(planning_week)


def test_a_cook_comes_to_the_plan(cast: Cast, planning_week: PlanningWeek) -> None:
    response = signed_in(cast.cook).get("/", follow=True)
    assert response.redirect_chain[-1][0] == address(planning_week, "plan")


def test_an_inspector_comes_to_the_logs_that_wait(cast: Cast, planning_week: PlanningWeek) -> None:
    response = signed_in(cast.inspector).get("/", follow=True)
    assert response.redirect_chain[-1][0] == "/k/small/inspection/"


def test_a_person_of_two_kitchens_chooses(cast: Cast) -> None:
    membership_set(kitchen=cast.outsider.kitchen, user=cast.manager.user, role="cook", by=None)
    body = signed_in(cast.manager).get("/").content.decode()
    assert cast.kitchen.name in body
    assert "Kitchen elsewhere" in body
    assert "Logs to review" not in body


def test_an_inspector_of_two_kitchens_finds_the_list_over_both(cast: Cast) -> None:
    membership_set(kitchen=cast.outsider.kitchen, user=cast.inspector.user, role="inspector", by=None)
    assert 'href="/inspection/"' in signed_in(cast.inspector).get("/").content.decode()


def test_a_person_without_a_kitchen_is_told_whom_to_ask(cast: Cast) -> None:
    client = Client()
    client.force_login(cast.stranger)
    body = client.get("/").content.decode()
    assert "No kitchen yet" in body
    assert "Ask the administrator" in body


def test_the_week_that_runs_today_comes_before_a_newer_one(cast: Cast, planning_week: PlanningWeek) -> None:
    PlanningWeek.objects.create(
        kitchen=cast.kitchen, starts_on=date(2027, 2, 8), days=7, plan_from=datetime(2027, 2, 5, tzinfo=UTC)
    )
    with time_machine.travel(datetime(2027, 2, 3, 20, 0, tzinfo=UTC)):
        response = signed_in(cast.manager).get(f"/k/{cast.kitchen.code}/")
    assert response.headers["Location"] == address(planning_week)


def test_a_kitchen_without_a_week_says_how_to_begin(cast: Cast) -> None:
    body = signed_in(cast.manager).get(f"/k/{cast.kitchen.code}/", follow=True).content.decode()
    assert "No week yet" in body
    assert "Bring in the file" in body


def test_a_member_who_may_not_bring_in_a_week_is_told_who_does(cast: Cast) -> None:
    body = signed_in(cast.administrator).get(f"/k/{cast.kitchen.code}/", follow=True).content.decode()
    assert "The kitchen manager brings in the week file" in body
    assert "Bring in the file" not in body


def test_signing_in_and_out(cast: Cast, planning_week: PlanningWeek) -> None:
    client = Client()
    wrong = client.post("/sign-in/", {"username": "manager", "password": "wrong"})
    assert wrong.status_code == 200
    assert "Please enter a correct username and password" in wrong.content.decode()
    assert 'value="manager"' in wrong.content.decode()
    right = client.post("/sign-in/", {"username": "manager", "password": "steam and ladles"}, follow=True)
    assert right.redirect_chain[-1][0] == address(planning_week)
    assert client.get("/sign-out/").status_code == 405
    assert client.post("/sign-out/").headers["Location"] == "/sign-in/"
    assert client.get(address(planning_week)).status_code == 302


def test_an_address_that_leads_nowhere_says_so_in_our_words(cast: Cast) -> None:
    response = signed_in(cast.manager).get("/nowhere/")
    assert response.status_code == 404
    assert "This address leads nowhere" in response.content.decode()


def test_who_sets_up_the_machine_is_told_how_a_kitchen_is_opened(cast: Cast) -> None:
    user = User.objects.create_user("boss", password="steam and ladles")
    client = Client()
    client.force_login(user)
    assert "Ask the administrator of your kitchen" in client.get("/").content.decode()
    User.objects.filter(pk=user.pk).update(is_staff=True)
    assert "manage.py open_kitchen" in client.get("/").content.decode()
