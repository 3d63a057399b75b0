"""Telling the planner what to keep to, and what has happened. It holds for the next re-plan, until it is withdrawn."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.http import Http404
from django.utils import timezone

from production.domain.errors import Conflict, PotwrightError
from production.domain.plan import Ask, LockRun, ask_to_json, check_asks, judge_move
from production.domain.plan import Plan as PlanContent
from production.models import Membership, PlanAsk, PlanningWeek
from production.selectors.access import Action, require
from production.selectors.plans import plan_content
from production.services import plans
from production.services.seen import plan_worked_by, week_locked, who_and_when


@transaction.atomic
def ask_add(*, by: Membership, week: PlanningWeek, plan_number: int, ask: Ask) -> PlanAsk:
    """Ask something of the planner about a plan; `plan_number` is the plan that the person was looking at.

    Refused when the kitchen works by another plan by now, and when it cannot hold for this plan. What is asked twice
    is kept once.
    """
    require(by, Action.MAKE_PLAN)
    held = week_locked(by=by, week=week)
    plan = plan_worked_by(week=held, seen_number=plan_number)
    base = plan_content(plan=plan)
    check_asks(base=base, asks=(ask,), now=plans.moment_of_planning())
    _refuse_pot_of_another_size(base, ask)
    content = ask_to_json(ask)
    holding = PlanAsk.objects.filter(week=held, withdrawn_at__isnull=True)
    for same in holding.select_related("plan", "created_by"):
        if same.content == content:
            return same
    return PlanAsk.objects.create(week=held, plan=plan, content=content, created_by=by.user, created_at=timezone.now())


def _refuse_pot_of_another_size(base: PlanContent, ask: Ask) -> None:
    """A run that no re-plan can put into the pot would make every re-plan fail."""
    if not isinstance(ask, LockRun) or not ask.pot:
        return
    run = next(run for run in base.runs if run.code == ask.run)
    judged = judge_move(base, run=ask.run, pot=ask.pot, start_at=ask.start_at or run.start_at)
    if judged.never:
        raise PotwrightError(
            judged.sentences[0],
            code="ask-does-not-hold",
            numbers={"ask": ask.kind, "about": ask.run},
            remedy="Choose another pot, or leave the pot open.",
        )


@transaction.atomic
def ask_withdraw(*, by: Membership, ask: PlanAsk) -> PlanAsk:
    """Take back what was asked; a re-plan no longer keeps to it. Refused when somebody has taken it back already."""
    require(by, Action.MAKE_PLAN)
    mine = PlanAsk.objects.filter(pk=ask.pk, week_id__in=PlanningWeek.objects.filter(kitchen_id=by.kitchen_id))
    changed = mine.filter(withdrawn_at__isnull=True).update(withdrawn_by=by.user, withdrawn_at=timezone.now())
    row = mine.select_related("plan", "created_by", "withdrawn_by", "week__kitchen").first()
    if row is None:
        raise Http404("Nothing of this number was asked.")
    if not changed and row.withdrawn_at is not None:
        when = who_and_when(who=row.withdrawn_by, at=row.withdrawn_at, kitchen=row.week.kitchen)
        raise Conflict(
            f"This was withdrawn {when}.",
            code="withdrawn-meanwhile",
            numbers={"ask": row.pk},
            remedy="Look at what is asked now.",
        )
    return row


def move_ask(
    *, by: Membership, week: PlanningWeek, plan_number: int, run: str, pot: str, start_at: datetime
) -> PlanAsk:
    """Ask that a run is made in this pot at this time; the next re-plan arranges everything else around it."""
    lock = LockRun(run=run, pot=pot, start_at=start_at)
    return ask_add(by=by, week=week, plan_number=plan_number, ask=lock)
