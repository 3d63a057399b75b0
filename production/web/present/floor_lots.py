"""The lots of ingredients that a weighing on the floor may be taken from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from production.domain.sheets import BatchSheet
from production.web.present.floor_forms import FieldView
from production.web.present.floor_run import RunPage, StepView
from production.web.style import Style

if TYPE_CHECKING:
    from production.models import IngredientLot

_WEIGHED = frozenset({"charge_weighed", "addition_made"})


def with_lots(
    page: RunPage, *, sheet: BatchSheet, lots: Mapping[str, Sequence[IngredientLot]], style: Style
) -> RunPage:
    """The page of a run with the lots to choose from where something is weighed; first expired first."""
    names = {str(line.order): line.name for line in sheet.charge}

    def offered(steps: tuple[StepView, ...]) -> tuple[StepView, ...]:
        return tuple(_with_lots(each, lots.get(names.get(_order(each), ""), ()), style) for each in steps)

    return replace(page, steps=offered(page.steps), again=offered(page.again), skipped=offered(page.skipped))


def _order(step: StepView) -> str:
    return step.code.rpartition(".")[2]


def _with_lots(step: StepView, lots: Sequence[IngredientLot], style: Style) -> StepView:
    if step.form.kind not in _WEIGHED or not lots:
        return step
    options = [("", "not named"), *((each.code, _words(each, style)) for each in lots)]
    if len(lots) > 1:
        first, then = lots[0].code, lots[1].code
        options.append((f"{first} {then}", f"{first}, then {then}"))
    box = FieldView(
        name="lot",
        label="From lot",
        kind="choice",
        value=lots[0].code if len(lots) == 1 else "",
        options=tuple(options),
        required=False,
    )
    return replace(step, form=replace(step.form, fields=(*step.form.fields, box)))


def _words(lot: IngredientLot, style: Style) -> str:
    left = style.amount(float(lot.left_kg), "kg").text
    return f"{lot.code}, {left} left" + (f", use by {style.day(lot.use_by)}" if lot.use_by else "")
