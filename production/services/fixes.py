"""What would help a plan with late or unserved orders: worked out in the background, done with one click."""

from __future__ import annotations

import time

from django.conf import settings
from django.db import transaction
from django.http import Http404
from django.utils import timezone

from production.domain.errors import Conflict, PotwrightError
from production.domain.plan import Fix, apply_fix, find_fixes
from production.models import Kitchen, Membership, Plan, PlanFixes, PlanningWeek
from production.queue import asked_before, enqueue
from production.selectors.access import Action, require
from production.selectors.fingerprints import week_fingerprint
from production.selectors.fixes import fixes_from_json, fixes_to_json
from production.selectors.plans import newest_living, plan_content
from production.selectors.snapshots import week_snapshot
from production.services.jobs import JobContext, Result
from production.services.plans import refuse_contradictions
from production.services.replans import REPLAN
from production.services.seen import plan_worked_by, week_locked
from production.services.week_import import CHANGED_BY_THE_WEEK, lists_that_differ, week_lists_save

PLAN_FIXES = "plan_fixes"


@transaction.atomic
def fixes_request(*, by: Membership, plan: Plan, idempotency_key: str = "") -> int:
    """Ask what would help a plan; returns the job's id. What it finds replaces what was found before."""
    require(by, Action.MAKE_PLAN)
    if plan.kitchen_id != by.kitchen_id:
        raise Http404("This kitchen has no such plan.")
    return enqueue(
        kind=PLAN_FIXES,
        kitchen_id=by.kitchen_id,
        payload={"week_id": plan.week_id, "plan_id": plan.pk},
        requested_by=by.user_id,
        idempotency_key=idempotency_key,
    )


def fixes_find(context: JobContext) -> Result:
    """The job's body: try changes out, keep what each does."""
    plan = Plan.objects.get(pk=context.payload["plan_id"], kitchen_id=context.kitchen_id)
    began = time.perf_counter()
    tried = find_fixes(
        plan_content(plan=plan),
        seconds=settings.PLAN_SECONDS,
        cancelled=context.cancelled,
        progress=lambda note, done, total: context.progress(done, total, note),
    )
    seconds = time.perf_counter() - began

    def store() -> Result:
        found = {
            "content": fixes_to_json((*tried.helping, *tried.in_vain, *tried.untried)),
            "seconds": seconds,
            "created_by_id": context.requested_by,
            "created_at": timezone.now(),
        }
        PlanFixes.objects.update_or_create(plan=plan, defaults=found)
        counted = {"fixes": len(tried.helping), "in_vain": len(tried.in_vain), "untried": len(tried.untried)}
        return {"plan_id": plan.pk, "number": plan.number, **counted}

    return context.finish(store)


@transaction.atomic
def fix_apply(*, by: Membership, plan: Plan, index: int, idempotency_key: str = "") -> int:
    """Change the week as one of the plan's fixes says, and ask for the re-plan that shows it; returns the job's id.

    Refused when the kitchen works by another plan or the week has changed since, so that nothing is done twice, and
    when it takes other equipment, which has to be there first.
    """
    require(by, Action.MAKE_PLAN)
    require(by, Action.EDIT_ORDERS)
    if plan.kitchen_id != by.kitchen_id:
        raise Http404("This kitchen has no such plan.")
    week = week_locked(by=by, week=plan.week)
    newest = newest_living(week=week)
    payload = {"week_id": week.pk, "seen": plan.number if newest is None else newest.number, "fix": index}
    earlier = asked_before(kind=REPLAN, kitchen_id=by.kitchen_id, payload=payload, idempotency_key=idempotency_key)
    if earlier is not None:
        return earlier
    plan_worked_by(week=week, seen_number=plan.number)
    _change_week(by.kitchen, week, plan, _fix_of(plan, index))
    return enqueue(
        kind=REPLAN,
        kitchen_id=by.kitchen_id,
        payload=payload,
        requested_by=by.user_id,
        idempotency_key=idempotency_key,
    )


def _fix_of(plan: Plan, index: int) -> Fix:
    row = PlanFixes.objects.filter(plan=plan).first()
    fixes = () if row is None else fixes_from_json(row.content)
    if not 0 <= index < len(fixes) or not fixes[index].helps:
        raise Http404("This plan has no such fix.")
    return fixes[index]


def _change_week(kitchen: Kitchen, week: PlanningWeek, plan: Plan, fix: Fix) -> None:
    Kitchen.objects.select_for_update().get(pk=kitchen.pk)
    stands = week_snapshot(kitchen=kitchen, week_id=week.pk)
    if week_fingerprint(stands) != plan.input_sha256:
        raise Conflict(
            f"The week has changed since plan {plan.number} was made, perhaps by this very fix.",
            code="week-changed-meanwhile",
            numbers={"plan": plan.number},
            remedy="Re-plan, and look again for what would help.",
        )
    changed = apply_fix(stands, fix)
    if fix.needs_equipment or not lists_that_differ(stands, changed) <= CHANGED_BY_THE_WEEK:
        raise PotwrightError(
            f"This takes other equipment than the kitchen has: {fix.sentence}",
            code="fix-needs-set-up",
            numbers={"kind": fix.kind, "target": fix.target},
            remedy="Once it is there, an administrator enters it on the set-up pages; then plan again.",
        )
    refuse_contradictions(changed)
    week_lists_save(kitchen=kitchen, row=week, before=stands, after=changed)
