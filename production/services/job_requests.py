"""What a person may do to background work."""

from __future__ import annotations

from django.utils import timezone

from production.models import Membership
from production.selectors.access import require
from production.selectors.jobs import job_of, stopped_by
from production.services.jobs import job_cancel, job_enough


def job_stop(*, by: Membership, job_id: int) -> bool:
    """Stop a job: a search that has shown something keeps the best so far, anything else is cancelled.

    False: it was already over.
    """
    job, now = job_of(by=by, job_id=job_id), timezone.now()
    require(by, stopped_by(job))
    return job_enough(job_id=job.pk, kitchen_id=by.kitchen_id, now=now) or job_cancel(
        job_id=job.pk, kitchen_id=by.kitchen_id, now=now
    )
