"""Cooling cases: one log each, from anywhere, with its verdict as plain values."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from typing import Any

from production.domain.limits import CoolingRule
from production.domain.records.readings import Evidence, entered_late
from production.domain.records.reasons import spell
from production.domain.records.verdicts import StageVerdict, judge


@dataclass(frozen=True, slots=True)
class Case:
    """One log to judge; `now` is None for a closed one."""

    id: str | int
    rule: CoolingRule
    evidence: Evidence
    now: datetime | None
    zone: tzinfo
    left_out: int  # readings that were measured after the moment of judging


def judge_case(case: Case) -> dict[str, Any]:
    """The verdict on a case as plain JSON values.

    Equation: judge; times in the sentences with the offset of as_of, or of the first reading.
    Units: case (record); moments in ISO 8601 (UTC), lengths in minutes; returns plain values.
    Valid: every case.
    Errors: none.
    Source: own format.
    """
    found = judge(case.rule, case.evidence, now=case.now, closed=case.now is None, zone=case.zone)
    notes = list(found.notes)
    late = len(entered_late(case.evidence.readings))
    notes += [f"Readings entered after a later one: {late}."] if late else []
    notes += [f"Readings measured after the moment of judging, which are left out: {case.left_out}."] * bool(
        case.left_out
    )
    notes += [] if found.longest_gap is None else [f"The longest time without a reading is {spell(found.longest_gap)}."]
    return {
        "id": case.id,
        "rule_code": case.rule.code,
        "verdict": found.state.value,
        "reasons": list(found.reasons),
        "stages": [_stage(each) for each in found.stages],
        "notes": notes,
    }


def _stage(found: StageVerdict) -> dict[str, Any]:
    return {
        "number": found.number,
        "state": found.state.value,
        "reasons": list(found.reasons),
        "start_at": _text(found.start_at),
        "reached_at": _text(found.reached_at),
        "deadline_at": _text(found.deadline_at),
        "longest_min": _minutes(found.worst_elapsed),
        "shortest_min": _minutes(found.best_elapsed),
    }


def _text(at: datetime | None) -> str | None:
    return None if at is None else at.isoformat()


def _minutes(length: timedelta | None) -> float | None:
    return None if length is None else length / timedelta(minutes=1)
