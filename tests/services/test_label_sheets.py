"""Labels and dispatch notes are printed by a worker, kept, and the book says so."""

from __future__ import annotations

import io
from datetime import timedelta

import pdfplumber
import pytest

from production.domain.errors import DoesNotFit, NotAllowed, OutOfRange
from production.models import Document, Entry, Job, OrderLine, Plan, PlanningWeek, Product, ProductLabel
from production.services.dispatch import Picked, dispatch_confirm
from production.services.dispatch_notes import note_request
from production.services.job_handlers import HANDLERS
from production.services.jobs import job_run
from production.services.label_sheets import labels_request
from tests.builders import at
from tests.conftest import Cast
from tests.lots import a_lot, a_plan

LEAVES = at("2027-02-03 08:30")


@pytest.fixture
def plan(cast: Cast, planning_week: PlanningWeek) -> Plan:
    return a_plan(cast, planning_week)


def run_job(job_id: int) -> None:
    job_run(job_id=job_id, handlers=HANDLERS)


def text_of(document: Document) -> str:
    with pdfplumber.open(io.BytesIO(bytes(document.pdf))) as pdf:
        return "\n".join(page.extract_text() for page in pdf.pages)


def test_labels_are_printed_kept_and_written_down(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan, containers=12)
    ProductLabel.objects.create(product=lot.product, gtin="9501101530003")
    job = labels_request(by=cast.cook, code=lot.code, size="a4-14", first_place=1, copies=12)
    run_job(job)
    document = Document.objects.get(kind="label_sheet")
    assert text_of(document).count(f"Lot {lot.code}") >= 12
    assert document.content["labels"][0]["label"]["lot"] == lot.code
    entry = Entry.objects.get(kind="labels_printed")
    assert (entry.subject, entry.content["copies"]) == (f"lot/{lot.code}", 12)
    assert document.content["labels"][0]["label"]["gtin"] == ""  # as it was when the lot was packed


def test_printing_again_is_a_new_version_and_a_worker_that_runs_twice_prints_once(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan)
    first = labels_request(by=cast.cook, code=lot.code, size="roll-100x60", first_place=1, copies=1)
    run_job(first)
    run_job(first)
    assert Document.objects.filter(kind="label_sheet").count() == 1
    run_job(labels_request(by=cast.cook, code=lot.code, size="roll-100x60", first_place=1, copies=2))
    newest = Document.objects.filter(kind="label_sheet").latest("version")
    assert (newest.version, newest.pages) == (2, 2)
    assert Entry.objects.filter(kind="labels_printed").count() == 2


def test_a_number_set_up_before_packing_stands_in_the_code(cast: Cast, plan: Plan) -> None:
    ProductLabel.objects.create(
        product=Product.objects.get(kitchen=cast.kitchen, code="poultry-5"), gtin="9501101530003"
    )
    assert a_lot(cast, plan).label["gtin"] == "9501101530003"


def test_what_cannot_be_printed_is_refused_at_once(cast: Cast, plan: Plan) -> None:
    lot = a_lot(cast, plan)
    with pytest.raises(OutOfRange):
        labels_request(by=cast.cook, code=lot.code, size="a4-14", first_place=15, copies=1)
    with pytest.raises(OutOfRange):
        labels_request(by=cast.cook, code=lot.code, size="postcard", first_place=1, copies=1)
    lot.label["ingredients"] = [{"name": "Something long " * 40, "allergens": []}]
    lot.save()
    with pytest.raises(DoesNotFit):
        labels_request(by=cast.cook, code=lot.code, size="a4-14", first_place=1, copies=1)
    with pytest.raises(NotAllowed):
        labels_request(by=cast.inspector, code=lot.code, size="a4-14", first_place=1, copies=1)
    assert not Job.objects.exists()


def test_a_dispatch_note_names_what_has_left(cast: Cast, plan: Plan, planning_week: PlanningWeek) -> None:
    lot = a_lot(cast, plan, free=True)
    line = OrderLine.objects.get(week=planning_week, code="L1")
    dispatch_confirm(
        by=cast.cook,
        line=line.pk,
        picked=[Picked(lot=lot.code, containers=4)],
        happened_at=LEAVES,
        key="send",
        now=LEAVES + timedelta(minutes=1),
    )
    run_job(note_request(by=cast.cook, outlet="bistro", dispatch_at=line.dispatch_at))
    text = text_of(Document.objects.get(kind="dispatch_note"))
    assert f"4 × {lot.code}" in text
    assert "2 short" in text
