"""Printing a completed batch record: asked for here, rendered by a worker, kept beside the papers of its plan."""

from __future__ import annotations

from datetime import date

from django.db import transaction
from django.utils import timezone

from production.models import Membership, Plan, RunRecord
from production.queue import enqueue
from production.selectors.access import Action, require
from production.selectors.batch_record import completed_batch_record
from production.selectors.sealed_papers import sealed_paper
from production.services.checkpoints import checkpoint_now
from production.services.documents import title_of
from production.services.jobs import JobContext, Result
from production.services.label_sheets import asked_by, paper_issue

BATCH_RECORD_RENDER = "batch_record_render"


@transaction.atomic
def batch_record_request(*, by: Membership, starts_on: date, code: str, idempotency_key: str = "") -> int:
    """Ask for the paper of a run that is over; returns the job's id. One under way is refused at once."""
    require(by, Action.RECORD)
    completed_batch_record(by=by, starts_on=starts_on, code=code, now=timezone.now())
    return enqueue(
        kind=BATCH_RECORD_RENDER,
        kitchen_id=by.kitchen_id,
        payload={"week": starts_on.isoformat(), "run": code},
        requested_by=by.user_id,
        idempotency_key=idempotency_key,
    )


def batch_record_render(context: JobContext) -> Result:
    """The job's body: one new version, written together with the end of the job. It may run twice.

    The book is signed first, so that a checkpoint vouches for every entry that is printed.
    """
    by, now = asked_by(context), timezone.now()
    starts_on, code = date.fromisoformat(context.payload["week"]), context.payload["run"]
    checkpoint = checkpoint_now(kitchen_id=by.kitchen_id, now=now)
    content = completed_batch_record(by=by, starts_on=starts_on, code=code, now=now)
    row = RunRecord.objects.only("plan_id").get(kitchen_id=by.kitchen_id, week__starts_on=starts_on, code=code)
    plan = Plan.objects.select_related("kitchen").get(pk=row.plan_id)
    context.progress(0, 1, title_of(content))
    sealed = sealed_paper(checkpoint=checkpoint, content=content, subject=f"run/{starts_on.isoformat()}/{code}")
    return paper_issue(context, plan, content, sealed=sealed)
