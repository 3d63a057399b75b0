"""What a late run waits for, link by link, and what would help: in a week in which one thing after another is cut."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from production.domain.plan import Plan, apply_fix, make_plan, planned_with, waits_of_line, waits_of_run
from production.domain.plan import changes as kinds
from production.domain.plan.candidates import candidates_of
from production.domain.week_file import parse_week
from tests.builders import a_line, a_week, at
from tests.domain.cut_weeks import CUTS, whole

FIXTURES = Path(__file__).parents[2] / "fixtures"
MORE_OF_IT = {
    "cooks": {kinds.MORE_COOKS},
    "ice": {kinds.ICE},
    "cooling": {kinds.COOLING_PLACES, kinds.CHILLER},
    "pots": {kinds.OUTAGE, kinds.POT_LIKE},
    "heat": {kinds.HEAT_SUPPLY},
    "storage": {kinds.STORE_ROOM},
    "trays": {kinds.TRAYS},
}


@cache
def cut(what: str) -> Plan:
    return make_plan(week=CUTS[what](whole()))


@cache
def impossible() -> Plan:
    return make_plan(week=parse_week((FIXTURES / "impossible_week.json").read_bytes()))


def containers_and_hours(plan: Plan) -> tuple[int, float]:
    return sum(each.containers for each in plan.unserved), plan.schedule.lateness_h


def test_the_whole_week_leaves_in_time() -> None:
    plan = make_plan(week=whole())
    assert (plan.late, plan.unserved) == ((), ())


@pytest.mark.parametrize("what", CUTS)
def test_the_chain_of_every_late_run_begins_with_what_was_cut(what: str) -> None:
    plan = cut(what)
    late = {each.run for each in plan.late}
    assert late
    for run in late:
        first, *others = waits_of_run(plan, run).links
        assert (first.run, first.resource) == (run, what)
        assert first.sentence.startswith(f"{run} waits for ")
        for before, after in zip([first, *others], others, strict=False):
            assert after.run == before.held_by[0]
            assert after.until_at < before.until_at


@pytest.mark.parametrize("what", CUTS)
def test_more_of_what_was_cut_is_tried_first_and_helps_when_it_is_done(what: str) -> None:
    plan = cut(what)
    alone = containers_and_hours(planned_with(plan, plan.week))
    candidates = candidates_of(plan)
    assert candidates[0].kind in MORE_OF_IT[what]
    done = (planned_with(plan, apply_fix(plan.week, fix)) for fix in candidates if fix.kind in MORE_OF_IT[what])
    assert any(containers_and_hours(after) < alone for after in done)


def test_a_chain_goes_back_through_the_runs_in_the_pot_to_the_pot_that_was_away() -> None:
    plan = cut("pots")
    last = max(plan.late, key=lambda each: each.ready_at).run
    waits = waits_of_run(plan, last)
    assert [link.resource for link in waits.links] == ["pots"] * len(waits.links)
    assert waits.links[-1].sentence.endswith("it is out of use before.")
    assert waits.runs == tuple(link.run for link in waits.links)


def test_a_chain_names_the_trays_and_who_has_them() -> None:
    plan = cut("trays")
    first, second = waits_of_run(plan, "R03").links
    assert first.sentence == "R03 waits for trays (Tray of 20) until Wednesday 15:40; R02 has them."
    assert second.sentence == ("R02 waits for the shift: before Tuesday 05:30 nobody would be there for its load.")


def test_an_unserved_line_names_who_has_what_it_lacks_the_day_before() -> None:
    waits = waits_of_line(impossible(), "L001")
    assert waits.links[0].held_by[0] == waits.links[1].run
    assert waits.links[0].sentence.startswith("L001 is to leave on Tuesday 09:30; in the day before, ")
    assert waits.links[0].sentence.endswith(" are in the pots that suit it.")


@pytest.mark.parametrize("line", ["L002", "L003"])
def test_a_line_that_lacks_what_nobody_has_says_that_moving_runs_is_no_help(line: str) -> None:
    waits = waits_of_line(impossible(), line)
    assert (waits.links, waits.runs) == ((), ())
    assert waits.end == "No other run has what it lacks: moving runs alone would not help."


def test_a_line_that_is_served_and_a_run_that_is_not_there_have_no_chain() -> None:
    plan = make_plan(week=a_week())
    assert waits_of_line(plan, "L1").links == ()
    assert waits_of_run(plan, "R99").links == ()


def test_a_chain_of_many_runs_says_that_it_goes_on_and_one_that_ends_does_not() -> None:
    queue = tuple(a_line(code=f"Q{n}", containers=8, dispatch_at=at("2027-02-02 09:00")) for n in range(16))
    week = replace(whole(), order_lines=queue, pots=whole().pots[:1])
    plan = make_plan(week=week)
    chains = [waits_of_run(plan, run.code) for run in plan.runs]
    goes_on = [each for each in chains if each.end.startswith("The chain goes on behind ")]
    assert goes_on
    for each in goes_on:
        assert len(each.links) == 6
        assert each.end == f"The chain goes on behind {each.runs[-1]}."
    ended = [each for each in chains if each.links and not each.links[-1].held_by]
    assert ended
    assert not any(each.end for each in ended)
