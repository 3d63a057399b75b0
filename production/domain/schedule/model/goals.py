"""The levels of the objective as sums over the variables of a model."""

from __future__ import annotations

from production.domain.schedule.calendar import closed_spans
from production.domain.schedule.cpsat import Core, Flag, Span, Time, fixed
from production.domain.schedule.levels import MOVED, OTHER_POT, unserved_of
from production.domain.schedule.model.runs import Run
from production.domain.schedule.model.site import Site
from production.domain.schedule.problem import Draw, Problem
from production.domain.schedule.result import Schedule

PARTS = 1_000_000  # weights and shares are counted in millionths, cut off, so that a bound never claims too much
Terms = list[tuple[Time | Flag, int]]


def unserved_terms(runs: list[Run]) -> Terms:
    """What the runs left out are worth.

    Equation: sum of worth x (1 - present).
    Units: returns [millionths of a weighted share].
    Valid: runs of one model.
    Errors: none.
    Source: own definition.
    """
    terms: Terms = []
    for run in runs:
        if not run.certain:
            worth = int(unserved_of(run.row.job) * PARTS)
            terms += [(run.present, -worth), (fixed(1), worth)]
    return terms


def lateness_terms(core: Core, runs: list[Run]) -> Terms:
    """Weighted minutes late.

    Equation: sum of weight x share x max(0, ready - due).
    Units: returns [millionths of a weighted min].
    Valid: runs of one model.
    Errors: none.
    Source: own definition.
    """
    terms: Terms = []
    for run in runs:
        for cooled in run.cooled:
            for minute, weight in sorted(_weights(cooled.draw).items()):
                if cooled.ready.high > minute:
                    when = () if run.certain and cooled.flag is run.present else (cooled.flag,)
                    terms.append((core.late(cooled.ready, minute, when=when), int(weight * PARTS)))
    return terms


def moved_terms(site: Site, runs: list[Run]) -> Terms:
    """How far runs are from where they were.

    Equation: 50 x moved + 30 x other pot + hours of shift.
    Units: returns [sixtieths of a point].
    Valid: runs of one model; a pot that a run was in is a group of its own.
    Errors: none.
    Source: own definition.
    """
    terms: Terms = []
    for run in runs:
        if run.row.job.was is not None:
            terms += _moved(site, run, run.row.job.was.pot, run.row.job.was.start_min)
    return terms


def _moved(site: Site, run: Run, pot: str, was_min: int) -> Terms:
    core, start = site.core, run.points[0]
    here = [flag for flag, way in zip(run.ways, run.row.ways, strict=True) if pot in site.shape.vessels[way.pot].codes]
    shift = core.apart(start, was_min, when=run.when)
    terms: Terms = [(shift, 1), (run.present, 60 * (MOVED + OTHER_POT))]
    if here:
        in_pot = core.any_of(here)
        at = start.hint == was_min and core.is_hinted(in_pot)
        stays = core.flag(hint=None if start.hint is None else at)
        core.same_time(start, fixed(was_min), when=(stays,))
        core.implies(stays, in_pot)
        terms += [(in_pot, -60 * OTHER_POT), (stays, -60 * MOVED)]
    return terms


def calm_terms(site: Site, runs: list[Run]) -> Terms:
    """Ends of the chains, and their minutes with nobody on site.

    Equation: sum of (end - now) + closed time before the end - closed time before the start; a chain starts and ends
        in staffed time, in which the closed time so far does not change.
    Units: returns [min].
    Valid: runs of one model.
    Errors: none.
    Source: own definition.
    """
    steps = _closed_so_far(site)
    terms: Terms = []
    for run in runs:
        start, end = run.points[0], run.points[-1]
        terms += [(end, 1), (run.present, -site.problem.now_min)]
        if is_calm_exact(site, run) and len(steps) > 1 and end.high > site.problem.now_min:
            terms.append((site.core.stepped(end, steps), 1))
            if start.low >= site.problem.now_min:
                terms.append((site.core.stepped(start, steps), -1))
    return terms


def is_calm_exact(site: Site, run: Run) -> bool:
    """Whether the minutes of a run with nobody on site are counted in the model.

    Equation: the run cannot be left out, and starts and ends in staffed time.
    Units: no quantities.
    Valid: any run of the site's model.
    Errors: none.
    Source: own definition.
    """
    return run.certain and run.is_staffed_at_both_ends(site.problem)


def _closed_so_far(site: Site) -> list[tuple[Span, int]]:
    closed, steps = 0, []
    waiting = list(closed_spans(site.problem))
    for first, last in site.spans:
        while waiting and waiting[0][0] < first:
            start, end = waiting.pop(0)
            closed += end - start
        steps.append(((first, last), closed))
    return steps


def unserved_parts(problem: Problem, schedule: Schedule) -> int:
    """The unserved level of a schedule as a model counts it.

    Equation: sum of the worth of the runs left out.
    Units: returns [millionths of a weighted share].
    Valid: a schedule of this problem.
    Errors: none.
    Source: own definition.
    """
    left_out = {item.job for item in schedule.unplaced}
    return sum(int(unserved_of(job) * PARTS) for job in problem.jobs if job.code in left_out)


def lateness_parts(problem: Problem, schedule: Schedule) -> int:
    """The lateness of a schedule as a model counts it.

    Equation: sum of weight x share x max(0, ready - due).
    Units: returns [millionths of a weighted min].
    Valid: a schedule of this problem.
    Errors: none.
    Source: own definition.
    """
    jobs = {job.code: job for job in problem.jobs}
    total = 0
    for run in schedule.runs:
        draws = {draw.name: draw for draw in jobs[run.job].options[run.option].draws}
        for cooling in run.coolings:
            for minute, weight in _weights(draws[cooling.draw]).items():
                total += int(weight * PARTS) * max(0, cooling.ready_min - minute)
    return total


def _weights(draw: Draw) -> dict[int, float]:
    """Weight of what waits for a draw, by dispatch."""
    weights: dict[int, float] = {}
    for due in draw.dues:
        weights[due.minute] = weights.get(due.minute, 0.0) + due.weight * due.share
    return weights
