"""No network, no loss: what is recorded on a tablet arrives once, whatever happens on the way."""

from __future__ import annotations

import threading
from datetime import datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.core.signals import request_started
from django.utils import timezone
from playwright.sync_api import Browser, BrowserContext, Page, expect
from pytest_django.live_server_helper import LiveServer

from production.models import CoolingDevice, Entry, Membership, Plan, PlanningWeek, RunRecord
from production.selectors.plans import plan_content
from production.services import floor
from production.services.floor_answers import Answer, Question, draft_kept
from production.services.records import Draft
from production.web.present.floor_coolings import groups_view
from tests.conftest import Cast
from tests.services.cooling_kit import a_run, a_thermometer, act, opened, read
from tests.web.windows import (
    PHONE,
    TABLET,
    barriers,
    come_in,
    loaded_bytes,
    sign_in_as,
    until,
    width_beyond,
)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
BOARD = "/k/small/floor/"


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


def page_in(window: BrowserContext, href: str = BOARD) -> Page:
    page = window.new_page()
    page.goto(href)
    ready(page)
    return page


def ready(page: Page) -> None:
    page.wait_for_selector("html[data-floor=ready]")


def kept_by_the_worker(page: Page) -> None:
    """This page is kept on the tablet."""
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    until(page, "caches.match(location.href, { ignoreVary: true }).then((found) => found !== undefined)")


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
    page = page_in(window)
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


def test_what_was_sent_twice_because_the_answer_was_lost_is_kept_once(
    browser: Browser, live_server: LiveServer, cast: Cast
) -> None:
    window = come_in(browser, live_server, cast.cook, TABLET)
    page = page_in(window)
    lost = {"answers": 2}

    def lose_the_answer(route: Any) -> None:
        answer = route.fetch()
        if lost["answers"]:
            lost["answers"] -= 1
            route.abort()
        else:
            route.fulfill(response=answer)

    window.route("**/floor/entries/", lose_the_answer)
    note(page, "once")
    page.get_by_text("No contact").wait_for()
    for _ in range(3):
        page.evaluate("floorQueue.beat()")
    all_arrive(page)
    assert lost["answers"] == 0
    assert arrived() == ["once"]


def test_one_entry_that_is_refused_keeps_back_no_other_and_waits_for_a_decision(
    browser: Browser, live_server: LiveServer, cast: Cast
) -> None:
    page = page_in(come_in(browser, live_server, cast.cook, TABLET))
    page.evaluate(
        "floorQueue.add({kind: 'unheard_of', subject: 'run/x', content: {}, says: 'Strange',"
        " happened_at: new Date().toISOString(), shown_ms: Date.now()})"
    )
    note(page, "fine")
    all_arrive(page)
    assert arrived() == ["fine"]
    page.reload()
    ready(page)
    page.get_by_text("1 to look at").wait_for()
    page.get_by_text("Nobody here keeps entries of the kind").wait_for()
    assert barriers(page) == []
    page.get_by_role("button", name="Leave it out").click()
    page.locator("#outbox").wait_for(state="hidden")


def test_what_one_person_recorded_is_not_sent_under_the_name_of_another(
    browser: Browser, live_server: LiveServer, cast: Cast
) -> None:
    window = come_in(browser, live_server, cast.cook, TABLET)
    page = page_in(window)
    kept_by_the_worker(page)
    window.set_offline(True)
    note(page, "of the cook")
    page.get_by_text("1 waiting").wait_for()
    sign_in_as(window, live_server, cast.manager)
    window.set_offline(False)
    page.goto(BOARD)
    ready(page)
    page.get_by_text("it is sent when cook signs in on this tablet").wait_for()
    note(page, "of the manager")
    until(page, SENT_BUT_ONE)  # the page says "1 waiting" before as after: that of the cook
    assert [each.by_name for each in Entry.objects.all()] == ["manager"]
    until(page, FORGOTTEN.replace("WHO", f"{cast.cook.user_id}/"))  # the worker forgets them beside what the page does
    sign_in_as(window, live_server, cast.cook)
    page.goto(BOARD)
    ready(page)
    all_arrive(page)
    assert sorted(each.by_name for each in Entry.objects.all()) == ["cook", "manager"]


FORGOTTEN = "caches.keys().then((names) => !names.some((name) => name.startsWith('floor-pages-WHO')))"
SENT_BUT_ONE = """floorQueue.list().then((rows) => {
  const left = rows.filter((row) => row.state !== "kept");
  return left.length === 1 && left[0].content.text === "of the cook";
})"""


def test_pages_of_a_person_who_signs_out_are_kept_no_longer(
    browser: Browser, live_server: LiveServer, cast: Cast
) -> None:
    page = page_in(come_in(browser, live_server, cast.cook, TABLET))
    kept_by_the_worker(page)
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in/")
    until(page, FORGOTTEN.replace("WHO", ""))


def test_a_page_that_was_on_its_way_when_its_person_signed_out_is_not_kept(
    browser: Browser, live_server: LiveServer, cast: Cast, published: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked, may_go, seen = threading.Event(), threading.Event(), list[str]()

    def dawdle(*about: Any) -> Any:
        asked.set()
        assert may_go.wait(60)
        return groups_view(*about)

    def look(environ: dict[str, Any], **_: Any) -> None:
        seen.append(environ["PATH_INFO"])

    monkeypatch.setattr("production.web.views.floor_pages.groups_view", dawdle)
    run = published.result["runs"][0]["code"]
    page = page_in(come_in(browser, live_server, cast.cook, TABLET), f"{BOARD}runs/{published.week.starts_on}/{run}/")
    until(page, asked.is_set)  # the worker fetches Cooling, and the Floor after it
    request_started.connect(look)
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in/")
    until(page, FORGOTTEN.replace("WHO", ""))
    may_go.set()
    until(page, lambda: BOARD in seen)
    request_started.disconnect(look)
    assert page.evaluate(FORGOTTEN.replace("WHO", ""))


def test_a_tablet_whose_clock_is_wrong_is_told_and_its_times_are_put_right(
    browser: Browser, live_server: LiveServer, cast: Cast
) -> None:
    window = come_in(browser, live_server, cast.cook, TABLET)
    page = window.new_page()
    page.clock.install(time=timezone.now() - timedelta(minutes=10, seconds=20))
    page.goto(BOARD)
    ready(page)
    page.get_by_text("clock is 10 min").wait_for()
    note(page, "now")
    all_arrive(page)
    entry = Entry.objects.get()
    assert abs((entry.made_at - entry.happened_at).total_seconds()) < 30


# --- half an hour without a network, two tablets on one run -----------------------------------------------------------


@pytest.fixture
def published(cast: Cast, plan: Plan) -> Plan:
    Plan.objects.filter(pk=plan.pk).update(status=Plan.Status.PUBLISHED, published_at=timezone.now())
    return plan


def tap(page: Page, button: str) -> None:
    """The one button of the step that is current; the page goes on to the next one."""
    step = page.locator(".step.now")
    code = step.get_attribute("data-step-item")
    step.get_by_role("button", name=button).click()
    page.locator(f'.step.now:not([data-step-item="{code}"])').wait_for()


def test_two_tablets_on_one_run_lose_nothing_in_half_an_hour_without_a_network(
    browser: Browser, live_server: LiveServer, cast: Cast, published: Plan
) -> None:
    run = next(each for each in plan_content(plan=published).runs if each.draws)
    href = f"{BOARD}runs/{published.week.starts_on}/{run.code}/"
    with time_machine.travel(run.start_at, tick=True) as traveller:
        windows = [come_in(browser, live_server, by, size) for by, size in ((cast.cook, TABLET), (cast.manager, PHONE))]
        tablets = [window.new_page() for window in windows]
        for page in tablets:
            page.clock.install(time=run.start_at)
            page.goto(href)
            ready(page)
            kept_by_the_worker(page)
        tap(tablets[0], "Begin this run")
        all_arrive(tablets[0])
        assert RunRecord.objects.get().code == run.code
        for window in windows:
            window.set_offline(True)
        for page in tablets:
            page.reload()
            ready(page)
        tap(tablets[1], "Begin this run")  # its copy of the page is from before
        minutes = 0
        for button, wait in (
            ("Record the weight", 4),
            ("Record the weight", 6),
            ("It is filled", 10),
            ("It boils", 10),
        ):
            for page in tablets:
                tap(page, button)
                page.clock.fast_forward(wait * 60_000)
            traveller.shift(timedelta(minutes=wait))
            minutes += wait
            if minutes == 10:
                for page in tablets:
                    page.reload()
                    ready(page)
        assert minutes == 30
        assert [page.evaluate("floorQueue.list().then((rows) => rows.length)") for page in tablets] == [5, 5]
        assert Entry.objects.count() == 1
        for window in windows:
            window.set_offline(False)
        for page in tablets:
            all_arrive(page)
    kinds = sorted(Entry.objects.values_list("kind", flat=True))
    twice = sorted(["run_begun", "charge_weighed", "charge_weighed", "filled", "boil_reached"] * 2)
    assert kinds == twice
    assert RunRecord.objects.count() == 1
    steps = {(each.by_name, each.content["step"]) for each in Entry.objects.all()}
    assert len(steps) == 10
    boiled = Entry.objects.filter(kind="boil_reached")
    assert all(each.happened_at - run.start_at >= timedelta(minutes=20) for each in boiled)
    assert all(each.made_at - each.happened_at >= timedelta(minutes=10) for each in boiled)


# --- the pages in a browser -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [TABLET, PHONE], ids=["tablet", "phone"])
def test_no_floor_page_has_barriers_or_is_wider_than_the_screen(
    browser: Browser, live_server: LiveServer, cast: Cast, planning_week: PlanningWeek, size: tuple[int, int]
) -> None:
    run = a_run(cast.manager, planning_week)
    a_thermometer(cast.cook)
    cooling = opened(cast.cook, run, at=timezone.now() - timedelta(minutes=70))
    for minute, temp in ((2, "82"), (20, "60"), (50, "52"), (60, "160")):
        read(cast.cook, cooling, minute, temp, thermometer="t1")
    act(cast.cook, cooling, "ice_added", 61, {"mass": "12 kg", "into": "bath"})
    page = come_in(browser, live_server, cast.cook, size).new_page()
    wrong = {}
    for href in ("", "cooling/", f"{cooling.subject}/", f"runs/{run.subject.removeprefix('run/')}/"):
        page.goto(BOARD + href)
        ready(page)
        page.evaluate("document.querySelectorAll('details').forEach((fold) => (fold.open = true))")
        small = page.evaluate(SMALL_TARGETS)
        if barriers(page) or width_beyond(page) or small:
            wrong[href] = [*barriers(page), width_beyond(page), small]
    assert wrong == {}


def test_long_names_do_not_widen_a_floor_page(
    browser: Browser, live_server: LiveServer, cast: Cast, planning_week: PlanningWeek
) -> None:
    run = a_run(cast.manager, planning_week)
    cooling = opened(cast.cook, run, at=timezone.now() - timedelta(minutes=40))
    read(cast.cook, cooling, 2, "160")
    long = "m" * 120
    run.sheet |= {"formula": long, "fill": run.sheet["fill"] | {"pot": long}}
    run.save()
    cooling.refresh_from_db()
    cooling.sheet |= {"formula": long, "vessel": long, "draw": long}
    cooling.save()
    CoolingDevice.objects.filter(kitchen=cast.kitchen).update(name=long)
    a_thermometer(cast.cook, name=long)
    page = come_in(browser, live_server, cast.cook, PHONE).new_page()
    for href in ("", "cooling/", f"{cooling.subject}/", f"runs/{run.subject.removeprefix('run/')}/"):
        page.goto(BOARD + href)
        ready(page)
        page.evaluate("document.querySelectorAll('details').forEach((fold) => (fold.open = true))")
        assert long in page.content()
        assert width_beyond(page) == 0, href


SMALL_TARGETS = """Array.from(
  document.querySelectorAll("#floor :is(button, input:not([type=hidden]), select, summary)")
).filter((each) => each.getClientRects().length && each.getBoundingClientRect().height < 47.5)
  .map((each) => each.outerHTML.slice(0, 90))"""


def test_a_reading_takes_two_taps_and_a_number_and_a_wrong_unit_one_more(
    browser: Browser, live_server: LiveServer, cast: Cast, planning_week: PlanningWeek
) -> None:
    run = a_run(cast.manager, planning_week)
    cooling = opened(cast.cook, run, at=timezone.now() - timedelta(minutes=8))
    a_thermometer(cast.cook)
    page = page_in(come_in(browser, live_server, cast.cook, PHONE), f"{BOARD}cooling/")
    page.get_by_label("I measure with").select_option("t1")  # once; the tablet remembers it
    page.reload()
    ready(page)
    page.get_by_label("Reading").click()
    page.keyboard.type("160")
    page.get_by_role("button", name="Record", exact=True).click()
    page.get_by_role("button", name="It was 160 °F").first.click()
    until(page, "floorQueue.list().then((rows) => rows.every((row) => row.state === 'kept'))")
    readings = cooling.readings.order_by("pk")
    assert [(each.temp, each.unit, each.excluded) for each in readings] == [("160", "C", True), ("160", "F", False)]
    assert {each.thermometer.code for each in readings if each.thermometer} == {"t1"}


def test_the_keyboard_alone_records_a_step(
    browser: Browser, live_server: LiveServer, cast: Cast, planning_week: PlanningWeek
) -> None:
    run = a_run(cast.manager, planning_week)
    page = page_in(come_in(browser, live_server, cast.cook, TABLET), f"{BOARD}runs/{run.subject.removeprefix('run/')}/")
    for _ in range(30):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent") == "Begin this run":
            break
    page.keyboard.press("Enter")
    page.locator(".step.now", has_text="Weigh").wait_for()
    all_arrive(page)
    assert Entry.objects.get(kind="run_begun").subject == run.subject


def test_the_floor_needs_less_than_100_kb_of_our_own(browser: Browser, live_server: LiveServer, cast: Cast) -> None:
    page = come_in(browser, live_server, cast.cook, TABLET).new_page()
    page.goto(BOARD)
    sizes = loaded_bytes(page)
    assert any(url.endswith("floor.js") for url in sizes)
    assert sum(sizes.values()) < 100_000, sizes


# --- a run by taps, from the beginning to the closed log --------------------------------------------------------------

TYPED = {"temp": "94 C", "brix": "4.5", "volume": "", "mass": "0.3"}


def later(page: Page, traveller: time_machine.Traveller, minutes: int) -> None:
    """So many minutes pass in the kitchen, for the tablet and for the server; nothing is under way between the two."""
    all_arrive(page)
    page.clock.fast_forward(minutes * 60_000)
    traveller.shift(timedelta(minutes=minutes))


def do_what_stands_there(page: Page) -> str:
    """Fill in what the current step asks for, as a cook would, and press its button."""
    step = page.locator(".step.now")
    code = str(step.get_attribute("data-step-item"))
    for field in step.locator("input.amount").all():
        name = str(field.get_attribute("name")).removeprefix("content.").removesuffix(":count")
        if not field.input_value() and (
            code.startswith(("temp", "brix", "skim")) or (code, name) == ("draw.first", "mass")
        ):
            field.fill("15 kg" if code == "draw.first" else TYPED[name])
    step.locator(".record .button").click()
    page.locator(f'.step.now:not([data-step-item="{code}"])').or_(page.locator("[data-all-done]:visible")).or_(
        page.get_by_text("This run is finished")
    ).first.wait_for()
    return code


def test_a_run_is_cooked_by_taps_from_its_beginning_to_its_closed_log(
    browser: Browser, live_server: LiveServer, cast: Cast, published: Plan
) -> None:
    run = next(each for each in plan_content(plan=published).runs if each.draws)
    with time_machine.travel(run.start_at, tick=True) as traveller:
        page = come_in(browser, live_server, cast.cook, TABLET).new_page()
        page.clock.install(time=run.start_at)
        page.goto(BOARD)
        ready(page)
        page.get_by_role("link", name=run.code).first.click()
        page.wait_for_url("**/runs/**")
        ready(page)
        done: list[str] = []
        while page.locator(".step.now").count() and len(done) < 40:
            done.append(do_what_stands_there(page))
            later(page, traveller, 5 if "draw.first" in done else 20)
        assert done[0] == "begin"
        assert done[-1] == "finish"
        assert {"fill", "boil", "draw.first", "brix.first", "wash"} <= set(done)
        assert RunRecord.objects.get().state == RunRecord.State.FINISHED
        cooling = RunRecord.objects.get().coolings.get()
        page.goto(f"{BOARD}cooling/")
        ready(page)
        for temp, minutes in (("60", 50), ("27", 25), ("20", 120), ("4.8", 1)):
            page.get_by_label("Reading").fill(temp)
            page.get_by_role("button", name="Record", exact=True).click()
            later(page, traveller, minutes)
        page.get_by_role("button", name="Close this log").click()
        page.get_by_text("Nothing is cooling now").wait_for()
    cooling.refresh_from_db()
    assert cooling.verdict == "met"


def test_what_was_refused_comes_back_into_its_form_and_is_corrected(
    browser: Browser, live_server: LiveServer, cast: Cast, planning_week: PlanningWeek
) -> None:
    cooling = opened(cast.cook, a_run(cast.manager, planning_week), at=timezone.now() - timedelta(minutes=8))
    page = page_in(come_in(browser, live_server, cast.cook, TABLET), f"{BOARD}cooling/")
    page.get_by_label("Reading").fill("seventy")
    page.get_by_role("button", name="Record", exact=True).click()
    page.get_by_text("is not a temperature that can be kept").wait_for()
    page.get_by_role("button", name="Correct it").hover()
    page.mouse.down()
    for _ in range(2):  # the page renews itself meanwhile
        page.evaluate("floorQueue.beat()")
    page.mouse.up()
    expect(page.get_by_label("Reading")).to_have_value("seventy")
    page.get_by_label("Reading").fill("78.5")
    page.wait_for_timeout(400)  # no less: a second tap at once counts as the first
    page.get_by_role("button", name="Record", exact=True).click()
    until(page, "floorQueue.list().then((rows) => rows.every((row) => row.state === 'kept'))")
    assert [each.temp for each in cooling.readings.all()] == ["78.5"]


def test_what_another_tablet_has_recorded_shows_up_and_is_undone_with_a_reason(
    browser: Browser, live_server: LiveServer, cast: Cast, planning_week: PlanningWeek
) -> None:
    run = a_run(cast.manager, planning_week)
    href = f"{BOARD}runs/{run.subject.removeprefix('run/')}/"
    one, other = (
        page_in(come_in(browser, live_server, by, size), href)
        for by, size in ((cast.cook, TABLET), (cast.manager, PHONE))
    )
    for button in ("Begin this run", "Record the weight"):
        tap(one, button)
        all_arrive(one)
    other.evaluate("floorQueue.beat()")
    row = other.locator("#records li", has_text="Weigh").first
    row.get_by_text("Undo").click()
    row.get_by_role("button", name="Take it back").click()
    other.locator("#records li.taken-back").wait_for()
    all_arrive(other)
    entry = Entry.objects.get(kind="withdrawn")
    assert (entry.by_name, entry.reason) == ("manager", "pressed by mistake")
