"""What is asked of the planner: refused when it cannot hold, kept once, withdrawn once."""

from __future__ import annotations

import threading
from datetime import timedelta

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.http import Http404

from production.domain.errors import Conflict, NotAllowed, PotwrightError
from production.domain.plan import LockRun, PlannedRun, PotOut
from production.models import Membership, Plan, PlanAsk, PlanningWeek
from production.selectors.asks import ask_content, ask_of, asks_of, asks_that_hold
from production.selectors.plans import plan_content
from production.services.asks import ask_add, ask_withdraw, move_ask
from production.services.kitchens import membership_set
from tests.conftest import Cast
from tests.lots import a_plan


@pytest.fixture
def plan(cast: Cast, planning_week: PlanningWeek) -> Plan:
    return a_plan(cast, planning_week)


@pytest.fixture
def run(plan: Plan) -> PlannedRun:
    return plan_content(plan=plan).runs[0]


def pot_out(run: PlannedRun, **changes: object) -> PotOut:
    fields = {"pot": run.pot, "start": run.start_at, "end": run.start_at + timedelta(hours=5), "reason": "valve"}
    return PotOut(**{**fields, **changes})  # type: ignore[arg-type]


def test_what_is_asked_holds_until_it_is_withdrawn(
    cast: Cast, planning_week: PlanningWeek, plan: Plan, run: PlannedRun
) -> None:
    broken = pot_out(run)
    ask = ask_add(by=cast.manager, week=planning_week, plan_number=1, ask=broken)
    assert (ask.plan, ask.created_by, ask_content(ask=ask)) == (plan, cast.manager.user, broken)
    lock = move_ask(
        by=cast.manager, week=planning_week, plan_number=1, run=run.code, pot=run.pot, start_at=run.start_at
    )
    assert asks_that_hold(week=planning_week) == (
        broken,
        LockRun(run=run.code, pot=run.pot, start_at=run.start_at),
    )
    gone = ask_withdraw(by=cast.manager, ask=ask)
    assert gone.withdrawn_by == cast.manager.user
    assert list(asks_of(by=cast.cook, week=planning_week)) == [lock]
    assert list(asks_of(by=cast.cook, week=planning_week, withdrawn_too=True)) == [gone, lock]
    assert ask_of(by=cast.cook, week=planning_week, ask_id=ask.pk) == gone


def test_what_is_asked_twice_is_kept_once(cast: Cast, planning_week: PlanningWeek, run: PlannedRun) -> None:
    first = ask_add(by=cast.manager, week=planning_week, plan_number=1, ask=pot_out(run))
    assert ask_add(by=cast.manager, week=planning_week, plan_number=1, ask=pot_out(run)) == first
    ask_withdraw(by=cast.manager, ask=first)
    assert ask_add(by=cast.manager, week=planning_week, plan_number=1, ask=pot_out(run)) != first


def test_what_cannot_hold_is_refused_with_a_reason(cast: Cast, planning_week: PlanningWeek, run: PlannedRun) -> None:
    for ask in (
        LockRun(run="R99", pot=run.pot),
        LockRun(run=run.code),
        pot_out(run, pot="none"),
        pot_out(run, end=run.start_at),
    ):
        with pytest.raises(PotwrightError) as refused:
            ask_add(by=cast.manager, week=planning_week, plan_number=1, ask=ask)
        assert refused.value.code == "ask-does-not-hold"
    assert not PlanAsk.objects.exists()


def test_nothing_is_asked_of_a_plan_that_the_kitchen_no_longer_works_by(
    cast: Cast, planning_week: PlanningWeek, plan: Plan, run: PlannedRun
) -> None:
    Plan.objects.filter(pk=plan.pk).update(number=4)
    with pytest.raises(Conflict, match=r"looking at plan 1\. Plan 4 is the one .* by manager on") as refused:
        ask_add(by=cast.manager, week=planning_week, plan_number=1, ask=pot_out(run))
    assert refused.value.numbers == {"seen": 1, "plan": 4}


def test_nothing_is_asked_of_a_week_without_a_plan(cast: Cast, planning_week: PlanningWeek) -> None:
    with pytest.raises(Conflict) as refused:
        ask_add(by=cast.manager, week=planning_week, plan_number=1, ask=LockRun(run="R01", keep_size=True))
    assert refused.value.code == "no-plan-yet"


def test_only_a_manager_of_the_kitchen_asks_and_withdraws(
    cast: Cast, planning_week: PlanningWeek, run: PlannedRun
) -> None:
    ask = ask_add(by=cast.manager, week=planning_week, plan_number=1, ask=pot_out(run))
    for by in (cast.cook, cast.inspector, cast.administrator):
        with pytest.raises(NotAllowed):
            ask_add(by=by, week=planning_week, plan_number=1, ask=pot_out(run))
        with pytest.raises(NotAllowed):
            ask_withdraw(by=by, ask=ask)
    with pytest.raises(Http404):
        ask_add(by=cast.outsider, week=planning_week, plan_number=1, ask=pot_out(run))
    with pytest.raises(Http404):
        ask_withdraw(by=cast.outsider, ask=ask)
    with pytest.raises(Http404):
        ask_of(by=cast.outsider, week=planning_week, ask_id=ask.pk)
    assert not asks_of(by=cast.outsider, week=planning_week).exists()


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_of_two_managers_who_withdraw_at_the_same_moment_the_second_is_told_by_whom(
    cast: Cast, planning_week: PlanningWeek, run: PlannedRun
) -> None:
    user = User.objects.create_user("berta", password="steam and ladles")
    second = membership_set(kitchen=cast.kitchen, user=user, role="manager", by=None)
    ask = ask_add(by=cast.manager, week=planning_week, plan_number=1, ask=pot_out(run))
    together = threading.Barrier(2)
    told: list[str] = []

    def withdraw(by: Membership) -> None:
        together.wait()
        try:
            ask_withdraw(by=by, ask=ask)
        except Conflict as error:
            told.append(error.sentence)
        finally:
            connection.close()

    threads = [threading.Thread(target=withdraw, args=(by,)) for by in (cast.manager, second)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    first = PlanAsk.objects.get().withdrawn_by
    assert first is not None
    assert len(told) == 1
    assert told[0].startswith(f"This was withdrawn by {first.username} on ")


def test_a_run_is_never_held_in_a_pot_that_no_replan_could_put_it_into(
    cast: Cast, planning_week: PlanningWeek, run: PlannedRun
) -> None:
    with pytest.raises(PotwrightError, match="Wide 45 does not take the 15 L") as refused:
        ask_add(by=cast.manager, week=planning_week, plan_number=1, ask=LockRun(run=run.code, pot="wide"))
    assert (refused.value.code, refused.value.remedy) == (
        "ask-does-not-hold",
        "Choose another pot, or leave the pot open.",
    )
    assert asks_that_hold(week=planning_week) == ()
