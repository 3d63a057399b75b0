"""The completed batch record: planned beside real, struck lines, draws, coolings, lots, frozen from the records."""

from __future__ import annotations

import io
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import timedelta
from typing import Any

import pdfplumber
import pytest
from django.http import Http404
from django.urls import reverse

from production.documents.render import render_document
from production.domain.errors import Conflict
from production.domain.sheets import CompletedBatchRecord, content_from_json, content_to_json
from production.models import Document, Plan, PlanningWeek
from production.selectors.batch_record import completed_batch_record
from production.services.lots import lot_make
from tests.conftest import Cast
from tests.services.cooling_kit import act, read_all
from tests.services.floor_runs import RUN, Tablet, published, tablet_of
from tests.web.conftest import signed_in

Commit = Callable[..., AbstractContextManager[list[Callable[[], Any]]]]


@pytest.fixture
def plan(cast: Cast, planning_week: PlanningWeek) -> Plan:
    return published(cast, planning_week)


@pytest.fixture
def tablet(cast: Cast, plan: Plan) -> Tablet:
    """A run up to its first draw: one weighing corrected, one step recorded twice, one temperature taken back."""
    found = tablet_of(cast.cook, plan)
    found.to_draw()
    weighed = next(each for each in found.log if each["content"].get("step") == "charge.2")
    found.do(
        "charge_weighed", 306, corrects=weighed["key"], reason="read the scales wrong", step="charge.2", mass="5 kg"
    )
    other = tablet_of(cast.manager, plan, name="m")
    other.do("boil_reached", 95, step="boil")
    wrong = found.entry("temp_taken", 200, step="temp.2", temp="91 C")
    found.post(wrong, minute=307)
    found.do("withdrawn", 308, corrects=wrong["key"], reason="wrong pot")
    return found


def record_of(cast: Cast, tablet: Tablet, minute: float = 400) -> CompletedBatchRecord:
    starts_on = tablet.week.starts_on
    return completed_batch_record(by=cast.inspector, starts_on=starts_on, code=tablet.code, now=tablet.at(minute))


def line(record: CompletedBatchRecord, number: int | None) -> Any:
    return next(each for each in record.lines if each.number == number)


def test_a_run_under_way_has_no_completed_record_yet(cast: Cast, tablet: Tablet) -> None:
    with pytest.raises(Conflict, match="still under way"):
        record_of(cast, tablet)
    with pytest.raises(Http404):
        completed_batch_record(by=cast.outsider, starts_on=tablet.week.starts_on, code=RUN, now=tablet.at(400))


def test_every_step_stands_there_with_planned_and_real_time_by_whom_and_what_the_sheet_said(
    cast: Cast, tablet: Tablet
) -> None:
    tablet.do("run_finished", 330)
    record = record_of(cast, tablet)
    course = tablet.course(400)
    assert record.state == "finished"
    assert {each.title for each in record.lines} >= {each.step.title for each in course.steps}
    boil = next(each for each in record.lines if each.title == "Boil reached" and each.done_at is not None)
    assert (boil.done_at, boil.by) == (tablet.at(90), "cook")
    assert boil.planned_at is not None
    boiled = [each for each in record.lines if each.done_at == tablet.at(95)]
    assert [each.remarks[0] for each in boiled] == ["recorded as well; the first one counts"]
    missing = [each for each in record.lines if each.done_at is None]
    assert missing
    assert all((each.by, each.number, each.remarks) == ("", None, ("not recorded",)) for each in missing)


def test_what_was_corrected_or_taken_back_is_struck_and_the_correction_stands(cast: Cast, tablet: Tablet) -> None:
    tablet.do("run_finished", 330)
    record = record_of(cast, tablet)
    struck = {each.numbers[0].typed: each for each in record.lines if each.struck}
    assert set(struck) == {"3.9 kg", "91 C"}
    assert struck["3.9 kg"].struck_why.startswith("entered again: read the scales wrong (cook, ")
    assert struck["91 C"].struck_why.startswith("taken back: wrong pot (cook, ")
    counts = next(each for each in record.lines if not each.struck and each.numbers and each.numbers[0].typed == "5 kg")
    assert counts.title == struck["3.9 kg"].title
    assert counts.numbers[0].planned == pytest.approx(3.9, abs=0.3)
    assert counts.numbers[0].value == 5.0
    assert record.charge.solids_kg > record.charge.planned_solids_kg


def test_draws_coolings_and_lots_follow_with_their_verdicts(cast: Cast, tablet: Tablet) -> None:
    tablet.do("run_finished", 330)
    for cooling in tablet.record.coolings.all():
        read_all(cast.cook, cooling)
        act(cast.cook, cooling, "cooling_closed", 301, {})
    subjects = list(tablet.record.coolings.values_list("subject", flat=True))
    at = tablet.record.coolings.latest("closed_at").closed_at
    assert at is not None
    product = next(
        each for each in tablet.content.week.products if each.kind == "broth" and each.formula == tablet.run.formula
    )
    store = next(each for each in tablet.content.week.stores if each.kind == product.storage)
    lot = lot_make(
        by=cast.cook,
        coolings=subjects,
        product=product.code,
        containers=4,
        store=store.code,
        packed_at=at,
        key="lot-1",
        now=at + timedelta(minutes=1),
    )
    record = record_of(cast, tablet, 900)
    assert [each.name for each in record.draws] == ["first"]
    assert record.draws[0].filled
    assert {each.verdict for each in record.coolings} == {"met"}
    assert [(each.code, each.containers, each.status) for each in record.lots] == [(lot.code, 4, "held")]
    assert content_from_json(content_to_json(record)) == record


def test_a_run_that_was_broken_off_says_why_and_what_became_of_the_pot(cast: Cast, tablet: Tablet) -> None:
    tablet.do("run_broken_off", 320, why="pot or heat failed", contents="discarded")
    record = record_of(cast, tablet)
    assert (record.state, record.state_words) == ("broken_off", "pot or heat failed; it was discarded")


def test_the_paper_says_what_the_record_says(cast: Cast, tablet: Tablet) -> None:
    tablet.do("run_finished", 330)
    record = record_of(cast, tablet)
    rendered = render_document(record, paper="a4")
    with pdfplumber.open(io.BytesIO(rendered.pdf)) as pdf:
        words = " ".join(" ".join((page.extract_text() or "") for page in pdf.pages).split())
    for said in ("Completed batch record", "Finished", "read the scales wrong", "not recorded", "still cooling when"):
        assert said in words, said
    for each in record.lines:
        for number in each.numbers:
            assert number.typed in words
    assert rendered.pages <= 3


@pytest.mark.django_db
def test_a_cook_prints_it_from_the_page_of_the_run_once(
    cast: Cast, tablet: Tablet, django_capture_on_commit_callbacks: Commit
) -> None:
    client, starts_on = signed_in(cast.cook), tablet.week.starts_on
    page, address = (reverse(name, args=["small", starts_on, RUN]) for name in ("run-live", "batch-record-print"))
    assert address not in client.get(page).content.decode()
    assert (client.post(address).status_code, Document.objects.count()) == (409, 0)
    tablet.do("run_finished", 330)
    assert address in client.get(page).content.decode()
    for _ in range(2):
        with django_capture_on_commit_callbacks(execute=True):
            answer = client.post(address, {"request_key": "once"})
    document = Document.objects.get()
    assert (document.kind, document.version) == ("completed_batch_record", 1)
    assert client.get(answer["Location"])["Location"] == reverse("document-pdf", args=["small", document.pk])
    assert document.title in client.get(reverse("documents", args=["small", starts_on])).content.decode()
    assert signed_in(cast.inspector).post(address).status_code == 403
