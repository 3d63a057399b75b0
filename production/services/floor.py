"""The door of the kitchen floor: entries come in one by one or after hours without a network, and each is answered.

Each entry is a transaction of its own. The same entry may come any number of times and is kept once. The order of
entries is the order of what happened, not of arrival.
"""

from __future__ import annotations

import logging
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db import InterfaceError, OperationalError, transaction
from django.http import Http404

from production.domain.errors import Conflict, PotwrightError
from production.models import Entry, Membership
from production.selectors.access import Action, require
from production.services.care_kinds import CARE_KINDS
from production.services.cooling_kinds import COOLING_KINDS
from production.services.cooling_undo import WITHDRAWN, withdraw
from production.services.floor_answers import Answer, Handler, answer_known, refused
from production.services.floor_reading import CLOCK_TOLERANCE_S, Sent, entry_read, key_of, post_read, refuse_own_words
from production.services.lot_kinds import LOT_KINDS
from production.services.records import Draft
from production.services.run_records import RUN_KINDS

logger = logging.getLogger(__name__)
OFFSET = "device_offset_s"  # kept with an entry whose time was put right
_UNKNOWN = "There is nothing of this name in this kitchen."

# Which service keeps which kind of entry. Add the mapping of a service here.
KINDS: dict[str, Handler] = {**RUN_KINDS, WITHDRAWN: withdraw, **COOLING_KINDS, **LOT_KINDS, **CARE_KINDS}


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """The answers in the order of the entries; the notice is about the clock of the device."""

    server_now: datetime
    answers: tuple[Answer, ...]
    device_offset_s: int = 0
    notice: str = ""


def floor_take(*, by: Membership, body: bytes | Mapping[str, Any], now: datetime) -> Taken:
    """Take what the floor has recorded; every entry is kept, known, questioned or refused."""
    require(by, Action.RECORD)
    post = post_read(body=body, now=now)
    correction = post.offset if post.is_off else timedelta(0)
    return Taken(
        server_now=now,
        answers=tuple(_answered(by, raw, correction, now) for raw in post.entries),
        device_offset_s=round(post.offset.total_seconds()),
        notice=_clock_notice(correction) if correction else "",
    )


def _answered(by: Membership, raw: Any, correction: timedelta, now: datetime) -> Answer:
    """Answer for one entry. A database that is away is no answer: the device keeps the entry and sends it again."""
    key = key_of(raw)
    try:
        with transaction.atomic():
            return _take(by, entry_read(raw), correction, now)
    except PotwrightError as error:
        return _overtaken(by, raw) or refused(key, error)
    except Http404:
        return refused(key, PotwrightError(_UNKNOWN, code="not-found", remedy="Open the page again."))
    except (OperationalError, InterfaceError):
        raise
    except Exception:
        logger.exception("An entry of the floor could not be taken: %s", key)
        return refused(key, _fault())


def _take(by: Membership, sent: Sent, correction: timedelta, now: datetime) -> Answer:
    earlier = _earlier(by, sent.key)
    if earlier is not None:
        _require_same(earlier, sent)
        return answer_known(earlier)
    refuse_own_words(sent)
    happened_at = sent.happened_at + correction
    if happened_at > now + timedelta(seconds=CLOCK_TOLERANCE_S):
        raise PotwrightError(
            "What is recorded lies in the future.",
            code="in-the-future",
            numbers={"ahead_s": round((happened_at - now).total_seconds())},
            remedy="Set the clock of the device, then record it again.",
        )
    handler = KINDS.get(sent.kind)
    if handler is None:
        raise PotwrightError(
            f"Nobody here keeps entries of the kind {sent.kind!r}.",
            code="unknown-entry-kind",
            remedy="Open the page again: it may be older than the program.",
        )
    content = sent.content | ({OFFSET: round(correction.total_seconds())} if correction else {})
    draft = Draft(
        kind=sent.kind,
        subject=sent.subject,
        content=content,
        happened_at=happened_at,
        key=sent.key,
        corrects=_corrected(by, sent),
        reason=sent.reason,
    )
    return handler(by, draft, now)


def _earlier(by: Membership, key: str) -> Entry | None:
    return Entry.objects.filter(kitchen_id=by.kitchen_id, key=key).first()


def _require_same(earlier: Entry, sent: Sent) -> None:
    """The same key must say the same; what the kitchen has added to an entry, and a clock put right, do not count."""
    said_at = earlier.happened_at - timedelta(seconds=int(earlier.content.get(OFFSET, 0)))
    same_content = all(earlier.content.get(name) == value for name, value in sent.content.items())
    if (earlier.kind, earlier.subject, said_at) == (sent.kind, sent.subject, sent.happened_at) and same_content:
        return
    raise Conflict(
        f"The key {sent.key!r} was already used for another record.",
        code="key-used-for-other-record",
        numbers={"number": earlier.number},
        remedy="Send the new record with a new key.",
    )


def _overtaken(by: Membership, raw: Any) -> Answer | None:
    """The same entry may have come in twice at once: what the other one has written stands."""
    earlier = _earlier(by, key_of(raw))
    if earlier is None:
        return None
    try:
        _require_same(earlier, entry_read(raw))
    except PotwrightError:
        return None
    return answer_known(earlier)


def _corrected(by: Membership, sent: Sent) -> Entry | None:
    if not sent.corrects:
        return None
    entry = _earlier(by, sent.corrects)
    if entry is None:
        raise PotwrightError(
            "What this corrects has not been recorded here.",
            code="nothing-to-correct",
            remedy="Record it as new.",
        )
    if not sent.reason.strip():
        raise PotwrightError(
            "A correction needs its reason.",
            code="reason-missing",
            numbers={"corrects": entry.number},
            remedy="Say in a few words why it is corrected.",
        )
    return entry


def _clock_notice(correction: timedelta) -> str:
    minutes = max(1, round(abs(correction.total_seconds()) / 60.0))
    way = "slow" if correction > timedelta(0) else "fast"
    return (
        f"The clock of this device is about {minutes} min {way}. Times were put right by the kitchen's clock; "
        "set the device's clock."
    )


def _fault() -> PotwrightError:
    return PotwrightError(
        "The program stumbled over this entry; it was not written down.",
        code="entry-fault",
        remedy="Keep it on this device, write it on paper as well, and tell the manager.",
    )
