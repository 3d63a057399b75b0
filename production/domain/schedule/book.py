"""The resource book: what is still free in every minute, as whole numbers on arrays.

Masks are kept as "clear until" arrays: entry t is the first minute at or after t in which a need cannot be met. The
answer for several needs at once is the smaller of their arrays, so the search reads whole weeks without a loop.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from production.domain.schedule.problem import Draw, Problem, RunJob, Stage, Window
from production.domain.schedule.result import PlacedCooling, PlacedRun

Minutes = NDArray[np.int64]
Flags = NDArray[np.bool_]

MICRO = 1_000_000  # kW, kg and litres are booked in millionths, so that taking back leaves no rest
SLACK = 50  # a resource may be overrun by this many millionths: equal thirds must still fill a whole

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


def clear_until(usable: Flags) -> Minutes:
    """For every minute, the first minute at or after it that is not usable (the horizon when there is none).

    Equation: u(t) = min { s >= t : not usable(s) }.
    Units: usable [flag per min]; returns [min], one entry more than `usable`.
    Valid: any length.
    Errors: none.
    Source: own definition.
    """
    last = len(usable)
    stops = np.full(last + 1, last, dtype=np.int64)
    stops[:last][~usable] = np.flatnonzero(~usable)
    return np.minimum.accumulate(stops[::-1])[::-1]


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


class Book:
    """Free amounts of every resource of a problem, minute by minute."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.horizon = problem.horizon_min
        self.minutes: Minutes = np.arange(self.horizon + 1, dtype=np.int64)
        self.always: Minutes = np.full(self.horizon + 1, self.horizon, dtype=np.int64)
        on_duty = np.zeros(self.horizon, dtype=np.int64)
        for window in problem.cooks:
            on_duty[max(window.start_min, 0) : max(window.end_min, 0)] += window.amount
        self.staffed: Flags = on_duty > 0
        self.staffed_until = clear_until(self.staffed)
        self.free: dict[tuple[str, str], Minutes] = {(COOKS, ""): on_duty}
        for supply, kw in problem.supplies_kw:
            self.free[HEAT, supply] = self._level(micro(kw) + SLACK)
        for device, places in problem.devices:
            self.free[COOLING, device] = self._level(places)
        for tray, count in problem.trays:
            self.free[TRAYS, tray] = self._level(count)
        for store in problem.stores:
            # One entry more: what is ready just at the horizon stands there beyond it.
            room = np.full(self.horizon + 1, micro(store.litres) + SLACK, dtype=np.int64)
            for until_min, litres in store.opening:
                room[: max(until_min, 0)] -= micro(litres)
            self.free[STORAGE, store.code] = room
        self.ice_draws: dict[int, int] = {}
        self.pot_runs: dict[str, list[tuple[int, int, frozenset[str]]]] = {}
        self._outages: dict[str, list[Window]] = {}
        for pot, window in sorted(problem.outages, key=lambda item: item[1].start_min):
            self._outages.setdefault(pot, []).append(window)
        self._clear: dict[tuple[str, str], dict[tuple[int, float], Minutes]] = {}
        self._longer: dict[float, tuple[Flags, Minutes]] = {}
        self._ice: Minutes | None = None

    def _level(self, amount: int) -> Minutes:
        return np.full(self.horizon, amount, dtype=np.int64)

    # Needs over whole weeks

    def clear_until(self, kind: str, code: str, need: int, ease: Ease) -> Minutes:
        """First minute at or after each minute in which the need is not free."""
        rest = ease.rest(kind, need)
        if rest == 0:
            return self.always
        longer = ease.amount if kind == COOKS and ease.frees(HOURS) else 0
        known = self._clear.setdefault((kind, code), {})
        if (rest, longer) not in known:
            usable = self.free[kind, code] >= rest
            known[rest, longer] = clear_until(usable | self._overtime(longer)[0] if longer else usable)
        return known[rest, longer]

    def _overtime(self, minutes: float) -> tuple[Flags, Minutes]:
        """Minutes that longer shifts (at both ends) would add; until when somebody would be on site then."""
        if minutes not in self._longer:
            open_now = np.full(self.horizon, minutes == math.inf, dtype=np.bool_)
            for window in self.problem.cooks if minutes < math.inf else ():
                if window.amount > 0:
                    first, last = window.start_min - int(minutes), window.end_min + int(minutes)
                    open_now[max(first, 0) : max(last, 0)] = True
            self._longer[minutes] = (open_now & ~self.staffed, clear_until(open_now | self.staffed))
        return self._longer[minutes]

    def attended_until(self, ease: Ease) -> Minutes:
        """First minute at or after each minute in which nobody is on site."""
        return self._overtime(ease.amount)[1] if ease.frees(HOURS) else self.staffed_until

    def stage_until(self, supply: str, stage: Stage, ease: Ease) -> Minutes:
        """First minute at or after each minute in which a stage cannot run, the pot left aside."""
        until = self.clear_until(HEAT, supply, micro(stage.power_kw), ease)
        if self.needs_staff(stage):
            until = np.minimum(until, self.attended_until(ease))
        return np.minimum(until, self.clear_until(COOKS, "", stage.cooks, ease))

    def needs_staff(self, stage: Stage) -> bool:
        """Whether a stage must lie in staffed time."""
        return stage.cooks > 0 or stage.on_site or not self.problem.unattended_simmer

    def pot_until(self, pot: str, allergens: frozenset[str], ease: Ease) -> Minutes:
        """First minute at or after each minute in which the pot is taken, out of order, or soaking for this run."""
        if ease.frees(POTS):
            return self.always
        usable = np.ones(self.horizon, dtype=np.bool_)
        for window in self._outages.get(pot, []):
            usable[max(window.start_min, 0) : max(window.end_min, 0)] = False
        for start, free, others in self.pot_runs.get(pot, []):
            end = self._soaked(pot, free) if others - allergens else free
            begin = self._soak_begin(pot, start) if allergens - others else start
            usable[max(begin, 0) : end] = False
        return clear_until(usable)

    def _soaked(self, pot: str, free: int) -> int:
        begin, soak = free, self.problem.soak_min
        for window in self._outages.get(pot, []):
            if window.start_min < begin + soak and begin < window.end_min:
                begin = window.end_min
        return begin + soak

    def _soak_begin(self, pot: str, start: int) -> int:
        end, soak = start, self.problem.soak_min
        for window in sorted(self._outages.get(pot, []), key=lambda w: w.end_min, reverse=True):
            if window.start_min < end and end - soak < window.end_min:
                end = window.start_min
        return end - soak

    # Ice

    def ice_free(self) -> Minutes:
        """The largest draw possible at each minute that leaves enough for every draw already booked later.

        What a draw takes is given back by the refill that the full bin would have spilled; so a later draw at u bounds
        an earlier one at t by: level after u, plus what is spilled between t and u.
        """
        if self._ice is None:
            self._ice = self._ice_free()
        return self._ice

    def _ice_free(self) -> Minutes:
        full, rate = self._bin()
        last, level, spilled = self.problem.now_min, self._ice_start(), 0
        before = np.zeros(self.horizon + 1, dtype=np.int64)
        spill = np.zeros(self.horizon + 1, dtype=np.int64)
        before[last] = level
        bounds = np.full(self.horizon + 1, np.iinfo(np.int64).max // 2, dtype=np.int64)
        for minute in [*sorted(self.ice_draws), self.horizon]:
            raw = level + rate * (self.minutes[last : minute + 1] - last)
            before[last + 1 : minute + 1] = np.minimum(raw, full)[1:]
            spill[last + 1 : minute + 1] = spilled + np.maximum(raw - full, 0)[1:]
            spilled += max(int(raw[-1]) - full, 0)
            level = min(int(raw[-1]), full)
            if minute in self.ice_draws:
                level -= self.ice_draws[minute]
                bounds[minute] = level + spilled
            last = minute
        tightest = np.minimum.accumulate(bounds[::-1])[::-1]
        return np.minimum(before, tightest - spill)

    def ice_short(self, extra: dict[int, int]) -> int:
        """How far the bin would go below empty with these further draws (minute: millionths of kg)."""
        full, rate = self._bin()
        last, level, short = self.problem.now_min, self._ice_start(), 0
        for minute in sorted(self.ice_draws.keys() | extra.keys()):
            level = min(level + rate * (minute - last), full)
            level -= self.ice_draws.get(minute, 0) + extra.get(minute, 0)
            short, last = max(short, -level), minute
        return short

    def _bin(self) -> tuple[int, int]:
        return micro(self.problem.ice_bin_kg) + SLACK, math.floor(self.problem.ice_kg_per_min * MICRO)

    def _ice_start(self) -> int:
        return micro(min(self.problem.ice_start_kg, self.problem.ice_bin_kg)) + SLACK

    # Single needs and bookings

    def fits(self, kind: str, code: str, need: int, start: int, end: int, ease: Ease) -> bool:
        """Whether the need is free in every minute from start to end."""
        rest = ease.rest(kind, need)
        if rest == 0 or start >= end:
            return True
        usable = self.free[kind, code][start:end] >= rest
        if kind == COOKS and ease.frees(HOURS):
            usable = usable | self._overtime(ease.amount)[0][start:end]
        return bool(usable.all())

    def take(self, kind: str, code: str, need: int, start: int, end: int) -> None:
        """Take an amount (give back a negative one) from start to end; the whole-week arrays are not refreshed."""
        self.free[kind, code][start:end] -= need

    def take_cooling(self, draw: Draw, cooling: PlacedCooling, sign: int) -> None:
        """Take (+1) or give back (-1) what a cooling holds: devices, trays and room in stores; ice is kept apart."""
        for device, places in cooling.places:
            self.take(COOLING, device, sign * places, cooling.start_min, cooling.end_min)
        for tray, count in draw.trays:
            self.take(TRAYS, tray, sign * count, cooling.start_min, cooling.ready_min)
        for keep in draw.keep:
            until_min = max(cooling.ready_min, keep.until_min)
            self.take(STORAGE, keep.store, sign * micro(keep.litres), cooling.ready_min, until_min)

    def take_run(self, job: RunJob, run: PlacedRun, sign: int) -> None:
        """Take (+1) or give back (-1) everything a placed run uses."""
        option = job.options[run.option]
        for stage, placed in zip(option.stages, run.stages, strict=True):
            self.take(COOKS, "", sign * stage.cooks, placed.start_min, placed.end_min)
            self.take(HEAT, option.supply, sign * micro(stage.power_kw), placed.start_min, placed.end_min)
        for task in (*run.additions, *([run.wash] if run.wash else [])):
            self.take(COOKS, "", sign, task.start_min, task.end_min)
        for draw, cooling in zip(option.draws, run.coolings, strict=True):
            self.take_cooling(draw, cooling, sign)
            left = self.ice_draws.get(cooling.start_min, 0) + sign * micro(cooling.ice_kg)
            self.ice_draws[cooling.start_min] = left
            if left == 0:
                del self.ice_draws[cooling.start_min]
        entry = (run.start_min, run.pot_free_min, job.allergens)
        if sign > 0:
            self.pot_runs.setdefault(run.pot, []).append(entry)
        else:
            self.pot_runs[run.pot].remove(entry)
        self._clear.clear()
        self._ice = None
