"""Recall drills: what is asked, how long the answer took, and how much of the food was found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from hashlib import sha256

from production.domain.errors import Conflict, OutOfRange
from production.domain.records.trace_report import TraceReport, gaps

MOST_NOTE = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """What the people of the drill say."""

    outlets_reached: int
    containers_located: int  # counted by the outlets and in the stores, or told as sold, served or thrown away
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillResult:
    """A finished drill in numbers; the percentages have one decimal and are rounded down."""

    seconds: int
    lots: int
    outlets: int
    made: int
    shipped: int
    stock: int
    discarded: int
    unexplained: int
    records_percent: Decimal
    reached_percent: Decimal
    located_percent: Decimal
    gaps: tuple[str, ...]


def drill_target(*, keys: Sequence[str], seed: str) -> str:
    """What a drill asks for when nobody names it; nobody can prepare for it, and everybody can check how it was chosen.

    Equation: keys[SHA-256(seed) mod number of keys].
    Units: keys, seed [no quantities]; returns [no quantities].
    Valid: one key or more, in a fixed order.
    Errors: Conflict when there is nothing to choose from.
    Source: own definition.
    """
    if not keys:
        raise Conflict(
            "Nothing has been sent or used yet that could be traced.",
            code="drill-without-target",
            remedy="Name what is to be traced, or wait until something has left the kitchen.",
        )
    return keys[int.from_bytes(sha256(seed.encode()).digest(), "big") % len(keys)]


def drill_result(*, report: TraceReport, answered: Answered, begun_at: datetime, done_at: datetime) -> DrillResult:
    """The numbers of a finished drill.

    Equation: time from beginning to answer; found by the records = accounted / made; reached = outlets reached /
        outlets; located = containers located / made; all in percent, rounded down to one decimal.
    Units: report, answered (records), begun_at, done_at [instants]; returns s, counts and percent.
    Valid: counts from nothing up to what there is.
    Errors: OutOfRange for more outlets or containers than there are.
    Source: timed mock recall with reconciliation; common practice, no source.
    """
    outlets, total = len(report.outlets), report.total
    made = int(total.made) if total else 0
    _refuse_more("outlets", answered.outlets_reached, outlets)
    _refuse_more("containers", answered.containers_located, made)
    return DrillResult(
        seconds=max(0, round((done_at - begun_at).total_seconds())),
        lots=len(report.packed),
        outlets=outlets,
        made=made,
        shipped=int(total.shipped) if total else 0,
        stock=int(total.stock) if total else 0,
        discarded=int(total.discarded) if total else 0,
        unexplained=int(total.unexplained) if total else 0,
        records_percent=_down(report.found_percent),
        reached_percent=_percent(answered.outlets_reached, outlets),
        located_percent=_percent(answered.containers_located, made),
        gaps=gaps(report=report),
    )


def _refuse_more(what: str, said: int, most: int) -> None:
    if not 0 <= said <= most:
        raise OutOfRange(
            f"{said} {what} cannot be: there are {most}.",
            code="drill-counts-more",
            numbers={"said": said, "most": most},
            remedy=f"Type how many {what} were found, at most {most}.",
        )


def _percent(part: int, whole: int) -> Decimal:
    return _down(Decimal(100 * part) / whole) if whole else Decimal(100)


def _down(percent: Decimal) -> Decimal:
    return percent.quantize(Decimal("0.1"), rounding="ROUND_DOWN")
