"""What would help a plan, done with one click; and whether a run could stand elsewhere."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.http import Http404

from production.domain.errors import Conflict, NotAllowed, PotwrightError
from production.domain.kitchen import Outage
from production.domain.plan import Fix, find_fixes, planned_with
from production.models import IceDelivery, Job, OrderLine, Person, Plan, PlanFixes, PlanningWeek, Shift
from production.models import Outage as OutageRow
from production.selectors.fixes import fixes_of, fixes_to_json
from production.selectors.moves import move_verdict
from production.selectors.plans import plan_content, plan_is_stale
from production.services.fixes import fix_apply, fixes_request
from production.services.orders import order_line_set
from production.services.plans import plan_make, plan_store
from production.services.week_import import week_import
from tests.builders import a_line, a_pot, a_week, at
from tests.conftest import Cast

Commit = Callable[..., AbstractContextManager[list[Callable[[], Any]]]]


@pytest.fixture
def late_week(cast: Cast) -> PlanningWeek:
    """A week in which an order of the first morning cannot leave in time."""
    lines = (
        a_line(code="L1", containers=4, dispatch_at=at("2027-02-01 09:00")),
        a_line(code="L2", containers=2, dispatch_at=at("2027-02-04 09:00")),
    )
    broken = Outage(start=at("2027-02-05 06:00"), end=at("2027-02-05 12:00"), reason="descaled")
    week = a_week(order_lines=lines, lots=(), par_levels=(), pots=(a_pot(outages=(broken,)), *a_week().pots[1:]))
    return week_import(week=week, by=cast.manager)


@pytest.fixture
def plan(cast: Cast, late_week: PlanningWeek) -> Plan:
    made = plan_make(kitchen=cast.kitchen, week_id=late_week.pk)
    return plan_store(made=made, kitchen=cast.kitchen, week_id=late_week.pk, user_id=cast.manager.user_id)


def offered(plan: Plan, *fixes: Fix) -> None:
    """As if these had been found."""
    PlanFixes.objects.update_or_create(
        plan=plan, defaults={"content": fixes_to_json(fixes), "seconds": 1.0, "created_at": plan.created_at}
    )


def a_fix(kind: str, target: str, amount: float, *, moment: datetime | None = None, detail: str = "") -> Fix:
    return Fix(
        kind=kind,
        target=target,
        amount=amount,
        unit="",
        at=moment,
        detail=detail,
        sentence=f"Try {kind}.",
        effect_late_h=1.0,
    )


def test_what_helps_is_found_in_the_background_and_does_what_it_says(
    cast: Cast, plan: Plan, django_capture_on_commit_callbacks: Commit, settings: Any
) -> None:
    before = plan_content(plan=plan)
    assert before.late
    assert fixes_of(by=cast.cook, plan=plan) is None
    settings.PLAN_SECONDS = 60  # it takes a few, and ends when everything has been tried
    with django_capture_on_commit_callbacks(execute=True):
        job_id = fixes_request(by=cast.manager, plan=plan)
    job = Job.objects.get(pk=job_id)
    found = fixes_of(by=cast.cook, plan=plan)
    assert found is not None
    assert (job.state, job.result) == (
        "done",
        {
            "plan_id": plan.pk,
            "number": 1,
            "fixes": len(found.fixes),
            "in_vain": len(found.in_vain),
            "untried": len(found.untried),
        },
    )
    assert found.in_vain
    assert not any(fix.effect_unserved or fix.effect_late_h for fix in found.in_vain)
    assert found.asked_by == "manager"
    index, best = next((n, fix) for n, fix in enumerate(found.fixes) if fix.kind in {"later-dispatch", "order-split"})
    settings.PLAN_SECONDS = 0
    with django_capture_on_commit_callbacks(execute=True):
        job_id = fix_apply(by=cast.manager, plan=plan, index=index)
    job = Job.objects.get(pk=job_id)
    assert (job.error_sentence, job.state) == ("", "done")
    proposal = Plan.objects.get(number=2)
    assert proposal.base == plan
    assert not plan_is_stale(plan=proposal)
    after = plan_content(plan=proposal)
    alone = planned_with(before, before.week)
    gained = alone.schedule.lateness_h - after.schedule.lateness_h
    assert gained == pytest.approx(best.effect_late_h, abs=0.01)
    assert sum(each.containers for each in alone.unserved) - sum(each.containers for each in after.unserved) == (
        best.effect_unserved
    )


def test_planning_again_with_nothing_changed_is_asked_for_like_any_fix(
    cast: Cast, plan: Plan, late_week: PlanningWeek
) -> None:
    offered(plan, a_fix("replan-alone", "", 0.0))
    before = list(OrderLine.objects.filter(week=late_week).values())
    job = Job.objects.get(pk=fix_apply(by=cast.manager, plan=plan, index=0))
    assert (job.kind, job.payload["week_id"]) == ("replan", late_week.pk)
    assert list(OrderLine.objects.filter(week=late_week).values()) == before


def test_a_fix_is_done_once(cast: Cast, plan: Plan, late_week: PlanningWeek) -> None:
    offered(plan, a_fix("later-dispatch", "L1", 24.0))
    first = fix_apply(by=cast.manager, plan=plan, index=0, idempotency_key="click-1")
    line = OrderLine.objects.get(week=late_week, code="L1")
    assert (line.dispatch_at, line.revision) == (at("2027-02-02 09:00"), 2)
    assert OrderLine.objects.get(week=late_week, code="L2").revision == 1
    assert fix_apply(by=cast.manager, plan=plan, index=0, idempotency_key="click-1") == first
    with pytest.raises(Conflict) as refused:
        fix_apply(by=cast.manager, plan=plan, index=0, idempotency_key="click-2")
    assert refused.value.code == "week-changed-meanwhile"
    assert OrderLine.objects.get(week=late_week, code="L1").dispatch_at == at("2027-02-02 09:00")


def test_a_fix_for_a_week_that_has_changed_is_refused(cast: Cast, plan: Plan, late_week: PlanningWeek) -> None:
    offered(plan, a_fix("later-dispatch", "L1", 24.0))
    order_line_set(by=cast.manager, week=late_week, code="L2", containers=3, revision=1)
    with pytest.raises(Conflict, match="The week has changed since plan 1 was made"):
        fix_apply(by=cast.manager, plan=plan, index=0)
    assert not Job.objects.exists()


def test_a_split_order_leaves_the_other_lines_as_they_are(cast: Cast, plan: Plan, late_week: PlanningWeek) -> None:
    offered(plan, a_fix("order-split", "L1", 1.0, moment=at("2027-02-02 09:00")))
    fix_apply(by=cast.manager, plan=plan, index=0)
    lines = OrderLine.objects.filter(week=late_week).values_list("code", "containers", "revision")
    assert list(lines) == [("L1", 1, 2), ("L1-rest", 3, 1), ("L2", 2, 1)]


def test_ice_hours_a_cook_and_a_pot_back_in_use_are_written_into_the_week(
    cast: Cast, plan: Plan, late_week: PlanningWeek
) -> None:
    shift = Shift.objects.filter(week=late_week, person__code="ana").order_by("start")[0]
    before = Shift.objects.filter(week=late_week).count()
    for fix in (
        a_fix("ice-delivery", "bin", 100.0, moment=at("2027-02-01 07:00")),
        a_fix("shift-starts-earlier", "ana", 1.0, moment=shift.start),
        a_fix("one-more-cook", "ben", 1.0, moment=at("2027-02-02 13:00")),
        a_fix("outage-lifted", "tall", 1.0, moment=at("2027-02-05 06:00")),
        a_fix("goods-fetched", "frames", 12.0),
    ):
        offered(plan, fix)
        fix_apply(by=cast.manager, plan=plan, index=0)
        made = plan_make(kitchen=cast.kitchen, week_id=late_week.pk)
        plan = plan_store(made=made, kitchen=cast.kitchen, week_id=late_week.pk, user_id=None)
    assert IceDelivery.objects.get(week=late_week).mass_kg == 100.0
    assert Shift.objects.filter(week=late_week, person__code="ana").order_by("start")[0].start == (
        shift.start - timedelta(hours=1)
    )
    assert Shift.objects.filter(week=late_week).count() == before + 1
    assert Person.objects.get(kitchen=cast.kitchen, code="extra").name == "Extra cook"
    assert not OutageRow.objects.exists()
    assert plan_content(plan=plan).week.get("ingredient_stock", "frames-fetched").mass_kg == 12.0


@pytest.mark.parametrize(
    ("kind", "target"),
    [
        ("cooling-places", "sink"),
        ("pot-like", "tall"),
        ("cube-trays", "cube-30"),
        ("heat-supply", "gas"),
        ("store-room", "freezer"),
    ],
)
def test_other_equipment_has_to_be_there_first(cast: Cast, plan: Plan, kind: str, target: str) -> None:
    offered(plan, a_fix(kind, target, 2.0))
    with pytest.raises(PotwrightError, match=r"This takes other equipment .*Try") as refused:
        fix_apply(by=cast.manager, plan=plan, index=0)
    assert refused.value.code == "fix-needs-set-up"
    assert not Job.objects.exists()


def test_a_fix_that_is_not_there_is_not_found(cast: Cast, plan: Plan) -> None:
    with pytest.raises(Http404):
        fix_apply(by=cast.manager, plan=plan, index=0)
    offered(plan, a_fix("later-dispatch", "L1", 24.0))
    for index in (-1, 1):
        with pytest.raises(Http404):
            fix_apply(by=cast.manager, plan=plan, index=index)


def test_only_a_manager_of_the_kitchen_asks_for_fixes_and_does_them(cast: Cast, plan: Plan) -> None:
    offered(plan, a_fix("later-dispatch", "L1", 24.0))
    for by in (cast.cook, cast.inspector, cast.administrator):
        with pytest.raises(NotAllowed):
            fixes_request(by=by, plan=plan)
        with pytest.raises(NotAllowed):
            fix_apply(by=by, plan=plan, index=0)
    with pytest.raises(Http404):
        fixes_request(by=cast.outsider, plan=plan)
    with pytest.raises(Http404):
        fix_apply(by=cast.outsider, plan=plan, index=0)
    assert fixes_of(by=cast.outsider, plan=plan) is None
    assert not Job.objects.exists()


def test_fixes_come_back_from_their_rows_as_they_were_found(cast: Cast, plan: Plan) -> None:
    tried = find_fixes(plan_content(plan=plan), seconds=60.0)
    assert tried.helping
    offered(plan, *tried.helping, *tried.in_vain, *tried.untried)
    kept = fixes_of(by=cast.manager, plan=plan)
    assert kept is not None
    assert (kept.fixes, kept.in_vain, kept.untried) == (tried.helping, tried.in_vain, tried.untried)


def test_what_was_tried_in_vain_cannot_be_done(cast: Cast, plan: Plan) -> None:
    offered(plan, a_fix("later-dispatch", "L1", 24.0), replace(a_fix("later-dispatch", "L2", 24.0), effect_late_h=0.0))
    with pytest.raises(Http404):
        fix_apply(by=cast.manager, plan=plan, index=1)


def test_whether_a_run_could_stand_elsewhere_is_told_to_members_only(cast: Cast, plan: Plan) -> None:
    run = plan_content(plan=plan).runs[0]
    here = move_verdict(by=cast.cook, plan=plan, run=run.code, pot=run.pot, start_at=run.start_at)
    assert here.fits
    assert here.later_h == pytest.approx(0.0)
    assert not move_verdict(by=cast.cook, plan=plan, run=run.code, pot="none", start_at=run.start_at).fits
    with pytest.raises(Http404):
        move_verdict(by=cast.outsider, plan=plan, run=run.code, pot=run.pot, start_at=run.start_at)
