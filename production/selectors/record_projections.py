"""Rows that were read off from entries, held against the entries again: readings, verdicts of logs, lots.

A row that says something else than the book misleads whoever looks at a page, though the book itself is whole.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType
from typing import Any

from production.domain.ledger import Finding
from production.models import CoolingRecord, Entry, Lot, Reading
from production.selectors.care_projections import (
    checks_check,
    ingredient_lots_check,
    receipts_check,
    stores_check,
)
from production.selectors.record_reviews_check import deviations_check, reviews_check
from production.selectors.run_projection import runs_check

AT_ONCE = 2000
Projection = Callable[[int], Iterator[Finding]]


def readings_check(kitchen_id: int) -> Iterator[Finding]:
    """Each reading that was written down stands in its log: temperature, unit, time, and whether it was set aside."""
    entries = Entry.objects.filter(kitchen_id=kitchen_id, kind="reading").order_by("number")
    row = ("reading__temp", "reading__unit", "reading__measured_at", "reading__excluded")
    set_aside = _set_aside(kitchen_id)
    for pk, number, content, happened_at, temp, unit, measured_at, excluded in entries.values_list(
        "pk", "number", "content", "happened_at", *row
    ).iterator(chunk_size=AT_ONCE):
        if not isinstance(content, dict) or "confirms" in content:
            continue
        if temp is None:
            yield _otherwise(number, "The reading is missing from its log.")
        elif content.get("counted") != f"{temp} {unit}" or _measured_at(content, happened_at) != measured_at:
            yield _otherwise(number, f"The log shows {temp} {unit}, {measured_at:%Y-%m-%d %H:%M:%S} UTC.")
        elif excluded != (pk in set_aside):
            yield _otherwise(
                number, "The log sets it aside." if excluded else "The log counts it, but it was set aside."
            )
    for number in _of_no_reading(kitchen_id):
        yield _otherwise(number, "A log shows a reading that this entry does not hold.")


def _measured_at(content: Mapping[str, Any], happened_at: datetime) -> datetime | None:
    if "measured_at" not in content:
        return happened_at
    try:
        return datetime.fromisoformat(content["measured_at"])
    except (TypeError, ValueError):
        return None


def _set_aside(kitchen_id: int) -> frozenset[int]:
    """The readings set aside by a later entry, or by one that took their place."""
    later = Entry.objects.filter(
        kitchen_id=kitchen_id, corrects__isnull=False, kind__in=["reading", "reading_excluded"]
    )
    found = later.values_list("corrects_id", "content").iterator(chunk_size=AT_ONCE)
    return frozenset(corrected for corrected, content in found if corrected and "confirms" not in content)


def _of_no_reading(kitchen_id: int) -> Iterator[int]:
    rows = Reading.objects.filter(entry__kitchen_id=kitchen_id).exclude(entry__kind="reading")
    return iter(rows.order_by("entry__number").values_list("entry__number", flat=True))


def coolings_check(kitchen_id: int) -> Iterator[Finding]:
    """The verdict of each closed log is the one that was written down last; an open log has none."""
    said = _verdicts_said(kitchen_id)
    rows = CoolingRecord.objects.filter(kitchen_id=kitchen_id).order_by("pk")
    for subject, verdict in rows.values_list("subject", "verdict").iterator(chunk_size=AT_ONCE):
        number, written = said.get(subject, (1, ""))
        if verdict != written:
            yield Finding(
                number,
                number,
                f"The log {subject} shows the verdict {verdict or 'open'!r}; written down is {written or 'open'!r} "
                f"(entry {number}).",
            )


def _verdicts_said(kitchen_id: int) -> dict[str, tuple[int, str]]:
    kinds = ["cooling_closed", "reheated", "cooling_judged_again"]
    entries = Entry.objects.filter(kitchen_id=kitchen_id, kind__in=kinds).order_by("number")
    said: dict[str, tuple[int, str]] = {}
    for number, subject, content in entries.values_list("number", "subject", "content").iterator(chunk_size=AT_ONCE):
        verdict = content.get("stands") or content.get("verdict")
        if verdict:
            said[subject] = (number, verdict)
    return said


@dataclass(slots=True)
class _LotSaid:
    """A lot as its entries tell it."""

    number: int  # the entry that spoke last
    status: str = "held"
    containers: int = 0
    left: int = 0

    def hear(self, number: int, kind: str, content: Mapping[str, Any]) -> None:
        self.number = number
        match kind:
            case "lot_made":
                self.containers = self.left = content.get("containers", 0)
            case "lot_held":
                self.status = "held"
            case "lot_released":
                self.status = "free"
            case "lot_discarded":
                self.left -= content.get("containers", 0)
                self.status = self.status if self.left else "discarded"
            case "lot_counted":
                self.left = content.get("found", 0)
            case "lot_dispatched":
                self.left -= content.get("containers", 0)


def lots_check(kitchen_id: int) -> Iterator[Finding]:
    """Each lot may leave, is held or thrown away, and holds as many containers, as its entries say."""
    said = _lots_said(kitchen_id)
    rows = Lot.objects.filter(kitchen_id=kitchen_id).order_by("pk")
    for code, status, containers, left in rows.values_list("code", "status", "containers", "left"):
        told = said.pop(f"lot/{code}", None)
        if told is None:
            yield Finding(1, 1, f"Lot {code} is shown, but it was never written down.")
        elif (status, containers, left) != (told.status, told.containers, told.left):
            yield _otherwise(
                told.number,
                f"Lot {code} is shown as {status}, {left} of {containers} left; written down is {told.status}, "
                f"{told.left} of {told.containers} left.",
            )
    for subject, told in said.items():
        yield _otherwise(told.number, f"The lot {subject.removeprefix('lot/')} is missing.")


def _lots_said(kitchen_id: int) -> dict[str, _LotSaid]:
    entries = Entry.objects.filter(kitchen_id=kitchen_id, subject__startswith="lot/", kind__startswith="lot_")
    said: dict[str, _LotSaid] = {}
    rows = entries.order_by("number").values_list("number", "subject", "kind", "content")
    for number, subject, kind, content in rows.iterator(chunk_size=AT_ONCE):
        said.setdefault(subject, _LotSaid(number)).hear(number, kind, content)
    return said


def _otherwise(number: int, told: str) -> Finding:
    return Finding(number, number, f"Entry {number} is shown otherwise than it was written down. {told}")


# What stands in rows because of entries is checked here. Add a line per kind of row.
PROJECTIONS: Mapping[str, Projection] = MappingProxyType(
    {
        "readings": readings_check,
        "verdicts": coolings_check,
        "lots": lots_check,
        "deviations": deviations_check,
        "reviews": reviews_check,
        "runs": runs_check,
        "thermometer checks": checks_check,
        "store temperatures": stores_check,
        "receipts": receipts_check,
        "ingredient lots": ingredient_lots_check,
    }
)
