"""The lanes of the timeline agree with the plan they are drawn from."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from functools import cache

import pytest

from production.domain.kitchen import IceDelivery, Outage
from production.domain.plan import Plan, PlannedRun, make_plan
from production.domain.schedule.result import Placed
from production.drawing.timeline_content import LaneStep, LevelLane, PlanTimeline, StepLane
from production.web.present.lanes import added_up
from production.web.present.plan import timeline
from production.web.style import Style
from tests.builders import ZONE, a_pot, a_week, at


@cache
def the_plan() -> Plan:
    return make_plan(week=a_week())


def drawn(plan: Plan, **changes: object) -> PlanTimeline:
    style = Style(units="metric", zone=ZONE, currency="USD", now=at("2026-01-01 08:00"))
    return timeline(plan=plan, style=style, href=lambda run: f"#{run}", **{"day": None, **changes})  # type: ignore[arg-type]


def value_at(steps: tuple[LaneStep, ...], minute: float) -> float:
    return [step.value for step in steps if step.at_min <= minute][-1]


def level_at(lane: LevelLane, minute: float) -> float:
    """Just before the minute, in straight lines between the points."""
    before = [each for each in lane.points if each.at_min < minute][-1]
    after = next(each for each in lane.points if each.at_min >= minute)
    share = (minute - before.at_min) / (after.at_min - before.at_min)
    return before.value + share * (after.value - before.value)


def test_nothing_is_used_beyond_what_there_is() -> None:
    plan = the_plan()
    line = drawn(plan)
    steps = [lane for lane in line.steps if isinstance(lane, StepLane)]
    week = plan.week
    expected = len(week.heat_supplies) + 1 + sum(each.places > 1 for each in week.cooling_devices) + len(week.stores)
    assert len(steps) == expected
    assert all(max(step.value for step in lane.used) > 0 for lane in steps if lane.unit in ("cooks", "places"))
    for lane in steps:
        for minute in sorted({step.at_min for step in (*lane.used, *lane.available)}):
            assert value_at(lane.used, minute) <= value_at(lane.available, minute) + 1e-6, lane.name


def test_places_in_use_are_those_of_the_draws() -> None:
    plan = the_plan()
    line = drawn(plan)
    names = {each.code: each.name for each in plan.week.cooling_devices}
    for run in plan.runs:
        for cooling in run.placed.coolings:
            for device, places in cooling.places:
                lane = next((each for each in line.steps if each.name == f"Places in {names[device]}"), None)
                if isinstance(lane, StepLane):
                    assert value_at(lane.used, cooling.start_min) >= places


def ice_of(line: PlanTimeline) -> LevelLane:
    return next(lane for lane in line.steps if isinstance(lane, LevelLane))


def test_the_bin_holds_the_ice_of_every_draw_when_it_is_taken() -> None:
    plan = the_plan()
    ice = ice_of(drawn(plan))
    taken = [(each.start_min, each.ice_kg) for run in plan.runs for each in run.placed.coolings if each.ice_kg]
    assert taken
    for minute, ice_kg in taken:
        assert level_at(ice, minute) >= ice_kg - 1e-6
        assert level_at(ice, minute + 1e-6) == pytest.approx(level_at(ice, minute) - ice_kg, abs=1e-3)


def test_ice_bought_in_fills_the_bin_no_further_than_it_holds() -> None:
    plan = the_plan()
    machine = plan.week.ice_machine
    assert machine is not None
    draw = next(each for run in plan.runs for each in run.placed.coolings if each.ice_kg)
    delivery = IceDelivery(code="I1", at=plan.at(draw.start_min + 10), mass_kg=5000.0)
    bought = replace(plan, week=replace(plan.week, ice_deliveries=(delivery,)))
    assert level_at(ice_of(drawn(bought)), draw.start_min + 10.001) == pytest.approx(machine.bin_kg)
    assert level_at(ice_of(drawn(plan)), draw.start_min + 10.001) < machine.bin_kg


def test_a_store_holds_a_draw_from_ready_until_it_leaves() -> None:
    plan = the_plan()
    line = drawn(plan)
    run = plan.runs[0]
    portion = run.batch.first[0]
    product = plan.week.get("products", portion.product)
    store = next(each for each in plan.week.stores if each.kind == product.storage)
    lane = next(each for each in line.steps if each.name == store.name)
    assert isinstance(lane, StepLane)
    ready = next(each.ready_min for each in run.placed.coolings if each.draw == "first")
    assert value_at(lane.used, ready) - value_at(lane.used, ready - 1) >= portion.litres


def with_a_pan(plan: Plan) -> Plan:
    """The plan with the first second draw poured over into a pan, half an hour before it is reduced."""
    run = next(run for run in plan.runs if run.batch.reduction)
    index = next(n for n, stage in enumerate(run.placed.stages) if stage.name == "reduce")
    reduce = run.placed.stages[index]
    pour = Placed(name="pour_over", start_min=reduce.start_min, end_min=reduce.start_min + 10)
    stages = (
        *run.placed.stages[:index],
        pour,
        replace(reduce, start_min=pour.end_min),
        *run.placed.stages[index + 1 :],
    )
    wash = Placed(name="wash", start_min=pour.end_min, end_min=pour.end_min + 25)
    end = stages[-1].end_min
    placed = replace(
        run.placed, stages=stages, pan="low", wash=wash, pan_wash=Placed(name="wash", start_min=end, end_min=end + 25)
    )
    more = (a_pot(code="other", name="Other 100"), a_pot(code="low", name="Low pan", reduction_pan=True))
    week = replace(plan.week, pots=(*plan.week.pots, *more))
    runs = tuple(replace(each, placed=placed) if each.code == run.code else each for each in plan.runs)
    return replace(plan, week=week, runs=runs)


def in_pan(plan: Plan) -> PlannedRun:
    return next(run for run in plan.runs if run.placed.pan)


def test_a_reduction_in_a_pan_is_drawn_in_the_lane_of_the_pan() -> None:
    plan = with_a_pan(the_plan())
    run, line = in_pan(plan), drawn(plan)
    pour = next(stage for stage in run.placed.stages if stage.name == "pour_over")
    names = [lane.name for lane in line.pots]
    pot, pan = line.pots[names.index(plan.week.get("pots", run.pot).name)], line.pots[names.index("Low pan")]
    (in_pot,) = [bar for bar in pot.bars if bar.href == f"#{run.code}"]
    (reduced,) = pan.bars
    assert run.placed.wash is not None
    assert run.placed.pan_wash is not None
    assert (in_pot.end_min, reduced.start_min) == (run.placed.wash.end_min, pour.start_min)
    assert reduced.end_min == run.placed.pan_wash.end_min
    assert "reduce" in {stage.kind for stage in reduced.stages}
    assert "reduce" not in {stage.kind for stage in in_pot.stages}
    (poured,) = line.pours
    assert (line.pots[poured.from_lane], line.pots[poured.to_lane]) == (pot, pan)
    assert "is poured over from" in poured.words


def test_a_draw_poured_in_with_another_run_has_a_line_from_its_own_pot() -> None:
    plan = with_a_pan(the_plan())
    host = in_pan(plan)
    pour = next(stage for stage in host.placed.stages if stage.name == "pour_over")
    begun = pour.start_min - 300
    guest = replace(
        host,
        code="R99",
        pot="other",
        batch=replace(host.batch, code="R99", reduction=(), pours_into=host.code),
        placed=replace(
            host.placed,
            job="R99",
            pot="other",
            pan="",
            pan_wash=None,
            wash=None,
            coolings=(),
            stages=(Placed(name="second_simmer", start_min=begun, end_min=pour.start_min), pour),
        ),
    )
    pooled = replace(host, batch=replace(host.batch, guests=("R99",)))
    plan = replace(plan, runs=(*(pooled if run.code == host.code else run for run in plan.runs), guest))
    line = drawn(plan)
    assert len(line.pours) == 2
    assert {line.pours[0].from_lane, line.pours[1].from_lane} == {
        [pot.code for pot in plan.week.pots].index(code) for code in (host.pot, "other")
    }
    pan = next(lane for lane in line.pots if lane.name == "Low pan")
    assert pan.bars[0].label.startswith(f"{host.code} + R99 ")


def test_a_pot_out_of_use_is_shaded() -> None:
    plan = the_plan()
    pot = plan.week.pots[0]
    out = Outage(start=at("2027-02-06 08:00"), end=at("2027-02-06 18:00"), reason="descaled")
    plan = replace(plan, week=replace(plan.week, pots=(replace(pot, outages=(out,)), *plan.week.pots[1:])))
    (shaded,) = drawn(plan).pots[0].out_of_use
    assert (plan.at(shaded.start_min), plan.at(shaded.end_min)) == (out.start, out.end)
    assert drawn(plan, day=date(2027, 2, 3)).pots[0].out_of_use == ()


def test_only_runs_that_moved_are_outlined() -> None:
    plan = the_plan()
    moved = plan.runs[0]
    earlier = replace(plan, origin=plan.origin - timedelta(hours=3))
    runs = tuple(run if run.code == moved.code else later(run, 180) for run in plan.runs)
    line = drawn(plan, before=replace(earlier, runs=runs))
    outlined = [bar for lane in line.pots for bar in lane.before]
    assert [bar.label.split(" ")[0] for bar in outlined] == [moved.code]
    assert outlined[0].start_min == moved.placed.start_min - 180


def later(run: PlannedRun, minutes: int) -> PlannedRun:
    """The run with its minutes counted from an earlier origin."""

    def shifted(piece: Placed | None) -> Placed | None:
        if piece is None:
            return None
        return replace(piece, start_min=piece.start_min + minutes, end_min=piece.end_min + minutes)

    stages = tuple(each for stage in run.placed.stages if (each := shifted(stage)))
    return replace(run, placed=replace(run.placed, stages=stages, wash=shifted(run.placed.wash)))


def test_spans_add_up_and_are_cut_at_the_edges() -> None:
    steps = added_up([(0, 10, 2.0), (5, 15, 3.0), (20, 30, 1.0)], 5, 18)
    assert [(step.at_min, step.value) for step in steps] == [(5, 5.0), (10, 3.0), (15, 0.0)]
