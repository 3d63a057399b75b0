"""Why a run cannot be made at all; the order lines are filled in later."""

from __future__ import annotations

from production.domain.batches import Batch
from production.domain.plan.content import Unserved
from production.domain.plan.frame import Frame
from production.domain.sourcing import Portioned


def refusal(batch: Batch, resource: str, missing: float, unit: str, sentence: str, remedy: str) -> Unserved:
    """A reason in the form that every order line of the run will get.

    Equation: the sentence behind the run's code.
    Units: batch (record), missing [unit], resource, unit, sentence, remedy (words); returns a record.
    Valid: any run.
    Errors: none.
    Source: own definition.
    """
    return Unserved(
        line="",
        product="",
        containers=0,
        resource=resource,
        missing=missing,
        unit=unit,
        sentence=f"Run {batch.code}: {sentence}",
        remedy=remedy,
    )


def no_supplier(frame: Frame, batch: Batch, missing: Portioned) -> Unserved:
    """An ingredient is missing and nobody offers it.

    Equation: what is missing is what would have to be bought.
    Units: frame, batch, missing (records; [kg]); returns a record.
    Valid: ingredients without a delivery.
    Errors: none.
    Source: own definition.
    """
    name = frame.week.get("ingredients", missing.ingredient).name
    return refusal(
        batch,
        "ingredients",
        missing.to_buy_kg,
        "kg",
        f"{missing.to_buy_kg:.1f} kg of {name} are missing and no supplier offers it.",
        f"Enter a supplier for {name}, or let another ingredient fill its role.",
    )


def boils_dry(frame: Frame, batch: Batch) -> Unserved:
    """No pot is left that makes the run.

    Equation: what is missing are the litres of the first draw.
    Units: frame, batch (records; [L]); returns a record.
    Valid: runs without a charge.
    Errors: none.
    Source: own definition.
    """
    return refusal(
        batch,
        "pots",
        batch.first_l,
        "L",
        f"no pot makes {batch.first_l:.1f} L of {frame.formulas[batch.formula].name} with what the formula asks for.",
        "Allow a larger pot, keep the lid on, or shorten the simmer.",
    )


def no_cooling(frame: Frame, batch: Batch, *, first: bool) -> Unserved:
    """No device brings a draw through the limits.

    Equation: what is missing are the litres of the draw.
    Units: frame, batch (records; [L]), first (yes or no); returns a record.
    Valid: draws without a way to cool them.
    Errors: none.
    Source: own definition.
    """
    litres = batch.first_l if first else batch.reduction_l
    what = "" if first else "reduction of "
    return refusal(
        batch,
        "cooling",
        litres,
        "L",
        f"no cooling device takes {litres:.1f} L of {what}{frame.formulas[batch.formula].name} through the limits.",
        "Add an ice sink or a blast chiller, or shallower vessels.",
    )


def no_pan(batch: Batch, litres: float) -> Unserved:
    """Containers that are left over when the runs of a pool have to reduce each by itself.

    Equation: what is missing are the litres of the containers.
    Units: batch (record), litres [L]; returns a record.
    Valid: hosts of a pool.
    Errors: none.
    Source: own definition.
    """
    return refusal(
        batch,
        "pots",
        litres,
        "L",
        f"{litres:.1f} L of reduction would need the second draws poured together, and the pan has no time for it.",
        "Keep the reduction pan free for longer, or add a run.",
    )
