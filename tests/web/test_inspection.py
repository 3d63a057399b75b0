"""The pages of inspection and deviations."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any
from urllib.parse import urlencode

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from production.models import CoolingRecord, Deviation, Entry, Lot, PlanningWeek, Pot, Product, Review
from production.services.checkpoints import checkpoint_now
from production.services.cooling_bulk import readings_bulk
from production.services.kitchens import membership_set
from production.services.reviews import review_ask
from tests.conftest import Cast
from tests.services.cooling_kit import a_thermometer, read, sent, take
from tests.services.review_kit import after, another, closed
from tests.services.test_cooling_bulk import course, place
from tests.web.conftest import signed_in
from tests.web.inspection_kit import some_logs

PASSWORD = "steam and ladles"


@pytest.fixture
def logs(cast: Cast, planning_week: PlanningWeek) -> list[CoolingRecord]:
    return some_logs(cast, planning_week, good=2)


@pytest.fixture
def later(logs: list[CoolingRecord]) -> Any:
    """The morning after."""
    with time_machine.travel(after(logs[0], 1000), tick=False):
        yield after(logs[0], 1000)


def href(log: CoolingRecord, **query: str) -> str:
    path = reverse("inspection-log", args=[log.kitchen.code, log.subject.removeprefix("cooling/")])
    return f"{path}?{urlencode(query)}" if query else path


def text(client: Client, address: str, status: int = 200) -> str:
    answer = client.get(address)
    assert answer.status_code == status
    return str(answer.content.decode())


def order(client: Client, **query: str) -> list[str]:
    """The paths of the logs in the list, as they stand there."""
    return [row.path for row in client.get(f"/k/small/inspection/?{urlencode(query)}").context["rows"]]


def paths(*logs: CoolingRecord) -> list[str]:
    return [each.subject.removeprefix("cooling/") for each in logs]


def sign(client: Client, log: CoolingRecord, *, at: str = "", **changes: str) -> Any:
    """Fill the form of the page in and send it."""
    address = at or href(log)
    forms = client.get(address).context["forms"]
    form = next(each for each in forms if each.name == "sign")
    told = {"do": "sign", "sign-meaning": "review", "sign-findings": "", "sign-password": PASSWORD}
    told |= {f"sign-{name}": str(form.initial[name]) for name in ("key", "seen")}
    return client.post(address, told | changes)


# --- the list ---------------------------------------------------------------------------------------------------------


def test_missed_limits_come_first_then_the_oldest(cast: Cast, logs: list[CoolingRecord], later: datetime) -> None:
    shown = order(signed_in(cast.inspector))
    assert shown == paths(logs[0], logs[1], logs[2])
    Deviation.objects.all().delete()
    CoolingRecord.objects.filter(pk=logs[0].pk).update(verdict="met")
    CoolingRecord.objects.filter(pk=logs[2].pk).update(closed_at=after(logs[0], 20))
    assert order(signed_in(cast.inspector)) == paths(logs[2], logs[0], logs[1])


def test_the_list_can_be_chosen_by_everything_that_is_asked_for(
    cast: Cast, logs: list[CoolingRecord], later: datetime
) -> None:
    client, bad, good = signed_in(cast.inspector), paths(logs[0]), paths(logs[1], logs[2])
    day = later.date() - timedelta(days=1)
    formula = logs[0].sheet["formula"]
    pot = Pot.objects.filter(kitchen=cast.kitchen).order_by("pk")[0]
    type(logs[0].run).objects.update(pot=pot)
    other_pot = Pot.objects.filter(kitchen=cast.kitchen).exclude(pk=pot.pk)[0]
    lot = Lot.objects.get()
    other = Product.objects.filter(kitchen=cast.kitchen).exclude(formula=lot.product.formula)[0]
    assert order(client, verdict="breached") == order(client, deviation="open") == bad
    assert order(client, verdict="met") == order(client, deviation="none") == good
    assert order(client, deviation="closed") == []
    assert order(client, formula=formula) == order(client, pot=pot.code) == bad + good
    assert order(client, pot=other_pot.code) == order(client, product=other.code) == []
    assert order(client, product=lot.product.code) == bad + good  # of the good ones no lot is made yet
    assert order(client, device="sink") == bad + good
    assert order(client, person=str(cast.cook.user_id)) == bad + good
    assert order(client, person=str(cast.inspector.user_id)) == []
    assert order(client, since=str(day), until=str(later.date())) == bad + good
    assert order(client, until=str(day - timedelta(days=2))) == []
    assert order(client, since=str(later.date() + timedelta(days=1))) == []


def test_what_is_chosen_stays_chosen_and_nonsense_chooses_nothing(
    cast: Cast, logs: list[CoolingRecord], later: datetime
) -> None:
    client = signed_in(cast.inspector)
    page = text(client, "/k/small/inspection/?verdict=breached&since=2027-01-01")
    assert '<option value="breached" selected>' in page
    assert 'value="2027-01-01"' in page
    assert "verdict=breached&amp;since=2027-01-01" in page
    assert len(order(client, verdict="fine", since="tomorrow", person="x")) == 3


def test_a_log_leaves_the_list_when_it_is_signed_and_comes_back_when_it_loses_its_signature(
    cast: Cast, logs: list[CoolingRecord], later: datetime
) -> None:
    client = signed_in(cast.inspector)
    sign(client, logs[1])
    assert order(client) == paths(logs[0], logs[2])
    assert order(client, review="signed") == paths(logs[1])
    reading = sent("reading", logs[1].subject, after(logs[1], 200), {"temp": "12", "unit": "C"})
    take(cast.cook, reading, now=after(logs[0], 990))
    assert order(client, review="lost") == paths(logs[1])
    assert len(order(client)) == 3


def test_overdue_logs_are_told_to_manager_and_inspector(cast: Cast, logs: list[CoolingRecord]) -> None:
    closed_at = logs[1].closed_at
    assert closed_at is not None
    with time_machine.travel(closed_at + timedelta(days=9), tick=False):
        assert order(signed_in(cast.inspector), review="overdue") == []
    with time_machine.travel(closed_at + timedelta(days=12), tick=False):
        for by in (cast.inspector, cast.manager):
            assert len(order(signed_in(by), review="overdue")) == 3
        page = text(signed_in(cast.manager), "/k/small/inspection/")
        assert "overdue since" in page
        assert "Deviations are overdue" in page


def test_an_inspector_of_several_kitchens_has_one_list(cast: Cast, logs: list[CoolingRecord], later: datetime) -> None:
    membership_set(kitchen=cast.outsider.kitchen, user=cast.inspector.user, role="inspector", by=None)
    page = signed_in(cast.inspector).get("/inspection/")
    assert [row.path for row in page.context["rows"]] == paths(*logs)
    assert "Kitchen elsewhere" in page.content.decode()
    assert signed_in(cast.outsider).get("/inspection/").context["rows"] == []
    assert signed_in(cast.cook).get("/inspection/").status_code == 404
    assert Client().get("/inspection/").status_code == 302


def test_twice_the_logs_take_no_more_queries(cast: Cast, logs: list[CoolingRecord], later: datetime) -> None:
    client = signed_in(cast.inspector)
    membership_set(kitchen=cast.outsider.kitchen, user=cast.inspector.user, role="inspector", by=None)

    def queries() -> list[int]:
        counts = []
        for address in ("/k/small/inspection/", "/inspection/", "/k/small/deviations/"):
            client.get(address)
            with CaptureQueriesContext(connection) as caught:
                assert client.get(address).status_code == 200
            counts.append(len(caught))
        return counts

    before = queries()
    for n in range(5, 8):
        closed(cast.cook, another(cast.cook, logs[0], n), ((2, "80"), (25, "57"), (150, "30")))
    assert queries() == before
    assert max(before) <= 30


# --- one log ----------------------------------------------------------------------------------------------------------


def test_a_log_shows_everything_on_one_screen(cast: Cast, logs: list[CoolingRecord], later: datetime) -> None:
    reading = Entry.objects.filter(kind="reading", subject=logs[0].subject).order_by("number")[0]
    aside = sent(
        "reading_excluded", logs[0].subject, later, {}, corrects=reading.key, reason="probe was not in the food"
    )
    take(cast.manager, aside, now=later)
    checkpoint_now(kitchen_id=cast.kitchen.pk, now=later)
    page = text(signed_in(cast.inspector), href(logs[0]))
    for said in (
        "Limit missed",
        "Critical limits",
        "From 57 °C to 21 °C or lower within 2 h",
        "<s>20 °C</s>",
        "set aside:",
        "probe was not in the food",
        "Stirred",
        "Deviations",
        "missed a limit",
        "No corrective action is recorded yet",
        Lot.objects.get().code,
        "on hold",
        "vouches for all of them",
        "Signed as",
    ):
        assert said in page, said


def test_hundreds_of_readings_of_a_probe_are_folded_and_their_lateness_is_said_once(
    cast: Cast, logs: list[CoolingRecord], later: datetime
) -> None:
    a_thermometer(cast.manager, code="p1", name="Probe 1", kind="probe")
    log = another(cast.cook, logs[0], 9)
    place(cast.cook, "p1", log, log.opened_at)
    readings_bulk(by=cast.cook, readings=course(log, 260), now=after(log, 262))
    read(cast.manager, log, 100, "19.0")
    page = text(signed_in(cast.inspector), href(log))
    assert "207 readings" in page
    assert "206 readings of Probe 1 without remarks" in page
    assert "206 readings of probes came in late, up to 4 h 22 min." in page
    assert "min after measuring" not in page
    assert "never checked before this log" in page


def test_signing_leads_to_the_next_log_of_the_list_and_back_when_none_is_left(
    cast: Cast, logs: list[CoolingRecord], later: datetime
) -> None:
    client = signed_in(cast.inspector)
    answer = sign(client, logs[1], at=href(logs[1], verdict="met"))
    assert answer.headers["Location"] == href(logs[2], verdict="met")
    answer = sign(client, logs[2], at=href(logs[2], verdict="met"))
    assert answer.headers["Location"] == "/k/small/inspection/?verdict=met"
    page = text(client, href(logs[2]))
    assert "I have reviewed this record." in page
    assert "inspector" in page


def test_a_wrong_password_signs_nothing_and_is_not_shown_again(
    cast: Cast, logs: list[CoolingRecord], later: datetime
) -> None:
    answer = sign(signed_in(cast.inspector), logs[1], **{"sign-password": "nonsense", "sign-findings": "All there"})
    page = answer.content.decode()
    assert answer.status_code == 403
    assert "This is not your password" in page
    assert "4 more tries" in page
    assert "All there" in page
    assert "nonsense" not in page
    assert not Review.objects.filter(state="signed").exists()


def test_a_log_that_changed_meanwhile_is_shown_again(cast: Cast, logs: list[CoolingRecord], later: datetime) -> None:
    answer = sign(signed_in(cast.inspector), logs[1], **{"sign-seen": "1"})
    assert answer.status_code == 409
    assert "while you looked at it" in answer.content.decode()


def test_a_question_is_seen_and_answered_by_the_kitchen(cast: Cast, logs: list[CoolingRecord], later: datetime) -> None:
    review_ask(by=cast.inspector, subject=logs[1].subject, question="Who held the probe?", key="q", now=later)
    cook = signed_in(cast.cook)
    assert "An inspector asks" in text(cook, "/k/small/deviations/")
    page = text(cook, href(logs[1]))
    assert "Who held the probe?" in page
    told = {"do": "answer", "answer-key": "a", "answer-answer": "Kim did."}
    assert cook.post(href(logs[1]), told).status_code == 302
    assert "An inspector asks" not in text(cook, "/k/small/deviations/")
    assert "Kim did." in text(signed_in(cast.inspector), href(logs[1]))


def test_a_refusal_opens_a_deviation_on_the_page(cast: Cast, logs: list[CoolingRecord], later: datetime) -> None:
    client = signed_in(cast.inspector)
    told = {"do": "refuse", "refuse-key": "r", "refuse-reason": "The probe was not checked"}
    assert client.post(href(logs[1]), told).status_code == 302
    page = text(client, href(logs[1]))
    assert "The probe was not checked" in page
    assert Deviation.objects.get(kind="review").state == "open"


def test_a_changed_entry_is_told_on_the_page(cast: Cast, logs: list[CoolingRecord], later: datetime) -> None:
    from production.models.guards import guards_put_up, guards_take_down

    guards_take_down(connection)
    Entry.objects.filter(kind="reading", subject=logs[1].subject).update(reason="nobody said so")
    guards_put_up(connection)
    assert "The book was changed" in text(signed_in(cast.inspector), href(logs[1]))
    assert "Something is not as it was written down" in text(
        signed_in(cast.inspector), "/k/small/inspection/book/?check=1"
    )


def test_the_book_tells_its_checkpoint(cast: Cast, logs: list[CoolingRecord], later: datetime) -> None:
    checkpoint_now(kitchen_id=cast.kitchen.pk, now=later)
    page = text(signed_in(cast.inspector), "/k/small/inspection/book/")
    assert "Potwright checkpoint 1" in page


# --- deviations -------------------------------------------------------------------------------------------------------


def test_a_cook_records_and_a_manager_closes(cast: Cast, logs: list[CoolingRecord], later: datetime) -> None:
    address = reverse("deviation", args=["small", 1])
    cook, manager = signed_in(cast.cook), signed_in(cast.manager)
    assert "Close the deviation" not in text(cook, address)
    act = {"do": "act", "act-key": "a", "act-measure": "discard", "act-what": "Poured away", "act-witness": "Kim"}
    assert cook.post(address, act).status_code == 302
    close = {
        "do": "close",
        "close-key": "c",
        "close-cause": "The ice ran out",
        "close-prevention": "Ice is weighed",
        "close-disposition": "discard",
        "close-quantity": "4 containers",
    }
    assert cook.post(address, close).status_code == 403
    refused = manager.post(address, close)
    assert refused.status_code == 422
    assert "This is not told yet: witness." in refused.content.decode()
    assert "The ice ran out" in refused.content.decode()
    assert manager.post(address, close | {"close-witness": "Kim"}).status_code == 302
    page = text(manager, address)
    for said in ("Poured away", "The ice ran out", "Ice is weighed", "All of it is thrown away", "0 of 4 left"):
        assert said in page, said
    assert manager.post(address, close | {"close-witness": "Kim", "close-key": "d"}).status_code in (409, 422)


def test_all_missed_limits_of_the_quarter_with_what_was_done_are_one_link_away(
    cast: Cast, logs: list[CoolingRecord], later: datetime
) -> None:
    client = signed_in(cast.inspector)
    link = f"/k/small/deviations/?{client.get('/k/small/inspection/').context['breaches']}"
    assert "since=2027-01-01&until=2027-03-31" in link
    page = text(client, link)
    assert "missed a limit" in page
    assert "from 1 Jan 2027 to 31 Mar 2027" in page
    before = link.replace("2027-01-01", "2026-10-01").replace("2027-03-31", "2026-12-31")
    assert "No deviation is like that" in text(client, before)


def test_others_find_nothing(cast: Cast, logs: list[CoolingRecord]) -> None:
    client = signed_in(cast.outsider)
    for address in (href(logs[0]), reverse("deviation", args=["small", 1]), "/k/small/deviations/"):
        assert client.get(address).status_code == 404
