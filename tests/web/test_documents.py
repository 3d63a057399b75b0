"""Documents: the list, printing, and the papers themselves."""

from __future__ import annotations

from django.utils import timezone

from production.models import Document, Job, Plan, PlanningWeek
from tests.conftest import Cast
from tests.web.conftest import KINDS, address, signed_in


def test_a_week_without_a_plan_has_no_papers(cast: Cast, planning_week: PlanningWeek) -> None:
    assert "No plan for this week yet" in signed_in(cast.cook).get(address(planning_week, "documents")).content.decode()


def test_a_plan_that_is_not_printed_says_who_prints(cast: Cast, plan: Plan) -> None:
    manager = signed_in(cast.manager).get(address(plan.week, "documents")).content.decode()
    cook = signed_in(cast.cook).get(address(plan.week, "documents")).content.decode()
    assert "Print the documents" in manager
    assert "The kitchen manager prints the documents" in cook
    assert '<form method="post" action="/k/' not in cook


def test_the_list_holds_the_newest_version_of_each(cast: Cast, documents: tuple[Document, ...]) -> None:
    old = documents[0]
    new = Document.objects.get(pk=old.pk)
    new.pk, new.version, new.replaces = None, 2, old
    new.save(force_insert=True)
    page = signed_in(cast.manager).get(address(old.plan.week, "documents"))
    shown = [document for shelf in page.context["shelves"] for document, _ in shelf.documents]
    assert {document.pk for document in shown} == {new.pk, *(each.pk for each in documents[1:])}
    assert "replaces 1" in page.content.decode()


def test_a_cook_sees_no_purchase_list(cast: Cast, documents: tuple[Document, ...]) -> None:
    client = signed_in(cast.cook)
    body = client.get(address(documents[0].plan.week, "documents")).content.decode()
    assert "Document batch_sheet" in body
    assert "Document purchase_list" not in body
    answers = {each.kind: client.get(f"/k/small/documents/{each.pk}/pdf/").status_code for each in documents}
    assert answers == {"batch_sheet": 200, "cooling_log": 200, "purchase_list": 404, "week_overview": 200}


def test_a_paper_opens_in_the_browser_under_a_plain_name(cast: Cast, documents: tuple[Document, ...]) -> None:
    Document.objects.filter(pk=documents[0].pk).update(key='R01"\r\nX: y')
    answer = signed_in(cast.inspector).get(f"/k/small/documents/{documents[0].pk}/pdf/")
    assert answer.content == b"%PDF-1.7 batch_sheet"
    assert answer.headers["Content-Type"] == "application/pdf"
    assert answer.headers["Content-Disposition"] == 'inline; filename="batch-sheet-R01-X-y-v1.pdf"'
    assert answer.headers["X-Content-Type-Options"] == "nosniff"


def test_printing_is_asked_for_once_however_often_the_form_is_sent(cast: Cast, plan: Plan) -> None:
    client = signed_in(cast.manager)
    answers = {
        client.post(address(plan.week, "documents", "issue"), {"request_key": "one"})["Location"] for _ in range(2)
    }
    assert len(answers) == 1
    job = Job.objects.get(kind="document_render")
    assert job.payload == {"plan_id": plan.pk}


def test_printing_shows_its_progress_on_the_list(cast: Cast, plan: Plan) -> None:
    Job.objects.create(
        kitchen=cast.kitchen,
        kind="document_render",
        payload={"plan_id": plan.pk},
        state="running",
        started_at=timezone.now(),
        lease_until=timezone.now(),
        created_at=timezone.now(),
        progress_done=3,
        progress_total=11,
    )
    body = signed_in(cast.manager).get(address(plan.week, "documents")).content.decode()
    assert "3 of 11" in body
    assert "Print the documents" not in body


def test_a_paper_that_the_plan_does_not_have_cannot_be_issued(cast: Cast, plan: Plan) -> None:
    client = signed_in(cast.manager)
    for kind in KINDS:
        answer = client.post(address(plan.week, "documents", "issue"), {"kind": kind, "key": "no-such-key"})
        assert answer.status_code == 404
    assert not Job.objects.exists()


def test_one_paper_is_issued_again(cast: Cast, plan: Plan) -> None:
    client = signed_in(cast.manager)
    sent = {"kind": "batch_sheet", "key": plan.result["runs"][0]["code"], "request_key": "one"}
    assert client.post(address(plan.week, "documents", "issue"), sent).status_code == 302
    assert Job.objects.get().payload == {"plan_id": plan.pk, "kind": sent["kind"], "key": sent["key"]}
