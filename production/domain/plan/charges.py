"""What a run would be charged with in each pot, and what it is charged with once it has its place."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from production.domain.batches import Batch
from production.domain.errors import DoesNotFit, OutOfRange
from production.domain.formula import Charge, charge_run, pot_ranges
from production.domain.plan.content import PlannedRun
from production.domain.plan.frame import Frame
from production.domain.schedule.result import PlacedRun

Ends = tuple[Charge, ...]  # a run in one pot, at the ends of its simmers, longest first


def charges_of(frame: Frame, members: tuple[Batch, ...], batch: Batch) -> tuple[Ends, ...]:
    """The batch in every pot that takes it, smallest pot first; in each at the ends of its simmers, longest first.

    Equation: charge_run at the longest and the shortest of each simmer; a pot that boils dry is left out.
    Units: frame, members of its pool, batch (records); returns charges with kg, L and min.
    Valid: batches within the range of a pot.
    Errors: UnknownParameter.
    Source: as charge_run.
    """
    return tuple(_charges_of(frame, batch))


def _charges_of(frame: Frame, batch: Batch) -> Iterable[Ends]:
    formula = frame.formulas[batch.formula]
    second = formula.second_draw if batch.reduction else None
    second_ends = (second.simmer_max_h, second.simmer_min_h) if second else (None,)
    for each in pot_ranges(week=frame.week, parameters=frame.parameters, formula=formula):
        if each.takes(batch.first_l):
            try:
                yield tuple(
                    _charge(frame, batch, each.pot, simmer_h, second_h)
                    for simmer_h in (formula.simmer_max_h, formula.simmer_min_h)
                    for second_h in second_ends
                )
            except (DoesNotFit, OutOfRange):  # this pot would boil dry on the second draw, or the reduction is none
                continue


def final_charges(
    frame: Frame, kept: Iterable[tuple[Batch, PlacedRun]], begun: Mapping[str, PlannedRun]
) -> dict[str, Charge]:
    """The charges of all runs that have a place; what is in a pot already stays what it is.

    Equation: charge_run with the minutes of the placed stages.
    Units: frame, kept, begun (records); returns Charges with kg, L and min, by run.
    Valid: runs placed in a pot that takes them.
    Errors: as charge_run.
    Source: as charge_run.
    """
    return {
        batch.code: begun[batch.code].charge if batch.code in begun else final_charge(frame, batch, placed)
        for batch, placed in kept
    }


def final_charge(frame: Frame, batch: Batch, placed: PlacedRun) -> Charge:
    """The charge for the pot and the simmers that the schedule has given the run, within their windows.

    Equation: charge_run with the minutes of the placed stages.
    Units: frame, batch, placed (records); returns a Charge with kg, L and min.
    Valid: runs placed in a pot that takes them.
    Errors: as charge_run.
    Source: as charge_run.
    """
    minutes = {stage.name: stage.end_min - stage.start_min for stage in placed.stages}
    formula = frame.formulas[batch.formula]
    second = formula.second_draw if batch.reduction else None
    return _charge(
        frame,
        batch,
        placed.pot,
        _within(minutes["simmer"], formula.simmer_min_h, formula.simmer_max_h),
        _within(minutes["second_simmer"], second.simmer_min_h, second.simmer_max_h) if second else None,
    )


def _charge(frame: Frame, batch: Batch, pot: str, simmer_h: float, second_simmer_h: float | None) -> Charge:
    return charge_run(
        week=frame.week,
        parameters=frame.parameters,
        formula=frame.formulas[batch.formula],
        pot=frame.pots[pot],
        drawn_l=batch.first_l,
        simmer_h=simmer_h,
        second=second_simmer_h is not None,
        second_simmer_h=second_simmer_h,
    )


def _within(minutes: int, shortest_h: float, longest_h: float) -> float:
    """Hours of a simmer; in a window too narrow for whole minutes the schedule is up to half a minute beside it."""
    return min(longest_h, max(shortest_h, minutes / 60.0))
