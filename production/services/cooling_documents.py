"""Printing a completed cooling log: asked for here, rendered by a worker, kept beside the papers of its plan."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from production.models import CoolingRecord, Membership, Plan
from production.queue import enqueue
from production.selectors.access import Action, require
from production.selectors.cooling_record import completed_log
from production.selectors.sealed_papers import sealed_paper
from production.services.checkpoints import checkpoint_now
from production.services.documents import title_of
from production.services.jobs import JobContext, Result
from production.services.label_sheets import asked_by, paper_issue

COOLING_LOG_RENDER = "cooling_log_render"


@transaction.atomic
def cooling_log_request(*, by: Membership, subject: str, idempotency_key: str = "") -> int:
    """Ask for the paper of a closed log; returns the job's id. An open one is refused at once."""
    require(by, Action.RECORD)
    completed_log(by=by, subject=subject)
    return enqueue(
        kind=COOLING_LOG_RENDER,
        kitchen_id=by.kitchen_id,
        payload={"cooling": subject},
        requested_by=by.user_id,
        idempotency_key=idempotency_key,
    )


def cooling_log_render(context: JobContext) -> Result:
    """The job's body: one new version, written together with the end of the job. It may run twice.

    The book is signed first, so that a checkpoint vouches for every entry that is printed.
    """
    by = asked_by(context)
    checkpoint = checkpoint_now(kitchen_id=by.kitchen_id, now=timezone.now())
    content = completed_log(by=by, subject=context.payload["cooling"])
    row = CoolingRecord.objects.select_related("run").get(kitchen_id=by.kitchen_id, subject=context.payload["cooling"])
    plan = Plan.objects.select_related("kitchen").get(pk=row.run.plan_id)
    context.progress(0, 1, title_of(content))
    sealed = sealed_paper(checkpoint=checkpoint, content=content, subject=context.payload["cooling"])
    return paper_issue(context, plan, content, sealed=sealed)
