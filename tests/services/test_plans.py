"""Asking for a plan, making it in the background, keeping it."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.db import IntegrityError, connection, transaction
from django.http import Http404
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from production.domain.errors import Conflict, NotAllowed
from production.domain.plan import Plan as PlanContent
from production.domain.plan import make_plan
from production.domain.week_file import parse_week
from production.models import Job, Kitchen, Plan, PlanningWeek, StockLot
from production.selectors.plans import plan_content, plan_is_stale, plan_newest, plan_of, plans_of
from production.services import plans
from production.services.job_requests import job_stop
from production.services.jobs import job_claim
from production.services.orders import order_line_set
from production.services.plans import plan_make, plan_request, plan_store
from tests.builders import a_week, at
from tests.conftest import Cast

Commit = Callable[..., AbstractContextManager[list[Callable[[], Any]]]]


def planned(cast: Cast, week: PlanningWeek, commit: Commit, key: str = "") -> Job:
    with commit(execute=True):
        job_id = plan_request(by=cast.manager, week=week, idempotency_key=key)
    return Job.objects.get(pk=job_id)


def test_a_plan_asked_for_is_made_and_kept_with_what_it_came_from(
    cast: Cast, planning_week: PlanningWeek, django_capture_on_commit_callbacks: Commit
) -> None:
    job = planned(cast, planning_week, django_capture_on_commit_callbacks)
    assert (job.state, job.error_sentence) == ("done", "")
    plan = plan_of(by=cast.manager, week=planning_week)
    assert job.result == {"plan_id": plan.pk, "number": 1}
    assert (plan.status, plan.number, plan.created_by) == ("draft", 1, cast.manager.user)
    assert plan.seconds > 0
    assert plan.parameter_set_version == plan_content(plan=plan).parameter_set


def test_a_stored_plan_can_be_made_again_from_its_frozen_input(cast: Cast, planning_week: PlanningWeek) -> None:
    made = plan_make(kitchen=cast.kitchen, week_id=planning_week.pk)
    plan = plan_store(made=made, kitchen=cast.kitchen, week_id=planning_week.pk, user_id=None)
    order_line_set(by=cast.manager, week=planning_week, code="L1", containers=1, revision=1)
    plan.refresh_from_db()
    week = parse_week(_as_file(plan.input_week))
    assert week == a_week()
    assert without_time(make_plan(week=week)) == without_time(plan_content(plan=plan))


def test_planning_the_same_week_twice_keeps_one_plan(
    cast: Cast, planning_week: PlanningWeek, django_capture_on_commit_callbacks: Commit
) -> None:
    first = planned(cast, planning_week, django_capture_on_commit_callbacks)
    second = planned(cast, planning_week, django_capture_on_commit_callbacks)
    assert first.pk != second.pk
    assert first.result == second.result
    assert Plan.objects.count() == 1


def test_a_changed_order_makes_the_plan_stale_and_the_next_plan_supersedes_it(
    cast: Cast, planning_week: PlanningWeek, django_capture_on_commit_callbacks: Commit
) -> None:
    planned(cast, planning_week, django_capture_on_commit_callbacks)
    first = plan_of(by=cast.manager, week=planning_week)
    assert not plan_is_stale(plan=first)
    order_line_set(by=cast.manager, week=planning_week, code="L1", containers=9, revision=1)
    assert plan_is_stale(plan=first)
    planned(cast, planning_week, django_capture_on_commit_callbacks)
    listed = plans_of(by=cast.manager, week=planning_week)
    assert [(each.number, each.status) for each in listed] == [(2, "draft"), (1, "superseded")]
    newest = plan_newest(by=cast.manager, week=planning_week)
    assert newest is not None
    assert newest.number == 2
    assert not plan_is_stale(plan=newest)
    assert plan_of(by=cast.manager, week=planning_week, number=1).result == first.result


def test_the_same_key_asks_once_and_for_another_week_is_refused(
    cast: Cast, planning_week: PlanningWeek, django_capture_on_commit_callbacks: Commit
) -> None:
    first = planned(cast, planning_week, django_capture_on_commit_callbacks, key="click-1")
    assert planned(cast, planning_week, django_capture_on_commit_callbacks, key="click-1") == first
    other = PlanningWeek.objects.create(
        kitchen=cast.kitchen, starts_on="2027-02-08", days=7, plan_from=planning_week.plan_from
    )
    with pytest.raises(Conflict):
        plan_request(by=cast.manager, week=other, idempotency_key="click-1")


def test_a_cancelled_plan_is_not_kept(
    cast: Cast,
    planning_week: PlanningWeek,
    django_capture_on_commit_callbacks: Commit,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def stopped_on_the_way(**inputs: Any) -> PlanContent:
        job = Job.objects.get()
        assert job_stop(by=cast.manager, job_id=job.pk)
        return make_plan(**inputs)

    monkeypatch.setattr(plans, "make_plan", stopped_on_the_way)
    job = planned(cast, planning_week, django_capture_on_commit_callbacks)
    assert job.state == "cancelled"
    assert not Plan.objects.exists()


def test_stop_is_heard_while_the_schedule_is_made(
    cast: Cast,
    planning_week: PlanningWeek,
    django_capture_on_commit_callbacks: Commit,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    heard: list[bool] = []

    def waits_until_stopped(*, cancelled: Callable[[], bool], **inputs: Any) -> PlanContent:
        heard.append(cancelled())
        job_stop(by=cast.manager, job_id=Job.objects.get().pk)
        deadline = time.monotonic() + 60
        while not cancelled():
            assert time.monotonic() < deadline
            time.sleep(0.05)
        heard.append(True)
        return make_plan(cancelled=cancelled, **inputs)

    monkeypatch.setattr(plans, "make_plan", waits_until_stopped)
    job = planned(cast, planning_week, django_capture_on_commit_callbacks)
    assert heard == [False, True]
    assert job.state == "cancelled"


def test_asking_often_whether_to_stop_looks_at_the_row_twice_a_second_at_most(
    cast: Cast, planning_week: PlanningWeek
) -> None:
    job_id = plan_request(by=cast.manager, week=planning_week)
    context = job_claim(job_id=job_id, now=timezone.now())
    assert context is not None
    with CaptureQueriesContext(connection) as captured:
        began = time.monotonic()
        assert not any(context.cancelled() for _ in range(1000))
        took_s = time.monotonic() - began
    assert 1 <= len(captured) <= 1 + took_s / 0.5


@pytest.mark.usefixtures("planning_now")
def test_within_the_week_a_plan_begins_now_with_the_orders_still_ahead_and_time_alone_makes_it_no_older(
    cast: Cast, planning_week: PlanningWeek
) -> None:
    first_leaves = min(line.dispatch_at for line in a_week().order_lines)
    now = first_leaves + timedelta(seconds=1)
    with time_machine.travel(now, tick=False) as traveller:
        made = plan_make(kitchen=cast.kitchen, week_id=planning_week.pk)
        plan = plan_store(made=made, kitchen=cast.kitchen, week_id=planning_week.pk, user_id=None)
        frozen = parse_week(_as_file(plan.input_week))
        assert frozen.plan_from == first_leaves + timedelta(minutes=5)
        assert frozen.order_lines == tuple(line for line in a_week().order_lines if line.dispatch_at > first_leaves)
        assert len(frozen.order_lines) < len(a_week().order_lines)
        assert without_time(make_plan(week=frozen)) == without_time(plan_content(plan=plan))
        traveller.shift(timedelta(hours=7))
        assert not plan_is_stale(plan=plan)
    planning_week.refresh_from_db()
    assert planning_week.plan_from == a_week().plan_from


@pytest.mark.usefixtures("planning_now")
@pytest.mark.parametrize("now", ["2027-01-20 08:00", "2027-02-07 23:58", "2027-02-08 00:00", "2030-01-01 00:00"])
def test_before_and_after_the_week_a_plan_begins_when_the_file_says(
    cast: Cast, planning_week: PlanningWeek, now: str
) -> None:
    with time_machine.travel(at(now), tick=False):
        made = plan_make(kitchen=cast.kitchen, week_id=planning_week.pk)
    assert parse_week(_as_file(made.input_week)) == a_week()


def test_a_week_that_contradicts_itself_is_not_planned_and_says_why(
    cast: Cast, planning_week: PlanningWeek, django_capture_on_commit_callbacks: Commit
) -> None:
    Kitchen.objects.filter(pk=cast.kitchen.pk).update(cooling_rule="house rule")
    job = planned(cast, planning_week, django_capture_on_commit_callbacks)
    assert (job.state, job.error_code) == ("failed", "week-contradicts-itself")
    assert "house rule" in job.error_sentence
    assert not Plan.objects.exists()


def test_of_many_contradictions_three_are_told_and_the_rest_counted(cast: Cast, planning_week: PlanningWeek) -> None:
    lot = StockLot.objects.filter(week=planning_week).first()
    assert lot is not None
    StockLot.objects.bulk_create(
        StockLot(
            week=planning_week,
            code=f"old-{n}",
            product=lot.product,
            store=lot.store,
            containers=1,
            made_on="2027-01-01",
            use_by="2028-01-01",
            position=50 + n,
        )
        for n in range(5)
    )
    with pytest.raises(Conflict, match=r"old-0.*old-1.*old-2.*And 2 more"):
        plan_make(kitchen=cast.kitchen, week_id=planning_week.pk)


def test_a_week_that_is_gone_fails_with_a_sentence_not_with_a_fault(
    cast: Cast, planning_week: PlanningWeek, django_capture_on_commit_callbacks: Commit
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        job_id = plan_request(by=cast.manager, week=planning_week)
        planning_week.delete()
    job = Job.objects.get(pk=job_id)
    assert (job.state, job.error_code) == ("failed", "week-gone")


@pytest.mark.parametrize("role", ["cook", "inspector", "administrator"])
def test_nobody_but_a_manager_asks_for_a_plan(cast: Cast, planning_week: PlanningWeek, role: str) -> None:
    with pytest.raises(NotAllowed):
        plan_request(by=getattr(cast, role), week=planning_week)
    assert not Job.objects.exists()


def test_an_outsider_finds_neither_week_nor_plan_nor_job(
    cast: Cast, planning_week: PlanningWeek, django_capture_on_commit_callbacks: Commit
) -> None:
    job = planned(cast, planning_week, django_capture_on_commit_callbacks)
    with pytest.raises(Http404):
        plan_request(by=cast.outsider, week=planning_week)
    with pytest.raises(Http404):
        plan_of(by=cast.outsider, week=planning_week)
    with pytest.raises(Http404):
        job_stop(by=cast.outsider, job_id=job.pk)
    assert not plans_of(by=cast.outsider, week=planning_week).exists()


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_four_plans_stored_at_the_same_moment_get_four_numbers_and_one_is_the_draft(
    cast: Cast, planning_week: PlanningWeek
) -> None:
    made = plan_make(kitchen=cast.kitchen, week_id=planning_week.pk)
    together = threading.Barrier(4)

    def store(days: int) -> None:
        together.wait()
        try:
            changed = replace(made, input_sha256=f"{days:064}")
            plan_store(made=changed, kitchen=cast.kitchen, week_id=planning_week.pk, user_id=None)
        finally:
            connection.close()

    threads = [threading.Thread(target=store, args=(days,)) for days in range(1, 5)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    kept = list(Plan.objects.order_by("number").values_list("number", "status"))
    assert kept == [(1, "superseded"), (2, "superseded"), (3, "superseded"), (4, "draft")]


@pytest.mark.postgres
def test_a_week_has_one_published_plan_at_most(cast: Cast, planning_week: PlanningWeek) -> None:
    made = plan_make(kitchen=cast.kitchen, week_id=planning_week.pk)
    plan_store(made=made, kitchen=cast.kitchen, week_id=planning_week.pk, user_id=None)
    changed = replace(made, input_sha256="0" * 64)
    plan_store(made=changed, kitchen=cast.kitchen, week_id=planning_week.pk, user_id=None)
    with pytest.raises(IntegrityError), transaction.atomic():
        Plan.objects.filter(week=planning_week).update(status="published", published_at=timezone.now())
    Plan.objects.filter(week=planning_week, number=2).update(status="published", published_at=timezone.now())


def without_time(content: PlanContent) -> PlanContent:
    return replace(content, schedule=replace(content.schedule, seconds=0.0))


def _as_file(document: dict[str, Any]) -> bytes:
    return json.dumps(document).encode()
