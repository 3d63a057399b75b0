"""Second draws that are reduced together in a pan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from production.domain.batches.cells import reduction_of_l
from production.domain.batches.costs import Placed
from production.domain.batches.tasks import MOST_POOLED, Task
from production.domain.batches.units import Unit, litres_of, portions_of
from production.domain.formula import HAIR_L


def reduced_together(placed: Sequence[Placed], task: Task, units: list[Unit]) -> list[Placed]:
    """Runs of a slot with their reductions: as many second draws go into a pan as fit, at most three.

    Equation: the first run of a pan is the host; its reduction is what the runs give at the least together, in whole
        containers, and no more cubes than the trays take. A run without containers of reduction is drawn once.
    Units: placed, task, units (records; the containers that are filled are removed); returns records with L.
    Valid: runs with codes of their own.
    Errors: DoesNotFit `no-second-draw` for a formula without one.
    Source: own definition; reducing several second draws together is common practice, no source.
    """
    found = {each.batch.code: each for each in placed}
    for pool in _pools(placed, task):
        taken = _take(task, units, sum(_gives_l(task, each) for each in pool))
        if not taken:
            continue
        host, *guests = (each.batch for each in pool)
        reduction = portions_of(taken, task.making.products)
        joined = replace(host, reduction=reduction, guests=tuple(guest.code for guest in guests))
        found[host.code] = replace(found[host.code], batch=joined)
        for guest in guests:
            poured = replace(guest, pours_into=host.code, poured_for=min(unit.need.dispatch_at for unit in taken))
            found[guest.code] = replace(found[guest.code], batch=poured)
    return list(found.values())


def _gives_l(task: Task, placed: Placed) -> float:
    making = task.making
    return reduction_of_l(
        week=making.week, parameters=making.parameters, formula=making.formula, drawn_l=placed.batch.first_l
    )


def _take(task: Task, units: list[Unit], room_l: float) -> list[Unit]:
    """Containers of reduction off the front as long as there is room, and no more cubes than the trays take."""
    cubes_left_l = {task.groups[n].product: most_l for groups, most_l in task.cube_limits_l for n in groups}
    taken: list[Unit] = []
    for unit in tuple(units):
        product = unit.need.product
        if litres_of(taken) + unit.litres > room_l + HAIR_L or unit.litres > cubes_left_l.get(product, room_l) + HAIR_L:
            continue
        for each in _same_tray(task, product):
            cubes_left_l[each] -= unit.litres
        taken.append(unit)
        units.remove(unit)
    return taken


def _same_tray(task: Task, product: str) -> set[str]:
    """Products of cubes that share their trays with this one, itself among them."""
    return {
        task.groups[n].product
        for groups, _ in task.cube_limits_l
        if product in {task.groups[n].product for n in groups}
        for n in groups
    }


def _pools(members: Sequence[Placed], task: Task) -> list[list[Placed]]:
    """Runs that go into a pan together; one alone is reduced in its own pot or in a pan."""
    pools: list[list[Placed]] = []
    for each in members:
        if pools and _fit([*pools[-1], each], task):
            pools[-1].append(each)
        else:
            pools.append([each])
    return pools


def _fit(pool: list[Placed], task: Task) -> bool:
    seconds = [(each.cell.second_at(each.batch.first_l), each.batch.first_l) for each in pool]
    liquor_l = sum(second.liquor_l.at(litres) for second, litres in seconds if second is not None)
    return len(pool) <= MOST_POOLED and liquor_l <= task.pan_l + HAIR_L
