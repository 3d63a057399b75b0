"""The one door to a kitchen's book: entries are added at its end, one after the other, and never touched again."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import rfc8785
from django.db import transaction

from production.domain.errors import Conflict
from production.models import Entry, Membership, RecordBook


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """What somebody, or a probe, wants to have written down. `key` is the sender's: sent twice, kept once."""

    kind: str
    subject: str
    content: dict[str, Any]
    happened_at: datetime
    key: str
    corrects: Entry | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Appended:
    """The entries in the order of the drafts, and the keys of those that had been there before."""

    entries: tuple[Entry, ...]
    known: frozenset[str] = field(default=frozenset())


@transaction.atomic
def entries_append(*, by: Membership, drafts: Sequence[Draft], now: datetime) -> Appended:
    """Add entries at the end of the book; a draft whose key is known gives the entry it has led to already."""
    book = _book_locked(by.kitchen_id)
    there = {each.key: each for each in Entry.objects.filter(kitchen_id=by.kitchen_id, key__in=[d.key for d in drafts])}
    fresh: dict[str, Entry] = {}
    for draft in drafts:
        earlier = there.get(draft.key) or fresh.get(draft.key)
        if earlier is not None:
            _same_or_refused(earlier, draft)
            continue
        fresh[draft.key] = _entry(by, draft, book.size + len(fresh) + 1, now)
    Entry.objects.bulk_create(fresh.values(), batch_size=500)
    if fresh:
        RecordBook.objects.filter(pk=book.pk).update(size=book.size + len(fresh))
    return Appended(tuple(fresh.get(d.key) or there[d.key] for d in drafts), frozenset(there))


def _book_locked(kitchen_id: int) -> RecordBook:
    RecordBook.objects.get_or_create(kitchen_id=kitchen_id)
    return RecordBook.objects.select_for_update().get(kitchen_id=kitchen_id)


def _entry(by: Membership, draft: Draft, number: int, now: datetime) -> Entry:
    row = Entry(
        kitchen_id=by.kitchen_id,
        number=number,
        kind=draft.kind,
        subject=draft.subject,
        content=draft.content,
        happened_at=draft.happened_at,
        made_at=now,
        by_id=by.user_id,
        by_name=by.user.get_full_name() or by.user.get_username(),
        role=by.role,
        key=draft.key,
        corrects=draft.corrects,
        reason=draft.reason,
    )
    row.leaf_sha256 = hashlib.sha256(b"\x00" + entry_bytes(row, kitchen_code=by.kitchen.code)).hexdigest()
    return row


def entry_bytes(row: Entry, *, kitchen_code: str) -> bytes:
    """What is hashed of an entry: all that it says, in the canonical form of RFC 8785."""
    return rfc8785.dumps(
        {
            "kitchen": kitchen_code,
            "number": row.number,
            "kind": row.kind,
            "subject": row.subject,
            "content": row.content,
            "happened_at": row.happened_at.isoformat(),
            "made_at": row.made_at.isoformat(),
            "by": row.by.get_username() if row.by else "",
            "by_name": row.by_name,
            "role": row.role,
            "key": row.key,
            "corrects": row.corrects.number if row.corrects else 0,
            "reason": row.reason,
        }
    )


def _same_or_refused(earlier: Entry, draft: Draft) -> None:
    said = (earlier.kind, earlier.subject, earlier.content, earlier.happened_at)
    if said != (draft.kind, draft.subject, draft.content, draft.happened_at):
        raise Conflict(
            f"The key {draft.key!r} was already used for another record.",
            code="key-used-for-other-record",
            numbers={"number": earlier.number},
            remedy="Send the new record with a new key.",
        )
