"""Publishing, comparing, taking and leaving plans; of two managers the second is told, and keeps what was typed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest
from django.contrib.auth.models import User
from django.test import TestCase
from django.utils import timezone

from production.domain.plan import Fix, Unserved, plan_from_json
from production.domain.plan import Plan as PlanContent
from production.models import Job, Membership, Plan, PlanFixes, PlanningWeek
from production.selectors.fixes import fixes_to_json
from production.services.kitchens import membership_set
from production.services.plans import MadePlan, plan_make, plan_store
from production.services.publishing import plan_publish
from tests.conftest import Cast
from tests.kept import kept
from tests.web.conftest import address, signed_in

Keep = Callable[..., Plan]


@pytest.fixture
def made(cast: Cast, planning_week: PlanningWeek) -> MadePlan:
    return kept("a plan not stored", lambda: plan_make(kitchen=cast.kitchen, week_id=planning_week.pk))


@pytest.fixture
def keep(cast: Cast, planning_week: PlanningWeek, made: MadePlan) -> Keep:
    """Store the plan, changed so that it counts as another one, as a draft or as a re-plan of another."""

    def store(base: Plan | None = None, change: Callable[[PlanContent], PlanContent] | None = None) -> Plan:
        count = Plan.objects.count()
        content = replace(made.content, cautions=(f"variant {count}",))
        return plan_store(
            made=replace(made, content=change(content) if change else content),
            kitchen=cast.kitchen,
            week_id=planning_week.pk,
            user_id=cast.manager.user_id,
            base=base,
        )

    return store


@pytest.fixture
def second(cast: Cast) -> Membership:
    user = User.objects.create_user("berta", password="steam and ladles")
    return membership_set(kitchen=cast.kitchen, user=user, role="manager", by=None)


def status_of(plan: Plan) -> str:
    plan.refresh_from_db()
    return plan.status


def test_publishing_tells_what_it_freezes_before_it_does(cast: Cast, keep: Keep) -> None:
    plan = keep()
    href = address(plan.week, "plan", "1", "publish")
    body = signed_in(cast.manager).get(href).content.decode()
    assert f"{len(plan.result['runs'])} runs with their pots and times" in body
    assert "It is kept as it is" in body
    assert status_of(plan) == "draft"
    answer = signed_in(cast.manager).post(href, {"seen": "1"}, follow=True)
    assert "Plan 1 is published" in answer.content.decode()
    assert status_of(plan) == "published"


def test_a_plan_that_is_out_of_date_is_published_only_when_that_is_confirmed(cast: Cast, keep: Keep) -> None:
    plan = keep()
    Plan.objects.filter(pk=plan.pk).update(input_sha256="0" * 64)
    href = address(plan.week, "plan", "1", "publish")
    client = signed_in(cast.manager)
    assert "The week has changed since this plan was made" in client.get(href).content.decode()
    refused = client.post(href, {"seen": "1"})
    assert refused.status_code == 409
    assert status_of(plan) == "draft"
    assert client.post(href, {"seen": "1", "confirm_stale": "on"}).status_code == 302
    assert status_of(plan) == "published"


def test_the_second_manager_is_told_who_was_faster_and_keeps_what_was_ticked(
    cast: Cast, second: Membership, keep: Keep
) -> None:
    plan = keep()
    href = address(plan.week, "plan", "1", "publish")
    client = signed_in(second)
    client.get(href)
    newer = keep(base=plan)
    answer = client.post(href, {"seen": "1", "confirm_stale": "on"})
    body = answer.content.decode()
    assert answer.status_code == 409
    assert f"Plan {newer.number} was made by {cast.manager.user.get_username()}" in body
    assert "checked" in body
    assert status_of(plan) == "draft"


def test_publishing_names_the_plan_that_it_takes_the_place_of(cast: Cast, keep: Keep) -> None:
    first = plan_publish(by=cast.manager, plan=keep(), seen_number=1)
    keep()
    body = signed_in(cast.manager).get(address(first.week, "plan", "2", "publish")).content.decode()
    assert "Plan 1, which is published now, is superseded." in body


def moved(content: PlanContent) -> PlanContent:
    """The first run an hour later, so that there is something to compare."""
    run = content.runs[0]
    later = replace(run, start_at=run.start_at + timedelta(hours=1))
    return replace(content, runs=(later, *content.runs[1:]))


def test_a_waiting_replan_is_offered_and_compared_in_words_and_outlines(cast: Cast, keep: Keep) -> None:
    base = keep()
    again = keep(base=base, change=moved)
    client = signed_in(cast.manager)
    page = client.get(address(base.week, "plan"))
    compare = address(base.week, "plan", "1", "to", str(again.number))
    assert "A re-plan waits for a decision" in page.content.decode()
    assert f'href="{compare}"' in page.content.decode()
    shown = client.get(compare)
    body = shown.content.decode()
    code = plan_from_json(base.result).runs[0].code
    assert any(each.sentence.startswith(f"{code} moves") for each in shown.context["difference"].changes)
    assert f"{code} moves" in body
    assert "Take plan 2" in body
    assert "Leave it" in body
    assert "Take plan 2" not in signed_in(cast.cook).get(compare).content.decode()


def test_taking_a_replan_makes_it_the_plan_of_the_week(cast: Cast, keep: Keep) -> None:
    base = keep()
    again = keep(base=base)
    client = signed_in(cast.manager)
    shown = client.post(address(base.week, "plan", str(again.number), "take"), follow=True)
    assert "The kitchen works by plan 2 now" in shown.content.decode()
    assert shown.context["plan_row"] == again
    assert status_of(base) == "superseded"


def test_leaving_a_replan_changes_nothing(cast: Cast, keep: Keep) -> None:
    base = keep()
    again = keep(base=base)
    shown = signed_in(cast.manager).post(address(base.week, "plan", str(again.number), "leave"), follow=True)
    assert shown.context["plan_row"] == base
    assert (status_of(base), status_of(again)) == ("draft", "superseded")


def test_a_replan_that_was_decided_already_says_by_whom(cast: Cast, second: Membership, keep: Keep) -> None:
    base = keep()
    again = keep(base=base)
    signed_in(cast.manager).post(address(base.week, "plan", str(again.number), "take"))
    answer = signed_in(second).post(address(base.week, "plan", str(again.number), "leave"))
    assert answer.status_code == 409
    assert f"was taken by {cast.manager.user.get_username()}" in answer.content.decode()


def test_a_replan_asked_for_on_the_page_ends_beside_the_plan_it_starts_from(cast: Cast, keep: Keep) -> None:
    base = keep()
    client = signed_in(cast.manager)
    with TestCase.captureOnCommitCallbacks(execute=True):
        asked = client.post(address(base.week, "plan", "again"), {"seen": "1", "request_key": "k"})
    job = Job.objects.get(kind="replan")
    assert job.state == "done", job.error_sentence
    shown = client.get(asked["Location"], follow=True)
    made = (job.result or {})["number"]
    assert shown.redirect_chain[-1][0] == address(base.week, "plan", "1", "to", str(made))


def test_asking_for_a_replan_of_a_plan_that_is_no_longer_the_newest_is_refused(cast: Cast, keep: Keep) -> None:
    base = keep()
    keep(base=base)
    answer = signed_in(cast.manager).post(address(base.week, "plan", "again"), {"seen": "1", "request_key": "k"})
    assert answer.status_code == 409
    assert not Job.objects.filter(kind="replan").exists()


def test_all_plans_of_the_week_are_listed_with_what_became_of_them(cast: Cast, keep: Keep) -> None:
    first = plan_publish(by=cast.manager, plan=keep(), seen_number=1)
    keep()
    page = signed_in(cast.manager).get(address(first.week, "plan"))
    body = page.content.decode()
    assert page.context["plan_row"].number == 2
    for words in ("Plan 1</a>, published", "Plan 2</a>, draft", "compare with plan 2"):
        assert words in body
    old = signed_in(cast.manager).get(address(first.week, "plan", "1"))
    assert old.context["plan_row"] == first
    runs = plan_from_json(first.result).runs
    assert f"/runs/{runs[0].code}/?plan=1" in old.content.decode()


def short_of_time(content: PlanContent) -> PlanContent:
    """The plan with an order line that it cannot serve."""
    line = content.week.order_lines[0]
    missing = Unserved(
        line=line.code,
        product=line.product,
        containers=2,
        resource="cooks",
        missing=1.0,
        unit="h",
        sentence="One cook more would be enough.",
        remedy="Ask somebody in.",
    )
    return replace(content, unserved=(missing,))


def test_a_plan_that_serves_everybody_needs_no_help(cast: Cast, keep: Keep) -> None:
    plan = keep()
    assert "What would help" not in signed_in(cast.manager).get(address(plan.week, "plan")).content.decode()


def test_what_would_help_is_asked_for_shown_and_done(cast: Cast, keep: Keep) -> None:
    plan = keep(change=short_of_time)
    client = signed_in(cast.manager)
    assert "Work out what would help" in client.get(address(plan.week, "plan")).content.decode()
    assert "Work out what would help" not in signed_in(cast.cook).get(address(plan.week, "plan")).content.decode()
    client.post(address(plan.week, "plan", "1", "help"), {"request_key": "k"})
    job = Job.objects.get(kind="plan_fixes")
    assert job.payload["plan_id"] == plan.pk
    shift = plan_from_json(plan.result).week.shifts[0]
    fix = Fix(
        kind="shift-ends-later",
        target=shift.person,
        amount=1.0,
        unit="h",
        at=shift.start,
        sentence="One hour more at the end of the shift.",
        effect_unserved=2,
    )
    PlanFixes.objects.create(
        plan=plan, content=fixes_to_json((fix,)), seconds=1.0, created_by=cast.manager.user, created_at=timezone.now()
    )
    body = client.get(address(plan.week, "plan")).content.decode()
    assert "One hour more at the end of the shift." in body
    assert "2 containers more served" in body
    done = client.post(address(plan.week, "plan", "1", "help", "0"), {"request_key": "d"})
    again = Job.objects.get(kind="replan")
    assert done["Location"] == f"/k/small/jobs/{again.pk}/"
    assert client.post(address(plan.week, "plan", "1", "help", "7"), {"request_key": "e"}).status_code == 404


def test_what_takes_other_equipment_has_no_button_and_says_what_to_do_outside(cast: Cast, keep: Keep) -> None:
    plan = keep(change=short_of_time)
    sink = Fix(
        kind="cooling-places",
        target="sink",
        amount=1.0,
        unit="places",
        sentence="1 more place in Ice sink.",
        effect_unserved=2,
        differences=("R02 moves from Tuesday 06:00 to 07:30.",),
        more_differences=3,
    )
    allowed = Fix(
        kind="pot-allowed",
        target="wide",
        amount=1.0,
        unit="pots",
        detail="fish",
        sentence="Fish stock allowed in Wide 45.",
        effect_late_h=2.0,
    )
    in_vain = Fix(kind="heat-supply", target="gas", amount=5.0, unit="kW", sentence="5 kW more from Gas line.")
    content = fixes_to_json((sink, allowed, in_vain, replace(in_vain, sentence="A larger bin.", tried=False)))
    PlanFixes.objects.create(plan=plan, content=content, seconds=1.0, created_at=timezone.now())
    page = signed_in(cast.manager).get(address(plan.week, "plan"))
    body = page.content.decode()
    assert "1 more place in Ice sink." in body
    assert "R02 moves from Tuesday 06:00 to 07:30." in body
    assert "And 3 more." in body
    assert "Once it has come, an administrator enters it on the set-up pages" in body
    assert "Whether that may be is for the kitchen&#x27;s food-safety plan to say" in body
    assert "Do this" not in body
    assert "Tried without effect: 1 change<" in body
    assert "Not tried, for want of time: 1 change<" in body
    assert page.context["untried"] == ("A larger bin.",)
    assert page.context["in_vain"] == ("5 kW more from Gas line.",)
    for index in range(4):
        refused = signed_in(cast.manager).post(
            address(plan.week, "plan", "1", "help", str(index)), {"request_key": "d"}
        )
        assert refused.status_code == (422 if index < 2 else 404)
    assert not Job.objects.filter(kind="replan").exists()


def test_a_run_of_an_older_plan_opens_as_it_stands_there(cast: Cast, keep: Keep) -> None:
    base = keep()
    again = keep(base=base, change=moved)
    code = plan_from_json(base.result).runs[0].code
    client = signed_in(cast.manager)
    shown = client.get(address(base.week, "runs", code), {"plan": str(again.number)})
    assert shown.context["plan_row"] == again
    assert f"As it stands in plan {again.number}" in shown.content.decode()
    assert f"/?plan={again.number}" in shown.content.decode()
    unasked = client.get(address(base.week, "runs", code))
    assert unasked.context["plan_row"] == base
    assert f"/changes/?run={code}" in unasked.content.decode()
    assert client.get(address(base.week, "runs", code), {"plan": "99"}).status_code == 404
