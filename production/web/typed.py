"""What somebody typed on a page, in the kitchen's own units where no unit stands with it."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from production.domain.errors import Conflict, NotAllowed, PotwrightError
from production.domain.quantities import parse_quantity

if TYPE_CHECKING:
    from django import forms

    from production.models import Kitchen


def kg_typed(text: str, kitchen: Kitchen) -> Decimal:
    """A weight in kg; a bare number is in kilograms or pounds, as the kitchen weighs."""
    said = text.strip()
    if said.replace(".", "", 1).isdecimal():
        said = f"{said} {'lb' if kitchen.units == 'us' else 'kg'}"
    return Decimal(repr(parse_quantity(said, "kg"))).quantize(Decimal("0.01"))


def moment_typed(said: datetime | None, kitchen: Kitchen, now: datetime) -> datetime:
    """A moment by the kitchen's clock; now where nothing was typed."""
    if said is None:
        return now
    return said.replace(tzinfo=ZoneInfo(kitchen.time_zone))


def refuse(form: forms.Form, error: PotwrightError) -> int:
    """Put a refusal where it was typed; says the status of the answer."""
    form.add_error(None, f"{error.sentence} {error.remedy}".strip())
    if isinstance(error, NotAllowed):
        return 403
    return 409 if isinstance(error, Conflict) else 422
