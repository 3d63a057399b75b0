"""Second draws in reduction pans: alone, several together, and apart again when the pan has no time."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from typing import Any

import pytest

from production.domain.batches import Batch, Peg, Portion, Sized, size_batches
from production.domain.demand import net_demand
from production.domain.errors import DoesNotFit
from production.domain.formula import Pouring, charge_run, pan_ranges
from production.domain.kitchen import HeatSource, Outage, Pot, Shift, Week
from production.domain.parameters import DEFAULT_PARAMETERS
from production.domain.plan import Plan, PlannedRun, parameters_of, plan_batches, plan_dumps, plan_from_json
from production.domain.plan.frame import frame_of
from production.domain.plan.make import coolable_l
from production.domain.schedule.problem import RunJob
from production.domain.sheets import batch_sheets
from production.domain.workings import recompute
from tests.builders import a_line, a_pot, at, small_kitchen
from tests.domain.plan_facts import containers_of_lines, faults


def a_pan(**changes: Any) -> Pot:
    pan = a_pot(
        code="pan",
        name="Flat pan",
        inner_diameter_mm=700.0,
        inner_height_mm=300.0,
        heat_source="fire",
        min_fill_share=0.05,
        reduction_pan=True,
    )
    return replace(pan, **changes)


def pan_week(*pans: Pot, **changes: Any) -> Week:
    """The small kitchen with a second tall pot and a pan; two runs, two containers of their reduction."""
    base = small_kitchen()
    week = replace(
        base,
        pots=(base.pots[0], a_pot(code="tall-2", name="Tall 100 b", heat_source="range-2"), *pans),
        heat_supplies=(replace(base.heat_supplies[0], capacity_kw=90.0), base.heat_supplies[1]),
        heat_sources=(
            *base.heat_sources,
            HeatSource(code="range-2", name="Range 2", supply="gas", appliance="gas_stockpot_range", input_kw=26.0),
            HeatSource(code="fire", name="Fire", supply="gas", appliance="gas_open_burner", input_kw=20.0),
        ),
        shifts=tuple(
            Shift(person=person.code, start=at(f"2027-02-0{day} 06:00"), end=at(f"2027-02-0{day} 21:00"))
            for person in base.people
            for day in range(1, 8)
        ),
        order_lines=(a_line(containers=8), a_line(code="G", product="poultry-glaze", containers=2)),
    )
    return replace(week, **changes)


def pooled(week: Week) -> tuple[Batch, Batch]:
    """The two runs of the week, the second poured into the pan of the first."""
    first, second = sized(week).batches
    (glaze,) = second.reduction
    (own,) = first.reduction
    (mine,), (theirs,) = own.pegs, glaze.pegs
    together = replace(mine, containers=2, share=mine.share + theirs.share)
    both = replace(own, containers=2, litres=own.litres + glaze.litres, pegs=(together,))
    host = replace(first, reduction=(both,), guests=(second.code,))
    return host, replace(second, reduction=(), pours_into=first.code)


def sized(week: Week) -> Sized:
    parameters = parameters_of(week=week)
    limits = coolable_l(frame_of(week, parameters))
    return size_batches(week=week, demand=net_demand(week=week), parameters=parameters, coolable_l=limits)


def plan_of(week: Week) -> Plan:
    return plan_batches(
        frame_of(week, parameters_of(week=week)),
        net_demand(week=week),
        Sized(batches=pooled(week), unmakeable=()),
    )


def runs_of(plan: Plan) -> tuple[PlannedRun, PlannedRun]:
    host, guest = sorted(plan.runs, key=lambda run: run.code)
    return host, guest


def stage(run: PlannedRun, name: str) -> tuple[int, int]:
    return next((each.start_min, each.end_min) for each in run.placed.stages if each.name == name)


@pytest.fixture(scope="module")
def pool() -> Plan:
    return plan_of(pan_week(a_pan()))


def test_two_second_draws_are_one_reduction_in_the_pan(pool: Plan) -> None:
    host, guest = runs_of(pool)
    assert (host.placed.pan, guest.placed.pan, guest.batch.pours_into) == ("pan", "", host.code)
    assert stage(host, "pour_over")[0] == stage(guest, "pour_over")[0]
    assert guest.placed.stages[-1].name == "pour_over"
    assert [draw.name for draw in guest.draws] == ["first"]
    assert host.draws[1].start_at == pool.at(stage(host, "portion")[1])
    assert list(faults(pool)) == []


def test_no_dissolved_solids_are_lost_between_the_pots_and_the_pan(pool: Plan) -> None:
    host, guest = runs_of(pool)
    assert host.charge.liquor is not None
    assert guest.charge.liquor is not None
    assert host.charge.reduction is not None
    assert guest.charge.reduction is None
    poured = [host.charge.liquor, guest.charge.liquor]
    liquor = host.charge.reduction.liquor
    assert liquor.mass_kg == pytest.approx(sum(each.mass_kg for each in poured))
    solids = sum(each.mass_kg * each.solids_percent for each in poured)
    assert liquor.mass_kg * liquor.solids_percent == pytest.approx(solids)
    bx = sum(each.mass_kg * each.solids_bx for each in poured)
    assert host.charge.reduction.mass_kg * host.charge.reduction.solids_bx == pytest.approx(bx)


def test_figures_of_a_pool_can_be_worked_out_again(pool: Plan) -> None:
    host, _ = runs_of(pool)
    assert host.charge.liquor is not None
    figures = {each.key: each for each in host.figures}
    assert figures["joined_kg"].value > host.charge.liquor.mass_kg
    assert all(recompute(each) == each.value for each in host.figures)


def test_a_pot_is_washed_while_its_second_draw_boils_down_in_the_pan(pool: Plan) -> None:
    host, guest = runs_of(pool)
    for run in (host, guest):
        assert run.placed.wash is not None
        assert stage(run, "pour_over")[1] <= run.placed.wash.start_min < stage(host, "portion")[1]
    assert host.placed.pan_wash is not None
    assert host.placed.pan_wash.start_min >= stage(host, "portion")[1]


def test_after_pouring_over_the_pans_own_source_heats(pool: Plan) -> None:
    host, _ = runs_of(pool)
    power = {load.kind: load.power_kw for load in host.loads}
    assert (power["second_heat_up"], power["pour_over"], power["reduce"]) == (26.0, 0.0, 20.0)


def test_the_sheets_of_a_pool_name_each_other_and_the_pan(pool: Plan) -> None:
    host, guest = runs_of(pool)
    sheets = {sheet.run: sheet for sheet in batch_sheets(pool)}
    told = {
        run.code: next(line.do for line in sheets[run.code].stages if line.kind == "pour_over") for run in pool.runs
    }
    assert f"over into Flat pan. It is reduced there with run {host.code}" in told[guest.code]
    assert f"With it come {guest.code} from" in told[host.code]
    assert [line.kind for line in sheets[guest.code].stages][-2:] == ["pour_over", "wash"]
    assert {"pan_wash", "wash", "portion"} <= {line.kind for line in sheets[host.code].stages}
    starts = [line.start_at for line in sheets[host.code].stages]
    assert starts == sorted(starts)
    assert any(f"together with the second draw of {guest.code}" in each for each in sheets[host.code].cautions)


def test_a_plan_with_a_pool_comes_back_from_its_file(pool: Plan) -> None:
    assert plan_from_json(json.loads(plan_dumps(pool))) == pool


@pytest.mark.parametrize(
    "pan",
    [
        a_pan(inner_diameter_mm=300.0),
        a_pan(outages=(Outage(start=at("2027-01-30 00:00"), end=at("2027-03-01 00:00"), reason="lent out"),)),
        a_pan(formulas=("fish",)),
    ],
    ids=["too small for both", "not there", "for another formula"],
)
def test_a_pool_without_a_pan_is_parted_and_each_reduces_by_itself(pan: Pot) -> None:
    plan = plan_of(pan_week(pan))
    asked, found = containers_of_lines(plan)
    assert asked == found
    assert plan.unserved == ()
    for run in runs_of(plan):
        assert (run.batch.guests, run.batch.pours_into) == ((), "")
        assert [portion.containers for portion in run.batch.reduction] == [1]
        assert run.charge.reduction is not None
    assert list(faults(plan)) == []


def test_containers_that_only_a_pool_could_fill_are_told_when_it_is_parted() -> None:
    week = pan_week(a_pan(formulas=("fish",)))
    host, guest = pooled(week)
    (glaze,) = host.reduction
    (peg,) = glaze.pegs
    more = replace(glaze, containers=20, litres=10.0, pegs=(replace(peg, containers=20, share=1.0),))
    lines = (week.order_lines[0], replace(week.order_lines[1], containers=20))
    plan = plan_batches(
        frame_of(replace(week, order_lines=lines), parameters_of(week=week)),
        net_demand(week=replace(week, order_lines=lines)),
        Sized(batches=(replace(host, reduction=(more,)), guest), unmakeable=()),
    )
    asked, found = containers_of_lines(plan)
    assert asked == found
    (left,) = plan.unserved
    assert (left.line, left.resource) == ("G", "pots")
    assert 0 < left.containers < 20


def test_a_run_that_was_only_made_for_the_pool_is_not_made_without_it() -> None:
    week = pan_week(a_pan(formulas=("fish",)))
    host, guest = pooled(week)
    (glaze,), (broth,) = host.reduction, guest.first
    (peg,) = glaze.pegs
    one = replace(glaze, containers=1, litres=0.5, pegs=(replace(peg, containers=1, share=1.0),))
    unwanted = replace(guest, first=(replace(broth, pegs=()),), poured_for=peg.dispatch_at)
    lines = tuple(replace(line, containers=n) for line, n in zip(week.order_lines, (4, 1), strict=True))
    week = replace(week, order_lines=lines)
    host = replace(host, reduction=(one,), first=tuple(replace(each, pegs=_whole(each)) for each in host.first))
    plan = plan_batches(
        frame_of(week, parameters_of(week=week)), net_demand(week=week), Sized(batches=(host, unwanted), unmakeable=())
    )
    assert [run.code for run in plan.runs] == [host.code]
    assert plan.unserved == ()
    assert list(faults(plan)) == []


def _whole(portion: Portion) -> tuple[Peg, ...]:
    (peg,) = portion.pegs
    return (replace(peg, share=1.0),)


def test_a_single_run_may_move_to_a_pan_for_its_reduction() -> None:
    def only_in_pans(job: RunJob) -> RunJob:
        return replace(job, options=tuple(option for option in job.options if option.pan is not None))

    week = pan_week(a_pan())
    plan = plan_batches(
        frame_of(week, parameters_of(week=week)), net_demand(week=week), sized(week), adjust=only_in_pans
    )
    assert list(faults(plan)) == []
    assert len(plan.runs) == 2
    for run in plan.runs:
        assert (run.placed.pan, run.charge.pan, run.batch.guests) == ("pan", "pan", ())
        assert run.charge.reduction is not None
        assert run.charge.reduction.liquor == run.charge.liquor


def test_a_pan_takes_from_its_least_fill_to_the_freeboard_at_the_boil() -> None:
    (takes,) = pan_ranges(week=pan_week(a_pan()), parameters=DEFAULT_PARAMETERS, formula="poultry")
    area_dm2 = math.pi * 7.0**2 / 4.0
    assert takes.smallest_l == pytest.approx(0.05 * area_dm2 * 3.0)
    # 100 mm of freeboard, 5 % of bubbles, and water that grows by 3.1 to 4.4 % on its way from 4 degrees to the boil
    assert area_dm2 * 2.0 * 0.95 / 1.044 < takes.largest_l < area_dm2 * 2.0 * 0.95 / 1.031
    assert pan_ranges(week=pan_week(), parameters=DEFAULT_PARAMETERS, formula="poultry") == ()
    assert pan_ranges(week=pan_week(a_pan(formulas=("fish",))), parameters=DEFAULT_PARAMETERS, formula="poultry") == ()


def test_what_stands_too_high_or_too_low_in_a_pan_does_not_go_into_it() -> None:
    def charge(pan: Pot | None) -> float:
        week = pan_week(a_pan())
        made = charge_run(
            week=week,
            parameters=DEFAULT_PARAMETERS,
            formula=week.formulas[0],
            pot=week.pots[0],
            drawn_l=20.0,
            simmer_h=3.0,
            second=True,
            pouring=Pouring(pan=pan) if pan else None,
        )
        assert made.reduction is not None
        return made.reduction.reduce_min

    for unfit in (a_pan(min_fill_share=0.9), a_pan(inner_diameter_mm=150.0)):
        with pytest.raises(DoesNotFit) as refused:
            charge(unfit)
        assert refused.value.code == "pan-too-small"
    assert charge(a_pan(mass_kg=60.0)) > charge(a_pan(mass_kg=15.0))  # a heavy cold pan takes longer to the boil
