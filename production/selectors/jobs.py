"""How far background work is."""

from __future__ import annotations

from django.db.models import QuerySet
from django.http import Http404

from production.models import Job, Membership, PlanningWeek
from production.selectors.access import Action, require
from production.selectors.exports import RECORDS_EXPORT


def jobs_of(*, by: Membership, kind: str = "") -> QuerySet[Job]:
    """The kitchen's jobs, newest first."""
    require(by, Action.SEE_PLAN)
    jobs = Job.objects.filter(kitchen_id=by.kitchen_id).select_related("requested_by")
    return jobs.filter(kind=kind) if kind else jobs


def job_of(*, by: Membership, job_id: int) -> Job:
    """One job."""
    found = jobs_of(by=by).filter(pk=job_id).first()
    if found is None:
        raise Http404("This kitchen has no such job.")
    return found


def planning_under_way(*, by: Membership, week: PlanningWeek) -> QuerySet[Job]:
    """What is being worked out for a week at this moment, asked for first at the top."""
    waiting = jobs_of(by=by).filter(state__in=(Job.State.QUEUED, Job.State.RUNNING), payload__week_id=week.pk)
    return waiting.defer("preview", "result").order_by("pk")


def stopped_by(job: Job) -> Action:
    """What a role must be allowed to do to stop a job."""
    return Action.EXPORT_RECORDS if job.kind == RECORDS_EXPORT else Action.MAKE_PLAN
