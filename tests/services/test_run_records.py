"""Runs on the floor: begun once, recorded by several, corrected and never lost."""

from __future__ import annotations

import threading
from dataclasses import replace
from datetime import UTC, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.http import Http404
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from production.domain.plan import RunLost
from production.domain.records.course import planned_steps
from production.domain.sheets import content_to_json
from production.models import CoolingRecord, Entry, Lot, Plan, PlanningWeek, Product, RunRecord, Store
from production.selectors.run_projection import runs_check
from production.selectors.run_records import floor_board, planned_sheet, run_live
from production.services.floor import floor_take
from production.services.plans import plan_make, plan_store
from production.services.publishing import plan_publish
from tests.conftest import Cast
from tests.services.floor_runs import RUN, Tablet, published, tablet_of


@pytest.fixture
def plan(cast: Cast, planning_week: PlanningWeek) -> Plan:
    return published(cast, planning_week)


@pytest.fixture
def tablet(cast: Cast, plan: Plan) -> Tablet:
    return tablet_of(cast.cook, plan)


def outcomes(*answers: object) -> list[object]:
    return [getattr(answer, "outcome", answer) for answer in answers]


# --- beginning --------------------------------------------------------------------------------------------------------


def test_a_run_is_begun_once_with_the_sheet_of_the_published_plan(tablet: Tablet, plan: Plan) -> None:
    assert tablet.do("run_begun", 3, step="begin").outcome == "kept"
    record = tablet.record
    assert (record.plan, record.state, record.begun_at) == (plan, "under_way", tablet.at(3))
    assert record.sheet == content_to_json(planned_sheet(content=tablet.content, code=RUN))
    assert record.pot is not None
    assert record.pot.code == "tall"


def test_two_tablets_that_begin_it_make_one_run_with_two_records(cast: Cast, tablet: Tablet, plan: Plan) -> None:
    other = tablet_of(cast.manager, plan, name="u")
    assert outcomes(tablet.do("run_begun", 1), other.do("run_begun", 0)) == ["kept", "kept"]
    assert RunRecord.objects.get().begun_at == tablet.at(0)
    begun = tablet.course(2).at("begin")
    assert begun is not None
    assert begun.record is not None
    assert (begun.record.by, [note.by for note in begun.also]) == ("manager", ["cook"])


def test_a_run_of_a_plan_that_nobody_has_published_cannot_be_begun(cast: Cast, plan: Plan, tablet: Tablet) -> None:
    Plan.objects.filter(pk=plan.pk).update(status=Plan.Status.DRAFT, published_at=None)
    assert tablet.do("run_begun", 0).code == "run-not-published"
    tablet.code = "R77"
    sent = {"kind": "run_begun", "key": "x", "subject": "run/2027-02-01/R77", "happened_at": "2027-02-01T12:00:00Z"}
    answer = floor_take(by=cast.cook, body={"entries": [sent]}, now=timezone.now() + timedelta(days=900)).answers[0]
    assert answer.code == "run-not-published"
    assert not Entry.objects.exists()


def test_a_run_begun_far_from_its_time_is_asked_about(tablet: Tablet) -> None:
    answer = tablet.do("run_begun", -60 * 20)
    assert (answer.outcome, answer.code) == ("questioned", "far-from-plan")
    assert "20 h before" in answer.sentence
    key = tablet.log[0]["key"]
    again = tablet.do("run_begun", -60 * 20 + 1, corrects=key, reason="looked again", confirmed=True)
    assert again.outcome == "kept"
    assert RunRecord.objects.count() == 1


def test_a_pot_that_another_run_still_holds_is_asked_about(cast: Cast, plan: Plan, tablet: Tablet) -> None:
    earlier = tablet_of(cast.cook, plan, code="R02", name="e")
    earlier.do("run_begun", 0)
    answer = tablet.do("run_begun", 0)
    assert (answer.outcome, answer.code) == ("questioned", "pot-not-free")
    assert "Tall 100 still holds R02" in answer.sentence


@pytest.mark.parametrize("is_taken_back", [False, True])
def test_a_pot_that_was_washed_out_is_free_though_its_run_is_not_closed_yet(
    cast: Cast, plan: Plan, tablet: Tablet, is_taken_back: bool
) -> None:
    earlier = tablet_of(cast.cook, plan, code="R02", name="e")
    earlier.do("run_begun", 0)
    washed = earlier.do("washed", 60, step="wash")
    if is_taken_back:
        earlier.do("withdrawn", 61, corrects=washed.key, reason="other pot")
    assert tablet.do("run_begun", 0).code == ("pot-not-free" if is_taken_back else "")


def test_a_plan_that_is_superseded_after_the_beginning_changes_nothing_on_the_sheet(
    cast: Cast, plan: Plan, tablet: Tablet
) -> None:
    tablet.do("run_begun", 0)
    before = tablet.record.sheet
    made = plan_make(kitchen=cast.kitchen, week_id=plan.week_id)
    other = replace(made, content=replace(made.content, cautions=("another plan",)))
    newer = plan_store(made=other, kitchen=cast.kitchen, week_id=plan.week_id, user_id=cast.manager.user_id)
    plan_publish(by=cast.manager, plan=newer, seen_number=newer.number, confirm_stale=True)
    assert Plan.objects.get(pk=plan.pk).status == Plan.Status.SUPERSEDED
    assert tablet.do("filled", 20, step="fill").outcome == "kept"
    record = tablet.record
    assert (record.plan_id, record.sheet) == (plan.pk, before)


# --- steps ------------------------------------------------------------------------------------------------------------


def test_what_is_weighed_changes_the_water_the_mark_and_the_yield_at_once(tablet: Tablet) -> None:
    tablet.do("run_begun", 0)
    before = tablet.course(1)
    tablet.do("charge_weighed", 5, step="charge.1", mass="18 kg")
    after = tablet.course(6)
    assert after.charge.water_l > before.charge.water_l
    assert after.charge.fill_mark_mm < before.charge.fill_mark_mm
    assert after.charge.first.cold_l > before.charge.first.cold_l
    fill, now = before.at("fill"), after.at("fill")
    assert fill is not None
    assert now is not None
    assert now.step.do != fill.step.do


UNREADABLE = (
    ("15,6 kg", "ambiguous-comma"),
    ("15.6", "unit-missing"),
    ("15.6 L", "wrong-kind"),
    ("much", "unreadable"),
    ("", "box-empty"),
    ("-3 kg", "below-nothing"),
    ("1e9 kg", "beyond-all-kitchens"),
    ("15.6 stone", "unknown-unit"),
    (15, "unit-missing"),
    ({"kg": 3}, "unreadable"),
)


def test_weights_that_cannot_be_read_are_refused_with_an_example(tablet: Tablet) -> None:
    tablet.do("run_begun", 0)
    answers = [tablet.do("charge_weighed", 5, step="charge.1", mass=typed) for typed, _ in UNREADABLE]
    assert [(answer.outcome, answer.code) for answer in answers] == [("refused", code) for _, code in UNREADABLE]
    assert all(answer.remedy for answer in answers)
    assert Entry.objects.count() == 1


def test_any_unit_may_be_typed(tablet: Tablet) -> None:
    tablet.do("run_begun", 0)
    assert tablet.do("charge_weighed", 5, step="charge.1", mass="34 lb 6 oz").outcome == "kept"
    assert tablet.course(6).charge.solids_kg == pytest.approx(15.592 + 3.909, abs=0.01)
    assert tablet.do("temp_taken", 111, step="temp.1", temp="203 F").outcome == "kept"


def test_an_unlikely_number_is_kept_asked_about_and_counts_once_it_is_confirmed(tablet: Tablet) -> None:
    tablet.do("run_begun", 0)
    answer = tablet.do("charge_weighed", 5, step="charge.1", mass="30 kg")
    assert (answer.outcome, answer.code) == ("questioned", "unlikely-mass")
    assert "Is the unit right?" in answer.remedy
    assert tablet.course(6).charge.solids_kg < 20.0
    key = tablet.log[-1]["key"]
    sent = {"step": "charge.1", "mass": "30 kg", "confirmed": True}
    assert tablet.do("charge_weighed", 7, corrects=key, reason="looked again: it is right", **sent).outcome == "kept"
    assert tablet.course(8).charge.solids_kg > 33.0
    assert Entry.objects.get(number=3).content["confirms"] == 2
    step = tablet.course(8).at("charge.1")
    assert step is not None
    assert step.expected_at == tablet.at(5)


def test_a_temperature_in_the_other_unit_is_asked_about(tablet: Tablet) -> None:
    tablet.do("run_begun", 0)
    answer = tablet.do("temp_taken", 111, step="temp.1", temp="95 F")
    assert (answer.outcome, answer.code) == ("questioned", "unlikely-temperature")
    assert tablet.do("temp_taken", 112, step="temp.1", temp="200 C").outcome == "questioned"


def test_a_step_of_another_kind_or_no_step_at_all_is_refused(tablet: Tablet) -> None:
    tablet.do("run_begun", 0)
    assert tablet.do("skimmed", 5, step="charge.1").code == "no-such-step"
    assert tablet.do("skimmed", 5, step="nothing").code == "no-such-step"
    assert tablet.do("skimmed", 5, step=3).code == "no-such-step"
    assert tablet.do("drawn", 5).code == "no-such-step"


def test_a_temperature_may_be_taken_at_any_time(tablet: Tablet) -> None:
    tablet.do("run_begun", 0)
    assert tablet.do("temp_taken", 40, temp="40 C").outcome == "kept"
    assert [note.text("temp") for note in tablet.course(41).others] == ["40 C"]


def test_a_run_that_nobody_has_begun_takes_no_records(tablet: Tablet) -> None:
    assert tablet.do("filled", 20, step="fill").code == "run-not-begun"


def test_the_same_entry_five_times_is_recorded_once(tablet: Tablet) -> None:
    tablet.do("run_begun", 0)
    boil = tablet.entry("boil_reached", 90, step="boil")
    answers = tablet.post(*[boil] * 5, minute=90)
    assert outcomes(*answers) == ["kept", *["known"] * 4]
    step = tablet.course(91).at("boil")
    assert step is not None
    assert step.also == ()


def test_two_cooks_who_record_the_same_step_are_both_kept(cast: Cast, tablet: Tablet, plan: Plan) -> None:
    other = tablet_of(cast.manager, plan, name="u")
    tablet.do("run_begun", 0)
    tablet.do("charge_weighed", 6, step="charge.1", mass="15.6 kg")
    other.do("charge_weighed", 5, step="charge.1", mass="16 kg")
    step = tablet.course(7).at("charge.1")
    assert step is not None
    assert step.record is not None
    assert (step.record.by, [note.by for note in step.also]) == ("manager", ["cook"])
    assert tablet.course(7).charge.solids_kg == pytest.approx(16.0 + 3.909, abs=0.01)


def test_a_queue_that_comes_late_and_out_of_order_gives_the_same_run(cast: Cast, tablet: Tablet, plan: Plan) -> None:
    begun = tablet.entry("run_begun", 0, step="begin")
    rest = [
        tablet.entry("boil_reached", 92, step="boil"),
        tablet.entry("filled", 20, step="fill"),
        tablet.entry("charge_weighed", 5, step="charge.1", mass="15.6 kg"),
    ]
    assert outcomes(*tablet.post(begun, *rest, minute=200)) == ["kept"] * 4
    course = tablet.course(201)
    assert [each.status for each in course.steps[:2]] == ["done", "done"]
    boil = course.at("boil")
    assert boil is not None
    assert boil.expected_at == tablet.at(92)
    assert [note.kind for note in course.log] == ["run_begun", "charge_weighed", "filled", "boil_reached"]


def test_a_tablet_ten_minutes_slow_records_the_true_time(cast: Cast, tablet: Tablet) -> None:
    slow, now = tablet.at(80), tablet.at(90)
    tablet.do("run_begun", 0)
    sent = tablet.entry("boil_reached", 80, step="boil")
    taken = floor_take(by=cast.cook, body={"device_now": slow.isoformat(), "entries": [sent]}, now=now)
    assert "10 min slow" in taken.notice
    boil = tablet.course(91).at("boil")
    assert boil is not None
    assert boil.expected_at == now


def test_a_night_on_which_the_clocks_change_keeps_the_order_of_what_happened(tablet: Tablet) -> None:
    """01:30 comes twice in the autumn night; the offset says which is meant."""
    zone = ZoneInfo("America/Denver")
    summer = tablet.at(0).replace(year=2026, month=11, day=1, hour=7, minute=30).astimezone(zone)
    winter = tablet.at(0).replace(year=2026, month=11, day=1, hour=8, minute=30).astimezone(zone)
    assert summer.strftime("%H:%M") == winter.strftime("%H:%M") == "01:30"
    sent = []
    for moment in (winter, summer):
        sent.append(tablet.entry("temp_taken", 0, temp="95 C") | {"happened_at": moment.isoformat()})
    tablet.do("run_begun", 0)
    assert outcomes(*tablet.post(*sent, minute=1)) == ["kept", "kept"]
    others = tablet.course(2).others
    assert [note.happened_at for note in others] == [summer.astimezone(UTC), winter.astimezone(UTC)]
    assert (others[1].happened_at - others[0].happened_at) == timedelta(hours=1)


# --- drawing off, undo, ending ----------------------------------------------------------------------------------------


def test_drawing_off_opens_the_cooling_of_the_draw_once(cast: Cast, tablet: Tablet, plan: Plan) -> None:
    tablet.to_draw()
    opened = list(CoolingRecord.objects.filter(run=tablet.record))
    assert [(each.draw, each.opened_at) for each in opened] == [("first", tablet.at(305))]
    tablet_of(cast.manager, plan, name="u").do("drawn", 306, step="draw.first", mass="25 kg")
    assert CoolingRecord.objects.filter(run=tablet.record).count() == len(opened)


def test_hot_litres_become_cold_litres_and_containers(tablet: Tablet) -> None:
    tablet.to_draw()
    draw = tablet.course(306).draws[0]
    assert draw.cold_l < 26.0
    assert [(each.planned, each.possible) for each in draw.filled] == [(5, 5)]
    assert draw.short == ()


def test_portioning_a_reduction_opens_its_cooling(tablet: Tablet) -> None:
    tablet.to_draw()
    tablet.do("refilled", 315, step="refill", mass="25.2 kg")
    tablet.do("boil_reached", 360, step="boil.second")
    tablet.do("drawn", 495, step="draw.second", mass="18.5 kg")
    assert set(CoolingRecord.objects.values_list("draw", flat=True)) == {"first"}
    tablet.do("reduction_checked", 640, step="reduced", mass="1.3 kg", brix="20")
    tablet.do("portioned", 655, step="portion", count="1")
    assert set(CoolingRecord.objects.values_list("draw", flat=True)) == {"first", "reduction"}


def test_undo_is_a_correcting_entry_and_nothing_is_deleted(tablet: Tablet) -> None:
    tablet.do("run_begun", 0)
    tablet.do("boil_reached", 60, step="boil")
    key = tablet.log[-1]["key"]
    assert tablet.do("withdrawn", 61, corrects=key).code == "reason-missing"
    assert tablet.do("withdrawn", 61, corrects=key, reason="pressed by mistake").outcome == "kept"
    boil = tablet.course(62).at("boil")
    assert boil is not None
    assert boil.record is None
    assert Entry.objects.count() == 3
    again = tablet.do("withdrawn", 62, corrects=key, reason="pressed by mistake")
    assert again.code == "corrected-already"


def test_undoing_a_draw_says_that_its_cooling_log_stays_open(tablet: Tablet) -> None:
    tablet.to_draw()
    answer = tablet.do("withdrawn", 306, corrects=tablet.log[-1]["key"], reason="wrong number")
    assert answer.outcome == "kept"
    assert "cooling log stays open" in answer.sentence


def test_a_beginning_cannot_be_taken_back_but_the_run_can_be_broken_off(tablet: Tablet) -> None:
    tablet.do("run_begun", 0)
    answer = tablet.do("withdrawn", 1, corrects=tablet.log[-1]["key"], reason="wrong run")
    assert answer.code == "not-to-be-taken-back"
    assert tablet.do("run_broken_off", 2, why="wrong run", contents="nothing").outcome == "kept"


def test_a_record_of_one_run_cannot_be_corrected_from_another(cast: Cast, tablet: Tablet, plan: Plan) -> None:
    other = tablet_of(cast.cook, plan, code="R03", name="o")
    tablet.do("run_begun", 0)
    other.do("run_begun", 0)
    tablet.do("boil_reached", 60, step="boil")
    key = tablet.log[-1]["key"]
    assert other.do("withdrawn", 61, corrects=key, reason="slip").outcome == "refused"
    assert other.do("boil_reached", 61, step="boil", corrects=key, reason="slip").code == "corrects-something-else"


def test_a_run_is_closed_once_its_draw_is_recorded(cast: Cast, tablet: Tablet, plan: Plan) -> None:
    tablet.do("run_begun", 0)
    assert tablet.do("run_finished", 100, step="finish").code == "draw-missing"
    tablet.do("drawn", 305, step="draw.first", mass="25 kg")
    assert tablet.do("run_finished", 700, step="finish").outcome == "kept"
    assert (tablet.record.state, tablet.record.ended_at) == ("finished", tablet.at(700))
    other = tablet_of(cast.manager, plan, name="u")
    assert other.post(other.entry("run_finished", 699, step="finish"), minute=702)[0].outcome == "kept"
    assert other.do("run_finished", 702, step="finish").outcome == "kept"
    assert tablet.record.ended_at == tablet.at(699)


def test_after_its_end_a_run_takes_what_happened_before_and_corrections_only(tablet: Tablet) -> None:
    tablet.do("run_begun", 0)
    tablet.do("drawn", 305, step="draw.first", mass="25 kg")
    key = tablet.log[-1]["key"]
    tablet.do("run_finished", 700)
    late = tablet.entry("washed", 690, step="wash")
    after = tablet.entry("washed", 710, step="wash")
    correction = tablet.entry("drawn", 711, step="draw.first", mass="24 kg", corrects=key, reason="read it wrongly")
    answers = tablet.post(late, after, correction, minute=720)
    assert outcomes(*answers) == ["kept", "refused", "kept"]
    assert answers[1].code == "run-over"
    assert tablet.course(721).draws[0].mass_kg == 24.0


def test_closing_by_mistake_can_be_taken_back(tablet: Tablet) -> None:
    tablet.do("run_begun", 0)
    tablet.do("drawn", 305, step="draw.first", mass="25 kg")
    tablet.do("run_finished", 310)
    tablet.do("withdrawn", 311, corrects=tablet.log[-1]["key"], reason="pressed by mistake")
    assert (tablet.record.state, tablet.record.ended_at) == ("under_way", None)
    assert tablet.do("washed", 320, step="wash").outcome == "kept"


def test_breaking_off_says_why_and_what_becomes_of_the_content(tablet: Tablet) -> None:
    tablet.do("run_begun", 0)
    for content in ({}, {"why": "the pot leaks"}, {"why": "", "contents": "held"}, {"why": "x", "contents": "eaten"}):
        assert tablet.do("run_broken_off", 200, **content).code == "break-off-unclear"
    assert tablet.do("run_broken_off", 200, why="the pot leaks", contents="discarded").outcome == "kept"
    assert (tablet.record.state, tablet.record.ended_at) == ("broken_off", tablet.at(200))
    assert tablet.do("run_broken_off", 201, why="again", contents="discarded").code == "run-over"
    assert tablet.do("boil_reached", 210, step="boil").code == "run-over"
    assert tablet.do("run_begun", 211).code == "run-over"
    live = run_live(by=tablet.by, starts_on=tablet.week.starts_on, code=RUN, now=tablet.at(220))
    assert live.asks == (RunLost(run=RUN, reason="the pot leaks"),)


def test_breaking_off_holds_the_lots_that_could_leave(cast: Cast, tablet: Tablet) -> None:
    tablet.to_draw()
    lots = [_lot(cast, tablet, code, status) for code, status in (("AAA1", "free"), ("AAA2", "discarded"))]
    answer = tablet.do("run_broken_off", 400, why="glass in the pot", contents="held")
    assert answer.sentence == "Held until somebody decides: AAA1."
    assert [Lot.objects.get(pk=lot.pk).status for lot in lots] == ["held", "discarded"]
    assert Entry.objects.filter(kind="lot_held", subject="lot/AAA1").count() == 1


def _lot(cast: Cast, tablet: Tablet, code: str, status: str) -> Lot:
    product = Product.objects.get(kitchen=cast.kitchen, code="poultry-5")
    return Lot.objects.create(
        kitchen=cast.kitchen,
        code=code,
        product=product,
        run=tablet.record,
        containers=5,
        left=5,
        made_on=tablet.week.starts_on,
        packed_at=tablet.at(390),
        use_by=tablet.week.starts_on + timedelta(days=6),
        store=Store.objects.get(kitchen=cast.kitchen, code="walk-in"),
        status=status,
    )


def test_a_run_that_is_shown_otherwise_than_it_was_written_down_is_found(tablet: Tablet, cast: Cast) -> None:
    tablet.do("run_begun", 0)
    tablet.do("drawn", 305, step="draw.first", mass="25 kg")
    tablet.do("run_finished", 310)
    tablet.do("withdrawn", 311, corrects=tablet.log[-1]["key"], reason="pressed by mistake")
    assert list(runs_check(cast.kitchen.pk)) == []
    tablet.do("run_finished", 400)
    assert list(runs_check(cast.kitchen.pk)) == []
    RunRecord.objects.update(state="broken_off")
    assert "broken_off" in next(runs_check(cast.kitchen.pk)).sentence
    RunRecord.objects.update(state="finished", begun_at=tablet.at(-60))
    assert next(runs_check(cast.kitchen.pk)).sentence
    RunRecord.objects.update(subject="run/2027-02-01/R99")
    assert len(list(runs_check(cast.kitchen.pk))) == 2  # one is missing, one was never begun


# --- who may ----------------------------------------------------------------------------------------------------------


def test_a_run_of_another_kitchen_is_not_found(cast: Cast, tablet: Tablet) -> None:
    tablet.do("run_begun", 0)
    foreign = tablet.entry("boil_reached", 60, step="boil")
    answer = floor_take(by=cast.outsider, body={"entries": [foreign]}, now=tablet.at(61)).answers[0]
    assert answer.outcome == "refused"
    begin = tablet.entry("run_begun", 60)
    assert floor_take(by=cast.outsider, body={"entries": [begin]}, now=tablet.at(61)).answers[0].code == "not-found"
    with pytest.raises(Http404):
        run_live(by=cast.outsider, starts_on=tablet.week.starts_on, code=RUN, now=tablet.at(61))
    assert Entry.objects.count() == 1


def test_a_subject_that_is_no_run_is_not_found(tablet: Tablet) -> None:
    for subject in (
        "run/2027-02-01/",
        "run/nonsense/R05",
        "run/2027-13-01/R05",
        "run/2027-03-01/R05",
        "cooling/x",
        "R05",
    ):
        sent = tablet.entry("run_begun", 0) | {"subject": subject}
        assert tablet.post(sent, minute=1)[0].code == "not-found", subject
        assert tablet.post(sent | {"kind": "filled"}, minute=1)[0].outcome == "refused", subject


# --- the board --------------------------------------------------------------------------------------------------------


def test_the_board_shows_what_is_to_begin_under_way_and_over(cast: Cast, plan: Plan, tablet: Tablet) -> None:
    board = floor_board(by=cast.cook, week=plan.week, now=tablet.at(0))
    assert [run.code for run in board.to_begin] == ["R01", "R02", "R05", "R03", "R04"]
    tablet.to_draw()
    ended = tablet_of(cast.cook, plan, code="R03", name="e")
    ended.do("run_begun", 0)
    ended.do("run_broken_off", 10, why="no fish", contents="nothing")
    board = floor_board(by=cast.cook, week=plan.week, now=tablet.at(310))
    assert [run.code for run in board.to_begin] == ["R01", "R02", "R04"]
    assert [(run.code, run.cooling) for run in board.under_way] == [("R05", 1)]
    assert board.under_way[0].course is not None
    assert board.under_way[0].course.current is not None
    assert [(run.code, run.state) for run in board.over] == [("R03", "broken_off")]
    assert board.cooling == 1


def test_the_board_without_a_published_plan_is_empty(cast: Cast, planning_week: PlanningWeek) -> None:
    board = floor_board(by=cast.cook, week=planning_week, now=timezone.now())
    assert (board.plan_number, board.to_begin, board.under_way, board.over) == (None, (), (), ())


def test_the_board_asks_no_more_questions_when_more_is_under_way(cast: Cast, plan: Plan, tablet: Tablet) -> None:

    def queries() -> int:
        with CaptureQueriesContext(connection) as found:
            floor_board(by=cast.cook, week=plan.week, now=tablet.at(310))
        return len(found)

    tablet.do("run_begun", 0)
    few = queries()
    tablet.to_draw()
    for code in ("R01", "R02", "R03"):
        other = tablet_of(cast.cook, plan, code=code, name=code)
        other.do("run_begun", 0)
    assert queries() == few


def test_the_page_of_a_run_asks_no_more_questions_when_more_is_recorded(cast: Cast, plan: Plan, tablet: Tablet) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as found:
            run_live(by=cast.cook, starts_on=plan.week.starts_on, code=RUN, now=tablet.at(310))
        return len(found)

    tablet.do("run_begun", 0)
    few = queries()
    tablet.to_draw()
    assert queries() == few <= 4


def test_a_whole_week_is_recorded_through_the_door(cast: Cast, plan: Plan, tablet: Tablet) -> None:
    for run in sorted(tablet.content.runs, key=lambda each: each.start_at):
        here = tablet_of(cast.cook, plan, code=run.code, name=run.code)
        entries = []
        for step in planned_steps(tablet.content, planned_sheet(content=tablet.content, code=run.code)):
            minute = (step.planned_at - run.start_at) / timedelta(minutes=1)
            typed: dict[str, Any] = {
                box.name: f"{box.expected:.3f} {box.unit.removeprefix('deg')}" for box in step.fields if box.expected
            }
            if step.kind in ("trayed", "portioned"):
                typed = {"count": str(round(step.fields[0].expected or 0))}
            if step.repeats:
                typed = {"mass": "10 kg"}
            entries.append(here.entry(step.kind, minute, step=step.code, **typed))
        assert set(outcomes(*here.post(*entries, minute=minute))) == {"kept"}
        assert {each.status for each in here.course(minute).steps} == {"done"}
    assert set(RunRecord.objects.values_list("state", flat=True)) == {"finished"}
    drawn = {(each.run.code, each.draw) for each in CoolingRecord.objects.select_related("run")}
    assert drawn == {(run.code, draw.name) for run in tablet.content.runs for draw in run.draws}
    assert list(runs_check(cast.kitchen.pk)) == []


# --- at the same moment -----------------------------------------------------------------------------------------------


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_at_the_same_moment_one_run_is_begun_and_every_record_is_kept(cast: Cast, planning_week: PlanningWeek) -> None:
    plan = published(cast, planning_week)
    hands = (tablet_of(cast.cook, plan, name="a"), tablet_of(cast.manager, plan, name="b"))
    together = threading.Barrier(2)
    found: list[str] = []

    def cook(tablet: Tablet) -> None:
        together.wait()
        try:
            begun = tablet.entry("run_begun", 0, step="begin")
            boil = tablet.entry("boil_reached", 90, step="boil")
            drawn = tablet.entry("drawn", 300, step="draw.first", mass="25 kg")
            found.extend(answer.outcome for answer in tablet.post(begun, boil, drawn, minute=300))
        finally:
            connection.close()

    threads = [threading.Thread(target=cook, args=(tablet,)) for tablet in hands]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == ["kept"] * 6
    assert RunRecord.objects.count() == 1
    assert CoolingRecord.objects.count() == 1
    boil = hands[0].course(301).at("boil")
    assert boil is not None
    assert len(boil.also) == 1


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_the_same_entry_sent_twice_at_the_same_moment_is_kept_once(cast: Cast, planning_week: PlanningWeek) -> None:
    plan = published(cast, planning_week)
    tablet = tablet_of(cast.cook, plan)
    tablet.do("run_begun", 0)
    boil = tablet.entry("boil_reached", 90, step="boil")
    together = threading.Barrier(2)
    found: list[str] = []

    def send() -> None:
        together.wait()
        try:
            found.append(tablet.post(boil, minute=90)[0].outcome)
        finally:
            connection.close()

    threads = [threading.Thread(target=send) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(found) == ["kept", "known"]
    assert Entry.objects.filter(kind="boil_reached").count() == 1
