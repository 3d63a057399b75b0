"""Clients for the cast, and a week with a plan and documents."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.urls import reverse
from django.utils import timezone
from rest_framework.authtoken.models import Token
from rest_framework.test import APIClient

from production.documents.render import RenderedPdf
from production.domain.plan import Fix, LockRun
from production.domain.sheets import issued
from production.models import Document, Plan, PlanAsk, PlanFixes, PlanningWeek
from production.selectors.fixes import fixes_to_json
from production.selectors.plans import plan_content
from production.services.asks import ask_add, ask_withdraw
from production.services.deviations import deviation_open
from production.services.documents import contents_of, document_store
from tests.conftest import Cast
from tests.kept import kept
from tests.lots import a_plan

ClientOf = Callable[[User], APIClient]


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
    withdrawn: PlanAsk

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
            "ask": self.withdrawn.pk,
            "fix": 1,
            "deviation": 1,
            "lot": "2702020013",
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
    "api-asks": IN_WEEK,
    "api-ask-withdraw": (*IN_WEEK, "ask"),
    "api-replans": IN_WEEK,
    "api-plans": IN_WEEK,
    "api-plan": IN_PLAN,
    "api-plan-file": IN_PLAN,
    "api-plan-publish": IN_PLAN,
    "api-plan-take": IN_PLAN,
    "api-plan-leave": IN_PLAN,
    "api-difference": IN_PLAN,
    "api-fixes": IN_PLAN,
    "api-fix-apply": (*IN_PLAN, "fix"),
    "api-move": (*IN_PLAN, "run"),
    "api-figures": (*IN_PLAN, "run"),
    "api-figure": (*IN_PLAN, "run", "key"),
    "api-purchase-lists": IN_PLAN,
    "api-storage-choices": IN_PLAN,
    "api-documents": IN_PLAN,
    "api-document": ("kitchen", "document"),
    "api-document-pdf": ("kitchen", "document"),
    "api-jobs": ("kitchen",),
    "api-floor-entries": ("kitchen",),
    "api-readings": ("kitchen",),
    "api-reviews": ("kitchen",),
    "api-deviations": ("kitchen",),
    "api-deviation": ("kitchen", "deviation"),
    "api-deviation-actions": ("kitchen", "deviation"),
    "api-deviation-closing": ("kitchen", "deviation"),
    "api-thermometers": ("kitchen",),
    "api-receipts": ("kitchen",),
    "api-store-temps": ("kitchen",),
    "api-lots": ("kitchen",),
    "api-lot-steps": ("kitchen", "lot"),
    "api-stores": ("kitchen",),
    "api-dispatches": ("kitchen",),
    "api-bones": ("kitchen",),
    "api-trace": ("kitchen",),
    "api-hazard-plans": ("kitchen",),
}

# What is read only with a question, and what is only done.
QUERIES = {
    "api-dispatches": "?day=2027-02-03",
    "api-trace": "?of=outlet/bistro",
    "api-difference": "?before=1",
    "api-move": "?pot=tall&start_at=2027-02-02T14:00:00Z",
}
ONLY_DONE = {
    "api-ask-withdraw",
    "api-replans",
    "api-plan-publish",
    "api-plan-take",
    "api-plan-leave",
    "api-fix-apply",
    "api-floor-entries",
    "api-readings",
    "api-deviation-actions",
    "api-deviation-closing",
    "api-lot-steps",
}

POT_OUT = {
    "plan": 1,
    "kind": "pot-out",
    "pot": "tall",
    "start": "2027-02-02T08:00:00-07:00",
    "end": "2027-02-02T12:00:00-07:00",
    "reason": "valve",
}


def a_fix() -> Fix:
    return Fix(
        kind="later-dispatch",
        target="L1",
        amount=24.0,
        unit="h",
        sentence="L1 leaves on Thursday at 09:00.",
        effect_late_h=2.0,
    )


@pytest.fixture
def planned(cast: Cast, planning_week: PlanningWeek) -> Planned:
    """The plan is computed once for all tests; its rows are put back for each."""
    return kept("a week with everything", lambda: _planned(cast, planning_week))


def _planned(cast: Cast, planning_week: PlanningWeek) -> Planned:
    plan = a_plan(cast, planning_week)
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
    run = plan_content(plan=plan).runs[0]
    later = a_fix()
    PlanFixes.objects.create(plan=plan, content=fixes_to_json((later,)), seconds=1.5, created_at=timezone.now())
    ask = ask_add(by=cast.manager, week=planning_week, plan_number=1, ask=LockRun(run=run.code, keep_size=True))
    facts = {"sentence": "The walk-in stood at 9.0 °C for 3 h."}
    now = timezone.now()
    deviation_open(by=cast.cook, kind="storage", subject="store/walk-in", facts=facts, key="warm", now=now)
    return Planned(
        withdrawn=ask_withdraw(by=cast.manager, ask=ask),
        week=planning_week,
        plan=plan,
        sheet=documents["batch_sheet"],
        purchase_list=documents["purchase_list"],
        run=run.code,
        figure=run.figures[0].key,
    )
