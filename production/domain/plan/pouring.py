"""Second draws of a draft poured over into one pan, where that costs nothing that counts for more."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace

from production.domain.batches.prices import MOST_POOLED
from production.domain.plan.draft import Draft, drafted
from production.domain.plan.jobs import Held
from production.domain.plan.pools import poured_over
from production.domain.plan.repair import placed_around
from production.domain.plan.worth import improves
from production.domain.schedule.problem import Problem
from production.domain.schedule.result import Schedule

Pair = tuple[str, str]  # the host and who is poured over into its pan


def poured_together(draft: Draft, goes_on: Callable[[], bool]) -> Draft:
    """The draft with fewer reductions, of more second draws each.

    Equation: two runs of a formula with reductions, those nearest in time first, become a pool; both find a place anew
        while all others stay where they are; kept where the draft is worth more. Again, as long as there are pairs
        that were not tried.
    Units: draft (record), goes_on (asked before each try); returns a record.
    Valid: drafts of a week of which nothing has begun.
    Errors: PotwrightError `plan-breaks-a-limit` when the checker finds a fault (a mistake of the program).
    Source: own definition; reducing several second draws at once is common practice, no source.
    """
    tried: set[frozenset[str]] = set()
    best = draft
    while goes_on():
        pair = next((each for each in _pairs(best) if _members(best, each) not in tried), None)
        if pair is None:
            break
        tried.add(_members(best, pair))
        found = _poured(best, pair)
        if improves(found, best):
            best = found
    return best


def _pairs(draft: Draft) -> list[Pair]:
    """Runs with a reduction each, of one formula, that may go into one pan; the nearest in time first."""
    if not any(pot.reduction_pan for pot in draft.frame.week.pots):
        return []
    sized = set(draft.sized.batches)  # what had to be taken apart since is left as it is
    made = [
        (batch, run)
        for batch, run in draft.laid.kept
        if batch in sized and any(portion.pegs for portion in batch.reduction)
    ]
    pairs = (
        (abs(run.stages[-1].start_min - other.stages[-1].start_min), host.code, guest.code)
        for (host, run), (guest, other) in itertools.permutations(made, 2)
        if host.formula == guest.formula and not guest.guests and len(host.guests) + 2 <= MOST_POOLED
        if host.guests or host.code < guest.code
    )
    return [(host, guest) for _, host, guest in sorted(pairs)]


def _members(draft: Draft, pair: Pair) -> frozenset[str]:
    return frozenset((*pair, *draft.laid.jobs.batches[pair[0]].guests))


def _poured(draft: Draft, pair: Pair) -> Draft:
    """The draft with a pair poured over together; its runs find a place around all others."""
    batches = draft.laid.jobs.batches
    members = [batches[code] for code in (pair[0], *batches[pair[0]].guests, pair[1])]
    pool = {batch.code: batch for batch in poured_over(members)}
    before = {run.job: run for batch, run in draft.laid.kept if batch.code not in pool}

    def schedule(problem: Problem) -> Schedule:
        return placed_around(problem, before)

    together = tuple(pool.get(batch.code, batch) for batch in draft.sized.batches)
    reductions = sum(bool(batch.reduction) for batch in together)
    sized = replace(draft.sized, batches=together, sizing=replace(draft.sized.sizing, reductions=reductions))
    return drafted(draft.frame, draft.demand, sized, held=Held(), scheduler=schedule)
