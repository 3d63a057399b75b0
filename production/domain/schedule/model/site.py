"""What the runs of a model ask of the kitchen, collected per resource and put into the solver at the end."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from production.domain.schedule.book import MICRO, SLACK, micro
from production.domain.schedule.calendar import staffed_spans
from production.domain.schedule.cpsat import Core, Flag, Span, Task, Time, fixed
from production.domain.schedule.model.shape import Shape, Vessels, ice_binds
from production.domain.schedule.problem import Problem, RunJob, StoreRoom

GRAM = 1_000
OUT_OF_ORDER = ""  # follows a run instead of another one
ICE_STEP_SHARE = 0.08  # from one stretch of time to the next, the ice that may be taken grows by this share
SHORTEST_STEP_MIN = 30

Use = tuple[Task, Time]


@dataclass(frozen=True, slots=True)
class Stay:
    """A run in one group of vessels, until the vessel is washed."""

    vessel: int
    job: RunJob
    start: Time
    free: Time
    flag: Flag


@dataclass(frozen=True, slots=True)
class IceDraw:
    """Ice taken at one time."""

    at: Time
    grams: Time
    flag: Flag


@dataclass(slots=True)
class Site:
    """The kitchen of one model; `relaxed` leaves out what is stricter than the check, so that its bound holds."""

    core: Core
    shape: Shape
    relaxed: bool
    followed: Mapping[tuple[str, int], str]  # who follows whom in a vessel of the known schedule without a soak
    hands: list[Use] = field(default_factory=list)
    heat: dict[str, list[Use]] = field(default_factory=dict)
    devices: dict[str, list[Use]] = field(default_factory=dict)
    trays: dict[str, list[Use]] = field(default_factory=dict)
    stores: dict[str, list[Use]] = field(default_factory=dict)
    stays: list[Stay] = field(default_factory=list)
    ice: list[IceDraw] = field(default_factory=list)
    attended: list[Task] = field(default_factory=list)
    spans: tuple[Span, ...] = ()
    full_stores: frozenset[str] = frozenset()
    full_supplies: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        problem = self.shape.problem
        self.spans = staffed_spans(problem)
        self.full_stores = frozenset(_stores_that_fill(problem))
        self.full_supplies = frozenset(_supplies_that_fill(problem))

    @property
    def problem(self) -> Problem:
        """The problem of this model."""
        return self.shape.problem

    @property
    def unit(self) -> int:
        """Grid of the times: the problem's own, or a finer one where a bound has to hold for every minute."""
        return self.shape.unit if self.relaxed else self.problem.step_min

    def use(self, uses: list[Use], start: Time, end: Time, flag: Flag, amount: Time) -> None:
        """Use an amount from start to end; what lies before now has happened."""
        now = self.problem.now_min
        if amount.high <= 0 or (end.index is None and end.high <= now):
            return
        begin = fixed(now) if start.index is None and start.low < now else start
        uses.append((self.core.task(begin, end, flag), amount))

    def staff(self, start: Time, end: Time, shortest: int, longest: int, when: Sequence[Flag]) -> None:
        """From start to end somebody is on site."""
        now = self.problem.now_min
        if start.index is None and start.low < now:
            here = next((last for first, last in self.spans if first <= now < last), now)
            if end.high > now:
                self.core.within(end, [(now, here)], when=when)
            return
        self.core.within(start, shrunk(self.spans, shortest), when=when)
        if start.index != end.index:
            self.core.within(end, [(first + shortest, last) for first, last in self.spans], when=when)
            if longest >= self._shortest_gap() + 2 * shortest:
                self.attended.append(self.core.task(start, end, when[0] if when else self.core.always))

    def _shortest_gap(self) -> int:
        gaps = [then[0] - first[1] for first, then in pairwise(self.spans)]
        return min(gaps, default=self.problem.horizon_min)

    # Into the solver

    def close(self) -> None:
        """Put all that was collected into the solver."""
        problem, core = self.problem, self.core
        self._close_hands()
        for supply, kw in problem.supplies_kw:
            _cumulative(core, self.heat.get(supply, []), micro(kw) + SLACK)
        for code, places in problem.devices:
            _cumulative(core, self.devices.get(code, []), places)
        for code, count in problem.trays:
            _cumulative(core, self.trays.get(code, []), count)
        for store in problem.stores:
            self._close_store(store)
        for number, vessels in enumerate(self.shape.vessels):
            self._close_vessels(number, vessels)
        self._close_ice()
        if self.attended:
            closed = [(self.core.block(*span), fixed(len(self.attended))) for span in self._closed()]
            core.cumulative([*((task, fixed(1)) for task in self.attended), *closed], len(self.attended))

    def _closed(self) -> Iterator[Span]:
        since = self.problem.now_min
        for first, last in [*self.spans, (2 * self.problem.horizon_min, 0)]:
            if since < first:
                yield since, first
            since = max(since, last)

    def _close_hands(self) -> None:
        profile = _profile((w.start_min, w.end_min, w.amount) for w in self.problem.cooks)
        most = max((amount for _, _, amount in profile), default=0)
        since, blocks = self.problem.now_min, []
        for start, end, amount in [*profile, (2 * self.problem.horizon_min, 2 * self.problem.horizon_min, 0)]:
            if since < start:
                blocks.append((since, start, most))
            if amount < most and max(start, since) < end:
                blocks.append((max(start, since), end, most - amount))
            since = max(since, end)
        _cumulative(self.core, self.hands, most, blocks)

    def _close_store(self, store: StoreRoom) -> None:
        room = micro(store.litres) + SLACK
        opening = _profile((0, until, micro(litres)) for until, litres in store.opening if until > 0)
        blocks = [(max(start, self.problem.now_min), end, min(amount, room)) for start, end, amount in opening]
        blocks = [(start, end, amount) for start, end, amount in blocks if start < end]
        _cumulative(self.core, self.stores.get(store.code, []), room, blocks)

    def _close_vessels(self, number: int, vessels: Vessels) -> None:
        mine = [stay for stay in self.stays if stay.vessel == number]
        soaked = self._soaked(mine) if vessels.padded and not self.relaxed else set()
        uses: list[Use] = []
        for stay in mine:
            free = self._soaked_at(stay, mine) if stay.job.code in soaked else stay.free
            self.use(uses, stay.start, free, stay.flag, fixed(1))
        blocks = [(w.start_min, w.end_min, 1) for code, w in self.problem.outages if code in vessels.codes]
        blocks = [(max(start, self.problem.now_min), end, 1) for start, end, _ in blocks if end > self.problem.now_min]
        if len(vessels.codes) == 1:
            out = [(start, end) for start, end, _ in _profile(blocks)]
            if len(uses) + len(out) > 1:
                self.core.unary([*(task for task, _ in uses), *(self.core.block(*span) for span in out)])
        else:
            _cumulative(self.core, uses, len(vessels.codes), blocks)

    def _soaked(self, stays: Sequence[Stay]) -> set[str]:
        """Runs after which a vessel may have to be soaked."""
        kinds = {stay.job.allergens for stay in stays}
        return {stay.job.code for stay in stays if any(stay.job.allergens - other for other in kinds)}

    def _soaked_at(self, stay: Stay, others: Sequence[Stay]) -> Time:
        """When the vessel is soaked, or when the run comes that follows in the known schedule and needs no soak."""
        core, soak = self.core, self.problem.soak_min
        code = self.followed.get((stay.job.code, stay.vessel))
        if code == OUT_OF_ORDER:
            return stay.free
        then = next((other for other in others if other.job.code == code), None)
        if then is None or stay.job.allergens - then.job.allergens:
            return stay.free.after(soak)
        known = None in (stay.free.hint, then.start.hint)
        gap = None if known else (then.start.hint or 0) - (stay.free.hint or 0)
        close = core.flag(hint=None if gap is None else 0 <= gap < soak)
        until = core.time(
            stay.free.low,
            stay.free.high + soak,
            hint=None if gap is None else (stay.free.hint or 0) + (gap if 0 <= gap < soak else soak),
        )
        core.not_before(until, stay.free, wait=soak, when=(core.no(close),))
        core.not_before(until, then.start, when=(close,))
        core.not_before(then.start, stay.free, when=(close,))
        core.implies(close, stay.flag)
        core.implies(close, then.flag)
        return until

    def order(self) -> None:
        """Decide which of two runs is first wherever a vessel soaks between them."""
        by_job: dict[str, list[Stay]] = {}
        for stay in self.stays:
            if self.shape.vessels[stay.vessel].ordered:
                by_job.setdefault(stay.job.code, []).append(stay)
        jobs = list(by_job)
        for number, one in enumerate(jobs):
            for two in jobs[number + 1 :]:
                self._order(by_job[one], by_job[two])

    def _order(self, ones: Sequence[Stay], twos: Sequence[Stay]) -> None:
        shared = [(a, b) for a in ones for b in twos if a.vessel == b.vessel and a.job.allergens != b.job.allergens]
        if not shared:
            return
        hints = shared[0][0].start.hint, shared[0][1].start.hint
        first = self.core.flag(hint=None if None in hints else (hints[0] or 0) <= (hints[1] or 0))
        for a, b in shared:
            for before, after, flag in ((a, b, first), (b, a, self.core.no(first))):
                wait = self.problem.soak_min if before.job.allergens - after.job.allergens else 0
                self.core.not_before(after.start, before.free, wait=wait, when=(flag, a.flag, b.flag))

    # Ice

    def _close_ice(self) -> None:
        """Every stretch of time may take what the bin holds, what is made, and what is bought in meanwhile.

        A draw that stays in a bucket for a while is counted in every stretch of that length. Counting a little longer
        than the stretch for which ice is allowed keeps on the safe side; counting exactly as long is what any
        schedule keeps to, and serves for bounds. The known schedule keeps to every bucket.
        """
        problem = self.problem
        if not self.ice or not ice_binds(problem):
            return
        full = problem.ice_bin_kg * GRAM
        missing = (math.floor if self.relaxed else math.ceil)(max(0.0, full - problem.ice_start_kg * GRAM))
        most = sum(draw.grams.high for draw in self.ice) + missing
        for allowed, following in pairwise(self._ice_windows(most)):
            room = full + problem.ice_kg_per_min * GRAM * allowed
            capacity = math.ceil(room) if self.relaxed else math.floor(room + 0.01)
            bucket = _Bucket(max(allowed, 1), max(allowed, 1), capacity, missing)
            if not self.relaxed:
                bucket = replace(bucket, stay=self._longest_stay(replace(bucket, stay=following)))
            self._bucket(bucket, most)

    def _longest_stay(self, bucket: _Bucket) -> int:
        """How long draws may stay in a bucket so that the known schedule still keeps to it."""
        drawn = sorted(
            (draw.at.hint, draw.grams.hint) for draw in self.ice if draw.at.hint is not None and draw.grams.hint
        )
        blocks = self._ice_blocks(bucket)
        stay = bucket.stay
        for now, _ in drawn:
            taken = sum(grams for start, end, grams in blocks if start <= now < end)
            room = bucket.capacity + sum(grams for _, grams in self._deliveries()) - taken
            for at, grams in reversed([each for each in drawn if each[0] <= now]):
                room -= grams
                if room < 0:
                    stay = min(stay, max(now - at, bucket.allowed))
                    break
        return stay

    def _ice_windows(self, most: int) -> list[int]:
        """Lengths of the stretches of time that are counted; the last is longer than any plan."""
        full, rate = self.problem.ice_bin_kg * GRAM, self.problem.ice_kg_per_min * GRAM
        windows, longest = [0], 2 * self.problem.horizon_min
        while windows[-1] < longest:
            room = full + rate * windows[-1]
            step = ICE_STEP_SHARE * room / rate if rate > 0 and room < most else longest
            windows.append(min(longest, windows[-1] + max(SHORTEST_STEP_MIN, int(step))))
        return windows

    def _deliveries(self) -> list[tuple[int, int]]:
        rounded = math.ceil if self.relaxed else math.floor
        deliveries = [delivery for delivery in self.problem.ice_deliveries if delivery.minute >= self.problem.now_min]
        return [(each.minute, rounded(each.mass_kg * GRAM)) for each in deliveries]

    def _ice_blocks(self, bucket: _Bucket) -> list[tuple[int, int, int]]:
        """What is not in the bin: what lacks at the start, and deliveries outside the stretch that they fall into."""
        now = self.problem.now_min
        blocks = [(now, now + bucket.stay, bucket.missing)] if bucket.missing else []
        for minute, grams in self._deliveries():
            blocks += [(now, minute, grams), (minute + bucket.allowed, 3 * self.problem.horizon_min, grams)]
        return [(start, end, grams) for start, end, grams in blocks if start < end]

    def _bucket(self, bucket: _Bucket, most: int) -> None:
        if bucket.capacity >= most:
            return
        core = self.core
        uses = [(core.task(draw.at, draw.at.after(bucket.stay), draw.flag), draw.grams) for draw in self.ice]
        extra = sum(grams for _, grams in self._deliveries())
        _cumulative(core, uses, bucket.capacity + extra, self._ice_blocks(bucket))


@dataclass(frozen=True, slots=True)
class _Bucket:
    """Draws stay in it for a while [min]; the ice of a stretch of `allowed` minutes is what it holds [g]."""

    stay: int
    allowed: int
    capacity: int
    missing: int


def shrunk(spans: Iterable[Span], minutes: int) -> list[Span]:
    """Starts from which something of this length ends within the same span.

    Equation: [a, b - minutes] for every span that is long enough.
    Units: spans [min], minutes [min]; returns [min].
    Valid: any spans.
    Errors: none.
    Source: own definition.
    """
    return [(first, last - minutes) for first, last in spans if first <= last - minutes]


def _cumulative(core: Core, uses: Sequence[Use], capacity: int, blocks: Iterable[tuple[int, int, int]] = ()) -> None:
    """A cumulative resource, left out where it can never run out."""
    if not uses:
        return
    standing = [(core.block(start, end), fixed(amount)) for start, end, amount in blocks if amount > 0]
    if standing or sum(amount.high for _, amount in uses) > capacity:
        core.cumulative([*uses, *standing], capacity)


def _profile(pieces: Iterable[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    """Overlapping amounts as steps: (start, end, sum), without the steps in which nothing is."""
    changes: dict[int, int] = {}
    for start, end, amount in pieces:
        changes[start] = changes.get(start, 0) + amount
        changes[end] = changes.get(end, 0) - amount
    steps, level, since = [], 0, 0
    for minute in sorted(changes):
        if level > 0:
            steps.append((since, minute, level))
        level, since = level + changes[minute], minute
    return steps


def _stores_that_fill(problem: Problem) -> Iterator[str]:
    for store in problem.stores:
        litres = sum(litres for _, litres in store.opening)
        for job in problem.jobs:
            kept = (
                sum(keep.litres for draw in option.draws for keep in draw.keep if keep.store == store.code)
                for option in job.options
            )
            litres += max(kept, default=0.0)
        if litres > store.litres:
            yield store.code


def _supplies_that_fill(problem: Problem) -> Iterator[str]:
    for supply, limit in problem.supplies_kw:
        if sum(_most_kw(problem, supply).values()) > limit + SLACK / MICRO:
            yield supply


def _most_kw(problem: Problem, supply: str) -> Mapping[str, float]:
    """The most that each vessel draws from a supply."""
    most: dict[str, float] = {}
    for option in (option for job in problem.jobs for option in job.options):
        for number, stage in enumerate(option.stages):
            if stage.power_kw > 0 and option.supply_of(number) == supply:
                poured = option.pan is not None and number > option.pan.pour_stage
                vessel = option.pan.code if option.pan is not None and poured else option.pot
                most[vessel] = max(most.get(vessel, 0.0), stage.power_kw)
    return most
