"""The bank of saved bones as the page shows it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from production.web.present.lots import days_left
from production.web.style import Amount, Style

if TYPE_CHECKING:
    from production.models import Bones


@dataclass(frozen=True, slots=True, kw_only=True)
class BonesRow:
    """One entry of the bank."""

    code: str
    name: str
    left: Amount
    saved: Amount
    is_part: bool
    saved_on: str
    use_by: str
    days: str
    is_past: bool
    where: str


def bones_row(*, bones: Bones, style: Style) -> BonesRow:
    """An entry as one line."""
    today = style.day_of(style.now)
    return BonesRow(
        code=bones.code,
        name=bones.ingredient.name,
        left=style.amount(float(bones.left_kg), "kg"),
        saved=style.amount(float(bones.mass_kg), "kg"),
        is_part=bones.left_kg != bones.mass_kg,
        saved_on=style.day(bones.saved_on),
        use_by=style.day(bones.use_by),
        days=days_left(bones.use_by, today),
        is_past=bones.use_by < today,
        where=bones.store.name,
    )
