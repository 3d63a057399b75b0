"""What becomes of a plan, and that of two managers the second is told."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.http import Http404

from production.domain.errors import Conflict, NotAllowed, PotwrightError
from production.domain.plan import LockRun
from production.models import Membership, Plan, PlanAsk, PlanningWeek
from production.selectors.plans import plan_content, plan_in_force, plan_newest
from production.services.asks import ask_add
from production.services.kitchens import membership_set
from production.services.orders import order_line_set
from production.services.plans import MadePlan, plan_make, plan_request, plan_store
from production.services.publishing import plan_leave, plan_publish, plan_take
from tests.conftest import Cast
from tests.kept import kept


@pytest.fixture
def made(cast: Cast, planning_week: PlanningWeek) -> MadePlan:
    return kept("a plan not stored", lambda: plan_make(kitchen=cast.kitchen, week_id=planning_week.pk))


Keep = Callable[..., Plan]


@pytest.fixture
def keep(cast: Cast, planning_week: PlanningWeek, made: MadePlan) -> Keep:
    """Store the plan as draft, or as re-plan of another; every one counts as a different plan."""
    differing = iter(range(1, 10**6))

    def store(base: Plan | None = None, *, by: Membership = cast.manager, content: MadePlan = made) -> Plan:
        different = replace(content.content, cautions=(f"variant {next(differing)}",))
        return plan_store(
            made=replace(content, content=different),
            kitchen=cast.kitchen,
            week_id=planning_week.pk,
            user_id=by.user_id,
            base=base,
        )

    return store


@pytest.fixture
def second(cast: Cast) -> Membership:
    """Another manager of the same kitchen."""
    user = User.objects.create_user("berta", password="steam and ladles")
    return membership_set(kitchen=cast.kitchen, user=user, role="manager", by=None)


def statuses(week: PlanningWeek) -> list[tuple[int, str]]:
    return list(Plan.objects.filter(week=week).order_by("number").values_list("number", "status"))


def test_a_published_plan_replaces_the_one_before_in_the_same_moment(
    cast: Cast, planning_week: PlanningWeek, keep: Keep
) -> None:
    first = plan_publish(by=cast.manager, plan=keep(), seen_number=1)
    assert (first.status, first.published_by, first.published_at is not None) == ("published", cast.manager.user, True)
    plan_publish(by=cast.manager, plan=keep(), seen_number=2)
    assert statuses(planning_week) == [(1, "superseded"), (2, "published")]


def test_publishing_the_published_plan_again_changes_nothing(cast: Cast, second: Membership, keep: Keep) -> None:
    first = plan_publish(by=cast.manager, plan=keep(), seen_number=1)
    again = plan_publish(by=second, plan=first, seen_number=1)
    assert (again.published_by, again.published_at) == (first.published_by, first.published_at)


def test_a_plan_is_not_published_over_a_newer_one_that_the_manager_has_not_seen(
    cast: Cast, second: Membership, planning_week: PlanningWeek, keep: Keep
) -> None:
    draft = keep()
    keep(draft, by=second)
    with pytest.raises(Conflict, match=r"looking at plan 1\. Plan 2 was made by berta on \w+ \d+ \w+ at") as refused:
        plan_publish(by=cast.manager, plan=draft, seen_number=1)
    assert refused.value.code == "other-plan-meanwhile"
    assert statuses(planning_week) == [(1, "draft"), (2, "draft")]
    plan_publish(by=cast.manager, plan=draft, seen_number=2)
    assert statuses(planning_week) == [(1, "published"), (2, "draft")]


def test_a_plan_of_changed_orders_is_published_only_when_that_is_confirmed(
    cast: Cast, planning_week: PlanningWeek, keep: Keep
) -> None:
    draft = keep()
    order_line_set(by=cast.manager, week=planning_week, code="L1", containers=9, revision=1)
    with pytest.raises(Conflict, match="orders, stock or set-up have changed") as refused:
        plan_publish(by=cast.manager, plan=draft, seen_number=1)
    assert refused.value.code == "plan-outdated"
    assert plan_publish(by=cast.manager, plan=draft, seen_number=1, confirm_stale=True).status == "published"


def test_a_plan_that_has_not_heard_what_was_asked_is_published_only_when_that_is_confirmed(
    cast: Cast, planning_week: PlanningWeek, keep: Keep
) -> None:
    draft = keep()
    lock(cast.manager, planning_week, draft)
    with pytest.raises(Conflict, match="something else has been asked"):
        plan_publish(by=cast.manager, plan=draft, seen_number=1)
    assert plan_publish(by=cast.manager, plan=draft, seen_number=1, confirm_stale=True).status == "published"


def test_a_superseded_plan_is_not_published(cast: Cast, planning_week: PlanningWeek, keep: Keep) -> None:
    old = keep()
    keep()
    with pytest.raises(Conflict) as refused:
        plan_publish(by=cast.manager, plan=old, seen_number=2)
    assert refused.value.code == "plan-superseded"
    assert statuses(planning_week) == [(1, "superseded"), (2, "draft")]


def test_a_replan_waits_beside_the_draft_until_it_is_taken(cast: Cast, planning_week: PlanningWeek, keep: Keep) -> None:
    draft = keep()
    proposal = keep(draft)
    assert statuses(planning_week) == [(1, "draft"), (2, "draft")]
    assert proposal.is_proposal
    assert plan_newest(by=cast.manager, week=planning_week) == draft
    taken = plan_take(by=cast.manager, plan=proposal)
    assert (taken.is_proposal, taken.decided_by, taken.taken_at is not None) == (False, cast.manager.user, True)
    assert statuses(planning_week) == [(1, "superseded"), (2, "draft")]
    assert plan_newest(by=cast.manager, week=planning_week) == proposal


def test_a_replan_that_is_left_leaves_everything_as_it_was(cast: Cast, planning_week: PlanningWeek, keep: Keep) -> None:
    draft = keep()
    left = plan_leave(by=cast.manager, plan=keep(draft))
    assert (left.status, left.decided_by, left.left_at is not None) == ("superseded", cast.manager.user, True)
    assert plan_newest(by=cast.manager, week=planning_week) == draft
    assert plan_in_force(week=planning_week) == draft
    assert statuses(planning_week) == [(1, "draft"), (2, "superseded")]


def test_a_replan_of_the_published_plan_leaves_it_published_until_it_is_published_itself(
    cast: Cast, planning_week: PlanningWeek, keep: Keep
) -> None:
    published = plan_publish(by=cast.manager, plan=keep(), seen_number=1)
    proposal = plan_take(by=cast.manager, plan=keep(published))
    assert statuses(planning_week) == [(1, "published"), (2, "draft")]
    assert plan_in_force(week=planning_week) == proposal
    assert plan_newest(by=cast.manager, week=planning_week) == proposal
    assert plan_newest(by=cast.cook, week=planning_week) == published
    plan_publish(by=cast.manager, plan=proposal, seen_number=2)
    assert statuses(planning_week) == [(1, "superseded"), (2, "published")]
    assert plan_newest(by=cast.cook, week=planning_week) == proposal


def test_publishing_a_replan_takes_it(cast: Cast, planning_week: PlanningWeek, keep: Keep) -> None:
    published = plan_publish(by=cast.manager, plan=keep(keep()), seen_number=2)
    assert (published.taken_at, published.decided_by) == (published.published_at, cast.manager.user)
    assert statuses(planning_week) == [(1, "superseded"), (2, "published")]


def test_of_two_replans_only_the_newer_waits(cast: Cast, planning_week: PlanningWeek, keep: Keep) -> None:
    draft = keep()
    older = keep(draft)
    keep(draft)
    assert statuses(planning_week) == [(1, "draft"), (2, "superseded"), (3, "draft")]
    with pytest.raises(Conflict, match="superseded meanwhile"):
        plan_take(by=cast.manager, plan=older)


def test_the_second_who_decides_about_a_replan_is_told_who_was_first(
    cast: Cast, second: Membership, keep: Keep
) -> None:
    proposal = keep(keep())
    plan_take(by=second, plan=proposal)
    for decide in (plan_take, plan_leave):
        with pytest.raises(Conflict, match=r"Plan 2 was taken by berta on \w+ \d+ \w+ at \d\d:\d\d") as refused:
            decide(by=cast.manager, plan=proposal)
        assert refused.value.code == "decided-meanwhile"


def test_a_replan_of_a_plan_that_holds_no_longer_cannot_be_taken(
    cast: Cast, planning_week: PlanningWeek, keep: Keep
) -> None:
    draft = keep()
    proposal = keep(draft)
    Plan.objects.filter(pk=draft.pk).update(status="superseded")
    with pytest.raises(Conflict) as refused:
        plan_take(by=cast.manager, plan=proposal)
    assert refused.value.code == "replan-overtaken"


def test_a_plan_that_is_no_replan_cannot_be_left(cast: Cast, keep: Keep) -> None:
    with pytest.raises(Conflict, match="not a re-plan"):
        plan_leave(by=cast.manager, plan=keep())


def test_a_plan_that_breaks_a_limit_is_not_kept(made: MadePlan, keep: Keep) -> None:
    broken = replace(made, content=replace(made.content, violations=("R01 and R02 are in one pot",)))
    with pytest.raises(PotwrightError, match="R01 and R02 are in one pot") as refused:
        keep(content=broken)
    assert refused.value.code == "plan-breaks-a-limit"
    assert not Plan.objects.exists()


def test_a_new_plan_does_not_forget_what_was_asked(cast: Cast, planning_week: PlanningWeek, keep: Keep) -> None:
    lock(cast.manager, planning_week, keep())
    with pytest.raises(Conflict, match="forget that 1 thing was asked of the planner") as refused:
        plan_request(by=cast.manager, week=planning_week)
    assert refused.value.code == "replan-instead"


def test_a_new_plan_does_not_forget_runs_of_the_published_plan_that_have_begun(
    cast: Cast, planning_week: PlanningWeek, keep: Keep, monkeypatch: pytest.MonkeyPatch
) -> None:
    draft = keep()
    run = min(plan_content(plan=draft).runs, key=lambda each: each.start_at)
    monkeypatch.setattr("production.services.plans.moment_of_planning", lambda: run.start_at)
    assert plan_request(by=cast.manager, week=planning_week), "a draft is not cooked from"
    plan_publish(by=cast.manager, plan=draft, seen_number=1)
    with pytest.raises(Conflict, match=rf"forget that {run.code} of plan 1 has begun"):
        plan_request(by=cast.manager, week=planning_week)


def test_a_new_plan_does_not_forget_runs_that_are_over_while_their_orders_have_not_left(
    cast: Cast, planning_week: PlanningWeek, keep: Keep, monkeypatch: pytest.MonkeyPatch
) -> None:
    draft = keep()
    plan_publish(by=cast.manager, plan=draft, seen_number=1)
    content = plan_content(plan=draft)
    over = max(run.end_at for run in content.runs) + timedelta(minutes=5)
    left = max(line.dispatch_at for line in content.week.order_lines)
    assert over < left
    monkeypatch.setattr("production.services.plans.moment_of_planning", lambda: over)
    with pytest.raises(Conflict, match=r"of plan 1 have begun"):
        plan_request(by=cast.manager, week=planning_week)
    monkeypatch.setattr("production.services.plans.moment_of_planning", lambda: left)
    assert plan_request(by=cast.manager, week=planning_week)


@pytest.mark.parametrize("decide", [plan_take, plan_leave])
def test_only_a_manager_of_the_kitchen_decides(cast: Cast, keep: Keep, decide: Callable[..., Plan]) -> None:
    proposal = keep(keep())
    for by in (cast.cook, cast.inspector, cast.administrator):
        with pytest.raises(NotAllowed):
            decide(by=by, plan=proposal)
        with pytest.raises(NotAllowed):
            plan_publish(by=by, plan=proposal, seen_number=2)
    with pytest.raises(Http404):
        decide(by=cast.outsider, plan=proposal)
    with pytest.raises(Http404):
        plan_publish(by=cast.outsider, plan=proposal, seen_number=2)


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_of_two_managers_who_decide_at_the_same_moment_one_is_told(
    cast: Cast, second: Membership, planning_week: PlanningWeek, keep: Keep
) -> None:
    draft = keep()
    proposal = keep(draft)
    together = threading.Barrier(2)
    outcomes: list[str] = []

    def decide(by: Membership, decision: Callable[..., Plan]) -> None:
        together.wait()
        try:
            decision(by=by, plan=proposal)
            outcomes.append("done")
        except Conflict as error:
            outcomes.append(error.code)
        finally:
            connection.close()

    threads = [
        threading.Thread(target=decide, args=(cast.manager, plan_take)),
        threading.Thread(target=decide, args=(second, plan_leave)),
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(outcomes) == ["decided-meanwhile", "done"]
    assert statuses(planning_week) in ([(1, "superseded"), (2, "draft")], [(1, "draft"), (2, "superseded")])


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_two_plans_published_at_the_same_moment_leave_one_published(
    cast: Cast, second: Membership, planning_week: PlanningWeek, keep: Keep
) -> None:
    draft = keep()
    proposal = keep(draft)
    together = threading.Barrier(2)
    outcomes: list[str] = []

    def publish(by: Membership, plan: Plan) -> None:
        together.wait()
        try:
            plan_publish(by=by, plan=plan, seen_number=2)
            outcomes.append("published")
        except Conflict as error:
            outcomes.append(error.code)
        finally:
            connection.close()

    threads = [
        threading.Thread(target=publish, args=(cast.manager, draft)),
        threading.Thread(target=publish, args=(second, proposal)),
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert Plan.objects.filter(week=planning_week, status="published").count() == 1
    assert "published" in outcomes


def lock(by: Membership, week: PlanningWeek, plan: Plan) -> PlanAsk:
    run = plan_content(plan=plan).runs[0]
    return ask_add(by=by, week=week, plan_number=plan.number, ask=LockRun(run=run.code, pot=run.pot))
