"""The scheduling problem of a week: hands, heat, cooling, ice and room, in minutes from its origin."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from datetime import timedelta

from production.domain.batches import container_storage_l
from production.domain.cooling_capacity import STEP_MIN
from production.domain.demand import Demand
from production.domain.kitchen import StockLot
from production.domain.plan.frame import Frame, up_min
from production.domain.schedule.problem import IceDelivery, Join, Problem, RunJob, StoreRoom, Window
from production.domain.thermal.cooling import ice_available_kg


def problem_of(frame: Frame, demand: Demand, jobs: tuple[RunJob, ...], joins: tuple[Join, ...] = ()) -> Problem:
    """The week's resources with the jobs that share them.

    Equation: people on duty as steps; places, ice, trays, heat and room from the catalogue; outages and stock as they
        are known when planning starts.
    Units: frame, demand, jobs, joins (records); returns a Problem with min, kW, kg and L.
    Valid: a week that passed its reader.
    Errors: BadProblem when the jobs contradict themselves (a mistake of the program).
    Source: own definition.
    """
    week = frame.week
    ice = week.ice_machine
    return Problem(
        horizon_min=frame.horizon_min,
        now_min=up_min(frame.minute(week.plan_from)),
        step_min=STEP_MIN,
        cooks=_staffing(frame),
        supplies_kw=tuple((each.code, each.capacity_kw) for each in week.heat_supplies),
        devices=tuple((each.code, each.places) for each in week.cooling_devices),
        ice_bin_kg=ice.bin_kg if ice else 0.0,
        ice_start_kg=ice.bin_kg * ice.start_share if ice else 0.0,
        ice_kg_per_min=ice_kg_per_min(frame),
        trays=tuple((each.code, each.trays) for each in week.cube_trays),
        stores=tuple(_store_room(frame, demand, each.code) for each in week.stores),
        unattended_simmer=week.kitchen.unattended_simmer,
        soak_min=up_min(week.kitchen.tasks.soak_min) if week.kitchen.tasks.soak_min else 0,
        jobs=jobs,
        outages=tuple(_outages(frame)),
        joins=joins,
        ice_deliveries=tuple(_ice_deliveries(frame)),
    )


def _ice_deliveries(frame: Frame) -> Iterable[IceDelivery]:
    """Ice bought in, in the bin no earlier than it is brought; without a machine there is no bin."""
    for each in frame.week.ice_deliveries:
        if frame.week.ice_machine is not None and each.at >= frame.week.plan_from:
            yield IceDelivery(minute=up_min(frame.minute_after(each.at)), mass_kg=each.mass_kg)


def ice_kg_per_min(frame: Frame) -> float:
    """Ice that the machine makes in a minute.

    Equation: ice_available_kg of one hour from an empty bin, by 60.
    Units: frame (record); returns [kg/min].
    Valid: any week; 0 without a machine.
    Errors: none.
    Source: as ice_available_kg.
    """
    ice = frame.week.ice_machine
    if ice is None:
        return 0.0
    kg_per_h = ice_available_kg(
        bin_kg=0.0,
        make_kg_d=ice.make_kg_per_day,
        time_h=1.0,
        make_share=frame.parameters.value("ice.hot_room_share"),
    )
    return kg_per_h / 60.0


def _outages(frame: Frame) -> Iterable[tuple[str, Window]]:
    for pot in frame.week.pots:
        for outage in pot.outages:
            if outage.end > frame.origin:
                start_min = max(0, frame.minute(outage.start))
                yield pot.code, Window(start_min=start_min, end_min=max(1, frame.minute_after(outage.end)))


def _staffing(frame: Frame) -> tuple[Window, ...]:
    """Shifts of all people as steps of how many are there."""
    steps: dict[int, int] = {}
    for shift in frame.week.shifts:
        start = max(0, frame.minute_after(shift.start))
        end = min(frame.horizon_min, frame.minute(shift.end))
        if end > start:
            steps[start] = steps.get(start, 0) + 1
            steps[end] = steps.get(end, 0) - 1
    windows, there = [], 0
    for start, end in itertools.pairwise(sorted(steps)):
        there += steps[start]
        if there:
            windows.append(Window(start_min=start, end_min=end, amount=there))
    return tuple(windows)


def _store_room(frame: Frame, demand: Demand, code: str) -> StoreRoom:
    """Room of a store and what of the opening stock stands in it until when."""
    week = frame.week
    store = week.get("stores", code)
    opening = [part for lot in week.lots if lot.store == code for part in _standing(frame, demand, lot)]
    usable = store.volume_l * store.usable_share
    return StoreRoom(code=code, litres=max(usable, sum(litres for _, litres in opening)), opening=tuple(opening))


def _standing(frame: Frame, demand: Demand, lot: StockLot) -> Iterable[tuple[int, float]]:
    """Litres of a lot, each with the minute at which they leave the store."""
    lines = {line.code: line for line in frame.week.order_lines}
    container = frame.week.get("containers", frame.products[lot.product].container)
    one_l = container_storage_l(container=container, air_gap_mm=0.0)
    for served in demand.served:
        if served.lot == lot.code:
            yield frame.minute(lines[served.line].dispatch_at), served.containers * one_l
    left = dict(demand.left_over).get(lot.code)
    if left:
        gone = min(frame.horizon_min, frame.minute(frame.local_midnight(lot.use_by + timedelta(days=1))))
        yield gone, left * one_l
