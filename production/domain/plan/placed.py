"""From the board to a draft and back: the same runs with the codes, goods and pots of the whole week."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from production.domain.batches import Sized, Sizing, Unmakeable
from production.domain.batches.units import coded
from production.domain.demand import Demand
from production.domain.plan.draft import Draft, drafted
from production.domain.plan.jobs import Held
from production.domain.plan.layout import Scheduler
from production.domain.plan.repair import repaired, schedule_of
from production.domain.schedule.check import check_schedule
from production.domain.schedule.problem import Problem, RunJob
from production.domain.schedule.reasons import left_out
from production.domain.schedule.result import PlacedRun, Schedule

if TYPE_CHECKING:
    from production.domain.plan.board import Board

Before = Mapping[str, PlacedRun]


def draft_from(board: Board, demand: Demand, simple: Sized) -> Draft | None:
    """What stands on a board as a draft; order lines without a run get one that has no time yet.

    Equation: every container that is still wanted is filled into a further run, or is among those that no run of the
        simple sizing could serve either; none where this does not come out.
    Units: board, demand, simple (records); returns a record.
    Valid: a board of the demand's week.
    Errors: PotwrightError `plan-breaks-a-limit` when the checker finds a fault (a mistake of the program).
    Source: own definition.
    """
    stands = board.standing
    further, left = board.fill_open_needs()
    unmakeable = _unmakeable(board, left, simple)
    if unmakeable is None or not stands:
        return None
    batches = coded([*(each.batch for each in stands), *further])
    before = {batch.code: replace(each.run, job=batch.code) for batch, each in zip(batches, stands, strict=False)}
    sized = Sized(
        batches=tuple(sorted(batches, key=lambda batch: batch.code)),
        unmakeable=unmakeable,
        sizing=Sizing(
            method="search",
            runs=len(batches),
            second_draws=sum(batch.has_second_draw for batch in batches),
            reductions=sum(bool(batch.reduction) for batch in batches),
            surplus_l=sum(batch.surplus_l for batch in batches),
        ),
    )
    return drafted(board.kitchen.frame, demand, sized, held=Held(), scheduler=as_placed(before))


def _unmakeable(board: Board, left: Mapping[int, int], simple: Sized) -> tuple[Unmakeable, ...] | None:
    """What no run can serve, with the reason that the simple sizing gives; none where it gives none."""
    reasons = {(each.line, each.product): each for each in simple.unmakeable}
    found = []
    for n, need in enumerate(board.needs):
        if left[n] and not need.is_wish:
            reason = reasons.get((need.line, need.product))
            if reason is None:
                return None
            found.append(replace(reason, containers=left[n]))
    return tuple(found)


def as_placed(before: Before) -> Scheduler:
    """Runs where they were placed already; repaired where that does not hold any more.

    Equation: each run in its pot and pan at its minutes; the others are left out.
    Units: no quantities; before (placed runs by code); returns a scheduler.
    Valid: runs of the problem.
    Errors: none.
    Source: own definition.
    """

    def schedule(problem: Problem) -> Schedule:
        runs = [_in_options(job, before[job.code]) for job in problem.jobs if job.code in before]
        out = tuple(left_out(job, tried=True) for job in problem.jobs if job.code not in before)
        found = replace(schedule_of(problem, runs), unplaced=out, status="partial" if out else "complete")
        return found if not check_schedule(problem, found) else repaired(problem, before)

    return schedule


def _in_options(job: RunJob, run: PlacedRun) -> PlacedRun:
    for index, option in enumerate(job.options):
        if option.pot == run.pot and (option.pan.code if option.pan else "") == run.pan:
            return replace(run, option=index)
    return run


def onto_board(board: Board, draft: Draft) -> bool:
    """Let the runs of a draft stand on a board instead of its own; not where runs are poured together.

    Equation: each run with its containers, in its pot at its minutes; every pot is open to it from now on.
    Units: board, draft (records); returns whether it was done.
    Valid: a board of the draft's week.
    Errors: none.
    Source: own definition.
    """
    return board.load(draft.laid.kept)
