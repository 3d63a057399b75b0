"""The pages of thermometers, deliveries and store temperatures."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from production.models import (
    Deviation,
    Entry,
    Kitchen,
    Plan,
    PlanningWeek,
    Receipt,
    StorageReading,
    Supplier,
    Thermometer,
    ThermometerCheck,
)
from production.selectors.plans import plan_content
from tests.builders import at
from tests.conftest import Cast
from tests.lots import a_cooling, a_run
from tests.services.cooling_kit import a_thermometer, sent, take
from tests.services.floor_runs import Tablet, published
from tests.web.conftest import address, signed_in

NOW = at("2027-02-03 08:00")


@pytest.fixture(autouse=True)
def morning(planning_week: PlanningWeek) -> Any:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


def href(cast: Cast, name: str, *parts: Any) -> str:
    return reverse(name, args=[cast.kitchen.code, *parts])


def send(client: Client, where: str, name: str, *, decide: str = "", **typed: object) -> tuple[int, str]:
    """Send one of a page's forms."""
    fields = {f"{name}-{field}": value for field, value in ({"key": f"{name}-1"} | typed).items()}
    answer = client.post(where, {"do": name, "decide": decide, **fields}, follow=True)
    return answer.status_code, answer.content.decode()


def arriving(cast: Cast, **changes: Any) -> dict[str, Any]:
    told = {
        "supplier": Supplier.objects.filter(kitchen=cast.kitchen)[0].code,
        "ingredient": "frames",
        "packs": "4",
        "mass": "40",
        "came_as": "chilled",
        "temp": "3.4",
        "packs_sound": "on",
        "supplier_lot": "CB-118",
        "store": "walk-in",
    }
    return told | changes


# --- thermometers ------------------------------------------------------------------------------------------------


def test_a_manager_puts_a_thermometer_on_the_list_and_a_cook_does_not(cast: Cast) -> None:
    where = href(cast, "thermometers")
    typed = {"code": "t1", "called": "Red handle", "kind": "hand", "scale": "both"}
    assert send(signed_in(cast.cook), where, "add", **typed)[0] == 403
    assert "Add thermometer" not in signed_in(cast.cook).get(where).content.decode()
    status, body = send(signed_in(cast.manager), where, "add", **typed)
    assert (status, "Check it before it is used." in body) == (200, True)
    row = Thermometer.objects.get()
    assert (row.unit, row.both_scales) == ("C", True)
    status, body = send(signed_in(cast.manager), where, "add", **(typed | {"key": "other"}))
    assert (status, "There is a thermometer" in body) == (409, True)


def test_a_cook_checks_it_in_ice_water_and_the_list_says_until_when(cast: Cast) -> None:
    a_thermometer(cast.manager, check_due_on=None)
    client = signed_in(cast.cook)
    assert "no good check" in client.get(href(cast, "thermometers")).content.decode()
    status, body = send(client, href(cast, "thermometer", "t1"), "check", method="ice", shown="0.4")
    assert (status, "The check is written down." in body, "passed" in body) == (200, True, True)
    assert "until Wed 10 Feb" in client.get(href(cast, "thermometers")).content.decode()


def test_a_failed_check_leads_to_what_is_in_doubt(cast: Cast, plan: Plan) -> None:
    a_thermometer(cast.manager)
    cooling = a_cooling(a_run(plan), verdict="")
    for minute, temp in ((0, "60"), (100, "19"), (340, "4.5")):
        moment = cooling.opened_at + timedelta(minutes=minute)
        told = {"temp": temp, "unit": "C", "thermometer": "t1", "confirmed": True}
        take(cast.cook, sent("reading", cooling.subject, moment, told), now=moment)
    closing = cooling.opened_at + timedelta(minutes=350)
    take(cast.cook, sent("cooling_closed", cooling.subject, closing, {}), now=closing)
    client = signed_in(cast.cook)
    status, body = send(client, href(cast, "thermometer", "t1"), "check", method="ice", shown="-1.6")
    assert (status, "in doubt" in body) == (200, True)
    check = ThermometerCheck.objects.get()
    page = signed_in(cast.inspector).get(href(cast, "thermometer-doubt", "t1", check.entry.number)).content.decode()
    assert "would not be shown" in page
    assert "Look at these again" in page
    assert Deviation.objects.filter(kind="thermometer").count() == 1


def test_the_newest_check_is_taken_back_with_a_reason(cast: Cast) -> None:
    a_thermometer(cast.manager)
    client, where = signed_in(cast.cook), href(cast, "thermometer", "t1")
    assert "Take the newest check back" not in client.get(where).content.decode()
    send(client, where, "check", method="ice", shown="10")
    status, body = send(client, where, "back", reason="typed 10 for 1.0")
    assert (status, "<s>10 °C</s>" in body, "taken back" in body) == (200, True, True)


def test_what_cannot_be_read_stays_in_the_form(cast: Cast) -> None:
    a_thermometer(cast.manager)
    status, body = send(signed_in(cast.cook), href(cast, "thermometer", "t1"), "check", method="ice", shown="cold")
    assert status == 422
    assert 'value="cold"' in body
    assert "is not a temperature" in body


def test_a_manager_corrects_and_retires_it(cast: Cast) -> None:
    a_thermometer(cast.manager)
    client, where = signed_in(cast.manager), href(cast, "thermometer", "t1")
    assert send(client, where, "correct", correction="-0.4", reason="ice water")[0] == 200
    assert send(signed_in(cast.cook), where, "retire", reason="broken")[0] == 404
    status, body = send(client, where, "retire", reason="broken")
    assert (status, "Out of use" in body) == (200, True)
    assert Thermometer.objects.get().retired


# --- receiving ---------------------------------------------------------------------------------------------------


def test_a_delivery_is_taken_in_and_found_again(cast: Cast) -> None:
    client = signed_in(cast.cook)
    status, body = send(client, href(cast, "receiving"), "receipt", decide="accept", **arriving(cast))
    row = Receipt.objects.get()
    assert (status, f"is taken in as lot {row.lot.code}" in body) == (200, True)
    found = client.get(href(cast, "receiving"), {"find": "cb-118"}).content.decode()
    assert row.lot.code in found
    assert "Nothing was received under" in client.get(href(cast, "receiving"), {"find": "zz"}).content.decode()


def test_what_is_too_warm_stays_in_the_form_until_it_is_sent_back(cast: Cast) -> None:
    client = signed_in(cast.cook)
    status, body = send(client, href(cast, "receiving"), "receipt", decide="accept", **arriving(cast, temp="7"))
    assert status == 403
    assert "7 °C is warmer than 5 °C." in body
    assert 'value="CB-118"' in body
    status, body = send(
        client, href(cast, "receiving"), "receipt", decide="refuse", **arriving(cast, temp="7", reason="too warm")
    )
    assert (status, "sent back" in body) == (200, True)
    assert not Receipt.objects.get().accepted


def test_a_manager_may_take_it_past_a_limit_with_a_reason(cast: Cast) -> None:
    told = arriving(cast, temp="7", reason="Boiled at once")
    status, body = send(signed_in(cast.manager), href(cast, "receiving"), "receipt", decide="accept", **told)
    assert (status, "past a limit" in body) == (200, True)
    assert Deviation.objects.get().kind == "receipt"


def test_a_line_of_the_purchase_list_opens_the_form_filled_in(cast: Cast, plan: Plan) -> None:
    client = signed_in(cast.manager)
    page = client.get(address(plan.week, "purchasing")).content.decode()
    links = [part.split('"')[0].replace("&amp;", "&") for part in page.split('href="')[1:] if "/receiving/?" in part]
    assert links
    form = client.get(links[0]).context["form"]
    assert form["supplier"].value()
    assert form["ingredient"].value()
    assert int(form["packs"].value()) >= 1
    assert form["mass"].value()


def test_a_receipt_is_corrected_and_the_old_words_are_struck_through(cast: Cast) -> None:
    client = signed_in(cast.cook)
    send(client, href(cast, "receiving"), "receipt", decide="accept", **arriving(cast))
    row = Receipt.objects.get()
    again = arriving(cast, mass="38", reason="weighed again", at="2027-02-03T07:50")
    status, body = send(client, href(cast, "receipt", row.code), "correct", **again)
    assert (status, "<s>Entry" in body) == (200, True)
    assert Receipt.objects.get().lot.left_kg == 38


def test_an_inspector_reads_and_writes_nothing(cast: Cast) -> None:
    send(signed_in(cast.cook), href(cast, "receiving"), "receipt", decide="accept", **arriving(cast))
    a_thermometer(cast.manager)
    entries, client = Entry.objects.count(), signed_in(cast.inspector)
    row = Receipt.objects.get()
    doings: tuple[tuple[str, str, dict[str, Any]], ...] = (
        (href(cast, "receiving"), "receipt", arriving(cast, key="again")),
        (href(cast, "receipt", row.code), "discard", {"reason": "because"}),
        (href(cast, "store-temps"), "store", {"store": "walk-in", "measured": "air", "temp": "3"}),
        (href(cast, "store-log", "walk-in"), "fix", {"reason": "because"}),
        (href(cast, "thermometers"), "add", {}),
        (href(cast, "thermometer", "t1"), "check", {"method": "ice", "shown": "0"}),
    )
    for where, name, typed in doings:
        assert client.get(where).status_code == 200
        assert 'method="post"' not in client.get(where).content.decode().replace("/sign-out/", "").split("<main")[1]
        assert send(client, where, name, **typed)[0] == 403, where
    assert Entry.objects.count() == entries


def test_the_page_of_a_run_offers_the_lots_to_weigh_from(cast: Cast, planning_week: PlanningWeek) -> None:
    plan = published(cast, planning_week)
    tablet = Tablet(by=cast.cook, week=planning_week, content=plan_content(plan=plan))
    assert tablet.do("run_begun", 0).outcome == "kept"
    page = href(cast, "run-live", planning_week.starts_on, tablet.code)
    client = signed_in(cast.cook)
    assert "From lot" not in client.get(page).content.decode()
    for key in ("a", "b"):
        send(client, href(cast, "receiving"), "receipt", decide="accept", **arriving(cast, key=key))
    first, second = (each.lot.code for each in Receipt.objects.order_by("pk"))
    body = client.get(page).content.decode()
    assert f'<option value="{first}">{first}, 40 kg left' in body
    assert f'<option value="{first} {second}">{first}, then {second}' in body


# --- stores ------------------------------------------------------------------------------------------------------


def test_a_cook_reads_a_store_and_is_told_when_it_is_too_warm(cast: Cast) -> None:
    client, where = signed_in(cast.cook), href(cast, "store-temps")
    status, body = send(client, where, "store", store="walk-in", measured="air", temp="3.5")
    assert (status, "cold enough" in body) == (200, True)
    status, body = send(client, where, "store", key="2", store="walk-in", measured="food", temp="7")
    assert (status, "is above the 5 °C of Walk-in" in body, "too warm" in body) == (200, True, True)
    assert Deviation.objects.get().kind == "storage"


def test_a_reading_of_an_hour_ago_is_kept_at_its_time(cast: Cast) -> None:
    send(
        signed_in(cast.cook), href(cast, "store-temps"), "store",
        store="walk-in", measured="air", temp="3", at="2027-02-03T07:00",
    )  # fmt: skip
    assert StorageReading.objects.get().measured_at == NOW - timedelta(hours=1)
    status, body = send(
        signed_in(cast.cook), href(cast, "store-temps"), "store",
        key="2", store="walk-in", measured="air", temp="3", at="2027-02-03T09:00",
    )  # fmt: skip
    assert (status, "lies in the future" in body) == (422, True)


def test_a_wrong_reading_is_corrected_on_the_log_of_the_store(cast: Cast) -> None:
    client = signed_in(cast.cook)
    send(client, href(cast, "store-temps"), "store", store="walk-in", measured="air", temp="35")
    row = StorageReading.objects.get()
    where = f"{href(cast, 'store-log', 'walk-in')}?fix={row.entry.number}"
    assert "Correct 35 °C" in client.get(where).content.decode()
    status, body = send(client, where, "fix", temp="3.5", reason="wrong number")
    assert (status, "<s>35 °C</s>" in body, "3.5 °C" in body) == (200, True, True)
    assert client.post(where, {"fix-key": "x", "fix-reason": "again"}).status_code == 404


# --- all of them -------------------------------------------------------------------------------------------------


def queries(client: Client, where: str) -> int:
    client.get(where)
    with CaptureQueriesContext(connection) as caught:
        assert client.get(where).status_code == 200
    return len(caught)


def test_more_of_everything_takes_no_more_queries(cast: Cast) -> None:
    client = signed_in(cast.manager)

    def more(n: int) -> None:
        a_thermometer(cast.manager, code=f"t{n}")
        send(client, href(cast, "thermometer", f"t{n}"), "check", key=f"c{n}", method="ice", shown="0.2")
        send(client, href(cast, "receiving"), "receipt", decide="accept", **arriving(cast, key=f"r{n}"))
        send(client, href(cast, "store-temps"), "store", key=f"s{n}", store="walk-in", measured="air", temp="3")

    more(1)
    pages = [href(cast, name) for name in ("thermometers", "receiving", "store-temps")]
    pages += [href(cast, "store-log", "walk-in"), href(cast, "thermometer", "t1")]
    before = [queries(client, where) for where in pages]
    for n in range(2, 6):
        more(n)
    assert [queries(client, where) for where in pages] == before
    assert max(before) <= 25


def test_a_kitchen_in_us_units_types_and_reads_its_own(cast: Cast) -> None:
    Kitchen.objects.filter(pk=cast.kitchen.pk).update(units="us")
    cast.cook.refresh_from_db()
    client = signed_in(cast.cook)
    send(client, href(cast, "receiving"), "receipt", decide="accept", **arriving(cast, temp="40", mass="100"))
    row = Receipt.objects.get()
    assert (row.temp, row.unit, str(row.mass_kg)) == ("40", "F", "45.36")
    assert "Chilled at most 41 °F" in client.get(href(cast, "receiving")).content.decode()
    _, body = send(client, href(cast, "store-temps"), "store", store="walk-in", measured="food", temp="41.5")
    assert "41.5 °F is above the 41 °F of Walk-in" in body
    assert "chilled, at most 41 °F" in body


def test_an_empty_kitchen_says_what_to_do_first(cast: Cast) -> None:
    client = signed_in(cast.outsider)
    for name, words in (
        ("thermometers", "No thermometers yet"),
        ("receiving", "No suppliers yet"),
        ("store-temps", "No stores yet"),
    ):
        assert words in client.get(reverse(name, args=["elsewhere"])).content.decode()
