"""The resource book: what is still free at every step of the grid, as whole numbers on arrays.

Masks are kept as "clear until" arrays: entry t is the first step at or after t in which a need cannot be met. The
answer for several needs at once is the smaller of their arrays, so the search reads whole weeks without a loop.
What lies before now is open to everybody: only runs that have begun reach back there.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from production.domain.schedule.problem import Draw, Problem, RunJob, RunOption, Stage
from production.domain.schedule.result import PlacedCooling, PlacedRun

Steps = NDArray[np.int64]
Flags = NDArray[np.bool_]

MICRO = 1_000_000  # kW, kg and litres are booked in millionths, so that taking back leaves no rest
SLACK = 50  # a resource may be overrun by this many millionths: equal thirds must still fill a whole
COARSEST_MIN = 5  # steps of the book: as coarse as all times of the problem allow, but not coarser than this
PLENTY = np.iinfo(np.int64).max // 4

COOKS, HEAT, COOLING, ICE, TRAYS, STORAGE = "cooks", "heat", "cooling", "ice", "trays", "storage"
POTS, HOURS, INGREDIENTS, SHELF_LIFE = "pots", "hours", "ingredients", "shelf life"


def micro(amount: float) -> int:
    """Turn an amount into whole millionths.

    Equation: round(amount x 10^6).
    Units: amount [kW, kg or l]; returns [millionths of the same unit].
    Valid: any finite amount.
    Errors: none.
    Source: own definition.
    """
    return round(amount * MICRO)


def clear_until(usable: Flags) -> Steps:
    """For every step, the first step at or after it that is not usable (the end when there is none).

    Equation: u(t) = min { s >= t : not usable(s) }.
    Units: usable [flag per step]; returns [steps], one entry more than `usable`.
    Valid: any length.
    Errors: none.
    Source: own definition.
    """
    last = len(usable)
    stops = np.full(last + 1, last, dtype=np.int64)
    stops[:last][~usable] = np.flatnonzero(~usable)
    return np.minimum.accumulate(stops[::-1])[::-1]


@dataclass(frozen=True, slots=True)
class Kind:
    """Options of a run that differ in nothing but the pot."""

    option: RunOption  # the first of them
    indices: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Shape:
    """What a problem tells before anything is placed: the step of the grid, and the kinds of options of each run."""

    step_min: int
    kinds: dict[str, tuple[Kind, ...]]


def shape_of(problem: Problem, runs: Iterable[PlacedRun] = ()) -> Shape:
    """The step on which all times of a problem and of its placed runs lie, and which options are alike.

    Equation: greatest common divisor of the lengths, offsets and held times, at most 5 min.
    Units: problem, runs (records); returns a record, step in min.
    Valid: any problem.
    Errors: none.
    Source: own definition.
    """
    kinds = {job.code: _kinds_of(job) for job in problem.jobs}
    step = math.gcd(COARSEST_MIN, problem.step_min, problem.soak_min)
    for job in problem.jobs:
        times = [time for kind in kinds[job.code] for time in _times(kind.option)]
        step = math.gcd(step, job.start_at_min or 0, job.washed_at_min or 0, *times)
    tasks = [task for run in runs for task in (*run.stages, *run.additions, run.wash, run.pan_wash) if task]
    step = math.gcd(step, *(minute for task in tasks for minute in (task.start_min, task.end_min)))
    return Shape(step, kinds)


def _kinds_of(job: RunJob) -> tuple[Kind, ...]:
    kinds: list[tuple[RunOption, list[int]]] = []
    for index, option in enumerate(job.options):
        alike = next((indices for first, indices in kinds if _alike(first, option)), None)
        if alike is None:
            kinds.append((option, [index]))
        else:
            alike.append(index)
    return tuple(Kind(first, tuple(indices)) for first, indices in kinds)


def _alike(one: RunOption, other: RunOption) -> bool:
    """Whether two options differ in nothing but the pot; what most often differs is looked at first."""
    return (
        one.pan == other.pan
        and one.supply == other.supply
        and one.stages == other.stages
        and one.wash_min == other.wash_min
        and one.draws == other.draws
        and one.additions == other.additions
    )


def _times(option: RunOption) -> Iterator[int]:
    yield option.wash_min
    if option.pan is not None:
        yield option.pan.wash_min
    for stage in option.stages:
        yield stage.shortest_min
        yield stage.longest_min
    for task in option.additions:
        yield from (task.before_end_min, task.cook_min, task.tolerance_min, task.done_at_min or 0)
    for draw in option.draws:
        yield draw.freeze_min
        yield from (mode.minutes for mode in draw.modes)


@dataclass(frozen=True, slots=True)
class Ease:
    """Resources that are taken as larger than they are, to see whether they are what stands in the way.

    The amount is in booked units; hours, ingredients and shelf life are eased by minutes.
    """

    resources: frozenset[str] = frozenset()
    amount: float = math.inf

    def frees(self, resource: str) -> bool:
        """Whether this resource is eased at all."""
        return resource in self.resources

    def rest(self, resource: str, need: int) -> int:
        """What is left of a need after the ease."""
        return max(0, need - int(min(self.amount, need))) if self.frees(resource) else need


NO_EASE = Ease()


@dataclass(frozen=True, slots=True)
class Stay:
    """A run in a vessel, from the first drop to the end of washing, in steps."""

    start: int
    free: int
    allergens: frozenset[str]
    job: str


class Book:
    """Free amounts of every resource of a problem, step by step."""

    def __init__(self, problem: Problem, shape: Shape | None = None) -> None:
        self.problem = problem
        self.shape = shape or shape_of(problem)
        self.step = self.shape.step_min
        self.steps = problem.horizon_min // self.step
        self.now = self.up(problem.now_min)
        self.every: Steps = np.arange(self.steps + 1, dtype=np.int64)
        self.always: Steps = np.full(self.steps + 1, self.steps, dtype=np.int64)
        self._on_duty = np.zeros(problem.horizon_min, dtype=np.int64)
        for window in problem.cooks:
            self._on_duty[max(window.start_min, 0) : max(window.end_min, 0)] += window.amount
        self._there = self._on_duty > 0
        self._on_duty[: problem.now_min] = PLENTY
        self.staffed_until = clear_until(self._in_steps(self._on_duty) > 0)
        self.free: dict[tuple[str, str], Steps] = {(COOKS, ""): self._in_steps(self._on_duty)}
        for supply, kw in problem.supplies_kw:
            self.free[HEAT, supply] = self._level(micro(kw) + SLACK)
        for device, places in problem.devices:
            self.free[COOLING, device] = self._level(places)
        for tray, count in problem.trays:
            self.free[TRAYS, tray] = self._level(count)
        for store in problem.stores:
            # One entry more: what is ready just at the horizon stands there beyond it.
            room = np.full(self.steps + 1, micro(store.litres) + SLACK, dtype=np.int64)
            for until_min, litres in store.opening:
                room[: self.up(max(until_min, 0))] -= micro(litres)
            room[: self.now] = PLENTY
            self.free[STORAGE, store.code] = room
        self.ice_draws: dict[int, int] = {}
        self.stays: dict[str, list[Stay]] = {}
        self.pan_allergens = {job.code: job.allergens for job in problem.jobs}
        for join in problem.joins:
            inside = [self.pan_allergens[code] for code in (join.host, *join.guests)]
            self.pan_allergens[join.host] = frozenset().union(*inside)
        self._outages: dict[str, list[tuple[int, int]]] = {}
        for vessel, window in sorted(problem.outages, key=lambda item: item[1].start_min):
            first, last = max(window.start_min, 0) // self.step, self.up(max(window.end_min, 0))
            self._outages.setdefault(vessel, []).append((first, last))
        self._clear: dict[tuple[str, str], dict[tuple[int, float], Steps]] = {}
        self._longer: dict[float, tuple[Flags, Steps]] = {}
        self._vessels: dict[str, dict[frozenset[str], Steps]] = {}
        self._ice: Steps | None = None

    def welcome(self, job: RunJob) -> bool:
        """Know one more run than the problem has; False where its times do not lie on the steps of the book."""
        kinds = _kinds_of(job)
        if any(time % self.step for kind in kinds for time in _times(kind.option)):
            return False
        self.shape.kinds[job.code] = kinds
        self.pan_allergens[job.code] = job.allergens
        return True

    def up(self, minute: int) -> int:
        """The first step that does not begin before a minute."""
        return -(-minute // self.step)

    def _in_steps(self, minutes: Steps) -> Steps:
        """What is there in every minute of a step."""
        whole: Steps = minutes[: self.steps * self.step].reshape(self.steps, self.step).min(axis=1)
        return whole

    def _level(self, amount: int) -> Steps:
        level = np.full(self.steps, amount, dtype=np.int64)
        level[: self.now] = PLENTY
        return level

    # Needs over whole weeks

    def clear_until(self, kind: str, code: str, need: int, ease: Ease) -> Steps:
        """First step at or after each step in which the need is not free."""
        rest = ease.rest(kind, need)
        if rest == 0:
            return self.always
        longer = ease.amount if kind == COOKS and ease.frees(HOURS) else 0
        known = self._clear.setdefault((kind, code), {})
        if (rest, longer) not in known:
            usable = self.free[kind, code] >= rest
            known[rest, longer] = clear_until(usable | self._overtime(longer)[0] if longer else usable)
        return known[rest, longer]

    def _overtime(self, minutes: float) -> tuple[Flags, Steps]:
        """Steps that longer shifts (at both ends) would add; until when somebody would be on site then."""
        if minutes not in self._longer:
            open_now = np.full(self.problem.horizon_min, minutes == math.inf, dtype=np.bool_)
            for window in self.problem.cooks if minutes < math.inf else ():
                if window.amount > 0:
                    first, last = window.start_min - int(minutes), window.end_min + int(minutes)
                    open_now[max(first, 0) : max(last, 0)] = True
            open_now[: self.problem.now_min] = True
            whole = self._in_steps((open_now | self._there).astype(np.int64)) > 0
            added = whole & (self._in_steps(self._on_duty) == 0)
            self._longer[minutes] = (added, clear_until(whole))
        return self._longer[minutes]

    def attended_until(self, ease: Ease) -> Steps:
        """First step at or after each step in which nobody is on site."""
        return self._overtime(ease.amount)[1] if ease.frees(HOURS) else self.staffed_until

    def stage_until(self, supply: str, stage: Stage, ease: Ease) -> Steps:
        """First step at or after each step in which a stage cannot run, the vessel left aside."""
        until = self.clear_until(HEAT, supply, micro(stage.power_kw), ease)
        if self.needs_staff(stage):
            until = np.minimum(until, self.attended_until(ease))
        return np.minimum(until, self.clear_until(COOKS, "", stage.cooks, ease)) if stage.cooks else until

    def needs_staff(self, stage: Stage) -> bool:
        """Whether a stage must lie in staffed time."""
        return stage.cooks > 0 or stage.on_site or not self.problem.unattended_simmer

    def vessel_until(self, vessel: str, allergens: frozenset[str], ease: Ease) -> Steps:
        """First step at or after each step in which the vessel is taken, out of order, or soaking for this run."""
        if ease.frees(POTS):
            return self.always
        known = self._vessels.setdefault(vessel, {})
        if allergens not in known:
            known[allergens] = self._vessel_until(vessel, allergens)
        return known[allergens]

    def _vessel_until(self, vessel: str, allergens: frozenset[str]) -> Steps:
        spans = list(self._outages.get(vessel, ()))
        for stay in self.stays.get(vessel, ()):
            end = self._soaked(vessel, stay.free) if stay.allergens - allergens else stay.free
            begin = self._soak_begin(vessel, stay.start) if allergens - stay.allergens else stay.start
            spans.append((begin, end))
        usable = np.ones(self.steps, dtype=np.bool_)
        for begin, end in spans:
            usable[max(begin, self.now) : max(end, 0)] = False
        return clear_until(usable)

    def _soaked(self, vessel: str, free: int) -> int:
        begin, soak = free, self.problem.soak_min // self.step
        for out_from, out_until in self._outages.get(vessel, ()):
            if out_from < begin + soak and begin < out_until:
                begin = out_until
        return begin + soak

    def _soak_begin(self, vessel: str, start: int) -> int:
        end, soak = start, self.problem.soak_min // self.step
        for out_from, out_until in sorted(self._outages.get(vessel, ()), key=lambda out: out[1], reverse=True):
            if out_from < end and end - soak < out_until:
                end = out_from
        return end - soak

    # Ice

    def ice_free(self) -> Steps:
        """The largest draw possible at each step that leaves enough for every draw already booked later.

        What a draw takes is given back by the refill that the full bin would have spilled; so a later draw at u bounds
        an earlier one at t by: level after u, plus what is spilled between t and u.
        """
        if self._ice is None:
            self._ice = self._ice_free()
        return self._ice

    def _ice_free(self) -> Steps:
        """From one event to the next the level rises in a straight line, so the events tell the whole week."""
        full, rate = self._bin()
        times, levels, spills, bounds = [self.problem.now_min], [self._ice_start()], [0], [PLENTY]
        for minute, brought, drawn in self._ice_events({}):
            raw = levels[-1] + rate * (minute - times[-1])
            filled = min(raw, full) + brought
            times.append(minute)
            levels.append(min(filled, full) - drawn)
            spills.append(spills[-1] + max(raw - full, 0) + max(filled - full, 0))
            bounds.append(levels[-1] + spills[-1] if drawn else PLENTY)
        tightest = np.minimum.accumulate(np.array([*bounds, PLENTY], dtype=np.int64)[::-1])[::-1]
        at = self.every * self.step
        since = np.array(times, dtype=np.int64)
        before = np.maximum(np.searchsorted(since, at, side="left") - 1, 0)  # the event before each step
        risen = np.array(levels, dtype=np.int64)[before] + rate * (at - since[before])
        spill = np.array(spills, dtype=np.int64)[before] + np.maximum(risen - full, 0)
        level = np.minimum(risen, full)
        for minute, mass in self._brought():
            if minute % self.step == 0 and minute // self.step <= self.steps:
                step = minute // self.step
                spill[step] += max(int(level[step]) + mass - full, 0)
                level[step] = min(int(level[step]) + mass, full)
        free: Steps = np.minimum(level, tightest[before + 1] - spill)
        free[: self.now] = PLENTY
        return free

    def ice_short(self, extra: dict[int, int]) -> int:
        """How far the bin would go below empty with these further draws (step: millionths of kg)."""
        full, rate = self._bin()
        last, level, short = self.problem.now_min, self._ice_start(), 0
        for minute, brought, drawn in self._ice_events(extra):
            level = min(level + rate * (minute - last), full)
            level = min(level + brought, full) - drawn
            short, last = max(short, -level), minute
        return short

    def _ice_events(self, extra: dict[int, int]) -> Iterator[tuple[int, int, int]]:
        """(minute, millionths brought, millionths drawn) in the order of time, from now on."""
        brought = dict(self._brought())
        drawn = {step * self.step: mass for step, mass in self.ice_draws.items()}
        for step, mass in extra.items():
            drawn[step * self.step] = drawn.get(step * self.step, 0) + mass
        for minute in sorted(brought.keys() | drawn.keys()):
            if minute >= self.problem.now_min:
                yield minute, brought.get(minute, 0), drawn.get(minute, 0)

    def _brought(self) -> list[tuple[int, int]]:
        brought: dict[int, int] = {}
        for delivery in self.problem.ice_deliveries:
            if delivery.minute >= self.problem.now_min:
                brought[delivery.minute] = brought.get(delivery.minute, 0) + micro(delivery.mass_kg)
        return list(brought.items())

    def _bin(self) -> tuple[int, int]:
        return micro(self.problem.ice_bin_kg) + SLACK, math.floor(self.problem.ice_kg_per_min * MICRO)

    def _ice_start(self) -> int:
        return micro(min(self.problem.ice_start_kg, self.problem.ice_bin_kg)) + SLACK

    # Single needs and bookings

    def fits(self, kind: str, code: str, need: int, start: int, end: int, ease: Ease) -> bool:
        """Whether the need is free in every step from start to end."""
        rest = ease.rest(kind, need)
        if rest == 0 or start >= end:
            return True
        free = self.free[kind, code][start:end]
        if kind == COOKS and ease.frees(HOURS):
            return bool(((free >= rest) | self._overtime(ease.amount)[0][start:end]).all())
        return int(free.min(initial=PLENTY)) >= rest

    def take(self, kind: str, code: str, need: int, start: int, end: int) -> None:
        """Take an amount (give back a negative one) from start to end; the whole-week arrays are not refreshed."""
        begin = max(start, self.now)
        if end > begin:
            self.free[kind, code][begin:end] -= need

    def take_cooling(self, draw: Draw, cooling: PlacedCooling, sign: int) -> None:
        """Take (+1) or give back (-1) what a cooling holds: devices, trays and room in stores; ice is kept apart."""
        start, end, ready = (minute // self.step for minute in (cooling.start_min, cooling.end_min, cooling.ready_min))
        for device, places in cooling.places:
            self.take(COOLING, device, sign * places, start, end)
        for tray, count in draw.trays:
            self.take(TRAYS, tray, sign * count, start, ready)
        for keep in draw.keep:
            self.take(STORAGE, keep.store, sign * micro(keep.litres), ready, max(ready, self.up(keep.until_min)))

    def take_run(self, job: RunJob, run: PlacedRun, sign: int) -> None:
        """Take (+1) or give back (-1) everything a placed run uses."""
        option, step = job.options[run.option], self.step
        for number, (stage, placed) in enumerate(zip(option.stages, run.stages, strict=True)):
            start, end = placed.start_min // step, placed.end_min // step
            if stage.cooks:
                self._take_for_good(COOKS, "", sign * stage.cooks, start, end)
            if stage.power_kw:
                self._take_for_good(HEAT, option.supply_of(number), sign * micro(stage.power_kw), start, end)
        for task in (*run.additions, run.wash, run.pan_wash):
            if task is not None:
                self._take_for_good(COOKS, "", sign, task.start_min // step, task.end_min // step)
        for draw, cooling in zip(option.draws, run.coolings, strict=True):
            self.take_cooling(draw, cooling, sign)
            for kind, codes in ((COOLING, cooling.places), (TRAYS, draw.trays)):
                for code, _ in codes:
                    self._clear.pop((kind, code), None)
            at = cooling.start_min // step
            left = self.ice_draws.pop(at, 0) + sign * micro(cooling.ice_kg)
            if left:
                self.ice_draws[at] = left
        self._ice = None
        for vessel, stay in stays_of(self, job, run):
            self._vessels.pop(vessel, None)
            if sign > 0:
                self.stays.setdefault(vessel, []).append(stay)
            else:
                self.stays[vessel].remove(stay)

    def _take_for_good(self, kind: str, code: str, need: int, start: int, end: int) -> None:
        self.take(kind, code, need, start, end)
        self._clear.pop((kind, code), None)


def stays_of(book: Book, job: RunJob, run: PlacedRun) -> Iterator[tuple[str, Stay]]:
    """The vessels that a placed run holds: its pot, and the pan it is poured over into.

    Equation: pot from the start to the end of its washing; pan from the pouring over to the end of its washing.
    Units: book, job, run (records); returns (code, stay in steps).
    Valid: runs on the book's steps.
    Errors: none.
    Source: own definition.
    """
    option, step = job.options[run.option], book.step
    emptied = run.stages[option.last_pot_stage].end_min
    free_min = run.wash.end_min if run.wash else emptied
    yield run.pot, Stay(run.start_min // step, free_min // step, job.allergens, job.code)
    if option.pan is not None:
        poured = run.stages[option.pan.pour_stage].start_min
        yield run.pan, Stay(poured // step, run.pan_free_min // step, book.pan_allergens[job.code], job.code)
