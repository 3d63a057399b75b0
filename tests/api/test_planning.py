"""Planning again over the API: what is asked, re-planned, compared, taken, published, and what would help."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from production.models import Job, OrderLine, Plan, PlanAsk
from production.selectors.fixes import fixes_of
from production.selectors.moves import move_verdict
from production.selectors.plans import plan_content, plan_difference
from tests.api.conftest import POT_OUT, Planned, a_fix
from tests.conftest import Cast

Commit = Callable[..., AbstractContextManager[list[Callable[[], Any]]]]


def test_a_pot_that_fails_leads_to_a_replan_that_is_compared_taken_and_published(
    cast: Cast, planned: Planned, manager: APIClient, django_capture_on_commit_callbacks: Commit
) -> None:
    asked = manager.post(planned.address("api-asks"), POT_OUT, format="json")
    assert (asked.status_code, asked.data["plan"], asked.data["created_by"]) == (200, 1, "manager")
    assert manager.get(planned.address("api-asks")).data["entries"] == [asked.data]
    with django_capture_on_commit_callbacks(execute=True):
        wanted = manager.post(planned.address("api-replans"), {"seen": 1}, format="json")
    done = manager.get(wanted["Location"]).data
    assert (done["failure"]["sentence"], done["state"], done["preview"]) == ("", "done", None)
    assert manager.get(planned.address("api-plan")).data["number"] == 1
    proposal = manager.get(planned.address("api-plan", number=2)).data
    assert (proposal["base"], proposal["is_proposal"], proposal["status"]) == (1, True, "draft")
    told = manager.get(planned.address("api-difference", number=2), {"before": 1}).data
    found = plan_difference(by=cast.manager, week=planned.week, before=1, after=2)
    assert [each["sentence"] for each in told["changes"]] == [each.sentence for each in found.changes]
    assert (told["kept_runs"], told["moved_runs"]) == (found.kept_runs, found.moved_runs)
    taken = manager.post(planned.address("api-plan-take", number=2)).data
    assert (taken["is_proposal"], taken["decided_by"]) == (False, "manager")
    unseen = manager.post(planned.address("api-plan-publish", number=2), {"seen": 1}, format="json")
    assert (unseen.status_code, unseen.json()["code"]) == (409, "other-plan-meanwhile")
    published = manager.post(planned.address("api-plan-publish", number=2), {"seen": 2}, format="json").data
    assert (published["status"], published["published_by"]) == ("published", "manager")
    assert [(each["number"], each["status"]) for each in manager.get(planned.address("api-plans")).data["entries"]] == [
        (2, "published"),
        (1, "superseded"),
    ]


def test_what_is_withdrawn_is_listed_only_when_asked_for(planned: Planned, manager: APIClient) -> None:
    asked = manager.post(planned.address("api-asks"), POT_OUT, format="json").data
    gone = manager.post(planned.address("api-ask-withdraw", ask=asked["id"])).data
    assert gone["withdrawn_by"] == "manager"
    assert manager.get(planned.address("api-asks")).data["total"] == 0
    everything = manager.get(planned.address("api-asks"), {"withdrawn_too": True}).data["entries"]
    assert [each["id"] for each in everything] == [planned.withdrawn.pk, asked["id"]]


@pytest.mark.parametrize(
    ("body", "status", "code"),
    [
        ({"plan": 1, "kind": "lock-run", "run": "R99", "keep_size": True}, 422, "ask-does-not-hold"),
        ({"plan": 1, "kind": "pot-out", "pot": "tall"}, 422, "ask-unreadable"),
        ({"plan": 2, "kind": "run-lost", "run": "R01"}, 409, "other-plan-meanwhile"),
        ({"plan": 1, "kind": "sing", "run": "R01"}, 400, "bad-request"),
        ({"plan": 1, "kind": "boil-at", "run": "R01", "boil_at": "9999-12-31T23:59:59Z"}, 400, "bad-request"),
    ],
)
def test_what_cannot_be_asked_is_refused_with_a_reason(
    planned: Planned, manager: APIClient, body: dict[str, Any], status: int, code: str
) -> None:
    refused = manager.post(planned.address("api-asks"), body, format="json")
    assert (refused.status_code, refused.json()["code"]) == (status, code)
    assert PlanAsk.objects.count() == 1


def test_a_move_is_judged_and_asked_for(cast: Cast, planned: Planned, manager: APIClient) -> None:
    run = next(each for each in plan_content(plan=planned.plan).runs if each.code == planned.run)
    body = {"pot": run.pot, "start_at": run.start_at.isoformat()}
    told = manager.get(planned.address("api-move"), body).data
    verdict = move_verdict(by=cast.manager, plan=planned.plan, run=run.code, pot=run.pot, start_at=run.start_at)
    assert (told["fits"], told["sentences"]) == (verdict.fits, list(verdict.sentences))
    asked = manager.post(planned.address("api-move"), body, format="json").data
    assert (asked["content"]["kind"], asked["content"]["pot"]) == ("lock-run", run.pot)


def test_fixes_are_told_and_done(cast: Cast, planned: Planned, manager: APIClient) -> None:
    told = manager.get(planned.address("api-fixes")).data
    found = fixes_of(by=cast.manager, plan=planned.plan)
    assert found is not None
    assert [each["sentence"] for each in told["fixes"]] == [a_fix().sentence]
    assert told["seconds"] == found.seconds == 1.5
    before = OrderLine.objects.get(week=planned.week, code="L1").dispatch_at
    answer = manager.post(planned.address("api-fix-apply"), headers={"Idempotency-Key": "click"})
    assert (answer.status_code, answer.data["kind"]) == (202, "replan")
    assert OrderLine.objects.get(week=planned.week, code="L1").dispatch_at > before
    again = manager.post(planned.address("api-fix-apply"), headers={"Idempotency-Key": "click"})
    assert again.data["id"] == answer.data["id"]
    assert manager.post(planned.address("api-fix-apply", fix=2)).status_code == 404
    Plan.objects.update(number=3)
    assert manager.get(planned.address("api-fixes", number=3)).status_code == 200


def test_nothing_is_told_of_fixes_before_anybody_has_asked(planned: Planned, manager: APIClient) -> None:
    planned.plan.fixes.delete()
    assert manager.get(planned.address("api-fixes")).status_code == 404


def test_stopping_a_search_that_has_shown_something_keeps_it(planned: Planned, manager: APIClient) -> None:
    job = Job.objects.get(pk=manager.post(planned.address("api-plans")).data["id"])
    far = planned.plan.created_at.replace(year=2100)
    Job.objects.filter(pk=job.pk).update(
        state="running", preview={"lateness_h": 2.0}, started_at=planned.plan.created_at, lease_until=far
    )
    address = f"/api/v1/kitchens/small/jobs/{job.pk}"
    assert manager.get(address).data["preview"] == {"lateness_h": 2.0}
    told = manager.post(f"{address}/cancel").data
    assert (told["state"], told["enough"], told["cancel_requested"]) == ("running", True, False)


def test_more_asks_and_plans_take_no_more_queries(cast: Cast, planned: Planned, manager: APIClient) -> None:
    def queries(name: str) -> int:
        with CaptureQueriesContext(connection) as caught:
            assert manager.get(planned.address(name)).status_code == 200
        return len(caught)

    before = {name: queries(name) for name in ("api-asks", "api-plans", "api-jobs")}
    manager.post(planned.address("api-asks"), POT_OUT, format="json")
    manager.post(planned.address("api-asks"), POT_OUT | {"pot": "wide"}, format="json")
    for number in (2, 3, 4):
        Plan.objects.filter(pk=planned.plan.pk).update(status="superseded")
        plan = Plan.objects.get(pk=planned.plan.pk)
        plan.pk, plan.number, plan.base, plan.decided_by = None, number, planned.plan, cast.manager.user
        plan.save(force_insert=True)
        manager.post(planned.address("api-fixes"))
    assert manager.get(planned.address("api-asks")).data["total"] == 2
    assert manager.get(planned.address("api-plans")).data["total"] == 4
    assert {name: queries(name) for name in before} == before
