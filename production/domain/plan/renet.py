"""The runs of a plan against what is wanted now: what stays, what of it is spare, and what is still to be made."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from production.domain.batches import Batch, Peg, Portion, Sized
from production.domain.demand import Demand, Need, first_cook_date
from production.domain.plan.content import PlannedRun
from production.domain.plan.frame import Frame
from production.domain.plan.pools import parted

_Key = tuple[str, str]  # order line, product


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """Batches of a plan that are still wanted, and the demand that they leave."""

    batches: tuple[Batch, ...]
    left: Demand


def kept_of(
    frame: Frame, demand: Demand, runs: Iterable[PlannedRun], *, begun: Iterable[str], sized_as_they_are: Iterable[str]
) -> Kept:
    """Which batches of a plan stay, each with the orders it still serves.

    Equation: in the order of their starts, runs serve the needs they were meant for, as many as are still wanted and
        keep until their dispatch; then what they have over serves other needs of the product that leave after they are
        ready. A run that nobody waits for any more is dropped, unless it has begun or its size is held.
    Units: frame, demand, runs (records), begun, sized_as_they_are (codes of runs); returns records.
    Valid: runs of a plan of the same kitchen, without those that are lost.
    Errors: DoesNotFit `no-second-draw` for a formula without one, where a pool loses a run.
    Source: own definition.
    """
    ordered = sorted(runs, key=lambda run: (run.placed.start_min, run.code))
    needs = {(need.line, need.product): need for need in demand.needs}
    left = {key: need.containers for key, need in needs.items()}
    placed = {run.code: run for run in ordered}
    batches = _pools_of(frame, [run.batch for run in ordered])
    still = [_pegged_again(frame, placed[batch.code], batch, needs, left) for batch in batches]
    fixed = {*begun, *sized_as_they_are}
    filled = [_with_spare(frame, placed[batch.code], batch, needs, left) for batch in still]
    wanted = [batch for batch in filled if batch.code in fixed or _is_wanted(batch, filled)]
    return Kept(
        batches=_pools_of(frame, wanted) if len(wanted) < len(filled) else tuple(wanted),
        left=replace(demand, needs=tuple(_needs_left(demand.needs, left))),
    )


def _needs_left(needs: Iterable[Need], left: Mapping[_Key, int]) -> Iterable[Need]:
    for need in needs:
        containers = left[need.line, need.product]
        if containers:
            yield replace(need, containers=containers)


def _is_wanted(batch: Batch, batches: Iterable[Batch]) -> bool:
    """Whether somebody waits for it, or for the reduction that its second draw is poured into."""
    host = next((each for each in batches if each.code == batch.pours_into), None)
    portions = batch.portions if host is None else (*batch.portions, *host.reduction)
    return any(portion.pegs for portion in portions)


def _pools_of(frame: Frame, batches: Iterable[Batch]) -> tuple[Batch, ...]:
    """The batches; where a pool has lost a run, those that are left reduce by themselves."""
    by_code = {batch.code: batch for batch in batches}
    broken: dict[str, list[Batch]] = {}
    for batch in by_code.values():
        host = batch.pours_into or (batch.code if batch.guests else "")
        missing = host and (host not in by_code or set(by_code[host].guests) - by_code.keys())
        if missing:
            broken.setdefault(host, []).append(batch)
    for host, members in broken.items():
        members.sort(key=lambda batch: batch.code != host)
        reduction = members[0].reduction
        first = replace(members[0], pours_into="", guests=tuple(each.code for each in members[1:]), reduction=reduction)
        alone, _ = parted(frame, (first, *members[1:]))
        by_code |= {batch.code: batch for batch in alone}
    return tuple(by_code.values())


def _pegged_again(
    frame: Frame, run: PlannedRun, batch: Batch, needs: Mapping[_Key, Need], left: dict[_Key, int]
) -> Batch:
    """The batch with the pegs that are still wanted, at their present dispatch and weight."""

    def again(portion: Portion) -> Portion:
        pegs: list[Peg] = []
        for peg in portion.pegs:
            need = needs.get((peg.line, portion.product))
            if need is not None and (need.dispatch_at == peg.dispatch_at or _keeps_until(frame, run, portion, need)):
                pegs += _taken(need, portion.product, peg.containers, left)
        return replace(portion, pegs=tuple(pegs))

    return replace(
        batch,
        first=tuple(again(portion) for portion in batch.first),
        reduction=tuple(again(portion) for portion in batch.reduction),
    )


def _taken(need: Need, product: str, containers: int, left: dict[_Key, int]) -> Iterable[Peg]:
    taken = min(containers, left[need.line, product])
    if taken:
        left[need.line, product] -= taken
        yield Peg(
            line=need.line,
            containers=taken,
            share=taken / need.of_containers,
            dispatch_at=need.dispatch_at,
            weight=need.weight,
        )


def _keeps_until(frame: Frame, run: PlannedRun, portion: Portion, need: Need) -> bool:
    cooked_on = frame.local_date(run.start_at)
    leaves_on = frame.local_date(need.dispatch_at)
    return cooked_on >= first_cook_date(dispatch_on=leaves_on, product=frame.products[portion.product])


def _with_spare(
    frame: Frame, run: PlannedRun, batch: Batch, needs: Mapping[_Key, Need], left: dict[_Key, int]
) -> Batch:
    """The batch with what it has over given to needs that leave after it is ready and before it is too old."""

    def filled(portion: Portion) -> Portion:
        pegs, over = list(portion.pegs), portion.surplus
        waiting = [need for need in needs.values() if need.product == portion.product and left[need.line, need.product]]
        for need in sorted(waiting, key=lambda need: (need.is_wish, need.dispatch_at, -need.weight)):
            ready_at = max((draw.ready_at for draw in run.draws), default=run.end_at)
            if over and ready_at <= need.dispatch_at and _keeps_until(frame, run, portion, need):
                more = list(_taken(need, portion.product, over, left))
                over -= sum(peg.containers for peg in more)
                pegs += more
        return replace(portion, pegs=_merged(pegs))

    return replace(
        batch,
        first=tuple(filled(portion) for portion in batch.first),
        reduction=tuple(filled(portion) for portion in batch.reduction),
    )


def _merged(pegs: Iterable[Peg]) -> tuple[Peg, ...]:
    by_line: dict[str, Peg] = {}
    for peg in pegs:
        known = by_line.get(peg.line)
        by_line[peg.line] = (
            peg
            if known is None
            else replace(known, containers=known.containers + peg.containers, share=known.share + peg.share)
        )
    return tuple(by_line.values())


def with_new_codes(sized: Sized, taken: Iterable[str]) -> Sized:
    """Sized batches with codes that no run has had.

    Equation: R and the next numbers after the largest that is taken.
    Units: no quantities; sized (record), taken (codes); returns a record.
    Valid: any codes; those without a number do not count.
    Errors: none.
    Source: own definition.
    """
    numbers = [int(code[1:]) for code in taken if code[:1] == "R" and code[1:].isdigit()]
    start = max(numbers, default=0) + 1
    codes = {batch.code: f"R{number:02d}" for number, batch in enumerate(sized.batches, start)}
    return replace(
        sized,
        batches=tuple(
            replace(
                batch,
                code=codes[batch.code],
                pours_into=codes[batch.pours_into] if batch.pours_into else "",
                guests=tuple(codes[guest] for guest in batch.guests),
            )
            for batch in sized.batches
        ),
    )
