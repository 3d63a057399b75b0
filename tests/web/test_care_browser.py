"""The pages of thermometers, deliveries and stores in a real browser, full and with something wrong."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Browser
from pytest_django.live_server_helper import LiveServer

from production.models import CoolingRecord, Ingredient, Plan, Receipt, Supplier, ThermometerCheck
from production.services.receipts import Came, receipt_take
from tests.conftest import Cast
from tests.lots import a_cooling, a_run
from tests.services.cooling_kit import a_thermometer, sent, take
from tests.web.windows import PHONE, TABLET, barriers, come_in, width_beyond

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def tell(cast: Cast, kind: str, subject: str, at: datetime, **content: Any) -> None:
    """One entry of the floor, at its time."""
    (answer,) = take(cast.cook, sent(kind, subject, at, content), now=at)
    assert answer.outcome in ("kept", "questioned"), answer


def a_week_of_care(cast: Cast, plan: Plan) -> ThermometerCheck:
    """Stores read twice a day with a warm night, deliveries good and bad, and a thermometer found wrong."""
    now = timezone.now().astimezone(UTC).replace(second=0, microsecond=0)
    a_thermometer(cast.manager, code="t1", name="Red handle, cold line", check_due_on=None)
    a_thermometer(cast.manager, code="t2", name="Blue handle", unit="F", both_scales=True, check_due_on=None)
    a_thermometer(cast.manager, code="p1", name="Probe in the walk-in", kind="probe", check_due_on=None)
    tell(cast, "thermometer_checked", "thermometer/t1", now - timedelta(days=9), shown="0.3", method="ice")
    tell(cast, "thermometer_checked", "thermometer/p1", now - timedelta(days=6), shown="95.6", method="boiling")
    for half_day in range(14):
        at = now - timedelta(days=7) + timedelta(hours=12 * half_day, minutes=20)
        warm = 7 <= half_day <= 8
        tell(
            cast, "storage_temp", "store/walk-in", at, temp="7.8" if warm else f"{2 + half_day % 3}.4", thermometer="p1"
        )
        if half_day != 10:
            tell(cast, "storage_temp", "store/freezer", at, temp=f"-{18 + half_day % 4}.5")
    tell(
        cast,
        "storage_temp",
        "store/walk-in",
        now - timedelta(minutes=50),
        temp="4.1",
        measured="food",
        thermometer="t1",
    )
    cooling = a_closed_log(cast, plan, now - timedelta(hours=20))
    deliveries(cast, now)
    tell(cast, "thermometer_checked", "thermometer/t1", now - timedelta(minutes=5), shown="-1.6", method="ice")
    assert cooling.verdict == "met"
    return ThermometerCheck.objects.latest("checked_at")


def a_closed_log(cast: Cast, plan: Plan, opened_at: datetime) -> CoolingRecord:
    cooling = a_cooling(a_run(plan), verdict="", opened_at=opened_at)
    for minute, temp in ((0, "60"), (60, "33"), (110, "19"), (340, "4.5")):
        at = opened_at + timedelta(minutes=minute)
        tell(cast, "reading", cooling.subject, at, temp=temp, unit="C", thermometer="t1", confirmed=True)
    tell(cast, "cooling_closed", cooling.subject, opened_at + timedelta(minutes=350))
    return CoolingRecord.objects.get(pk=cooling.pk)


def deliveries(cast: Cast, now: datetime) -> None:
    suppliers = list(Supplier.objects.filter(kitchen=cast.kitchen))
    for n, what in enumerate(Ingredient.objects.filter(kitchen=cast.kitchen)):
        ambient = what.material.startswith(("vegetable", "herb", "tomato", "mushroom"))
        temp, accept, reason = ("", True, "") if ambient else ("3.2", True, "")
        by = cast.cook
        if n == 1:
            temp, accept, reason = "8.5", False, "8.5 °C between the packs, the driver took it back"
        if n == 2 and not ambient:
            temp, by, reason = "5.6", cast.manager, "Boiled within the hour, looked and smelled right"
        came = Came(
            supplier=suppliers[n % len(suppliers)].code,
            ingredient=what.code,
            packs=n + 1,
            mass_kg=Decimal(10 * (n + 1)),
            came_as="ambient" if ambient and n != 1 else "chilled",
            temp=temp,
            thermometer="t1" if temp else "",
            supplier_lot=f"LOT-{2000 + 17 * n}",
            use_by=(now + timedelta(days=3 + n)).date(),
            store="walk-in",
            received_at=now - timedelta(hours=3 * n + 1),
        )
        receipt_take(by=by, came=came, accept=accept, reason=reason, key=f"r{n}", now=now)


def pages_of_care(cast: Cast, check: ThermometerCheck) -> dict[str, str]:
    def href(name: str, *parts: Any) -> str:
        return reverse(name, args=[cast.kitchen.code, *parts])

    return {
        "thermometers": href("thermometers"),
        "thermometer": href("thermometer", "t1"),
        "doubt": href("thermometer-doubt", "t1", check.entry.number),
        "receiving": href("receiving"),
        "receipt": href("receipt", Receipt.objects.filter(accepted=True).latest("pk").code),
        "refused": href("receipt", Receipt.objects.filter(accepted=False).latest("pk").code),
        "temperatures": href("store-temps"),
        "store": href("store-log", "walk-in"),
    }


@pytest.fixture
def care(cast: Cast, plan: Plan) -> dict[str, str]:
    return pages_of_care(cast, a_week_of_care(cast, plan))


@pytest.mark.parametrize("size", [TABLET, PHONE], ids=["tablet", "phone"])
def test_no_page_of_care_has_barriers_or_is_wider_than_the_screen(
    browser: Browser, live_server: LiveServer, cast: Cast, care: dict[str, str], size: tuple[int, int]
) -> None:
    page = come_in(browser, live_server, cast.manager, size).new_page()
    wrong = {}
    for name, href in care.items():
        page.goto(href)
        found = [*barriers(page), *([f"wider by {width_beyond(page)} px"] if width_beyond(page) else [])]
        if found:
            wrong[name] = found
    assert wrong == {}
