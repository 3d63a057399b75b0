"""Plans as they were stored, which of them holds, and how two differ."""

from __future__ import annotations

from functools import lru_cache

from django.db.models import Case, IntegerField, Q, QuerySet, Value, When
from django.http import Http404

from production.domain.plan import Difference, compare_plans, plan_from_json
from production.domain.plan import Plan as PlanContent
from production.models import Membership, Plan, PlanningWeek
from production.selectors.access import Action, may, require
from production.selectors.fingerprints import week_fingerprint
from production.selectors.snapshots import week_snapshot

LARGE = ("input_week", "result", "base__input_week", "base__result")
PUBLISHED = Q(status=Plan.Status.PUBLISHED)
DRAFT = Q(status=Plan.Status.DRAFT)
TAKEN = Q(taken_at__isnull=False)
PROPOSED = DRAFT & Q(base__isnull=False, taken_at__isnull=True)


def plans_of(*, by: Membership, week: PlanningWeek) -> QuerySet[Plan]:
    """The week's plans, newest first, without their content."""
    require(by, Action.SEE_PLAN)
    plans = Plan.objects.filter(kitchen_id=by.kitchen_id, week=week)
    return plans.select_related("created_by", "published_by", "decided_by", "base").defer(*LARGE)


def plan_newest(*, by: Membership, week: PlanningWeek) -> Plan | None:
    """The plan that a person is shown unasked, with its content, if there is one.

    Who makes plans is shown the newest; everybody else works by the published one as soon as there is one. A re-plan
    counts only when it has been taken.
    """
    plans = _whole(plans_of(by=by, week=week)).annotate(
        rank=Case(
            When(PROPOSED, then=Value(2)),
            When(PUBLISHED, then=Value(0)),
            When(DRAFT, then=Value(0 if may(by, Action.MAKE_PLAN) else 1)),
            default=Value(3),
            output_field=IntegerField(),
        )
    )
    return plans.order_by("rank", "-number").first()


def plan_of(*, by: Membership, week: PlanningWeek, number: int | None = None) -> Plan:
    """One plan by its number, or the one that is shown unasked, with its content."""
    if number is None:
        found = plan_newest(by=by, week=week)
    else:
        found = _whole(plans_of(by=by, week=week)).filter(number=number).first()
    if found is None:
        raise Http404("This week has no such plan.")
    return found


def plan_in_force(*, week: PlanningWeek) -> Plan | None:
    """The plan that the kitchen works by: what is asked is said about it, and a re-plan starts from it.

    It is the published plan, or the re-plan that was taken since; before anything is published, the newest draft.
    """
    plans = Plan.objects.filter(week=week).select_related("created_by", "kitchen").order_by("-number")
    return plans.filter(PUBLISHED | DRAFT & TAKEN).first() or plans.filter(DRAFT).exclude(PROPOSED).first()


def newest_living(*, week: PlanningWeek) -> Plan | None:
    """The newest plan that has not been superseded, proposals among them; without its content."""
    living = Plan.objects.filter(PUBLISHED | DRAFT, week=week)
    return living.select_related("created_by", "kitchen").defer("input_week", "result").order_by("-number").first()


def plan_content(*, plan: Plan) -> PlanContent:
    """What the plan says."""
    return plan_from_json(plan.result)


def plan_content_kept(*, plan: Plan) -> PlanContent:
    """What the plan says, from memory where it was read before: the floor asks for the same plan again and again.

    A plan row never changes its content, and the digest of the content is part of what it is looked up by. The row may
    come without its content.
    """
    return _content_kept(plan.pk, plan.result_sha256)


@lru_cache(maxsize=6)
def _content_kept(plan_id: int, result_sha256: str) -> PlanContent:
    row = Plan.objects.only("result").get(pk=plan_id, result_sha256=result_sha256)
    return plan_content(plan=row)


def plan_difference(*, by: Membership, week: PlanningWeek, before: int, after: int) -> Difference:
    """What plan number `after` does otherwise than plan number `before`."""
    first, second = (plan_of(by=by, week=week, number=number) for number in (before, after))
    return compare_plans(plan_content(plan=first), plan_content(plan=second))


def plan_is_stale(*, plan: Plan) -> bool:
    """Have orders, stock or set-up changed since the plan was made?"""
    now = week_fingerprint(week_snapshot(kitchen=plan.kitchen, week_id=plan.week_id))
    return now != plan.input_sha256


def _whole(plans: QuerySet[Plan]) -> QuerySet[Plan]:
    return plans.defer(None).defer("base__input_week", "base__result").select_related("kitchen", "week")
