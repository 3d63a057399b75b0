"""The pages of lots, dispatch and saved bones."""

from __future__ import annotations

from datetime import timedelta

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from production.models import (
    Bones,
    CoolingRecord,
    Document,
    Entry,
    Job,
    Lot,
    LotMove,
    OrderLine,
    Plan,
    Product,
    ProductLabel,
    Store,
)
from production.selectors.lots import coolings_to_pack
from production.services.job_handlers import HANDLERS
from production.services.jobs import job_run
from production.services.label_sheets import labels_request
from production.services.lot_decisions import lot_hold
from tests.builders import at
from tests.conftest import Cast
from tests.lots import PACKED, a_cooling, a_lot, a_run
from tests.web.conftest import address, signed_in

LATER = PACKED + timedelta(hours=1)
MORNING = at("2027-02-03 08:00")


@pytest.fixture(autouse=True)
def evening() -> object:
    with time_machine.travel(LATER, tick=False) as traveller:
        yield traveller


def lot_page(cast: Cast, lot: Lot) -> str:
    return reverse("lot", args=[cast.kitchen.code, lot.code])


def send(client: Client, href: str, name: str, **typed: object) -> tuple[int, str]:
    """Send one of a page's forms."""
    fields = {f"{name}-{field}": value for field, value in ({"key": f"{name}-1"} | typed).items()}
    answer = client.post(href, {"do": name, **fields}, follow=True)
    return answer.status_code, answer.content.decode()


def test_a_draw_whose_cooling_is_done_waits_to_be_packed(cast: Cast, plan: Plan) -> None:
    cooling = a_cooling(a_run(plan))
    client = signed_in(cast.cook)
    page = client.get(reverse("lots", args=[cast.kitchen.code]))
    assert "Cooled, not packed yet" in page.content.decode()
    pack = f"{reverse('lot-pack', args=[cast.kitchen.code])}?cooling={cooling.subject}"
    assert "Poultry broth 5 L" in client.get(pack).content.decode()
    status, body = send(
        client, pack, "pack", coolings=[cooling.subject], product="poultry-5", containers="12", store="walk-in"
    )
    assert status == 200
    assert "is made and held" in body
    assert Lot.objects.get().left == 12
    assert "Cooled, not packed yet" not in client.get(reverse("lots", args=[cast.kitchen.code])).content.decode()


def test_what_was_typed_wrongly_stays_and_the_refusal_stands_beside_it(cast: Cast, plan: Plan) -> None:
    cooling = a_cooling(a_run(plan))
    pack = f"{reverse('lot-pack', args=[cast.kitchen.code])}?cooling={cooling.subject}"
    status, body = send(
        signed_in(cast.cook), pack, "pack", coolings=[cooling.subject], product="poultry-5", containers="a lot",
        store="walk-in",
    )  # fmt: skip
    assert status == 422
    assert "Type a whole number" in body
    assert 'value="a lot"' in body
    assert not Lot.objects.exists()


def test_a_cook_releases_a_lot_that_met_its_limits_and_holds_it_again(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan)
    client = signed_in(cast.cook)
    status, body = send(client, lot_page(cast, lot), "release", seen="held", reason="Labels and lids are right")
    assert (status, "it may leave" in body) == (200, True)
    status, body = send(client, lot_page(cast, lot), "hold", seen="free", reason="A lid was loose")
    assert (status, "is on hold" in body) == (200, True)
    assert [entry.kind for entry in Entry.objects.filter(subject=f"lot/{lot.code}")] == [
        "lot_made", "lot_released", "lot_held",
    ]  # fmt: skip


def test_a_cook_is_told_that_a_manager_keeps_a_lot_back(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan, free=True)
    lot_hold(by=cast.manager, code=lot.code, seen="free", reason="Glass in the room", key="h", now=LATER)
    told = signed_in(cast.cook).get(lot_page(cast, lot)).content.decode()
    assert "Only a manager releases it." in told
    assert "What you have looked at" not in told
    assert "What you have looked at" in signed_in(cast.manager).get(lot_page(cast, lot)).content.decode()


def test_a_cook_is_told_why_a_breached_lot_stays(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan, verdict="breached")
    client = signed_in(cast.cook)
    body = client.get(lot_page(cast, lot)).content.decode()
    assert "its cooling broke a limit" in body
    assert "Record the evaluation" not in body
    status, body = send(client, lot_page(cast, lot), "release", seen="held", reason="Smells fine")
    assert status == 403
    assert "Ask the manager; discard it when in doubt." in body
    assert "Smells fine" in body


def test_a_manager_evaluates_and_then_releases(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan, verdict="not_shown")
    client = signed_in(cast.manager)
    assert send(client, lot_page(cast, lot), "release", seen="held", reason="Because")[0] == 403
    status, _ = send(
        client, lot_page(cast, lot), "evaluate", disposition="release", cause="A reading was missed",
        action="Second thermometer looked at", evaluation="Chilled by the recorder's own trace",
    )  # fmt: skip
    assert status == 200
    assert send(client, lot_page(cast, lot), "release", seen="held", reason="As evaluated")[0] == 200
    assert Lot.objects.get().status == "free"


def test_of_two_who_release_the_second_is_told(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan)
    assert send(signed_in(cast.cook), lot_page(cast, lot), "release", seen="held", reason="Right")[0] == 200
    status, body = send(
        signed_in(cast.manager), lot_page(cast, lot), "release", seen="held", reason="Right", key="another"
    )
    assert status == 409
    assert "free already by cook" in body


def test_discarding_and_counting_change_what_is_left(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan, containers=10)
    client = signed_in(cast.cook)
    send(client, lot_page(cast, lot), "discard", seen_left="10", containers="3", reason="Leaking")
    send(client, lot_page(cast, lot), "count", seen_left="7", found="6", reason="One too few")
    assert Lot.objects.get().left == 6
    status, body = send(client, lot_page(cast, lot), "count", seen_left="7", found="7", reason="Again", key="late")
    assert status == 409
    assert "6 are left" in body


def test_labels_are_asked_for_and_the_job_is_shown(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan)
    client = signed_in(cast.cook)
    status, body = send(client, lot_page(cast, lot), "labels", size="a4-14", copies="10", first_place="5")
    assert status == 200
    assert "Printing labels" in body
    assert Job.objects.get().kind == "labels_render"
    status, body = send(client, lot_page(cast, lot), "labels", size="a4-14", copies="10", first_place="15", key="b")
    assert status == 422
    assert "there is no place 15" in body


def test_an_inspector_sees_a_lot_and_changes_nothing(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan)
    client = signed_in(cast.inspector)
    body = client.get(lot_page(cast, lot)).content.decode()
    assert lot.code in body
    assert "Release lot" not in body
    assert send(client, lot_page(cast, lot), "release", seen="held", reason="Fine")[0] == 403


def test_the_day_of_dispatch_shows_picks_and_they_are_sent(cast: Cast, plan: Plan) -> None:
    OrderLine.objects.filter(code="L2").delete()
    lot = a_lot(cast, plan, containers=4, free=True)
    line = OrderLine.objects.get(code="L1")
    client = signed_in(cast.cook)
    href = f"{reverse('dispatch', args=[cast.kitchen.code])}?day=2027-02-03"
    body = client.get(href).content.decode()
    assert lot.code in body
    assert "No free lot with life enough for 2 of them" in body
    answer = client.post(
        reverse("dispatch-send", args=[cast.kitchen.code]),
        {"key": "k", "day": "2027-02-03", f"pick-{line.pk}-{lot.code}": "4"},
        follow=True,
    )
    assert "4 containers recorded as sent" in answer.content.decode()
    assert "4 of 6 sent" in answer.content.decode()
    assert LotMove.objects.filter(kind="dispatched").count() == 1
    note = client.post(
        reverse("dispatch-note", args=[cast.kitchen.code]),
        {"outlet": "bistro", "at": line.dispatch_at.isoformat(), "key": "n"},
        follow=True,
    )
    assert "Printing the dispatch note" in note.content.decode()


def test_what_cannot_leave_is_refused_and_what_was_typed_stays(cast: Cast, plan: Plan) -> None:
    OrderLine.objects.filter(code="L2").delete()
    lot = a_lot(cast, plan, containers=9, free=True)
    line = OrderLine.objects.get(code="L1")
    client = signed_in(cast.cook)
    sent = {"key": "k", "day": "2027-02-03", f"pick-{line.pk}-{lot.code}": "7"}
    answer = client.post(reverse("dispatch-send", args=[cast.kitchen.code]), sent)
    assert answer.status_code == 422
    assert "7 more are too many" in answer.content.decode()
    assert 'value="7"' in answer.content.decode()
    for typed in ("six", "-1", "9" * 9):
        answer = client.post(
            reverse("dispatch-send", args=[cast.kitchen.code]), sent | {f"pick-{line.pk}-{lot.code}": typed}
        )
        assert answer.status_code == 422
    assert not LotMove.objects.filter(kind="dispatched").exists()


def test_another_lot_is_named_by_its_code_and_a_mistyped_one_is_noticed(cast: Cast, plan: Plan) -> None:
    OrderLine.objects.filter(code="L2").delete()
    lot = a_lot(cast, plan, containers=9, free=True)
    line = OrderLine.objects.get(code="L1")
    client = signed_in(cast.cook)
    sent = {"key": "k", "day": "2027-02-03", f"count-{line.pk}": "2", f"other-{line.pk}": f"{lot.code[:-1]}?"}
    assert client.post(reverse("dispatch-send", args=[cast.kitchen.code]), sent).status_code == 422
    sent[f"other-{line.pk}"] = f"{lot.code[:6]}-{lot.code[6:].lower()}"
    assert client.post(reverse("dispatch-send", args=[cast.kitchen.code]), sent).status_code == 302
    assert Lot.objects.get().left == 7


def test_bones_are_put_by_in_any_unit_and_taken_out(cast: Cast, plan: Plan) -> None:
    client = signed_in(cast.cook)
    bank = reverse("bones", args=[cast.kitchen.code])
    status, body = send(client, bank, "save", ingredient="frames", mass="22 lb", saved_on="2027-02-02", store="freezer")
    assert status == 200
    assert "put by until" in body
    bones = Bones.objects.get()
    assert float(bones.mass_kg) == pytest.approx(9.98)
    take = reverse("bones-take", args=[cast.kitchen.code, bones.code])
    assert send(client, take, "use", mass="4", run="")[0] == 200
    status, body = send(client, take, "use", mass="40 kg", run="", key="more")
    assert status == 422
    assert "5.98" in body
    assert send(client, take, "discard", reason="Freezer burn")[0] == 200
    assert "The bank is empty" in client.get(bank).content.decode()


@pytest.mark.parametrize("mass", ["much", "12 L", "-3 kg", ""])
def test_a_weight_that_is_none_is_refused_with_an_example(cast: Cast, plan: Plan, mass: str) -> None:
    status, _ = send(
        signed_in(cast.cook), reverse("bones", args=[cast.kitchen.code]), "save",
        ingredient="frames", mass=mass, saved_on="2027-02-02", store="freezer",
    )  # fmt: skip
    assert status == 422
    assert not Bones.objects.exists()


def test_lots_of_another_kitchen_are_not_there(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan)
    client = signed_in(cast.outsider)
    assert client.get(f"/k/elsewhere/lots/{lot.code}/").status_code == 404
    assert client.get(lot_page(cast, lot)).status_code == 404
    assert lot.code not in client.get("/k/elsewhere/lots/").content.decode()


def queries(client: Client, href: str) -> int:
    client.get(href)
    with CaptureQueriesContext(connection) as caught:
        assert client.get(href).status_code == 200
    return len(caught)


def test_twice_the_lots_take_no_more_queries(cast: Cast, plan: Plan) -> None:
    client = signed_in(cast.manager)
    hrefs = [
        reverse("lots", args=[cast.kitchen.code]),
        f"{reverse('dispatch', args=[cast.kitchen.code])}?day=2027-02-03",
        reverse("bones", args=[cast.kitchen.code]),
    ]
    a_cooling(a_run(plan), group=90)
    a_lot(cast, plan, free=True)
    before = [queries(client, href) for href in hrefs]
    assert max(before) <= 40
    for group in range(10, 16):
        a_lot(cast, plan, free=True, group=group)
        a_cooling(a_run(plan), group=group + 50)
    assert [queries(client, href) for href in hrefs] == before
    one = lot_page(cast, Lot.objects.earliest("pk"))
    assert queries(client, one) <= 25
    assert CoolingRecord.objects.count() == 14
    assert not Document.objects.exists()


def test_a_freezer_tells_how_long_it_freezes_and_when_that_is_too_much(cast: Cast, plan: Plan) -> None:
    Plan.objects.filter(pk=plan.pk).update(status="published", published_at=LATER)
    Product.objects.filter(code="poultry-glaze").update(storage="frozen", net_l=5.0)  # two of them come today
    page = signed_in(cast.manager).get(reverse("lots", args=[cast.kitchen.code])).content.decode()
    assert "Freezing, at all its spare power" in page
    assert "more goes into Freezer" not in page
    Store.objects.filter(code="freezer").update(spare_kw=0.01)
    page = signed_in(cast.manager).get(reverse("lots", args=[cast.kitchen.code])).content.decode()
    assert "more goes into Freezer than its spare power can freeze in a day" in page


def test_a_store_that_overflows_says_when_and_by_how_much(cast: Cast, plan: Plan) -> None:
    a_lot(cast, plan, containers=10)
    Store.objects.filter(code="walk-in").update(volume_l=100.0)
    page = signed_in(cast.manager).get(reverse("lots", args=[cast.kitchen.code])).content.decode()
    assert "Walk-in overflows on Tue 2 Feb" in page


def test_printed_labels_stand_among_the_documents_and_are_printed_again_elsewhere(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan)
    job_run(
        job_id=labels_request(by=cast.cook, code=lot.code, size="a4-14", first_place=1, copies=2), handlers=HANDLERS
    )
    page = signed_in(cast.manager).get(address(plan.week, "documents")).content.decode()
    assert f"Labels {lot.code}" in page
    assert "Issue again" not in page


def test_opening_stock_becomes_lots_once_on_a_managers_word(cast: Cast, plan: Plan) -> None:
    lots = reverse("lots", args=[cast.kitchen.code])
    take_in = reverse("lots-take-in", args=[cast.kitchen.code])
    assert "In stock, but no lots yet" not in signed_in(cast.cook).get(lots).content.decode()
    assert signed_in(cast.cook).post(take_in, {"take-in-statement": "Trust me"}).status_code == 403
    client = signed_in(cast.manager)
    assert "In stock, but no lots yet" in client.get(lots).content.decode()
    assert client.post(take_in, {"take-in-statement": ""}).status_code == 422
    for _ in range(2):
        client.post(take_in, {"take-in-statement": "Paper logs of last week, in the blue folder"})
    lot = Lot.objects.get()
    assert (lot.left, lot.status, lot.run) == (2, "free", None)
    body = client.get(lot_page(cast, lot)).content.decode()
    assert "in the blue folder" in body
    assert "Print the labels" not in body
    assert "In stock, but no lots yet" not in client.get(lots).content.decode()


def test_what_is_filled_otherwise_of_a_draw_becomes_another_lot(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan)
    client = signed_in(cast.cook)
    another = f"{reverse('lot-pack', args=[cast.kitchen.code])}?cooling={lot.coolings.get().subject}"
    assert "Make another lot of this draw" in client.get(lot_page(cast, lot)).content.decode()
    send(
        client, another, "pack", coolings=[lot.coolings.get().subject], product="poultry-5", containers="2",
        store="walk-in", key="another",
    )  # fmt: skip
    assert Lot.objects.count() == 2


def test_a_draw_that_is_heated_again_waits_until_its_last_log_is_closed(cast: Cast, plan: Plan) -> None:
    run = a_run(plan)
    a_cooling(run, verdict="not_shown", attempt=1)
    again = a_cooling(run, verdict="", attempt=2)
    assert coolings_to_pack(by=cast.cook) == []
    CoolingRecord.objects.filter(pk=again.pk).update(closed_at=LATER, verdict="met")
    assert [each.pk for each in coolings_to_pack(by=cast.cook)] == [again.pk]


@pytest.mark.parametrize("gtin", ["9501101530004", "123", "95011015300AB", "00012345600012345675"])
def test_an_article_number_with_a_wrong_check_digit_is_not_set_up(cast: Cast, plan: Plan, gtin: str) -> None:
    label = ProductLabel(product=Product.objects.get(kitchen=cast.kitchen, code="poultry-5"), gtin=gtin)
    with pytest.raises(ValidationError):
        label.full_clean()


def test_published_article_numbers_are_set_up(cast: Cast, plan: Plan) -> None:
    # Check digits published by GS1: 629104150021 -> 3 (GS1 page), 890400021003 -> 7 (GS1 India).
    for gtin in ("6291041500213", "8904000210037"):
        ProductLabel(product=Product.objects.get(kitchen=cast.kitchen, code="poultry-5"), gtin=gtin).full_clean()
