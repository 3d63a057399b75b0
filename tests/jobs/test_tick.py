"""The sweeper as a process of its own."""

from __future__ import annotations

import io
import os
import signal
import subprocess
import sys
from datetime import timedelta

import pytest
from django.conf import settings
from django.core.management import call_command
from django.db import OperationalError
from django.utils import timezone

from production.management.commands import tick
from production.models import Job, Kitchen


@pytest.mark.django_db(transaction=True)
def test_one_look_rings_for_a_job_nobody_came_for(kitchen: Kitchen) -> None:
    long_ago = timezone.now() - timedelta(minutes=5)
    job = Job.objects.create(kitchen=kitchen, kind="juggle", created_at=long_ago, rung_at=long_ago)
    told = io.StringIO()
    call_command("tick", "--once", stdout=told)
    job.refresh_from_db()
    assert told.getvalue() == ("Jobs rung for again: 1\nLate logs found: 0\nStores too warm: 0\nBooks signed: 0\n")
    assert job.state == Job.State.FAILED, "it ran in place, and nobody knows how to juggle"


@pytest.mark.django_db(transaction=True)
def test_a_database_that_is_away_does_not_end_the_sweeper(monkeypatch: pytest.MonkeyPatch) -> None:
    looks: list[int] = []

    def look(**_options: object) -> int:
        looks.append(1)
        if len(looks) == 3:
            signal.raise_signal(signal.SIGTERM)
        raise OperationalError("the database is away")

    monkeypatch.setattr(tick, "jobs_sweep", look)
    before = signal.getsignal(signal.SIGTERM), signal.getsignal(signal.SIGINT)
    try:
        call_command("tick", "--every", "0.01")
    finally:
        signal.signal(signal.SIGTERM, before[0])
        signal.signal(signal.SIGINT, before[1])
    assert len(looks) == 3


def test_the_sweeper_ends_without_error_when_told_to_stop() -> None:
    script = (
        "import django; django.setup()\n"
        "from django.core.management import call_command\n"
        "from production.management.commands import tick\n"
        "tick.jobs_sweep = lambda **_: print('looked', flush=True)\n"
        "tick.checkpoints_due = tick.late_logs_find = tick.stores_watch = lambda **_: 0\n"
        "call_command('tick', every=3600)\n"
    )
    child = subprocess.Popen(
        [sys.executable, "-c", script], cwd=settings.BASE_DIR, env=os.environ.copy(), stdout=subprocess.PIPE, text=True
    )
    assert child.stdout is not None
    assert child.stdout.readline() == "looked\n"
    child.terminate()
    assert child.wait(timeout=300) == 0, "it does not sit out its hour first"
