"""No network, no loss: what is recorded on a tablet arrives once, whatever happens on the way."""

from __future__ import annotations

import os
from collections.abc import Iterator
from datetime import datetime
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright
from pytest_django.live_server_helper import LiveServer

from production.models import Entry, Membership
from production.services import floor
from production.services.floor_answers import Answer, Question, draft_kept
from production.services.records import Draft
from tests.conftest import Cast
from tests.web.test_browser import CHROMIUM, SWITCHES, TABLET, come_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
BOARD = "/k/small/floor/"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=SWITCHES)
        yield chromium
        chromium.close()
    del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


@pytest.fixture(autouse=True)
def notes_of_the_floor(monkeypatch: pytest.MonkeyPatch) -> None:
    """A kind of entry that only these tests know, so that the queue is tested by itself."""

    def note(by: Membership, draft: Draft, now: datetime) -> Answer:
        doubt = (
            Question(code="unlikely", sentence="This is unlikely.", remedy="Look again.")
            if draft.content.get("odd")
            else None
        )
        return draft_kept(by=by, draft=draft, now=now, question=doubt)[0]

    monkeypatch.setitem(floor.KINDS, "note", note)


def opened(window: BrowserContext, href: str = BOARD) -> Page:
    page = window.new_page()
    page.goto(href)
    ready(page)
    return page


def ready(page: Page) -> None:
    page.wait_for_selector("html[data-floor=ready]")


def kept_by_the_worker(page: Page) -> None:
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.wait_for_function("caches.keys().then((names) => names.some((name) => name.startsWith('floor-pages-')))")


def note(page: Page, text: str, **content: Any) -> None:
    entry = {"kind": "note", "subject": "run/2027-02-01/R01", "content": {"text": text, **content}, "says": text}
    page.evaluate(
        "(entry) => floorQueue.add({...entry, happened_at: new Date().toISOString(), shown_ms: Date.now()})", entry
    )


def arrived() -> list[str]:
    return [each.content["text"] for each in Entry.objects.filter(kind="note")]


def all_arrive(page: Page) -> None:
    page.evaluate("floorQueue.beat()")
    page.locator("[data-waiting]", has_text="nothing waiting").wait_for()


def test_what_is_recorded_without_a_network_survives_a_reload_and_arrives_once(
    browser: Browser, live_server: LiveServer, cast: Cast
) -> None:
    window = come_in(browser, live_server, cast.cook, TABLET)
    page = opened(window)
    kept_by_the_worker(page)
    window.set_offline(True)
    for n in range(5):
        note(page, f"before {n}")
    page.reload()
    ready(page)
    page.get_by_text("5 waiting, kept on this tablet").wait_for()
    for n in range(5):
        note(page, f"after {n}")
    page.get_by_text("10 waiting, kept on this tablet").wait_for()
    assert Entry.objects.count() == 0
    window.set_offline(False)
    all_arrive(page)
    assert arrived() == [f"before {n}" for n in range(5)] + [f"after {n}" for n in range(5)]
    page.reload()
    ready(page)
    all_arrive(page)
    assert Entry.objects.count() == 10
