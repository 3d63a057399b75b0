"""The overview of a week: one page across, pots by days, and who is there, what leaves, what comes."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import cache

import pdfplumber
import pytest

from production.documents.render import Paper
from production.domain.plan import Plan, make_plan
from production.domain.schedule.result import Placed
from production.domain.sheets import (
    Arriving,
    InPot,
    Leaving,
    OnDuty,
    PotWeek,
    WeekOverview,
    content_from_json,
    content_to_json,
    week_overview,
)
from tests.builders import a_pot, a_week
from tests.documents.reading import printed, rendered
from tests.documents.samples import HEADING

MONDAY = datetime(2026, 3, 9, 6, 0, tzinfo=UTC)  # midnight in Denver, where the clocks have gone forward the day before


def hours(hour: float) -> datetime:
    """So many hours after Monday began."""
    return MONDAY + timedelta(hours=hour)


def in_pot(run: str, start: float, end: float, **changes: object) -> InPot:
    stands = InPot(
        run=run, formula="Brown beef stock", start_at=hours(start), end_at=hours(end), reduces=(), is_late=False
    )
    return replace(stands, **changes)  # type: ignore[arg-type]


def overview(**changes: object) -> WeekOverview:
    whole = WeekOverview(
        kind="week_overview",
        key="week",
        heading=HEADING,
        days=tuple(date(2026, 3, 9) + timedelta(days=n) for n in range(7)),
        pots=(
            PotWeek(pot="Big Juniper", runs=(in_pot("R01", 6, 31.25), in_pot("R02", 33, 40, is_late=True))),
            PotWeek(pot="Low pan", runs=(in_pot("R01", 25, 31, reduces=("R01", "R05")),)),
        ),
        on_duty=(OnDuty(person="Wren Ashdown", start_at=hours(5.5), end_at=hours(13.5)),),
        leaving=(Leaving(at=hours(33.5), outlet="Quarry Ward", containers=14, unserved=2),),
        arriving=(Arriving(at=hours(5), supplier="Tanager Meats", items=3),),
    )
    return replace(whole, **changes)  # type: ignore[arg-type]


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_week_stands_on_one_page_across(paper: Paper) -> None:
    pdf = rendered(overview(), paper)
    assert pdf.pages == 1
    with pdfplumber.open(io.BytesIO(pdf.pdf)) as document:
        assert document.pages[0].width > document.pages[0].height


def test_a_run_stands_on_the_day_it_starts_and_goes_on_until_it_is_washed() -> None:
    text = printed(overview())
    assert "06:00–Tue 07:15 R01 Brown beef stock" in text
    assert "until 07:15 R01" in text
    assert "reduces R01 + R05" in text


def test_a_late_run_is_called_late() -> None:
    assert "late 09:00–16:00 R02" in printed(overview())


def test_people_dispatches_and_deliveries_are_told() -> None:
    text = printed(overview())
    for words in ("05:30–13:30 Wren Ashdown", "09:30 Quarry Ward: 14, 2 not served", "05:00 Tanager Meats: 3 items"):
        assert words in text


def test_many_outlets_are_told_by_time() -> None:
    many = tuple(Leaving(at=hours(33.5), outlet=f"Ward {n}", containers=3, unserved=0) for n in range(11))
    text = printed(overview(leaving=many))
    assert "09:30 11 outlets: 33" in text
    assert "Ward 4" not in text


def test_forty_pots_with_two_hundred_runs_still_fit() -> None:
    pots = tuple(
        PotWeek(
            pot=f"Kettle {n} in the annex",
            runs=tuple(in_pot(f"R{5 * n + day:03d}", 24 * day + 6, 24 * day + 18) for day in range(5)),
        )
        for n in range(40)
    )
    assert rendered(overview(pots=pots)).pages == 1


@cache
def the_plan() -> Plan:
    return make_plan(week=a_week())


def test_the_overview_of_a_plan_shows_every_run_once_in_its_pot() -> None:
    plan = the_plan()
    made = week_overview(plan)
    shown = {(pot.pot, each.run): (each.start_at, each.end_at) for pot in made.pots for each in pot.runs}
    names = {each.code: each.name for each in plan.week.pots}
    assert shown == {(names[run.pot], run.code): (run.start_at, run.end_at) for run in plan.runs}
    assert sum(each.containers for each in made.leaving) == sum(line.containers for line in plan.week.order_lines)
    assert len(made.arriving) == len(plan.purchases.orders)
    assert content_from_json(content_to_json(made)) == made


def test_a_reduction_in_a_pan_stands_in_the_pan() -> None:
    plan = the_plan()
    run = next(run for run in plan.runs if run.batch.reduction)
    index = next(n for n, stage in enumerate(run.placed.stages) if stage.name == "reduce")
    at_min = run.placed.stages[index].start_min
    pour = Placed(name="pour_over", start_min=at_min - 5, end_min=at_min)
    stages = (*run.placed.stages[:index], pour, *run.placed.stages[index:])
    placed = replace(run.placed, stages=stages, pan="low", wash=None)
    pooled = replace(run, placed=placed, batch=replace(run.batch, guests=("R77",)))
    week = replace(plan.week, pots=(*plan.week.pots, a_pot(code="low", name="Low pan", reduction_pan=True)))
    made = week_overview(replace(plan, week=week, runs=(pooled,)))
    (in_pan,) = next(pot.runs for pot in made.pots if pot.pot == "Low pan")
    assert in_pan.reduces == (run.code, "R77")
    assert in_pan.start_at == plan.at(at_min - 5)
    assert in_pan.end_at == plan.at(stages[-1].end_min)


def test_the_week_is_as_long_as_its_pots_are_in_use() -> None:
    plan = the_plan()
    run = plan.runs[-1]
    end = run.placed.stages[-1].end_min + 12 * 24 * 60
    stages = (*run.placed.stages[:-1], replace(run.placed.stages[-1], end_min=end))
    long = replace(plan, runs=(replace(run, placed=replace(run.placed, stages=stages, wash=None)),))
    assert len(week_overview(long).days) > len(week_overview(plan).days) == 7


def test_where_there_are_many_pots_those_that_stay_empty_are_named_in_one_row() -> None:
    used = tuple(PotWeek(pot=f"Kettle {n}", runs=(in_pot(f"R{n:02d}", 6, 18),)) for n in range(8))
    idle = tuple(PotWeek(pot=f"Tall pot {n}", runs=()) for n in range(3))
    assert "Not in use Tall pot 0 · Tall pot 1 · Tall pot 2" in printed(overview(pots=(*used, *idle)))
    few = printed(overview(pots=(*used, *idle[:1])))
    assert "Not in use" not in few
    assert "Tall pot 0" in few


def test_where_there_are_many_pots_a_day_on_which_nothing_happens_is_narrow() -> None:
    pots = tuple(PotWeek(pot=f"Kettle {n}", runs=(in_pot(f"R{n:02d}", 6, 18),)) for n in range(11))
    text = printed(overview(pots=pots))
    assert "Monday 9 Mar" in text
    assert "Sun 15 Mar" in text
    assert "Sunday 15 Mar" in printed(overview())
