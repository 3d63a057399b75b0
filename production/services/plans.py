"""Making plans: asked for here, made by a worker, stored with everything needed to make them again."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.http import Http404
from django.utils import timezone

from production.domain.errors import Conflict
from production.domain.kitchen import Week
from production.domain.plan import Plan as PlanContent
from production.domain.plan import make_plan, plan_to_json
from production.domain.week_file import dump_week
from production.models import Kitchen, Membership, Plan, PlanningWeek
from production.queue import enqueue
from production.selectors.access import Action, require
from production.selectors.fingerprints import fingerprint
from production.selectors.snapshots import week_snapshot
from production.services.jobs import JobContext, Result

PLAN_BUILD = "plan_build"
Progress = Callable[[str, int, int], None]


@transaction.atomic
def plan_request(*, by: Membership, week: PlanningWeek, idempotency_key: str = "") -> int:
    """Ask for a plan of the week; returns the job's id."""
    require(by, Action.MAKE_PLAN)
    if week.kitchen_id != by.kitchen_id:
        raise Http404("This kitchen has no such week.")
    return enqueue(
        kind=PLAN_BUILD,
        kitchen_id=by.kitchen_id,
        payload={"week_id": week.pk},
        requested_by=by.user_id,
        idempotency_key=idempotency_key,
    )


def plan_build(context: JobContext) -> Result:
    """The job's body: snapshot, plan, store. Done twice it stores once."""

    def progress(note: str, done: int, total: int) -> None:
        context.progress(done, total, note)

    kitchen = Kitchen.objects.get(pk=context.kitchen_id)
    week_id = int(context.payload["week_id"])
    if not PlanningWeek.objects.filter(pk=week_id, kitchen=kitchen).exists():
        raise Conflict(
            "The week was taken away before it was planned.",
            code="week-gone",
            numbers={"week_id": week_id},
            remedy="Bring in the week file again and ask for a plan.",
        )
    made = plan_make(kitchen=kitchen, week_id=week_id, progress=progress)

    def store() -> Result:
        plan = plan_store(made=made, kitchen=kitchen, week_id=week_id, user_id=context.requested_by)
        return {"plan_id": plan.pk, "number": plan.number}

    return context.finish(store)


@dataclass(frozen=True, slots=True)
class MadePlan:
    """A plan that is not stored yet, with what it was made from."""

    content: PlanContent
    input_week: dict[str, Any]
    seconds: float


def plan_make(*, kitchen: Kitchen, week_id: int, progress: Progress | None = None) -> MadePlan:
    """Plan the week as it stands now. No transaction is held while it is computed."""
    week: Week = week_snapshot(kitchen=kitchen, week_id=week_id)
    began = time.perf_counter()
    content = make_plan(week=week, progress=progress)
    return MadePlan(content=content, input_week=dump_week(week), seconds=time.perf_counter() - began)


@transaction.atomic
def plan_store(*, made: MadePlan, kitchen: Kitchen, week_id: int, user_id: int | None) -> Plan:
    """Keep the plan as the week's newest draft; older drafts are superseded. The same plan again is kept once."""
    week = PlanningWeek.objects.select_for_update().get(pk=week_id, kitchen=kitchen)
    result = plan_to_json(made.content)
    input_sha256, result_sha256 = fingerprint(made.input_week), fingerprint(_without_time(result))
    newest = Plan.objects.filter(week=week).first()
    if newest is not None and (newest.input_sha256, newest.result_sha256) == (input_sha256, result_sha256):
        return newest
    Plan.objects.filter(week=week, status=Plan.Status.DRAFT).update(status=Plan.Status.SUPERSEDED)
    plan = Plan(
        kitchen=kitchen,
        week=week,
        number=1 if newest is None else newest.number + 1,
        input_week=made.input_week,
        input_sha256=input_sha256,
        parameter_set_version=made.content.parameter_set,
        result=result,
        result_sha256=result_sha256,
        solver_status=made.content.schedule.status,
        seconds=made.seconds,
        seed=made.content.schedule.seed,
        created_by_id=user_id,
        created_at=timezone.now(),
    )
    plan.full_clean()
    plan.save(force_insert=True)
    return plan


def _without_time(result: dict[str, Any]) -> dict[str, Any]:
    """The plan without the seconds it took, which differ from one time to the next."""
    return result | {"schedule": result["schedule"] | {"seconds": 0}}
