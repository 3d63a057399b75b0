"""Making plans: asked for here, made by a worker, stored with everything needed to make them again."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from datetime import time as clock
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction
from django.http import Http404
from django.utils import timezone

from production.domain.errors import BadWeekFile, Conflict, PotwrightError
from production.domain.kitchen import Week
from production.domain.plan import Plan as PlanContent
from production.domain.plan import Preview, make_plan, plan_to_json, preview_to_json
from production.domain.week_file import dump_week, dumps_week, parse_week
from production.models import Kitchen, Membership, Plan, PlanningWeek
from production.queue import asked_before, enqueue
from production.selectors.access import Action, require
from production.selectors.asks import asks_that_hold
from production.selectors.fingerprints import fingerprint, week_fingerprint
from production.selectors.plans import plan_content, plan_in_force
from production.selectors.snapshots import week_snapshot
from production.services.jobs import JobContext, Result
from production.services.week_stock import week_stock_update

PLAN_BUILD = "plan_build"
GRID = timedelta(minutes=5)
PROBLEMS_TOLD = 3
BEGUN_TOLD = 5
OF_THE_MOMENT = frozenset({"seconds", "mark"})
Progress = Callable[[str, int, int], None]
Better = Callable[[Preview], None]


@transaction.atomic
def plan_request(*, by: Membership, week: PlanningWeek, idempotency_key: str = "") -> int:
    """Ask for a plan of the week from its orders alone; returns the job's id.

    Refused when such a plan would forget something: that runs of the published plan have begun, or what was asked.
    """
    require(by, Action.MAKE_PLAN)
    if week.kitchen_id != by.kitchen_id:
        raise Http404("This kitchen has no such week.")
    payload = {"week_id": week.pk}
    earlier = asked_before(kind=PLAN_BUILD, kitchen_id=by.kitchen_id, payload=payload, idempotency_key=idempotency_key)
    if earlier is not None:
        return earlier
    forgotten = what_a_new_plan_forgets(week=week)
    if forgotten:
        raise Conflict(
            f"A plan made from the orders alone would forget that {forgotten}.",
            code="replan-instead",
            remedy="Re-plan: that keeps what has begun and what was asked.",
        )
    return enqueue(
        kind=PLAN_BUILD,
        kitchen_id=by.kitchen_id,
        payload=payload,
        requested_by=by.user_id,
        idempotency_key=idempotency_key,
    )


def what_a_new_plan_forgets(*, week: PlanningWeek) -> str:
    """What only a re-plan would keep, as the end of a sentence; empty when there is nothing of the kind."""
    plan = plan_in_force(week=week)
    if plan is None:
        return ""
    if plan.status == Plan.Status.PUBLISHED or plan.taken_at is not None:
        begun = _begun(plan_content(plan=plan), moment_of_planning())
        if begun:
            told = ", ".join(begun) if len(begun) <= BEGUN_TOLD else f"{len(begun)} runs"
            return f"{told} of plan {plan.number} {'has' if len(begun) == 1 else 'have'} begun"
    asked = len(asks_that_hold(week=week))
    if asked:
        return f"{asked} {'thing was' if asked == 1 else 'things were'} asked of the planner"
    return ""


def _begun(plan: PlanContent, now: datetime) -> list[str]:
    """Runs under way; and those that are over, as long as what they made may still be waiting to leave."""
    awaited = any(line.dispatch_at > now for line in plan.week.order_lines)
    return [run.code for run in plan.runs if run.start_at <= now and (awaited or now < run.end_at)]


def plan_build(context: JobContext) -> Result:
    """The job's body: snapshot, plan, store. Done twice it stores once."""
    kitchen, week_id = kitchen_and_week(context)
    made = plan_make(
        kitchen=kitchen,
        week_id=week_id,
        seconds=settings.PLAN_SECONDS,
        progress=lambda note, done, total: context.progress(done, total, note),
        better=lambda preview: context.better(preview_to_json(preview)),
        cancelled=context.cancelled,
    )

    def store() -> Result:
        plan = plan_store(made=made, kitchen=kitchen, week_id=week_id, user_id=context.requested_by)
        return {"plan_id": plan.pk, "number": plan.number}

    return context.finish(store)


def kitchen_and_week(context: JobContext) -> tuple[Kitchen, int]:
    """What a job of planning is about; refused when the week was taken away meanwhile."""
    kitchen = Kitchen.objects.get(pk=context.kitchen_id)
    week_id = int(context.payload["week_id"])
    if not PlanningWeek.objects.filter(pk=week_id, kitchen=kitchen).exists():
        raise Conflict(
            "The week was taken away before it was planned.",
            code="week-gone",
            numbers={"week_id": week_id},
            remedy="Bring in the week file again and ask for a plan.",
        )
    return kitchen, week_id


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
    seconds: float = 0.0,
    progress: Progress | None = None,
    better: Better | None = None,
    cancelled: Callable[[], bool] | None = None,
    at: datetime | None = None,
) -> MadePlan:
    """Plan the week as it stands now, searching for so many seconds. No transaction is held while it is computed.

    `at` puts another moment in the place of now: a demo plans a week that is under way as if it had not begun.
    """
    moment = at or moment_of_planning()
    week_stock_update(kitchen=kitchen, week_id=week_id, now=moment)
    stands = week_snapshot(kitchen=kitchen, week_id=week_id)
    refuse_contradictions(stands)
    week = week_from(stands, moment)
    began = time.perf_counter()
    content = make_plan(
        week=week,
        seconds=seconds,
        workers=settings.SOLVER_WORKERS,
        progress=progress,
        better=better,
        cancelled=cancelled,
    )
    return MadePlan(
        content=content,
        input_week=dump_week(week),
        input_sha256=week_fingerprint(stands),
        seconds=time.perf_counter() - began,
    )


def refuse_contradictions(week: Week) -> None:
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


def week_from(week: Week, now: datetime) -> Week:
    """Nothing starts in the past and nothing is cooked for orders that have left, unless the whole week has passed."""
    day_after = week.starts_on + timedelta(days=week.days)
    into_grid = (now - datetime.min.replace(tzinfo=UTC)) % GRID
    begin = max(week.plan_from, now if not into_grid else now - into_grid + GRID)
    if begin >= datetime.combine(day_after, clock(), ZoneInfo(week.kitchen.time_zone)):
        return week
    ahead = tuple(line for line in week.order_lines if line.dispatch_at >= begin)
    return replace(week, plan_from=begin, order_lines=ahead)


@transaction.atomic
def plan_store(
    *, made: MadePlan, kitchen: Kitchen, week_id: int, user_id: int | None, base: Plan | None = None
) -> Plan:
    """Keep the plan as the week's newest draft. The same plan again is kept once.

    Older drafts are superseded; but a re-plan, which has a `base`, waits beside them until it is taken or left, and
    supersedes only another that waits. A plan that breaks a limit is not kept.
    """
    week = PlanningWeek.objects.select_for_update().get(pk=week_id, kitchen=kitchen)
    _refuse_broken(made.content)
    result = plan_to_json(made.content)
    result_sha256 = fingerprint(_without_time(result))
    plans = Plan.objects.filter(week=week)
    newest = plans.first()
    earlier = newest if base is None else base
    if earlier is not None and (earlier.input_sha256, earlier.result_sha256) == (made.input_sha256, result_sha256):
        return earlier
    older = plans.filter(status=Plan.Status.DRAFT)
    if base is not None:
        older = older.filter(base__isnull=False, taken_at__isnull=True)
    older.update(status=Plan.Status.SUPERSEDED)
    plan = Plan(
        kitchen=kitchen,
        week=week,
        number=1 if newest is None else newest.number + 1,
        base=base,
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
    plan.full_clean(exclude=["input_week", "result"])  # large, and made by the program as plain values
    plan.save(force_insert=True)
    return plan


def _refuse_broken(content: PlanContent) -> None:
    if content.violations:
        raise PotwrightError(
            f"The plan breaks a limit and is not kept: {content.violations[0]}",
            code="plan-breaks-a-limit",
            numbers={"violations": len(content.violations)},
            remedy="Ask for a plan again; if it happens again, tell the administrator.",
        )


def _without_time(value: Any) -> Any:
    """The plan without the seconds it took, which differ from one time to the next, and the mark that counts them."""
    match value:
        case dict():
            return {key: _without_time(below) for key, below in value.items() if key not in OF_THE_MOMENT}
        case list():
            return [_without_time(below) for below in value]
        case _:
            return value
