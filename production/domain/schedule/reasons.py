"""Why a run is late, unplaced, or where it is: one resource at a time is taken as unlimited and the run is tried again.

All other runs stay where they are, so the answer is about the plan at hand, not about the best plan there could be.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

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
)
from production.domain.schedule.placement import best_placement
from production.domain.schedule.problem import RunJob
from production.domain.schedule.result import Late, PlacedRun, Unplaced

TIME, SEVERAL, STOPPED = "time", "several", "stopped"


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
        grain=1,
        per_unit=60,
        enough="{amount} more at both ends of every shift would be enough",
    ),
    INGREDIENTS: _Words(
        more="its ingredients there earlier",
        unit="h",
        remedy="Have the ingredients delivered earlier.",
        grain=1,
        per_unit=60,
        enough="{amount} earlier would be enough",
    ),
    SHELF_LIFE: _Words(
        more="a longer shelf life",
        unit="h",
        remedy="Freeze the product, or plan the run closer to its dispatch.",
        grain=1,
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


def spell_minutes(minutes: int) -> str:
    """Spell a length of time the way a kitchen says it.

    Equation: whole hours and the rest in minutes.
    Units: minutes [min]; no quantity is returned.
    Valid: zero or more.
    Errors: none.
    Source: own definition.
    """
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def why_unplaced(book: Book, job: RunJob) -> Unplaced:
    """Name the resource without which a run found no time, and how much of it is missing.

    Equation: first resource which, taken as unlimited, lets the run be placed; the least amount of it that still does.
    Units: no quantities.
    Valid: a run that the book cannot place.
    Errors: none.
    Source: own definition.
    """
    cause = _structural(book, job) or _single_cause(book, job, on_time=False)
    if cause is None:
        whole = best_placement(book, job, ease=EVERYTHING)
        cause = _no_time(book, job) if whole is None else _several(book, job, on_time=False)
    return Unplaced(
        job=job.code,
        resource=cause.resource,
        missing=cause.missing,
        unit=cause.unit,
        sentence=cause.sentence,
        remedy=cause.remedy,
    )


def stopped(job: RunJob) -> Unplaced:
    """Say that planning was stopped before a run was tried.

    Equation: no computation.
    Units: no quantities.
    Valid: any run.
    Errors: none.
    Source: own definition.
    """
    return Unplaced(
        job=job.code,
        resource=STOPPED,
        missing=0.0,
        unit="",
        sentence="Planning was stopped before this run was tried.",
        remedy="Plan again and let it finish.",
    )


def why_late(book: Book, job: RunJob, run: PlacedRun) -> tuple[Late, ...]:
    """List the dispatches that a placed run misses, with the resource that holds it up.

    Equation: as for an unplaced run, asking for a placement that meets every dispatch.
    Units: no quantities.
    Valid: a run that is placed in the book.
    Errors: none.
    Source: own definition.
    """
    draws = job.options[run.option].draws
    missed = [
        (due, cooling.ready_min)
        for draw, cooling in zip(draws, run.coolings, strict=True)
        for due in draw.dues
        if cooling.ready_min > due.minute
    ]
    if not missed:
        return ()
    book.take_run(job, run, -1)
    cause = _single_cause(book, job, on_time=True) or _late_anyway(book, job)
    book.take_run(job, run, 1)
    return tuple(
        Late(
            job=job.code,
            label=due.label,
            due_min=due.minute,
            ready_min=ready_min,
            resource=cause.resource,
            sentence=" ".join(
                [f"Ready {spell_minutes(ready_min - due.minute)} after its dispatch.", cause.sentence, cause.remedy]
            ),
        )
        for due, ready_min in missed
    )


def why_here(book: Book, job: RunJob, run: PlacedRun) -> str:
    """Say in one sentence what keeps a placed run from ending earlier in its pot.

    Equation: the resource which, taken as unlimited, lets the run end earliest; the night only if nothing else does.
    Units: no quantities.
    Valid: a run that is placed in the book.
    Errors: none.
    Source: own definition.
    """
    book.take_run(job, run, -1)
    gain = _gain(book, job, run, EVERYTHING)
    gains = {name: _gain(book, job, run, Ease(frozenset([name]))) for name in RESOURCES} if gain > 0 else {}
    book.take_run(job, run, 1)
    if gain <= 0:
        return f"{run.pot} starts as soon as this plan may begin."
    singles = [resource for resource in RESOURCES if gains[resource] > 0]
    if not singles:
        return f"Several limits together hold it; without them it could end {spell_minutes(gain)} earlier."
    most = max(singles, key=lambda resource: (resource != HOURS, gains[resource]))
    return f"With {RESOURCES[most].more} it could end {spell_minutes(gains[most])} earlier in {run.pot}."


def _gain(book: Book, job: RunJob, run: PlacedRun, ease: Ease) -> int:
    """Minutes by which the run could end earlier in its pot with the ease."""
    found = best_placement(book, job, ease=ease, only_option=run.option)
    return run.stages[-1].end_min - found.run.stages[-1].end_min if found else 0


def _structural(book: Book, job: RunJob) -> _Cause | None:
    """What is wrong before anything is weighed: nobody on duty, no pot, or no way to cool."""
    if not book.staffed.any():
        return _Cause(COOKS, 1.0, "cooks", "Nobody is on duty in this plan.", "Enter the shifts of the kitchen.")
    if not job.options:
        return _Cause(
            POTS,
            1.0,
            "pots",
            "No pot suits this run.",
            "Allow the formula in another pot, or change the size of the run.",
        )
    draws = [next((draw for draw in option.draws if not draw.modes), None) for option in job.options]
    uncooled = [draw for draw in draws if draw is not None]
    if len(uncooled) < len(job.options):
        return None
    return _Cause(
        COOLING,
        1.0,
        "places",
        f"No way to cool the {uncooled[0].name} draw through its limits in time is known.",
        "Make a smaller run, or set up a cooling device that can take the volume.",
    )


def _single_cause(book: Book, job: RunJob, *, on_time: bool) -> _Cause | None:
    """The first resource that alone stands in the way."""
    helps = [
        resource
        for resource in RESOURCES
        if best_placement(book, job, ease=Ease(frozenset([resource])), must_be_on_time=on_time) is not None
    ]
    if not helps:
        return None
    resource = helps[0]
    words = RESOURCES[resource]
    missing = _missing(book, job, resource, on_time=on_time)
    would = "be on time" if on_time else "be placed"
    sentence = f"With {words.more} it could {would}: {words.enough.format(amount=_spell_amount(missing, words.unit))}."
    others = [RESOURCES[name].more for name in helps[1:]]
    remedy = f"{words.remedy} It would also help to have {' or '.join(others)}." if others else words.remedy
    return _Cause(resource, missing, words.unit, sentence, remedy)


def _spell_amount(amount: float, unit: str) -> str:
    if unit == "h":
        return spell_minutes(round(amount * 60))
    return f"{amount:g} {unit.removesuffix('s') if amount == 1 else unit}"


def _missing(book: Book, job: RunJob, resource: str, *, on_time: bool) -> float:
    """How much more of the resource would do."""
    words = RESOURCES[resource]
    if not words.grain:
        return 1.0

    def enough(grains: int) -> bool:
        ease = Ease(frozenset([resource]), grains * words.grain)
        return best_placement(book, job, ease=ease, must_be_on_time=on_time) is not None

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


def _no_time(book: Book, job: RunJob) -> _Cause:
    """Even with everything free the chain does not fit between now and the horizon."""
    problem = book.problem
    needs = min(sum(stage.shortest_min for stage in option.stages) + option.wash_min for option in job.options)
    left = problem.horizon_min - problem.now_min
    return _Cause(
        TIME,
        round(max(0, needs - left) / 60, 2),
        "h",
        f"Even an empty kitchen could not finish it: it takes at least {spell_minutes(needs)}, and the plan has "
        f"{spell_minutes(left)}.",
        "Plan more days ahead, or correct the times of the formula.",
    )


def _several(book: Book, job: RunJob, *, on_time: bool) -> _Cause:
    """Resources that only help together: none of them can be left out."""
    needed = list(RESOURCES)
    for resource in reversed(RESOURCES):
        fewer = [name for name in needed if name != resource]
        if best_placement(book, job, ease=Ease(frozenset(fewer)), must_be_on_time=on_time) is not None:
            needed = fewer
    return _Cause(
        SEVERAL,
        0.0,
        "",
        f"Nothing helps alone: it would take {' and '.join(RESOURCES[name].more for name in needed)}.",
        "Move another run out of the way, or change all of these.",
    )


def _late_anyway(book: Book, job: RunJob) -> _Cause:
    """No single resource makes the run on time: too late for anything, or several limits together."""
    if best_placement(book, job, ease=EVERYTHING, must_be_on_time=True) is not None:
        return _several(book, job, on_time=True)
    return _Cause(
        TIME,
        0.0,
        "h",
        "Even an empty kitchen could not have it ready in time.",
        "Agree on a later dispatch, or take the product from stock.",
    )
