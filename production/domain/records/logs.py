"""A cooling log as it is kept: readings with what people said about them, its digest, and the curve that is drawn.

Doubtful readings count only against the log: see `questions`.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Any

from production.domain.limits import CoolingRule, to_celsius
from production.domain.records.digest import Digest, digest, digest_from_json, digest_to_json
from production.domain.records.questions import Around, Question, doubted_side, questions_of
from production.domain.records.readings import Evidence, Reading
from production.domain.records.verdicts import State, Verdict, judge_digest

MOST_POINTS = 60
ASKED_ANEW = frozenset(
    {"unit-too-cold", "unit-too-hot", "below-coolant", "hotter-than-boiling", "rises", "falls-too-fast"}
)


@dataclass(frozen=True, slots=True)
class Kept:
    """A reading in its log: the question that stands about it, and what people have answered."""

    reading: Reading
    question: str = ""
    confirmed: bool = False
    from_probe: bool = False
    row: int = 0  # of whoever keeps it

    @property
    def doubted(self) -> bool:
        """Whether it counts only against the log."""
        return doubted_side(self.question, confirmed=self.confirmed) != "none"


@dataclass(frozen=True, slots=True)
class Facts:
    """What is on record about a cooling besides its readings."""

    event_at: datetime | None
    hot_fact_at: datetime | None


@dataclass(frozen=True, slots=True)
class LogDigest:
    """The log without what is doubted, and with it where there is something that might be true."""

    sure: Digest
    doubted: Digest | None = None


def in_order(kept: Iterable[Kept]) -> list[Kept]:
    """Readings in the order of measuring.

    Equation: sorted by the moment of measuring, then by the row.
    Units: kept (records); returns records.
    Valid: any readings in any order of arrival.
    Errors: none.
    Source: own definition.
    """
    return sorted(kept, key=lambda each: (each.reading.at, each.row))


def asked_anew(kept: Sequence[Kept], around: Around) -> list[Kept]:
    """The log with the questions about temperatures asked again, as if all had arrived in the order of measuring.

    Equation: each reading against the last one before it that is neither set aside nor doubtful.
    Units: kept (records in the order of measuring), around (record); returns records.
    Valid: readings of one attempt.
    Errors: none.
    Source: own definition.
    """
    found: list[Kept] = []
    before: Reading | None = None
    for each in kept:
        still = replace(around, before=before, from_probe=each.from_probe)
        asked = each if each.confirmed or each.reading.excluded else _asked(each, still)
        found.append(asked)
        if not asked.reading.excluded and not asked.doubted:
            before = asked.reading
    return found


def _asked(each: Kept, around: Around) -> Kept:
    """Doubts about temperatures come and go with the neighbours; what else was asked stays beside them."""
    own = "" if each.question in ASKED_ANEW else each.question
    if doubted_side(own, confirmed=False) != "none":
        return each
    first = next((q.code for q in questions_of(each.reading, around) if q.code in ASKED_ANEW), own)
    return each if first == each.question else replace(each, question=first)


def questions_about(reading: Reading, kept: Sequence[Kept], around: Around) -> tuple[Question, ...]:
    """What is asked about a reading that comes to a log.

    Equation: questions_of with its neighbours in the order of measuring.
    Units: reading [as typed], kept (records in the order of measuring), around (record); returns records.
    Valid: readings of one attempt.
    Errors: none.
    Source: own definition.
    """
    place = bisect_right(kept, reading.at, key=lambda each: each.reading.at)
    usable_before = (each.reading for each in reversed(kept[:place]) if not each.reading.excluded and not each.doubted)
    counting = [each.reading for each in kept[max(0, place - 1) :] if not each.reading.excluded]
    return questions_of(
        reading,
        replace(
            around,
            before=next(usable_before, None),
            after=next((each for each in counting if each.at > reading.at), None),
            same_time=next((each for each in counting if each.at == reading.at), None),
        ),
    )


def log_digest(rule: CoolingRule, kept: Iterable[Kept], facts: Facts) -> LogDigest:
    """The few readings on which the verdict hangs, once without what is doubted and, if need be, once with it.

    Equation: unlikely cold readings are in neither; other doubtful ones are in the second.
    Units: rule, kept, facts (records); returns records.
    Valid: any readings in any order.
    Errors: none.
    Source: own definition, on the conservative side.
    """
    sure: list[Reading] = []
    either: list[Reading] = []
    for each in kept:
        side = "none" if each.reading.excluded else doubted_side(each.question, confirmed=each.confirmed)
        if side == "none":
            sure.append(each.reading)
        elif side == "either":
            either.append(each.reading)

    def made(readings: list[Reading]) -> Digest:
        evidence = Evidence(readings=tuple(readings), event_at=facts.event_at, hot_fact_at=facts.hot_fact_at)
        return digest(rule, evidence)

    return LogDigest(made(sure), made(sure + either) if either else None)


def judge_log(
    rule: CoolingRule, found: LogDigest, *, now: datetime | None = None, closed: bool = False, zone: tzinfo = UTC
) -> Verdict:
    """The verdict on a log with doubtful readings: the worse of without and with them.

    Equation: worst state of judge_digest over both.
    Units: rule, found (records), now [instant], closed (yes or no), zone (of the sentences); returns a verdict.
    Valid: as judge_digest.
    Errors: as judge_digest.
    Source: own definition, on the conservative side.
    """
    both = [each for each in (found.sure, found.doubted) if each is not None]
    verdicts = [judge_digest(rule, each, now=now, closed=closed, zone=zone) for each in both]
    return min(verdicts, key=lambda each: list(State).index(each.state))


def log_digest_to_json(found: LogDigest) -> dict[str, Any]:
    """A digest as plain values, to be kept beside the log.

    Equation: fields as they are.
    Units: found (record); returns plain values.
    Valid: every digest.
    Errors: none.
    Source: own format.
    """
    doubted = None if found.doubted is None else digest_to_json(found.doubted)
    return {"sure": digest_to_json(found.sure), "doubted": doubted}


def log_digest_from_json(data: Mapping[str, Any]) -> LogDigest:
    """Read a digest back.

    Equation: the inverse of log_digest_to_json.
    Units: data (plain values); returns a record.
    Valid: what log_digest_to_json has written.
    Errors: as digest_from_json.
    Source: own format.
    """
    doubted = data["doubted"]
    return LogDigest(digest_from_json(data["sure"]), None if doubted is None else digest_from_json(doubted))


def thin_curve(kept: Sequence[Kept], *, since: datetime) -> list[list[float]]:
    """At most 60 readings that show the course, as minutes and temperatures.

    Equation: all of them, or the middle reading of each of 58 equal parts of the time, the first and the last.
    Units: kept (records in the order of measuring), since [instant]; returns pairs of [min] and [degC].
    Valid: for drawing and forecasting; a verdict never rests on it.
    Errors: none.
    Source: own definition.
    """
    usable = [each.reading for each in kept if not each.reading.excluded and not each.doubted]
    return [_point(each, since) for each in _spread(usable)]


def _spread(readings: Sequence[Reading]) -> Sequence[Reading]:
    if len(readings) <= MOST_POINTS:
        return readings
    first, last = readings[0].at, readings[-1].at
    part = max((last - first) / (MOST_POINTS - 2), timedelta(microseconds=1))
    blocks: dict[int, list[Reading]] = {}
    for each in readings[1:-1]:
        blocks.setdefault(min(int((each.at - first) / part), MOST_POINTS - 3), []).append(each)
    return [readings[0], *(block[len(block) // 2] for block in blocks.values()), readings[-1]]


def _point(reading: Reading, since: datetime) -> list[float]:
    minutes = (reading.at - since).total_seconds() / 60.0
    return [round(minutes, 2), round(float(to_celsius(reading.temp, reading.unit)), 2)]
