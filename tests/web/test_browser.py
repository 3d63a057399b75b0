"""The pages in a real browser: reachable by keyboard, without barriers, on tablet and phone."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Browser, expect
from pytest_django.live_server_helper import LiveServer

from production.domain.plan import preview_to_json
from production.models import Document, Job, Outlet, Plan, PlanningWeek, Product, Store
from tests.conftest import Cast
from tests.web.conftest import address
from tests.web.test_goals import a_preview
from tests.web.windows import PHONE, TABLET, barriers, come_in, loaded_bytes, new_window, width_beyond

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def pages_of(plan: Plan) -> list[str]:
    run = plan.result["runs"][0]
    week = plan.week
    return [
        "/k/small/weeks/",
        address(week),
        address(week, "orders"),
        address(week, "orders", "L1"),
        address(week, "plan"),
        f"{address(week, 'plan')}?day={run['start_at'][:10]}",
        f"{address(week, 'plan')}?waits={run['code']}",
        address(week, "plan", "1"),
        address(week, "plan", "1", "publish"),
        address(week, "plan", "1", "to", "1"),
        f"{address(week, 'changes')}?run={run['code']}",
        address(week, "runs", run["code"]),
        address(week, "runs", run["code"], "workings", run["figures"][0]["key"]),
        address(week, "formulas", run["formula"], "roles"),
        address(week, "purchasing"),
        address(week, "storage"),
        address(week, "documents"),
        "/k/small/lots/",
        "/k/small/dispatch/?day=2027-02-03",
        "/k/small/bones/",
        "/k/small/trace/?find=poultry",
        "/k/small/trace/of/outlet/bistro/",
        "/k/small/hazard-plans/",
        "/k/small/hazard-plans/poultry/",
        "/k/small/workings/",
        "/k/small/workings/boiling_point_c/?altitude_m=5200+ft",
        "/k/small/workings/boiling_point_c/?altitude_m=90000",
        "/k/nowhere/",
    ]


@pytest.mark.parametrize("size", [TABLET, PHONE], ids=["tablet", "phone"])
def test_no_page_has_barriers_or_is_wider_than_the_screen(
    browser: Browser,
    live_server: LiveServer,
    cast: Cast,
    plan: Plan,
    documents: tuple[Document, ...],
    size: tuple[int, int],
) -> None:
    page = come_in(browser, live_server, cast.manager, size).new_page()
    wrong = {}
    for href in pages_of(plan):
        page.goto(href)
        found = [*barriers(page), *([f"wider by {width_beyond(page)} px"] if width_beyond(page) else [])]
        if found:
            wrong[href] = found
    assert wrong == {}


def lengthen(names: Any) -> None:
    """Make every name below here 120 letters long, without a space to break at."""
    if isinstance(names, dict):
        if isinstance(names.get("name"), str):
            names["name"] = names["name"].replace(" ", "").ljust(120, "m")
        names = list(names.values())
    if isinstance(names, list):
        for each in names:
            lengthen(each)


@pytest.mark.parametrize("size", [TABLET, PHONE], ids=["tablet", "phone"])
def test_long_names_do_not_widen_a_page(
    browser: Browser, live_server: LiveServer, cast: Cast, plan: Plan, size: tuple[int, int]
) -> None:
    lengthen(plan.result["week"])
    plan.save()
    for table in (Product, Outlet, Store):
        for row in table.objects.filter(kitchen=cast.kitchen):
            row.name = row.name.replace(" ", "").ljust(120, "m")
            row.save()
    page = come_in(browser, live_server, cast.manager, size).new_page()
    run = plan.result["runs"][0]["code"]
    for parts in ((), ("orders",), ("orders", "L1"), ("plan",), ("runs", run), ("storage",)):
        page.goto(address(plan.week, *parts))
        assert "mmmmmmmmmm" in page.content()
        assert width_beyond(page) == 0, parts


@pytest.mark.parametrize("size", [TABLET, PHONE], ids=["tablet", "phone"])
def test_nothing_is_there_yet_and_still_no_barriers(
    browser: Browser, live_server: LiveServer, cast: Cast, planning_week: PlanningWeek, size: tuple[int, int]
) -> None:
    manager = come_in(browser, live_server, cast.manager, size).new_page()
    cook = come_in(browser, live_server, cast.cook, size).new_page()
    anybody = new_window(browser, live_server, size).new_page()
    visits = [(anybody, "/sign-in/"), (cook, address(planning_week, "purchasing"))]
    visits += [(manager, address(planning_week, part)) for part in ("plan", "purchasing", "storage", "documents")]
    wrong = {}
    for page, href in visits:
        page.goto(href)
        if barriers(page) or width_beyond(page):
            wrong[href] = [*barriers(page), width_beyond(page)]
    assert wrong == {}


def test_the_keyboard_reaches_the_runs_of_the_plan(
    browser: Browser, live_server: LiveServer, cast: Cast, plan: Plan
) -> None:
    page = come_in(browser, live_server, cast.cook, TABLET).new_page()
    page.goto(address(plan.week, "plan"))
    reached = []
    for _ in range(120):
        page.keyboard.press("Tab")
        href = page.evaluate("document.activeElement.closest('svg') && document.activeElement.getAttribute('href')")
        if href:
            reached.append(href)
    assert {address(plan.week, "runs", run["code"]) for run in plan.result["runs"]} <= set(reached)
    page.goto(address(plan.week, "plan"))
    page.locator("svg a").first.focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/runs/*/")


def test_the_keyboard_reaches_the_form_that_moves_a_run_and_hears_whether_it_fits(
    browser: Browser, live_server: LiveServer, cast: Cast, plan: Plan
) -> None:
    page = come_in(browser, live_server, cast.manager, TABLET).new_page()
    run = plan.result["runs"][0]
    page.goto(address(plan.week, "runs", run["code"]))
    page.get_by_role("link", name="Hold, move or report it").focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/changes/?run=*")
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == "id_hold-keep_size":
            break
    page.keyboard.press("Space")
    page.get_by_text("It fits").wait_for()
    page.locator("#id_hold-start_at").fill("2027-02-02T01:00")
    page.locator("#id_hold-start_at").dispatch_event("change")
    page.get_by_text("It does not fit").wait_for()
    assert barriers(page) == []


RENEWED_AFTER_MS = 2000


def test_a_search_shows_its_best_plan_and_is_stopped_to_keep_it_though_the_page_renews_itself(
    browser: Browser, live_server: LiveServer, cast: Cast, planning_week: PlanningWeek
) -> None:
    now = timezone.now()
    job = Job.objects.create(
        kitchen=cast.kitchen,
        kind="plan_build",
        payload={"week_id": planning_week.pk},
        created_at=now,
        started_at=now,
        lease_until=now + timedelta(minutes=5),
        state="running",
    )
    page = come_in(browser, live_server, cast.manager, TABLET).new_page()
    page.clock.install()
    page.goto(f"/k/small/jobs/{job.pk}/")
    assert page.get_by_role("button", name="Stop the work").is_visible()
    Job.objects.filter(pk=job.pk).update(preview=preview_to_json(a_preview()))
    page.clock.fast_forward(RENEWED_AFTER_MS)
    page.get_by_text("could at best be 1.5 h late").wait_for()
    assert page.locator("svg title", has_text="R01").count() >= 1
    page.get_by_role("button", name="Stop and keep the best so far").hover()
    page.mouse.down()
    for _ in range(2):  # the second is asked for when the first has been read
        with page.expect_response("**/progress/"):
            page.clock.fast_forward(RENEWED_AFTER_MS)
    assert barriers(page) == []
    page.mouse.up()
    page.get_by_text("the best plan so far is kept").wait_for()
    job.refresh_from_db()
    assert job.enough
    assert not job.cancel_requested


def test_the_first_stop_of_the_keyboard_skips_to_the_page(
    browser: Browser, live_server: LiveServer, cast: Cast, planning_week: PlanningWeek
) -> None:
    page = come_in(browser, live_server, cast.manager, TABLET).new_page()
    page.goto(address(planning_week))
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.getAttribute('href')") == "#main"


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no-scripts"])
def test_a_week_is_planned_with_and_without_scripts(
    browser: Browser, live_server: LiveServer, cast: Cast, planning_week: PlanningWeek, scripts: bool
) -> None:
    page = come_in(browser, live_server, cast.manager, TABLET, scripts=scripts).new_page()
    page.goto(address(planning_week))
    page.get_by_role("button", name="Plan this week").click()
    page.wait_for_url(f"**{address(planning_week, 'plan')}")
    assert page.locator("svg a").count() >= 1


def test_work_that_ends_while_it_is_watched_can_no_longer_be_stopped(
    browser: Browser, live_server: LiveServer, cast: Cast, planning_week: PlanningWeek
) -> None:
    now = timezone.now()
    job = Job.objects.create(
        kitchen=cast.kitchen, kind="plan_build", payload={"week_id": planning_week.pk}, created_at=now
    )
    page = come_in(browser, live_server, cast.manager, TABLET).new_page()
    page.goto(f"/k/small/jobs/{job.pk}/")
    assert page.get_by_role("button", name="Stop the work").is_visible()
    Job.objects.filter(pk=job.pk).update(state="cancelled", cancel_requested=True, finished_at=now)
    page.get_by_text("Cancelled.").wait_for()
    assert page.get_by_role("button", name="Stop the work").count() == 0


def test_the_menu_of_the_phone_opens_and_is_simply_there_without_scripts(
    browser: Browser, live_server: LiveServer, cast: Cast, planning_week: PlanningWeek
) -> None:
    page = come_in(browser, live_server, cast.manager, PHONE).new_page()
    page.goto(address(planning_week))
    assert not page.get_by_role("link", name="Orders", exact=True).is_visible()
    page.get_by_role("button", name="Menu").click()
    expect(page.get_by_role("link", name="Orders", exact=True)).to_be_visible()
    assert barriers(page) == []
    plain = come_in(browser, live_server, cast.manager, PHONE, scripts=False).new_page()
    plain.goto(address(planning_week))
    assert plain.get_by_role("link", name="Orders", exact=True).is_visible()


def test_the_first_paint_needs_less_than_100_kb_of_our_own(
    browser: Browser, live_server: LiveServer, cast: Cast, plan: Plan
) -> None:
    page = come_in(browser, live_server, cast.manager, TABLET).new_page()
    page.goto(address(plan.week))
    sizes = loaded_bytes(page)
    assert any(url.endswith(".woff2") for url in sizes)
    assert sum(sizes.values()) < 100_000, sizes


def test_what_a_page_loads_is_our_own(browser: Browser, live_server: LiveServer, cast: Cast, plan: Plan) -> None:
    page = come_in(browser, live_server, cast.manager, TABLET).new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    for href in pages_of(plan)[:8]:
        page.goto(href)
        loaded_bytes(page)
    assert {url for url in asked if not url.startswith((live_server.url, "data:"))} == set()
