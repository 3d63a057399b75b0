"""What becomes of a plan: a re-plan is taken or left, a plan is published."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.db.models import Q
from django.http import Http404
from django.utils import timezone

from production.domain.errors import Conflict
from production.models import Membership, Plan
from production.selectors.access import Action, require
from production.selectors.asks import plan_misses_asks
from production.selectors.plans import plan_in_force, plan_is_stale
from production.services.seen import refuse_unseen, week_locked, who_and_when

Status = Plan.Status


@transaction.atomic
def plan_take(*, by: Membership, plan: Plan) -> Plan:
    """Work by a re-plan from now on: the draft it starts from is superseded, a published plan stays until the re-plan
    is published. Refused when somebody has decided already, or when the kitchen works by another plan by now.
    """
    proposal = _proposal(by, plan)
    working = plan_in_force(week=proposal.week)
    if working is None or working.pk != proposal.base_id:
        raise _overtaken(proposal, working)
    _decide(proposal, by, taken_at=timezone.now())
    _supersede(proposal, among=Q(status=Status.DRAFT))
    return _again(proposal)


@transaction.atomic
def plan_leave(*, by: Membership, plan: Plan) -> Plan:
    """Put a re-plan aside; the plan it starts from goes on as if nothing had been worked out."""
    proposal = _proposal(by, plan)
    _decide(proposal, by, left_at=timezone.now(), status=Status.SUPERSEDED)
    return _again(proposal)


@transaction.atomic
def plan_publish(*, by: Membership, plan: Plan, seen_number: int, confirm_stale: bool = False) -> Plan:
    """Make a draft the plan that everybody works by; what was published before is superseded in the same moment.

    `seen_number` is the newest plan that the person saw. A re-plan that nobody has taken yet is taken with it. Refused
    when a newer plan exists, and, unless confirmed, when the week or what was asked has changed since the plan was
    made. Publishing the published plan again changes nothing.
    """
    draft = _own(by, plan, Action.PUBLISH_PLAN)
    if draft.status == Status.PUBLISHED:
        return draft
    if draft.status == Status.SUPERSEDED:
        raise _superseded(draft)
    refuse_unseen(week=draft.week, seen_number=seen_number)
    if not confirm_stale:
        _refuse_outdated(draft)
    _supersede(draft, among=Q(status=Status.PUBLISHED) | Q(status=Status.DRAFT))
    now = timezone.now()
    taken: dict[str, Any] = {"taken_at": now, "decided_by": by.user} if draft.is_proposal else {}
    Plan.objects.filter(pk=draft.pk).update(status=Status.PUBLISHED, published_at=now, published_by=by.user, **taken)
    return _again(draft)


def _own(by: Membership, plan: Plan, action: Action) -> Plan:
    """The plan as it stands now, with its week held."""
    require(by, action)
    if plan.kitchen_id != by.kitchen_id:
        raise Http404("This kitchen has no such plan.")
    week_locked(by=by, week=plan.week)
    return _again(plan)


def _again(plan: Plan) -> Plan:
    people = ("created_by", "decided_by", "published_by")
    plans = Plan.objects.select_related("kitchen", "week", "base", *people)
    return plans.defer("base__input_week", "base__result").get(pk=plan.pk)


def _proposal(by: Membership, plan: Plan) -> Plan:
    proposal = _own(by, plan, Action.MAKE_PLAN)
    if proposal.is_proposal:
        return proposal
    decided_at = proposal.taken_at or proposal.left_at
    if proposal.base_id is None:
        raise Conflict(
            f"Plan {proposal.number} is not a re-plan; there is nothing to take or leave.",
            code="not-a-replan",
            numbers={"plan": proposal.number},
            remedy="Publish it when it is right.",
        )
    if decided_at is None:
        raise _superseded(proposal)
    done = "taken" if proposal.taken_at else "left"
    decided = who_and_when(who=proposal.decided_by, at=decided_at, kitchen=proposal.kitchen)
    raise Conflict(
        f"Plan {proposal.number} was {done} {decided}.",
        code="decided-meanwhile",
        numbers={"plan": proposal.number},
        remedy="Look at the plan that holds now.",
    )


def _decide(proposal: Plan, by: Membership, **changes: Any) -> None:
    undecided = Plan.objects.filter(pk=proposal.pk, status=Status.DRAFT, taken_at__isnull=True)
    if not undecided.update(decided_by=by.user, **changes):
        raise _superseded(proposal)


def _supersede(plan: Plan, *, among: Q) -> None:
    """Every other plan of the week among these, except re-plans that start from this very plan."""
    others = Plan.objects.filter(among, week=plan.week).exclude(pk=plan.pk).exclude(base=plan)
    others.update(status=Status.SUPERSEDED)


def _superseded(plan: Plan) -> Conflict:
    return Conflict(
        f"Plan {plan.number} has been superseded meanwhile.",
        code="plan-superseded",
        numbers={"plan": plan.number},
        remedy="Look at the newest plan.",
    )


def _overtaken(proposal: Plan, working: Plan | None) -> Conflict:
    now = "no plan" if working is None else f"plan {working.number}"
    return Conflict(
        f"Plan {proposal.number} starts from a plan that the kitchen no longer works by; it works by {now} now.",
        code="replan-overtaken",
        numbers={"plan": proposal.number, "now": None if working is None else working.number},
        remedy="Re-plan from there.",
    )


def _refuse_outdated(plan: Plan) -> None:
    changed = [
        what
        for what, is_so in (
            ("orders, stock or set-up have changed", plan_is_stale(plan=plan)),
            ("something else has been asked of the planner", plan_misses_asks(plan=plan)),
        )
        if is_so
    ]
    if changed:
        raise Conflict(
            f"Since plan {plan.number} was made, {' and '.join(changed)}.",
            code="plan-outdated",
            numbers={"plan": plan.number},
            remedy="Plan again, or confirm that this plan is published all the same.",
        )
