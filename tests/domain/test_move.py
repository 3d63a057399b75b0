"""What the planner says to a run that is moved by hand."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import timedelta
from functools import cache
from pathlib import Path

import pytest

from production.domain.errors import PotwrightError
from production.domain.plan import MoveVerdict, Plan, PlannedRun, judge_move, make_plan
from production.domain.plan.rebuild import rebuilt
from production.domain.schedule.check import check_schedule
from production.domain.week_file import parse_week
from tests.builders import a_week

FIXTURES = Path(__file__).parents[2] / "fixtures"
HOUR = timedelta(hours=1)


@cache
def demo() -> Plan:
    return make_plan(week=parse_week((FIXTURES / "demo_week.json").read_bytes()))


def run_of(code: str) -> PlannedRun:
    return next(run for run in demo().runs if run.code == code)


def moved(run: PlannedRun, *, by: timedelta = timedelta(), pot: str = "") -> MoveVerdict:
    return judge_move(demo(), run=run.code, pot=pot or run.pot, start_at=run.start_at + by)


def test_the_problem_of_a_plan_is_made_again_as_it_was() -> None:
    known = rebuilt(demo())
    assert check_schedule(known.problem, known.schedule) == ()
    assert [run.job for run in known.schedule.runs] == [run.code for run in demo().runs]


@pytest.mark.parametrize("code", [run.code for run in demo().runs])
def test_every_run_fits_where_it_is(code: str) -> None:
    verdict = moved(run_of(code))
    assert verdict.fits, verdict.sentences
    assert verdict.later_h == 0
    assert verdict.end_at == run_of(code).end_at


def test_a_pot_that_holds_another_run_is_named_with_that_run_and_its_time() -> None:
    runs = sorted(demo().runs, key=lambda run: run.start_at)
    first, second = next(
        (a, b)
        for a in runs
        for b in runs
        if a.pot == b.pot and a.start_at < b.start_at and a.end_at > a.start_at + HOUR
    )
    verdict = judge_move(demo(), run=second.code, pot=first.pot, start_at=first.start_at + timedelta(minutes=30))
    assert not verdict.fits
    pot = demo().week.get("pots", first.pot).name
    assert any(pot in each and first.code in each for each in verdict.sentences)


def test_work_in_the_night_is_told_as_nobody_being_there() -> None:
    run = run_of(demo().runs[-1].code)
    local = run.start_at.astimezone(rebuilt(demo()).frame.zone)
    night = local.replace(hour=1, minute=0)
    verdict = judge_move(demo(), run=run.code, pot=run.pot, start_at=night)
    assert not verdict.fits
    assert any("nobody is in the kitchen" in each for each in verdict.sentences)


def test_every_verdict_is_told_in_sentences() -> None:
    for run in demo().runs:
        for pot in demo().week.pots:
            verdict = moved(run, pot=pot.code, by=2 * HOUR)
            assert verdict.sentences
            assert all(each.endswith(".") for each in verdict.sentences)


def test_a_pot_that_is_too_small_or_kept_for_other_formulas_is_told() -> None:
    tall, wide = a_week().pots
    plan = make_plan(week=replace(a_week(), pots=(tall, replace(wide, formulas=("fish",)))))
    poultry = next(run for run in plan.runs if run.formula == "poultry")
    verdict = judge_move(plan, run=poultry.code, pot="wide", start_at=poultry.start_at)
    assert (verdict.never, verdict.sentences) == (True, ("Poultry broth may not be made in Wide 45.",))
    small = replace(a_week(), pots=(tall, replace(wide, inner_height_mm=120.0)))
    plan = make_plan(week=small)
    poultry = next(run for run in plan.runs if run.formula == "poultry")
    verdict = judge_move(plan, run=poultry.code, pot="wide", start_at=poultry.start_at)
    assert "too small, or too large" in verdict.sentences[0]


def test_a_run_that_has_been_begun_stays() -> None:
    run = min(demo().runs, key=lambda run: run.start_at)
    later = replace(demo(), week=replace(demo().week, plan_from=run.start_at + HOUR), mark="later")
    verdict = judge_move(later, run=run.code, pot=run.pot, start_at=run.start_at + 2 * HOUR)
    assert verdict.sentences == (f"{run.code} has been begun: it stays where it is.",)


def test_unknown_runs_and_pots_are_told() -> None:
    run = demo().runs[0]
    assert judge_move(demo(), run="R99", pot=run.pot, start_at=run.start_at).sentences == (
        "There is no run R99 in this plan.",
    )
    assert moved(run, pot="nowhere").sentences == ("The kitchen has no pot nowhere.",)


def test_a_move_that_makes_an_order_late_says_by_how_much() -> None:
    """The small kitchen is idle most of the week, so a run can move behind its dispatch."""
    plan = make_plan(week=a_week())
    run = next(run for run in plan.runs if any(peg.line == "L1" for part in run.batch.portions for peg in part.pegs))
    for hours in range(12, 100):
        verdict = judge_move(plan, run=run.code, pot=run.pot, start_at=run.start_at + hours * HOUR)
        if verdict.fits and verdict.later_h > 0:
            break
    assert verdict.lateness_after_h > verdict.lateness_before_h == 0
    assert any("weighted h later in all" in each for each in verdict.sentences)


def test_a_verdict_takes_less_than_a_third_of_a_second_once_the_plan_is_known() -> None:
    rebuilt(demo())
    run = demo().runs[3]
    begin = time.process_time()
    for step in range(10):
        moved(run, by=step * HOUR)
    assert (time.process_time() - begin) / 10 < 0.3


def test_a_plan_whose_runs_would_no_longer_be_planned_so_is_refused_with_what_to_do() -> None:
    plan = make_plan(week=a_week())
    shallow = tuple(replace(pot, inner_height_mm=90.0) for pot in plan.week.pots)
    other = replace(plan, week=replace(plan.week, pots=shallow), mark="another")
    with pytest.raises(PotwrightError) as refused:
        judge_move(other, run=plan.runs[0].code, pot=plan.runs[0].pot, start_at=plan.runs[0].start_at)
    assert refused.value.code == "plan-of-other-coefficients"
    assert refused.value.remedy == "Re-plan, and ask again."
