"""Making plans: asked for here, made by a worker, stored with everything needed to make them again."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from datetime import time as clock
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction
from django.http import Http404
from django.utils import timezone

from production.domain.errors import BadWeekFile, Conflict
from production.domain.kitchen import Week
from production.domain.plan import Plan as PlanContent
from production.domain.plan import make_plan, plan_to_json
from production.domain.week_file import dump_week, dumps_week, parse_week
from production.models import Kitchen, Membership, Plan, PlanningWeek
from production.queue import enqueue
from production.selectors.access import Action, require
from production.selectors.fingerprints import fingerprint, week_fingerprint
from production.selectors.snapshots import week_snapshot
from production.services.jobs import JobContext, Result

PLAN_BUILD = "plan_build"
GRID = timedelta(minutes=5)
PROBLEMS_TOLD = 3
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
    made = plan_make(kitchen=kitchen, week_id=week_id, progress=progress, cancelled=context.cancelled)

    def store() -> Result:
        plan = plan_store(made=made, kitchen=kitchen, week_id=week_id, user_id=context.requested_by)
        return {"plan_id": plan.pk, "number": plan.number}

    return context.finish(store)


@dataclass(frozen=True, slots=True)
class MadePlan:
    """A plan that is not stored yet, with what it was made from.

    `input_week` begins at the moment of planning, with the orders from then on; `input_sha256` is of the week as it
    stood, so that the passing of time alone does not make a plan look outdated.
    """

    content: PlanContent
    input_week: dict[str, Any]
    input_sha256: str
    seconds: float


def plan_make(
    *,
    kitchen: Kitchen,
    week_id: int,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> MadePlan:
    """Plan the week as it stands now. No transaction is held while it is computed."""
    stands = week_snapshot(kitchen=kitchen, week_id=week_id)
    _refuse_contradictions(stands)
    week = _from_now(stands, moment_of_planning())
    began = time.perf_counter()
    content = make_plan(week=week, progress=progress, cancelled=cancelled)
    return MadePlan(
        content=content,
        input_week=dump_week(week),
        input_sha256=week_fingerprint(stands),
        seconds=time.perf_counter() - began,
    )


def _refuse_contradictions(week: Week) -> None:
    """What was changed entry by entry has to agree as a whole, exactly as a week file has to."""
    try:
        parse_week(dumps_week(week).encode())
    except BadWeekFile as error:
        told = " ".join(problem.sentence for problem in error.problems[:PROBLEMS_TOLD])
        more = len(error.problems) - PROBLEMS_TOLD
        raise Conflict(
            f"The week cannot be planned as it stands. {told}" + (f" And {more} more." if more > 0 else ""),
            code="week-contradicts-itself",
            numbers={"problems": len(error.problems)},
            remedy="Correct the orders, the stock or the set-up and ask for a plan again.",
        ) from None


def moment_of_planning() -> datetime:
    """Now; tests put another moment in its place, so that a week of theirs never lies in the past."""
    return timezone.now()


def _from_now(week: Week, now: datetime) -> Week:
    """Nothing starts in the past and nothing is cooked for orders that have left, unless the whole week has passed."""
    day_after = week.starts_on + timedelta(days=week.days)
    into_grid = (now - datetime.min.replace(tzinfo=UTC)) % GRID
    begin = max(week.plan_from, now if not into_grid else now - into_grid + GRID)
    if begin >= datetime.combine(day_after, clock(), ZoneInfo(week.kitchen.time_zone)):
        return week
    ahead = tuple(line for line in week.order_lines if line.dispatch_at >= begin)
    return replace(week, plan_from=begin, order_lines=ahead)


@transaction.atomic
def plan_store(*, made: MadePlan, kitchen: Kitchen, week_id: int, user_id: int | None) -> Plan:
    """Keep the plan as the week's newest draft; older drafts are superseded. The same plan again is kept once."""
    week = PlanningWeek.objects.select_for_update().get(pk=week_id, kitchen=kitchen)
    result = plan_to_json(made.content)
    result_sha256 = fingerprint(_without_time(result))
    newest = Plan.objects.filter(week=week).first()
    if newest is not None and (newest.input_sha256, newest.result_sha256) == (made.input_sha256, result_sha256):
        return newest
    Plan.objects.filter(week=week, status=Plan.Status.DRAFT).update(status=Plan.Status.SUPERSEDED)
    plan = Plan(
        kitchen=kitchen,
        week=week,
        number=1 if newest is None else newest.number + 1,
        input_week=made.input_week,
        input_sha256=made.input_sha256,
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
