"""Batches as jobs of the schedule, with their ways to cool; those that can never run, with the reason."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from production.domain.batches import Batch
from production.domain.cooling_capacity import cooling_choices
from production.domain.errors import OutOfRange
from production.domain.formula import Charge
from production.domain.plan.charges import Ends
from production.domain.plan.content import Unserved
from production.domain.plan.frame import Frame, up_min
from production.domain.plan.options import Choices, option_of
from production.domain.plan.refusals import boils_dry, no_cooling, no_supplier, refusal
from production.domain.schedule.problem import RunJob
from production.domain.sourcing import Portioned

Refused = list[tuple[Batch, Unserved]]


@dataclass(frozen=True, slots=True)
class Ready:
    """A job with the ways to cool its draws."""

    job: RunJob
    choices: Choices


def jobs_of(
    frame: Frame, batches: Iterable[Batch], charges: Mapping[str, tuple[Ends, ...]], sourced: Iterable[Portioned]
) -> tuple[dict[str, Ready], Refused]:
    """Batches as jobs of the schedule; those that can never run come back with the reason.

    Equation: a run needs a supplier for everything, a pot, and a way to cool each draw.
    Units: frame, batches, charges by run, sourced (records); returns records, times in min.
    Valid: batches of the frame's week.
    Errors: UnknownParameter.
    Source: own definition.
    """
    by_run: dict[str, list[Portioned]] = {}
    for part in sourced:
        by_run.setdefault(part.run, []).append(part)
    jobs: dict[str, Ready] = {}
    refused: Refused = []
    for batch in batches:
        made = _ready(frame, batch, charges[batch.code], by_run.get(batch.code, []))
        if isinstance(made, Ready):
            jobs[batch.code] = made
        else:
            refused.append((batch, made))
    return jobs, refused


def _ready(frame: Frame, batch: Batch, charges: tuple[Ends, ...], parts: list[Portioned]) -> Ready | Unserved:
    missing = next((part for part in parts if part.there_at is None), None)
    if missing is not None:
        return no_supplier(frame, batch, missing)
    if not charges:
        return boils_dry(frame, batch)
    choices = _choices(frame, batch, [charge for ends in charges for charge in ends])
    if not choices["first"] or (batch.reduction and not choices["reduction"]):
        return no_cooling(frame, batch, first=not choices["first"])
    try:
        return Ready(_job(frame, batch, charges, choices, parts), choices)
    except OutOfRange as error:  # a freezer that cannot freeze
        return refusal(batch, "storage", batch.first_l, "L", error.sentence, error.remedy)


def _choices(frame: Frame, batch: Batch, charges: list[Charge]) -> Choices:
    """Ways to cool each draw of a batch, for the largest mass any of its pots gives."""
    first = max((charge.first for charge in charges), key=lambda draw: draw.cold_l)
    reductions = [charge.reduction for charge in charges if charge.reduction is not None]
    largest = max(reductions, key=lambda each: each.litres, default=None)
    return {
        "first": cooling_choices(
            week=frame.week,
            parameters=frame.parameters,
            litres=batch.first_l,
            density_kg_m3=1000.0 * first.mass_kg / first.cold_l,
            start_c=first.hot_c,
            glaze=False,
        ),
        "reduction": ()
        if largest is None
        else cooling_choices(
            week=frame.week,
            parameters=frame.parameters,
            litres=largest.litres,
            density_kg_m3=1000.0 * largest.mass_kg / largest.litres,
            start_c=charges[0].boil_c,
            glaze=True,
        ),
    }


def _job(frame: Frame, batch: Batch, charges: tuple[Ends, ...], choices: Choices, parts: list[Portioned]) -> RunJob:
    ingredients = {each.code: each for each in frame.week.ingredients}
    allergens = {name for item in charges[0][0].items for name in ingredients[item.ingredient].allergens}
    there = [part.there_at for part in parts if part.there_at is not None]
    return RunJob(
        code=batch.code,
        formula=batch.formula,
        allergens=frozenset(allergens),
        options=tuple(option_of(frame, batch, ends, choices) for ends in charges),
        release_min=up_min(frame.minute(max([frame.week.plan_from, *there]))),
    )
