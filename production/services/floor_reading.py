"""Reading what the floor sends: one entry after the other, so that a broken one stops no other."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from production.domain.errors import PotwrightError

LARGEST_BYTES = 256 * 1024
MOST_ENTRIES = 200  # a longer queue is sent in several parts
CLOCK_TOLERANCE_S = 120
LARGEST_CONTENT = 4000  # characters of one entry's content
LARGEST_WHOLE = 2**53 - 1  # whole numbers that every JSON reader reads alike
_DEEPEST = 4
_LENGTHS = {"key": 80, "kind": 40, "subject": 160, "reason": 300}
# What the kitchen itself adds to an entry, and later reads in it.
_OWN_WORDS = frozenset(
    {
        "added_after_closing", "closed_by_program", "confirmed_against", "confirms", "counted", "device_offset_s",
        "doubted", "measured_at", "next_attempt", "question", "question_remedy", "question_says", "rests_on",
        "same_person", "stages", "stands", "thermometer_is", "verdict",
    }
)  # fmt: skip
_FIRST = datetime(2000, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """One entry as it was sent; `happened_at` by the clock of the device that sent it."""

    key: str
    kind: str
    subject: str
    content: dict[str, Any]
    happened_at: datetime
    corrects: str
    reason: str


@dataclass(frozen=True, slots=True)
class Post:
    """A post of entries: how far the device's clock is from ours, and the entries, not yet read."""

    offset: timedelta
    entries: tuple[Any, ...]

    @property
    def is_off(self) -> bool:
        """Whether the device's clock is so wrong that its times are put right."""
        return abs(self.offset.total_seconds()) > CLOCK_TOLERANCE_S


def post_read(*, body: bytes | Mapping[str, Any], now: datetime) -> Post:
    """Read a post of the floor; refused as a whole when its frame cannot be read."""
    frame = _json(body) if isinstance(body, bytes) else body
    entries = frame.get("entries") if isinstance(frame, Mapping) else None
    if not isinstance(entries, list):
        raise _unreadable("No list of entries was found in what was sent.")
    if len(entries) > MOST_ENTRIES:
        raise _unreadable(f"{len(entries)} entries were sent at once; at most {MOST_ENTRIES} are taken.")
    said = frame.get("device_now")
    offset = now - _instant(said, "device_now") if said is not None else timedelta(0)
    return Post(timedelta(seconds=round(offset.total_seconds())), tuple(entries))


def key_of(raw: Any) -> str:
    """The key of an entry that may be broken otherwise."""
    key = raw.get("key") if isinstance(raw, Mapping) else None
    return key if isinstance(key, str) else ""


def entry_read(raw: Any) -> Sent:
    """Read one entry; refused with a sentence when something is missing or of the wrong form."""
    if not isinstance(raw, Mapping):
        raise _unreadable("An entry has the fields key, kind, subject, content and happened_at.")
    content = raw.get("content", {})
    if not isinstance(content, dict) or len(json.dumps(content, ensure_ascii=False)) > LARGEST_CONTENT:
        raise _unreadable(f"The content of an entry is an object of at most {LARGEST_CONTENT} characters.")
    _require_plain(content, 1)
    return Sent(
        key=_text(raw, "key"),
        kind=_text(raw, "kind"),
        subject=_text(raw, "subject"),
        content=dict(content),
        happened_at=_instant(raw.get("happened_at"), "happened_at"),
        corrects=_text(raw, "corrects", optional=True),
        reason=_text(raw, "reason", optional=True),
    )


def refuse_own_words(sent: Sent) -> None:
    """Refuse an entry that says of itself what only the kitchen says: a verdict, a question, when it was measured."""
    found = sorted(_OWN_WORDS & sent.content.keys())
    if found:
        raise PotwrightError(
            f"An entry cannot say {', '.join(found)} of itself.",
            code="content-not-its-own",
            numbers={"fields": ", ".join(found)},
            remedy="Leave these fields out: the kitchen's own program adds them.",
        )


def _json(body: bytes) -> Any:
    if len(body) > LARGEST_BYTES:
        raise _unreadable(f"More than {LARGEST_BYTES // 1024} KiB were sent at once.")
    try:
        return json.loads(body.decode("utf-8"))
    except (ValueError, RecursionError):
        raise _unreadable("What was sent is not JSON.") from None


def _text(raw: Mapping[str, Any], name: str, *, optional: bool = False) -> str:
    value = raw.get(name)
    if optional and value is None:
        return ""
    longest = _LENGTHS.get(name, _LENGTHS["key"])
    if not isinstance(value, str) or len(value) > longest or not (optional or value.strip()) or not _writable(value):
        raise _unreadable(f"The field {name} of an entry is text of at most {longest} characters.")
    return value


def _instant(value: Any, name: str) -> datetime:
    try:
        found = datetime.fromisoformat(value)
        if found.utcoffset() is None:
            raise ValueError
        found = found.astimezone(UTC)
    except (TypeError, ValueError, OverflowError):
        raise PotwrightError(
            f"The time {str(value)[:40]!r} in {name} cannot be read.",
            code="time-unreadable",
            remedy="Write times with their offset, like 2027-02-01T10:30:00-07:00.",
        ) from None
    if found < _FIRST:
        raise PotwrightError(
            f"The time {found:%Y-%m-%d} lies long before this kitchen kept records.",
            code="time-unreadable",
            remedy="Set the clock of the device.",
        )
    return found


def _require_plain(value: Any, depth: int) -> None:
    """Only what reads the same everywhere goes into the book: no floating point, no characters that cannot be kept."""
    match value:
        case None | bool():
            return
        case int() if abs(value) <= LARGEST_WHOLE:
            return
        case str() if _writable(value):
            return
        case dict() if depth < _DEEPEST:
            for name, below in value.items():
                _require_plain(name, depth)
                _require_plain(below, depth + 1)
        case list() if depth < _DEEPEST:
            for below in value:
                _require_plain(below, depth + 1)
        case _:
            raise PotwrightError(
                f"{str(value)[:40]!r} cannot be kept as it was sent.",
                code="content-not-plain",
                remedy='Send amounts as text with their unit, like "21.5 C".',
            )


def _writable(text: str) -> bool:
    return "\x00" not in text and not any("\ud800" <= letter <= "\udfff" for letter in text)


def _unreadable(sentence: str) -> PotwrightError:
    return PotwrightError(
        sentence, code="entries-unreadable", remedy="Open the page again; nothing of this was written yet."
    )
