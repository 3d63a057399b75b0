"""One run as variables: the chain of its stages, its additions, its draws, and how long it holds its vessels."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from production.domain.schedule.book import micro
from production.domain.schedule.cpsat import Core, Flag, Time, fixed
from production.domain.schedule.model.shape import Row, Way
from production.domain.schedule.model.site import GRAM, IceDraw, Site, Stay, Use, shrunk
from production.domain.schedule.problem import AdditionTask, CoolingMode, Draw, Problem, Stage
from production.domain.schedule.result import PlacedRun


@dataclass(frozen=True, slots=True)
class Cooled:
    """A draw with the flags of its ways to cool."""

    draw: Draw
    flag: Flag
    at: Time
    ready: Time
    modes: tuple[tuple[Flag, CoolingMode], ...]


@dataclass(frozen=True, slots=True)
class Added:
    """An addition and its start."""

    task: AdditionTask
    flag: Flag
    start: Time


@dataclass(slots=True)
class Run:
    """The variables of one run."""

    row: Row
    present: Flag
    certain: bool  # it cannot be left out
    ways: tuple[Flag, ...]
    points: list[Time]  # boundaries of its slots
    cooled: list[Cooled] = field(default_factory=list)
    added: list[Added] = field(default_factory=list)
    wash_start: Time | None = None
    pan_wash_start: Time | None = None

    @property
    def when(self) -> tuple[Flag, ...]:
        """Condition under which it has to keep to limits."""
        return () if self.certain else (self.present,)

    def is_staffed_at_both_ends(self, problem: Problem) -> bool:
        """Whether somebody has to be there when it starts and when it ends, whichever way it goes."""
        ends = [stage for way in self.row.ways for stage in (way.option.stages[0], way.option.stages[-1])]
        return all(stage.cooks > 0 or stage.on_site or not problem.unattended_simmer for stage in ends)


@dataclass(frozen=True, slots=True)
class Hint:
    """A known placement of the run, read slot by slot."""

    placed: PlacedRun | None
    row: Row

    @property
    def way(self) -> int | None:
        """Which way it goes."""
        if self.placed is None:
            return None
        index = self.placed.option
        return next(number for number, way in enumerate(self.row.ways) if index in way.indexes.values())

    def points(self) -> list[int | None]:
        """Its boundaries."""
        if self.placed is None or self.way is None:
            return [None] * (self.row.slots + 1)
        ends = dict(zip(self.row.ways[self.way].slots, self.placed.stages, strict=True))
        points: list[int | None] = [self.placed.start_min]
        for slot in range(self.row.slots):
            points.append(ends[slot].end_min if slot in ends else points[-1])
        return points


def build_run(site: Site, row: Row, placed: PlacedRun | None, *, certain: bool) -> Run:
    """Add a run to the model; a placement of it serves as a hint.

    Equation: end of a slot = its start + a length between the shortest and the longest of the chosen way.
    Units: site, row, placed (records); returns a Run.
    Valid: a run with at least one option.
    Errors: none.
    Source: own definition.
    """
    core = site.core
    hint = Hint(placed, row)
    present = core.always if certain else core.flag(hint=placed is not None)
    flags = tuple(
        present if len(row.ways) == 1 else core.flag(hint=number == hint.way) for number in range(len(row.ways))
    )
    if len(flags) > 1:
        core.exactly(flags, present)
    run = Run(row=row, present=present, certain=certain, ways=flags, points=[])
    _chain(site, run, hint)
    _staff(site, run)
    _hands_and_heat(site, run)
    _additions(site, run, hint)
    _vessels(site, run, hint)
    _draws(site, run, hint)
    return run


def _stage(way: Way, slot: int) -> Stage | None:
    return way.option.stages[way.slots.index(slot)] if slot in way.slots else None


def _slot_of(way: Way, stage: int) -> int:
    return way.slots[stage]


# The chain


def _chain(site: Site, run: Run, hint: Hint) -> None:
    job, problem = run.row.job, site.problem
    hints = hint.points()
    if job.start_at_min is not None:
        run.points.append(fixed(job.start_at_min))
    else:
        release = max(problem.now_min, job.release_min)
        last = max(problem.horizon_min, release)
        run.points.append(site.core.time(release, last, unit=site.unit, hint=hints[0]))
    for slot in range(run.row.slots):
        lengths = [_length(way, slot) for way in run.row.ways]
        run.points.append(_next(site, run, run.points[-1], lengths, hints[slot + 1]))
    site.core.within(run.points[-1], [(0, problem.horizon_min)], when=run.when)


def _length(way: Way, slot: int) -> tuple[int, int]:
    stage = _stage(way, slot)
    return (0, 0) if stage is None else (stage.shortest_min, stage.longest_min)


def _next(site: Site, run: Run, point: Time, lengths: list[tuple[int, int]], hint: int | None) -> Time:
    shortest, longest = min(low for low, _ in lengths), max(high for _, high in lengths)
    if shortest == longest:
        return point.after(shortest)
    if all(high - low >= site.unit for low, high in lengths):
        unit, rest = site.unit, 0
    else:
        unit = math.gcd(point.factor, site.unit, *(low - shortest for low, _ in lengths))
        rest = (point.offset + shortest) % unit
    following = site.core.time(point.low + shortest, point.high + longest, unit=unit, rest=rest, hint=hint)
    terms = [(flag, low, high) for flag, (low, high) in zip(run.ways, lengths, strict=True)]
    site.core.lag(point, following, terms, certain=run.certain)
    return following


# People and heat


def _needs_staff(site: Site, run: Run, slot: int) -> bool:
    stages = [_stage(way, slot) for way in run.row.ways]
    unattended = site.problem.unattended_simmer
    return any(stage is not None and (stage.cooks > 0 or stage.on_site or not unattended) for stage in stages)


def _staff(site: Site, run: Run) -> None:
    """Stages that follow each other and need somebody on site lie together in one stretch of staffed time."""
    slot = 0
    while slot < run.row.slots:
        first = slot
        while slot < run.row.slots and _needs_staff(site, run, slot):
            slot += 1
        if slot > first:
            _staff_together(site, run, first, slot)
        slot += 1


def _staff_together(site: Site, run: Run, first: int, after: int) -> None:
    lengths = [[_length(way, slot) for slot in range(first, after)] for way in run.row.ways]
    shortest = min(sum(low for low, _ in each) for each in lengths)
    longest = max(sum(high for _, high in each) for each in lengths)
    if shortest == 0:
        for flag, each in zip(run.ways, lengths, strict=True):
            low, high = sum(low for low, _ in each), sum(high for _, high in each)
            if low:
                site.staff(run.points[first], run.points[after], low, high, (flag,))
        return
    site.staff(run.points[first], run.points[after], shortest, longest, run.when)


def _hands_and_heat(site: Site, run: Run) -> None:
    def cooks(way: Way, slot: int) -> int:
        stage = _stage(way, slot)
        return 0 if stage is None else stage.cooks

    _spread(site, run, site.hands, cooks)
    for supply in site.full_supplies:

        def power(way: Way, slot: int, supply: str = supply) -> int:
            stage = _stage(way, slot)
            fed = stage is not None and way.option.supply_of(way.slots.index(slot)) == supply
            return micro(stage.power_kw) if stage is not None and fed else 0

        _spread(site, run, site.heat.setdefault(supply, []), power)


def _spread(site: Site, run: Run, uses: list[Use], amount: Callable[[Way, int], int]) -> None:
    """Use amounts over the chain; slots with the same amounts are one task."""
    slot = 0
    while slot < run.row.slots:
        first, here = slot, [amount(way, slot) for way in run.row.ways]
        while slot < run.row.slots and [amount(way, slot) for way in run.row.ways] == here:
            slot += 1
        if any(here):
            taken = _amount(site.core, run.ways, here)
            site.use(uses, run.points[first], run.points[slot], run.present, taken)


def _amount(core: Core, flags: Sequence[Flag], amounts: Sequence[int]) -> Time:
    if len(set(amounts)) == 1:
        return fixed(amounts[0])
    return core.chosen(list(zip(flags, amounts, strict=True)))


# Additions


def _grouped(run: Run, key: Callable[[Way], object]) -> dict[object, list[int]]:
    groups: dict[object, list[int]] = {}
    for number, way in enumerate(run.row.ways):
        groups.setdefault(key(way), []).append(number)
    return groups


def _joint(site: Site, run: Run, numbers: Sequence[int]) -> Flag:
    """Set when the run goes one of these ways."""
    if len(numbers) == len(run.ways):
        return run.present
    return site.core.any_of([run.ways[number] for number in numbers])


def _additions(site: Site, run: Run, hint: Hint) -> None:
    def key(way: Way) -> object:
        return tuple((_slot_of(way, task.stage), task) for task in way.option.additions)

    for numbers in _grouped(run, key).values():
        way = run.row.ways[numbers[0]]
        if way.option.additions:
            flag = _joint(site, run, numbers)
            certain = run.certain and flag is run.present
            for task in way.option.additions:
                _addition(site, run, hint, task, _slot_of(way, task.stage), flag, certain)


def _addition(site: Site, run: Run, hint: Hint, task: AdditionTask, slot: int, flag: Flag, certain: bool) -> None:
    core, begin, end = site.core, run.points[slot], run.points[slot + 1]
    when = () if certain else (flag,)
    if task.done_at_min is not None:
        start = fixed(task.done_at_min)
    else:
        wanted = None if end.hint is None else end.hint - task.before_end_min
        named = [each.start_min for each in hint.placed.additions if each.name == task.name] if hint.placed else []
        near = min(named, key=lambda at: abs(at - (wanted or 0)), default=None)
        unit = math.gcd(end.factor, site.unit)
        low, high = end.low - task.before_end_min - task.tolerance_min, end.high - task.before_end_min
        high += task.tolerance_min
        now = site.problem.now_min
        start = core.time(
            max(low, now) if high >= now else low,
            high,
            unit=unit,
            rest=(end.offset - task.before_end_min) % unit,
            hint=near,
        )
        early, late = -task.before_end_min - task.tolerance_min, task.tolerance_min - task.before_end_min
        core.lag(end, start, [(flag, early, late)], certain=certain)
        core.not_before(start, begin, when=when)
        core.not_before(end, start, wait=task.cook_min, when=when)
        site.staff(start, start.after(task.cook_min), task.cook_min, task.cook_min, when)
    site.use(site.hands, start, start.after(task.cook_min), flag, fixed(1))
    run.added.append(Added(task, flag, start))


# Vessels


def _vessels(site: Site, run: Run, hint: Hint) -> None:
    ways = run.row.ways
    leaves = [run.points[_slot_of(way, way.option.last_pot_stage) + 1] for way in ways]
    at = hint.placed.wash.start_min if hint.placed and hint.placed.wash else None
    minutes = [way.option.wash_min for way in ways]
    run.wash_start, free = _wash(site, run, run.ways, leaves, minutes, run.row.job.washed_at_min, at)
    for pot, numbers in _grouped(run, lambda way: way.pot).items():
        flag = _joint(site, run, numbers)
        site.stays.append(Stay(int(str(pot)), run.row.job, run.points[0], free, flag))
    _pans(site, run, hint)


def _pans(site: Site, run: Run, hint: Hint) -> None:
    numbers = [number for number, way in enumerate(run.row.ways) if way.pan is not None]
    if not numbers:
        return
    at = hint.placed.pan_wash.start_min if hint.placed and hint.placed.pan_wash else None
    pans = [way.option.pan for way in run.row.ways if way.option.pan is not None]
    flags = [run.ways[number] for number in numbers]
    leaves = [run.points[_slot_of(run.row.ways[number], len(run.row.ways[number].slots) - 1) + 1] for number in numbers]
    run.pan_wash_start, free = _wash(site, run, flags, leaves, [pan.wash_min for pan in pans], None, at)
    slots = _grouped(run, lambda way: (way.pan, way.option.pan and _slot_of(way, way.option.pan.pour_stage)))
    for (pan, slot), members in _keyed(slots):
        flag = _joint(site, run, members)
        site.stays.append(Stay(pan, run.row.job, run.points[slot], free, flag))


def _keyed(groups: Mapping[object, list[int]]) -> list[tuple[tuple[int, int], list[int]]]:
    return [(key, members) for key, members in groups.items() if isinstance(key, tuple) and key[0] is not None]


def _wash(
    site: Site,
    run: Run,
    flags: Sequence[Flag],
    leaves: Sequence[Time],
    minutes: Sequence[int],
    at_min: int | None,
    hint: int | None,
) -> tuple[Time | None, Time]:
    """Wash a vessel any time after it is empty; when it is free again."""
    core, everybody = site.core, run.certain and len(flags) == len(run.ways)
    same = all(leave == leaves[0] for leave in leaves)
    if set(minutes) == {0} and same:
        return None, leaves[0]
    when = () if everybody else (core.any_of(list(flags)),)
    flag = when[0] if when else core.always
    if at_min is not None:
        start = fixed(at_min)
    else:
        horizon = site.problem.horizon_min
        low = max(site.problem.now_min, min(leave.low for leave in leaves))
        last = horizon if everybody else max(horizon, low)
        known = max((each.hint for each in leaves if each.hint is not None), default=None)
        start = core.time(low, last, unit=_wash_unit(site, leaves), hint=known if hint is None else hint)
    for way, leave in zip(flags, leaves, strict=True):
        if at_min is None:
            core.not_before(start, leave, when=() if same and everybody else (way,))
    free = start.after(minutes[0])
    if len(set(minutes)) > 1:
        free = core.time(start.low, start.high + max(minutes))
        core.lag(start, free, [(way, each, each) for way, each in zip(flags, minutes, strict=True)], certain=everybody)
    if min(minutes) > 0:
        site.staff(start, free, min(minutes), max(minutes), when)
    elif any(minutes):
        for way, each in zip(flags, minutes, strict=True):
            if each:
                site.staff(start, free, each, each, (way,))
    site.use(site.hands, start, free, flag, fixed(1))
    core.within(free, [(0, site.problem.horizon_min)], when=when)
    return start, free


def _wash_unit(site: Site, leaves: Sequence[Time]) -> int:
    return math.gcd(site.unit, *(leave.offset for leave in leaves), *(leave.factor for leave in leaves))


# Draws


def _draws(site: Site, run: Run, hint: Hint) -> None:
    names = dict.fromkeys(draw.name for way in run.row.ways for draw in way.option.draws)
    for name in names:

        def key(way: Way, name: str = name) -> object:
            found = next((draw for draw in way.option.draws if draw.name == name), None)
            return None if found is None else (_slot_of(way, found.stage), found)

        for content, numbers in _grouped(run, key).items():
            if isinstance(content, tuple):
                _draw(site, run, hint, content[1], content[0], _joint(site, run, numbers))


def _draw(site: Site, run: Run, hint: Hint, draw: Draw, slot: int, flag: Flag) -> None:
    core, at = site.core, run.points[slot + 1]
    certain = run.certain and flag is run.present
    chosen = _known_mode(hint, draw) if core.is_hinted(flag) else None
    flags = [flag if len(draw.modes) == 1 else core.flag(hint=mode == chosen) for mode in draw.modes]
    if len(flags) != 1:
        core.exactly(flags, flag)
    modes = list(zip(flags, draw.modes, strict=True))
    lengths = [mode.minutes + draw.freeze_min for mode in draw.modes]
    ready = at.after(lengths[0])
    if len(set(lengths)) > 1:
        taken = next((length for length, mode in zip(lengths, draw.modes, strict=True) if mode == chosen), None)
        unit = math.gcd(at.factor, *(each - lengths[0] for each in lengths))
        ready = core.time(
            at.low + min(lengths),
            at.high + max(lengths),
            unit=unit,
            rest=(at.offset + lengths[0]) % unit,
            hint=None if at.hint is None or taken is None else at.hint + taken,
        )
        terms = [(each, length, length) for each, length in zip(flags, lengths, strict=True)]
        core.lag(at, ready, terms, certain=certain)
    core.within(ready, [(draw.not_before_min, site.problem.horizon_min)], when=() if certain else (flag,))
    run.cooled.append(Cooled(draw, flag, at, ready, tuple(modes)))
    _cooling(site, run.cooled[-1], certain)
    _standing(site, run.cooled[-1])


def _known_mode(hint: Hint, draw: Draw) -> CoolingMode | None:
    for each in () if hint.placed is None else hint.placed.coolings:
        for mode in draw.modes if each.draw == draw.name else ():
            minutes = each.end_min - each.start_min
            if (mode.name, mode.places, mode.minutes, mode.ice_kg) == (each.mode, each.places, minutes, each.ice_kg):
                return mode
    return None


def _cooling(site: Site, cooled: Cooled, certain: bool) -> None:
    core, at = site.core, cooled.at
    if at.index is not None or at.low >= site.problem.now_min:
        if certain and cooled.modes:
            quickest = min(mode.minutes for _, mode in cooled.modes)
            core.within(at, shrunk(site.spans, quickest))
        for flag, mode in cooled.modes:
            core.within(at, shrunk(site.spans, mode.minutes), when=(flag,))
    for flag, mode in cooled.modes:
        for device, places in mode.places:
            site.use(site.devices.setdefault(device, []), at, at.after(mode.minutes), flag, fixed(places))
    for tray, count in cooled.draw.trays:
        site.use(site.trays.setdefault(tray, []), at, cooled.ready, cooled.flag, fixed(count))
    if at.index is None and at.low < site.problem.now_min:
        return
    rounded = math.floor if site.relaxed else math.ceil
    grams = [rounded(round(mode.ice_kg * GRAM, 3)) for _, mode in cooled.modes]
    if any(grams):
        taken = _amount(core, [flag for flag, _ in cooled.modes], grams)
        site.ice.append(IceDraw(at, taken, cooled.flag))


def _standing(site: Site, cooled: Cooled) -> None:
    """Litres stand in a store from ready until they leave; they may be counted longer, never shorter."""
    litres: dict[tuple[str, int], int] = {}
    for keep in cooled.draw.keep:
        if keep.store in site.full_stores:
            litres[keep.store, keep.until_min] = litres.get((keep.store, keep.until_min), 0) + micro(keep.litres)
    for (store, until), amount in litres.items():
        if cooled.ready.low < until:
            last = max(until, cooled.ready.high)
            known = None if cooled.ready.hint is None else max(until, cooled.ready.hint)
            gone = fixed(until) if last == until else site.core.time(until, last, hint=known)
            site.use(site.stores.setdefault(store, []), cooled.ready, gone, cooled.flag, fixed(amount))
