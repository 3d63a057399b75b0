"""The demo week through the pages: one run by taps from its beginning to its lot, the others through the services."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
import time_machine
from django.contrib.auth.models import User
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from production.domain.plan import PlannedRun
from production.domain.week_file import parse_week
from production.models import CoolingRecord, Document, Lot, Membership, Plan, RunRecord
from production.selectors.plans import plan_content
from production.services.demo_cooking import week_cook
from production.services.kitchens import kitchen_create, membership_set
from production.services.plans import plan_make, plan_store
from production.services.publishing import plan_publish
from production.services.week_import import week_import
from tests.web.test_floor_offline import do_what_stands_there, later, ready
from tests.web.windows import TABLET, barriers, come_in, until

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

DEMO = parse_week((Path(__file__).resolve().parents[2] / "fixtures" / "demo_week.json").read_bytes())
HOME = f"/k/{DEMO.kitchen.code}"
LAST = max(line.dispatch_at for line in DEMO.order_lines) + timedelta(hours=6)


@pytest.fixture
def crew(db: None) -> dict[str, Membership]:
    kitchen = kitchen_create(kitchen=DEMO.kitchen)
    return {
        role: membership_set(kitchen=kitchen, user=User.objects.create_user(role), role=role, by=None)
        for role in ("manager", "cook")
    }


@pytest.fixture
def published(crew: dict[str, Membership]) -> Plan:
    manager = crew["manager"]
    week = week_import(week=DEMO, by=manager)
    made = plan_make(kitchen=manager.kitchen, week_id=week.pk, at=DEMO.plan_from)
    plan = plan_store(made=made, kitchen=manager.kitchen, week_id=week.pk, user_id=manager.user_id)
    return plan_publish(by=manager, plan=plan, seen_number=1, confirm_stale=True)


def test_a_demo_week_is_cooked_and_ends_in_lots_labels_and_logs(
    browser: Browser, live_server: LiveServer, crew: dict[str, Membership], published: Plan
) -> None:
    runs = sorted(plan_content(plan=published).runs, key=lambda run: run.start_at)
    tapped = next(run for run in runs if [draw.name for draw in run.draws] == ["first"])
    with time_machine.travel(tapped.start_at, tick=True) as traveller:
        page = come_in(browser, live_server, crew["cook"], TABLET).new_page()
        page.clock.install(time=tapped.start_at)
        cook_by_taps(page, traveller, tapped)
        cool_by_taps(page, traveller)
        lot = pack_and_release(page, tapped)
        labels_and_logs(page, tapped, lot)
    week_cook(plan=published, cook=crew["cook"], manager=crew["manager"], until=LAST, without={tapped.code})
    with time_machine.travel(LAST, tick=True):
        page = come_in(browser, live_server, crew["cook"], TABLET).new_page()
        page.clock.install(time=LAST)
        page.goto(f"{HOME}/floor/")
        ready(page)
        assert page.locator("a[href*='/floor/runs/']").count() == len(runs)
        assert barriers(page) == []
        page.goto(f"{HOME}/lots/")
        kept_back = Lot.objects.filter(status="held", left__gt=0)
        assert kept_back.exists()
        for each in kept_back:
            page.get_by_role("link", name=each.code).wait_for()
    assert set(RunRecord.objects.values_list("state", flat=True)) == {"finished"}
    assert RunRecord.objects.count() == len(runs)
    assert not CoolingRecord.objects.filter(closed_at=None).exists()


def cook_by_taps(page: Page, traveller: time_machine.Traveller, run: PlannedRun) -> None:
    page.goto(f"{HOME}/floor/runs/{DEMO.starts_on}/{run.code}/")
    ready(page)
    done: list[str] = []
    while page.locator(".step.now").count() and len(done) < 40:
        done.append(do_what_stands_there(page))
        later(page, traveller, 4)
    assert done[0] == "begin"
    assert done[-1] == "finish"
    assert RunRecord.objects.get().state == RunRecord.State.FINISHED


def cool_by_taps(page: Page, traveller: time_machine.Traveller) -> None:
    """All groups of the draw are measured until the last limit is met, then their logs are closed."""
    page.goto(f"{HOME}/floor/cooling/")
    ready(page)
    subjects = list(CoolingRecord.objects.values_list("subject", flat=True))
    groups = [page.locator("li.group", has=page.locator(f'[data-local="{subject}"]')) for subject in subjects]
    for temp, minutes in (("60", 30), ("35", 25), ("20", 60), ("4.6", 1)):
        for group in groups:
            group.get_by_label("Reading").fill(temp)
            group.get_by_role("button", name="Record", exact=True).click()
        later(page, traveller, minutes)
    for group in groups:
        group.get_by_role("button", name="Close this log").click()
        expect(group).to_have_count(0)
    page.get_by_text("Nothing is cooling now").wait_for()
    assert set(CoolingRecord.objects.values_list("verdict", flat=True)) == {"met"}


def pack_and_release(page: Page, run: PlannedRun) -> Lot:
    page.goto(f"{HOME}/lots/")
    page.locator("a[href*='lots/pack/']").first.click()
    page.locator("input[name$=containers]").fill(str(run.batch.first[0].containers))
    page.locator("main form button[type=submit]").click()
    page.get_by_text("Its cooling met the limits").wait_for()
    page.locator("input[name=release-reason]").fill("limits met, labels read")
    page.locator("main form button[type=submit]:visible", has_text="Release").first.click()
    page.get_by_text("it may leave").wait_for()
    lot = Lot.objects.get()
    assert (lot.status, lot.containers) == ("free", run.batch.first[0].containers)
    return lot


def labels_and_logs(page: Page, run: PlannedRun, lot: Lot) -> None:
    """Printed by the same buttons that a cook presses; each once, whatever the browser shows of the PDF."""
    cooling = CoolingRecord.objects.latest("pk")
    for place, button, kind in (
        (f"lots/{lot.code}", "labels", "label_sheet"),
        (f"floor/{cooling.subject}", "Print the completed log", "completed_cooling_log"),
        (f"floor/runs/{DEMO.starts_on}/{run.code}", "Print the completed batch record", "completed_batch_record"),
    ):
        page.goto(f"{HOME}/{place}/")
        if button == "labels":
            form = page.locator("form", has=page.locator("input[name=do][value=labels]"))
            form.evaluate("form => form.requestSubmit()")
        else:
            page.get_by_role("button", name=button).click(no_wait_after=True)
        until(page, Document.objects.filter(kind=kind).exists)
    assert Document.objects.count() == 3
