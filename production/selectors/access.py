"""Who may do what.

A person who is not a member finds nothing (404); a member whose role is too small is told so (403).
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

from django.contrib.auth.models import AnonymousUser, User
from django.db.models import QuerySet
from django.http import Http404

from production.domain.errors import NotAllowed
from production.models import Membership


class Action(StrEnum):
    SEE_WEEK = "see_week"
    SEE_PLAN = "see_plan"
    SEE_PURCHASING = "see_purchasing"
    SEE_DOCUMENTS = "see_documents"
    SEE_WORKINGS = "see_workings"
    EXPORT_WEEK = "export_week"
    IMPORT_WEEK = "import_week"
    EDIT_ORDERS = "edit_orders"
    MAKE_PLAN = "make_plan"
    PUBLISH_PLAN = "publish_plan"
    ISSUE_DOCUMENTS = "issue_documents"
    SET_UP = "set_up"
    MANAGE_PEOPLE = "manage_people"
    SEE_RECORDS = "see_records"
    RECORD = "record"
    DECIDE_LOTS = "decide_lots"
    CLOSE_DEVIATIONS = "close_deviations"
    KEEP_THERMOMETERS = "keep_thermometers"
    INSPECT = "inspect"
    VERIFY = "verify"
    EXPORT_RECORDS = "export_records"


_READ_ALL = frozenset(
    {
        Action.SEE_WEEK,
        Action.SEE_PLAN,
        Action.SEE_PURCHASING,
        Action.SEE_DOCUMENTS,
        Action.SEE_WORKINGS,
        Action.EXPORT_WEEK,
        Action.SEE_RECORDS,
        Action.INSPECT,
        Action.EXPORT_RECORDS,
    }
)
ALLOWED: Mapping[str, frozenset[Action]] = MappingProxyType(
    {
        Membership.Role.MANAGER.value: _READ_ALL
        | {
            Action.IMPORT_WEEK,
            Action.EDIT_ORDERS,
            Action.MAKE_PLAN,
            Action.PUBLISH_PLAN,
            Action.ISSUE_DOCUMENTS,
            Action.RECORD,
            Action.DECIDE_LOTS,
            Action.CLOSE_DEVIATIONS,
            Action.KEEP_THERMOMETERS,
        },
        Membership.Role.COOK.value: frozenset(
            {Action.SEE_PLAN, Action.SEE_DOCUMENTS, Action.SEE_WORKINGS, Action.SEE_RECORDS, Action.RECORD}
        ),
        Membership.Role.INSPECTOR.value: _READ_ALL | {Action.VERIFY},
        Membership.Role.ADMINISTRATOR.value: _READ_ALL | {Action.SET_UP, Action.MANAGE_PEOPLE},
    }
)
_SENTENCE: Mapping[Action, str] = MappingProxyType(
    {
        Action.SEE_WEEK: "see the orders and the stock",
        Action.SEE_PLAN: "see the plan",
        Action.SEE_PURCHASING: "see what is bought and its prices",
        Action.SEE_DOCUMENTS: "see the documents",
        Action.SEE_WORKINGS: "see the workings",
        Action.EXPORT_WEEK: "take out the week file",
        Action.IMPORT_WEEK: "bring in a week file",
        Action.EDIT_ORDERS: "change orders",
        Action.MAKE_PLAN: "make a plan",
        Action.PUBLISH_PLAN: "publish a plan",
        Action.ISSUE_DOCUMENTS: "issue documents",
        Action.SET_UP: "change the kitchen's set-up",
        Action.MANAGE_PEOPLE: "say who works here",
        Action.SEE_RECORDS: "see the records",
        Action.RECORD: "record work",
        Action.DECIDE_LOTS: "decide over lots",
        Action.CLOSE_DEVIATIONS: "close deviations",
        Action.KEEP_THERMOMETERS: "keep the list of thermometers",
        Action.INSPECT: "inspect the records",
        Action.VERIFY: "verify and sign records",
        Action.EXPORT_RECORDS: "take out the records",
    }
)


def memberships_of(*, user: User | AnonymousUser) -> QuerySet[Membership]:
    """The kitchens a person works in."""
    return Membership.objects.filter(user=user.pk or 0).select_related("kitchen", "user")


def membership_for(*, user: User | AnonymousUser, kitchen_code: str) -> Membership:
    """The person's membership in this kitchen; Http404 for strangers and for kitchens that do not exist alike."""
    found = memberships_of(user=user).filter(kitchen__code=kitchen_code, user__is_active=True).first()
    if found is None:
        raise Http404("There is no such kitchen.")
    return found


def may(by: Membership, action: Action) -> bool:
    """Does the role allow the action?"""
    return action in ALLOWED[by.role]


def require(by: Membership, action: Action) -> None:
    """Refuse what the role does not allow."""
    if not may(by, action):
        allowed = [role for role, actions in ALLOWED.items() if action in actions]
        raise NotAllowed(
            f"Your role here ({by.role}) may not {_SENTENCE[action]}.",
            numbers={"role": by.role, "action": action.value},
            remedy=f"Ask the {' or '.join(allowed)}.",
        )
