"""Second draws that are reduced together in a pan."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from production.domain.batches.content import Batch, Portion
from production.domain.batches.costs import Placed
from production.domain.batches.tasks import MOST_POOLED, Task
from production.domain.formula import HAIR_L


def pools_of(placed: Iterable[Placed], tasks: Mapping[str, Task]) -> list[list[Placed]]:
    """Runs of one formula and slot whose second draws can be reduced together, at most three in a pool.

    Equation: runs are taken in order of dispatch as long as their liquors fit the largest pan and the cubes the trays.
    Units: placed, tasks (records); returns records; pools of one run are left out.
    Valid: runs with pegs; a run whose first draw nobody waits for is never a guest.
    Errors: none.
    Source: own definition; reducing several second draws together is common practice, no source.
    """
    drawn = sorted(
        (each for each in placed if each.batch.reduction),
        key=lambda each: (each.batch.formula, each.slot, each.batch.first_dispatch_at, each.batch.first_l),
    )
    together = itertools.groupby(drawn, key=lambda each: (each.batch.formula, each.slot))
    return [pool for (formula, _), members in together for pool in _pools(list(members), tasks[formula])]


def pooled(placed: Sequence[Placed], tasks: Mapping[str, Task]) -> list[Placed]:
    """Let the runs of each pool pour their second draws into one pan.

    Equation: the first run of a pool is the host, whose reduction is portioned for all.
    Units: placed, tasks (records); returns records with L.
    Valid: runs with codes.
    Errors: none.
    Source: own definition.
    """
    found = {each.batch.code: each for each in placed}
    for pool in pools_of(placed, tasks):
        host, *guests = (each.batch for each in pool)
        codes = tuple(guest.code for guest in guests)
        joined = replace(host, reduction=_together([host, *guests]), guests=codes)
        found[host.code] = replace(found[host.code], batch=joined)
        for guest in guests:
            poured = replace(guest, reduction=(), pours_into=host.code)
            found[guest.code] = replace(found[guest.code], batch=poured)
    return list(found.values())


def _pools(members: list[Placed], task: Task) -> Iterable[list[Placed]]:
    """Neighbours that fit a pan together; runs that stay alone are no pool."""
    pool: list[Placed] = []
    for each in members:
        if pool and not _fit([*pool, each], task):
            if len(pool) > 1:
                yield pool
            pool = []
        pool.append(each)
    if len(pool) > 1:
        yield pool


def _fit(pool: list[Placed], task: Task) -> bool:
    seconds = [(each.cell.second_at(each.batch.first_l), each.batch.first_l) for each in pool]
    liquor_l = sum(second.liquor_l.at(litres) for second, litres in seconds if second is not None)
    if len(pool) > MOST_POOLED or liquor_l > task.pan_l + HAIR_L:
        return False
    if not any(portion.pegs for portion in pool[-1].batch.first):
        return False
    portions = _together([each.batch for each in pool])
    return all(
        sum(each.litres for each in portions if each.product in {task.groups[n].product for n in groups})
        <= most_l + HAIR_L
        for groups, most_l in task.cube_limits_l
    )


def _together(batches: Iterable[Batch]) -> tuple[Portion, ...]:
    """The reductions of several runs as one."""
    merged: dict[str, Portion] = {}
    for portion in (portion for batch in batches for portion in batch.reduction):
        before = merged.get(portion.product)
        merged[portion.product] = portion if before is None else _sum(before, portion)
    return tuple(merged.values())


def _sum(one: Portion, other: Portion) -> Portion:
    """Two portions of a product as one; pegs of one line are put together."""
    pegs = {peg.line: peg for peg in one.pegs}
    for peg in other.pegs:
        before = pegs.get(peg.line)
        pegs[peg.line] = (
            peg
            if before is None
            else replace(peg, containers=peg.containers + before.containers, share=peg.share + before.share)
        )
    return replace(
        one,
        containers=one.containers + other.containers,
        litres=one.litres + other.litres,
        pegs=tuple(pegs.values()),
    )
