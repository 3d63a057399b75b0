"""Why a run is late, unplaced, or where it is: one resource at a time is taken as unlimited and the run is tried again.

All other runs stay where they are, so the answer is about the plan at hand, not about the best plan there could be.
Runs that are reduced together are tried together.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TypeVar

from production.domain.schedule.book import (
    COOKS,
    COOLING,
    HEAT,
    HOURS,
    ICE,
    INGREDIENTS,
    MICRO,
    POTS,
    SHELF_LIFE,
    STORAGE,
    TRAYS,
    Book,
    Ease,
    shape_of,
)
from production.domain.schedule.here import why_here
from production.domain.schedule.problem import Problem, RunJob
from production.domain.schedule.result import Late, PlacedRun, Schedule, Unplaced
from production.domain.schedule.spelling import spell_minutes
from production.domain.schedule.together import Group, best_group, groups_of

T = TypeVar("T")
ROUND_THE_CLOCK_H = 8.0  # shifts longer by so much at both ends are no longer shifts (own choice)
TIME, SEVERAL, STOPPED = "time", "several", "stopped"


_MOST_LATE_H = {True: 0.0, False: math.inf}  # of a run that has to be on time, and of any other


@dataclass(frozen=True, slots=True)
class _Words:
    """How a resource is spoken of: "with {more} …", "{enough}", the unit of what is missing, and what to do."""

    more: str
    unit: str
    remedy: str
    grain: int = 0  # smallest step in which more of it is counted, in booked units; 0 where it is not an amount
    per_unit: int = 1  # booked units in the unit
    enough: str = "{amount} more would be enough"


# In this order, the easier thing to change first: where several would each help, the first is named.
RESOURCES: dict[str, _Words] = {
    ICE: _Words(
        more="more ice at the draw-off",
        unit="kg",
        remedy="Buy or store ice before the draw-off, or cool this draw without ice.",
        grain=MICRO // 10,
        per_unit=MICRO,
    ),
    TRAYS: _Words(more="more cube trays", unit="trays", remedy="Add cube trays, or freeze a smaller share.", grain=1),
    COOLING: _Words(
        more="more places in the cooling devices",
        unit="places",
        remedy="Add cooling places, split the draw over other devices, or make a smaller run.",
        grain=1,
    ),
    STORAGE: _Words(
        more="more room in the store",
        unit="l",
        remedy="Clear room in the store, or make the product closer to its dispatch.",
        grain=MICRO // 10,
        per_unit=MICRO,
    ),
    COOKS: _Words(
        more="more hands on duty", unit="cooks", remedy="Put another cook on duty at the draw-offs.", grain=1
    ),
    HEAT: _Words(
        more="a larger heat supply",
        unit="kW",
        remedy="Use a pot on another heat supply, or let another run heat up at another hour.",
        grain=MICRO // 10,
        per_unit=MICRO,
    ),
    POTS: _Words(more="another pot free", unit="pots", remedy="Free a pot that suits this run, or take a smaller run."),
    HOURS: _Words(
        more="longer shifts",
        unit="h",
        remedy="Begin earlier or stay later, or let a simmer run unattended where the kitchen's rules allow it.",
        grain=5,
        per_unit=60,
        enough="{amount} more at both ends of every shift would be enough",
    ),
    INGREDIENTS: _Words(
        more="its ingredients there earlier",
        unit="h",
        remedy="Have the ingredients delivered earlier.",
        grain=5,
        per_unit=60,
        enough="{amount} earlier would be enough",
    ),
    SHELF_LIFE: _Words(
        more="a longer shelf life",
        unit="h",
        remedy="Freeze the product, or plan the run closer to its dispatch.",
        grain=5,
        per_unit=60,
    ),
}

EVERYTHING = Ease(frozenset(RESOURCES))


@dataclass(frozen=True, slots=True)
class _Cause:
    resource: str
    missing: float
    unit: str
    sentence: str
    remedy: str


_NOT_ASKED = _Cause(
    resource=STOPPED,
    missing=0.0,
    unit="",
    sentence="There was no time left to look for its reason.",
    remedy="See what its run waits for, or plan again.",
)


def explained(problem: Problem, schedule: Schedule, *, enough: Callable[[], bool] = lambda: False) -> Schedule:
    """Say of a schedule why runs are left out, why dispatches are late, and why each run is where it is.

    Equation: no computation of its own; the schedule's runs are booked, and each is asked about with all others in
        place, those that are left out first, then those that are late. Once `enough` says so, the others are told
        without their reason.
    Units: problem, schedule (records), enough (asked before each run); returns the schedule with its sentences.
    Valid: a schedule that passes the check, from any scheduler.
    Errors: none.
    Source: own definition.
    """
    book = Book(problem, shape_of(problem, schedule.runs))
    jobs = {job.code: job for job in problem.jobs}
    placed = {run.job: run for run in schedule.runs}
    groups = groups_of(problem)
    for run in schedule.runs:
        book.take_run(jobs[run.job], run, 1)
    unplaced = tuple(_why_unplaced(book, schedule.unplaced, groups, enough))
    standing = list(dict.fromkeys(groups[run.job] for run in schedule.runs))
    late: list[Late] = []
    here: dict[str, str] = {}
    for group in standing:
        late += _asked(book, group, placed, lambda group: _why_late(book, group, placed, enough))
    for group in standing:
        if not enough():
            here |= _asked(book, group, placed, lambda group: why_here(book, group, placed))
    return replace(
        schedule,
        runs=tuple(replace(run, why_here=here.get(run.job, "")) for run in schedule.runs),
        unplaced=unplaced,
        late=tuple(sorted(late, key=lambda item: (item.due_min, item.label, item.job))),
    )


def _asked(book: Book, group: Group, placed: Mapping[str, PlacedRun], ask: Callable[[Group], T]) -> T:
    """The answer about a group that is taken out of the book while it is asked about."""
    _take(book, group, placed, -1)
    answer = ask(group)
    _take(book, group, placed, 1)
    return answer


def _take(book: Book, group: Group, placed: Mapping[str, PlacedRun], sign: int) -> None:
    for job in group.jobs:
        if job.code in placed:
            book.take_run(job, placed[job.code], sign)


def _why_unplaced(
    book: Book, unplaced: Iterable[Unplaced], groups: Mapping[str, Group], enough: Callable[[], bool]
) -> Iterator[Unplaced]:
    """Name the resource without which each run found no time, and how much of it is missing; once for a group."""
    causes: dict[Group, _Cause] = {}
    for item in unplaced:
        group = groups[item.job]
        if item.resource == STOPPED or (group not in causes and enough()):
            yield item
            continue
        if group not in causes:
            causes[group] = _cause_of_absence(book, group)
        cause = causes[group]
        yield Unplaced(
            job=item.job,
            resource=cause.resource,
            missing=cause.missing,
            unit=cause.unit,
            sentence=cause.sentence,
            remedy=cause.remedy,
        )


def _cause_of_absence(book: Book, group: Group) -> _Cause:
    cause = _structural(book, group) or _single_cause(book, group, on_time=False)
    if cause is not None:
        return cause
    whole = best_group(book, group, ease=EVERYTHING)
    return _no_time(book, group) if whole is None else _several(book, group, on_time=False)


def left_out(job: RunJob, *, tried: bool) -> Unplaced:
    """A run that is left out, its reason not looked for yet; or planning was stopped before it was tried.

    Equation: no computation.
    Units: no quantities.
    Valid: any run.
    Errors: none.
    Source: own definition.
    """
    return Unplaced(
        job=job.code,
        resource=SEVERAL if tried else STOPPED,
        missing=0.0,
        unit="",
        sentence="No time was found for it." if tried else "Planning was stopped before this run was tried.",
        remedy="Plan again with more time." if tried else "Plan again and let it finish.",
    )


def is_scarce(resource: str, remedy: str) -> bool:
    """Whether a run was left out because others have what it needs, not because the kitchen has nothing of the kind.

    Equation: a resource that runs share, named as the one thing of which more would do.
    Units: no quantities; resource, remedy (words of an Unplaced).
    Valid: what explained tells.
    Errors: none.
    Source: own definition.
    """
    shared = resource in RESOURCES and resource not in (HOURS, INGREDIENTS, SHELF_LIFE)
    return shared and remedy.startswith(RESOURCES[resource].remedy)


def _why_late(book: Book, group: Group, placed: Mapping[str, PlacedRun], enough: Callable[[], bool]) -> list[Late]:
    """The dispatches that the runs of a group miss, with the resource that holds them up."""
    missed = [
        (job.code, due, cooling.ready_min)
        for job in group.jobs
        if job.code in placed
        for draw, cooling in zip(job.options[placed[job.code].option].draws, placed[job.code].coolings, strict=True)
        for due in draw.dues
        if cooling.ready_min > due.minute
    ]
    if not missed:
        return []
    cause = _NOT_ASKED if enough() else _single_cause(book, group, on_time=True) or _late_anyway(book, group)
    return [
        Late(
            job=code,
            label=due.label,
            due_min=due.minute,
            ready_min=ready_min,
            resource=cause.resource,
            sentence=" ".join(
                [f"Ready {spell_minutes(ready_min - due.minute)} after its dispatch.", cause.sentence, cause.remedy]
            ),
            missing=cause.missing,
            unit=cause.unit,
        )
        for code, due, ready_min in missed
    ]


def _structural(book: Book, group: Group) -> _Cause | None:
    """What is wrong before anything is weighed: nobody on duty, no pot, or no way to cool."""
    if not any(window.amount > 0 for window in book.problem.cooks):
        return _Cause(COOKS, 1.0, "cooks", "Nobody is on duty in this plan.", "Enter the shifts of the kitchen.")
    if not all(job.options for job in group.jobs):
        return _Cause(
            POTS,
            1.0,
            "pots",
            "No pot suits this run.",
            "Allow the formula in another pot, or change the size of the run.",
        )
    for job in group.jobs:
        draws = [next((draw for draw in option.draws if not draw.modes), None) for option in job.options]
        uncooled = [draw for draw in draws if draw is not None]
        if len(uncooled) == len(job.options):
            return _Cause(
                COOLING,
                1.0,
                "places",
                f"No way to cool the {uncooled[0].name} draw through its limits in time is known.",
                "Make a smaller run, or set up a cooling device that can take the volume.",
            )
    return None


def _single_cause(book: Book, group: Group, *, on_time: bool) -> _Cause | None:
    """The first resource that alone stands in the way; or that nothing does, as the other runs stand."""
    if best_group(book, group, most_late_h=_MOST_LATE_H[on_time]) is not None:
        return _Cause(
            TIME,
            0.0,
            "h",
            "As the other runs stand now, there is room for it.",
            "Plan again, with more time for planning.",
        )
    used = _used_by(book, group)
    helps = [
        resource
        for resource in RESOURCES
        if resource in used
        and best_group(book, group, ease=Ease(frozenset([resource])), most_late_h=_MOST_LATE_H[on_time]) is not None
    ]
    if not helps:
        return None
    resource = helps[0]
    words = RESOURCES[resource]
    missing = _missing(book, group, resource, on_time=on_time)
    would = "be on time" if on_time else "be placed"
    enough = words.enough.format(amount=_spell_amount(missing, words.unit))
    if resource == HOURS and missing >= ROUND_THE_CLOCK_H:
        enough = "somebody there day and night would be enough"
    sentence = f"With {words.more} it could {would}: {enough}."
    others = [RESOURCES[name].more for name in helps[1:]]
    remedy = f"{words.remedy} It would also help to have {' or '.join(others)}." if others else words.remedy
    return _Cause(resource, missing, words.unit, sentence, remedy)


def _used_by(book: Book, group: Group) -> set[str]:
    """Resources that the runs of a group use at all: more of any other cannot help, and need not be tried."""
    used = {COOKS, HEAT, POTS, HOURS, COOLING}
    for job in group.jobs:
        draws = [draw for option in job.options for draw in option.draws]
        used |= {ICE} if any(mode.ice_kg for draw in draws for mode in draw.modes) else set()
        used |= {TRAYS} if any(draw.trays for draw in draws) else set()
        used |= {STORAGE} if any(draw.keep for draw in draws) else set()
        used |= {SHELF_LIFE} if any(draw.not_before_min > book.problem.now_min for draw in draws) else set()
        used |= {INGREDIENTS} if job.release_min > book.problem.now_min else set()
    return used


def _spell_amount(amount: float, unit: str) -> str:
    if unit == "h":
        return spell_minutes(round(amount * 60))
    return f"{amount:g} {unit.removesuffix('s') if amount == 1 else unit}"


def _missing(book: Book, group: Group, resource: str, *, on_time: bool) -> float:
    """How much more of the resource would do."""
    words = RESOURCES[resource]
    if not words.grain:
        return 1.0

    def enough(grains: int) -> bool:
        ease = Ease(frozenset([resource]), grains * words.grain)
        return best_group(book, group, ease=ease, most_late_h=_MOST_LATE_H[on_time]) is not None

    return round(_least(enough) * words.grain / words.per_unit, 2)


def _least(enough: Callable[[int], bool]) -> int:
    """The smallest whole number that is enough, by doubling and halving; a larger one is never worse."""
    high = 1
    while not enough(high):
        high *= 2
    low = high // 2
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def _no_time(book: Book, group: Group) -> _Cause:
    """Even with everything free the chain does not fit between now and the horizon."""
    problem = book.problem
    needs = max(
        min(sum(stage.shortest_min for stage in option.stages) + option.wash_min for option in job.options)
        for job in group.jobs
    )
    left = problem.horizon_min - problem.now_min
    return _Cause(
        TIME,
        round(max(0, needs - left) / 60, 2),
        "h",
        f"Even an empty kitchen could not finish it: it takes at least {spell_minutes(needs)}, and the plan has "
        f"{spell_minutes(left)}.",
        "Plan more days ahead, or correct the times of the formula.",
    )


def _several(book: Book, group: Group, *, on_time: bool) -> _Cause:
    """Resources that only help together: none of them can be left out."""
    needed = list(RESOURCES)
    for resource in reversed(RESOURCES):
        fewer = [name for name in needed if name != resource]
        if best_group(book, group, ease=Ease(frozenset(fewer)), most_late_h=_MOST_LATE_H[on_time]) is not None:
            needed = fewer
    return _Cause(
        SEVERAL,
        0.0,
        "",
        f"Nothing helps alone: it would take {' and '.join(RESOURCES[name].more for name in needed)}.",
        "Move another run out of the way, or change all of these.",
    )


def _late_anyway(book: Book, group: Group) -> _Cause:
    """No single resource makes the run on time: too late for anything, or several limits together."""
    if best_group(book, group, ease=EVERYTHING, most_late_h=0.0) is not None:
        return _several(book, group, on_time=True)
    return _Cause(
        TIME,
        0.0,
        "h",
        "Even an empty kitchen could not have it ready in time.",
        "Agree on a later dispatch, or take the product from stock.",
    )
