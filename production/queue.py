"""The one way to ask for background work: a row in the caller's transaction, a bell after its commit."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from datetime import datetime
from functools import partial
from typing import Any

from celery import current_app
from django.db import IntegrityError, transaction
from django.utils import timezone

from production.domain.errors import Conflict
from production.models import Job

RUN_JOB = "production.jobs.run_job"

logger = logging.getLogger(__name__)


def enqueue(
    *,
    kind: str,
    kitchen_id: int,
    payload: Mapping[str, Any],
    requested_by: int | None = None,
    idempotency_key: str = "",
) -> int:
    """Write the job row and return its id; the same key in the same kitchen gives the same row again."""
    now = timezone.now()
    row = Job(
        kitchen_id=kitchen_id,
        kind=kind,
        payload=dict(payload),
        requested_by_id=requested_by,
        idempotency_key=idempotency_key,
        created_at=now,
        rung_at=now,
    )
    try:
        with transaction.atomic():
            row.save(force_insert=True)
    except IntegrityError:
        earlier = _earlier_job(row)
        if earlier is None:
            raise
        return earlier
    transaction.on_commit(partial(ring, row.pk))
    return row.pk


def asked_before(*, kind: str, kitchen_id: int, payload: Mapping[str, Any], idempotency_key: str) -> int | None:
    """The job that this very request has led to already; a request sent again is not judged again."""
    return _earlier_job(
        Job(kind=kind, kitchen_id=kitchen_id, payload=dict(payload), idempotency_key=idempotency_key),
    )


def ring(job_id: int) -> None:
    """Tell a worker to look at the row. A broker that is away is no error: the sweeper rings again."""
    try:
        current_app.tasks[RUN_JOB].apply_async(args=(job_id,), retry=False)
    except Exception:
        logger.warning("The bell for job %s could not be rung; the sweeper will ring again.", job_id, exc_info=True)


def ring_again(job_ids: list[int], *, now: datetime) -> None:
    """Ring for rows whose bell was lost or whose worker died."""
    Job.objects.filter(pk__in=job_ids).update(rung_at=now)
    for job_id in job_ids:
        ring(job_id)


def _earlier_job(row: Job) -> int | None:
    if not row.idempotency_key:
        return None
    earlier = Job.objects.filter(kitchen_id=row.kitchen_id, idempotency_key=row.idempotency_key).first()
    if earlier is None:
        return None
    if (earlier.kind, earlier.payload) != (row.kind, row.payload):
        raise Conflict(
            f"The key {row.idempotency_key!r} was already used for a different request.",
            code="key-used-for-other-request",
            remedy="Send the new request with a new key.",
        )
    return earlier.pk
