"""The stations of the domain in their order, from a week's orders to its plan."""

from __future__ import annotations

from dataclasses import replace

from production.domain.batches import NOTHING_KNOWN, Sized, size_batches
from production.domain.cooling_capacity import largest_coolable_l
from production.domain.demand import net_demand
from production.domain.errors import DoesNotFit
from production.domain.kitchen import Week
from production.domain.parameters import ParameterSet
from production.domain.plan.assemble import finished
from production.domain.plan.coefficients import parameters_of
from production.domain.plan.content import Plan
from production.domain.plan.draft import careful, drafted
from production.domain.plan.effort import Better, Cancelled, Effort, Progress
from production.domain.plan.frame import Frame, frame_of
from production.domain.plan.jobs import Held
from production.domain.plan.quickest import quickest_of
from production.domain.plan.search import searched
from production.domain.thermal.properties import boiling_point_c

BROTH_KG_M3 = 1015.0  # a strong broth, cold; only to bound what can be cooled at once
MOST_RUNS = 250  # the planner is meant for tens of runs; more is a typing error or another trade (own choice)


def make_plan(
    *,
    week: Week,
    parameters: ParameterSet | None = None,
    seed: int = 0,
    seconds: float = 0.0,
    workers: int = 1,
    progress: Progress | None = None,
    better: Better | None = None,
    cancelled: Cancelled | None = None,
) -> Plan:
    """Plan a week: net, size, source, schedule, check, buy.

    Equation: the stations of the domain in their order; the schedule is read again by the independent checker
        before the plan is returned. Without seconds the runs are sized by rule and placed by one careful pass; with
        seconds both are searched for, and the result is never worth less than that of the careful pass.
    Units: week, parameters (records); seed, workers [count], seconds [s]; returns a Plan.
    Valid: a week that passed its reader.
    Errors: DoesNotFit `too-many-runs`; PotwrightError `plan-breaks-a-limit` when the checker finds a fault (a mistake
        of the program).
    Source: own definition.
    """
    effort = Effort(seconds=seconds, workers=workers, seed=seed, progress=progress, better=better, cancelled=cancelled)
    frame = frame_of(week, parameters or parameters_of(week=week))
    effort.tell("net the orders", 0)
    demand = net_demand(week=week)
    effort.tell("size the runs", 1)
    limits_l = coolable_l(frame)

    def sizer(*, seconds: float = 0.0, pools: bool = True) -> Sized:
        return size_batches(
            week=week if pools else _without_pans(week),
            demand=demand,
            parameters=frame.parameters,
            coolable_l=limits_l,
            seconds=seconds,
            seed=seed,
            quickest=quickest_of(frame) if seconds > 0.0 else NOTHING_KNOWN,
            cancelled=cancelled,
        )

    simple = sizer()
    _refuse_too_many(simple)
    effort.tell("find pots and times", 2)
    if seconds <= 0.0:
        return finished(drafted(frame, demand, simple, held=Held(), scheduler=careful(effort)), effort)
    return finished(searched(frame, demand, simple, sizer, limits_l, effort), effort)


def _without_pans(week: Week) -> Week:
    """The week in which no second draws can be poured together; a run may still be moved to a pan later."""
    return replace(week, pots=tuple(pot for pot in week.pots if not pot.reduction_pan))


def _refuse_too_many(sized: Sized) -> None:
    runs = len(sized.batches)
    if runs > MOST_RUNS:
        raise DoesNotFit(
            f"These orders ask for {runs} runs in one week; more than {MOST_RUNS} are not planned.",
            code="too-many-runs",
            numbers={"runs": runs, "most": MOST_RUNS},
            remedy="Look for a mistyped order, or plan parts of the week by themselves.",
        )


def coolable_l(frame: Frame) -> dict[str, float]:
    """Most litres of one draw that can be cooled at once, by formula.

    Equation: largest_coolable_l from the formula's simmer.
    Units: frame (record); returns [L].
    Valid: a week that passed its reader.
    Errors: as largest_coolable_l.
    Source: own definition.
    """
    boil_c = boiling_point_c(altitude_m=frame.week.kitchen.altitude_m)
    start_c = {formula.code: boil_c - formula.simmer_below_boil_k for formula in frame.week.formulas}
    largest_l = {
        each: largest_coolable_l(week=frame.week, parameters=frame.parameters, density_kg_m3=BROTH_KG_M3, start_c=each)
        for each in set(start_c.values())
    }
    return {code: largest_l[each] for code, each in start_c.items()}
