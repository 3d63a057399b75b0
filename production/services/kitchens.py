"""Kitchens and the people who may sign in to them."""

from __future__ import annotations

import secrets

from django.contrib.auth.models import User
from django.db import transaction

from production.domain import kitchen as domain
from production.domain.errors import Conflict, NotAllowed
from production.models import Kitchen, Membership
from production.selectors.access import Action, require
from production.selectors.week_rows import columns_of
from production.services.week_import import week_import


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


@transaction.atomic
def kitchen_open(*, week: domain.Week, administrator: str, manager: str) -> dict[str, str]:
    """Make the kitchen of a week file with the week and its first two people; returns their passwords by name."""
    _refuse_known(week.kitchen.code, administrator, manager)
    kitchen = kitchen_create(kitchen=week.kitchen)
    passwords: dict[str, str] = {}
    for name, role in ((administrator, Membership.Role.ADMINISTRATOR), (manager, Membership.Role.MANAGER)):
        passwords[name] = secrets.token_urlsafe(15)
        user = User(username=name, is_staff=role == Membership.Role.ADMINISTRATOR)
        user.set_password(passwords[name])
        user.full_clean()
        user.save(force_insert=True)
        membership = membership_set(kitchen=kitchen, user=user, role=role, by=None)
    week_import(week=week, by=membership)
    return passwords


def _refuse_known(code: str, administrator: str, manager: str) -> None:
    if Kitchen.objects.filter(code=code).exists():
        raise Conflict(
            f"There is a kitchen {code} already; its people bring in week files on the pages.",
            code="kitchen-known",
            numbers={"kitchen": code},
            remedy="Give a new kitchen another code.",
        )
    known = list(User.objects.filter(username__in=[administrator, manager]).values_list("username", flat=True))
    if known or administrator == manager:
        raise Conflict(
            f"The name {(known or [manager])[0]} is taken.",
            code="name-taken",
            numbers={"names": known},
            remedy="Choose two names that nobody signs in with yet.",
        )
