"""The pages of lots in a real browser: no barriers, no page wider than the screen, big targets, long names."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
import time_machine
from playwright.sync_api import Browser
from pytest_django.live_server_helper import LiveServer

from production.models import Outlet, Plan, Product, Store
from production.services.bones import bones_save
from tests.conftest import Cast
from tests.lots import PACKED, a_cooling, a_lot, a_run
from tests.web.windows import PHONE, TABLET, barriers, come_in, width_beyond

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SMALL = """[...document.querySelectorAll('main :is(a.target, button, input:not([type=hidden]), select, summary)')]
  .filter(each => each.checkVisibility() && !['checkbox', 'radio'].includes(each.type))
  .map(each => each.getBoundingClientRect()).filter(box => box.height < 47.5).length"""


@pytest.mark.parametrize("size", [TABLET, PHONE], ids=["tablet", "phone"])
def test_lots_dispatch_and_bones_have_no_barriers_and_targets_for_wet_hands(
    browser: Browser,
    live_server: LiveServer,
    cast: Cast,
    plan: Plan,
    size: tuple[int, int],
) -> None:
    with time_machine.travel(PACKED + timedelta(hours=1), tick=True):
        free = a_lot(cast, plan, free=True)
        broken = a_lot(cast, plan, verdict="breached")
        waiting = a_cooling(a_run(plan), group=70)
        bones = bones_save(
            by=cast.cook,
            ingredient="frames",
            mass_kg=Decimal("12.5"),
            saved_on=date(2027, 2, 2),
            store="freezer",
            key="bones",
            now=PACKED,
        )
        for table in (Product, Outlet, Store):
            for row in table.objects.filter(kitchen=cast.kitchen):
                table.objects.filter(pk=row.pk).update(name=row.name.replace(" ", "").ljust(120, "m"))
        page = come_in(browser, live_server, cast.manager, size).new_page()
        wrong = {}
        for href in (
            "/k/small/lots/",
            f"/k/small/lots/{free.code}/",
            f"/k/small/lots/{broken.code}/",
            f"/k/small/lots/pack/?cooling={waiting.subject}",
            "/k/small/dispatch/?day=2027-02-03",
            "/k/small/bones/",
            f"/k/small/bones/{bones.code}/",
        ):
            page.goto(href)
            page.evaluate("document.querySelectorAll('details').forEach(each => { each.open = true })")
            found = [*barriers(page), width_beyond(page), page.evaluate(SMALL)]
            if found != [0, 0]:
                wrong[href] = found
        assert wrong == {}


def test_a_lot_is_released_with_the_keyboard_alone(
    browser: Browser,
    live_server: LiveServer,
    cast: Cast,
    plan: Plan,
) -> None:
    with time_machine.travel(PACKED + timedelta(hours=1), tick=True):
        lot = a_lot(cast, plan)
        page = come_in(browser, live_server, cast.cook, TABLET).new_page()
        page.goto(f"/k/small/lots/{lot.code}/")
        for _ in range(60):
            page.keyboard.press("Tab")
            if page.evaluate("document.activeElement.name") == "release-reason":
                break
        page.keyboard.type("Labels and lids are right")
        page.keyboard.press("Enter")
        page.get_by_text("it may leave").wait_for()
    lot.refresh_from_db()
    assert lot.status == "free"
