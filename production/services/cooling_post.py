"""A gateway's post as it comes over the wire: each reading is read by itself, and answered in its place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from production.domain.errors import BadQuantity, PotwrightError
from production.domain.records.readings import utc
from production.models import Membership
from production.selectors.access import Action, require
from production.services.cooling_bulk import MOST_READINGS, ProbeReading, readings_bulk
from production.services.floor_answers import Answer, refused

_LENGTHS = {"probe": 40, "temp": 20, "unit": 1, "key": 80}


@dataclass(frozen=True, slots=True)
class Posted:
    """The answers in the order of the readings, and how many of each outcome there are."""

    server_now: datetime
    answers: tuple[Answer, ...]

    @property
    def counts(self) -> dict[str, int]:
        """How many readings were kept, known, questioned and refused."""
        outcomes = [each.outcome for each in self.answers]
        return {name: outcomes.count(name) for name in ("kept", "known", "questioned", "refused")}


def readings_post(*, by: Membership, body: Any, now: datetime) -> Posted:
    """Take a post of readings; only a post that is no list of readings is refused as a whole."""
    require(by, Action.RECORD)
    raw = body.get("readings") if isinstance(body, Mapping) else None
    if not isinstance(raw, list):
        raise BadQuantity(
            "No list of readings was found in what was sent.",
            code="readings-unreadable",
            remedy='Send {"readings": [{"probe": …, "at": …, "temp": …}, …]}, at most ' + f"{MOST_READINGS} at a time.",
        )
    read: list[ProbeReading | Answer] = [_read(each) for each in raw]
    good = [each for each in read if isinstance(each, ProbeReading)]
    answers = iter(readings_bulk(by=by, readings=good, now=now))
    return Posted(now, tuple(next(answers) if isinstance(each, ProbeReading) else each for each in read))


def _read(raw: Any) -> ProbeReading | Answer:
    key = str(raw.get("key", ""))[: _LENGTHS["key"]] if isinstance(raw, Mapping) else ""
    try:
        return _reading(raw)
    except PotwrightError as error:
        return refused(key, error)


def _reading(raw: Any) -> ProbeReading:
    if not isinstance(raw, Mapping):
        raise _broken("A reading has the fields probe, at and temp.")
    told = {name: _text(raw, name, longest) for name, longest in _LENGTHS.items()}
    if not told["probe"] or not told["temp"]:
        raise _broken("A reading names its probe and its temperature.")
    return ProbeReading(at=_moment(raw.get("at")), **told)


def _text(raw: Mapping[str, Any], name: str, longest: int) -> str:
    value = raw.get(name, "")
    if not isinstance(value, str) or len(value) > longest or not value.isprintable():
        raise _broken(f"The field {name} of a reading is text of at most {longest} characters.")
    return value.strip()


def _moment(value: Any) -> datetime:
    try:
        found = datetime.fromisoformat(value)
    except (TypeError, ValueError):
        raise _broken(f"The time {str(value)[:40]!r} cannot be read.") from None
    return utc(found).astimezone(UTC)


def _broken(sentence: str) -> BadQuantity:
    return BadQuantity(
        sentence,
        code="reading-unreadable",
        remedy='Send readings like {"probe": "p1", "at": "2027-02-01T10:30:00-07:00", "temp": "71.5"}.',
    )
