"""What a run would be charged with in each pot and pan, and what it is charged with once it has its place."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import partial

from production.domain.batches import Batch
from production.domain.errors import DoesNotFit, OutOfRange
from production.domain.formula import HAIR_L, Charge, Draw, PotRange, Pouring, charge_run, pan_ranges, pot_ranges
from production.domain.kitchen import Formula, SecondDraw
from production.domain.plan.content import PlannedRun
from production.domain.plan.frame import Frame
from production.domain.schedule.result import PlacedRun

Ends = tuple[Charge, ...]  # a run in one pot (and pan), at the ends of its simmers, longest first
_OTHERS = "another run's pan"  # stands for it in place of a pan's code
Joining = tuple[tuple[Draw, ...], ...]  # what may join it, at the ends of what that can be


def charges_of(frame: Frame, members: tuple[Batch, ...], batch: Batch, *, enough: bool = True) -> tuple[Ends, ...]:
    """The batch in every pot that takes it, smallest pot first; in each at the ends of its simmers, longest first.

    Equation: charge_run at the longest and the shortest of each simmer; a pot that boils dry is left out, and where
        enough is asked for one that gives less reduction than the batch promises. A reduction is made in the pot or in
        any pan that takes it, the one of a pool in a pan only, with the least and the most that its guests can bring.
        Pots of one kind are worked out once, without figures.
    Units: frame, members of its pool, batch (records); returns charges with kg, L and min.
    Valid: batches within the range of a pot.
    Errors: UnknownParameter.
    Source: as charge_run.
    """
    guests = members[1:] if batch.guests else ()
    role = (bool(batch.reduction), bool(batch.pours_into), tuple(each.first_l for each in guests))
    key = ("charges", batch.formula, batch.first_l, batch.reduction_l if enough else None, role)
    return frame.once(key, lambda: tuple(_charges_of(frame, batch, guests, enough=enough)))


def _charges_of(frame: Frame, batch: Batch, guests: tuple[Batch, ...], *, enough: bool) -> Iterable[Ends]:
    formula = frame.formulas[batch.formula]
    joining = _joining(frame, guests)
    pots = [each.pot for each in _ranges(frame, formula) if each.takes(batch.first_l)]
    for pot, pan in itertools.product(pots, _pans(frame, batch) if joining else ()):
        kinds = frame.kinds[pot], frame.kinds.get(pan, pan)
        key = ("ends", formula.code, batch.first_l, batch.has_second_draw, kinds, joining)
        ends = frame.once(key, partial(_ends, frame, batch, pot, pan, joining))
        if ends and (not enough or _gives_enough(batch, ends)):
            yield tuple(replace(each, pot=pot, pan="" if pan == _OTHERS else pan) for each in ends)


def _gives_enough(batch: Batch, ends: Ends) -> bool:
    return all(each.reduction is None or each.reduction.litres >= batch.reduction_l - HAIR_L for each in ends)


def _ranges(frame: Frame, formula: Formula) -> tuple[PotRange, ...]:
    ranges = partial(pot_ranges, week=frame.week, parameters=frame.parameters, formula=formula)
    return frame.once(("ranges", formula.code), ranges)


def _pans(frame: Frame, batch: Batch) -> tuple[str, ...]:
    """Where the second draw may be boiled down; an empty word is the pot itself."""
    if batch.pours_into:
        return (_OTHERS,)
    if not batch.reduction:
        return ("",)
    pans = pan_ranges(week=frame.week, parameters=frame.parameters, formula=batch.formula)
    return (*(() if batch.guests else ("",)), *(each.pot for each in pans))


def _joining(frame: Frame, guests: tuple[Batch, ...]) -> Joining:
    """What guests may bring: the most liquor with the least and with the most solids, and the least liquor.

    The time of a reduction is convex in the solids and grows with the liquor, so its longest is at one of these.
    """
    found: list[list[Draw]] = [[], [], []]
    for guest in guests:
        liquors = [
            each.liquor for ends in charges_of(frame, (guest,), guest) for each in ends if each.liquor is not None
        ]
        if not liquors:
            return ()
        masses = [each.mass_kg for each in liquors]
        solids = [each.mass_kg * each.solids_percent for each in liquors]
        for draws, mass, solid in zip(
            found, (max(masses), max(masses), min(masses)), (min(solids), max(solids), min(solids)), strict=True
        ):
            draws.append(replace(liquors[0], mass_kg=mass, solids_percent=solid / mass))
    return tuple(tuple(draws) for draws in found) if guests else ((),)


def _ends(frame: Frame, batch: Batch, pot: str, pan: str, joining: Joining) -> Ends:
    formula = frame.formulas[batch.formula]
    second = _second_draw(formula, batch)
    try:
        return tuple(
            _charge(frame, batch, pot, pan, simmer_h, second_h, joined, keep_figures=False)
            for simmer_h in (formula.simmer_max_h, formula.simmer_min_h)
            for second_h in ((second.simmer_max_h, second.simmer_min_h) if second else (None,))
            for joined in joining
        )
    except (DoesNotFit, OutOfRange):  # this pot would boil dry on the second draw, or the pan does not take it
        return ()


def _second_draw(formula: Formula, batch: Batch) -> SecondDraw | None:
    return formula.second_draw if batch.has_second_draw else None


def final_charges(
    frame: Frame,
    kept: Iterable[tuple[Batch, PlacedRun]],
    begun: Mapping[str, PlannedRun],
    *,
    keep_figures: bool,
) -> dict[str, Charge]:
    """The charges of all runs that have a place; what is in a pot already stays what it is.

    Equation: charge_run with the minutes of the placed stages, guests of a pool before their host.
    Units: frame, kept, begun (records), keep_figures (yes or no); returns Charges with kg, L and min, by run.
    Valid: runs placed in a pot that takes them.
    Errors: as charge_run.
    Source: as charge_run.
    """
    found: dict[str, Charge] = {}
    for batch, placed in sorted(kept, key=lambda each: bool(each[0].guests)):
        if batch.code in begun:
            found[batch.code] = begun[batch.code].charge
            continue
        liquors = (found[guest].liquor for guest in batch.guests)
        joined = tuple(liquor for liquor in liquors if liquor is not None)
        found[batch.code] = _final_charge(frame, batch, placed, joined, keep_figures=keep_figures)
    return found


def _final_charge(
    frame: Frame, batch: Batch, placed: PlacedRun, joined: tuple[Draw, ...], *, keep_figures: bool
) -> Charge:
    minutes = {stage.name: stage.end_min - stage.start_min for stage in placed.stages}
    formula = frame.formulas[batch.formula]
    second = _second_draw(formula, batch)
    simmer_h = _within(minutes["simmer"], formula.simmer_min_h, formula.simmer_max_h)
    second_h = _within(minutes["second_simmer"], second.simmer_min_h, second.simmer_max_h) if second else None
    pan = _OTHERS if batch.pours_into else placed.pan
    work = partial(_charge, frame, batch, placed.pot, pan, simmer_h, second_h, joined, keep_figures=keep_figures)
    if keep_figures:
        return work()
    where = (frame.kinds[placed.pot], frame.kinds.get(pan, pan))
    charge = frame.once(("final", batch.formula, batch.first_l, where, simmer_h, second_h, joined), work)
    return replace(charge, pot=placed.pot, pan=placed.pan)


def _charge(
    frame: Frame,
    batch: Batch,
    pot: str,
    pan: str,
    simmer_h: float,
    second_simmer_h: float | None,
    joined: tuple[Draw, ...],
    *,
    keep_figures: bool,
) -> Charge:
    pouring = Pouring(pan=frame.pots.get(pan), joined=joined) if pan else None
    return charge_run(
        week=frame.week,
        parameters=frame.parameters,
        formula=frame.formulas[batch.formula],
        pot=frame.pots[pot],
        drawn_l=batch.first_l,
        simmer_h=simmer_h,
        second=second_simmer_h is not None,
        second_simmer_h=second_simmer_h,
        pouring=pouring,
        keep_figures=keep_figures,
    )


def _within(minutes: int, shortest_h: float, longest_h: float) -> float:
    """Hours of a simmer; in a window too narrow for whole minutes the schedule is up to half a minute beside it."""
    return min(longest_h, max(shortest_h, minutes / 60.0))
