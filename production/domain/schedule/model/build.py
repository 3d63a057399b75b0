"""A whole model: its runs, what joins them, the kitchen, and the levels that are kept or searched."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

from production.domain.schedule.cpsat import Core
from production.domain.schedule.model.goals import (
    Terms,
    calm_terms,
    is_calm_exact,
    lateness_terms,
    moved_terms,
    unserved_terms,
)
from production.domain.schedule.model.runs import Run, build_run
from production.domain.schedule.model.shape import Shape
from production.domain.schedule.model.site import OUT_OF_ORDER, Site
from production.domain.schedule.result import POUR_OVER, PlacedRun, Schedule


@dataclass(frozen=True, slots=True)
class Model:
    """A model whose objective is one level; the levels before it are capped."""

    core: Core
    runs: tuple[Run, ...]
    levels: Mapping[str, Terms]
    calm_exact: bool  # its calm is the calm of the schedule, and not less


def build_model(
    shape: Shape,
    start: Schedule,
    goal: str,
    caps: Mapping[str, int],
    *,
    relaxed: bool = False,
) -> Model:
    """Build the model that searches one level from a known schedule.

    The start is a solution of the model. Where it makes use of every gram of ice, or lets a run follow another one
    without the soak that a third would need, the model may have solutions that the check does not pass. One that is
    relaxed is nowhere stricter than the check.

    Runs that the known schedule leaves out may be left out again; while it leaves none out, none may be.

    Equation: the limits of the problem; caps: value of a level <= its cap.
    Units: caps [the units of the level's terms]; returns a Model in min.
    Valid: a start that keeps every limit; goal and caps are names of levels.
    Errors: none.
    Source: own definition.
    """
    core = Core()
    site = Site(core, shape, relaxed, _followed(shape, start))
    placed = {run.job: run for run in start.runs}
    fixed_runs = {job.code for job in shape.problem.jobs if job.start_at_min is not None}
    all_placed = not start.unplaced
    never = _never(shape)
    runs = []
    for row in shape.rows:
        if row.job.code not in never:
            certain = all_placed or row.job.code in fixed_runs & placed.keys()
            runs.append(build_run(site, row, placed.get(row.job.code), certain=certain))
    _join(site, runs)
    site.close()
    site.order()
    levels: dict[str, Terms] = {}
    for name in [*caps, goal]:
        levels[name] = _terms(site, runs, name)
        if name in caps:
            core.cap(levels[name], caps[name])
    core.minimise(levels[goal])
    calm_exact = all(is_calm_exact(site, run) for run in runs)
    return Model(core, tuple(runs), levels, calm_exact=calm_exact)


def _never(shape: Shape) -> set[str]:
    """Runs that cannot be placed, with those that are reduced together with them."""
    now_min = shape.problem.now_min
    found = {row.job.code for row in shape.rows if not row.ways or row.job.is_held_too_early(now_min)}
    for join in shape.problem.joins:
        members = {join.host, *join.guests}
        found |= members if members & found else set()
    return found


def _terms(site: Site, runs: list[Run], name: str) -> Terms:
    if name == "unserved":
        return unserved_terms(runs)
    if name == "lateness":
        return lateness_terms(site.core, runs)
    return moved_terms(site, runs) if name == "moved" else calm_terms(site, runs)


def _join(site: Site, runs: list[Run]) -> None:
    """Guests pour over in the minute in which their host does."""
    by_code = {run.row.job.code: run for run in runs}
    for join in site.problem.joins:
        members = [by_code[code] for code in (join.host, *join.guests) if code in by_code]
        site.core.same([run.present for run in members])
        host = by_code.get(join.host)
        for guest in members[1:] if host is not None else []:
            _pour_together(site, host, guest)


def _pour_together(site: Site, host: Run | None, guest: Run) -> None:
    if host is None:
        return
    for flag, way in zip(host.ways, host.row.ways, strict=True):
        if way.option.pan is None:
            continue
        poured = host.points[way.slots[way.option.pan.pour_stage]]
        for other, theirs in zip(guest.ways, guest.row.ways, strict=True):
            site.core.same_time(poured, guest.points[theirs.slots[-1]], when=(flag, other))


def _followed(shape: Shape, start: Schedule) -> dict[tuple[str, int], str]:
    """Runs whose vessel is taken again, or out of order, before it would have been soaked; and what comes there."""
    group = {code: number for number, vessels in enumerate(shape.vessels) for code in vessels.codes}
    stays: dict[str, list[tuple[int, int, str]]] = {}
    for run in start.runs:
        stays.setdefault(run.pot, []).append((run.start_min, run.pot_free_min, run.job))
        if run.pan:
            stays.setdefault(run.pan, []).append((_poured_min(run), run.pan_free_min, run.job))
    for code, window in shape.problem.outages:
        stays.setdefault(code, []).append((window.start_min, window.end_min, OUT_OF_ORDER))
    followed = {}
    for code, each in stays.items():
        for (_, free, job), (begin, _, then) in pairwise(sorted(each)):
            if begin < free + shape.problem.soak_min and code in group:
                followed[job, group[code]] = then
    return followed


def _poured_min(run: PlacedRun) -> int:
    return next(stage.start_min for stage in run.stages if stage.name == POUR_OVER)
