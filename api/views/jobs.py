"""Background work: how far it is, and stopping it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.urls import reverse
from rest_framework.request import Request
from rest_framework.response import Response

from api.door import ROLE, KitchenView, documented
from api.pages import page_of, paged
from api.serializers import JobOut, PageQuery
from production.selectors.jobs import job_of, jobs_of
from production.services.job_requests import job_stop

if TYPE_CHECKING:
    from production.models import Membership


def accepted(*, by: Membership, job_id: int) -> Response:
    """The work is asked for and not done yet; Location says where to look how far it is."""
    job = job_of(by=by, job_id=job_id)
    address = reverse("api-job", kwargs={"kitchen": by.kitchen.code, "job": job_id})
    return Response(JobOut(job).data, status=202, headers={"Location": address})


class Jobs(KitchenView):
    @documented("jobs", tag="jobs", answer=paged(JobOut), parameters=[PageQuery], refusals=(*ROLE, 400))
    def get(self, request: Request, kitchen: str) -> Response:
        """List the background work, newest first."""
        return page_of(request, jobs_of(by=self.by), JobOut)


class Job(KitchenView):
    @documented("job", tag="jobs", answer=JobOut, refusals=ROLE)
    def get(self, request: Request, kitchen: str, job: int) -> Response:
        """Tell how far a job is."""
        return Response(JobOut(job_of(by=self.by, job_id=job)).data)


class JobCancel(KitchenView):
    @documented("job_cancel", tag="jobs", answer=JobOut, refusals=ROLE)
    def post(self, request: Request, kitchen: str, job: int) -> Response:
        """Stop a job: at once when it waits, at its next step when it runs. What is over stays as it is.

        A search that has shown a preview stops and keeps the best so far as its result.
        """
        job_stop(by=self.by, job_id=job)
        return Response(JobOut(job_of(by=self.by, job_id=job)).data)
