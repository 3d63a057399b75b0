"""What a long search shows on its way, and how it is told that what it has is enough."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.utils import timezone

from production import queue
from production.models import Job, Kitchen
from production.services import job_handlers, jobs
from production.services.jobs import JobContext, Result, job_claim, job_enough, jobs_sweep

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def no_bell(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(queue, "ring", lambda _job_id: None)


def enqueue(kitchen: Kitchen) -> Job:
    return Job.objects.get(pk=queue.enqueue(kind="cook", kitchen_id=kitchen.pk, payload={}))


def claimed(kitchen: Kitchen) -> JobContext:
    context = job_claim(job_id=enqueue(kitchen).pk, now=timezone.now())
    assert context is not None
    return context


def test_the_best_so_far_is_seen_while_the_search_goes_on_and_gone_when_it_is_over(
    kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[object] = []

    def work(context: JobContext) -> Result:
        context.better({"lateness_h": 3.5})
        seen.append(Job.objects.get().preview)
        return {"plan": 1}

    monkeypatch.setitem(job_handlers.HANDLERS, "cook", work)
    enqueue(kitchen)
    job = Job.objects.get()
    assert seen == [{"lateness_h": 3.5}]
    assert (job.state, job.preview, job.result) == ("done", None, {"plan": 1})


@pytest.mark.usefixtures("no_bell")
def test_of_several_within_a_second_the_last_is_shown_when_the_second_is_over(
    kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = [100.0]
    monkeypatch.setattr("production.services.jobs.time.monotonic", lambda: now[0])
    context = claimed(kitchen)
    shown: list[object] = []
    for moment, value in ((100.0, 9), (100.4, 7), (100.8, 5)):
        now[0] = moment
        context.better({"lateness_h": value})
        shown.append(Job.objects.get().preview)
    assert shown == [{"lateness_h": 9}] * 3
    now[0] = 101.5
    assert not context.cancelled()
    assert Job.objects.get().preview == {"lateness_h": 5}


@pytest.mark.usefixtures("no_bell")
def test_enough_stops_the_search_and_its_result_counts(kitchen: Kitchen) -> None:
    context = claimed(kitchen)
    context.better({"lateness_h": 3.5})
    assert job_enough(job_id=context.job_id, kitchen_id=kitchen.pk, now=timezone.now())
    assert context.cancelled()
    context.progress(4, 5, "works out the sheets")
    assert context.finish(lambda: {"plan": 7}) == {"plan": 7}
    assert Job.objects.get().state == "done"


@pytest.mark.usefixtures("no_bell")
def test_a_search_that_has_shown_nothing_has_nothing_to_keep(kitchen: Kitchen, other_kitchen: Kitchen) -> None:
    context = claimed(kitchen)
    assert not job_enough(job_id=context.job_id, kitchen_id=kitchen.pk, now=timezone.now())
    context.better({"lateness_h": 3.5})
    assert not job_enough(job_id=context.job_id, kitchen_id=other_kitchen.pk, now=timezone.now())
    assert not context.cancelled()
    context.finish(dict)
    assert not job_enough(job_id=context.job_id, kitchen_id=kitchen.pk, now=timezone.now())


@pytest.mark.usefixtures("no_bell")
def test_a_search_whose_worker_died_is_done_again_in_full(kitchen: Kitchen) -> None:
    died = claimed(kitchen)
    died.better({"lateness_h": 3.5})
    assert job_enough(job_id=died.job_id, kitchen_id=kitchen.pk, now=timezone.now())
    later = timezone.now() + jobs.LEASE + timedelta(seconds=1)
    assert not job_enough(job_id=died.job_id, kitchen_id=kitchen.pk, now=later)
    assert jobs_sweep(now=later) == 1
    again = job_claim(job_id=died.job_id, now=later)
    assert again is not None
    row = Job.objects.get()
    assert (row.enough, row.preview, row.attempts) == (False, None, 2)
    assert not again.cancelled()
    assert died.cancelled()


@pytest.mark.postgres
@pytest.mark.usefixtures("no_bell")
def test_a_solver_may_ask_and_show_from_threads_of_its_own(kitchen: Kitchen) -> None:
    context = claimed(kitchen)
    heard: list[bool] = []

    def search(work: Callable[[], None]) -> None:
        thread = threading.Thread(target=work)
        thread.start()
        thread.join()

    search(lambda: context.better({"lateness_h": 2.0}))
    assert Job.objects.get().preview == {"lateness_h": 2.0}
    search(lambda: heard.append(context.cancelled()))
    job_enough(job_id=context.job_id, kitchen_id=kitchen.pk, now=timezone.now())
    time.sleep(jobs.LOOK_EVERY_S)
    search(lambda: heard.append(context.cancelled()))
    assert heard == [False, True]
