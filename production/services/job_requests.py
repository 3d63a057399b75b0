"""What a person may do to background work."""

from __future__ import annotations

from django.utils import timezone

from production.models import Membership
from production.selectors.access import Action, require
from production.selectors.jobs import job_of
from production.services.jobs import job_cancel


def job_stop(*, by: Membership, job_id: int) -> bool:
    """Cancel a job. False: it was already over."""
    require(by, Action.MAKE_PLAN)
    return job_cancel(job_id=job_of(by=by, job_id=job_id).pk, kitchen_id=by.kitchen_id, now=timezone.now())
