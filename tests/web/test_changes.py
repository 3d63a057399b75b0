"""What the planner is told: holds, moves and what has happened; nothing typed is lost."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.contrib.auth.models import User
from django.test import Client

from production.domain.plan import BoilAt, LockRun, PlannedRun, PotOut, RunLost, ask_from_json, plan_from_json
from production.models import Plan, PlanAsk
from production.services.kitchens import membership_set
from production.services.plans import plan_make, plan_store
from production.web.present.asked import locked_runs
from tests.conftest import Cast
from tests.web.conftest import address, signed_in


@pytest.fixture
def client(cast: Cast) -> Client:
    return signed_in(cast.manager)


def first_run(plan: Plan) -> PlannedRun:
    return plan_from_json(plan.result).runs[0]


def local(plan: Plan, at: datetime) -> str:
    return at.astimezone(ZoneInfo(plan.kitchen.time_zone)).strftime("%Y-%m-%dT%H:%M")


def sent(plan: Plan, kind: str, **fields: Any) -> dict[str, Any]:
    told = {f"{kind}-{name}": value for name, value in fields.items()}
    return {"kind": kind, "plan_number": plan.number, **told}


def kept() -> list[object]:
    return [ask_from_json(row.content) for row in PlanAsk.objects.filter(withdrawn_at__isnull=True)]


def test_a_run_is_held_where_it_stands(client: Client, plan: Plan) -> None:
    run = first_run(plan)
    page = client.get(address(plan.week, "changes"), {"run": run.code})
    form = page.context["forms"]["hold"]
    assert (form["run"].value(), form["pot"].value()) == (run.code, run.pot)
    assert f'value="{local(plan, run.start_at)}"' in page.content.decode()
    told = sent(plan, "hold", run=run.code, pot=run.pot, start_at=local(plan, run.start_at))
    answer = client.post(address(plan.week, "changes"), told)
    assert answer["Location"] == f"{address(plan.week, 'changes')}#main"
    shown = client.get(answer["Location"])
    assert kept() == [LockRun(run=run.code, pot=run.pot, start_at=run.start_at)]
    assert f"{run.code} stays in" in shown.content.decode()
    assert "not in this plan yet" in shown.content.decode()


def test_times_are_on_the_clock_of_the_kitchen(client: Client, plan: Plan) -> None:
    pot = plan_from_json(plan.result).week.pots[0].code
    told = sent(
        plan, "pot-out", pot=pot, start="2027-02-03T10:00", end="2027-02-03T18:00", reason="valve", batch_lost="on"
    )
    client.post(address(plan.week, "changes"), told)
    zone = ZoneInfo(plan.kitchen.time_zone)
    (ask,) = kept()
    assert ask == PotOut(
        pot=pot,
        start=datetime(2027, 2, 3, 10, tzinfo=zone),
        end=datetime(2027, 2, 3, 18, tzinfo=zone),
        reason="valve",
        batch_lost=True,
    )


def test_a_late_boil_and_a_lost_run_are_told(client: Client, plan: Plan) -> None:
    run = first_run(plan)
    href = address(plan.week, "changes")
    boil = run.placed.stages[1].end_min + 45
    boil_at = plan_from_json(plan.result).at(boil)
    assert client.post(href, sent(plan, "boil", run=run.code, boil_at=local(plan, boil_at))).status_code == 302
    assert client.post(href, sent(plan, "lost", run=run.code, reason="scorched")).status_code == 302
    assert kept() == [BoilAt(run=run.code, boil_at=boil_at), RunLost(run=run.code, reason="scorched")]


def test_what_is_refused_stays_typed_with_the_reason(client: Client, plan: Plan) -> None:
    run = first_run(plan)
    told = sent(plan, "begun", run=run.code, start_at="2027-02-03T09:30")
    answer = client.post(address(plan.week, "changes"), told)
    body = answer.content.decode()
    assert answer.status_code == 422
    assert "is still to come" in body
    assert 'value="2027-02-03T09:30"' in body
    assert kept() == []


def test_a_time_that_is_none_is_refused_beside_its_field(client: Client, plan: Plan) -> None:
    told = sent(plan, "boil", run=first_run(plan).code, boil_at="after lunch")
    answer = client.post(address(plan.week, "changes"), told)
    assert answer.status_code == 422
    assert answer.context["forms"]["boil"].errors["boil_at"] == ["Give day and time, for instance 2027-02-03 09:30."]
    assert "after lunch" in answer.content.decode()


def test_the_second_manager_hears_that_the_kitchen_works_by_another_plan(cast: Cast, plan: Plan) -> None:
    user = User.objects.create_user("berta", password="steam and ladles")
    berta = signed_in(membership_set(kitchen=cast.kitchen, user=user, role="manager", by=None))
    run = first_run(plan)
    told = sent(plan, "lost", run=run.code, reason="the pot boiled dry")
    made = plan_make(kitchen=cast.kitchen, week_id=plan.week.pk)
    other = replace(made, content=replace(made.content, cautions=("another",)))
    newer = plan_store(made=other, kitchen=cast.kitchen, week_id=plan.week.pk, user_id=cast.manager.user_id)
    answer = berta.post(address(plan.week, "changes"), told)
    body = answer.content.decode()
    assert answer.status_code == 409
    assert cast.manager.user.get_username() in body
    assert 'value="the pot boiled dry"' in body
    assert f'name="plan_number" value="{newer.number}"' in body
    assert kept() == []


def test_what_was_told_is_taken_back(client: Client, plan: Plan) -> None:
    run = first_run(plan)
    client.post(address(plan.week, "changes"), sent(plan, "lost", run=run.code))
    row = PlanAsk.objects.get()
    shown = client.post(address(plan.week, "changes", str(row.pk), "withdraw"), follow=True)
    assert "Taken back" in shown.content.decode()
    assert kept() == []


def test_the_verdict_on_a_move_is_a_fragment_that_says_what_stands_against_it(client: Client, plan: Plan) -> None:
    run = first_run(plan)
    href = address(plan.week, "changes", "verdict")
    stays = client.get(href, {"hold-run": run.code, "hold-pot": run.pot, "hold-start_at": local(plan, run.start_at)})
    assert "It fits" in stays.content.decode()
    assert "<html" not in stays.content.decode()
    night = client.get(href, {"hold-run": run.code, "hold-pot": run.pot, "hold-start_at": "2027-02-02T01:00"})
    assert "It does not fit" in night.content.decode()
    assert len(night.context["verdict"].sentences) >= 2
    nothing = client.get(href, {"hold-run": "R99"})
    assert "Choose a run" in nothing.content.decode()


def test_the_verdict_is_there_without_scripts_and_nothing_is_told_by_it(client: Client, plan: Plan) -> None:
    run = first_run(plan)
    told = sent(plan, "hold", run=run.code, pot=run.pot, start_at="2027-02-02T01:00") | {"try": "yes"}
    answer = client.post(address(plan.week, "changes"), told)
    body = answer.content.decode()
    assert answer.status_code == 200
    assert "It does not fit" in body
    assert 'value="2027-02-02T01:00"' in body
    assert kept() == []


def test_locks_of_a_plan_are_signs_on_its_timeline(cast: Cast, plan: Plan) -> None:
    run = first_run(plan)
    asks = (LockRun(run=run.code, pot=run.pot), LockRun(run="R98", keep_size=True), RunLost(run="R97"))
    assert locked_runs(asks) == {run.code}


def test_without_a_plan_there_is_nothing_to_tell(client: Client, cast: Cast, planning_week: Any) -> None:
    body = client.get(address(planning_week, "changes")).content.decode()
    assert "No plan for this week yet" in body


def test_a_pot_that_does_not_take_the_run_is_refused_and_the_form_stays(client: Client, plan: Plan) -> None:
    run = first_run(plan)
    told = sent(plan, "hold", run=run.code, pot="wide", start_at=local(plan, run.start_at))
    answer = client.post(address(plan.week, "changes"), told)
    assert answer.status_code == 422
    assert "does not take the" in answer.content.decode()
    assert answer.context["forms"]["hold"]["pot"].value() == "wide"
    assert kept() == []


def test_a_refusal_about_a_week_leads_back_to_its_plan(cast: Cast, plan: Plan) -> None:
    body = signed_in(cast.cook).get(address(plan.week, "changes")).content.decode()
    assert f'href="{address(plan.week, "plan")}">Back to the plan</a>' in body


def test_a_plan_from_the_orders_alone_is_refused_in_words_of_its_own(cast: Cast, plan: Plan) -> None:
    client = signed_in(cast.manager)
    client.post(address(plan.week, "changes"), sent(plan, "lost", run=first_run(plan).code))
    answer = client.post(address(plan.week, "plan", "make"), {"request_key": "one"})
    assert answer.status_code == 409
    assert "Not this way" in answer.content.decode()
    assert "Somebody was faster" not in answer.content.decode()
