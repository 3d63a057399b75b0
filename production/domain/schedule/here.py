"""Why a run is here and not earlier, in one sentence that names what is in the way."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

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
    Steps,
)
from production.domain.schedule.holding import Need, Slide, slide, users_of
from production.domain.schedule.placement import best_placement
from production.domain.schedule.problem import RunJob
from production.domain.schedule.result import PlacedRun
from production.domain.schedule.spelling import spell_minutes
from production.domain.schedule.together import Group

# In this order, the easier thing to change first; the night is named only if nothing else holds a run.
HOLDERS = (ICE, TRAYS, COOLING, STORAGE, COOKS, HEAT, POTS, INGREDIENTS, SHELF_LIFE, HOURS)
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


@dataclass(frozen=True, slots=True)
class Held:
    """What alone keeps a run from ending earlier, the place at which it would, and by how much."""

    resource: str
    place: int  # index into the slide's places
    gain: int  # steps


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
    alone = len(chains) == 1
    slid = slide(book, chains, shortest=alone)
    gains = _gains(book, chains, slid, shortest=alone)
    free = ~np.any([slid.blocked(resource) for resource in HOLDERS], axis=0) & (gains > 0)
    if free.any():
        gain = _gain(book, chains, NO_EASE) if alone else int(gains[free].max())
        if gain > 0:
            return f"Nothing holds it here: it could end {_spell(book, gain)} earlier."
    if not (gains > 0).any():
        return f"{chains[0][1].pot} starts as soon as this plan may begin."
    for held in holders(slid, gains):
        gain = _gain(book, chains, Ease(frozenset([held.resource]))) if alone else held.gain
        if gain > 0:
            need = slid.barrier(held.resource, 0)
            by = _by_of(slid, need)
            in_the_way = [run.job for run in users_of(book, need, by, jobs, others)][:NAMED]
            return f"{_held_by(need, in_the_way)}; {_MORE[held.resource]} it could end {_spell(book, gain)} earlier."
    place = int(np.argmax(gains > 0))
    together = [_WORD[resource] for resource in HOLDERS if slid.blocked(resource)[place]]
    return f"Held by {_names(together)} together: easing one of them alone would not help."


def _by_of(slid: Slide, need: Need) -> int:
    barrier = next(each for each in slid.barriers if each.need is need)
    return int(slid.by[int(np.argmax(barrier.blocked))])


def _gains(book: Book, chains: Sequence[tuple[RunJob, PlacedRun]], slid: Slide, *, shortest: bool) -> Steps:
    """Steps by which the chain would end earlier at each place."""
    if not shortest:
        return slid.by
    job, run = chains[0]
    least_min = sum(stage.shortest_min for stage in job.options[run.option].stages)
    return slid.by + (run.stages[-1].end_min - run.start_min - least_min) // book.step


def holders(slid: Slide, gains: Steps) -> list[Held]:
    """What alone stands in the way at some earlier place, the one that costs most first and the night last.

    Equation: places at which one resource is blocked and no other.
    Units: gains [steps] by place; returns records.
    Valid: any slide.
    Errors: none.
    Source: own definition.
    """
    blocked = {resource: slid.blocked(resource) for resource in HOLDERS}
    count = np.sum([flags.astype(np.int64) for flags in blocked.values()], axis=0)
    found = []
    for resource, flags in blocked.items():
        alone = flags & (count == 1) & (gains > 0)
        if alone.any():
            place = int(np.argmax(np.where(alone, gains, 0)))
            found.append(Held(resource, place, int(gains[place])))
    return sorted(found, key=lambda held: (held.resource == HOURS, -held.gain))


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
    stage, busy = need.word.replace("_", " "), f" with {_names(runs)}" if runs else ""
    if need.resource == POTS:
        return f"Held by {need.code}: " + (
            f"{_names(runs)} must leave it first" if runs else "it is out of order before"
        )
    return {
        ICE: f"Held by the ice: the draw-off waits until the bin can spare {need.amount / MICRO:.3g} kg",
        TRAYS: f"Held by the cube trays: earlier too many are in use{busy}",
        COOLING: f"Held by the cooling: earlier there is no room in {need.code}{busy}",
        STORAGE: f"Held by the store: earlier there is no room in {need.code}",
        COOKS: f"Held by the cooks: earlier no hands are free for its {stage}{busy}",
        HEAT: f"Held by the heat: earlier there is too little for its {stage}{busy}",
        INGREDIENTS: "It waits for its ingredients",
        SHELF_LIFE: "Made no earlier, so that it keeps until its dispatch",
        HOURS: f"Held by the shifts: earlier nobody would be there for its {stage}",
    }[need.resource]
