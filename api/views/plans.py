"""Plans of a week and what hangs on them: runs, figures, purchase lists, storage choices."""

from __future__ import annotations

from datetime import date

from drf_spectacular.types import OpenApiTypes
from rest_framework.request import Request
from rest_framework.response import Response

from api.door import KEY_HEADER, ROLE, KitchenView, documented
from api.pages import page_of, paged
from api.reading import idempotency_key
from api.serializers import (
    FigureHeadOut,
    JobOut,
    LateOut,
    PageQuery,
    PlanHeadOut,
    PlannedRunOut,
    PlanOut,
    PurchaseListOut,
    RunFigureOut,
    StorageChoiceOut,
    UnservedOut,
)
from api.views.jobs import accepted
from production.domain.plan import parameters_of
from production.domain.workings import recompute
from production.selectors.access import Action, require
from production.selectors.plans import plan_content, plan_is_stale, plan_of, plans_of
from production.selectors.purchasing import purchase_lists_of
from production.selectors.weeks import week_of
from production.selectors.workings import figure_of, figures_of, working_named
from production.services.plans import plan_request


class Plans(KitchenView):
    @documented("plans", tag="plans", answer=paged(PlanHeadOut), parameters=[PageQuery], refusals=(*ROLE, 400))
    def get(self, request: Request, kitchen: str, starts_on: date) -> Response:
        """List the plans of a week, newest first."""
        week = week_of(by=self.by, starts_on=starts_on)
        return page_of(request, plans_of(by=self.by, week=week), PlanHeadOut)

    @documented(
        "plan_request", tag="plans", status=202, answer=JobOut, parameters=[KEY_HEADER], refusals=(*ROLE, 400, 409)
    )
    def post(self, request: Request, kitchen: str, starts_on: date) -> Response:
        """Ask for a plan of the week as it stands; the answer is the job that makes it."""
        week = week_of(by=self.by, starts_on=starts_on)
        job_id = plan_request(by=self.by, week=week, idempotency_key=idempotency_key(request))
        return accepted(by=self.by, job_id=job_id)


class Plan(KitchenView):
    @documented("plan", tag="plans", answer=PlanOut, refusals=ROLE)
    def get(self, request: Request, kitchen: str, starts_on: date, number: int | None) -> Response:
        """Tell what is cooked when and in which pot, and what is late or not served, and why."""
        plan = plan_of(by=self.by, week=week_of(by=self.by, starts_on=starts_on), number=number)
        content = plan_content(plan=plan)
        return Response(
            {
                **PlanHeadOut(plan).data,
                "stale": plan_is_stale(plan=plan),
                "runs": PlannedRunOut(content.runs, many=True).data,
                "unserved": UnservedOut(content.unserved, many=True).data,
                "late": LateOut(content.late, many=True).data,
            }
        )


class PlanFile(KitchenView):
    @documented("plan_file", tag="plans", answer=OpenApiTypes.OBJECT, refusals=ROLE)
    def get(self, request: Request, kitchen: str, starts_on: date, number: int | None) -> Response:
        """Take out the whole plan with its frozen input (described at /api/v1/schemas/plan)."""
        require(self.by, Action.SEE_WEEK)
        require(self.by, Action.SEE_PURCHASING)
        return Response(plan_of(by=self.by, week=week_of(by=self.by, starts_on=starts_on), number=number).result)


class Figures(KitchenView):
    @documented("figures", tag="plans", answer=paged(FigureHeadOut), parameters=[PageQuery], refusals=(*ROLE, 400))
    def get(self, request: Request, kitchen: str, starts_on: date, number: int | None, run: str) -> Response:
        """List every number of a run that can be opened."""
        plan = plan_of(by=self.by, week=week_of(by=self.by, starts_on=starts_on), number=number)
        return page_of(request, figures_of(by=self.by, plan=plan, run=run), FigureHeadOut)


class Figure(KitchenView):
    @documented("figure", tag="plans", answer=RunFigureOut, refusals=ROLE)
    def get(self, request: Request, kitchen: str, starts_on: date, number: int | None, run: str, key: str) -> Response:
        """Open one number of a run: formula, inputs, parameters, class and source, and the number computed again."""
        plan = plan_of(by=self.by, week=week_of(by=self.by, starts_on=starts_on), number=number)
        figure = figure_of(by=self.by, plan=plan, run=run, key=key)
        parameters = parameters_of(week=plan_content(plan=plan).week)
        opened = {
            "figure": figure,
            "working": working_named(figure.working),
            "recomputed": recompute(figure),
            "parameters": [parameters.get(code) for code in figure.parameters],
        }
        return Response(RunFigureOut(opened).data)


class PurchaseLists(KitchenView):
    @documented(
        "purchase_lists", tag="plans", answer=paged(PurchaseListOut), parameters=[PageQuery], refusals=(*ROLE, 400)
    )
    def get(self, request: Request, kitchen: str, starts_on: date, number: int | None) -> Response:
        """List what is bought for a plan, one list for each supplier and delivery."""
        plan = plan_of(by=self.by, week=week_of(by=self.by, starts_on=starts_on), number=number)
        return page_of(request, purchase_lists_of(by=self.by, plan=plan), PurchaseListOut)


class StorageChoices(KitchenView):
    @documented(
        "storage_choices", tag="plans", answer=paged(StorageChoiceOut), parameters=[PageQuery], refusals=(*ROLE, 400)
    )
    def get(self, request: Request, kitchen: str, starts_on: date, number: int | None) -> Response:
        """List what each store could still take of each product, and the pots that would make it."""
        require(self.by, Action.SEE_WEEK)
        plan = plan_of(by=self.by, week=week_of(by=self.by, starts_on=starts_on), number=number)
        return page_of(request, plan_content(plan=plan).storage_choices, StorageChoiceOut)
