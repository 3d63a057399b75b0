"""The live batch sheet: steps, who did them, what counts, and when the rest is expected."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.domain.kitchen import IngredientStock, Shift
from production.domain.plan import BoilAt, Plan, RunLost, StartedAt, make_plan
from production.domain.records.course import Running, asks_suggested, course_of, planned_steps
from production.domain.records.course_content import Course, Noted, State
from production.domain.sheets import BatchSheet, batch_sheets
from tests.builders import ZONE, a_line, at, small_kitchen
from tests.domain.records.course_notes import Pencil, drawn_once, loaded, reducing, run_of, sheet_of, the_plan


def statuses(course: Course) -> dict[str, str]:
    return {each.step.code: each.status for each in course.steps}


def test_the_sheet_is_taken_apart_into_steps_in_the_order_of_work() -> None:
    steps = planned_steps(the_plan(), sheet_of())
    codes = [step.code for step in steps]
    assert codes[:5] == ["begin", "charge.1", "charge.2", "fill", "boil"]
    assert codes[-4:] == ["reduced", "portion", "wash", "finish"]
    assert codes.index("draw.first") < codes.index("refill") < codes.index("draw.second") < codes.index("reduce")
    assert len(set(codes)) == len(codes)
    times = [step.planned_at for step in steps]
    assert times == sorted(times)


def test_each_addition_stands_at_its_time_with_its_weight() -> None:
    onion = next(step for step in planned_steps(the_plan(), sheet_of()) if step.code == "add.4")
    line = sheet_of().charge[3]
    assert (onion.planned_at, onion.title) == (line.add_at, "Add Onion")
    box = onion.field("mass")
    assert box is not None
    assert box.expected == pytest.approx(line.mass_kg)


def test_small_weights_are_told_in_grams() -> None:
    bay = next(step for step in planned_steps(the_plan(), sheet_of()) if step.code == "add.5")
    assert bay.do == "Add 39 g of Bay leaf."


def test_the_temperature_is_asked_for_at_the_start_and_each_hour() -> None:
    steps = [
        step
        for step in planned_steps(the_plan(), sheet_of())
        if step.code.startswith("temp.") and "second" not in step.code
    ]
    simmer = next(stage for stage in sheet_of().stages if stage.kind == "simmer")
    assert [step.planned_at - simmer.start_at for step in steps[:3]] == [timedelta(hours=n) for n in range(3)]


def test_a_run_that_has_not_begun_shows_its_first_step_and_the_two_after_it() -> None:
    course = Pencil().course(-30, state="not_begun")
    assert course.current is not None
    assert course.current.step.code == "begin"
    assert [each.step.code for each in course.following] == ["charge.1", "charge.2"]
    assert course.timers == ()
    assert course.lateness.minutes == 0


def test_a_run_that_is_not_begun_in_time_is_not_reckoned_with_the_clock_yet() -> None:
    assert Pencil().course(45, state="not_begun").lateness.minutes == 0


def test_what_is_done_says_who_and_when_and_the_next_step_is_the_current_one() -> None:
    course = loaded().course(10)
    begun = course.at("begin")
    assert begun is not None
    assert begun.record is not None
    assert (begun.status, begun.record.by) == ("done", "Ada")
    assert course.current is not None
    assert course.current.step.code == "fill"


def test_additions_stay_open_while_later_things_are_recorded_until_the_draw() -> None:
    pencil = loaded()
    pencil.note("boil", "boil_reached", 90)
    pencil.note("skim", "skimmed", 110)
    pencil.note("temp.3", "temp_taken", 240, temp="95 C")
    open_still = statuses(pencil.course(241))
    assert open_still["add.4"] == "current"
    assert open_still["fill"] == open_still["temp.1"] == "skipped"
    pencil.note("draw.first", "drawn", 300, mass="25 kg")
    assert statuses(pencil.course(301))["add.4"] == "skipped"


def test_a_skipped_step_may_still_be_recorded() -> None:
    pencil = drawn_once()
    assert statuses(pencil.course(306))["temp.2"] == "skipped"
    pencil.note("temp.2", "temp_taken", 170, temp="94 C")
    assert statuses(pencil.course(310))["temp.2"] == "done"


def test_of_two_cooks_who_record_the_same_step_the_first_counts_and_the_second_is_shown() -> None:
    pencil = loaded()
    pencil.note("boil", "boil_reached", 92, by="Berta")
    pencil.note("boil", "boil_reached", 90, by="Ada")  # came in later, happened earlier
    boil = pencil.course(100).at("boil")
    assert boil is not None
    assert boil.record is not None
    assert boil.record.by == "Ada"
    assert [note.by for note in boil.also] == ["Berta"]


def test_a_correction_takes_the_place_of_what_it_corrects() -> None:
    pencil = loaded(frames="51.6 kg")
    wrong = pencil.notes[1]
    pencil.note("charge.1", "charge_weighed", 9, by="Berta", mass="16 kg")
    pencil.note("charge.1", "charge_weighed", 20, corrects=wrong, mass="15.6 kg")
    step = pencil.course(21).at("charge.1")
    assert step is not None
    assert step.record is not None
    assert step.record.text("mass") == "15.6 kg"
    assert [note.by for note in step.also] == ["Berta"]
    assert wrong.key in pencil.course(21).withdrawn
    assert wrong in pencil.course(21).log


def test_undo_makes_a_step_open_again_and_undoing_the_undo_closes_it() -> None:
    pencil = loaded()
    boil = pencil.note("boil", "boil_reached", 60)
    undo = pencil.withdraw(boil, 61)
    assert statuses(pencil.course(62))["boil"] == "next"
    pencil.withdraw(undo, 63)
    assert statuses(pencil.course(64))["boil"] == "done"


@given(st.randoms(use_true_random=False))
def test_the_order_of_arrival_does_not_matter(rng: random.Random) -> None:
    pencil = drawn_once()
    pencil.note("boil", "boil_reached", 95, by="Berta")
    pencil.withdraw(pencil.notes[5], 120)
    wanted = pencil.course(320)
    mixed = list(pencil.notes)
    rng.shuffle(mixed)
    assert pencil.course(320, notes=mixed) == wanted


def test_the_same_entry_five_times_is_one_record() -> None:
    pencil = loaded()
    five = [*pencil.notes, *[pencil.notes[-1]] * 4]
    assert pencil.course(10, notes=five).at("charge.2") == pencil.course(10).at("charge.2")


def test_a_late_boil_pushes_what_comes_after_it() -> None:
    pencil = loaded()
    pencil.note("boil", "boil_reached", 130)  # 40 min after plan
    course = pencil.course(131)
    for code in ("skim", "add.4", "draw.first", "reduced", "wash"):
        each = course.at(code)
        assert each is not None
        assert each.expected_at - each.step.planned_at == timedelta(minutes=40), code
    assert course.lateness.minutes == 40


def test_a_boil_that_does_not_come_pushes_with_the_clock() -> None:
    course = loaded().course(150)
    boil, draw = course.at("boil"), course.at("draw.first")
    assert boil is not None
    assert draw is not None
    assert boil.expected_at == loaded().at(150)
    assert draw.expected_at - draw.step.planned_at == timedelta(minutes=60)


def test_what_comes_early_pulls_nothing_forward() -> None:
    pencil = loaded()
    pencil.note("boil", "boil_reached", 60)
    course = pencil.course(61)
    draw = course.at("draw.first")
    assert draw is not None
    assert draw.expected_at == draw.step.planned_at
    assert course.lateness.minutes == 0


def test_lateness_can_be_made_good() -> None:
    pencil = loaded()
    pencil.note("boil", "boil_reached", 130)
    pencil.note("draw.first", "drawn", 305, mass="25 kg")
    assert pencil.course(306).lateness.minutes == 0


def test_timers_wait_for_the_next_addition_temperature_and_draw() -> None:
    pencil = loaded()
    pencil.note("boil", "boil_reached", 90)
    pencil.note("skim", "skimmed", 110)
    timers = {timer.label: timer for timer in pencil.course(112).timers}
    assert timers["next addition"].step == "add.4"
    assert timers["next addition"].until == sheet_of().charge[3].add_at
    assert timers["draw-off"].step == "draw.first"
    assert "boil" in timers  # the second one, after the refill
    until = [timer.until for timer in pencil.course(112).timers]
    assert until == sorted(until)


def test_a_run_that_is_over_waits_for_nothing() -> None:
    over: tuple[State, ...] = ("finished", "broken_off")
    for state in over:
        course = drawn_once().course(400, state=state)
        assert course.current is None
        assert course.timers == ()
        assert set(statuses(course).values()) == {"done", "skipped"}


def test_readings_of_a_reduction_are_kept_as_a_series() -> None:
    pencil = reducing()
    for minute, mass in ((510, "17 kg"), (540, "12 kg"), (560, "9 kg")):
        pencil.note("reduce", "reduction_checked", minute, mass=mass)
    step = pencil.course(561).at("reduce")
    assert step is not None
    assert step.record is not None
    assert (step.status, step.record.text("mass"), len(step.also)) == ("current", "9 kg", 2)


def test_a_temperature_between_belongs_to_no_step_and_is_kept() -> None:
    pencil = loaded()
    extra = pencil.note("", "temp_taken", 40, temp="60 C")
    assert extra in pencil.course(41).others


def test_the_planner_would_be_told_of_a_late_start_and_a_late_boil() -> None:
    pencil = Pencil()
    pencil.note("begin", "run_begun", 30)
    running = Running(the_plan(), sheet_of(), "under_way", tuple(pencil.notes))
    started, boils = asks_suggested(running, pencil.course(31))
    assert started == StartedAt(run="R05", start_at=pencil.at(30))
    assert boils == BoilAt(run="R05", boil_at=pencil.at(90 + 30))


def test_the_planner_would_be_told_nothing_of_a_run_on_time() -> None:
    pencil = drawn_once()
    assert asks_suggested(Running(the_plan(), sheet_of(), "under_way", tuple(pencil.notes)), pencil.course(306)) == ()


def test_the_planner_would_be_told_that_a_run_broken_off_is_lost() -> None:
    pencil = drawn_once()
    broken = pencil.note("", "run_broken_off", 310, why="the pot leaks")
    running = Running(the_plan(), sheet_of(), "broken_off", tuple(pencil.notes))
    assert asks_suggested(running, pencil.course(311, state="broken_off")) == (
        RunLost(run="R05", reason="the pot leaks"),
    )
    assert broken in pencil.course(311, state="broken_off").others


def test_every_step_of_every_run_can_be_recorded_in_turn() -> None:
    for run in the_plan().runs:
        pencil = Pencil(run.code)
        for step in planned_steps(the_plan(), sheet_of(run.code)):
            minute = (step.planned_at - pencil.start) / timedelta(minutes=1)
            course = pencil.course(minute)
            assert step.code in {each.step.code for each in course.steps if each.status in ("current", "next")}
            typed: dict[str, Any] = {
                box.name: f"{box.expected:.6f} {box.unit.removeprefix('deg')}" for box in step.fields if box.expected
            }
            if step.kind in ("trayed", "portioned"):
                typed = {"count": str(round(step.fields[0].expected or 0))}
            if step.repeats:
                typed = {"mass": "10 kg"}
            pencil.note(step.code, step.kind, minute, **typed)
        course = pencil.course(minute, state="finished")
        assert {each.status for each in course.steps} == {"done"}
        assert course.lateness.minutes == 0


def test_a_broken_record_of_an_older_program_counts_as_a_tap() -> None:
    pencil = loaded(frames="many")
    course = pencil.course(10)
    assert statuses(course)["charge.1"] == "done"
    assert course.charge.solids_kg == pytest.approx(run_of().charge.items[0].mass_kg + 3.9)


def test_a_record_that_is_asked_about_does_not_change_the_numbers_until_it_is_confirmed() -> None:
    pencil = loaded()
    pencil.notes[1] = replace(pencil.notes[1], content={"step": "charge.1", "mass": "50 kg", "question": "unlikely"})
    course = pencil.course(10)
    step = course.at("charge.1")
    assert step is not None
    assert step.is_asked_about
    assert course.charge.solids_kg < 25.0
    pencil.note("charge.1", "charge_weighed", 5, corrects=pencil.notes[1], mass="50 kg", confirmed=True)
    assert pencil.course(11).charge.solids_kg > 50.0


def spring_night() -> tuple[Plan, BatchSheet]:
    """A run over the night in which the clocks of Denver go forward, from 02:00 to 03:00."""
    week = small_kitchen(
        starts_on=date(2027, 3, 12),
        plan_from=at("2027-03-12 09:00"),
        shifts=(Shift(person="ana", start=at("2027-03-13 22:00"), end=at("2027-03-14 09:00")),),
        ingredient_stock=tuple(
            IngredientStock(code=f"S-{code}", ingredient=code, mass_kg=80.0, use_by=date(2027, 3, 20))
            for code in ("frames", "feet", "onion", "bay")
        ),
        order_lines=(a_line(containers=3, dispatch_at=at("2027-03-14 20:30")),),
    )
    plan = make_plan(week=week)
    return plan, batch_sheets(plan)[0]


def test_a_night_on_which_the_clocks_change_keeps_its_true_length() -> None:
    plan, sheet = spring_night()
    steps = {step.code: step for step in planned_steps(plan, sheet)}
    begun, drawn = steps["begin"].planned_at.astimezone(ZONE), steps["draw.first"].planned_at.astimezone(ZONE)
    assert begun.utcoffset() != drawn.utcoffset()
    late = drawn.astimezone(UTC) + timedelta(minutes=30)
    notes = (
        _note(1, "begin", "run_begun", begun),
        _note(2, "boil", "boil_reached", steps["boil"].planned_at.astimezone(ZONE)),
        _note(3, "draw.first", "drawn", late.astimezone(ZONE), mass="15 kg"),
    )
    course = course_of(Running(plan, sheet, "under_way", notes), now=late)
    assert course.lateness.minutes == 30
    wash = course.at("wash")
    assert wash is not None
    assert wash.expected_at == wash.step.planned_at + timedelta(minutes=30)


def _note(number: int, step: str, kind: str, when: datetime, **content: str) -> Noted:
    return Noted(
        number=number,
        key=str(number),
        kind=kind,
        content={"step": step, **content},
        happened_at=when,
        made_at=when,
        by="Ada",
        role="cook",
    )
