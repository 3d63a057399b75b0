"""Kitchens and the people who may sign in to them."""

from __future__ import annotations

from django.contrib.auth.models import User
from django.db import transaction

from production.domain import kitchen as domain
from production.domain.errors import NotAllowed
from production.models import Kitchen, Membership
from production.selectors.access import Action, require
from production.selectors.week_rows import columns_of


@transaction.atomic
def kitchen_create(*, kitchen: domain.Kitchen) -> Kitchen:
    """Write a new kitchen; the rest of its set-up comes with its first week file."""
    row = Kitchen(**columns_of(kitchen))
    row.full_clean()
    row.save(force_insert=True)
    return row


@transaction.atomic
def membership_set(*, kitchen: Kitchen, user: User, role: str, by: Membership | None) -> Membership:
    """Give a person a role in a kitchen. `by` is None only where a kitchen gets its first people."""
    if by is not None:
        require(by, Action.MANAGE_PEOPLE)
        _refuse_foreign(kitchen, by)
    row = Membership.objects.filter(kitchen=kitchen, user=user).first() or Membership(kitchen=kitchen, user=user)
    row.role = role
    row.full_clean()
    row.save()
    return row


def _refuse_foreign(kitchen: Kitchen, by: Membership) -> None:
    if by.kitchen_id != kitchen.pk:
        raise NotAllowed(
            "People can only be given a role in your own kitchen.",
            code="other-kitchen",
            remedy="Sign in to that kitchen.",
        )
