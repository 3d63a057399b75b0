"""A whole model: its runs, what joins them, the kitchen, and the levels that are kept or searched."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

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
from production.domain.schedule.model.site import Site
from production.domain.schedule.problem import Problem
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
    site = Site(core, shape, relaxed, _followed(shape.problem, start))
    placed = {run.job: run for run in start.runs}
    fixed_runs = {job.code for job in shape.problem.jobs if job.start_at_min is not None}
    all_placed = not start.unplaced
    runs = tuple(
        build_run(site, row, placed.get(row.job.code), certain=all_placed or row.job.code in fixed_runs & placed.keys())
        for row in shape.rows
        if row.ways
    )
    _join(site, runs)
    site.close()
    site.order()
    levels: dict[str, Terms] = {}
    for name in [*caps, goal]:
        levels[name] = _terms(site, list(runs), name)
        if name in caps:
            core.cap(levels[name], caps[name])
    core.minimise(levels[goal])
    calm_exact = all(is_calm_exact(site, run) for run in runs)
    return Model(core, runs, levels, calm_exact=calm_exact)


def _terms(site: Site, runs: list[Run], name: str) -> Terms:
    if name == "unserved":
        return unserved_terms(runs)
    if name == "lateness":
        return lateness_terms(site.core, runs)
    return moved_terms(site, runs) if name == "moved" else calm_terms(site, runs)


def _join(site: Site, runs: tuple[Run, ...]) -> None:
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


def _followed(problem: Problem, start: Schedule) -> frozenset[str]:
    """Runs whose vessel is taken again, or out of order, before it would have been soaked."""
    taken: dict[str, list[int]] = {}
    for run in start.runs:
        taken.setdefault(run.pot, []).append(run.start_min)
        if run.pan:
            taken.setdefault(run.pan, []).append(_poured_min(run))
    for code, window in problem.outages:
        taken.setdefault(code, []).append(window.start_min)
    soak = problem.soak_min
    return frozenset(
        run.job
        for run in start.runs
        if any(run.pot_free_min <= minute < run.pot_free_min + soak for minute in taken[run.pot])
        or any(run.pan_free_min <= minute < run.pan_free_min + soak for minute in taken.get(run.pan, []))
    )


def _poured_min(run: PlacedRun) -> int:
    return next(stage.start_min for stage in run.stages if stage.name == POUR_OVER)
