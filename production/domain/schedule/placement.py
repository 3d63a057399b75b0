"""Where one run can go: the earliest chain of stages that the resource book allows, in each of the run's pots.

Going backwards through the chain, every minute learns whether the rest of the run can follow from there. That answers
for all starts at once; what it cannot see (two draws of one run that want the same ice or places, additions in a short
stage) is then tried out exactly, with trial bookings that are taken back.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from production.domain.schedule.book import (
    COOKS,
    COOLING,
    ICE,
    INGREDIENTS,
    NO_EASE,
    SHELF_LIFE,
    STORAGE,
    TRAYS,
    Book,
    Ease,
    Flags,
    Minutes,
    micro,
)
from production.domain.schedule.problem import AdditionTask, CoolingMode, Draw, RunJob, RunOption
from production.domain.schedule.result import Placed, PlacedCooling, PlacedRun

TRIAL_STEPS = 3_000  # stage ends tried out for one run in one pot before the search gives that pot up


@dataclass(frozen=True, slots=True)
class Found:
    """A placement and what it is worth; the smaller key is the better placement."""

    run: PlacedRun
    late_h: float

    @property
    def key(self) -> tuple[float, int, int]:
        """Lateness first, then the end of the chain, then the order in which the pots were offered."""
        return round(self.late_h, 9), self.run.stages[-1].end_min, self.run.option


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
    book: Book, job: RunJob, *, ease: Ease = NO_EASE, only_option: int | None = None, must_be_on_time: bool = False
) -> Found | None:
    """The placement with the least lateness and then the earliest end over the pots of a run.

    Equation: minimum of (lateness, end of the chain, order of the pots) over the chains the search tries.
    Units: no quantities.
    Valid: any run of the book's problem.
    Errors: none; nothing found is None.
    Source: own definition (serial schedule generation is a standard method of operations research).
    """
    options = range(len(job.options)) if only_option is None else [only_option]
    searches = [_Search(book, job, index, ease) for index in options]
    found = [on_time for search in searches if (on_time := search.on_time()) is not None]
    if not found and not must_be_on_time:
        found = [late for search in searches if (late := search.least_late()) is not None]
    return min(found, key=lambda item: item.key, default=None)


def _next_true(flags: Flags, never: int) -> Minutes:
    marks = np.full(len(flags), never, dtype=np.int64)
    marks[flags] = np.flatnonzero(flags)
    return np.minimum.accumulate(marks[::-1])[::-1]


def _ahead(values: Minutes, by: int, fill: int) -> Minutes:
    """values[t + by], with `fill` beyond either end."""
    out = np.full(len(values), fill, dtype=np.int64)
    if by >= 0:
        out[: max(len(values) - by, 0)] = values[by:]
    else:
        out[-by:] = values[:by]
    return out


class _Search:
    """One run in one of its pots."""

    def __init__(self, book: Book, job: RunJob, index: int, ease: Ease) -> None:
        self.book = book
        self.job = job
        self.index = index
        self.option: RunOption = job.options[index]
        self.ease = ease
        self.never = book.horizon + 1
        pot = book.pot_until(self.option.pot, job.allergens, ease)
        self.until = [
            np.minimum(pot, book.stage_until(self.option.supply, stage, ease)) for stage in self.option.stages
        ]
        self.washed_from = self._wash_starts(pot)
        self.draws_at: dict[int, list[int]] = {}
        for number, draw in enumerate(self.option.draws):
            self.draws_at.setdefault(draw.stage, []).append(number)
        self.additions_at: dict[int, list[AdditionTask]] = {}
        for addition in self.option.additions:
            self.additions_at.setdefault(addition.stage, []).append(addition)
        self.strict = True
        self.may_end: list[Flags] = []
        self.end_from: Minutes = book.always
        self.stage_ends: list[int] = []
        self.added: list[Placed] = []
        self.cooled: dict[int, PlacedCooling] = {}
        self.iced: dict[int, int] = {}
        self.steps_left = TRIAL_STEPS

    # What every minute knows

    def _wash_starts(self, pot_until: Minutes) -> Minutes:
        """For every end of the chain, the first start of a wash (never, if the pot cannot be held so long)."""
        minutes, wash_min = self.book.minutes, self.option.wash_min
        if wash_min == 0:
            return minutes
        cooks = np.minimum(self.book.clear_until(COOKS, "", 1, self.ease), self.book.attended_until(self.ease))
        starts = _next_true(cooks >= minutes + wash_min, self.never)
        return np.where(starts + wash_min <= pot_until, starts, self.never)

    def _sweep(self, *, strict: bool) -> None:
        """Fill `may_end` (per stage: it may end here) and `end_from` (earliest end of a chain from each start)."""
        self.strict = strict
        minutes, horizon = self.book.minutes, self.book.horizon
        end = np.where(self.washed_from < self.never, minutes, self.never)
        self.may_end = []
        for number in reversed(range(len(self.option.stages))):
            stage = self.option.stages[number]
            go = end < self.never
            for draw_number in self.draws_at.get(number, []):
                go = go & self._may_cool(self.option.draws[draw_number])
            for addition in self.additions_at.get(number, []):
                go = go & self._may_add(addition, stage.cooks)
            self.may_end.insert(0, go)
            if stage.shortest_min < stage.longest_min:
                ends = _next_true(go, self.never)
            else:
                ends = np.where(go, minutes, self.never)
            landing = _ahead(ends, stage.shortest_min, self.never)
            lands = landing <= np.minimum(minutes + stage.longest_min, self.until[number])
            end = np.where(lands, end[np.minimum(landing, horizon)], self.never)
        self.end_from = end

    def _may_cool(self, draw: Draw) -> Flags:
        may = np.zeros(self.book.horizon + 1, dtype=np.bool_)
        for mode in draw.modes:
            may |= self._may_cool_so(draw, mode)
        return may

    def _may_cool_so(self, draw: Draw, mode: CoolingMode) -> Flags:
        book, ease, minutes = self.book, self.ease, self.book.minutes
        held = book.attended_until(ease)
        for device, places in mode.places:
            held = np.minimum(held, book.clear_until(COOLING, device, places, ease))
        frozen = book.always
        for tray, count in draw.trays:
            frozen = np.minimum(frozen, book.clear_until(TRAYS, tray, count, ease))
        ready_after = mode.minutes + draw.freeze_min
        may = (held >= minutes + mode.minutes) & (frozen >= minutes + ready_after)
        may &= minutes + ready_after >= self._ready_from(draw)
        ice = ease.rest(ICE, micro(mode.ice_kg))
        if ice:
            may &= book.ice_free() >= ice
        return may & (minutes + ready_after <= self._ready_by(draw))

    def _ready_by(self, draw: Draw) -> int:
        """The last minute in which the draw may be ready: its first dispatch, where the search is strict."""
        dues = [due.minute for due in draw.dues] if self.strict else []
        return min([self.book.horizon, *dues])

    def _ready_from(self, draw: Draw) -> int:
        """The first minute in which the draw may be ready: shelf life, and room in the stores from then on."""
        ready = self.ease.rest(SHELF_LIFE, draw.not_before_min)
        for store in {keep.store for keep in draw.keep}:
            need = np.zeros(self.book.horizon + 1, dtype=np.int64)
            for keep in draw.keep:
                if keep.store == store:
                    need[: max(keep.until_min, 0)] += micro(keep.litres)
            if self.ease.frees(STORAGE):
                need = np.maximum(0, need - int(min(self.ease.amount, float(need.max(initial=0)))))
            full = np.flatnonzero((need > 0) & (self.book.free[STORAGE, store] < need))
            ready = max(ready, int(full[-1]) + 1 if len(full) else 0)
        return ready

    def _may_add(self, addition: AdditionTask, stage_cooks: int) -> Flags:
        minutes = self.book.minutes
        until = np.minimum(
            self.book.clear_until(COOKS, "", stage_cooks + 1, self.ease), self.book.attended_until(self.ease)
        )
        first = _next_true(until >= minutes + addition.cook_min, self.never)
        earliest = -(addition.before_end_min + addition.tolerance_min)
        latest = min(addition.tolerance_min - addition.before_end_min, -addition.cook_min)
        if earliest > latest:
            return np.zeros(self.book.horizon + 1, dtype=np.bool_)
        return _ahead(first, earliest, int(first[0])) <= minutes + latest

    # Whole chains

    def on_time(self) -> Found | None:
        """The earliest-ending placement that meets every dispatch, started as late as that end allows."""
        self._sweep(strict=True)
        starts = self._starts()
        for position, start in enumerate(starts):
            found = self._try(int(start))
            if found is not None:
                return self._latest_with_same_end(starts[position + 1 :], found)
        return None

    def least_late(self) -> Found | None:
        """The placement with the least lateness; starts are tried until no later one can be better."""
        self._sweep(strict=False)
        best: Found | None = None
        for start in self._starts():
            if best is not None and self._least_lateness(int(start)) >= best.late_h:
                break
            found = self._try(int(start))
            if found is not None and (best is None or found.key < best.key):
                best = found
        if best is None:
            return None
        later = self._starts()
        return self._latest_with_same_end(later[later > best.run.start_min], best)

    def _starts(self) -> Minutes:
        """Starts on the grid from which the chain can run through."""
        step = self.book.problem.step_min
        release = self.ease.rest(INGREDIENTS, self.job.release_min)
        first = -(-max(self.book.problem.now_min, release) // step) * step
        grid = np.arange(first, self.book.horizon, step, dtype=np.int64)
        return grid[self.end_from[grid] < self.never]

    def _latest_with_same_end(self, later: Minutes, found: Found) -> Found:
        """A run that is held back by its end need not simmer longer than it must: same end, later start."""
        end = found.run.stages[-1].end_min
        for start in later[self.end_from[later] == end][::-1]:
            same = self._try(int(start))
            if same is not None and same.key <= found.key:
                return same
        return found

    def _least_lateness(self, start: int) -> float:
        total, minute = 0.0, start
        for number, stage in enumerate(self.option.stages):
            minute += stage.shortest_min
            for draw in (self.option.draws[i] for i in self.draws_at.get(number, [])):
                quickest = min((mode.minutes for mode in draw.modes), default=0)
                total += lateness_h(draw, minute + quickest + draw.freeze_min)
        return total

    def _try(self, start: int) -> Found | None:
        """Walk one chain exactly; all trial bookings are taken back."""
        self.stage_ends, self.added, self.cooled, self.iced = [], [], {}, {}
        if not self._walk(0, start):
            return None
        found = self._found(start)
        for task in self.added:
            self.book.take(COOKS, "", -1, task.start_min, task.end_min)
        for number, cooling in self.cooled.items():
            self.book.take_cooling(self.option.draws[number], cooling, -1)
        return found

    def _found(self, start: int) -> Found:
        begins = [start, *self.stage_ends[:-1]]
        stages = tuple(
            Placed(name=stage.kind, start_min=begin, end_min=end)
            for stage, begin, end in zip(self.option.stages, begins, self.stage_ends, strict=True)
        )
        washed = int(self.washed_from[self.stage_ends[-1]])
        wash_min = self.option.wash_min
        draws = self.option.draws
        late_h = sum(lateness_h(draw, self.cooled[i].ready_min) for i, draw in enumerate(draws))
        run = PlacedRun(
            job=self.job.code,
            option=self.index,
            pot=self.option.pot,
            stages=stages,
            additions=tuple(sorted(self.added, key=lambda task: (task.start_min, task.name))),
            coolings=tuple(self.cooled[i] for i in range(len(draws))),
            wash=Placed(name="wash", start_min=washed, end_min=washed + wash_min) if wash_min else None,
            why_here="",
        )
        return Found(run=run, late_h=late_h)

    def _walk(self, number: int, begin: int) -> bool:
        """Place stage `number` from `begin` and everything after it; False leaves no trial booking behind."""
        if number == len(self.option.stages):
            return True
        stage = self.option.stages[number]
        last = min(begin + stage.longest_min, int(self.until[number][begin]))
        landings = np.flatnonzero(self.may_end[number][begin + stage.shortest_min : last + 1])
        for offset in landings:
            self.steps_left -= 1
            if self.steps_left < 0:
                return False
            end = begin + stage.shortest_min + int(offset)
            self.stage_ends.append(end)
            if self._add(number, begin, end, 0):
                return True
            self.stage_ends.pop()
        return False

    def _add(self, number: int, begin: int, end: int, which: int) -> bool:
        """Place the additions of a stage from `which` on, then its draws."""
        additions = self.additions_at.get(number, [])
        if which == len(additions):
            return self._cool(number, end, 0)
        addition = additions[which]
        hands = self.option.stages[number].cooks + 1
        for start in self._addition_starts(addition, begin, end):
            if self._cook_free(hands, start, start + addition.cook_min):
                break
        else:
            return False
        task = Placed(name=addition.name, start_min=start, end_min=start + addition.cook_min)
        self.book.take(COOKS, "", 1, task.start_min, task.end_min)
        self.added.append(task)
        if self._add(number, begin, end, which + 1):
            return True
        self.added.pop()
        self.book.take(COOKS, "", -1, task.start_min, task.end_min)
        return False

    def _addition_starts(self, addition: AdditionTask, begin: int, end: int) -> list[int]:
        wanted = end - addition.before_end_min
        earliest = max(begin, wanted - addition.tolerance_min)
        latest = min(end - addition.cook_min, wanted + addition.tolerance_min)
        return sorted(range(earliest, latest + 1), key=lambda start: (abs(start - wanted), start))

    def _cook_free(self, hands: int, start: int, stop: int) -> bool:
        attended = int(self.book.attended_until(self.ease)[start]) >= stop
        return attended and self.book.fits(COOKS, "", hands, start, stop, self.ease)

    def _cool(self, number: int, end: int, which: int) -> bool:
        """Put the draws of a stage from `which` on into their coolers, then go on with the next stage."""
        here = self.draws_at.get(number, [])
        if which == len(here):
            return self._walk(number + 1, end)
        draw = self.option.draws[here[which]]
        for cooling in self._coolings(draw, end):
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

    def _coolings(self, draw: Draw, start: int) -> list[PlacedCooling]:
        """The ways in which a draw can be cooled from `start`: the least late first, then in the order given."""
        ready_from = self._ready_from(draw)
        coolings = []
        for mode in draw.modes:
            cooling = PlacedCooling(
                draw=draw.name,
                mode=mode.name,
                places=mode.places,
                ice_kg=mode.ice_kg,
                start_min=start,
                end_min=start + mode.minutes,
                ready_min=start + mode.minutes + draw.freeze_min,
            )
            if ready_from <= cooling.ready_min <= self._ready_by(draw) and self._can_cool(draw, cooling):
                coolings.append(cooling)
        return sorted(coolings, key=lambda cooling: lateness_h(draw, cooling.ready_min))

    def _can_cool(self, draw: Draw, cooling: PlacedCooling) -> bool:
        book, ease, start = self.book, self.ease, cooling.start_min
        if int(book.attended_until(ease)[start]) < cooling.end_min:
            return False
        if not all(book.fits(COOLING, device, n, start, cooling.end_min, ease) for device, n in cooling.places):
            return False
        if not all(book.fits(TRAYS, tray, n, start, cooling.ready_min, ease) for tray, n in draw.trays):
            return False
        ice = ease.rest(ICE, micro(cooling.ice_kg))
        return not ice or book.ice_short({**self.iced, start: self.iced.get(start, 0) + ice}) <= 0
