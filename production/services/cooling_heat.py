"""What the kitchen knows about heat before the first reading of a cooling."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from production.domain.errors import PotwrightError
from production.domain.limits import CoolingRule, to_celsius
from production.domain.quantities import parse_quantity
from production.models import Entry, RunRecord

HOT_KINDS = ("boil_reached", "temp_taken", "drawn", "reheated")


def hot_fact_of(run: RunRecord, law: CoolingRule, at: datetime) -> datetime | None:
    """The last record of the run, up to the draw, that it was at or above the start of the clock."""
    start = law.stages[0]
    if start.from_temp is None:
        return None
    start_c = float(to_celsius(start.from_temp, start.unit))
    entries = Entry.objects.filter(
        kitchen_id=run.kitchen_id, subject=run.subject, kind__in=HOT_KINDS, happened_at__lte=at, corrections=None
    )
    told = entries.values_list("happened_at", "corrects__happened_at", "kind", "content")
    # What puts an earlier record right, or confirms it, was still measured when that was.
    hot = (min(when, first or when) for when, first, kind, content in told if _was_hot(kind, content, start_c))
    return max(hot, default=None)


def _was_hot(kind: str, content: Mapping[str, Any], start_c: float) -> bool:
    if content.get("question") and not content.get("confirmed"):
        return False
    temp_c = _temp_c(content)
    return kind == "boil_reached" if temp_c is None else temp_c >= start_c


def _temp_c(content: Mapping[str, Any]) -> float | None:
    """A temperature as it was typed into an entry of the run; without a unit it proves nothing."""
    typed, unit = str(content.get("temp", "")).strip(), str(content.get("unit", ""))
    try:
        return parse_quantity(f"{typed} {unit}" if typed[-1:].isdigit() else typed, "degC", unit_required=True)
    except PotwrightError:
        return None


def event_of(law: CoolingRule, at: datetime) -> datetime | None:
    """The moment from which a rule with an event counts: the pot stands on the heat until it is drawn off."""
    return at if law.stages[0].clock == "from_event" else None
