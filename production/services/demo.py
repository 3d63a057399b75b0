"""The demo kitchen: an invented week, one person for each role, and a second kitchen next door."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from dataclasses import dataclass, replace

from django.conf import settings
from django.contrib.auth.models import User
from django.db import transaction

from production.documents.render import Press
from production.domain import kitchen as domain
from production.models import Document, Kitchen, Membership, Plan, PlanningWeek
from production.selectors.fingerprints import week_fingerprint
from production.selectors.snapshots import week_snapshot
from production.services.documents import contents_of, documents_make
from production.services.kitchens import kitchen_create, membership_set
from production.services.plans import plan_make, plan_store
from production.services.week_import import week_import

DEMO_SECONDS = 8  # a first start should not wait for the last hour of calm

# sign-in name -> (kitchen: first or second, role)
PEOPLE: Mapping[str, tuple[int, str]] = {
    "manager": (0, "manager"),
    "cook": (0, "cook"),
    "inspector": (0, "inspector"),
    "administrator": (0, "administrator"),
    "neighbour": (1, "manager"),
}


@dataclass(frozen=True, slots=True)
class SignIn:
    """How to come in."""

    name: str
    password: str
    role: str
    kitchen: str


@transaction.atomic
def demo_load(*, week: domain.Week, passwords: Mapping[str, str]) -> tuple[PlanningWeek, tuple[SignIn, ...]]:
    """Kitchens, people and the week; what is there already stays, orders that somebody changed too."""
    kitchens = (_kitchen(week.kitchen), _kitchen(_second(week.kitchen)))
    members = {
        name: _member(name=name, kitchen=kitchens[which], role=role, password=passwords.get(name, ""))
        for name, (which, role) in PEOPLE.items()
    }
    row = PlanningWeek.objects.filter(kitchen=kitchens[0], starts_on=week.starts_on).first()
    if row is None:
        row = week_import(week=week, by=members["manager"][0])
    sign_ins = tuple(
        SignIn(name=name, password=password, role=by.role, kitchen=by.kitchen.name)
        for name, (by, password) in members.items()
    )
    return row, sign_ins


def demo_member(*, name: str) -> Membership | None:
    """Somebody of the demo kitchen, by the name they sign in with."""
    return Membership.objects.filter(user__username=name).select_related("kitchen", "user").first()


def demo_plan(*, week: PlanningWeek) -> tuple[Plan, tuple[Document, ...]]:
    """The newest plan with its documents if it is of the week as it stands now, else a new one; what is there stays."""
    newest = Plan.objects.filter(week=week).select_related("kitchen").first()
    fingerprint = week_fingerprint(week_snapshot(kitchen=week.kitchen, week_id=week.pk))
    if newest is not None and newest.input_sha256 == fingerprint:
        return newest, _documents(newest, None)
    with Press() as press:  # its processes come up while the week is planned
        seconds = min(DEMO_SECONDS, settings.PLAN_SECONDS)
        made = plan_make(kitchen=week.kitchen, week_id=week.pk, seconds=seconds)
        plan = plan_store(made=made, kitchen=week.kitchen, week_id=week.pk, user_id=_manager(week.kitchen).user_id)
        return plan, _documents(plan, press)


def _documents(plan: Plan, press: Press | None) -> tuple[Document, ...]:
    documents_make(
        plan=plan,
        contents=contents_of(plan),
        user_id=_manager(plan.kitchen).user_id,
        progress=lambda *_: None,
        press=press,
    )
    return tuple(Document.objects.filter(plan=plan, replaced_by__isnull=True))


def _second(first: domain.Kitchen) -> domain.Kitchen:
    return replace(first, code="mill-lane", name="Mill Lane Kitchen", altitude_m=410.0)


def _kitchen(kitchen: domain.Kitchen) -> Kitchen:
    return Kitchen.objects.filter(code=kitchen.code).first() or kitchen_create(kitchen=kitchen)


def _member(*, name: str, kitchen: Kitchen, role: str, password: str) -> tuple[Membership, str]:
    user = User.objects.filter(username=name).first()
    if user is None or not password:
        user = user or User(username=name, is_staff=role == Membership.Role.ADMINISTRATOR)
        password = password or secrets.token_urlsafe(9)
        user.set_password(password)
        user.save()
    return membership_set(kitchen=kitchen, user=user, role=role, by=None), password


def _manager(kitchen: Kitchen) -> Membership:
    return Membership.objects.filter(kitchen=kitchen, role=Membership.Role.MANAGER).earliest("pk")
