"""A solution of a model as a schedule: pots given out, washes, additions and coolings in their places."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_bipartite_matching

from production.domain.schedule.cpsat import Values
from production.domain.schedule.model.runs import Run
from production.domain.schedule.model.shape import Shape, Vessels, Way
from production.domain.schedule.problem import Problem, RunJob
from production.domain.schedule.result import Late, Placed, PlacedCooling, PlacedRun, Schedule, Unplaced

_Stay = tuple[int, int, Run]


def schedule_of(
    shape: Shape, runs: Iterable[Run], values: Values, *, seed: int, left_out: Mapping[str, Unplaced]
) -> Schedule:
    """Read a solution.

    Equation: interchangeable vessels are given out in the order of the starts, always one that is free.
    Units: shape, runs (records), values (reader), seed [count]; returns a Schedule in min.
    Valid: a solution of the model of these runs.
    Errors: none.
    Source: own definition (interval colouring is a standard method).
    """
    there = [run for run in runs if values(run.present)]
    vessels = _given_out(shape, there, values)
    placed = [_placed(run, values, vessels) for run in there]
    jobs = {job.code: job for job in shape.problem.jobs}
    late = [each for run in placed for each in _late(jobs[run.job], run)]
    unplaced = tuple(_unplaced(job, left_out) for job in _missing(shape.problem, placed))
    return Schedule(
        status="partial" if placed and unplaced else "empty" if not placed else "complete",
        method="solver",
        runs=tuple(sorted(placed, key=lambda run: (run.start_min, run.job))),
        unplaced=unplaced,
        late=tuple(sorted((item for item, _ in late), key=lambda item: (item.due_min, item.label, item.job))),
        lateness_h=sum(hours for _, hours in late),
        seconds=0.0,
        seed=seed,
    )


def _way(run: Run, values: Values) -> Way:
    return next(way for flag, way in zip(run.ways, run.row.ways, strict=True) if values(flag))


def _given_out(shape: Shape, runs: list[Run], values: Values) -> dict[tuple[str, str], str]:
    """The vessel of every run, by run and "pot" or "pan"."""
    stays: dict[int, list[tuple[int, int, str, str]]] = {}
    for run in runs:
        way = _way(run, values)
        code = run.row.job.code
        leave = run.points[way.slots[way.option.last_pot_stage] + 1]
        free = leave if run.wash_start is None else run.wash_start.after(way.option.wash_min)
        stays.setdefault(way.pot, []).append((values(run.points[0]), values(free), code, "pot"))
        if way.pan is not None and way.option.pan is not None:
            begin = run.points[way.slots[way.option.pan.pour_stage]]
            end = run.points[way.slots[-1] + 1]
            free = end if run.pan_wash_start is None else run.pan_wash_start.after(way.option.pan.wash_min)
            stays.setdefault(way.pan, []).append((values(begin), values(free), code, "pan"))
    allergens = {job.code: job.allergens for job in shape.problem.jobs}
    given: dict[tuple[str, str], str] = {}
    for number, each in stays.items():
        given |= _coloured(shape.vessels[number], shape.problem.soak_min, sorted(each), allergens)
    return given


def _coloured(
    vessels: Vessels, soak_min: int, stays: list[tuple[int, int, str, str]], allergens: Mapping[str, frozenset[str]]
) -> dict[tuple[str, str], str]:
    """Give every stay a vessel so that each is free, and soaked, for the next one, if that can be done at all.

    As many stays as possible get a stay to follow; the chains that this makes are as few as they can be. If they are
    still more than there are vessels, the chains beyond take what is left first, and the check finds the soak missing.
    """
    follows = _followers(soak_min, stays, allergens)
    if len(stays) - len(follows) > len(vessels.codes):
        follows = _followers(0, stays, allergens)
    given: dict[tuple[str, str], str] = {}
    idle = list(vessels.codes)
    for number, (_, _, code, role) in enumerate(stays):
        before = follows.get(number)
        given[code, role] = idle.pop(0) if before is None else given[stays[before][2:]]
    return given


def _followers(
    soak_min: int, stays: list[tuple[int, int, str, str]], allergens: Mapping[str, frozenset[str]]
) -> dict[int, int]:
    """Which stay comes straight after which: the most pairs that can be made (a largest matching)."""
    possible = np.zeros((len(stays), len(stays)), dtype=np.int8)
    for first, (_, free, code, _) in enumerate(stays):
        for second in range(first + 1, len(stays)):
            start, _, other, _ = stays[second][:4]
            soak = soak_min if allergens[code] - allergens[other] else 0
            possible[first, second] = free + soak <= start
    matched = maximum_bipartite_matching(csr_array(possible), perm_type="row")
    return {second: int(first) for second, first in enumerate(matched) if first >= 0}


def _placed(run: Run, values: Values, vessels: Mapping[tuple[str, str], str]) -> PlacedRun:
    way, code = _way(run, values), run.row.job.code
    pot, pan = vessels[code, "pot"], vessels.get((code, "pan"), "")
    points = [values(point) for point in run.points]
    stages = tuple(
        Placed(name=stage.kind, start_min=points[slot], end_min=points[slot + 1])
        for stage, slot in zip(way.option.stages, way.slots, strict=True)
    )
    added = [
        Placed(name=each.task.name, start_min=values(each.start), end_min=values(each.start) + each.task.cook_min)
        for each in run.added
        if values(each.flag)
    ]
    return PlacedRun(
        job=code,
        option=way.indexes[pot, pan],
        pot=pot,
        stages=stages,
        additions=tuple(sorted(added, key=lambda task: (task.start_min, task.name))),
        coolings=_coolings(run, way, values),
        wash=None if run.wash_start is None else _task("wash", values(run.wash_start), way.option.wash_min),
        why_here="",
        pan=pan,
        pan_wash=None
        if run.pan_wash_start is None or way.option.pan is None
        else _task("wash", values(run.pan_wash_start), way.option.pan.wash_min),
    )


def _task(name: str, start: int, minutes: int) -> Placed | None:
    return Placed(name=name, start_min=start, end_min=start + minutes) if minutes else None


def _coolings(run: Run, way: Way, values: Values) -> tuple[PlacedCooling, ...]:
    coolings: dict[str, PlacedCooling] = {}
    for cooled in run.cooled:
        if values(cooled.flag):
            mode = next(mode for flag, mode in cooled.modes if values(flag))
            at = values(cooled.at)
            coolings[cooled.draw.name] = PlacedCooling(
                draw=cooled.draw.name,
                mode=mode.name,
                places=mode.places,
                ice_kg=mode.ice_kg,
                start_min=at,
                end_min=at + mode.minutes,
                ready_min=at + mode.minutes + cooled.draw.freeze_min,
            )
    return tuple(coolings[draw.name] for draw in way.option.draws)


def _late(job: RunJob, run: PlacedRun) -> Iterable[tuple[Late, float]]:
    for draw, cooling in zip(job.options[run.option].draws, run.coolings, strict=True):
        for due in draw.dues:
            if cooling.ready_min > due.minute:
                late = Late(
                    job=job.code,
                    label=due.label,
                    due_min=due.minute,
                    ready_min=cooling.ready_min,
                    resource="",
                    sentence="",
                )
                yield late, due.weight * due.share * (cooling.ready_min - due.minute) / 60


def _missing(problem: Problem, placed: Iterable[PlacedRun]) -> list[RunJob]:
    there = {run.job for run in placed}
    return [job for job in problem.jobs if job.code not in there]


def _unplaced(job: RunJob, left_out: Mapping[str, Unplaced]) -> Unplaced:
    found = left_out.get(job.code)
    if found is not None:
        return found
    return Unplaced(
        job=job.code,
        resource="several",
        missing=0.0,
        unit="",
        sentence="It gives way to runs that more order lines wait for.",
        remedy="Move an order line to another day, or buy the product in.",
    )
