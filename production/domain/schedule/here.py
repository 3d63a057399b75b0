"""Why a run is here and not earlier, in one sentence that names what is in the way."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from production.domain.schedule.book import (
    COOKS,
    COOLING,
    HEAT,
    HOURS,
    ICE,
    INGREDIENTS,
    MICRO,
    NO_EASE,
    POTS,
    SHELF_LIFE,
    STORAGE,
    TRAYS,
    Book,
    Ease,
)
from production.domain.schedule.holding import Held, Need, Slide, slide, users_of
from production.domain.schedule.placement import best_placement
from production.domain.schedule.problem import RunJob
from production.domain.schedule.result import PlacedRun
from production.domain.schedule.spelling import spell_minutes
from production.domain.schedule.together import Group

NAMED = 3  # runs in the way that are named

_WORD = {
    ICE: "the ice",
    TRAYS: "the cube trays",
    COOLING: "the cooling places",
    STORAGE: "the room in the store",
    COOKS: "the cooks",
    HEAT: "the heat",
    POTS: "the pot",
    INGREDIENTS: "its ingredients",
    SHELF_LIFE: "its shelf life",
    HOURS: "the shifts",
}
_MORE = {
    ICE: "with more ice",
    TRAYS: "with more cube trays",
    COOLING: "with more places in the cooling devices",
    STORAGE: "with more room in the store",
    COOKS: "with more hands on duty",
    HEAT: "with a larger heat supply",
    POTS: "with another one free",
    INGREDIENTS: "with them there earlier",
    SHELF_LIFE: "with a longer shelf life",
    HOURS: "with longer shifts",
}


def why_here(book: Book, group: Group, placed: Mapping[str, PlacedRun]) -> dict[str, str]:
    """Say in one sentence each what keeps the placed runs of a group from ending earlier in their pots.

    Equation: the resource without which the chain could end earliest, the night only if nothing else does; how much
        earlier is searched with that resource taken as unlimited.
    Units: book, group, placed (records); returns sentences by run.
    Valid: runs that are not in the book, with all others in it.
    Errors: none.
    Source: own definition.
    """
    jobs = {job.code: job for job in book.problem.jobs}
    chains = [(job, placed[job.code]) for job in group.jobs if job.code in placed]
    sentence = _sentence(
        book, jobs, chains, [run for run in placed.values() if run.job not in {j.code for j, _ in chains}]
    )
    told = {}
    for job, run in chains:
        others = [other.job for _, other in chains if other.job != run.job]
        joined = f"Poured over together with {_names(others)}. " if others else ""
        told[run.job] = _held_still(book, job, run) or joined + sentence
    return told


def _held_still(book: Book, job: RunJob, run: PlacedRun) -> str:
    if job.start_at_min is not None:
        return "It has begun." if job.start_at_min < book.problem.now_min else "It is held to this start."
    if job.was is not None and (job.was.pot, job.was.start_min) == (run.pot, run.start_min):
        return "It stays where the plan before had it."
    return ""


def _sentence(
    book: Book, jobs: Mapping[str, RunJob], chains: Sequence[tuple[RunJob, PlacedRun]], others: Sequence[PlacedRun]
) -> str:
    slid = slide(book, chains, shortest=len(chains) == 1)
    free = free_gain(book, chains, slid)
    if free > 0:
        return f"Nothing holds it here: it could end {_spell(book, free)} earlier."
    if not (slid.gains > 0).any():
        return f"{chains[0][1].pot} starts as soon as this plan may begin."
    held = first_holder(book, chains, slid)
    if held is None:
        together = [_WORD[resource] for resource in slid.held_together()]
        if not together:
            return "Nothing holds it here by itself, yet as a whole it fits nowhere earlier in this pot."
        return f"Held by {_names(together)} together: easing one of them alone would not help."
    barrier = slid.barrier(held.resource)
    by = int(slid.by[barrier.place])
    in_the_way = [run.job for run in users_of(book, barrier.need, by, jobs, others)][:NAMED]
    holds = _held_by(barrier.need, in_the_way)
    return f"{holds}; {_MORE[held.resource]} it could end {_spell(book, held.gain)} earlier."


def free_gain(book: Book, chains: Sequence[tuple[RunJob, PlacedRun]], slid: Slide) -> int:
    """Steps by which chains could end earlier with everything as it is.

    Equation: of the slide; a run by itself is placed anew, because the slide looks at one need after the other.
    Units: book, chains, slid (records); returns [steps].
    Valid: runs that are not in the book, with all others in it.
    Errors: none.
    Source: own definition.
    """
    free = slid.free_gain()
    return _gain(book, chains, NO_EASE) if free > 0 and len(chains) == 1 else free


def first_holder(book: Book, chains: Sequence[tuple[RunJob, PlacedRun]], slid: Slide) -> Held | None:
    """What alone keeps chains from ending earlier, the one that costs most first and the night last.

    Equation: of the slide; for a run by itself the first without which it really finds an earlier place.
    Units: book, chains, slid (records); returns a record with [steps].
    Valid: as free_gain.
    Errors: none.
    Source: own definition.
    """
    for held in slid.held_by():
        gain = _gain(book, chains, Ease(frozenset([held.resource]))) if len(chains) == 1 else held.gain
        if gain > 0:
            return Held(held.resource, gain)
    return None


def _gain(book: Book, chains: Sequence[tuple[RunJob, PlacedRun]], ease: Ease) -> int:
    """Steps by which a run by itself could end earlier in its pot with the ease."""
    job, run = chains[0]
    found = best_placement(book, job, ease=ease, only_option=run.option)
    return (run.stages[-1].end_min - found.run.stages[-1].end_min) // book.step if found else 0


def _spell(book: Book, steps: int) -> str:
    return spell_minutes(steps * book.step)


def _names(codes: Sequence[str]) -> str:
    return " and ".join([", ".join(codes[:-1]), codes[-1]] if len(codes) > 1 else codes)


def _held_by(need: Need, runs: Sequence[str]) -> str:
    """What holds the run, with the runs in the way."""
    stage, several = need.word.replace("_", " "), len(runs) > 1

    def at_work(one: str, more: str) -> str:
        return f" ({_names(runs)} {more if several else one})" if runs else ""

    if need.resource == POTS:
        return f"Held by {need.code}: " + (
            f"{_names(runs)} must leave it first" if runs else "it is out of order before"
        )
    return {
        ICE: f"Held by the ice: the draw-off waits until the bin can spare {need.amount / MICRO:.3g} kg",
        TRAYS: f"Held by the cube trays: earlier too few are free{at_work('has them', 'have them')}",
        COOLING: f"Held by the cooling: earlier there is no room in {need.code}{at_work('is in it', 'are in it')}",
        STORAGE: f"Held by the store: earlier there is no room in {need.code}",
        COOKS: f"Held by the cooks: earlier no hands are free for its {stage}{at_work('needs them', 'need them')}",
        HEAT: f"Held by the heat: earlier there is too little for its {stage}{at_work('draws it', 'draw it')}",
        INGREDIENTS: "It waits for its ingredients",
        SHELF_LIFE: "Made no earlier, so that it keeps until its dispatch",
        HOURS: f"Held by the shifts: earlier nobody would be there for its {stage}",
    }[need.resource]
