"""The stations of the domain in their order, from a week's orders to its plan."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import timedelta

from production.domain.batches import Batch, size_batches, storage_first
from production.domain.cooling_capacity import largest_coolable_l
from production.domain.demand import net_demand
from production.domain.errors import DoesNotFit
from production.domain.kitchen import Week
from production.domain.parameters import ParameterSet
from production.domain.plan.cautions import cautions_of
from production.domain.plan.charges import Ends, charges_of
from production.domain.plan.coefficients import parameters_of
from production.domain.plan.content import FORMAT, VERSION, Plan
from production.domain.plan.file import mark_of
from production.domain.plan.frame import Frame, frame_of
from production.domain.plan.jobs import jobs_of
from production.domain.plan.layout import lay_out, wanted_by
from production.domain.plan.outcome import late_of, unserved_of
from production.domain.plan.runs import planned_run
from production.domain.purchasing import build_purchases
from production.domain.sourcing import Wanted, source_ingredients
from production.domain.thermal.properties import boiling_point_c

BROTH_KG_M3 = 1015.0  # a strong broth, cold; only to bound what can be cooled at once

Progress = Callable[[str, int, int], None]


MOST_RUNS = 250  # the planner is meant for tens of runs; more is a typing error or another trade (own choice)


def make_plan(
    *,
    week: Week,
    parameters: ParameterSet | None = None,
    seed: int = 0,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Plan:
    """Plan a week: net, size, source, schedule, check, buy.

    Equation: the stations of the domain in their order; the schedule is read again by the independent checker
        before the plan is returned.
    Units: week, parameters (records); seed (count); returns a Plan.
    Valid: a week that passed its reader.
    Errors: DoesNotFit `too-many-runs`; PotwrightError `plan-breaks-a-limit` when the checker finds a fault (a mistake
        of the program).
    Source: own definition.
    """
    tell = progress or (lambda *_: None)
    frame = frame_of(week, parameters or parameters_of(week=week))
    tell("net the orders", 0, 5)
    demand = net_demand(week=week)
    tell("size the runs", 1, 5)
    sized = size_batches(week=week, demand=demand, parameters=frame.parameters, coolable_l=_coolable_l(frame))
    batches, unmakeable = sized.batches, sized.unmakeable
    if len(batches) > MOST_RUNS:
        raise DoesNotFit(
            f"These orders ask for {len(batches)} runs in one week; more than {MOST_RUNS} are not planned.",
            code="too-many-runs",
            numbers={"runs": len(batches), "most": MOST_RUNS},
            remedy="Look for a mistyped order, or plan parts of the week by themselves.",
        )
    tell("find pots and times", 2, 5)
    charges = {batch.code: tuple(charges_of(frame, batch)) for batch in batches}
    sourced = source_ingredients(week=week, wanted=tuple(_wanted(frame, batches, charges)))
    jobs, refused = jobs_of(frame, batches, charges, sourced)
    laid = lay_out(frame, demand, batches, jobs, seed=seed, cancelled=cancelled)
    tell("work out sheets and purchases", 3, 5)
    purchases = build_purchases(week=week, sourced=laid.sourced, starts=laid.starts)
    runs = tuple(
        planned_run(frame, batch, laid.charges[batch.code], placed, laid.jobs[batch.code], laid.sourced)
        for batch, placed in laid.kept
    )
    tell("done", 5, 5)
    plan = Plan(
        format=FORMAT,
        version=VERSION,
        week=week,
        parameter_set=frame.parameters.version,
        origin=frame.origin,
        demand=demand,
        runs=runs,
        schedule=laid.schedule,
        purchases=purchases,
        unserved=tuple(unserved_of(batches, unmakeable, [*refused, *laid.refused], laid.schedule)),
        late=tuple(late_of(frame, laid.schedule)),
        storage_choices=storage_first(week=week, parameters=frame.parameters),
        cautions=cautions_of(week, demand),
        mark="",
        violations=(),
    )
    return replace(plan, mark=mark_of(plan))


def _coolable_l(frame: Frame) -> dict[str, float]:
    """Most litres of one draw that can be cooled at once, by formula."""
    boil_c = boiling_point_c(altitude_m=frame.week.kitchen.altitude_m)
    return {
        formula.code: largest_coolable_l(
            week=frame.week,
            parameters=frame.parameters,
            density_kg_m3=BROTH_KG_M3,
            start_c=boil_c - formula.simmer_below_boil_k,
        )
        for formula in frame.week.formulas
    }


def _wanted(frame: Frame, batches: Iterable[Batch], charges: Mapping[str, tuple[Ends, ...]]) -> Iterable[Wanted]:
    """Ingredients of each batch in the pot that takes most, on the day before its first dispatch."""
    for batch in batches:
        every = [charge for ends in charges[batch.code] for charge in ends]
        if every:
            charge = max(every, key=lambda each: each.solids_kg)
            use_at = max(batch.first_dispatch_at - timedelta(days=1), frame.week.plan_from)
            yield from wanted_by(batch, charge, frame.local_date(use_at))
