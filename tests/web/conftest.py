"""A planned week and its documents, for the pages."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.test import Client
from django.utils import timezone
from playwright.sync_api import Browser
from pytest_django.live_server_helper import LiveServer

from production.models import Document, Membership, Plan, PlanningWeek
from tests.conftest import Cast
from tests.lots import a_plan
from tests.web.windows import chromium_running, close_all

KINDS = ("batch_sheet", "cooling_log", "purchase_list", "week_overview")


def signed_in(by: Membership) -> Client:
    """A browser in which this person has signed in."""
    client = Client()
    client.force_login(by.user)
    return client


def address(week: PlanningWeek, *parts: str) -> str:
    """A page of the week."""
    return "/".join((f"/k/{week.kitchen.code}/weeks/{week.starts_on}", *parts, ""))


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with chromium_running() as browser:
        yield browser


@pytest.fixture
def browser(chromium: Browser, live_server: LiveServer, transactional_db: None) -> Iterator[Browser]:
    yield chromium
    close_all(chromium)


@pytest.fixture
def plan(cast: Cast, planning_week: PlanningWeek) -> Plan:
    """The week's plan, as a worker would have stored it."""
    return a_plan(cast, planning_week)


@pytest.fixture
def documents(cast: Cast, plan: Plan) -> tuple[Document, ...]:
    """One document of each kind."""
    return tuple(
        Document.objects.create(
            kitchen=cast.kitchen,
            plan=plan,
            kind=kind,
            key=f"{kind}-1",
            version=1,
            title=f"Document {kind}",
            paper="a4",
            content={},
            content_sha256="0" * 64,
            pdf=b"%PDF-1.7 " + kind.encode(),
            pages=1,
            created_by=cast.manager.user,
            created_at=timezone.now(),
        )
        for kind in KINDS
    )
