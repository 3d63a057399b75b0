"""The pages of traces, drills and hazard plans."""

from __future__ import annotations

from datetime import timedelta
from urllib.parse import quote

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from production.models import Entry, PlanningWeek
from tests.builders import at
from tests.conftest import Cast
from tests.documents.reading import words_of
from tests.services.trace_kit import Traced, a_thread
from tests.web.conftest import signed_in

NOW = at("2027-02-04 10:00")
HOME = "/k/small"


@pytest.fixture(autouse=True)
def morning() -> object:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def traced(cast: Cast, planning_week: PlanningWeek) -> Traced:
    return a_thread(cast, planning_week)


def body(client: Client, href: str) -> str:
    answer = client.get(href, follow=True)
    assert answer.status_code == 200, href
    return answer.content.decode()


def send(client: Client, href: str, name: str, **typed: object) -> tuple[int, str]:
    fields = {f"{name}-{field}": value for field, value in ({"key": f"{name}-1"} | typed).items()}
    answer = client.post(href, {"do": name, **fields}, follow=True)
    return answer.status_code, answer.content.decode()


def test_a_scanned_label_opens_the_thread_at_once(cast: Cast, traced: Traced) -> None:
    lot = traced.lot.code
    page = body(signed_in(cast.cook), f"{HOME}/trace/?find={quote(f'(01)07612345678900(10){lot}(17)270207')}")
    for said in (f"Thread of {lot}", "555 0101, Ms Ames", traced.came.code, traced.line.outlet.name, "limits met"):
        assert said in page
    assert f"{traced.came.code} went into {traced.run.code}, 18" in page  # the drawing's words


def test_a_part_of_a_name_offers_what_it_can_be(cast: Cast, traced: Traced) -> None:
    page = body(signed_in(cast.cook), f"{HOME}/trace/?find=2702")
    assert page.count("/trace/of/") >= 2
    assert "Nothing is called zzz" in body(signed_in(cast.cook), f"{HOME}/trace/?find=zzz")


def test_the_report_names_outlets_contacts_and_sums(cast: Cast, traced: Traced) -> None:
    answer = signed_in(cast.inspector).get(f"{HOME}/trace/report/ingredient/{traced.came.code}/")
    assert (answer.status_code, answer.headers["Content-Type"]) == (200, "application/pdf")
    text = words_of(answer.content)
    for said in (traced.lot.code, traced.line.outlet.name, "555 0101, Ms Ames", "100 % found", "unexplained 0"):
        assert said in text


def test_a_supplier_is_traced_for_the_days_that_are_asked_for(cast: Cast, traced: Traced) -> None:
    href = f"{HOME}/trace/of/supplier/{traced.came.receipt.supplier.code}/"
    client = signed_in(cast.cook)
    assert traced.lot.code in body(client, href)
    assert traced.lot.code not in body(client, f"{href}?since=2026-01-01&until=2026-02-01")
    assert traced.lot.code in body(client, f"{href}?since=2027-02-28&until=2027-01-15")  # the wrong way round


def test_a_drill_from_beginning_to_end(cast: Cast, traced: Traced, morning: time_machine.Traveller) -> None:
    client = signed_in(cast.manager)
    target = {"key": "drill", "target": f"lot/{traced.lot.code}"}
    page = client.post(f"{HOME}/trace/drills/begin/", target, follow=True).content.decode()
    assert "The clock runs" in page
    morning.shift(timedelta(minutes=25))
    drill = f"{HOME}/trace/drills/1/"
    status, page = send(client, drill, "finish", outlets_reached="2", containers_located="10")
    assert status == 422
    assert "2 outlets cannot be: there are 1." in page
    status, page = send(client, drill, "finish", outlets_reached="1", containers_located="10", note="Faster next time")
    assert status == 200
    assert "25 min" in page
    assert "Faster next time" in page
    assert "25 min" in body(client, f"{HOME}/trace/")


def test_an_inspector_sees_drills_and_ends_none(cast: Cast, traced: Traced) -> None:
    signed_in(cast.manager).post(f"{HOME}/trace/drills/begin/", {"key": "drill"})
    client, before = signed_in(cast.inspector), Entry.objects.count()
    assert "running" in body(client, f"{HOME}/trace/")
    assert send(client, f"{HOME}/trace/drills/1/", "finish", outlets_reached="1", containers_located="1")[0] == 403
    assert client.post(f"{HOME}/trace/drills/begin/", {"key": "other"}).status_code == 403
    assert Entry.objects.count() == before


def test_a_manager_issues_and_signs_a_hazard_plan_and_prints_it(cast: Cast, planning_week: PlanningWeek) -> None:
    client, href = signed_in(cast.manager), f"{HOME}/hazard-plans/poultry/"
    assert "not issued yet" in body(client, href)
    assert send(client, href, "issue", seen="0")[0] == 200
    assert "issued, not signed" in body(client, href)
    text = words_of(client.get(f"{href}1/pdf/").content)
    for said in (
        "Draft",
        "CCP 2 Cooling",
        "to 21 °C or colder within 2 h after it passes 57 °C",
        "this version is not",
    ):
        assert said in text
    status, page = send(client, href, "sign", version="1", password="a guess")
    assert (status, "This is not your password" in page) == (403, True)
    assert send(client, href, "sign", version="1", password="steam and ladles", key="again")[0] == 200
    assert "signed and in force" in body(signed_in(cast.inspector), f"{HOME}/hazard-plans/")
    assert "and put it in force" in words_of(client.get(f"{href}1/pdf/").content)


def test_others_read_hazard_plans_and_sign_none(cast: Cast, planning_week: PlanningWeek) -> None:
    for by in (cast.cook, cast.inspector, cast.administrator):
        client = signed_in(by)
        assert "The manager issues and signs plans." in body(client, f"{HOME}/hazard-plans/fish/")
        assert send(client, f"{HOME}/hazard-plans/fish/", "issue", seen="0")[0] == 403
    assert not Entry.objects.exists()


def test_a_thread_page_takes_a_bounded_number_of_queries(cast: Cast, traced: Traced) -> None:
    client = signed_in(cast.cook)
    with CaptureQueriesContext(connection) as caught:
        body(client, f"{HOME}/trace/of/lot/{traced.lot.code}/")
    assert len(caught) <= 32
