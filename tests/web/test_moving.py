"""Runs are moved on the timeline with the mouse or the arrow keys, and the form says at once whether that fits."""

from __future__ import annotations

import json
import re
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from production.domain.plan import judge_move
from production.models import Job, Plan
from production.selectors.plans import plan_content
from production.web.present.moves import verdict_of
from tests.conftest import Cast
from tests.web.conftest import address, signed_in
from tests.web.windows import PHONE, TABLET, barriers, come_in


def first_start(plan: Plan) -> datetime:
    """When the first run starts, on the kitchen's clock."""
    content = plan_content(plan=plan)
    return content.runs[0].start_at.astimezone(ZoneInfo(content.week.kitchen.time_zone))


def minutes_moved(plan: Plan, asked: str) -> float:
    moved = datetime.fromisoformat(asked).replace(tzinfo=first_start(plan).tzinfo) - first_start(plan)
    return moved.total_seconds() / 60


def test_a_run_that_is_put_down_fills_the_form_and_is_judged(cast: Cast, plan: Plan) -> None:
    content = plan_content(plan=plan)
    run = content.runs[0]
    put_down = {"run": run.code, "pot": run.pot, "minute": str(run.placed.start_min)}
    page = signed_in(cast.manager).get(address(plan.week, "changes", "move"), put_down)
    body = page.content.decode()
    assert page.context["form"].data["hold-start_at"] == f"{first_start(plan):%Y-%m-%dT%H:%M}"
    assert "It fits, and nothing gets later" in body
    assert f'action="{address(plan.week, "changes")}#change-hold"' in body
    at_night = signed_in(cast.manager).get(address(plan.week, "changes", "move"), put_down | {"minute": "60"})
    assert "It does not fit while everything else stays where it is" in at_night.content.decode()


def test_no_replan_is_offered_for_a_pot_that_never_takes_the_run(cast: Cast, plan: Plan) -> None:
    content = plan_content(plan=plan)
    run = content.runs[0]
    never = verdict_of(judge_move(content, run=run.code, pot="wide", start_at=run.start_at))
    assert (never.fits, never.head) == (False, "It cannot be there")
    assert never.sentences == (f"Wide 45 does not take the 15 L of {run.code}: too small, or too large.",)
    now_not = verdict_of(judge_move(content, run=run.code, pot=run.pot, start_at=content.at(60)))
    assert now_not.sentences[-1] == "A re-plan may make room: hold the run so, and re-plan."


@pytest.mark.parametrize("minute", ["", "soon", "1e9", "99999999", "٣"])
def test_a_minute_that_is_none_leaves_the_start_open(cast: Cast, plan: Plan, minute: str) -> None:
    run = plan_content(plan=plan).runs[0]
    told = {"run": run.code, "pot": run.pot, "minute": minute}
    page = signed_in(cast.manager).get(address(plan.week, "changes", "move"), told)
    assert page.status_code == 200
    if minute != "٣":
        assert page.context["form"].data["hold-start_at"] == ""


def test_only_who_plans_can_move_runs_and_only_in_the_plan_that_the_kitchen_works_by(cast: Cast, plan: Plan) -> None:
    assert signed_in(cast.cook).get(address(plan.week, "changes", "move")).status_code == 403
    assert "data-move=" not in signed_in(cast.cook).get(address(plan.week, "plan")).content.decode()
    assert "data-move=" not in signed_in(cast.manager).get(address(plan.week, "plan", "1", "to", "1")).content.decode()
    body = signed_in(cast.manager).get(address(plan.week, "plan")).content.decode()
    assert f'data-move="{address(plan.week, "changes", "move")}"' in body
    grip = json.loads(re.findall(r'<script id="grip" type="application/json">(.*?)</script>', body)[0])
    content = plan_content(plan=plan)
    assert [lane["pot"] for lane in grip["lanes"]] == [pot.code for pot in content.week.pots if not pot.reduction_pan]
    assert set(re.findall(r'data-run="(\w+)"', body)) == {run.code for run in content.runs}


def opened(page: Page, plan: Plan) -> str:
    """The plan page with the first run in sight; returns its code."""
    run = plan.result["runs"][0]
    page.goto(f"{address(plan.week, 'plan')}?day={run['start_at'][:10]}")
    page.evaluate("document.fonts.ready.then(() => true)")  # letters that come later move what stands below them
    page.locator(f'a[data-run="{run["code"]}"]').scroll_into_view_if_needed()
    return str(run["code"])


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_a_run_is_dragged_to_another_hour(browser: Browser, live_server: LiveServer, cast: Cast, plan: Plan) -> None:
    page = come_in(browser, live_server, cast.manager, TABLET).new_page()
    code = opened(page, plan)
    box = page.locator(f'a[data-run="{code}"] rect').first.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 20, box["y"] + 10)
    page.mouse.down()
    page.mouse.move(box["x"] - 60, box["y"] + 10, steps=5)
    assert page.locator(".ghost text").text_content()
    page.mouse.up()
    page.locator("[data-move-here] form").wait_for()
    assert "/plan/" in page.url
    assert page.locator("#id_hold-run").input_value() == code
    asked = page.locator("#id_hold-start_at").input_value()
    px_per_min = float(page.evaluate("JSON.parse(document.getElementById('grip').textContent).px_per_min"))
    assert minutes_moved(plan, asked) == pytest.approx(-80 / px_per_min, abs=5)
    assert page.locator("[data-move-here] .notice").count() == 1
    assert page.locator("[data-move-said]").text_content()
    assert barriers(page) == []
    expect(page.locator("[data-move-here] .notice")).to_be_in_viewport()
    expect(page.locator(".ghost")).to_be_in_viewport()
    page.locator("[data-put-back]").click()
    expect(page.locator(".ghost")).to_have_count(0)
    assert page.locator("[data-move-here] form").count() == 0
    page.locator(f'a[data-run="{code}"]').focus()
    page.keyboard.press("ArrowRight")
    page.locator("[data-move-here] form").wait_for()
    page.keyboard.press("Escape")
    assert page.locator("[data-move-here] form").count() == 0


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_a_run_is_moved_with_the_arrow_keys(browser: Browser, live_server: LiveServer, cast: Cast, plan: Plan) -> None:
    page = come_in(browser, live_server, cast.manager, TABLET).new_page()
    code = opened(page, plan)
    page.locator(f'a[data-run="{code}"]').focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    in_ten_minutes = f"{first_start(plan) + timedelta(minutes=10):%Y-%m-%dT%H:%M}"
    expect(page.locator("#id_hold-start_at")).to_have_value(in_ten_minutes)
    assert page.evaluate("document.activeElement.dataset.run") == code
    pot = page.locator("#id_hold-pot").input_value()
    page.keyboard.press("ArrowDown" if plan_content(plan=plan).week.pots[0].code == pot else "ArrowUp")
    expect(page.locator("#id_hold-pot")).not_to_have_value(pot)
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "id_hold-run"


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_a_phone_has_the_form_and_no_hint_to_drag(
    browser: Browser, live_server: LiveServer, cast: Cast, plan: Plan
) -> None:
    page = come_in(browser, live_server, cast.manager, PHONE).new_page()
    opened(page, plan)
    assert not page.locator(".move-hint").is_visible()


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_days_stay_in_sight_while_the_page_is_moved(
    browser: Browser, live_server: LiveServer, cast: Cast, plan: Plan
) -> None:
    page = come_in(browser, live_server, cast.manager, TABLET).new_page()
    opened(page, plan)
    page.evaluate("window.scrollTo(0, 0)")
    expect(page.locator(".pinned-head")).to_be_hidden()
    top = page.evaluate("document.querySelector('.drawing-pair').getBoundingClientRect().top + scrollY")
    page.evaluate(f"window.scrollTo(0, {top + 150})")
    expect(page.locator(".pinned-head")).to_be_in_viewport()
    place = page.locator(".pinned-head").bounding_box()
    assert place is not None
    assert abs(place["y"]) <= 1


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_progress_says_when_the_server_does_not_answer(
    browser: Browser, live_server: LiveServer, cast: Cast, plan: Plan
) -> None:
    job = Job.objects.create(
        kitchen=cast.kitchen, kind="plan_build", payload={"week_id": plan.week_id}, created_at=timezone.now()
    )
    page = come_in(browser, live_server, cast.manager, TABLET).new_page()
    page.clock.install()
    page.goto(f"/k/small/jobs/{job.pk}/")
    told = page.get_by_text("The kitchen's server does not answer")
    expect(told).to_be_hidden()
    page.context.set_offline(True)
    page.clock.fast_forward(2000)
    expect(told).to_be_visible()
    page.context.set_offline(False)
    page.clock.fast_forward(4000)
    expect(told).to_be_hidden()
