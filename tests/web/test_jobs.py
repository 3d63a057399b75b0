"""Progress of background work."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from production.domain.plan import preview_to_json
from production.models import Job, Plan, PlanningWeek
from tests.conftest import Cast
from tests.web.conftest import address, signed_in
from tests.web.test_goals import a_preview


def a_job(cast: Cast, week: PlanningWeek, **changes: Any) -> Job:
    now = timezone.now()
    values: dict[str, Any] = {
        "kitchen": cast.kitchen, "kind": "plan_build", "payload": {"week_id": week.pk}, "created_at": now,
    }  # fmt: skip
    return Job.objects.create(**values | changes)


def running(cast: Cast, week: PlanningWeek, **changes: Any) -> Job:
    now = timezone.now()
    return a_job(cast, week, state="running", started_at=now, lease_until=now, **changes)


def test_the_part_that_is_asked_again_and_again_holds_the_progress(cast: Cast, planning_week: PlanningWeek) -> None:
    job = running(cast, planning_week, progress_done=2, progress_total=5, progress_note="find pots and times")
    body = signed_in(cast.cook).get(f"/k/small/jobs/{job.pk}/progress/").content.decode()
    assert "2 of 5" in body
    assert "find pots and times" in body
    assert f'data-poll="/k/small/jobs/{job.pk}/progress/"' in body
    assert "<html" not in body


def test_work_that_is_done_leads_to_its_result(cast: Cast, planning_week: PlanningWeek) -> None:
    job = a_job(cast, planning_week, state="done", finished_at=timezone.now(), result={"number": 1})
    client = signed_in(cast.manager)
    assert client.get(f"/k/small/jobs/{job.pk}/").headers["Location"] == address(planning_week, "plan")
    body = client.get(f"/k/small/jobs/{job.pk}/progress/").content.decode()
    assert f'data-then="{address(planning_week, "plan")}"' in body
    assert "data-poll" not in body


def test_printing_leads_to_the_documents(cast: Cast, plan: Plan) -> None:
    job = a_job(
        cast, plan.week, kind="document_render", payload={"plan_id": plan.pk}, state="done", finished_at=timezone.now()
    )
    location = signed_in(cast.manager).get(f"/k/small/jobs/{job.pk}/").headers["Location"]
    assert location == address(plan.week, "documents")


def test_work_that_failed_says_why_and_offers_another_try(cast: Cast, planning_week: PlanningWeek) -> None:
    job = a_job(
        cast,
        planning_week,
        state="failed",
        finished_at=timezone.now(),
        error_code="x",
        error_sentence="The pot is <too> small.",
    )
    body = signed_in(cast.manager).get(f"/k/small/jobs/{job.pk}/").content.decode()
    assert "The pot is &lt;too&gt; small." in body
    assert "Try again" in body
    assert "Stop the work" not in body


def test_waiting_work_can_be_stopped_by_the_manager_only(cast: Cast, planning_week: PlanningWeek) -> None:
    job = a_job(cast, planning_week)
    assert "Stop the work" not in signed_in(cast.cook).get(f"/k/small/jobs/{job.pk}/").content.decode()
    body = signed_in(cast.manager).post(f"/k/small/jobs/{job.pk}/stop/", follow=True).content.decode()
    job.refresh_from_db()
    assert job.state == "cancelled"
    assert "Cancelled. What was finished before stays as it is." in body
    assert "Stop the work" not in body


def test_running_work_that_was_stopped_says_that_it_stops(cast: Cast, planning_week: PlanningWeek) -> None:
    job = running(cast, planning_week)
    body = signed_in(cast.manager).post(f"/k/small/jobs/{job.pk}/stop/", follow=True).content.decode()
    assert "Stopping at the next step." in body
    assert "Stop the work" not in body


def test_stopping_twice_is_harmless(cast: Cast, planning_week: PlanningWeek) -> None:
    job = a_job(cast, planning_week)
    client = signed_in(cast.manager)
    assert [client.post(f"/k/small/jobs/{job.pk}/stop/").status_code for _ in range(2)] == [302, 302]


def test_a_replan_that_failed_leads_to_what_the_planner_was_told(cast: Cast, planning_week: PlanningWeek) -> None:
    job = a_job(
        cast,
        planning_week,
        kind="replan",
        state="failed",
        finished_at=timezone.now(),
        error_code="x",
        error_sentence="No.",
    )
    changes = f'<a href="{address(planning_week, "changes")}">See what the planner was told</a>'
    assert changes in signed_in(cast.manager).get(f"/k/small/jobs/{job.pk}/").content.decode()
    assert changes not in signed_in(cast.cook).get(f"/k/small/jobs/{job.pk}/").content.decode()


def test_a_search_says_what_it_does_and_how_long_it_may_take(
    cast: Cast, planning_week: PlanningWeek, settings: Any
) -> None:
    settings.PLAN_SECONDS = 45
    preview = preview_to_json(a_preview(doing="runs made anew"))
    job = running(cast, planning_week, progress_done=2, progress_total=5, progress_note="raw", preview=preview)
    body = signed_in(cast.manager).get(f"/k/small/jobs/{job.pk}/progress/").content.decode()
    assert "2 of 5 – some runs at a time are taken out and made in another way" in body
    assert '<span class="unit">s of 45</span>' in body
