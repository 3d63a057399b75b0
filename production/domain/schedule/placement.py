"""Where one run can go: the earliest chain of stages that the resource book allows, in each of the run's pots.

Going backwards through the chain, every step of the grid learns whether the rest of the run can follow from there, and
when it would end. That answers for all starts and for all pots of a kind at once; what it cannot see (two draws of one
run that want the same ice or places, additions in a short stage) is then tried out exactly, with trial bookings that
are taken back.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from production.domain.schedule.book import (
    COOKS,
    COOLING,
    ICE,
    INGREDIENTS,
    NO_EASE,
    PLENTY,
    SHELF_LIFE,
    STORAGE,
    TRAYS,
    Book,
    Ease,
    Flags,
    Kind,
    Steps,
    micro,
)
from production.domain.schedule.problem import AdditionTask, CoolingMode, Draw, RunJob, RunOption
from production.domain.schedule.result import Placed, PlacedCooling, PlacedRun

Hours = NDArray[np.float64]

TRIAL_STEPS = 3_000  # stage ends tried out for one run in one kind of pot before the search gives it up


@dataclass(frozen=True, slots=True)
class Found:
    """A placement and what it is worth; the smaller key is the better placement."""

    run: PlacedRun
    late_h: float

    @property
    def key(self) -> tuple[float, int, int]:
        """Lateness first, then the end of the chain, then the order in which the pots were offered."""
        return round(self.late_h, 9), self.run.stages[-1].end_min, self.run.option


@dataclass(frozen=True, slots=True)
class Pouring:
    """When a run may be poured over: at a minute, or from then on."""

    minute: int
    exactly: bool


def lateness_h(draw: Draw, ready_min: int) -> float:
    """Weighted hours by which a draw misses its dispatches.

    Equation: sum of weight x share x max(0, ready - due) / 60.
    Units: ready_min [min]; returns [h, weighted].
    Valid: any minute.
    Errors: none.
    Source: own definition.
    """
    return sum(due.weight * due.share * max(0, ready_min - due.minute) / 60 for due in draw.dues)


def best_placement(
    book: Book,
    job: RunJob,
    *,
    ease: Ease = NO_EASE,
    only_option: int | None = None,
    most_late_h: float = math.inf,
    pouring: Pouring | None = None,
) -> Found | None:
    """The placement with the least lateness and then the earliest end over the pots of a run.

    Equation: minimum of (lateness, end of the chain, order of the pots) over the chains the search tries; nothing that
        is later than it may be.
    Units: only_option [index of the option], most_late_h [h, weighted].
    Valid: any run of the book's problem; `pouring` only for a run that is poured over.
    Errors: none; nothing found is None.
    Source: own definition (serial schedule generation is a standard method of operations research).
    """
    best: Found | None = None
    for kind in book.shape.kinds[job.code]:
        indices = kind.indices
        if only_option is not None:
            indices = tuple(index for index in indices if index == only_option)
        if not indices:
            continue
        found = _Search(book, job, Kind(kind.option, indices), ease, pouring).best(best, most_late_h)
        if found is not None and (best is None or found.key < best.key):
            best = found
    return best


def ready_from(book: Book, draw: Draw, ease: Ease = NO_EASE) -> int:
    """The first step in which a draw may be ready: shelf life, and room in the stores from then on.

    Equation: max of the first good minute and of the end of the last time in which a store has no room for it.
    Units: book, draw, ease (records); returns [steps].
    Valid: any draw of the book's problem.
    Errors: none.
    Source: own definition.
    """
    ready = book.up(ease.rest(SHELF_LIFE, draw.not_before_min))
    for store in {keep.store for keep in draw.keep}:
        keeps = [(max(book.up(keep.until_min), 0), micro(keep.litres)) for keep in draw.keep if keep.store == store]
        need = np.zeros(min(max(until for until, _ in keeps), book.steps + 1), dtype=np.int64)
        for until, litres in keeps:
            need[:until] += litres
        if ease.frees(STORAGE):
            need = np.maximum(0, need - int(min(ease.amount, float(need.max(initial=0)))))
        full = np.flatnonzero((need > 0) & (book.free[STORAGE, store][: len(need)] < need))
        ready = max(ready, int(full[-1]) + 1 if len(full) else 0)
    return ready


def wash_starts(book: Book, wash: int, ease: Ease = NO_EASE, at_min: int | None = None) -> Steps:
    """For every step at which a vessel may be empty, the first start of its wash: at a minute, or when a cook is free.

    Equation: first step at or after each at which one cook is there for the whole wash; never is one step beyond.
    Units: wash [steps], at_min [min]; returns [steps].
    Valid: any length; without a wash the vessel is free at once.
    Errors: none.
    Source: own definition.
    """
    if wash == 0:
        return book.every
    may = np.minimum(book.clear_until(COOKS, "", 1, ease), book.attended_until(ease)) >= book.every + wash
    if at_min is not None:
        may &= book.every == at_min // book.step
    return _next_true(may, book.steps + 1)


def _next_true(flags: Flags, never: int) -> Steps:
    marks = np.full(len(flags), never, dtype=np.int64)
    marks[flags] = np.flatnonzero(flags)
    return np.minimum.accumulate(marks[::-1])[::-1]


def _ahead(values: Steps, by: int, fill: int) -> Steps:
    """values[t + by], with `fill` beyond either end."""
    out = np.full(len(values), fill, dtype=np.int64)
    if by >= 0:
        out[: max(len(values) - by, 0)] = values[by:]
    else:
        out[-by:] = values[:by]
    return out


class _Search:
    """One run in the pots of one kind. All times inside are steps of the book."""

    def __init__(self, book: Book, job: RunJob, kind: Kind, ease: Ease, pouring: Pouring | None) -> None:
        self.book = book
        self.job = job
        self.kind = kind
        self.option: RunOption = kind.option
        self.ease = ease
        self.pouring = pouring
        self.never = book.steps + 1
        self.last_pot_stage = self.option.last_pot_stage
        stages = self.option.stages
        self.shortest = [stage.shortest_min // book.step for stage in stages]
        self.longest = [stage.longest_min // book.step for stage in stages]
        self.until = [book.stage_until(self.option.supply_of(i), stage, ease) for i, stage in enumerate(stages)]
        pan = self.option.pan
        self.pan_until = book.always
        if pan is not None:
            self.pan_until = book.vessel_until(pan.code, book.pan_allergens[job.code], ease)
            for number in range(pan.pour_stage, len(stages)):
                self.until[number] = np.minimum(self.until[number], self.pan_until)
        self.wash = self.option.wash_min // book.step
        self.pan_wash = pan.wash_min // book.step if pan else 0
        self.washed_from = wash_starts(book, self.wash, ease, job.washed_at_min)
        self.pan_washed_from = wash_starts(book, self.pan_wash, ease)
        self.draws_at: dict[int, list[int]] = {}
        for number, draw in enumerate(self.option.draws):
            self.draws_at.setdefault(draw.stage, []).append(number)
        self.ready_from = [ready_from(book, draw, ease) for draw in self.option.draws]
        self.additions_at: dict[int, list[AdditionTask]] = {}
        for addition in self.option.additions:
            self.additions_at.setdefault(addition.stage, []).append(addition)
        self.strict = True
        self.may_end: list[Flags] = []
        self.landing: list[Steps] = []  # per stage: the earliest end of a stage begun at each step
        self.ready_at: dict[int, Steps] = {}  # per draw: when it would be ready, cooled from each step on
        self.end_from: Steps = book.always
        self.held_from: Steps = book.always  # until when the pot would be held at least
        self.pot_until = self.washed = self.pan_washed = 0
        self.stage_ends: list[int] = []
        self.added: list[Placed] = []
        self.cooled: dict[int, PlacedCooling] = {}
        self.iced: dict[int, int] = {}
        self.steps_left = TRIAL_STEPS

    # What every step knows

    def _sweep(self, *, strict: bool) -> None:
        """Fill `may_end`, `landing`, `end_from` (earliest end of a chain from each start) and `held_from`."""
        self.strict, self.steps_left = strict, TRIAL_STEPS
        book, never, every = self.book, self.never, self.book.every
        in_pan = self.pan_washed_from + self.pan_wash <= self.pan_until
        washable = self.washed_from < never
        held = self.washed_from + self.wash
        end = np.where(in_pan if self.option.pan else washable, every, never)
        self.may_end, self.landing = [], []
        for number in reversed(range(len(self.option.stages))):
            go = self._may_end_stage(number, end < never)
            if number == self.last_pot_stage:
                go, held = go & washable, self.washed_from + self.wash
            shortest, longest = self.shortest[number], self.longest[number]
            ends = _next_true(go, never) if shortest < longest else np.where(go, every, never)
            landing = _ahead(ends, shortest, never)
            lands = landing <= np.minimum(every + longest, self.until[number])
            at = np.minimum(landing, book.steps)
            end = np.where(lands, end[at], never)
            if number <= self.last_pot_stage:
                held = held[at]
            self.may_end.insert(0, go)
            self.landing.insert(0, landing)
        self.end_from, self.held_from = end, held

    def _may_end_stage(self, number: int, go: Flags) -> Flags:
        for draw_number in self.draws_at.get(number, ()):
            go = go & self._may_cool(draw_number)
        for addition in self.additions_at.get(number, ()):
            go = go & self._may_add(addition, self.option.stages[number].cooks)
        if self.pouring is not None and number == self._pour_stage() - 1:
            at = self.pouring.minute // self.book.step
            go = go & (self.book.every == at if self.pouring.exactly else self.book.every >= at)
        return go

    def _pour_stage(self) -> int:
        return self.option.pan.pour_stage if self.option.pan else len(self.option.stages) - 1

    def _may_cool(self, number: int) -> Flags:
        draw = self.option.draws[number]
        ready_at = np.full(self.book.steps + 1, PLENTY, dtype=np.int64)
        for mode in draw.modes:
            ready = self.book.every + (mode.minutes + draw.freeze_min) // self.book.step
            ready_at = np.minimum(ready_at, np.where(self._may_cool_so(number, mode), ready, PLENTY))
        self.ready_at[number] = ready_at
        return ready_at < PLENTY

    def _may_cool_so(self, number: int, mode: CoolingMode) -> Flags:
        book, ease, every, draw = self.book, self.ease, self.book.every, self.option.draws[number]
        held = book.attended_until(ease)
        for device, places in mode.places:
            held = np.minimum(held, book.clear_until(COOLING, device, places, ease))
        cooled, ready = mode.minutes // book.step, (mode.minutes + draw.freeze_min) // book.step
        may = held >= every + cooled
        for tray, count in draw.trays:
            may &= book.clear_until(TRAYS, tray, count, ease) >= every + ready
        ice = ease.rest(ICE, micro(mode.ice_kg))
        if ice:
            may &= book.ice_free() >= ice
        first = max(self.ready_from[number] - ready, 0)
        may[book.now : max(first, book.now)] = False  # what has been cooled before now is what it is
        may[max(self._ready_by(draw) - ready + 1, 0) :] = False
        return may

    def _ready_by(self, draw: Draw) -> int:
        """The last step in which the draw may be ready: its first dispatch, where the search is strict."""
        dues = [due.minute // self.book.step for due in draw.dues] if self.strict else []
        return min([self.book.steps, *dues])

    def _may_add(self, addition: AdditionTask, stage_cooks: int) -> Flags:
        book, step = self.book, self.book.step
        if addition.done_at_min is not None:
            at = addition.done_at_min // step
            fits = self._cook_free(self._hands(addition, stage_cooks), at, at + addition.cook_min // step)
            return np.full(book.steps + 1, fits, dtype=np.bool_)
        until = np.minimum(book.clear_until(COOKS, "", stage_cooks + 1, self.ease), book.attended_until(self.ease))
        first = _next_true(until >= book.every + addition.cook_min // step, self.never)
        earliest = -(addition.before_end_min + addition.tolerance_min) // step
        latest = min(addition.tolerance_min - addition.before_end_min, -addition.cook_min) // step
        if earliest > latest:
            return np.zeros(book.steps + 1, dtype=np.bool_)
        return _ahead(first, earliest, int(first[0])) <= book.every + latest

    def _hands(self, addition: AdditionTask, stage_cooks: int) -> int:
        """Hands at work during an addition; one that has begun may lie in any stage."""
        if addition.done_at_min is None:
            return stage_cooks + 1
        return max(stage.cooks for stage in self.option.stages) + 1

    # Whole chains

    def best(self, other: Found | None, most_late_h: float) -> Found | None:
        """The least late and then earliest-ending placement; only what could be better than the other one is tried."""
        found = self._best(other, most_late_h)
        return None if found is None or found.late_h > most_late_h else found

    def _best(self, other: Found | None, most_late_h: float) -> Found | None:
        self._sweep(strict=False)
        starts = self._starts()
        if not len(starts):
            return None
        least = self._least_lateness(starts)
        if least[0] > most_late_h:
            return None
        worth = round(float(least[0]), 9), int(self.end_from[starts[0]]) * self.book.step
        if other is not None and worth > other.key[:2]:
            return None
        found = self._least_late(starts, least)
        if least[0] > 0 or (found is not None and found.late_h == 0):
            return found
        self._sweep(strict=True)
        on_time = self._least_late(self._starts(), None)
        return on_time if on_time is not None else found

    def _least_late(self, starts: Steps, least: Hours | None) -> Found | None:
        """Starts are tried in their order, until no later one can be better or, where no least is given, one fits."""
        best: Found | None = None
        for place, start in enumerate(starts):
            if best is not None and (least is None or least[place] >= best.late_h - 1e-9):
                break
            found = self._in_any_pot(int(start))
            if found is not None and (best is None or found.key < best.key):
                best = found
        return self._latest_with_same_end(starts, best) if best is not None else None

    def _pot_until(self, index: int) -> Steps:
        return self.book.vessel_until(self.job.options[index].pot, self.job.allergens, self.ease)

    def _starts(self) -> Steps:
        """Starts on the grid from which the chain can run through in one of the pots."""
        held = np.where(self.end_from < self.never, self.held_from, PLENTY)
        fits = np.zeros(self.book.steps + 1, dtype=np.bool_)
        for index in self.kind.indices:
            fits |= held <= self._pot_until(index)
        if self.pouring is not None and self._pour_stage() == 0:
            at = self.pouring.minute // self.book.step
            fits &= self.book.every == at if self.pouring.exactly else self.book.every >= at
        grid = self._grid()
        return grid[fits[grid]]

    def _grid(self) -> Steps:
        problem, step = self.book.problem, self.book.step
        if self.job.start_at_min is not None:
            begun = self.job.start_at_min < problem.now_min
            may = begun or self.job.start_at_min >= self.ease.rest(INGREDIENTS, self.job.release_min)
            on_grid = self.job.start_at_min % step == 0 and 0 <= self.job.start_at_min < problem.horizon_min
            held = [self.job.start_at_min // step] if may and on_grid else []
            return np.array(held, dtype=np.int64)
        release = self.ease.rest(INGREDIENTS, self.job.release_min)
        first = -(-max(problem.now_min, release) // problem.step_min) * problem.step_min
        return np.arange(first // step, self.book.steps, problem.step_min // step, dtype=np.int64)

    def _latest_with_same_end(self, starts: Steps, found: Found) -> Found:
        """A run that is held back by its end need not simmer longer than it must: same end, later start, first pot."""
        end = found.run.stages[-1].end_min // self.book.step
        same_end = starts[(self.end_from[starts] == end) & (starts > found.run.start_min // self.book.step)][::-1]
        for index in (index for index in self.kind.indices if index <= found.run.option):
            for start in same_end[self.held_from[same_end] <= self._pot_until(index)[same_end]]:
                same = self._try(int(start), index)
                if same is not None and same.key <= found.key:
                    return same
        return found

    def _least_lateness(self, starts: Steps) -> Hours:
        """The least lateness that each start can have: draws come no earlier, and are ready no sooner later on."""
        total = np.zeros(len(starts), dtype=np.float64)
        at = starts
        for number in range(len(self.option.stages)):
            at = self.landing[number][at]
            for draw_number in self.draws_at.get(number, ()):
                draw = self.option.draws[draw_number]
                if draw.dues:
                    soonest = np.minimum.accumulate(self.ready_at[draw_number][::-1])[::-1][at]
                    for due in draw.dues:
                        late_min = np.maximum(soonest * self.book.step - due.minute, 0)
                        total += due.weight * due.share * late_min / 60
        return total

    def _in_any_pot(self, start: int) -> Found | None:
        """The chain from a start in the first pot that is free for it, or in the one that is free for longest."""
        free = [(int(self._pot_until(index)[start]), index) for index in self.kind.indices]
        held = int(self.held_from[start])
        fits = [(until, index) for until, index in free if until >= held]
        found = self._try(start, fits[0][1])
        longest = max(fits, key=lambda pot: pot[0])
        return self._try(start, longest[1]) if found is None and longest[0] > fits[0][0] else found

    def _try(self, start: int, index: int) -> Found | None:
        """Walk one chain exactly; all trial bookings are taken back."""
        self.pot_until = int(self._pot_until(index)[start])
        self.stage_ends, self.added, self.cooled, self.iced = [], [], {}, {}
        if not self._walk(0, start):
            return None
        found = self._found(start, index)
        for task in self.added:
            self._take_cook(task, -1)
        for number, cooling in self.cooled.items():
            self.book.take_cooling(self.option.draws[number], cooling, -1)
        return found

    def _found(self, start: int, index: int) -> Found:
        step, option = self.book.step, self.job.options[index]
        begins = [start, *self.stage_ends[:-1]]
        stages = tuple(
            Placed(name=stage.kind, start_min=begin * step, end_min=end * step)
            for stage, begin, end in zip(option.stages, begins, self.stage_ends, strict=True)
        )
        late_h = sum(lateness_h(draw, self.cooled[i].ready_min) for i, draw in enumerate(option.draws))
        run = PlacedRun(
            job=self.job.code,
            option=index,
            pot=option.pot,
            stages=stages,
            additions=tuple(sorted(self.added, key=lambda task: (task.start_min, task.name))),
            coolings=tuple(self.cooled[i] for i in range(len(option.draws))),
            wash=self._washing(self.washed, self.wash),
            why_here="",
            pan=option.pan.code if option.pan else "",
            pan_wash=self._washing(self.pan_washed, self.pan_wash),
        )
        return Found(run=run, late_h=late_h)

    def _washing(self, start: int, wash: int) -> Placed | None:
        step = self.book.step
        return Placed(name="wash", start_min=start * step, end_min=(start + wash) * step) if wash else None

    def _walk(self, number: int, begin: int) -> bool:
        """Place stage `number` from `begin` and everything after it; False leaves no trial booking behind."""
        if number == len(self.option.stages):
            return self._wash_both() if self.option.pan else self._wash_pot()
        shortest = self.shortest[number]
        last = min(begin + self.longest[number], int(self.until[number][begin]))
        for offset in np.flatnonzero(self.may_end[number][begin + shortest : last + 1]):
            self.steps_left -= 1
            end = begin + shortest + int(offset)
            full = number == self.last_pot_stage and int(self.washed_from[end]) + self.wash > self.pot_until
            if full or self.steps_left < 0:
                return False
            self.stage_ends.append(end)
            if self._add(number, begin, end, 0):
                return True
            self.stage_ends.pop()
        return False

    def _wash_pot(self) -> bool:
        self.washed = int(self.washed_from[self.stage_ends[-1]])
        return True

    def _wash_both(self) -> bool:
        """Wash the pot while the chain goes on in the pan, and then the pan: with hands that the chain leaves free."""
        busy = [
            (stage.cooks, begin, end)
            for stage, begin, end in zip(self.option.stages[1:], self.stage_ends, self.stage_ends[1:], strict=False)
            if stage.cooks
        ]
        for cooks, begin, end in busy:
            self.book.take(COOKS, "", cooks, begin, end)
        emptied = self.stage_ends[self.last_pot_stage]
        self.washed = self._hands_free(self.washed_from, emptied, self.wash, self.pot_until)
        if self.washed < self.never:
            self.book.take(COOKS, "", 1, self.washed, self.washed + self.wash)
            pan_until = int(self.pan_until[self.stage_ends[-1]])
            self.pan_washed = self._hands_free(self.pan_washed_from, self.stage_ends[-1], self.pan_wash, pan_until)
            self.book.take(COOKS, "", -1, self.washed, self.washed + self.wash)
        for cooks, begin, end in busy:
            self.book.take(COOKS, "", -cooks, begin, end)
        return self.washed < self.never and self.pan_washed < self.never

    def _hands_free(self, starts: Steps, emptied: int, wash: int, until: int) -> int:
        """The first start of a wash for which a cook is free, the chain's own cooks left out; or never."""
        start = int(starts[emptied])
        while start + wash <= until and not self.book.fits(COOKS, "", 1, start, start + wash, self.ease):
            start = int(starts[start + 1])
        return start if start + wash <= until else self.never

    def _add(self, number: int, begin: int, end: int, which: int) -> bool:
        """Place the additions of a stage from `which` on, then its draws."""
        additions = self.additions_at.get(number, ())
        if which == len(additions):
            return self._cool(number, end, 0)
        addition = additions[which]
        hands = self._hands(addition, self.option.stages[number].cooks)
        length = addition.cook_min // self.book.step
        for start in self._addition_starts(addition, begin, end):
            if self._cook_free(hands, start, start + length):
                break
        else:
            return False
        step = self.book.step
        task = Placed(name=addition.name, start_min=start * step, end_min=(start + length) * step)
        self._take_cook(task, 1)
        self.added.append(task)
        if self._add(number, begin, end, which + 1):
            return True
        self.added.pop()
        self._take_cook(task, -1)
        return False

    def _take_cook(self, task: Placed, sign: int) -> None:
        self.book.take(COOKS, "", sign, task.start_min // self.book.step, task.end_min // self.book.step)

    def _addition_starts(self, addition: AdditionTask, begin: int, end: int) -> list[int]:
        step = self.book.step
        if addition.done_at_min is not None:
            return [addition.done_at_min // step]
        wanted, tolerance = end - addition.before_end_min // step, addition.tolerance_min // step
        earliest = max(begin, wanted - tolerance)
        latest = min(end - addition.cook_min // step, wanted + tolerance)
        return sorted(range(earliest, latest + 1), key=lambda start: (abs(start - wanted), start))

    def _cook_free(self, hands: int, start: int, stop: int) -> bool:
        attended = int(self.book.attended_until(self.ease)[start]) >= stop
        return attended and self.book.fits(COOKS, "", hands, start, stop, self.ease)

    def _cool(self, number: int, end: int, which: int) -> bool:
        """Put the draws of a stage from `which` on into their coolers, then go on with the next stage."""
        here = self.draws_at.get(number, ())
        if which == len(here):
            return self._walk(number + 1, end)
        draw = self.option.draws[here[which]]
        for cooling in self._coolings(here[which], end):
            ice = self.ease.rest(ICE, micro(cooling.ice_kg))
            self.book.take_cooling(draw, cooling, 1)
            self.cooled[here[which]] = cooling
            self.iced[end] = self.iced.get(end, 0) + ice
            if self._cool(number, end, which + 1):
                return True
            self.iced[end] -= ice
            del self.cooled[here[which]]
            self.book.take_cooling(draw, cooling, -1)
        return False

    def _coolings(self, number: int, start: int) -> list[PlacedCooling]:
        """The ways in which a draw can be cooled from `start`: the least late first, then in the order given."""
        step, draw = self.book.step, self.option.draws[number]
        # Draws of the same run that are tried out at the moment take room as well.
        fresh_from = ready_from(self.book, draw, self.ease) if self.cooled else self.ready_from[number]
        ready_by = self._ready_by(draw)
        coolings = []
        for mode in draw.modes:
            cooling = PlacedCooling(
                draw=draw.name,
                mode=mode.name,
                places=mode.places,
                ice_kg=mode.ice_kg,
                start_min=start * step,
                end_min=start * step + mode.minutes,
                ready_min=start * step + mode.minutes + draw.freeze_min,
            )
            ready = cooling.ready_min // step
            fresh = fresh_from <= ready or start < self.book.now
            if fresh and ready <= ready_by and self._can_cool(draw, cooling):
                coolings.append(cooling)
        return sorted(coolings, key=lambda cooling: lateness_h(draw, cooling.ready_min))

    def _can_cool(self, draw: Draw, cooling: PlacedCooling) -> bool:
        book, ease, step = self.book, self.ease, self.book.step
        start, end, ready = cooling.start_min // step, cooling.end_min // step, cooling.ready_min // step
        if int(book.attended_until(ease)[start]) < end:
            return False
        if not all(book.fits(COOLING, device, n, start, end, ease) for device, n in cooling.places):
            return False
        if not all(book.fits(TRAYS, tray, n, start, ready, ease) for tray, n in draw.trays):
            return False
        ice = ease.rest(ICE, micro(cooling.ice_kg))
        if not ice or start < book.now:
            return True
        if not any(self.iced.values()):
            return int(book.ice_free()[start]) >= ice
        return book.ice_short({**self.iced, start: self.iced.get(start, 0) + ice}) <= 0
