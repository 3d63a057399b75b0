"""Proving the records in the background, for whoever inspects them: signed as they stand, then read back whole."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from production.models import Kitchen, Membership
from production.queue import enqueue
from production.selectors.access import Action, require
from production.selectors.record_check import book_check
from production.services.checkpoints import checkpoint_now
from production.services.jobs import JobContext, Result

RECORDS_VERIFY = "records_verify"


@transaction.atomic
def records_verify_request(*, by: Membership, idempotency_key: str = "") -> int:
    """Ask whether the book is as it was written down; returns the job's id."""
    require(by, Action.INSPECT)
    return enqueue(
        kind=RECORDS_VERIFY,
        kitchen_id=by.kitchen_id,
        payload={},
        requested_by=by.user_id,
        idempotency_key=idempotency_key,
    )


def records_verify(context: JobContext) -> Result:
    """The job's body: how much was read, what is not as it was written down, and the checkpoint of this moment."""
    kitchen = Kitchen.objects.get(pk=context.kitchen_id)
    checkpoint = checkpoint_now(kitchen_id=kitchen.pk, now=timezone.now())
    check = book_check(kitchen=kitchen)
    return {
        "entries": check.entries,
        "checkpoints": check.checkpoints,
        "guarded": check.guarded,
        "findings": [{"first": each.first, "last": each.last, "sentence": each.sentence} for each in check.findings],
        "checkpoint": checkpoint.note,
    }
