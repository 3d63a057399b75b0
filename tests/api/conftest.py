"""Clients for the cast, and a week with a plan and documents."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.core.cache import cache as shared_cache
from django.urls import reverse
from django.utils import timezone
from rest_framework.authtoken.models import Token
from rest_framework.test import APIClient

from production.documents.render import RenderedPdf
from production.domain.sheets import issued
from production.models import Document, Plan, PlanningWeek
from production.services.documents import contents_of, document_store
from production.services.plans import MadePlan, plan_make, plan_store
from tests.conftest import Cast

ClientOf = Callable[[User], APIClient]


@pytest.fixture(autouse=True)
def no_earlier_attempts() -> None:
    """Sign-ins of other tests do not count."""
    shared_cache.clear()


@pytest.fixture
def client_of(db: None) -> ClientOf:
    """A client that sends the person's token."""

    def make(user: User) -> APIClient:
        token, _ = Token.objects.get_or_create(user=user)
        client = APIClient()
        client.credentials(HTTP_AUTHORIZATION=f"Token {token.key}")
        return client

    return make


@pytest.fixture
def manager(cast: Cast, client_of: ClientOf) -> APIClient:
    return client_of(cast.manager.user)


@dataclass(frozen=True, slots=True)
class Planned:
    """The small kitchen's week with everything that can be asked for."""

    week: PlanningWeek
    plan: Plan
    sheet: Document
    purchase_list: Document
    run: str
    figure: str

    def address(self, name: str, **changes: Any) -> str:
        """The address of this name for this week, plan, run, documents."""
        return reverse(name, kwargs=self.places(name) | changes)

    def places(self, name: str) -> dict[str, Any]:
        known: dict[str, Any] = {
            "kitchen": self.plan.kitchen.code,
            "starts_on": self.week.starts_on,
            "number": None,
            "run": self.run,
            "key": self.figure,
            "line": "L1",
            "formula": "poultry",
            "document": self.sheet.pk,
        }
        return {place: known[place] for place in PLACES[name]}


IN_WEEK = ("kitchen", "starts_on")
IN_PLAN = (*IN_WEEK, "number")
PLACES: dict[str, tuple[str, ...]] = {
    "api-kitchen": ("kitchen",),
    "api-weeks": ("kitchen",),
    "api-week": IN_WEEK,
    "api-week-file": IN_WEEK,
    "api-order-lines": IN_WEEK,
    "api-order-line": (*IN_WEEK, "line"),
    "api-formula-roles": (*IN_WEEK, "formula"),
    "api-plans": IN_WEEK,
    "api-plan": IN_PLAN,
    "api-plan-file": IN_PLAN,
    "api-figures": (*IN_PLAN, "run"),
    "api-figure": (*IN_PLAN, "run", "key"),
    "api-purchase-lists": IN_PLAN,
    "api-storage-choices": IN_PLAN,
    "api-documents": IN_PLAN,
    "api-document": ("kitchen", "document"),
    "api-document-pdf": ("kitchen", "document"),
    "api-jobs": ("kitchen",),
}


_kept: list[MadePlan] = []


@pytest.fixture
def planned(cast: Cast, planning_week: PlanningWeek) -> Planned:
    """The plan is computed once for all tests; its rows are written for each."""
    if not _kept:
        _kept.append(plan_make(kitchen=cast.kitchen, week_id=planning_week.pk))
    plan = plan_store(made=_kept[0], kitchen=cast.kitchen, week_id=planning_week.pk, user_id=cast.manager.user_id)
    documents: dict[str, Document] = {}
    for content in contents_of(plan):
        documents.setdefault(
            content.kind,
            document_store(
                plan=plan,
                content=issued(content, version=1, replaces=None, at=timezone.now()),
                rendered=RenderedPdf(pdf=b"%PDF-1.7 as printed", pages=1),
                user_id=cast.manager.user_id,
            ),
        )
    run = _kept[0].content.runs[0]
    return Planned(
        week=planning_week,
        plan=plan,
        sheet=documents["batch_sheet"],
        purchase_list=documents["purchase_list"],
        run=run.code,
        figure=run.figures[0].key,
    )
