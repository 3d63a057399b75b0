"""What a plan of the house and a plan by hand are measured with: the same figures from the same things."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import astuple, dataclass

from production.domain.batches import Batch
from production.domain.kitchen import Week
from production.domain.plan import Plan
from tests.benchmarks.hand import HandPlan

_HAIR = 1e-6


@dataclass(frozen=True, slots=True)
class Figures:
    """What a plan is worth, in the order in which plans are compared."""

    unserved: float  # weight x share of the line
    lateness_h: float  # weight x share x hours
    runs: int  # with the reductions
    energy_kwh: float  # input of the heat sources over the times as placed
    surplus_l: float

    def is_worse_than(self, other: Figures) -> bool:
        """Whether the first figure in which they differ is greater."""
        for mine, theirs in zip(astuple(self), astuple(other), strict=True):
            if abs(mine - theirs) > _HAIR:
                return bool(mine > theirs)
        return False


def figures_of_plan(plan: Plan) -> Figures:
    """The figures of a plan of the house."""
    missing: dict[str, int] = {}
    for each in plan.unserved:
        missing[each.line] = missing.get(each.line, 0) + each.containers
    return Figures(
        unserved=_unserved(plan.week, missing),
        lateness_h=plan.schedule.lateness_h,
        runs=_runs(run.batch for run in plan.runs),
        energy_kwh=sum(
            load.power_kw * (load.end_min - load.start_min) / 60.0 for run in plan.runs for load in run.loads
        ),
        surplus_l=_surplus_l(run.batch for run in plan.runs),
    )


def figures_of_hand(week: Week, plan: HandPlan) -> Figures:
    """The figures of a plan by hand."""
    options = {job.code: job.options for job in plan.problem.jobs}
    return Figures(
        unserved=_unserved(week, plan.unserved),
        lateness_h=plan.schedule.lateness_h,
        runs=_runs(plan.batches),
        energy_kwh=sum(
            stage.power_kw * (placed.end_min - placed.start_min) / 60.0
            for run in plan.schedule.runs
            for stage, placed in zip(options[run.job][run.option].stages, run.stages, strict=True)
        ),
        surplus_l=_surplus_l(plan.batches),
    )


def _unserved(week: Week, missing: Mapping[str, int]) -> float:
    return sum(line.weight * missing.get(line.code, 0) / line.containers for line in week.order_lines)


def _runs(batches: Iterable[Batch]) -> int:
    return sum(1 + bool(batch.reduction) for batch in batches)


def _surplus_l(batches: Iterable[Batch]) -> float:
    """Litres that no order waits for; what fills a par level is wanted."""
    return sum(batch.surplus_l for batch in batches)
