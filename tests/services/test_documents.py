"""Printing a plan: asked for, rendered in the background, kept in versions."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest
from django.db import connection
from django.db.models import F
from django.http import Http404
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from production.documents.render import RenderedPdf
from production.domain.errors import Conflict, NotAllowed
from production.domain.sheets import CoolingLog, content_to_json
from production.domain.sheets import issued as issued_as
from production.models import Document, Job, Kitchen, Plan, PlanningWeek
from production.selectors.documents import document_of, documents_of
from production.selectors.fingerprints import fingerprint
from production.selectors.purchasing import purchase_lists_of
from production.selectors.workings import figure_of, figures_of
from production.services import documents
from production.services.documents import contents_of, document_issue, document_store, documents_request
from tests.conftest import Cast
from tests.lots import a_plan

Commit = Callable[..., AbstractContextManager[list[Callable[[], Any]]]]


@pytest.fixture
def plan(cast: Cast, planning_week: PlanningWeek) -> Plan:
    return a_plan(cast, planning_week)


@pytest.fixture
def press(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Instead of the real one: notes what is rendered."""
    rendered: list[str] = []

    def render(content: Any, *, paper: str) -> RenderedPdf:
        rendered.append(f"{content.kind} {content.key} {paper}")
        return RenderedPdf(pdf=b"%PDF-" + content.key.encode(), pages=2)

    monkeypatch.setattr(documents, "render_document", render)
    return rendered


def issued(cast: Cast, plan: Plan, commit: Commit) -> Job:
    with commit(execute=True):
        job_id = documents_request(by=cast.manager, plan=plan)
    return Job.objects.get(pk=job_id)


def test_all_documents_of_a_plan_are_kept_with_content_and_fingerprint(
    cast: Cast, plan: Plan, press: list[str], django_capture_on_commit_callbacks: Commit
) -> None:
    job = issued(cast, plan, django_capture_on_commit_callbacks)
    contents = contents_of(plan)
    assert {each.kind for each in contents} == {"batch_sheet", "cooling_log", "purchase_list", "week_overview"}
    assert (job.state, job.error_sentence) == ("done", "")
    assert job.result == {"new": len(contents), "unchanged": 0}
    assert (job.progress_done, job.progress_total) == (len(contents), len(contents))
    kept = {(each.kind, each.key): each for each in Document.objects.all()}
    assert len(kept) == len(contents) == len(press)
    for content in contents:
        row = kept[content.kind, content.key]
        at = datetime.fromisoformat(row.content["heading"]["issued_at"])
        assert at <= row.created_at
        assert row.content == content_to_json(issued_as(content, version=1, replaces=None, at=at))
        assert row.content_sha256 == fingerprint(row.content)
        assert bytes(row.pdf) == b"%PDF-" + content.key.encode()
        assert (row.version, row.pages, row.created_by, row.replaces) == (1, 2, cast.manager.user, None)


def test_no_two_documents_have_the_same_title(plan: Plan) -> None:
    titles = [documents.title_of(each) for each in contents_of(plan)]
    assert len(set(titles)) == len(titles)


def test_long_names_shorten_the_title_and_nothing_else(plan: Plan) -> None:
    log = next(each for each in contents_of(plan) if isinstance(each, CoolingLog))
    long = replace(log, device="Ice sink " * 13, formula="Brown veal stock " * 7)
    row = document_store(
        plan=plan,
        content=issued_as(long, version=1, replaces=None, at=timezone.now()),
        rendered=RenderedPdf(pdf=b"%PDF-", pages=1),
        user_id=None,
    )
    assert len(documents.title_of(long)) > len(row.title) <= 200
    assert row.title.endswith("…")
    assert row.content["device"] == long.device


def test_what_has_not_changed_is_not_rendered_again(
    cast: Cast, plan: Plan, press: list[str], django_capture_on_commit_callbacks: Commit
) -> None:
    issued(cast, plan, django_capture_on_commit_callbacks)
    count = len(press)
    job = issued(cast, plan, django_capture_on_commit_callbacks)
    assert job.result == {"new": 0, "unchanged": count}
    assert len(press) == Document.objects.count() == count


def test_another_paper_makes_new_versions_that_name_the_old_ones(
    cast: Cast, plan: Plan, press: list[str], django_capture_on_commit_callbacks: Commit
) -> None:
    issued(cast, plan, django_capture_on_commit_callbacks)
    count = len(press)
    Kitchen.objects.filter(pk=cast.kitchen.pk).update(paper="letter")
    issued(cast, plan, django_capture_on_commit_callbacks)
    newest = documents_of(by=cast.manager, plan=plan)
    assert newest.count() == count
    assert {(each.version, each.paper) for each in newest} == {(2, "letter")}
    assert all(each.replaces is not None and each.replaces.version == 1 for each in newest)
    assert documents_of(by=cast.manager, plan=plan, all_versions=True).count() == 2 * count


def test_one_document_is_issued_alone_and_really_rendered(
    cast: Cast, plan: Plan, django_capture_on_commit_callbacks: Commit
) -> None:
    sheet = contents_of(plan)[0]
    with django_capture_on_commit_callbacks(execute=True):
        job_id = document_issue(by=cast.manager, plan=plan, kind=sheet.kind, key=sheet.key)
    assert Job.objects.get(pk=job_id).result == {"new": 1, "unchanged": 0}
    row = document_of(by=cast.cook, document_id=Document.objects.get().pk)
    assert bytes(row.pdf).startswith(b"%PDF-")
    assert row.pages >= 1


def test_issuing_one_document_again_makes_a_version_that_names_the_one_before(
    cast: Cast, plan: Plan, press: list[str], django_capture_on_commit_callbacks: Commit
) -> None:
    issued(cast, plan, django_capture_on_commit_callbacks)
    sheet = contents_of(plan)[0]
    with django_capture_on_commit_callbacks(execute=True):
        job_id = document_issue(by=cast.manager, plan=plan, kind=sheet.kind, key=sheet.key)
    assert Job.objects.get(pk=job_id).result == {"new": 1, "unchanged": 0}
    versions = Document.objects.filter(kind=sheet.kind, key=sheet.key).order_by("version")
    assert [(each.version, each.replaces) for each in versions] == [(1, None), (2, versions[0])]
    headings = [each.content["heading"] for each in versions]
    assert [(each["version"], each["replaces"]) for each in headings] == [(1, None), (2, 1)]
    assert headings[0]["issued_at"] < headings[1]["issued_at"]
    assert versions[0].content_sha256 != versions[1].content_sha256
    assert Document.objects.filter(version=2).count() == 1


def test_version_and_replaced_version_are_in_what_is_rendered(
    cast: Cast, plan: Plan, django_capture_on_commit_callbacks: Commit, monkeypatch: pytest.MonkeyPatch
) -> None:
    rendered: list[tuple[int, int | None, bool]] = []

    def render(content: Any, *, paper: str) -> RenderedPdf:
        heading = content.heading
        rendered.append((heading.version, heading.replaces, heading.issued_at is not None))
        return RenderedPdf(pdf=b"%PDF-", pages=1)

    monkeypatch.setattr(documents, "render_document", render)
    sheet = contents_of(plan)[0]
    for _ in range(2):
        with django_capture_on_commit_callbacks(execute=True):
            document_issue(by=cast.manager, plan=plan, kind=sheet.kind, key=sheet.key)
    assert rendered == [(1, None, True), (2, 1, True)]


def test_a_version_that_somebody_else_issued_meanwhile_is_not_written_over(cast: Cast, plan: Plan) -> None:
    sheet = contents_of(plan)[0]
    first = issued_as(sheet, version=1, replaces=None, at=timezone.now())
    pdf = RenderedPdf(pdf=b"%PDF-", pages=1)
    document_store(plan=plan, content=first, rendered=pdf, user_id=None)
    with pytest.raises(Conflict, match="at the same moment"):
        document_store(plan=plan, content=first, rendered=pdf, user_id=None)
    assert Document.objects.count() == 1


def test_an_issue_that_was_taken_over_by_another_worker_adds_no_version(
    cast: Cast,
    plan: Plan,
    press: list[str],
    django_capture_on_commit_callbacks: Commit,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    render = documents.render_document  # type: ignore[attr-defined]
    sheet = contents_of(plan)[0]

    def taken_over_meanwhile(content: Any, *, paper: Any) -> RenderedPdf:
        Job.objects.update(attempts=F("attempts") + 1)
        return render(content, paper=paper)

    monkeypatch.setattr(documents, "render_document", taken_over_meanwhile)
    with django_capture_on_commit_callbacks(execute=True):
        document_issue(by=cast.manager, plan=plan, kind=sheet.kind, key=sheet.key)
    assert len(press) == 1
    assert not Document.objects.exists()


def test_all_documents_are_asked_for_twice_and_what_is_there_stays_even_beside_one_issued_again(
    cast: Cast, plan: Plan, press: list[str], django_capture_on_commit_callbacks: Commit
) -> None:
    sheet = contents_of(plan)[0]
    for _ in range(2):
        with django_capture_on_commit_callbacks(execute=True):
            document_issue(by=cast.manager, plan=plan, kind=sheet.kind, key=sheet.key)
    job = issued(cast, plan, django_capture_on_commit_callbacks)
    assert job.result == {"new": len(contents_of(plan)) - 1, "unchanged": 1}
    assert Document.objects.filter(kind=sheet.kind, key=sheet.key).count() == 2


def test_a_document_the_plan_does_not_hold_is_not_found(cast: Cast, plan: Plan) -> None:
    with pytest.raises(Http404):
        document_issue(by=cast.manager, plan=plan, kind="batch_sheet", key="no such run")
    assert not Job.objects.exists()


def test_a_job_that_is_cancelled_on_the_way_keeps_what_is_finished(
    cast: Cast,
    plan: Plan,
    press: list[str],
    django_capture_on_commit_callbacks: Commit,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    render = documents.render_document  # type: ignore[attr-defined]

    def stopped_after_the_first(content: Any, *, paper: Any) -> RenderedPdf:
        Job.objects.update(cancel_requested=True)
        return render(content, paper=paper)

    monkeypatch.setattr(documents, "render_document", stopped_after_the_first)
    job = issued(cast, plan, django_capture_on_commit_callbacks)
    assert job.state == "cancelled"
    assert Document.objects.count() == len(press) == 1


@pytest.mark.parametrize("role", ["cook", "inspector", "administrator"])
def test_nobody_but_a_manager_issues_documents(cast: Cast, plan: Plan, role: str) -> None:
    with pytest.raises(NotAllowed):
        documents_request(by=getattr(cast, role), plan=plan)
    with pytest.raises(NotAllowed):
        document_issue(by=getattr(cast, role), plan=plan, kind="batch_sheet", key="R1")


def test_an_outsider_finds_no_documents(
    cast: Cast, plan: Plan, press: list[str], django_capture_on_commit_callbacks: Commit
) -> None:
    issued(cast, plan, django_capture_on_commit_callbacks)
    assert not documents_of(by=cast.outsider, plan=plan).exists()
    with pytest.raises(Http404):
        document_of(by=cast.outsider, document_id=Document.objects.latest("pk").pk)
    with pytest.raises(Http404):
        documents_request(by=cast.outsider, plan=plan)


def test_a_cook_sees_sheets_and_logs_but_no_prices(
    cast: Cast, plan: Plan, press: list[str], django_capture_on_commit_callbacks: Commit
) -> None:
    issued(cast, plan, django_capture_on_commit_callbacks)
    kinds = Counter(each.kind for each in documents_of(by=cast.inspector, plan=plan))
    assert set(kinds) == {"batch_sheet", "cooling_log", "purchase_list", "week_overview"}
    assert Counter(each.kind for each in documents_of(by=cast.cook, plan=plan)) == Counter(
        {kind: count for kind, count in kinds.items() if kind != "purchase_list"}
    )
    with pytest.raises(Http404):
        document_of(by=cast.cook, document_id=Document.objects.filter(kind="purchase_list").latest("pk").pk)
    with pytest.raises(NotAllowed):
        purchase_lists_of(by=cast.cook, plan=plan)
    assert purchase_lists_of(by=cast.inspector, plan=plan)


def test_a_list_of_documents_is_one_query_without_the_files(
    cast: Cast, plan: Plan, press: list[str], django_capture_on_commit_callbacks: Commit
) -> None:
    issued(cast, plan, django_capture_on_commit_callbacks)
    with CaptureQueriesContext(connection) as captured:
        assert [(each.title, each.pages, each.created_by) for each in documents_of(by=cast.manager, plan=plan)]
    assert len(captured) == 1
    assert '"pdf"' not in captured[0]["sql"]


def test_every_figure_of_a_run_can_be_opened_by_a_cook(cast: Cast, plan: Plan) -> None:
    run = contents_of(plan)[0].run  # type: ignore[union-attr]
    figures = figures_of(by=cast.cook, plan=plan, run=run)
    assert figures
    assert figure_of(by=cast.cook, plan=plan, run=run, key=figures[0].key) == figures[0]
    with pytest.raises(Http404):
        figure_of(by=cast.cook, plan=plan, run=run, key="no such figure")
    with pytest.raises(Http404):
        figures_of(by=cast.cook, plan=plan, run="no such run")
