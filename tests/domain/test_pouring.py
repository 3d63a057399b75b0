"""Reductions of a plan poured together, as long as that costs nothing that counts for more."""

from __future__ import annotations

from dataclasses import replace

from production.domain.batches import size_batches
from production.domain.demand import net_demand
from production.domain.kitchen import Outage, Week
from production.domain.plan import make_plan, parameters_of
from production.domain.plan.draft import Draft, careful, drafted
from production.domain.plan.effort import Effort
from production.domain.plan.frame import frame_of
from production.domain.plan.jobs import Held
from production.domain.plan.make import coolable_l
from production.domain.plan.pouring import poured_together
from production.domain.plan.worth import worth_of
from production.domain.schedule.check import check_schedule
from tests.builders import a_line, a_pot, at
from tests.domain.plan_facts import containers_of_lines
from tests.domain.test_pools import a_pan, pan_week


def apart(week: Week) -> Draft:
    """The week by rule: every run reduces its own second draw."""
    parameters = parameters_of(week=week)
    frame, demand = frame_of(week, parameters), net_demand(week=week)
    sized = size_batches(week=week, demand=demand, parameters=parameters, coolable_l=coolable_l(frame))
    return drafted(frame, demand, sized, held=Held(), scheduler=careful(Effort()))


def poured(draft: Draft, tries: int = 20) -> Draft:
    left = iter(range(tries))
    return poured_together(draft, lambda: next(left, None) is not None)


def reductions(draft: Draft) -> list[tuple[int, int]]:
    """How many draws are in each reduction, and how many containers come of it."""
    return [
        (1 + len(batch.guests), sum(portion.containers for portion in batch.reduction))
        for batch, _ in draft.laid.kept
        if batch.reduction
    ]


def ordered(draft: Draft) -> dict[str, int]:
    found: dict[str, int] = {}
    for batch, _ in draft.laid.kept:
        for portion in batch.portions:
            for peg in portion.pegs:
                found[peg.line] = found.get(peg.line, 0) + peg.containers
    return found


def test_two_runs_with_a_jar_each_are_reduced_together_in_the_pan() -> None:
    draft = apart(pan_week(a_pan()))
    together = poured(draft)
    assert reductions(draft) == [(1, 1), (1, 1)]
    assert reductions(together) == [(2, 2)]
    assert ordered(together) == ordered(draft)
    assert worth_of(together)[3] == worth_of(draft)[3] - 1
    assert together.sized.sizing.reductions == 1
    assert not check_schedule(together.laid.problem, together.laid.schedule)


def test_nothing_is_poured_together_without_a_pan_or_time() -> None:
    without = apart(pan_week())
    assert poured(without) is without
    draft = apart(pan_week(a_pan()))
    assert poured(draft, tries=0) is draft


def test_no_pan_takes_more_than_fits() -> None:
    draft = apart(pan_week(a_pan(inner_diameter_mm=330.0)))
    assert reductions(poured(draft)) == [(1, 1), (1, 1)]


def test_runs_that_would_be_late_for_it_stay_apart() -> None:
    """The second pot is there from Thursday on; the first jar leaves on Wednesday, the second on Saturday."""
    lines = (
        a_line(containers=4, dispatch_at=at("2027-02-03 09:00")),
        a_line(code="F2", containers=4, dispatch_at=at("2027-02-06 09:00")),
        a_line(code="G1", product="poultry-glaze", containers=1, dispatch_at=at("2027-02-03 09:00")),
        a_line(code="G2", product="poultry-glaze", containers=1, dispatch_at=at("2027-02-06 09:00")),
    )
    missing = Outage(start=at("2027-01-30 00:00"), end=at("2027-02-04 06:00"), reason="lent out")
    week = pan_week(a_pan(), order_lines=lines)
    first, second, *others = week.pots
    apart_by_days = apart(replace(week, pots=(first, replace(second, outages=(missing,)), *others)))
    on_saturday = tuple(replace(each, dispatch_at=at("2027-02-06 09:00")) for each in lines)
    at_once = apart(replace(week, order_lines=on_saturday))
    assert reductions(apart_by_days) == reductions(at_once) == [(1, 1), (1, 1)]
    assert apart_by_days.laid.schedule.lateness_h == 0.0
    assert reductions(poured(apart_by_days)) == [(1, 1), (1, 1)]
    assert reductions(poured(at_once)) == [(2, 2)]


def test_up_to_three_draws_go_into_a_pan() -> None:
    week = pan_week(a_pan(), order_lines=(a_line(code="G", product="poultry-glaze", containers=4),))
    third = a_pot(code="tall-3", name="Tall 100 c", heat_source="range-2")
    draft = apart(replace(week, pots=(*week.pots, third)))
    together = poured(draft)
    assert sum(count for count, _ in reductions(together)) == sum(count for count, _ in reductions(draft)) >= 4
    assert 2 <= max(count for count, _ in reductions(together)) <= 3
    assert ordered(together) == ordered(draft)


def test_a_plan_that_is_searched_for_pours_together() -> None:
    week = pan_week(a_pan())
    plan = make_plan(week=week, seconds=30.0)  # ends long before
    assert [run.batch.guests for run in plan.runs if run.batch.reduction] != [()] * 2
    assert containers_of_lines(plan) == containers_of_lines(make_plan(week=week))
