"""Planning again from a plan that the kitchen works by: what has begun stays, what was asked holds, little moves."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import datetime

from django.conf import settings
from django.db import transaction

from production.domain.errors import Conflict
from production.domain.kitchen import Week
from production.domain.plan import Plan as PlanContent
from production.domain.plan import preview_to_json, replan
from production.domain.week_file import dump_week
from production.models import Kitchen, Membership, Plan, PlanningWeek
from production.queue import asked_before, enqueue
from production.selectors.access import Action, require
from production.selectors.asks import asks_that_hold
from production.selectors.fingerprints import week_fingerprint
from production.selectors.plans import plan_content, plan_in_force
from production.selectors.snapshots import week_snapshot
from production.services import plans
from production.services.jobs import JobContext, Result
from production.services.plans import MadePlan, kitchen_and_week, plan_store, refuse_contradictions
from production.services.seen import refuse_unseen, week_locked
from production.services.week_stock import week_stock_update

REPLAN = "replan"


@transaction.atomic
def replan_request(*, by: Membership, week: PlanningWeek, seen_plan: int, idempotency_key: str = "") -> int:
    """Ask for a re-plan of the plan that the kitchen works by, from now on and with all that was asked; the job's id.

    `seen_plan` is the newest plan that the person saw. The result is a draft that waits to be taken or left.
    """
    require(by, Action.MAKE_PLAN)
    held = week_locked(by=by, week=week)
    payload = {"week_id": held.pk, "seen": seen_plan}
    earlier = asked_before(kind=REPLAN, kitchen_id=by.kitchen_id, payload=payload, idempotency_key=idempotency_key)
    if earlier is not None:
        return earlier
    refuse_unseen(week=held, seen_number=seen_plan)
    _base_of(held)
    return enqueue(
        kind=REPLAN,
        kitchen_id=by.kitchen_id,
        payload=payload,
        requested_by=by.user_id,
        idempotency_key=idempotency_key,
    )


def replan_build(context: JobContext) -> Result:
    """The job's body. A plan that somebody else has made the kitchen's meanwhile is not overruled."""
    kitchen, week_id = kitchen_and_week(context)
    week = PlanningWeek.objects.get(pk=week_id)
    base = _base_of(week)
    made = _replan_make(context, kitchen, base)

    def store() -> Result:
        week_now = PlanningWeek.objects.select_for_update().get(pk=week_id)
        _refuse_overtaken(base, _base_of(week_now))
        plan = plan_store(made=made, kitchen=kitchen, week_id=week_id, user_id=context.requested_by, base=base)
        return {"plan_id": plan.pk, "number": plan.number, "base": base.number}

    return context.finish(store)


def _replan_make(context: JobContext, kitchen: Kitchen, base: Plan) -> MadePlan:
    week_stock_update(kitchen=kitchen, week_id=base.week_id, now=plans.moment_of_planning())
    stands = week_snapshot(kitchen=kitchen, week_id=base.week_id)
    refuse_contradictions(stands)
    before, now = plan_content(plan=base), plans.moment_of_planning()
    week = _from_base(stands, before, now)
    began = time.perf_counter()
    content = replan(
        base=before,
        week=week,
        asks=asks_that_hold(week=base.week),
        now=now,
        seconds=settings.REPLAN_SECONDS,
        workers=settings.SOLVER_WORKERS,
        progress=lambda note, done, total: context.progress(done, total, note),
        better=lambda preview: context.better(preview_to_json(preview)),
        cancelled=context.cancelled,
    )
    return MadePlan(
        content=content,
        input_week=dump_week(week),
        input_sha256=week_fingerprint(stands),
        seconds=time.perf_counter() - began,
    )


def _from_base(stands: Week, base: PlanContent, now: datetime) -> Week:
    """The week as it stands, without the orders that had left before the base was made: they are not its affair."""
    known = {line.code for line in base.week.order_lines}
    lines = tuple(line for line in stands.order_lines if line.dispatch_at >= now or line.code in known)
    return replace(stands, plan_from=max(base.week.plan_from, now), order_lines=lines)


def _base_of(week: PlanningWeek) -> Plan:
    base = plan_in_force(week=week)
    if base is None:
        raise Conflict("This week has no plan yet.", code="no-plan-yet", remedy="Make a plan first.")
    return base


def _refuse_overtaken(base: Plan, now: Plan) -> None:
    if base.pk != now.pk:
        raise Conflict(
            f"While plan {base.number} was planned again, plan {now.number} took its place.",
            code="replan-overtaken",
            numbers={"plan": base.number, "now": now.number},
            remedy=f"Look at plan {now.number}, and re-plan from there.",
        )
