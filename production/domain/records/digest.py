"""The few readings of a cooling log on which its verdict hangs, small enough to be kept beside the log."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from itertools import pairwise
from typing import Any

from production.domain.limits import CoolingRule, TempUnit
from production.domain.records.readings import Evidence, Reading, exact_f, usable

Sorted = Sequence[tuple[Decimal, Reading]]


@dataclass(frozen=True, slots=True)
class Passage:
    """How the readings pass a target: the last one above it, the one after that, and the first that was not above."""

    above: Reading | None
    reached: Reading | None
    first: Reading | None

    @property
    def rewarmed(self) -> bool:
        """Whether the target had been read before the last reading above it."""
        return self.above is not None and self.first is not None and self.first.at < self.above.at


@dataclass(frozen=True, slots=True)
class Digest:
    """What `judge_digest` needs to know of a log, for every moment at which it may be judged."""

    made_for: str
    event_at: datetime | None
    hot_fact_at: datetime | None
    last: Reading | None
    hot: Reading | None  # last at or above the start temperature before the first one below it
    below: Reading | None  # first below the start temperature
    touched: bool  # the start temperature itself was read
    passages: tuple[Passage, ...]  # one per stage
    gap: tuple[Reading, Reading] | None  # the two neighbours furthest apart while the log matters
    excluded: int
    converted: int  # readings that were not in the unit of the rule


def thresholds(rule: CoolingRule) -> str:
    """The temperatures at which a rule looks, as a mark that shows whether a digest was made for it.

    Equation: code, start and targets, unit.
    Units: rule [as stored]; returns text.
    Valid: every rule.
    Errors: none.
    Source: own definition.
    """
    temps = [rule.stages[0].from_temp, *(stage.to_temp for stage in rule.stages)]
    return f"{rule.code} {'/'.join('-' if temp is None else str(temp) for temp in temps)} {rule.stages[0].unit}"


def digest(rule: CoolingRule, evidence: Evidence) -> Digest:
    """The readings that decide under a rule, whenever and however often it is asked.

    Equation: for the start temperature the first reading below and the last one before it; for each target the last
        reading above it and the one after. Readings before the event of a rule with an event are no evidence.
    Units: rule, evidence [as typed]; returns readings as typed.
    Valid: any readings in any order; one pass over them.
    Errors: none.
    Source: own definition.
    """
    unit = rule.stages[0].unit
    rows = usable(evidence.readings)
    if rule.stages[0].clock == "from_event" and evidence.event_at is not None:
        rows = [row for row in rows if row[1].at >= evidence.event_at]
    start = _limit(rule.stages[0].from_temp, unit)
    cut = len(rows) if start is None else next((at for at, (f, _) in enumerate(rows) if f < start), len(rows))
    passages = tuple(_passage(rows, _limit(stage.to_temp, unit)) for stage in rule.stages)
    hot = rows[cut - 1][1] if start is not None and cut else None
    return Digest(
        made_for=thresholds(rule),
        event_at=evidence.event_at,
        hot_fact_at=evidence.hot_fact_at,
        last=rows[-1][1] if rows else None,
        hot=hot,
        below=rows[cut][1] if cut < len(rows) else None,
        touched=any(f == start for f, _ in rows[:cut]),
        passages=passages,
        gap=_widest_gap(rows[max(0, cut - 1) :] if start is not None else rows, passages[-1].reached),
        excluded=sum(each.excluded for each in evidence.readings),
        converted=sum(each.unit != unit for _, each in rows),
    )


def _limit(temp: Decimal | None, unit: TempUnit) -> Decimal | None:
    return None if temp is None else exact_f(temp, unit)


def _passage(rows: Sorted, target: Decimal | None) -> Passage:
    if target is None:
        return Passage(None, None, None)
    last = next((at for at in range(len(rows) - 1, -1, -1) if rows[at][0] > target), None)
    after = 0 if last is None else last + 1
    return Passage(
        above=None if last is None else rows[last][1],
        reached=rows[after][1] if after < len(rows) else None,
        first=next((reading for f, reading in rows if f <= target), None),
    )


def _widest_gap(rows: Sorted, end: Reading | None) -> tuple[Reading, Reading] | None:
    """Up to the final target; what comes after it is cold holding."""
    pairs = [(a[1], b[1]) for a, b in pairwise(rows) if end is None or b[1].at <= end.at]
    return max(pairs, key=lambda pair: pair[1].at - pair[0].at, default=None)


# --- to and from plain values ------------------------------------------------------------------------------------


def digest_to_json(found: Digest) -> dict[str, Any]:
    """A digest as plain JSON values.

    Equation: moments in ISO 8601, temperatures as text.
    Units: found (record); returns plain values.
    Valid: every digest.
    Errors: none.
    Source: own format.
    """
    return {
        "made_for": found.made_for,
        "event_at": _moment_out(found.event_at),
        "hot_fact_at": _moment_out(found.hot_fact_at),
        "last": _out(found.last),
        "hot": _out(found.hot),
        "below": _out(found.below),
        "touched": found.touched,
        "passages": [[_out(each.above), _out(each.reached), _out(each.first)] for each in found.passages],
        "gap": None if found.gap is None else [_out(each) for each in found.gap],
        "excluded": found.excluded,
        "converted": found.converted,
    }


def digest_from_json(data: Mapping[str, Any]) -> Digest:
    """Read a digest from plain JSON values.

    Equation: the inverse of digest_to_json.
    Units: data (plain values); returns a record.
    Valid: what digest_to_json wrote.
    Errors: KeyError for anything else.
    Source: own format.
    """
    gap = data["gap"]
    return Digest(
        made_for=data["made_for"],
        event_at=_moment_in(data["event_at"]),
        hot_fact_at=_moment_in(data["hot_fact_at"]),
        last=_in(data["last"]),
        hot=_in(data["hot"]),
        below=_in(data["below"]),
        touched=data["touched"],
        passages=tuple(Passage(*(_in(each) for each in passage)) for passage in data["passages"]),
        gap=None if gap is None else (_surely(gap[0]), _surely(gap[1])),
        excluded=data["excluded"],
        converted=data["converted"],
    )


def _moment_out(at: datetime | None) -> str | None:
    return None if at is None else at.isoformat()


def _moment_in(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)


def _out(reading: Reading | None) -> list[str] | None:
    return None if reading is None else [reading.at.isoformat(), f"{reading.temp:f}", reading.unit]


def _in(row: Sequence[Any] | None) -> Reading | None:
    return None if row is None else _surely(row)


def _surely(row: Sequence[Any]) -> Reading:
    return Reading(datetime.fromisoformat(row[0]), Decimal(row[1]), row[2])
