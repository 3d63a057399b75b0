"""A real search, stopped while it runs: what it had found is kept."""

from __future__ import annotations

import threading
import time
from dataclasses import replace
from typing import Any

import pytest
from django.db import connection

from production import queue
from production.models import Job, Plan
from production.selectors.plans import plan_content
from production.services.job_handlers import HANDLERS
from production.services.job_requests import job_stop
from production.services.jobs import job_run
from production.services.plans import plan_request
from production.services.week_import import week_import
from tests.conftest import Cast
from tests.kitchens import random_week

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]

SEARCH_S = 600
STOPS_WITHIN_S = 200  # two where nothing else runs; the rest is for machines with other work to do


def test_a_search_that_is_stopped_keeps_its_best_plan(
    cast: Cast, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(queue, "ring", lambda _job_id: None)
    settings.PLAN_SECONDS = SEARCH_S
    week = random_week("large", 0)
    row = week_import(week=replace(week, kitchen=replace(week.kitchen, code=cast.kitchen.code)), by=cast.manager)
    job_id = plan_request(by=cast.manager, week=row)
    worker = threading.Thread(target=in_a_worker, args=(job_id,))
    worker.start()
    try:
        shown = first_preview(job_id)
    finally:
        stopped_at = time.monotonic()
        assert job_stop(by=cast.manager, job_id=job_id)
        worker.join()
    assert time.monotonic() - stopped_at < STOPS_WITHIN_S
    job = Job.objects.get(pk=job_id)
    assert (job.state, job.enough, job.cancel_requested, job.error_sentence) == ("done", True, False, "")
    content = plan_content(plan=Plan.objects.get())
    assert content.violations == ()
    assert content.runs
    assert {"runs", "lateness_h", "bound_h", "doing"} <= set(shown)


def in_a_worker(job_id: int) -> None:
    try:
        job_run(job_id=job_id, handlers=HANDLERS)
    finally:
        connection.close()


def first_preview(job_id: int) -> dict[str, Any]:
    deadline = time.monotonic() + SEARCH_S / 2
    while time.monotonic() < deadline:
        job = Job.objects.get(pk=job_id)
        if job.preview is not None:
            return dict(job.preview)
        assert job.state in {"queued", "running"}, job.error_sentence
        time.sleep(0.1)
    raise AssertionError("The search has shown nothing.")
