"""What is different between two plans, in sentences."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import cache

from production.domain.plan import Difference, Plan, PlannedRun, Unserved, compare_plans, make_plan
from tests.builders import a_line, a_week, at


@cache
def planned() -> Plan:
    return make_plan(week=a_week())


def told(difference: Difference, kind: str) -> list[str]:
    return [change.sentence for change in difference.changes if change.kind == kind]


def with_run(plan: Plan, run: PlannedRun) -> Plan:
    """The plan with a run in the place of the one that has its code."""
    return replace(plan, runs=tuple(run if each.code == run.code else each for each in plan.runs))


def test_a_plan_does_not_differ_from_itself() -> None:
    difference = compare_plans(planned(), planned())
    assert difference.changes == ()
    assert difference.sentence == "Every run stays where it was."
    assert (difference.kept_runs, difference.moved_runs) == (len(planned().runs), 0)


def test_a_run_that_moves_is_told_with_both_clock_times_and_both_pots() -> None:
    run = planned().runs[0]
    other = next(pot for pot in planned().week.pots if pot.code != run.pot)
    moved = replace(run, start_at=at("2027-02-01 09:30"), pot=other.code)
    first = with_run(planned(), replace(run, start_at=at("2027-02-01 06:00")))
    difference = compare_plans(first, with_run(planned(), moved))
    was = planned().week.get("pots", run.pot).name
    assert told(difference, "run-pot") == [
        f"{run.code} moves from Monday 06:00 to 09:30 and from {was} to {other.name}."
    ]
    assert difference.moved_runs == 1


def test_a_run_on_another_day_is_told_with_both_days() -> None:
    run = planned().runs[0]
    first = with_run(planned(), replace(run, start_at=at("2027-02-01 06:00")))
    second = with_run(planned(), replace(run, start_at=at("2027-02-02 07:15")))
    assert told(compare_plans(first, second), "run-moved") == [f"{run.code} moves from Monday 06:00 to Tuesday 07:15."]


def test_a_run_that_is_gone_and_one_that_is_new_are_told() -> None:
    fewer = replace(planned(), runs=planned().runs[1:])
    assert len(told(compare_plans(planned(), fewer), "run-gone")) == 1
    assert len(told(compare_plans(fewer, planned()), "run-new")) == 1


def test_a_line_that_can_no_longer_be_served_stands_before_everything_else() -> None:
    lost = Unserved(
        line="L1",
        product="poultry-5",
        containers=4,
        resource="pots",
        missing=1,
        unit="pots",
        sentence="No pot.",
        remedy="Free a pot.",
    )
    run = planned().runs[0]
    after = replace(with_run(planned(), replace(run, start_at=run.start_at + timedelta(hours=1))), unserved=(lost,))
    difference = compare_plans(planned(), after)
    assert difference.changes[0].sentence == (
        "L1 (6 × Poultry broth 5 L): 4 containers that were planned can no longer be served."
    )
    assert difference.after.unserved_containers == 4
    back = compare_plans(after, planned())
    assert back.changes[0].sentence == "L1 (6 × Poultry broth 5 L): 4 containers more are served."


def test_purchases_that_grow_and_shrink_with_an_order_are_told() -> None:
    larger = make_plan(
        week=replace(
            a_week(),
            order_lines=(
                *a_week().order_lines[:3],
                a_line(code="L4", product="fish-2", containers=16, dispatch_at=at("2027-02-05 09:00"), weight=2.0),
            ),
        )
    )
    assert any(
        "more of White fish frames to buy" in each for each in told(compare_plans(planned(), larger), "purchase")
    )
    assert any(
        "less of White fish frames to buy" in each for each in told(compare_plans(larger, planned()), "purchase")
    )


def test_a_cancelled_order_is_not_called_served() -> None:
    """A line that nobody wants any more is neither late nor served."""
    lost = Unserved(
        line="L4",
        product="fish-2",
        containers=8,
        resource="pots",
        missing=1,
        unit="pots",
        sentence="No pot.",
        remedy="Free a pot.",
    )
    before = replace(planned(), unserved=(lost,))
    fewer = replace(planned(), week=replace(planned().week, order_lines=planned().week.order_lines[:3]))
    assert told(compare_plans(before, fewer), "line-served") == []
