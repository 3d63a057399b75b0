"""What a late run waits for, on the plan page: told as a list, numbered on the timeline, only when it is asked for."""

from __future__ import annotations

import pytest
from django.test import Client

from production.domain.plan import Plan as PlanContent
from production.domain.plan import waits_of_line, waits_of_run
from production.models import Plan, PlanningWeek
from production.selectors.plans import plan_content
from production.services.plans import plan_make, plan_store
from production.services.week_import import week_import
from tests.conftest import Cast
from tests.domain.cut_weeks import CUTS, whole
from tests.kept import kept
from tests.web.conftest import address, signed_in

pytestmark = pytest.mark.django_db


def planned(cast: Cast, what: str) -> Plan:
    """The plan of the week in which one thing is cut."""

    def make() -> Plan:
        row: PlanningWeek = week_import(week=CUTS[what](whole()), by=cast.administrator)
        made = plan_make(kitchen=cast.kitchen, week_id=row.pk)
        return plan_store(made=made, kitchen=cast.kitchen, week_id=row.pk, user_id=cast.manager.user_id)

    return kept(f"a week short of {what}", make)


def opened(client: Client, plan: Plan, **asked: str) -> tuple[str, PlanContent]:
    page = client.get(address(plan.week, "plan"), asked)
    assert page.status_code == 200
    return page.content.decode(), plan_content(plan=plan)


def test_every_late_run_leads_to_the_chain_of_what_it_waits_for(cast: Cast) -> None:
    plan = planned(cast, "trays")
    client = signed_in(cast.manager)
    body, content = opened(client, plan)
    assert 'id="chain"' not in body
    for late in content.late:
        assert f'href="?waits={late.run}#chain"' in body
        told, _ = opened(client, plan, waits=late.run)
        assert f"What {late.run} waits for" in told
        for wait in waits_of_run(content, late.run).links:
            assert wait.sentence in told


def test_the_runs_of_a_chain_bear_their_numbers_on_the_timeline_and_in_its_words(cast: Cast) -> None:
    plan = planned(cast, "trays")
    client = signed_in(cast.cook)
    page = client.get(address(plan.week, "plan"), {"waits": "R03"})
    runs = waits_of_run(plan_content(plan=plan), "R03").runs
    assert runs[0] == "R03"
    assert len(runs) > 1
    words = " ".join(page.context["timeline_facts"])
    for number, run in enumerate(runs, 1):
        (told,) = [each for each in words.split("; ") if f"number {number} of the chain" in each]
        assert run in told
    assert "in the chain, with its number" in page.content.decode()
    assert page.context["open_share"] is not None


def test_a_day_of_the_timeline_keeps_the_chain(cast: Cast) -> None:
    body, _ = opened(signed_in(cast.manager), planned(cast, "trays"), waits="R03", day="2027-02-03")
    assert 'href="?day=2027-02-02&amp;waits=R03#chain"' in body


def test_an_unserved_line_leads_to_who_has_what_it_lacks(cast: Cast) -> None:
    plan = planned(cast, "ice")
    client = signed_in(cast.manager)
    body, content = opened(client, plan)
    line = content.unserved[0].line
    assert f'href="?missing={line}#chain"' in body
    told, _ = opened(client, plan, missing=line)
    for wait in waits_of_line(content, line).links:
        assert wait.sentence in told


@pytest.mark.parametrize("asked", [{"waits": "R99"}, {"missing": "L99"}, {"waits": ""}])
def test_a_chain_of_nothing_shows_the_plan_without_one(cast: Cast, asked: dict[str, str]) -> None:
    body, _ = opened(signed_in(cast.manager), planned(cast, "trays"), **asked)
    assert 'id="chain"' not in body
    assert "number 1 of the chain" not in body


def test_a_run_leads_to_its_chain(cast: Cast) -> None:
    plan = planned(cast, "trays")
    page = signed_in(cast.cook).get(address(plan.week, "runs", "R03"))
    assert f'href="{address(plan.week, "plan")}?waits=R03#chain"' in page.content.decode()
