"""The lanes of a plan's timeline, from the plan's content alone: pots and pans, cooling, heat, cooks, ice and room."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from production.documents.pictures import stage_kind
from production.domain.batches import Portion, container_storage_l
from production.domain.plan import Plan, PlannedRun, parameters_of
from production.domain.plan.frame import frame_of
from production.domain.plan.problem import problem_of
from production.domain.schedule.problem import Problem
from production.domain.schedule.result import POUR_OVER, Placed
from production.drawing.timeline_content import (
    BarLane,
    BarStage,
    LaneStep,
    LevelLane,
    Pour,
    ShadedSpan,
    StepLane,
    TimelineBar,
)
from production.web.style import Style

Href = Callable[[str], str]
Span = tuple[float, float, float]  # from, until, how much
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A plan and the stretch of it that is shown."""

    plan: Plan
    style: Style
    href: Href
    start: float
    end: float
    locked: frozenset[str] = frozenset()
    chain: tuple[str, ...] = ()  # runs of a chain of waiting that is looked at, in its order
    moves: bool = False  # may runs be taken and put elsewhere?

    def inside(self, begins: float, ends: float) -> bool:
        """Does any of it fall into the stretch?"""
        return begins < self.end and ends > self.start

    def when(self, begins: float, ends: float) -> str:
        """From when to when, in words."""
        return self.style.between(self.plan.at(begins), self.plan.at(ends))

    def link(self, run: str) -> int:
        """The number of a run in the chain; 0 where it is in none."""
        return self.chain.index(run) + 1 if run in self.chain else 0

    @property
    def late(self) -> frozenset[str]:
        """Runs that something waits for too long."""
        return frozenset(each.run for each in self.plan.late)


def resources_of(plan: Plan) -> Problem:
    """What the kitchen has in this plan's week, as the scheduler counts it; without the runs."""
    frame = replace(frame_of(plan.week, parameters_of(week=plan.week)), origin=plan.origin)
    return problem_of(frame, plan.demand, ())


def pot_lanes(shown: Shown, resources: Problem, *, before: Plan | None = None) -> tuple[BarLane, ...]:
    """One lane for each pot and pan, with what stood in it in the plan before."""
    earlier = (
        None
        if before is None
        else Shown(plan=before, style=shown.style, href=lambda _: "", start=shown.start, end=shown.end)
    )
    return tuple(
        BarLane(
            name=pot.name,
            takes=pot.code if shown.moves and not pot.reduction_pan else "",
            bars=tuple(_bars(shown, pot.code)),
            before=() if earlier is None else tuple(_moved(shown.plan, earlier, pot.code)),
            out_of_use=tuple(
                ShadedSpan(start_min=window.start_min, end_min=window.end_min)
                for code, window in resources.outages
                if code == pot.code and shown.inside(window.start_min, window.end_min)
            ),
        )
        for pot in shown.plan.week.pots
    )


def _bars(shown: Shown, pot: str) -> Iterator[TimelineBar]:
    for run in shown.plan.runs:
        spans = _in_pot(run) if run.pot == pot else _in_pan(run) if run.placed.pan == pot else []
        if not spans or not shown.inside(spans[0].start_min, spans[-1].end_min):
            continue
        begins, ends = spans[0].start_min, spans[-1].end_min
        late = run.code in shown.late
        yield TimelineBar(
            label=_label(shown.plan, run, in_pan=run.pot != pot),
            start_min=begins,
            end_min=ends,
            when=shown.when(begins, ends),
            stages=tuple(
                BarStage(kind=stage_kind(each.name), start_min=each.start_min, end_min=each.end_min) for each in spans
            ),
            href=shown.href(run.code) or None,
            meaning="past" if late else None,
            word="late" if late else "",
            locked=run.code in shown.locked,
            link=shown.link(run.code),
            moves=run.code if shown.moves and run.pot == pot else "",
        )


def _moved(after: Plan, before: Shown, pot: str) -> Iterator[TimelineBar]:
    """Bars of the plan before that are no longer there, or not at that time."""
    stays = {(run.code, run.pot, run.placed.pan, after.at(run.placed.start_min)) for run in after.runs}
    gone = {
        _label(before.plan, run, in_pan=run.pot != pot)
        for run in before.plan.runs
        if (run.code, run.pot, run.placed.pan, before.plan.at(run.placed.start_min)) not in stays
    }
    shift = (before.plan.origin - after.origin).total_seconds() / 60
    for bar in _bars(before, pot):
        if bar.label in gone:
            yield TimelineBar(
                label=bar.label, start_min=bar.start_min + shift, end_min=bar.end_min + shift, when=bar.when
            )


def _label(plan: Plan, run: PlannedRun, *, in_pan: bool) -> str:
    formula = next(each.name for each in plan.week.formulas if each.code == run.formula)
    if not in_pan:
        return f"{run.code} {formula}"
    return f"{' + '.join((run.code, *run.batch.guests))} {formula}, reduced"


def _in_pot(run: PlannedRun) -> list[Placed]:
    placed = run.placed
    last = _pour_index(run)
    stages = placed.stages if last is None else placed.stages[: last + 1]
    return [*stages, *_washed(placed.wash)]


def _in_pan(run: PlannedRun) -> list[Placed]:
    first = _pour_index(run)
    return [] if first is None else [*run.placed.stages[first:], *_washed(run.placed.pan_wash)]


def _pour_index(run: PlannedRun) -> int | None:
    return next((n for n, each in enumerate(run.placed.stages) if each.name == POUR_OVER), None)


def _washed(wash: Placed | None) -> list[Placed]:
    return [wash] if wash else []


def pours(shown: Shown) -> tuple[Pour, ...]:
    """Second draws that go from their pots into the pan of the run that they are reduced with."""
    place = {pot.code: n for n, pot in enumerate(shown.plan.week.pots)}
    names = {pot.code: pot.name for pot in shown.plan.week.pots}
    hosts = {run.code: run for run in shown.plan.runs if run.placed.pan}
    found = []
    for run in shown.plan.runs:
        host = run if run.placed.pan else hosts.get(run.batch.pours_into)
        index = _pour_index(run)
        if host is None or index is None:
            continue
        at = run.placed.stages[index].start_min
        if shown.start <= at < shown.end:
            words = f"{run.code} is poured over from {names[run.pot]} into {names[host.placed.pan]}"
            found.append(
                Pour(
                    at_min=at,
                    from_lane=place[run.pot],
                    to_lane=place[host.placed.pan],
                    words=f"{words}, {shown.when(at, run.placed.stages[index].end_min)}",
                )
            )
    return tuple(found)


def device_lanes(shown: Shown) -> tuple[BarLane, ...]:
    """One lane for each cooling device: which run is in it, with how many vessels."""
    return tuple(
        BarLane(
            name=device.name,
            bars=tuple(
                TimelineBar(
                    label=f"{run.code} ×{places}" if device.places > 1 else run.code,
                    start_min=cooling.start_min,
                    end_min=cooling.end_min,
                    when=shown.when(cooling.start_min, cooling.end_min),
                    stages=(BarStage(kind="chill", start_min=cooling.start_min, end_min=cooling.end_min),),
                )
                for run in shown.plan.runs
                for cooling in run.placed.coolings
                for code, places in cooling.places
                if code == device.code and shown.inside(cooling.start_min, cooling.end_min)
            ),
        )
        for device in shown.plan.week.cooling_devices
    )


def step_lanes(shown: Shown, resources: Problem) -> tuple[StepLane | LevelLane, ...]:
    """Heat, cooks, places in cooling devices, ice and room in the stores, each against what there is."""
    return (
        *_heat(shown, resources),
        _cooks(shown, resources),
        *_places(shown, resources),
        *_ice(shown, resources),
        *_room(shown, resources),
    )


def _heat(shown: Shown, resources: Problem) -> Iterator[StepLane]:
    """Input power of each heat supply."""
    names = {each.code: each.name for each in shown.plan.week.heat_supplies}
    for supply, capacity_kw in resources.supplies_kw:
        fires = [
            (load.start_min, load.end_min, load.power_kw)
            for run in shown.plan.runs
            for load in run.loads
            if load.supply == supply
        ]
        yield _lane(shown, names[supply], "kW", fires, capacity_kw)


def _cooks(shown: Shown, resources: Problem) -> StepLane:
    """Pairs of hands at work; an addition and a wash take one cook each."""
    hands: list[Span] = []
    for run in shown.plan.runs:
        hands += [(load.start_min, load.end_min, load.cooks) for load in run.loads]
        alone = [*run.placed.additions, *_washed(run.placed.wash), *_washed(run.placed.pan_wash)]
        hands += [(each.start_min, each.end_min, 1.0) for each in alone]
    duty = [(each.start_min, each.end_min, float(each.amount)) for each in resources.cooks]
    return StepLane(
        name="Cooks",
        unit="cooks",
        used=added_up(hands, shown.start, shown.end),
        available=added_up(duty, shown.start, shown.end),
    )


def _places(shown: Shown, resources: Problem) -> Iterator[StepLane]:
    names = {each.code: each.name for each in shown.plan.week.cooling_devices}
    for device, places in resources.devices:
        taken = [
            (cooling.start_min, cooling.end_min, float(count))
            for run in shown.plan.runs
            for cooling in run.placed.coolings
            for code, count in cooling.places
            if code == device
        ]
        if places > 1:
            yield _lane(shown, f"Places in {names[device]}", "places", taken, places)


def _lane(shown: Shown, name: str, unit: str, spans: Iterable[Span], there: float) -> StepLane:
    return StepLane(
        name=name,
        unit=unit,
        used=added_up(spans, shown.start, shown.end),
        available=(LaneStep(at_min=shown.start, value=float(there)),),
    )


def _ice(shown: Shown, resources: Problem) -> Iterator[LevelLane]:
    """The ice in the bin: made all the time, taken where a draw starts to cool, bought in at its minute."""
    if not resources.ice_bin_kg:
        return
    changes = [
        (cooling.start_min, -cooling.ice_kg)
        for run in shown.plan.runs
        for cooling in run.placed.coolings
        if cooling.ice_kg and cooling.start_min >= resources.now_min
    ]
    bought = [(each.minute, each.mass_kg) for each in resources.ice_deliveries]
    at, level = float(resources.now_min), resources.ice_start_kg
    points = [LaneStep(at_min=at, value=level)]
    for minute, change in sorted([*bought, *changes], key=lambda each: (each[0], each[1] < 0)):
        points += _refilled(resources, at, level, minute)
        level = min(resources.ice_bin_kg, max(0.0, points[-1].value + change))
        at = float(minute)
        points.append(LaneStep(at_min=at, value=level))
    points += _refilled(resources, at, level, shown.end)
    yield LevelLane(name="Ice bin", unit="kg", points=_cut(points, shown.start, shown.end), full=resources.ice_bin_kg)


def _refilled(resources: Problem, at: float, level: float, until: float) -> list[LaneStep]:
    """How the bin fills from one minute to another: straight up, then full."""
    if until <= at:
        return []
    rate = resources.ice_kg_per_min
    full_at = at + (resources.ice_bin_kg - level) / rate if rate > 0 else until
    if full_at >= until:
        return [LaneStep(at_min=until, value=min(resources.ice_bin_kg, level + rate * (until - at)))]
    return [LaneStep(at_min=full_at, value=resources.ice_bin_kg), LaneStep(at_min=until, value=resources.ice_bin_kg)]


def _cut(points: Sequence[LaneStep], start: float, end: float) -> tuple[LaneStep, ...]:
    """The part of a line between start and end, with the values at both."""
    inside = [each for each in points if start < each.at_min < end]
    edges = [LaneStep(at_min=at, value=_on_line(points, at)) for at in (start, end)]
    return (edges[0], *inside, edges[1])


def _on_line(points: Sequence[LaneStep], at: float) -> float:
    """The value of a line at a minute, level beyond its ends."""
    before = next((each for each in reversed(points) if each.at_min <= at), points[0])
    after = next((each for each in points if each.at_min > at), before)
    if after.at_min <= before.at_min:
        return before.value
    return before.value + (after.value - before.value) * (at - before.at_min) / (after.at_min - before.at_min)


def _room(shown: Shown, resources: Problem) -> Iterator[StepLane]:
    """Litres that stand in each store: opening stock until it leaves, what is made from when it is ready."""
    stores = {each.code: each for each in shown.plan.week.stores}
    made = _made(shown.plan)
    for room in resources.stores:
        opening = [(resources.now_min, until, litres) for until, litres in room.opening]
        yield _lane(shown, stores[room.code].name, "L", [*opening, *made[room.code]], room.litres)


def _made(plan: Plan) -> dict[str, list[Span]]:
    """Litres of room that the containers of each draw take in their store, from ready until they leave."""
    week, gap_mm = plan.week, parameters_of(week=plan.week).value("storage.air_gap_mm")
    spans: dict[str, list[Span]] = defaultdict(list)
    last = max((cooling.ready_min for run in plan.runs for cooling in run.placed.coolings), default=0)
    for run in plan.runs:
        ready = {cooling.draw: cooling.ready_min for cooling in run.placed.coolings}
        for draw, portions in (("first", run.batch.first), ("reduction", run.batch.reduction)):
            for portion in portions if draw in ready else ():
                product = week.get("products", portion.product)
                store = next(each.code for each in week.stores if each.kind == product.storage)
                one_l = container_storage_l(
                    container=week.get("containers", product.container),
                    air_gap_mm=gap_mm if product.storage == "frozen" else 0.0,
                )
                stays = _leaves(plan, portion, last)
                spans[store] += [(ready[draw], max(until, ready[draw]), count * one_l) for until, count in stays]
    return spans


def _leaves(plan: Plan, portion: Portion, last: float) -> Iterator[tuple[float, int]]:
    """How many containers leave when; what nobody has ordered stays to the end."""
    for peg in portion.pegs:
        yield (peg.dispatch_at - plan.origin).total_seconds() / 60, peg.containers
    if portion.surplus:
        end = plan.week.days * 24 * 60 + last
        yield end, portion.surplus


def added_up(spans: Iterable[Span], start: float, end: float) -> tuple[LaneStep, ...]:
    """Spans added up, as steps between start and end."""
    changes: dict[float, float] = defaultdict(float)
    for begins, ends, amount in spans:
        if begins < end and ends > start:
            changes[max(begins, start)] += amount
            changes[min(ends, end)] -= amount
    changes.setdefault(start, 0.0)
    level = 0.0
    steps: list[LaneStep] = []
    for at in sorted(changes):
        level += changes[at]
        if not steps or abs(steps[-1].value - level) > _ROUNDING:
            steps.append(LaneStep(at_min=at, value=round(level, 6)))
    return tuple(steps)
