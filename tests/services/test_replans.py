"""Asking for a re-plan, making it in the background, keeping it beside the plan it starts from."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.http import Http404

from production.domain.errors import Conflict, NotAllowed
from production.domain.plan import LockRun, PlannedRun, PotOut
from production.domain.plan import Plan as PlanContent
from production.models import Job, OrderLine, Plan, PlanningWeek
from production.selectors.asks import plan_misses_asks
from production.selectors.plans import plan_content, plan_difference, plan_is_stale
from production.services import replans
from production.services.asks import ask_add, ask_withdraw
from production.services.orders import order_line_set
from production.services.plans import plan_make, plan_request, plan_store
from production.services.publishing import plan_publish, plan_take
from production.services.replans import replan_request
from tests.conftest import Cast
from tests.lots import a_plan

Commit = Callable[..., AbstractContextManager[list[Callable[[], Any]]]]


@pytest.fixture
def plan(cast: Cast, planning_week: PlanningWeek) -> Plan:
    return a_plan(cast, planning_week)


@pytest.fixture
def at(monkeypatch: pytest.MonkeyPatch) -> Callable[[datetime], None]:
    """Put another moment in the place of now."""

    def set_to(moment: datetime) -> None:
        monkeypatch.setattr("production.services.plans.moment_of_planning", lambda: moment)

    return set_to


@pytest.fixture
def replanned(
    cast: Cast, planning_week: PlanningWeek, django_capture_on_commit_callbacks: Commit
) -> Callable[..., Job]:
    def ask(seen: int, key: str = "") -> Job:
        with django_capture_on_commit_callbacks(execute=True):
            job_id = replan_request(by=cast.manager, week=planning_week, seen_plan=seen, idempotency_key=key)
        return Job.objects.get(pk=job_id)

    return ask


def kept(job: Job) -> Plan:
    """The plan that a job has made."""
    assert (job.error_sentence, job.state) == ("", "done")
    assert job.result is not None
    return Plan.objects.get(pk=job.result["plan_id"])


def last_run(content: PlanContent) -> PlannedRun:
    return max(content.runs, key=lambda each: each.start_at)


def test_a_replan_keeps_what_has_begun_and_to_what_was_asked(
    cast: Cast, planning_week: PlanningWeek, plan: Plan, replanned: Callable[..., Job], at: Callable[..., None]
) -> None:
    plan_publish(by=cast.manager, plan=plan, seen_number=1)
    before = plan_content(plan=plan)
    first, last = min(before.runs, key=lambda each: each.start_at), last_run(before)
    assert first.start_at + timedelta(hours=1) < last.start_at
    at(first.start_at + timedelta(hours=1))
    out = PotOut(
        pot=last.pot,
        start=last.start_at - timedelta(minutes=5),
        end=last.end_at,
        reason="valve",
    )
    ask_add(by=cast.manager, week=planning_week, plan_number=1, ask=out)
    job = replanned(1)
    proposal = kept(job)
    assert job.result == {"plan_id": proposal.pk, "number": 2, "base": 1}
    assert (proposal.base, proposal.status, proposal.is_proposal) == (plan, "draft", True)
    after = plan_content(plan=proposal)
    assert after.asks == (out,)
    assert after.violations == ()
    same = next(each for each in after.runs if each.code == first.code)
    assert (same.pot, same.start_at) == (first.pot, first.start_at)
    assert not any(run.pot == last.pot and run.start_at < out.end and out.start < run.end_at for run in after.runs)
    assert not plan_misses_asks(plan=proposal)
    assert not plan_is_stale(plan=proposal)
    difference = plan_difference(by=cast.cook, week=planning_week, before=1, after=2)
    assert difference.changes
    plan.refresh_from_db()
    assert plan.status == "published"


def test_a_replan_of_a_replan_knows_everything_that_was_asked_and_a_withdrawn_ask_no_longer_counts(
    cast: Cast, planning_week: PlanningWeek, plan: Plan, replanned: Callable[..., Job], at: Callable[..., None]
) -> None:
    run = last_run(plan_content(plan=plan))
    lock = ask_add(
        by=cast.manager,
        week=planning_week,
        plan_number=1,
        ask=LockRun(run=run.code, start_at=run.start_at + timedelta(minutes=30)),
    )
    second = kept(replanned(1))
    moved = next(each for each in plan_content(plan=second).runs if each.code == run.code)
    assert moved.start_at == run.start_at + timedelta(minutes=30)
    plan_take(by=cast.manager, plan=second)
    keep = LockRun(run=run.code, keep_size=True)
    ask_add(by=cast.manager, week=planning_week, plan_number=2, ask=keep)
    ask_withdraw(by=cast.manager, ask=lock)
    third = kept(replanned(2))
    assert third.base == second
    assert plan_content(plan=third).asks == (keep,)


def test_a_changed_order_is_in_the_replan(
    cast: Cast, planning_week: PlanningWeek, plan: Plan, replanned: Callable[..., Job]
) -> None:
    order_line_set(by=cast.manager, week=planning_week, code="L1", containers=9, revision=1)
    proposal = kept(replanned(1))
    ordered = {line.code: line.containers for line in plan_content(plan=proposal).week.order_lines}
    assert ordered["L1"] == 9
    assert not plan_is_stale(plan=proposal)


def test_orders_that_had_left_before_the_base_was_made_are_not_planned_again(
    cast: Cast, planning_week: PlanningWeek, replanned: Callable[..., Job], at: Callable[..., None]
) -> None:
    leaves = min(OrderLine.objects.filter(week=planning_week).values_list("dispatch_at", flat=True))
    at(leaves + timedelta(minutes=5))
    made = plan_make(kitchen=cast.kitchen, week_id=planning_week.pk)
    plan_store(made=made, kitchen=cast.kitchen, week_id=planning_week.pk, user_id=cast.manager.user_id)
    at(leaves + timedelta(hours=1))
    proposal = kept(replanned(1))
    ordered = {line.code for line in plan_content(plan=proposal).week.order_lines}
    assert ordered == {line.code for line in made.content.week.order_lines}
    assert len(ordered) < OrderLine.objects.filter(week=planning_week).count()


def test_the_same_key_asks_once_even_when_the_replan_is_there_already(
    cast: Cast, planning_week: PlanningWeek, plan: Plan, replanned: Callable[..., Job]
) -> None:
    order_line_set(by=cast.manager, week=planning_week, code="L1", containers=9, revision=1)
    first = replanned(1, key="click-1")
    assert Plan.objects.count() == 2
    assert replanned(1, key="click-1") == first
    assert Plan.objects.count() == 2
    with pytest.raises(Conflict) as refused:
        replanned(1, key="click-2")
    assert refused.value.code == "other-plan-meanwhile"


def test_a_replan_does_not_overrule_a_plan_that_was_made_the_kitchens_meanwhile(
    cast: Cast,
    planning_week: PlanningWeek,
    plan: Plan,
    replanned: Callable[..., Job],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def slow(**inputs: Any) -> PlanContent:
        made = plan_make(kitchen=cast.kitchen, week_id=planning_week.pk)
        OrderLine.objects.filter(week=planning_week, code="L1").update(containers=3)
        made = plan_make(kitchen=cast.kitchen, week_id=planning_week.pk)
        plan_store(made=made, kitchen=cast.kitchen, week_id=planning_week.pk, user_id=None)
        return made.content

    monkeypatch.setattr(replans, "replan", slow)
    job = replanned(1)
    assert (job.state, job.error_code) == ("failed", "replan-overtaken")
    assert "plan 2 took its place" in job.error_sentence
    assert list(Plan.objects.order_by("number").values_list("number", "status")) == [(1, "superseded"), (2, "draft")]


def test_what_cannot_hold_fails_the_replan_with_its_sentence(
    cast: Cast, planning_week: PlanningWeek, plan: Plan, replanned: Callable[..., Job], at: Callable[..., None]
) -> None:
    run = last_run(plan_content(plan=plan))
    out = PotOut(pot=run.pot, start=run.start_at, end=run.start_at + timedelta(hours=2), reason="valve")
    ask_add(by=cast.manager, week=planning_week, plan_number=1, ask=out)
    at(out.end + timedelta(hours=1))
    job = replanned(1)
    assert (job.state, job.error_code) == ("failed", "ask-does-not-hold")
    assert "That time is over" in job.error_sentence


def test_a_week_without_a_plan_cannot_be_replanned(cast: Cast, planning_week: PlanningWeek) -> None:
    with pytest.raises(Conflict) as refused:
        replan_request(by=cast.manager, week=planning_week, seen_plan=0)
    assert refused.value.code == "no-plan-yet"


def test_only_a_manager_of_the_kitchen_replans(cast: Cast, planning_week: PlanningWeek, plan: Plan) -> None:
    for by in (cast.cook, cast.inspector, cast.administrator):
        with pytest.raises(NotAllowed):
            replan_request(by=by, week=planning_week, seen_plan=1)
    with pytest.raises(Http404):
        replan_request(by=cast.outsider, week=planning_week, seen_plan=1)
    assert not Job.objects.exists()
    assert plan_request(by=cast.manager, week=planning_week)
