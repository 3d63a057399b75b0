"""Tasks: an id in, one service called. Names are part of the queue's contract (production.queue)."""

from __future__ import annotations

from production.jobs.app import app
from production.queue import RUN_JOB
from production.services.job_handlers import HANDLERS
from production.services.jobs import job_run


@app.task(name=RUN_JOB)
def run_job(job_id: int) -> None:
    job_run(job_id=job_id, handlers=HANDLERS)
