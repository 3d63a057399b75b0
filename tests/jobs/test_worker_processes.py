"""Jobs done by real worker processes, which may be killed."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.db import connection
from django.utils import timezone

from production.models import Job, Kitchen

PATIENCE_S = 300.0  # only what fails takes so long
Start = Callable[..., subprocess.Popen[str]]


def wait_until(happened: Callable[[], bool], what: str) -> None:
    end = time.monotonic() + PATIENCE_S
    while not happened():
        assert time.monotonic() < end, f"waited {PATIENCE_S:.0f} s in vain until {what}"
        time.sleep(0.1)


def started(broker: dict[str, Any], *arguments: str, **options: Any) -> subprocess.Popen[str]:
    told = {"database": str(connection.settings_dict["NAME"]), **broker}
    return subprocess.Popen(
        [sys.executable, "-m", "tests.jobs.child", *arguments],
        cwd=settings.BASE_DIR,
        env=os.environ
        | {"DJANGO_SETTINGS_MODULE": "tests.jobs.child_settings", "POTWRIGHT_TEST_CHILD": json.dumps(told)},
        text=True,
        **options,
    )


@pytest.fixture
def lite_broker(tmp_path: Path) -> dict[str, Any]:
    options = {"path": str(tmp_path / "bell.sqlite3"), "polling_interval": 0.1}
    return {"broker_url": "lite://localhost", "transport_options": options}


@pytest.fixture
def redis_broker() -> dict[str, Any]:
    return {"broker_url": os.environ["POTWRIGHT_TEST_REDIS_URL"], "transport_options": {}}


@pytest.fixture
def worker() -> Iterator[Start]:
    children: list[subprocess.Popen[str]] = []

    def start(broker: dict[str, Any], mode: str) -> subprocess.Popen[str]:
        children.append(started(broker, mode))
        return children[-1]

    yield start
    for child in children:
        if child.poll() is None:
            child.kill()
        child.wait()


def new_row(kitchen: Kitchen, kind: str, **payload: str) -> Job:
    return Job.objects.create(kitchen=kitchen, kind=kind, payload=payload, created_at=timezone.now())


def state_of(job_id: int) -> str:
    return Job.objects.values_list("state", flat=True).get(pk=job_id)


def enqueue_elsewhere(broker: dict[str, Any], kind: str, kitchen: Kitchen) -> int:
    """Ask for the job from another process, with the bell rung through the broker."""
    caller = started(broker, "enqueue", kind, str(kitchen.pk), stdout=subprocess.PIPE)
    told, _ = caller.communicate(timeout=PATIENCE_S)
    assert caller.returncode == 0
    return int(told)


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_a_job_whose_worker_is_killed_is_finished_by_the_next_worker(
    kitchen: Kitchen, lite_broker: dict[str, Any], worker: Start, tmp_path: Path
) -> None:
    begun = tmp_path / "begun"
    job = new_row(kitchen, "hang-at-first", begun=str(begun))
    victim = worker(lite_broker, "work-and-sweep")
    wait_until(begun.exists, "the first worker had begun")

    os.kill(victim.pid, signal.SIGKILL)
    assert victim.wait() == -signal.SIGKILL
    assert state_of(job.pk) == Job.State.RUNNING

    worker(lite_broker, "work-and-sweep")
    wait_until(lambda: state_of(job.pk) == Job.State.DONE, "the next worker had finished the job")
    job.refresh_from_db()
    assert (job.attempts, job.result) == (2, {"attempt": 2})


@pytest.mark.django_db(transaction=True)
def test_a_job_longer_than_its_lease_stays_with_its_worker(
    kitchen: Kitchen, lite_broker: dict[str, Any], worker: Start
) -> None:
    job = new_row(kitchen, "outlast-the-lease")
    worker(lite_broker, "work-and-sweep")
    wait_until(lambda: state_of(job.pk) == Job.State.DONE, "the long job was done")
    job.refresh_from_db()
    assert (job.attempts, job.result) == (1, {"attempt": 1})


@pytest.mark.django_db(transaction=True)
def test_the_bell_alone_reaches_a_worker_in_another_process(
    kitchen: Kitchen, lite_broker: dict[str, Any], worker: Start
) -> None:
    job_id = enqueue_elsewhere(lite_broker, "answer", kitchen)
    worker(lite_broker, "work")
    wait_until(lambda: state_of(job_id) == Job.State.DONE, "the worker had heard the bell")


@pytest.mark.redis
@pytest.mark.django_db(transaction=True)
def test_the_bell_alone_reaches_a_worker_through_redis(
    kitchen: Kitchen, redis_broker: dict[str, Any], worker: Start
) -> None:
    job_id = enqueue_elsewhere(redis_broker, "answer", kitchen)
    worker(redis_broker, "work")
    wait_until(lambda: state_of(job_id) == Job.State.DONE, "the worker had heard the bell")


@pytest.mark.django_db(transaction=True)
def test_a_worker_told_to_stop_ends_without_error(kitchen: Kitchen, lite_broker: dict[str, Any], worker: Start) -> None:
    job = new_row(kitchen, "answer")
    child = worker(lite_broker, "work-and-sweep")
    wait_until(lambda: state_of(job.pk) == Job.State.DONE, "the worker was up")
    child.terminate()
    assert child.wait(timeout=PATIENCE_S) == 0
