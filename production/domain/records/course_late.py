"""How late a run is, who has to wait because of it, and what a manager may tell the planner about it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from production.domain.batches import Peg
from production.domain.demand import PAR_PREFIX
from production.domain.plan import Ask, BoilAt, Plan, PlannedDraw, PlannedRun, RunLost, StartedAt
from production.domain.records.course_basis import BEGIN, BOIL, FINISH, FIRST, REDUCED
from production.domain.records.course_content import Affected, Lateness, StepNow
from production.domain.schedule.result import POUR_OVER, PlacedCooling, PlacedRun

WORTH_TELLING = timedelta(minutes=5)  # the grid of the schedule
_DRAWN_AT = {"first": FIRST, "reduction": "portion"}
_MADE_AT = {"first": FIRST, "reduction": REDUCED}


def lateness_of(plan: Plan, run: PlannedRun, steps: Iterable[StepNow]) -> Lateness:
    """How late a run is, and whom that affects.

    Equation: expected - planned of each draw and of the last washing; cooling places, the next run of the pot or pan
        and dispatches are compared with the times that the plan gave them.
    Units: plan, run, steps (records); returns a record with minutes [min] and instants.
    Valid: runs of the plan, steps in their order.
    Errors: none.
    Source: own definition.
    """
    late = {each.step.code: each.expected_at - each.step.planned_at for each in steps}
    washed = [late[code] for code in ("wash", "wash.pan") if code in late]
    worst = max(washed, default=late[FINISH])
    if worst < WORTH_TELLING:
        return Lateness(minutes=0, end_at=run.end_at)
    zone = ZoneInfo(plan.week.kitchen.time_zone)
    affected: list[Affected] = []
    for draw in run.draws:
        shift = late.get(_DRAWN_AT[draw.name], worst)
        if shift >= WORTH_TELLING:
            affected += _cooling(plan, run, draw, shift, zone)
            affected += _dispatches(plan, run, draw, shift, zone)
    affected += _vessels(plan, run, late, worst, zone)
    minutes = math.ceil(worst.total_seconds() / 60.0)
    return Lateness(
        minutes=minutes,
        end_at=run.end_at + worst,
        affected=tuple(affected),
        sentence=f"{run.code} is about {minutes} min late."
        + ("" if affected else " Nobody else has to wait for it so far."),
    )


def lost_of(plan: Plan, run: PlannedRun, steps: Iterable[StepNow]) -> Lateness:
    """What a run that was broken off will not give.

    Equation: order lines of the draws that nobody has recorded.
    Units: plan, run, steps (records); returns a record.
    Valid: runs of the plan that were broken off.
    Errors: none.
    Source: own definition.
    """
    made = {each.step.code for each in steps if each.record is not None}
    zone = ZoneInfo(plan.week.kitchen.time_zone)
    missing = [draw for draw in run.draws if _MADE_AT[draw.name] not in made]
    return Lateness(
        minutes=0,
        end_at=run.end_at,
        affected=tuple(
            Affected(
                kind="dispatch",
                name=whom,
                planned_at=peg.dispatch_at,
                now_at=None,
                sentence=f"{peg.containers} × {product} for {whom} leave {_clock(peg.dispatch_at, zone)}; "
                "this run does not make them any more.",
            )
            for draw in missing
            for product, whom, peg in _ordered(plan, run, draw)
        ),
        sentence=f"{run.code} was broken off." if missing else f"{run.code} was broken off after its draws.",
        is_lost=bool(missing),
    )


def _clock(at: datetime, zone: ZoneInfo) -> str:
    return f"{at.astimezone(zone):%A %H:%M}"


def _cooling(plan: Plan, run: PlannedRun, draw: PlannedDraw, shift: timedelta, zone: ZoneInfo) -> Iterable[Affected]:
    """Draws of others that find their cooling place still taken."""
    mine = next(each for each in run.placed.coolings if each.draw == draw.name)
    later = round(shift.total_seconds() / 60.0)
    others = [(each.job, cooling) for each in plan.schedule.runs for cooling in each.coolings if each.job != run.code]
    for device, places in mine.places:
        capacity = plan.week.get("cooling_devices", device).places
        for job, other in others:
            wanted = dict(other.places).get(device, 0)
            if not wanted or not mine.start_min + later < other.end_min or not other.start_min < mine.end_min + later:
                continue
            if other.start_min < mine.end_min and mine.start_min < other.end_min:
                continue  # side by side in the plan already
            taken = sum(_places_at(each, device, other.start_min) for _, each in others)
            if taken + places > capacity:
                free_at, at = plan.at(mine.end_min + later), plan.at(other.start_min)
                name = plan.week.get("cooling_devices", device).name
                yield Affected(
                    kind="cooling",
                    name=f"{job}, {name}",
                    planned_at=at,
                    now_at=free_at,
                    sentence=f"{name} is wanted by {job} from {_clock(at, zone)}; this draw holds {places} of its "
                    f"{capacity} places until {_clock(free_at, zone)}.",
                )


def _places_at(cooling: PlacedCooling, device: str, minute: int) -> int:
    if not cooling.start_min <= minute < cooling.end_min:
        return 0
    return dict(cooling.places).get(device, 0)


def _dispatches(plan: Plan, run: PlannedRun, draw: PlannedDraw, shift: timedelta, zone: ZoneInfo) -> Iterable[Affected]:
    ready_at = draw.ready_at + shift
    for product, whom, peg in _ordered(plan, run, draw):
        if draw.ready_at <= peg.dispatch_at < ready_at:
            yield Affected(
                kind="dispatch",
                name=whom,
                planned_at=peg.dispatch_at,
                now_at=ready_at,
                sentence=f"{peg.containers} × {product} for {whom} leave {_clock(peg.dispatch_at, zone)}, "
                f"but are ready only {_clock(ready_at, zone)}.",
            )


def _ordered(plan: Plan, run: PlannedRun, draw: PlannedDraw) -> Iterable[tuple[str, str, Peg]]:
    """Product and outlet of everything that is ordered of a draw."""
    outlets = {each.code: each.name for each in plan.week.outlets}
    going = {each.code: outlets.get(each.outlet, each.outlet) for each in plan.week.order_lines}
    for portion in run.batch.reduction if draw.name == "reduction" else run.batch.first:
        product = plan.week.get("products", portion.product).name
        for peg in portion.pegs:
            if not peg.line.startswith(PAR_PREFIX):
                yield product, going.get(peg.line, peg.line), peg


def _vessels(
    plan: Plan, run: PlannedRun, late: Mapping[str, timedelta], worst: timedelta, zone: ZoneInfo
) -> Iterable[Affected]:
    """The run that is to be made next in the pot, or in the pan."""
    placed = run.placed
    vessels = [(run.pot, placed.pot_free_min, late.get("wash", worst))]
    if placed.pan:
        vessels.append((placed.pan, placed.pan_free_min, late.get("wash.pan", worst)))
    for vessel, free_min, shift in vessels:
        later = round(shift.total_seconds() / 60.0)
        comes = [
            (start, each.job)
            for each in plan.schedule.runs
            if each.job != run.code
            for name, start in ((each.pot, each.start_min), (each.pan, _pan_from_min(each)))
            if name == vessel and free_min <= start < free_min + later
        ]
        if comes:
            start, job = min(comes)
            free_at, name = plan.at(free_min + later), plan.week.get("pots", vessel).name
            yield Affected(
                kind="pot",
                name=job,
                planned_at=plan.at(start),
                now_at=free_at,
                sentence=f"{job} is to begin in {name} {_clock(plan.at(start), zone)}; it is free "
                f"{_clock(free_at, zone)}.",
            )


def _pan_from_min(placed: PlacedRun) -> int:
    return next((stage.start_min for stage in placed.stages if stage.name == POUR_OVER), placed.start_min)


def asks_of(run: PlannedRun, steps: Iterable[StepNow], *, broken_off: str | None) -> tuple[Ask, ...]:
    """What a manager would tell the planner, so that it plans again from what has really happened.

    Equation: lost where it was broken off; else its real start, and its boil as it was or is expected, where they are
        5 min or more from the plan.
    Units: run, steps (records), broken_off (reason, or none); returns records.
    Valid: runs that have begun.
    Errors: none.
    Source: own definition.
    """
    if broken_off is not None:
        return (RunLost(run=run.code, reason=broken_off[:120]),)
    found: list[Ask] = []
    for each in steps:
        moved = abs(each.expected_at - each.step.planned_at) >= WORTH_TELLING
        if each.step.code == BEGIN and each.record and moved:
            found.append(StartedAt(run=run.code, start_at=each.expected_at))
        if each.step.code == BOIL and moved and each.status != "skipped":
            found.append(BoilAt(run=run.code, boil_at=each.expected_at))
    return tuple(found)
