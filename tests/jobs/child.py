"""Run as `python -m tests.jobs.child MODE …` with tests.jobs.child_settings: a worker, or a caller, of its own process.

Time is shortened: a lease lasts two seconds and the sweeper looks five times a second.
"""

from __future__ import annotations

import os
import sys
import threading
import time
from datetime import timedelta
from pathlib import Path

import django

django.setup()

from django.utils import timezone  # noqa: E402

from production import queue  # noqa: E402
from production.jobs.app import app  # noqa: E402
from production.services import jobs  # noqa: E402
from production.services.job_handlers import HANDLERS  # noqa: E402
from production.services.jobs import JobContext, Result  # noqa: E402

jobs.LEASE = timedelta(seconds=2)
jobs.RING_AGAIN_AFTER = timedelta(seconds=1)


def hang_at_first(context: JobContext) -> Result:
    """The first attempt tells that it has begun and never ends; the next one does the work."""
    if context.attempt == 1:
        Path(context.payload["begun"]).write_text(str(os.getpid()))
        time.sleep(600)
    return {"attempt": context.attempt}


def outlast_the_lease(context: JobContext) -> Result:
    time.sleep(5)
    return {"attempt": context.attempt}


def answer(context: JobContext) -> Result:
    return {"attempt": context.attempt}


HANDLERS.update({"hang-at-first": hang_at_first, "outlast-the-lease": outlast_the_lease, "answer": answer})


def sweep_for_ever() -> None:
    while True:
        jobs.jobs_sweep(now=timezone.now())
        time.sleep(0.2)


def main(mode: str, *arguments: str) -> None:
    if mode == "enqueue":
        kind, kitchen_id = arguments
        print(queue.enqueue(kind=kind, kitchen_id=int(kitchen_id), payload={}))  # noqa: T201
        return
    if mode == "work-and-sweep":
        threading.Thread(target=sweep_for_ever, daemon=True).start()
    app.worker_main(["worker", "--pool=solo", "--loglevel=warning", "--without-gossip", "--without-mingle"])


if __name__ == "__main__":
    main(*sys.argv[1:])
