"""Who has to wait when a run is late."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from production.domain.records.course import Running, course_of
from production.domain.records.course_content import Lateness
from tests.domain.records.course_notes import Pencil, loaded, run_of, sheet_of, the_plan


def late_by(minutes: float, code: str = "R01") -> Lateness:
    """A run whose boil comes so much later."""
    pencil = Pencil(code)
    boil = next(stage for stage in sheet_of(code).stages if stage.kind == "heat_up")
    planned = (boil.end_at - pencil.start).total_seconds() / 60.0
    pencil.note("begin", "run_begun", 0)
    pencil.note("boil", "boil_reached", planned + minutes)
    return pencil.course(planned + minutes).lateness


def test_a_few_minutes_are_not_told() -> None:
    assert late_by(4) == Lateness(minutes=0, end_at=run_of("R01").end_at)


def test_the_next_run_of_the_pot_is_told() -> None:
    """R02 follows R01 in the same pot without a break."""
    found = late_by(40)
    pots = [each for each in found.affected if each.kind == "pot"]
    assert [each.name for each in pots] == ["R02"]
    assert pots[0].planned_at == run_of("R02").start_at
    assert pots[0].now_at == pots[0].planned_at + timedelta(minutes=40)
    assert "R02 is to begin in Tall 100" in pots[0].sentence
    assert found.offers_replan
    assert found.minutes == 40


def test_a_dispatch_that_would_be_missed_is_told() -> None:
    run = run_of("R01")
    slack_min = (run.batch.first[0].pegs[0].dispatch_at - run.draws[0].ready_at).total_seconds() / 60.0
    in_time, missed = (
        [each for each in late_by(slack_min + more).affected if each.kind == "dispatch"] for more in (-10.0, 10.0)
    )
    assert in_time == []
    assert [each.name for each in missed] == ["Corner bistro"]
    assert "3 × Poultry broth 5 L for Corner bistro leave Wednesday 09:00" in missed[0].sentence
    assert missed[0].now_at == missed[0].planned_at + timedelta(minutes=10)


def test_a_cooling_place_that_another_draw_wants_is_told() -> None:
    """With one place fewer than both need, the draw of R03 finds the sink still taken by R04's late one."""
    plan = the_plan()
    first, second = run_of("R03"), run_of("R04")
    gap = (second.draws[0].start_at - first.draws[0].end_at).total_seconds() / 60.0
    sinks = tuple(replace(each, places=1) if each.code == "sink" else each for each in plan.week.cooling_devices)
    narrow = replace(plan, week=replace(plan.week, cooling_devices=sinks))
    pencil = Pencil("R03")
    pencil.note("begin", "run_begun", max(0.0, gap) + 30.0)
    running = Running(narrow, sheet_of("R03"), "under_way", tuple(pencil.notes))
    found = course_of(running, now=pencil.at(max(0.0, gap) + 30.0)).lateness
    told = [each for each in found.affected if each.kind == "cooling"]
    assert [each.name for each in told] == ["R04, Ice sink"]
    assert "1 of its 1 places" in told[0].sentence


def test_with_places_enough_nobody_waits_for_cooling() -> None:
    assert not [each for each in late_by(60, "R03").affected if each.kind == "cooling"]


def test_a_late_run_that_nobody_waits_for_says_so() -> None:
    pencil = loaded()
    pencil.note("boil", "boil_reached", 100)
    found = pencil.course(101).lateness
    assert found.sentence == "R05 is about 10 min late. Nobody else has to wait for it so far."
    assert not found.offers_replan


def test_a_run_that_was_broken_off_tells_what_it_will_not_give() -> None:
    pencil = Pencil("R01")
    pencil.note("begin", "run_begun", 0)
    found = pencil.course(100, state="broken_off").lateness
    assert found.is_lost
    assert found.offers_replan
    assert found.affected[0].sentence == (
        "3 × Poultry broth 5 L for Corner bistro leave Wednesday 09:00; this run does not make them any more."
    )


def test_a_run_that_was_broken_off_after_its_draw_has_lost_nothing() -> None:
    pencil = Pencil("R01")
    pencil.note("begin", "run_begun", 0)
    pencil.note("draw.first", "drawn", 290, mass="15 kg")
    found = pencil.course(300, state="broken_off").lateness
    assert (found.is_lost, found.affected, found.offers_replan) == (False, (), False)
