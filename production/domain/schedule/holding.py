"""What holds a placed run where it is: its chain is slid towards now, and each resource says where it has no room.

Nothing is searched here: each need of the chain is read for all earlier places at once. The run in question is not in
the book, all others are.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise

import numpy as np

from production.domain.schedule.book import (
    COOKS,
    COOLING,
    HEAT,
    HOURS,
    ICE,
    INGREDIENTS,
    NO_EASE,
    POTS,
    SHELF_LIFE,
    STORAGE,
    TRAYS,
    Book,
    Ease,
    Flags,
    Steps,
    micro,
    stays_of,
)
from production.domain.schedule.placement import ready_from, wash_starts
from production.domain.schedule.problem import Draw, RunJob, RunOption
from production.domain.schedule.result import Placed, PlacedCooling, PlacedRun

NO_HOURS = Ease(frozenset([HOURS]))
NO_SHELF_LIFE = Ease(frozenset([SHELF_LIFE]))
# In this order, the easier thing to change first; the night is named only if nothing else holds a run.
HOLDERS = (ICE, TRAYS, COOLING, STORAGE, COOKS, HEAT, POTS, INGREDIENTS, SHELF_LIFE, HOURS)
ICE_MATTERS_MIN = 24 * 60  # draws of the day before are named where the ice is short


@dataclass(frozen=True, slots=True)
class Need:
    """Something that a chain needs from a step to a step."""

    resource: str
    code: str
    amount: int  # in booked units
    start: int
    end: int
    word: str  # stage or draw


@dataclass(frozen=True, slots=True)
class Barrier:
    """A need, for each earlier place whether it could not be met there, and when the run begins to use it as placed."""

    need: Need
    blocked: Flags
    has_it_from: int

    @property
    def place(self) -> int:
        """The nearest place at which the need is not met."""
        return int(np.argmax(self.blocked))


@dataclass(frozen=True, slots=True)
class Held:
    """What alone keeps a run from ending earlier, and by how much."""

    resource: str
    gain: int  # steps


@dataclass(frozen=True, slots=True)
class Slide:
    """Chains that are moved together by `by` steps towards now, what they would gain, and what stands in their way."""

    by: Steps
    gains: Steps  # steps by which they would end earlier
    barriers: tuple[Barrier, ...]

    def blocked(self, resource: str) -> Flags:
        """Where a resource has no room."""
        found = np.zeros(len(self.by), dtype=np.bool_)
        for barrier in self.barriers:
            if barrier.need.resource == resource:
                found |= barrier.blocked
        return found

    def barrier(self, resource: str) -> Barrier:
        """The need of a resource that is the first not to be met on the way."""
        mine = [each for each in self.barriers if each.need.resource == resource and each.blocked.any()]
        return min(mine, key=lambda each: each.place)

    def free_gain(self) -> int:
        """Steps to be gained at a place where nothing is in the way."""
        free = ~np.any([self.blocked(resource) for resource in HOLDERS], axis=0)
        return int(np.where(free, self.gains, 0).max(initial=0))

    def held_by(self) -> list[Held]:
        """What alone stands in the way at some earlier place, the one that costs most first and the night last."""
        blocked = {resource: self.blocked(resource) for resource in HOLDERS}
        count = np.sum([flags.astype(np.int64) for flags in blocked.values()], axis=0)
        found = []
        for resource, flags in blocked.items():
            gain = int(np.where(flags & (count == 1), self.gains, 0).max(initial=0))
            if gain > 0:
                found.append(Held(resource, gain))
        return sorted(found, key=lambda held: (held.resource == HOURS, -held.gain))

    def held_together(self) -> list[str]:
        """What stands in the way at the nearest place that would gain anything."""
        place = int(np.argmax(self.gains > 0))
        return [resource for resource in HOLDERS if self.blocked(resource)[place]]


def slide(book: Book, chains: Sequence[tuple[RunJob, PlacedRun]], *, shortest: bool) -> Slide:
    """Slide chains from their place towards now, as they are or with every stage as short as it may be.

    Equation: a need of the span [b, e) at the shift d is met when it is free from b - d to e - d.
    Units: book, chains (records), the first step of a chain held; shifts in steps of the book.
    Valid: runs that are not in the book, placed from now on.
    Errors: none.
    Source: own definition.
    """
    begins = [run.start_min // book.step for _, run in chains]
    grid = book.problem.step_min // book.step
    by = np.arange(0, max(min(begins) - book.now, 0) + 1, grid, dtype=np.int64)
    barriers: list[Barrier] = []
    gains = by
    for job, run in chains:
        marks, placed = (_marks(book, job, run, shortest=each) for each in (shortest, False))
        gains = np.minimum(gains, by) + placed[-1] - marks[-1]
        has_it = [need.start for need in _needs(book, job, run, placed)]
        for need, begin in zip(_needs(book, job, run, marks), has_it, strict=True):
            barriers.append(Barrier(need, _blocked(book, need, by), begin))
        for need, held, until in _vessels(book, job, run, marks, by):
            begin = placed[0] if need.code == run.pot else need.start
            barriers.append(Barrier(need, held > until, begin))
    return Slide(by, gains, tuple(barriers))


def _marks(book: Book, job: RunJob, run: PlacedRun, *, shortest: bool) -> list[int]:
    """Start and stage ends in steps."""
    begin = run.start_min // book.step
    if not shortest:
        return [begin, *(stage.end_min // book.step for stage in run.stages)]
    lengths = [stage.shortest_min // book.step for stage in job.options[run.option].stages]
    return list(accumulate(lengths, initial=begin))


def _needs(book: Book, job: RunJob, run: PlacedRun, marks: Sequence[int]) -> Iterator[Need]:
    option, step = job.options[run.option], book.step
    yield Need(INGREDIENTS, "", book.up(job.release_min), marks[0], marks[0], option.stages[0].kind)
    for number, (stage, (begin, end)) in enumerate(zip(option.stages, pairwise(marks), strict=True)):
        if book.needs_staff(stage):
            yield Need(HOURS, "", 1, begin, end, stage.kind)
        if stage.cooks:
            yield Need(COOKS, "", stage.cooks, begin, end, stage.kind)
        if stage.power_kw:
            yield Need(HEAT, option.supply_of(number), micro(stage.power_kw), begin, end, stage.kind)
    for task in option.additions:
        if task.done_at_min is None:
            at = marks[task.stage + 1] - task.before_end_min // step
            hands = option.stages[task.stage].cooks + 1
            yield Need(COOKS, "", hands, at, at + task.cook_min // step, task.name)
    for draw, cooling in zip(option.draws, run.coolings, strict=True):
        at = marks[draw.stage + 1]
        cooled = at + (cooling.end_min - cooling.start_min) // step
        ready = at + (cooling.ready_min - cooling.start_min) // step
        yield Need(HOURS, "", 1, at, cooled, "cooling")
        for device, places in cooling.places:
            yield Need(COOLING, device, places, at, cooled, draw.name)
        for tray, count in draw.trays:
            yield Need(TRAYS, tray, count, at, ready, draw.name)
        if cooling.ice_kg:
            yield Need(ICE, "", micro(cooling.ice_kg), at, at, draw.name)
        yield Need(SHELF_LIFE, "", book.up(draw.not_before_min), ready, ready, draw.name)
        for store in {keep.store for keep in draw.keep}:
            yield Need(STORAGE, store, ready_from(book, draw, NO_SHELF_LIFE), ready, ready, draw.name)


def _blocked(book: Book, need: Need, by: Steps) -> Flags:
    at, until = need.start - by, need.end - by
    if need.resource in (INGREDIENTS, SHELF_LIFE, STORAGE):  # the amount is the first step that is allowed
        early: Flags = at < need.amount
        return early
    if need.resource == ICE:
        short: Flags = book.ice_free()[at] < need.amount
        return short
    if need.resource == HOURS:
        closed: Flags = book.staffed_until[at] < until
        return closed
    ease = NO_HOURS if need.resource == COOKS else NO_EASE
    taken: Flags = book.clear_until(need.resource, need.code, need.amount, ease)[at] < until
    return taken


def _vessels(
    book: Book, job: RunJob, run: PlacedRun, marks: Sequence[int], by: Steps
) -> Iterator[tuple[Need, Steps, Steps]]:
    """Pot and pan: the need, until when it is held, and until when the vessel is free, at each place."""
    option, step = job.options[run.option], book.step
    emptied = marks[option.last_pot_stage + 1]
    held = _held(book, option.wash_min // step, emptied - by)
    until = book.vessel_until(run.pot, job.allergens, NO_EASE)[marks[0] - by]
    yield Need(POTS, run.pot, 1, marks[0], emptied, option.stages[0].kind), held, until
    if option.pan is not None:
        poured = marks[option.pan.pour_stage]
        held = _held(book, option.pan.wash_min // step, marks[-1] - by)
        until = book.vessel_until(run.pan, book.pan_allergens[job.code], NO_EASE)[poured - by]
        yield Need(POTS, run.pan, 1, poured, marks[-1], option.stages[option.pan.pour_stage].kind), held, until


def unmet_needs(book: Book, job: RunJob, run: PlacedRun) -> Iterator[Need]:
    """What a chain needs at a place that it has not been given, and that others have or that is not there.

    Equation: the needs of a slide that is not moved, as far as they are not met.
    Units: book, job, run (records); returns needs in steps.
    Valid: a run that is not in the book, from now on.
    Errors: none.
    Source: own definition.
    """
    here = np.zeros(1, dtype=np.int64)
    marks = _marks(book, job, run, shortest=False)
    for need in _needs(book, job, run, marks):
        if _blocked(book, need, here)[0]:
            yield need
    for need, held, until in _vessels(book, job, run, marks, here):
        if held[0] > until[0]:
            yield need


def has_it_from(book: Book, job: RunJob, run: PlacedRun, need: Need) -> int:
    """When a placed run begins to use what it needed elsewhere.

    Equation: the start of the same stage or draw; of a vessel, when it comes into the pot or pan that it has.
    Units: book, job, run, need (records); returns [min].
    Valid: needs of the same run at another place.
    Errors: none.
    Source: own definition.
    """
    marks = _marks(book, job, run, shortest=False)
    here = np.zeros(1, dtype=np.int64)
    needs = [*_needs(book, job, run, marks), *(vessel for vessel, _, _ in _vessels(book, job, run, marks, here))]
    same = [each.start for each in needs if (each.resource, each.word) == (need.resource, need.word)]
    return same[0] * book.step if same else run.start_min


def _held(book: Book, wash: int, emptied: Steps) -> Steps:
    return emptied if wash == 0 else wash_starts(book, wash, NO_HOURS)[emptied] + wash


def users_of(
    book: Book, need: Need, by: int, jobs: Mapping[str, RunJob], runs: Iterable[PlacedRun]
) -> tuple[PlacedRun, ...]:
    """The placed runs that use what a chain would need at an earlier place, the one that holds it longest first.

    Equation: runs whose use of the resource overlaps the need's span, moved by `by`; for ice the draws before it, for
        a vessel whoever is in it on the way from there to its place.
    Units: book, need, jobs, runs (records), by [steps]; returns records.
    Valid: runs on the book's steps.
    Errors: none.
    Source: own definition.
    """
    start, end = need.start - by, max(need.end - by, need.start - by + 1)
    if need.resource == POTS:
        end = need.start  # whoever is in the vessel on the way from the earlier place to this one
    found = []
    for run in runs:
        for begin, until in _uses(book, jobs[run.job], run, need):
            if begin < end and start < until:
                found.append((until, run))
                break
    return tuple(run for _, run in sorted(found, key=lambda item: (-item[0], item[1].job)))


def _uses(book: Book, job: RunJob, run: PlacedRun, need: Need) -> Iterator[tuple[int, int]]:
    """When a placed run uses what is needed, in steps."""
    if need.resource == POTS:
        soak = book.problem.soak_min // book.step
        for vessel, stay in stays_of(book, job, run):
            if vessel == need.code:
                yield stay.start - soak, stay.free + soak
    elif need.resource in (COOKS, HEAT):
        yield from _work(book, job.options[run.option], run, need)
    else:
        for draw, cooling in zip(job.options[run.option].draws, run.coolings, strict=True):
            yield from _cooling_uses(book, draw, cooling, need)


def _work(book: Book, option: RunOption, run: PlacedRun, need: Need) -> Iterator[tuple[int, int]]:
    tasks: list[Placed | None] = []
    if need.resource == COOKS:
        tasks += [placed for stage, placed in zip(option.stages, run.stages, strict=True) if stage.cooks]
        tasks += [*run.additions, run.wash, run.pan_wash]
    else:
        tasks += [
            placed
            for number, placed in enumerate(run.stages)
            if option.stages[number].power_kw and option.supply_of(number) == need.code
        ]
    for task in tasks:
        if task is not None:
            yield task.start_min // book.step, task.end_min // book.step


def _cooling_uses(book: Book, draw: Draw, cooling: PlacedCooling, need: Need) -> Iterator[tuple[int, int]]:
    begin, cooled, ready = (m // book.step for m in (cooling.start_min, cooling.end_min, cooling.ready_min))
    if need.resource == COOLING and need.code in dict(cooling.places):
        yield begin, cooled
    if need.resource == TRAYS and need.code in dict(draw.trays):
        yield begin, ready
    if need.resource == ICE and cooling.ice_kg:
        yield begin, begin + ICE_MATTERS_MIN // book.step
    for keep in draw.keep:
        if need.resource == STORAGE and keep.store == need.code:
            yield ready, max(ready, book.up(keep.until_min))
