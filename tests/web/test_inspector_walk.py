"""An inspector's first day: from the sign-in to the signed review of ten logs, by what the pages say alone."""

from __future__ import annotations

import re

import pytest
import time_machine
from playwright.sync_api import Browser, expect
from pytest_django.live_server_helper import LiveServer

from production.models import Entry, PlanningWeek, Review
from tests.conftest import Cast
from tests.services.review_kit import after
from tests.web.inspection_kit import some_logs
from tests.web.windows import PHONE, TABLET, barriers, new_window, width_beyond

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PASSWORD = "steam and ladles"


@pytest.mark.parametrize(("size", "many"), [(TABLET, 10), (PHONE, 3)], ids=["tablet", "phone"])
def test_an_inspector_signs_what_waits_without_a_manual(
    browser: Browser,
    live_server: LiveServer,
    cast: Cast,
    planning_week: PlanningWeek,
    size: tuple[int, int],
    many: int,
) -> None:
    logs = some_logs(cast, planning_week, good=many - 1)
    with time_machine.travel(after(logs[0], 1000)):
        page = new_window(browser, live_server, size).new_page()
        page.goto("/")
        page.get_by_label("Username").fill("inspector")
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        if size == PHONE:
            page.get_by_role("button", name="Menu").click()
        page.get_by_role("link", name="Inspection").click()
        expect(page.get_by_role("heading", name=f"{many} logs")).to_be_visible()
        assert barriers(page) == []
        assert width_beyond(page) == 0
        page.get_by_role("list", name="Logs").get_by_role("link").first.click()
        expect(page.get_by_label("Your password")).to_be_visible()
        assert barriers(page) == []
        for left in range(many - 1, -1, -1):
            assert width_beyond(page) == 0
            page.get_by_label("Your password").fill(PASSWORD)
            with page.expect_navigation():  # "Signed." stands there from the log before
                page.get_by_role("button", name="Sign", exact=True).click()
            expect(page.get_by_text("Signed.", exact=True)).to_be_visible()
            assert Review.objects.filter(state="signed").count() == many - left
        expect(page.get_by_role("heading", name="Nothing waits")).to_be_visible()
        assert barriers(page) == []
        page.goto("/k/small/deviations/")
        page.get_by_role("link", name=re.compile("No. 1")).click()
        expect(page.get_by_text("a manager closes it")).to_be_visible()
        assert barriers(page) == []
        assert width_beyond(page) == 0
    signed = Entry.objects.filter(kind="verified")
    assert {each.by_login for each in signed} == {"inspector"}
    assert {each.content["verdict"] for each in signed} == {"met", "breached"}
