"""What a draft of a plan is worth: levels that are compared one after another and never traded against each other."""

from __future__ import annotations

from collections import Counter

from production.domain.demand import PAR_PREFIX
from production.domain.plan.draft import Draft
from production.domain.schedule.levels import LEVELS, is_better, schedule_key
from production.domain.schedule.problem import RunJob
from production.domain.schedule.result import PlacedRun


def worth_of(draft: Draft) -> tuple[float, ...]:
    """The values of a draft's levels: unserved, late, moved, runs, energy, surplus, calm; smaller is better.

    Equation: unserved = sum over order lines of weight x share that nothing serves; late, moved and calm of the
        schedule; runs and reductions [count]; energy of the runs as they are placed; litres that no order waits for.
    Units: draft (record); returns [weighted share, weighted h, points, count, kWh, L, h].
    Valid: drafts that have passed the checker.
    Errors: none.
    Source: own definition.
    """
    laid = draft.laid
    batches = [batch for batch, _ in laid.kept]
    jobs = {job.code: job for job in laid.problem.jobs}
    levels = dict(zip(LEVELS, schedule_key(laid.problem, laid.schedule), strict=True))
    return (
        _unserved(draft),
        levels["lateness"],
        levels["moved"],
        len(batches) + sum(bool(batch.reduction) for batch in batches),
        sum(kwh_of(jobs[run.job], run) for run in laid.schedule.runs),
        sum(batch.surplus_l for batch in batches),
        levels["calm"],
    )


def improves(draft: Draft, than: Draft) -> bool:
    """Whether a draft is worth more than another of the same week.

    Equation: lexicographic order of worth_of.
    Units: no quantities; draft, than (records); returns a yes or no.
    Valid: drafts of one week.
    Errors: none.
    Source: own definition.
    """
    return is_better(worth_of(draft), worth_of(than))


def kwh_of(job: RunJob, run: PlacedRun) -> float:
    """Energy that the heat sources of a run take in, as it is placed.

    Equation: sum of power x time over its stages.
    Units: job, run (records); returns [kWh].
    Valid: a run of this job.
    Errors: none.
    Source: definition of energy.
    """
    stages = job.options[run.option].stages
    return sum(
        stage.power_kw * (placed.end_min - placed.start_min) / 60.0
        for stage, placed in zip(stages, run.stages, strict=True)
    )


def _unserved(draft: Draft) -> float:
    served: Counter[str] = Counter()
    for each in draft.demand.served:
        served[each.line] += each.containers
    for batch, _ in draft.laid.kept:
        for portion in batch.portions:
            for peg in portion.pegs:
                if not peg.line.startswith(PAR_PREFIX):
                    served[peg.line] += peg.containers
    return sum(
        line.weight * (line.containers - served[line.code]) / line.containers for line in draft.frame.week.order_lines
    )
