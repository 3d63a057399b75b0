"""A plan that is looked for in some seconds: never worth less than the careful one, told of on the way, and stopped."""

from __future__ import annotations

import itertools
import json
import time
from dataclasses import replace

import pytest

from production.domain.batches import Sized, size_batches
from production.domain.demand import net_demand
from production.domain.kitchen import Week
from production.domain.plan import Plan, Preview, assemble, make_plan, parameters_of, preview_to_json
from production.domain.plan import search as searching
from production.domain.plan.draft import Draft, careful, drafted
from production.domain.plan.effort import Effort
from production.domain.plan.frame import frame_of
from production.domain.plan.jobs import Held
from production.domain.plan.make import coolable_l
from production.domain.plan.worth import improves, worth_of
from production.domain.schedule.problem import Problem
from production.domain.schedule.reasons import left_out
from production.domain.schedule.result import Schedule
from tests.builders import a_line, a_week, at, small_kitchen
from tests.domain.plan_facts import containers_of_lines, faults
from tests.kitchens import random_week

LEVELS = ("unserved", "late", "moved", "runs", "energy", "surplus", "calm")


def busy_week() -> Week:
    """More than one pot can do by the day before."""
    return small_kitchen(
        order_lines=tuple(
            a_line(code=f"L{n}", containers=10, dispatch_at=at(f"2027-02-02 {n:02d}:00")) for n in (6, 12, 18)
        )
    )


def draft_of(week: Week) -> Draft:
    parameters = parameters_of(week=week)
    frame, demand = frame_of(week, parameters), net_demand(week=week)
    sized = size_batches(week=week, demand=demand, parameters=parameters, coolable_l=coolable_l(frame))
    return drafted(frame, demand, sized, held=Held(), scheduler=careful(Effort()))


def value(plan: Plan) -> tuple[float, float]:
    return sum(each.containers for each in plan.unserved), plan.schedule.lateness_h


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_plan_that_is_looked_for_is_never_worth_less_than_the_careful_one(seed: int) -> None:
    week = random_week("tiny", seed)
    plan = make_plan(week=week, seconds=1.5)
    assert value(plan) <= value(make_plan(week=week))
    assert list(faults(plan)) == []
    asked, found = containers_of_lines(plan)
    assert asked == found


def test_a_plan_that_is_looked_for_says_how_good_it_could_be() -> None:
    plan = make_plan(week=a_week(), seconds=2.0)
    levels = {level.name: level for level in plan.schedule.levels}
    assert levels["lateness"].value == plan.schedule.lateness_h == 0.0
    assert levels["lateness"].is_proven
    assert plan.schedule.seconds > 0.0


def test_a_careful_plan_takes_no_time_into_account() -> None:
    plan = make_plan(week=a_week())
    assert (plan.schedule.method, plan.schedule.seconds, plan.schedule.levels) == ("greedy", 0.0, ())


def test_the_time_is_kept() -> None:
    began = time.process_time()
    make_plan(week=random_week("small", 1), seconds=4.0)
    assert time.process_time() - began < 8.0  # of one processor's work, whatever else the machine does; mostly 4.4


def test_what_is_shown_on_the_way_only_gets_better() -> None:
    shown: list[Preview] = []
    told: list[tuple[str, int, int]] = []
    plan = make_plan(week=busy_week(), seconds=6.0, better=shown.append, progress=lambda *step: told.append(step))
    assert len(shown) >= 2
    assert shown[0].doing == "first plan"
    assert {run.code for run in shown[0].runs}
    assert shown[0].origin == plan.origin
    values = [(each.without_time, each.lateness_h) for each in shown]
    assert values == sorted(values, reverse=True)
    assert shown[-1].lateness_h == plan.schedule.lateness_h
    assert {run.code for run in shown[-1].runs if run.is_late} == {late.job for late in plan.schedule.late}
    assert any(f"late {plan.schedule.lateness_h:.1f} h, at best" in note for note, _, _ in told)
    assert [done for _, done, _ in told] == sorted(done for _, done, _ in told)
    assert json.loads(json.dumps(preview_to_json(shown[0])))["runs"][0]["code"] == shown[0].runs[0].code


def test_stopped_after_the_first_plan_the_first_plan_is_kept() -> None:
    shown: list[Preview] = []
    began = time.monotonic()
    plan = make_plan(week=busy_week(), seconds=120.0, better=shown.append, cancelled=lambda: bool(shown))
    assert time.monotonic() - began < 60.0
    assert len(plan.runs) == len(shown[0].runs) > 0
    assert plan.schedule.lateness_h == pytest.approx(shown[0].lateness_h)


def test_a_search_that_finds_only_worse_times_changes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    def nothing(problem: Problem, start: Schedule, **_: object) -> Schedule:
        unplaced = tuple(left_out(job, tried=True) for job in problem.jobs)
        return replace(start, status="empty", runs=(), late=(), lateness_h=0.0, unplaced=unplaced)

    monkeypatch.setattr(searching, "solve_schedule", nothing)
    week = busy_week()
    assert value(make_plan(week=week, seconds=1.5)) <= value(make_plan(week=week))


def test_the_worth_of_a_draft_counts_lines_runs_and_what_is_left_over() -> None:
    week = small_kitchen(order_lines=(a_line(containers=4, weight=2.0),))
    draft = draft_of(week)
    found = dict(zip(LEVELS, worth_of(draft), strict=True))
    assert (found["unserved"], found["late"], found["moved"], found["runs"]) == (0.0, 0.0, 0.0, 1)
    assert found["energy"] > 0.0
    assert found["surplus"] == sum(batch.surplus_l for batch in draft.sized.batches)
    nothing = replace(draft, laid=replace(draft.laid, kept=()))
    assert worth_of(nothing)[0] == 2.0
    assert improves(draft, nothing)
    assert not improves(nothing, draft)
    assert not improves(draft, draft)


def test_more_runs_are_worth_less_only_where_nothing_else_is_lost() -> None:
    draft = draft_of(small_kitchen(order_lines=(a_line(containers=8),)))
    assert len(draft.sized.batches) == 2
    one = Sized(batches=draft.sized.batches[:1], unmakeable=())
    fewer = drafted(draft.frame, draft.demand, one, held=Held(), scheduler=careful(Effort()))
    assert worth_of(fewer)[3] < worth_of(draft)[3]
    assert improves(draft, fewer)  # half of the line would go unserved


def test_somebody_is_asked_again_and_again_whether_to_stop() -> None:
    asked_s: list[float] = []

    def asked() -> bool:
        asked_s.append(time.process_time())
        return False

    make_plan(week=random_week("medium", 3), seconds=4.0, cancelled=asked)
    gaps = [later - earlier for earlier, later in itertools.pairwise(asked_s)]
    assert len(gaps) > 20
    assert max(gaps) <= 1.5  # of work, also while a first plan is put into its draft


def test_stopped_while_runs_are_made_anew_the_best_so_far_is_kept() -> None:
    shown: list[Preview] = []

    def anew() -> bool:
        return any(each.doing == "runs made anew" for each in shown)

    began = time.monotonic()
    plan = make_plan(week=random_week("small", 6), seconds=120.0, better=shown.append, cancelled=anew)
    assert time.monotonic() - began < 60.0
    assert plan.schedule.lateness_h <= min(each.lateness_h for each in shown if not each.without_time) + 1e-6
    assert list(faults(plan)) == []


def test_reasons_for_which_there_is_no_time_are_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """They can be asked for run by run."""
    plan = make_plan(week=busy_week(), seconds=1.0)
    assert all(each.resource != "stopped" for each in plan.late)
    assert all(run.placed.why_here for run in plan.runs)
    monkeypatch.setattr(assemble, "MOST_REASONS_S", -1.0)
    monkeypatch.setattr(assemble, "REASONS_SHARE", -1.0)
    hasty = make_plan(week=busy_week(), seconds=1.0)
    assert {each.resource for each in hasty.late} == {"stopped"}
    assert not any(run.placed.why_here for run in hasty.runs)
    assert all(run.placed.why_here for run in make_plan(week=busy_week()).runs)  # whoever sets no limit has all of them
