"""Planning again: re-plans, what is asked of the planner, publishing, differences, moves and fixes."""

from __future__ import annotations

from datetime import date

from django.http import Http404
from rest_framework.request import Request
from rest_framework.response import Response

from api.door import BODY, KEY_HEADER, ROLE, KitchenView, documented
from api.pages import page_of, paged
from api.planning import (
    AskBody,
    AskOut,
    AskQuery,
    DifferenceOut,
    DifferenceQuery,
    FixesOut,
    MoveOut,
    MoveQuery,
    PublishBody,
    SeenBody,
)
from api.reading import idempotency_key
from api.serializers import JobOut, PageQuery, PlanHeadOut
from api.views.jobs import accepted
from production.domain.plan import ask_from_json
from production.selectors.asks import ask_of, asks_of
from production.selectors.fixes import fixes_of
from production.selectors.moves import move_verdict
from production.selectors.plans import plan_difference, plan_of
from production.selectors.weeks import week_of
from production.services.asks import ask_add, ask_withdraw, move_ask
from production.services.fixes import fix_apply, fixes_request
from production.services.publishing import plan_leave, plan_publish, plan_take
from production.services.replans import replan_request

ANSWERED = (*ROLE, 409)
ASKED = (*ROLE, *BODY, 409)


class Replans(KitchenView):
    @documented(
        "replan_request",
        tag="plans",
        status=202,
        request=SeenBody,
        answer=JobOut,
        parameters=[KEY_HEADER],
        refusals=ASKED,
    )
    def post(self, request: Request, kitchen: str, starts_on: date) -> Response:
        """Plan again from now on what the kitchen works by: what has begun stays, what was asked holds."""
        body = SeenBody(data=request.data)
        body.is_valid(raise_exception=True)
        job_id = replan_request(
            by=self.by,
            week=week_of(by=self.by, starts_on=starts_on),
            seen_plan=body.validated_data["seen"],
            idempotency_key=idempotency_key(request),
        )
        return accepted(by=self.by, job_id=job_id)


class Publish(KitchenView):
    @documented("plan_publish", tag="plans", request=PublishBody, answer=PlanHeadOut, refusals=ASKED)
    def post(self, request: Request, kitchen: str, starts_on: date, number: int | None) -> Response:
        """Make a draft the plan that everybody works by; the one before is superseded in the same moment."""
        body = PublishBody(data=request.data)
        body.is_valid(raise_exception=True)
        plan = plan_of(by=self.by, week=week_of(by=self.by, starts_on=starts_on), number=number)
        published = plan_publish(
            by=self.by,
            plan=plan,
            seen_number=body.validated_data["seen"],
            confirm_stale=body.validated_data["confirm_stale"],
        )
        return Response(PlanHeadOut(published).data)


class Take(KitchenView):
    @documented("plan_take", tag="plans", answer=PlanHeadOut, refusals=ANSWERED)
    def post(self, request: Request, kitchen: str, starts_on: date, number: int | None) -> Response:
        """Work by a re-plan from now on."""
        plan = plan_of(by=self.by, week=week_of(by=self.by, starts_on=starts_on), number=number)
        return Response(PlanHeadOut(plan_take(by=self.by, plan=plan)).data)


class Leave(KitchenView):
    @documented("plan_leave", tag="plans", answer=PlanHeadOut, refusals=ANSWERED)
    def post(self, request: Request, kitchen: str, starts_on: date, number: int | None) -> Response:
        """Put a re-plan aside and go on with the plan it starts from."""
        plan = plan_of(by=self.by, week=week_of(by=self.by, starts_on=starts_on), number=number)
        return Response(PlanHeadOut(plan_leave(by=self.by, plan=plan)).data)


class Difference(KitchenView):
    @documented("difference", tag="plans", answer=DifferenceOut, parameters=[DifferenceQuery], refusals=(*ROLE, 400))
    def get(self, request: Request, kitchen: str, starts_on: date, number: int | None) -> Response:
        """Tell in sentences what this plan does otherwise than another, the most important first."""
        query = DifferenceQuery(data=request.query_params)
        query.is_valid(raise_exception=True)
        week = week_of(by=self.by, starts_on=starts_on)
        after = plan_of(by=self.by, week=week, number=number).number
        found = plan_difference(by=self.by, week=week, before=query.validated_data["before"], after=after)
        return Response(DifferenceOut(found).data)


class Asks(KitchenView):
    @documented("asks", tag="asks", answer=paged(AskOut), parameters=[PageQuery, AskQuery], refusals=(*ROLE, 400))
    def get(self, request: Request, kitchen: str, starts_on: date) -> Response:
        """List what is asked of the planner and holds, first said first."""
        query = AskQuery(data=request.query_params)
        query.is_valid(raise_exception=True)
        week = week_of(by=self.by, starts_on=starts_on)
        return page_of(request, asks_of(by=self.by, week=week, **query.validated_data), AskOut)

    @documented("ask_add", tag="asks", request=AskBody, answer=AskOut, refusals=(*ASKED, 422))
    def post(self, request: Request, kitchen: str, starts_on: date) -> Response:
        """Lock a run, or tell what has happened; it holds for every re-plan until it is withdrawn."""
        body = AskBody(data=request.data)
        body.is_valid(raise_exception=True)
        said = dict(body.validated_data)
        number = said.pop("plan")
        week = week_of(by=self.by, starts_on=starts_on)
        return Response(AskOut(ask_add(by=self.by, week=week, plan_number=number, ask=ask_from_json(said))).data)


class AskWithdraw(KitchenView):
    @documented("ask_withdraw", tag="asks", answer=AskOut, refusals=ANSWERED)
    def post(self, request: Request, kitchen: str, starts_on: date, ask: int) -> Response:
        """Take back what was asked."""
        found = ask_of(by=self.by, week=week_of(by=self.by, starts_on=starts_on), ask_id=ask)
        return Response(AskOut(ask_withdraw(by=self.by, ask=found)).data)


class Move(KitchenView):
    @documented("move_verdict", tag="plans", answer=MoveOut, parameters=[MoveQuery], refusals=(*ROLE, 400))
    def get(self, request: Request, kitchen: str, starts_on: date, number: int | None, run: str) -> Response:
        """Tell what would stand against a run in another pot or at another time."""
        query = MoveQuery(data=request.query_params)
        query.is_valid(raise_exception=True)
        plan = plan_of(by=self.by, week=week_of(by=self.by, starts_on=starts_on), number=number)
        return Response(MoveOut(move_verdict(by=self.by, plan=plan, run=run, **query.validated_data)).data)

    @documented("move_ask", tag="asks", request=MoveQuery, answer=AskOut, refusals=(*ASKED, 422))
    def post(self, request: Request, kitchen: str, starts_on: date, number: int | None, run: str) -> Response:
        """Ask that the run is made in this pot at this time; the next re-plan arranges the rest around it."""
        body = MoveQuery(data=request.data)
        body.is_valid(raise_exception=True)
        week = week_of(by=self.by, starts_on=starts_on)
        plan = plan_of(by=self.by, week=week, number=number)
        ask = move_ask(by=self.by, week=week, plan_number=plan.number, run=run, **body.validated_data)
        return Response(AskOut(ask).data)


class Fixes(KitchenView):
    @documented("fixes", tag="fixes", answer=FixesOut, refusals=ROLE)
    def get(self, request: Request, kitchen: str, starts_on: date, number: int | None) -> Response:
        """Tell what was found to help the plan; nothing is here until it was asked for."""
        found = fixes_of(
            by=self.by, plan=plan_of(by=self.by, week=week_of(by=self.by, starts_on=starts_on), number=number)
        )
        if found is None:
            raise Http404("Nobody has asked yet what would help this plan.")
        return Response(FixesOut(found).data)

    @documented(
        "fixes_request", tag="fixes", status=202, answer=JobOut, parameters=[KEY_HEADER], refusals=(*ANSWERED, 400)
    )
    def post(self, request: Request, kitchen: str, starts_on: date, number: int | None) -> Response:
        """Ask what would help: changes are tried out, and those that help are kept."""
        plan = plan_of(by=self.by, week=week_of(by=self.by, starts_on=starts_on), number=number)
        job_id = fixes_request(by=self.by, plan=plan, idempotency_key=idempotency_key(request))
        return accepted(by=self.by, job_id=job_id)


class FixApply(KitchenView):
    @documented(
        "fix_apply", tag="fixes", status=202, answer=JobOut, parameters=[KEY_HEADER], refusals=(*ANSWERED, 400, 422)
    )
    def post(self, request: Request, kitchen: str, starts_on: date, number: int | None, fix: int) -> Response:
        """Change the week as a fix says, and re-plan."""
        plan = plan_of(by=self.by, week=week_of(by=self.by, starts_on=starts_on), number=number)
        job_id = fix_apply(by=self.by, plan=plan, index=fix - 1, idempotency_key=idempotency_key(request))
        return accepted(by=self.by, job_id=job_id)
