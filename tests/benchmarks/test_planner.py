"""The benchmark measures what it says, on one small week and on figures made up for the purpose."""

from __future__ import annotations

from dataclasses import replace

import pytest

from production.domain.schedule.result import Level
from tests.benchmarks.measure import Figures
from tests.benchmarks.planner import (
    Measured,
    Trace,
    measure,
    measure_replan,
    replan_table,
    replan_targets,
    table,
    target_table,
    targets,
)

GOOD = Figures(unserved=0.0, lateness_h=0.0, runs=10, energy_kwh=800.0, surplus_l=5.0)
BY_HAND = Figures(unserved=0.0, lateness_h=40.0, runs=14, energy_kwh=1000.0, surplus_l=50.0)


def shown(at_s: float, lateness_h: float, bound_h: float | None) -> Trace:
    return Trace(at_s=at_s, unplaced=0, lateness_h=lateness_h, bound_h=bound_h)


def a_row(ours: Figures, *trace: Trace, bound: float | None = 0.0) -> Measured:
    level = Level(name="lateness", value=ours.lateness_h, bound=bound, unit="h", seconds=1.0)
    return Measured(
        seed=3,
        ours=ours,
        simple=BY_HAND,
        hand=BY_HAND,
        trace=trace,
        levels=(level,),
        total_s=9.0,
        sizing_gap=0.0,
        alone_gap=0.0,
    )


def test_a_week_is_measured_in_three_ways_and_told_in_a_table() -> None:
    row = measure("tiny", 1, seconds=1.0, workers=1)
    assert row.fault == ""
    assert row.hand_faults == 0
    assert row.ours is not None
    assert row.simple is not None
    assert row.ours.unserved <= row.simple.unserved
    assert row.ours.lateness_h <= row.simple.lateness_h + 1e-6
    assert 0.0 < row.first_s <= row.total_s
    assert row.least_runs is not None
    assert 0 < row.least_runs <= row.ours.runs
    assert row.least_late_h <= row.ours.lateness_h + 1e-6
    assert row.alone_gap is not None
    assert len(table([row]).splitlines()) == 3
    assert "every plan passes the checker" in target_table(targets("small", [row], seconds=1.0))


def test_a_failing_pot_is_measured_and_told_in_a_table() -> None:
    row = measure_replan("tiny", 1, seconds=0.0, workers=1, again_s=0.0)
    assert row.fault == ""
    assert row.event.endswith("fails for 48 h")
    assert row.stayed <= row.untouched
    assert len(replan_table([row]).splitlines()) == 3
    assert len(replan_targets([row])) == 4


def test_lateness_at_a_moment_is_that_of_the_last_plan_shown_until_then() -> None:
    row = a_row(GOOD, shown(0.5, 30.0, None), shown(4.0, 12.0, 0.0), shown(7.0, 0.0, 0.0))
    assert [row.late_at(moment) for moment in (0.5, 5.0, 7.5, 20.0)] == [30.0, 12.0, 0.0, 0.0]


def test_a_plan_with_nothing_late_is_proven_when_it_is_shown() -> None:
    assert a_row(GOOD, shown(0.5, 30.0, None), shown(7.0, 0.0, None)).proven_s == 7.0


def test_a_late_plan_is_proven_when_its_bound_is_shown_and_otherwise_at_the_end_or_never() -> None:
    late = replace(GOOD, lateness_h=6.0)
    assert a_row(late, shown(1.0, 6.0, 2.0), shown(4.0, 6.0, 6.0), bound=6.0).proven_s == 4.0
    assert a_row(late, shown(1.0, 6.0, 2.0), bound=6.0).proven_s == 9.0
    assert a_row(late, shown(1.0, 6.0, 2.0), bound=2.0).proven_s is None


@pytest.mark.parametrize(
    ("change", "is_worse"),
    [
        ({"unserved": 0.1}, True),
        ({"lateness_h": 50.0, "runs": 2}, True),
        ({"lateness_h": 30.0, "runs": 99}, False),
        ({"runs": 15, "energy_kwh": 1.0}, True),
        ({"surplus_l": 51.0}, True),
        ({}, False),
    ],
)
def test_figures_are_compared_in_their_order_and_never_traded(change: dict[str, float], is_worse: bool) -> None:
    assert replace(BY_HAND, **change).is_worse_than(BY_HAND) is is_worse  # type: ignore[arg-type]


def test_targets_say_no_where_something_is_not_reached() -> None:
    reached = {
        each.wanted: each.is_reached for each in targets("small", [a_row(GOOD, shown(1.0, 0.0, 0.0))], seconds=9.0)
    }
    assert all(reached.values())
    slow = a_row(replace(GOOD, lateness_h=39.0, runs=14, energy_kwh=999.0), shown(5.0, 39.0, 0.0))
    missed = {each.wanted for each in targets("small", [slow], seconds=5.0) if not each.is_reached}
    assert missed == {
        "time at most 10 % over",
        "lateness proven least within 3 s",
        "a tenth of the lateness by hand where it is late",
        "15 % fewer runs and reductions",
        "the same where by hand as much is served",
        "5 % less energy",
    }
    assert not targets("small", [replace(slow, fault="a pot is used twice")], seconds=5.0)[0].is_reached
