"""The plan: timeline, runs, reasons, asking for a new one."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from django.test import TestCase

from production.domain.kitchen import ParLevel
from production.domain.plan import LateLine, Unserved, make_plan, plan_from_json
from production.domain.plan import Plan as PlanContent
from production.drawing.timeline_content import LaneStep, PlanTimeline, StepLane
from production.models import Job, Plan, PlanningWeek
from production.services.plans import plan_make, plan_store
from production.services.publishing import plan_publish
from production.services.week_import import week_import
from production.web.present.plan import (
    late_rows,
    lines_of,
    margin_of,
    open_share,
    run_rows,
    timeline,
    unserved_groups,
    unserved_rows,
)
from production.web.present.words import line_name
from production.web.style import Style, style_of
from tests.builders import a_line, a_week, at
from tests.conftest import Cast
from tests.web.conftest import address, signed_in


def drawn(plan: Plan, *, day: date | None = None, now: datetime | None = None) -> tuple[PlanContent, PlanTimeline]:
    content = plan_from_json(plan.result)
    style = style_of(plan.kitchen, plan.week)
    style = replace(style, now=now) if now else style
    return content, timeline(plan=content, style=style, href=lambda run: f"#{run}", day=day)


def value_at(steps: tuple[LaneStep, ...], minute: float) -> float:
    return [step.value for step in steps if step.at_min <= minute][-1]


def test_every_run_is_a_bar_in_its_pot_and_leads_to_its_page(plan: Plan) -> None:
    content, line = drawn(plan)
    names = {pot.code: pot.name for pot in content.week.pots}
    bars = {bar.href: (lane.name, bar) for lane in line.pots for bar in lane.bars}
    assert len(bars) == len(content.runs)
    for run in content.runs:
        lane, bar = bars[f"#{run.code}"]
        assert lane == names[run.pot]
        assert (bar.start_min, bar.end_min) == (run.placed.start_min, run.placed.pot_free_min)
        assert sum(stage.end_min - stage.start_min for stage in bar.stages) <= bar.end_min - bar.start_min


def test_every_draw_lies_in_its_cooling_devices(plan: Plan) -> None:
    content, line = drawn(plan)
    shown = sum(len(lane.bars) for lane in line.devices)
    assert shown == sum(len(cooling.places) for run in content.runs for cooling in run.placed.coolings)


def test_heating_up_takes_the_full_power_of_the_heat_source(plan: Plan) -> None:
    content, line = drawn(plan)
    run = content.runs[0]
    source = content.week.get("heat_sources", content.week.get("pots", run.pot).heat_source)
    supply = content.week.get("heat_supplies", source.supply).name
    lane = next(lane for lane in line.steps if isinstance(lane, StepLane) and lane.name == supply)
    heat_up = next(stage for stage in run.placed.stages if stage.name == "heat_up")
    assert value_at(lane.used, heat_up.start_min + 0.5) >= source.input_kw


def test_a_day_shows_only_what_happens_on_it(plan: Plan) -> None:
    content, whole = drawn(plan)
    style = style_of(plan.kitchen, plan.week)
    day = style.day_of(content.runs[0].start_at)
    _, line = drawn(plan, day=day)
    assert (line.end_min - line.start_min, len(line.days)) == (24 * 60, 1)
    shown = {bar.href for lane in line.pots for bar in lane.bars}
    assert f"#{content.runs[0].code}" in shown
    _, empty = drawn(plan, day=plan.week.starts_on + timedelta(days=6))
    assert not any(lane.bars for lane in empty.pots)
    assert len({bar.href for lane in whole.pots for bar in lane.bars}) == len(content.runs)


def test_nobody_there_is_what_the_shifts_leave_free(plan: Plan) -> None:
    content, line = drawn(plan)
    free = sum(night.end_min - night.start_min for night in line.nights)
    staffed = [0] * int(line.end_min - line.start_min)
    for shift in content.week.shifts:
        begins = int((shift.start - content.origin).total_seconds() // 60 - line.start_min)
        ends = int((shift.end - content.origin).total_seconds() // 60 - line.start_min)
        for minute in range(max(0, begins), min(len(staffed), ends)):
            staffed[minute] = 1
    assert free == staffed.count(0)


def test_the_timeline_opens_where_now_is(plan: Plan) -> None:
    content, _ = drawn(plan)
    _, line = drawn(plan, now=content.runs[0].start_at)
    share = open_share(line)
    assert share is not None
    assert line.start_min + share * (line.end_min - line.start_min) == pytest.approx(
        content.runs[0].placed.start_min, abs=10
    )
    _, later = drawn(plan, now=datetime(2028, 1, 1, tzinfo=UTC))
    assert open_share(later) is None


def test_when_all_runs_are_done_the_last_of_them_is_in_sight(plan: Plan) -> None:
    content, _ = drawn(plan)
    last = max(content.runs, key=lambda run: run.placed.start_min)
    done = max(run.placed.pot_free_min for run in content.runs)
    _, line = drawn(plan, now=content.at(done + 30))
    share = open_share(line)
    assert share is not None
    shown_min = line.start_min + share * (line.end_min - line.start_min)
    assert shown_min == pytest.approx(last.placed.start_min, abs=10)


def test_noon_bears_its_weekday_where_several_days_are_shown(plan: Plan) -> None:
    _, whole = drawn(plan)
    assert [tick.label for tick in whole.hours[:3]] == ["06:00", "Mon 12:00", "18:00"]
    _, one = drawn(plan, day=plan.week.starts_on)
    assert "12:00" in [tick.label for tick in one.hours]


def test_a_day_by_itself_opens_where_somebody_comes(plan: Plan) -> None:
    content, _ = drawn(plan)
    style = style_of(plan.kitchen, plan.week)
    day = style.day_of(content.runs[0].start_at)
    comes = min(shift.start for shift in content.week.shifts if style.day_of(shift.start) == day)
    _, line = drawn(plan, day=day, now=datetime(2028, 1, 1, tzinfo=UTC))
    share = open_share(line)
    assert share is not None
    assert share * 24 == pytest.approx(style.local(comes).hour + style.local(comes).minute / 60, abs=0.02)


def test_the_table_says_the_same_as_the_drawing(cast: Cast, plan: Plan) -> None:
    page = signed_in(cast.cook).get(address(plan.week, "plan"))
    content = plan_from_json(plan.result)
    rows = {row.code: row for row in page.context["runs"]}
    assert set(rows) == {run.code for run in content.runs}
    for run in content.runs:
        margin = min(limit.margin_min for draw in run.draws for limit in draw.cooling.margins)
        shown = rows[run.code].margin
        assert shown is not None
        assert shown == margin_of(margin)
    body = page.content.decode()
    for fact in page.context["timeline_facts"]:
        assert fact.split(":")[0] in body


@pytest.mark.parametrize(
    ("minutes", "meaning", "words"),
    [(110, "within", "1 h 50 min to spare"), (29, "near", "29 min to spare"), (-5, "past", "5 min over")],
)
def test_a_margin_is_never_told_by_colour_alone(minutes: float, meaning: str, words: str) -> None:
    margin = margin_of(minutes)
    assert (margin.meaning, margin.words) == (meaning, words)


def test_a_bar_of_a_late_run_is_marked_and_its_line_stands_in_the_list(cast: Cast, planning_week: PlanningWeek) -> None:
    soon = a_line(code="L9", product="fish-2", containers=30, dispatch_at=at("2027-02-01 06:00"))
    content = make_plan(week=a_week(order_lines=(soon, *a_week().order_lines)))
    style: Style = style_of(cast.kitchen, planning_week)
    late = late_rows(plan=content, style=style, href=lambda run: f"#{run}")
    unserved = unserved_rows(content)
    told = [row.line for row in late if row.sentence] + [row.head for row in unserved if row.sentence]
    assert any("30 × Fish stock" in line for line in told)
    marked = {row.code for row in run_rows(plan=content, style=style, href=str) if row.late}
    assert marked == {code for row in late for code, _ in row.runs}


def test_a_cook_sees_no_button_that_makes_a_plan(cast: Cast, planning_week: PlanningWeek) -> None:
    client = signed_in(cast.cook)
    body = client.get(address(planning_week, "plan")).content.decode()
    assert "No plan for this week yet" in body
    assert "Plan this week" not in body
    assert "The kitchen manager makes it" in body


def test_asking_for_a_plan_shows_how_far_it_is(cast: Cast, planning_week: PlanningWeek) -> None:
    client = signed_in(cast.manager)
    response = client.post(address(planning_week, "plan", "make"), {"request_key": "one"})
    job = Job.objects.get(kitchen=cast.kitchen)
    assert response.headers["Location"] == f"/k/small/jobs/{job.pk}/"
    body = client.get(response.headers["Location"]).content.decode()
    assert "Planning the week" in body
    assert "Waiting for its turn" in body
    assert "Stop the work" in body
    assert f'data-poll="/k/small/jobs/{job.pk}/progress/"' in body
    assert 'http-equiv="refresh"' in body


def test_asking_twice_with_the_same_form_asks_once(cast: Cast, planning_week: PlanningWeek) -> None:
    client = signed_in(cast.manager)
    answers = {
        client.post(address(planning_week, "plan", "make"), {"request_key": "one"})["Location"] for _ in range(2)
    }
    assert len(answers) == 1
    assert Job.objects.count() == 1


def test_each_form_has_a_key_of_its_own(cast: Cast, planning_week: PlanningWeek) -> None:
    client = signed_in(cast.manager)
    keys = {client.get(address(planning_week)).context["request_key"] for _ in range(2)}
    assert len(keys) == 2


def test_a_plan_made_by_the_worker_is_shown(cast: Cast, planning_week: PlanningWeek) -> None:
    client = signed_in(cast.manager)
    with TestCase.captureOnCommitCallbacks(execute=True):
        response = client.post(address(planning_week, "plan", "make"), {"request_key": "one"})
    shown = client.get(response.headers["Location"], follow=True)
    assert shown.redirect_chain[-1][0] == address(planning_week, "plan")
    assert "Plan of the pots" in shown.content.decode()


def test_a_plan_of_another_version_of_the_program_can_be_made_anew(cast: Cast, plan: Plan) -> None:
    Plan.objects.filter(pk=plan.pk).update(result=plan.result | {"version": 0}, result_sha256="0" * 64)
    for part in ("", "plan"):
        page = signed_in(cast.manager).get(address(plan.week, *filter(None, [part])))
        assert page.status_code == 422
        assert f'action="{address(plan.week, "plan", "make")}"' in page.content.decode()
    assert "plan/make" not in signed_in(cast.cook).get(address(plan.week, "plan")).content.decode()
    with TestCase.captureOnCommitCallbacks(execute=True):
        signed_in(cast.manager).post(address(plan.week, "plan", "make"), {"request_key": "one"})
    assert signed_in(cast.manager).get(address(plan.week, "plan")).status_code == 200


def test_a_day_that_is_no_day_shows_the_whole_plan(cast: Cast, plan: Plan) -> None:
    page = signed_in(cast.cook).get(address(plan.week, "plan"), {"day": "yesterday"})
    assert page.status_code == 200
    assert page.context["day"] is None


def share(
    content: PlanContent, *, containers: int = 1, resource: str = "pots", sentence: str = "1 pot more would be enough."
) -> Unserved:
    line = content.week.order_lines[0]
    return Unserved(
        line=line.code,
        product=line.product,
        containers=containers,
        resource=resource,
        missing=1.0,
        unit="pots",
        sentence=sentence,
        remedy="Free a pot.",
    )


def test_shares_of_one_line_that_one_resource_stops_stand_together(plan: Plan) -> None:
    content = plan_from_json(plan.result)
    again = share(content, sentence="185 h 5 min earlier would be enough.", containers=2)
    shares = (share(content), share(content), again, share(content, resource="cooling"))
    pots, cooling = unserved_rows(replace(content, unserved=shares))
    name = line_name(content.week, shares[0].line)
    assert content.week.order_lines[0].containers not in (1, 4)
    assert (pots.head, cooling.head) == (f"4 of {name}", f"1 of {name}")
    assert pots.sentence == "1 pot more would be enough. 7 d 17 h earlier would be enough."
    assert pots.remedy == "Free a pot."
    assert lines_of(shares) == 1


def test_a_line_that_waits_for_several_runs_is_late_once_and_as_late_as_the_last(plan: Plan) -> None:
    content = plan_from_json(plan.result)
    line = content.week.order_lines[0]
    late = tuple(
        LateLine(
            line=line.code,
            run=run,
            due_at=line.dispatch_at,
            ready_at=line.dispatch_at + timedelta(hours=hours),
            resource="hours",
            sentence=f"Ready {hours} h after its dispatch.",
        )
        for run, hours in (("R01", 3), ("R02", 50))
    )
    style = style_of(plan.kitchen, plan.week)
    (row,) = late_rows(plan=replace(content, late=late), style=style, href=lambda run: f"#{run}")
    assert row.runs == (("R01", "#R01"), ("R02", "#R02"))
    assert (row.by, row.sentence) == ("2 d 2 h", "Ready 2 d 2 h after its dispatch.")
    assert lines_of(late) == 1


def test_par_levels_that_stay_unfilled_are_told_with_what_is_made_towards_them(cast: Cast) -> None:
    unstaffed = a_week(shifts=(), order_lines=(), lots=(), par_levels=(ParLevel(product="poultry-5", containers=3),))
    row = week_import(week=unstaffed, by=cast.manager)
    made = plan_make(kitchen=cast.kitchen, week_id=row.pk)
    plan_store(made=made, kitchen=cast.kitchen, week_id=row.pk, user_id=cast.manager.user_id)
    body = signed_in(cast.cook).get(address(row, "plan")).content.decode()
    assert "Par levels that stay unfilled" in body
    assert "Poultry broth 5 L: 3 short of the par level, none of them made." in body


def test_a_plan_that_is_being_worked_out_is_told_of_wherever_the_week_is_looked_at(
    cast: Cast, planning_week: PlanningWeek
) -> None:
    client = signed_in(cast.manager)
    job_page = client.post(address(planning_week, "plan", "make"), {"request_key": "one"})["Location"]
    body = client.get(address(planning_week, "plan")).content.decode()
    assert "No plan for this week yet" in body
    assert f'<a href="{job_page}">See how far it is</a>' in body
    Job.objects.update(state="cancelled", finished_at=datetime(2027, 1, 1, tzinfo=UTC))
    assert job_page not in client.get(address(planning_week, "plan")).content.decode()


def test_who_reads_a_draft_is_told_that_it_is_one(cast: Cast, plan: Plan) -> None:
    draft = "This plan is a draft"
    assert draft in signed_in(cast.cook).get(address(plan.week, "plan")).content.decode()
    assert draft not in signed_in(cast.manager).get(address(plan.week, "plan")).content.decode()
    plan_publish(by=cast.manager, plan=plan, seen_number=plan.number)
    assert draft not in signed_in(cast.cook).get(address(plan.week, "plan")).content.decode()


def test_lines_that_wait_for_the_same_thing_are_told_of_together(plan: Plan) -> None:
    content = plan_from_json(plan.result)
    lines = content.week.order_lines[:3]
    names = {each.code: each.name for each in content.week.products}
    shares = tuple(
        replace(
            share(content, containers=line.containers, sentence=f"{line.containers} × {names[line.product]}: no pot."),
            line=line.code,
            product=line.product,
        )
        for line in lines
    )
    other = replace(share(content, resource="cooling", sentence="1 place more would be enough."), line=lines[0].code)
    together, alone = unserved_groups(unserved_rows(replace(content, unserved=(*shares, other))))
    assert (together.head, together.sentence) == ("3 order lines, for one reason", "No pot.")
    assert [row.line for row in together.rows] == [line.code for line in lines]
    assert alone.head == alone.rows[0].head
