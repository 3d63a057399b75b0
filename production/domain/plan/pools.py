"""Second draws that are reduced together, and what becomes of them when the pan has no time for it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from production.domain.batches import Batch, Peg, Portion
from production.domain.demand import PAR_PREFIX
from production.domain.formula import HAIR_L, least_reduction_l
from production.domain.plan.content import Unserved
from production.domain.plan.frame import Frame
from production.domain.plan.refusals import no_pan
from production.domain.schedule.problem import Join


@dataclass(frozen=True, slots=True)
class _Filled:
    """One container of a reduction and the order it is for, if any."""

    product: str
    litres: float
    peg: Peg | None


def joins_of(batches: Mapping[str, Batch]) -> tuple[Join, ...]:
    """Runs that are poured together.

    Equation: each run with guests is a host.
    Units: no quantities; batches by code (records); returns records.
    Valid: guests that are among the batches.
    Errors: none.
    Source: own definition.
    """
    return tuple(Join(host=each.code, guests=each.guests) for each in batches.values() if each.guests)


def members_of(batches: Mapping[str, Batch], code: str) -> tuple[Batch, ...]:
    """A run with those it is poured together with, the host first; alone where it is in no pool.

    Equation: the host, then its guests.
    Units: no quantities; batches by code (records), code (word); returns records.
    Valid: a run among the batches.
    Errors: none.
    Source: own definition.
    """
    host = batches[batches[code].pours_into or code]
    return (host, *(batches[guest] for guest in host.guests))


def parted(frame: Frame, members: tuple[Batch, ...]) -> tuple[tuple[Batch, ...], tuple[Unserved, ...]]:
    """Each run of a pool with a reduction of its own, and the containers that no longer divide.

    A run that nobody waits for any more is left out.

    Equation: the host, then each guest takes containers in the order of their dispatch, as many as its second draw
        gives at the least.
    Units: frame, members (records; [L]); returns records.
    Valid: a pool, host first.
    Errors: DoesNotFit `no-second-draw` for a formula without one.
    Source: own definition.
    """
    waiting = sorted(_filled(members[0]), key=_leaves_s)
    alone = []
    for batch in members:
        room_l = least_reduction_l(
            week=frame.week,
            parameters=frame.parameters,
            formula=frame.formulas[batch.formula],
            drawn_l=batch.first_l,
        )
        taken: list[_Filled] = []
        while waiting and sum(each.litres for each in taken) + waiting[0].litres <= room_l + HAIR_L:
            taken.append(waiting.pop(0))
        alone.append(replace(batch, pours_into="", poured_for=None, guests=(), reduction=_portions(taken)))
    wanted = tuple(batch for batch in alone if any(portion.pegs for portion in batch.portions))
    return wanted, tuple(_unserved(members[0], waiting))


def poured_over(members: Sequence[Batch]) -> tuple[Batch, ...]:
    """Runs with a reduction each as a pool, the first of them the host.

    Equation: the host's reduction is that of all, in the same containers.
    Units: members (records; [L]); returns records, host first.
    Valid: runs of one formula with ordered reductions, of which none but the first has guests.
    Errors: none.
    Source: own definition.
    """
    host, *guests = members
    filled = sorted((each for batch in members for each in _filled(batch)), key=_leaves_s)
    first_at = min(each.peg.dispatch_at for each in filled if each.peg is not None)
    codes = tuple(batch.code for batch in guests if batch.reduction)
    return (
        replace(host, reduction=_portions(filled), guests=(*host.guests, *codes)),
        *(replace(batch, reduction=(), pours_into=host.code, poured_for=first_at) for batch in guests),
    )


def _filled(host: Batch) -> Iterable[_Filled]:
    for portion in host.reduction:
        one_l = portion.litres / portion.containers
        for peg in portion.pegs:
            single = replace(peg, containers=1, share=peg.share / peg.containers)
            yield from [_Filled(portion.product, one_l, single)] * peg.containers
        yield from [_Filled(portion.product, one_l, None)] * portion.surplus


def _leaves_s(filled: _Filled) -> float:
    return filled.peg.dispatch_at.timestamp() if filled.peg else math.inf


def _portions(taken: list[_Filled]) -> tuple[Portion, ...]:
    by_product: dict[str, list[_Filled]] = {}
    for each in taken:
        by_product.setdefault(each.product, []).append(each)
    return tuple(
        Portion(
            product=product,
            containers=len(each),
            litres=len(each) * each[0].litres,
            pegs=_pegs([filled.peg for filled in each if filled.peg is not None]),
        )
        for product, each in by_product.items()
    )


def _pegs(singles: list[Peg]) -> tuple[Peg, ...]:
    by_line: dict[str, list[Peg]] = {}
    for peg in singles:
        by_line.setdefault(peg.line, []).append(peg)
    return tuple(
        replace(each[0], containers=len(each), share=sum(peg.share for peg in each)) for each in by_line.values()
    )


def _unserved(host: Batch, left: list[_Filled]) -> Iterable[Unserved]:
    for portion in _portions(left):
        for peg in portion.pegs:
            if not peg.line.startswith(PAR_PREFIX):
                litres = portion.litres / portion.containers * peg.containers
                yield replace(no_pan(host, litres), line=peg.line, product=portion.product, containers=peg.containers)
