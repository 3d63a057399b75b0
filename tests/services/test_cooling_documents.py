"""The completed cooling log: frozen from the records, rendered by a worker, once."""

from __future__ import annotations

import io
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pdfplumber
import pytest
from django.http import Http404
from django.utils import timezone

from production.documents.render import RenderedPdf, render_document
from production.domain.errors import Conflict, NotAllowed
from production.domain.sheets import CompletedCoolingLog, content_from_json, content_to_json
from production.models import Checkpoint, CoolingRecord, Document, Job, PlanningWeek
from production.selectors.cooling_record import completed_log
from production.services import label_sheets
from production.services.cooling_documents import cooling_log_request
from production.services.job_handlers import HANDLERS
from production.services.jobs import job_claim, job_run, jobs_sweep
from tests.conftest import Cast
from tests.services.cooling_kit import a_run, a_thermometer, act, again, opened, read, sent, take

Commit = Callable[..., AbstractContextManager[list[Callable[[], Any]]]]


@pytest.fixture
def cooling(cast: Cast, planning_week: PlanningWeek) -> CoolingRecord:
    """A log with everything: a thermometer that is off, a question, one set aside, ice, closing, an addition."""
    a_thermometer(cast.manager, correction="-0.2")
    found = opened(cast.cook, a_run(cast.manager, planning_week))
    for minute, temp in ((2, "80.2"), (25, "57.2"), (60, "35.2")):
        read(cast.cook, found, minute, temp, thermometer="t1")
    asked = read(cast.cook, found, 62, "0.4", thermometer="t1")
    aside(cast.manager, found, asked.key, 64)
    act(cast.cook, found, "ice_added", 65, {"mass": "12 kg", "into": "bath"})
    act(cast.cook, found, "moved", 66, {"device": "chiller", "vessels": "6", "depth": "40 mm"})
    act(cast.cook, found, "corrective_action", 67, {"what": "Lids taken off"}, reason="They were left on")
    for minute, temp in ((110, "21.1"), (300, "5.2")):
        read(cast.cook, found, minute, temp, thermometer="t1")
    act(cast.manager, found, "cooling_closed", 301, {})
    late = sent("reading", found.subject, at(found, 200), {"temp": "12.2", "unit": "C", "thermometer": "t1"})
    take(cast.cook, late, now=at(found, 310))
    return again(found)


def at(cooling: CoolingRecord, minute: float) -> datetime:
    return cooling.opened_at + timedelta(minutes=minute)


def aside(by: Any, cooling: CoolingRecord, key: str, minute: float) -> None:
    entry = sent("reading_excluded", cooling.subject, at(cooling, minute), {}, corrects=key, reason="Probe in the ice")
    take(by, entry, now=at(cooling, minute))


def test_a_completed_log_holds_what_an_inspector_looks_for(cast: Cast, cooling: CoolingRecord) -> None:
    log = completed_log(by=cast.inspector, subject=cooling.subject)
    assert (log.verdict, log.device, log.vessels) == ("met", "Ice sink", cooling.sheet["vessels"])
    assert log.rule.endswith("(FDA_A_C)")
    counted = [each.counted for each in log.readings]
    assert counted == ["80.0 °C", "57.0 °C", "35.0 °C", "0.2 °C", "20.9 °C", "12.0 °C", "5.0 °C"]
    struck = next(each for each in log.readings if each.struck)
    assert struck.shown == "0.4 °C"
    assert struck.struck_why.startswith("Probe in the ice (manager, ")
    assert "fell faster than likely" in struck.notes
    late = next(each for each in log.readings if "added after closing" in each.notes)
    assert "entered 110 min after measuring" in late.notes
    assert {each.thermometer for each in log.readings} == {"Red handle"}
    assert [each.words for each in log.acts] == [
        "Ice added: 12 kg, into the bath.",
        "Moved to Blast chiller, 6 vessels, 40 mm deep.",
        "Corrective action: Lids taken off. They were left on",
    ]
    assert [(each.verdict, each.added_later) for each in log.verdicts] == [("met", False), ("met", True)]
    assert [each.verdict for each in log.stages] == ["met", "met"]
    assert all(each.reasons for each in log.stages)
    assert content_from_json(content_to_json(log)) == log


def test_the_paper_says_what_the_content_says(cast: Cast, cooling: CoolingRecord) -> None:
    log = completed_log(by=cast.inspector, subject=cooling.subject)
    rendered = render_document(log, paper="a4")
    with pdfplumber.open(io.BytesIO(rendered.pdf)) as pdf:
        text = " ".join((page.extract_text() or "") for page in pdf.pages)
    words = " ".join(text.split())
    for said in (
        "Completed cooling log",
        "Limits met",
        log.device,
        "set aside:",
        "Ice added: 12 kg",
        "Lids taken off",
        "judged again after an addition",
        "Printed name",
        f"Run {log.run}",
    ):
        assert said in words, said
    for each in log.readings:
        assert each.counted in words
    assert rendered.pages <= 2


def test_thousands_of_readings_of_a_probe_all_stand_on_the_paper(cast: Cast, cooling: CoolingRecord) -> None:
    log = completed_log(by=cast.inspector, subject=cooling.subject)
    first = log.readings[0]
    many = tuple(
        replace(
            first,
            number=1000 + minute,
            measured_at=at(cooling, minute),
            entered_at=at(cooling, minute),
            counted=f"{90 - minute / 10:.1f} °C",
            shown=f"{90 - minute / 10:.1f} °C",
            temp_c=90 - minute / 10,
            from_probe=True,
            notes=(),
        )
        for minute in range(400)
    )
    rendered = render_document(replace(log, readings=(*many, *log.readings)), paper="letter")
    with pdfplumber.open(io.BytesIO(rendered.pdf)) as pdf:
        words = " ".join(" ".join((page.extract_text() or "").split()) for page in pdf.pages)
    assert all(each.counted in words for each in many)
    assert rendered.pages <= 5


def test_an_open_log_is_not_completed(cast: Cast, planning_week: PlanningWeek) -> None:
    found = opened(cast.cook, a_run(cast.manager, planning_week))
    with pytest.raises(Conflict) as caught:
        cooling_log_request(by=cast.manager, subject=found.subject)
    assert caught.value.code == "cooling-still-open"
    with pytest.raises(NotAllowed):
        cooling_log_request(by=cast.inspector, subject=found.subject)
    with pytest.raises(Http404):
        completed_log(by=cast.outsider, subject=found.subject)


def test_a_worker_renders_it_and_keeps_it_as_a_version(
    cast: Cast, cooling: CoolingRecord, django_capture_on_commit_callbacks: Commit
) -> None:
    for _ in range(2):
        with django_capture_on_commit_callbacks(execute=True):
            job_id = cooling_log_request(by=cast.cook, subject=cooling.subject)
        assert Job.objects.get(pk=job_id).state == "done"
    rows = Document.objects.filter(kind="completed_cooling_log").order_by("version")
    assert [(each.version, each.replaces) for each in rows] == [(1, None), (2, rows[0])]
    assert rows[0].key == cooling.subject.removeprefix("cooling/")
    assert bytes(rows[0].pdf).startswith(b"%PDF-")
    content = content_from_json(rows[0].content)
    assert isinstance(content, CompletedCoolingLog)
    assert (content.heading.version, len(content.readings)) == (1, 7)
    assert Checkpoint.objects.get().size >= content.book_last, "signed once, with every entry that is printed"


def test_a_worker_that_is_killed_while_rendering_is_followed_by_another_and_one_paper_is_kept(
    cast: Cast, cooling: CoolingRecord, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Killed(BaseException):
        """The process is gone: nothing after this runs."""

    calls: list[int] = []

    def press(content: Any, *, paper: Any, sealed: Any) -> RenderedPdf:
        calls.append(1)
        if len(calls) == 1:
            raise Killed
        return RenderedPdf(pdf=b"%PDF-1.7", pages=1)

    monkeypatch.setattr(label_sheets, "render_document", press)
    monkeypatch.setattr("production.queue.ring", lambda _job_id: None)
    job_id = cooling_log_request(by=cast.manager, subject=cooling.subject)
    with pytest.raises(Killed):
        job_run(job_id=job_id, handlers=HANDLERS)
    assert not Document.objects.exists()
    assert Job.objects.get(pk=job_id).state == "running"
    later = timezone.now() + timedelta(minutes=2)
    assert jobs_sweep(now=later) == 1
    Job.objects.filter(pk=job_id).update(lease_until=timezone.now() - timedelta(seconds=1))
    job_run(job_id=job_id, handlers=HANDLERS)
    job_run(job_id=job_id, handlers=HANDLERS)
    assert (Job.objects.get(pk=job_id).state, Document.objects.count(), len(calls)) == ("done", 1, 2)
    assert job_claim(job_id=job_id, now=later) is None
