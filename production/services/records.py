"""The one door to a kitchen's book: entries are added at its end, one after the other, and never touched again."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Any

from django.db import transaction

from production.domain.errors import Conflict, NotAllowed
from production.domain.ledger import (
    clean_content,
    clean_text,
    leaf_hash,
    moment_text,
    peaks_with,
)
from production.domain.ledger.canonical import NotRecordable
from production.models import Entry, Membership, RecordBook
from production.selectors.records import entry_bytes

TOGETHER = 500  # rows and keys per statement
_COLUMNS = {each.name: each for each in Entry._meta.concrete_fields}  # noqa: SLF001
_LONGEST = {name: _COLUMNS[name].max_length or 0 for name in ("kind", "subject", "key", "reason", "by_name")}
_KIND = re.compile(r"[a-z][a-z0-9_]*")


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
    clean = [_clean(by, draft) for draft in drafts]
    book = _book_locked(by.kitchen_id)
    there = _there(by.kitchen_id, [draft.key for draft in clean])
    fresh: dict[str, Draft] = {}
    for draft in clean:
        earlier = there.get(draft.key) or fresh.get(draft.key)
        if earlier is None:
            fresh[draft.key] = draft
        else:
            _same_or_refused(earlier, draft)
    written = _write(by, book, list(fresh.values()), now.astimezone(UTC))
    entries = tuple(written.get(draft.key) or there[draft.key] for draft in clean)
    return Appended(entries, frozenset(there))


def _write(by: Membership, book: RecordBook, drafts: Sequence[Draft], now: datetime) -> dict[str, Entry]:
    if not drafts:
        return {}
    rows: list[Entry] = []
    peaks = tuple(bytes.fromhex(peak) for peak in book.peaks)
    before = _last_leaf(book)
    for size, draft in enumerate(drafts, book.size):
        row = _entry(by, draft, number=size + 1, before=before, now=now)
        peaks = peaks_with(peaks, size=size, leaf=bytes.fromhex(row.leaf_sha256))
        before = row.leaf_sha256
        rows.append(row)
    Entry.objects.bulk_create(rows, batch_size=TOGETHER)
    RecordBook.objects.filter(pk=book.pk).update(size=book.size + len(rows), peaks=[peak.hex() for peak in peaks])
    return {row.key: row for row in rows}


def _entry(by: Membership, draft: Draft, *, number: int, before: str, now: datetime) -> Entry:
    row = Entry(
        kitchen_id=by.kitchen_id,
        number=number,
        kind=draft.kind,
        subject=draft.subject,
        content=draft.content,
        happened_at=draft.happened_at,
        made_at=now,
        by_id=by.user_id,
        by_login=by.user.get_username(),
        by_name=(by.user.get_full_name() or by.user.get_username())[: _LONGEST["by_name"]],
        role=by.role,
        key=draft.key,
        corrects=draft.corrects,
        reason=draft.reason,
        before_sha256=before,
    )
    row.leaf_sha256 = leaf_hash(entry_bytes(row, kitchen_code=by.kitchen.code)).hex()
    return row


def _book_locked(kitchen_id: int) -> RecordBook:
    RecordBook.objects.get_or_create(kitchen_id=kitchen_id)
    return RecordBook.objects.select_for_update().get(kitchen_id=kitchen_id)


def _there(kitchen_id: int, keys: Sequence[str]) -> dict[str, Entry]:
    parts: Iterable[Sequence[str]] = (keys[start : start + TOGETHER] for start in range(0, len(keys), TOGETHER))
    return {each.key: each for part in parts for each in Entry.objects.filter(kitchen_id=kitchen_id, key__in=part)}


def _last_leaf(book: RecordBook) -> str:
    """The hash the next entry follows. A book with a damaged end takes no more: a new entry would cover it up."""
    if not book.size:
        return ""
    entries = Entry.objects.filter(kitchen_id=book.kitchen_id)
    last = entries.order_by("-number").values_list("number", "leaf_sha256").first()
    if last is None or last[0] != book.size or len(book.peaks) != book.size.bit_count():
        raise Conflict(
            f"The book of this kitchen is damaged: it counts {book.size} entries, its end is not there.",
            code="book-damaged",
            numbers={"size": book.size},
            remedy="Write on paper for now and tell the administrator: manage.py verify_records names the place.",
        )
    return last[1]


def _clean(by: Membership, draft: Draft) -> Draft:
    """The draft as it will be kept, or a refusal; moments are kept in UTC."""
    moment_text(draft.happened_at)
    cleaned = replace(
        draft,
        subject=clean_text(draft.subject, of="The subject"),
        content=clean_content(draft.content),
        happened_at=draft.happened_at.astimezone(UTC),
        key=clean_text(draft.key, of="The key"),
        reason=clean_text(draft.reason.strip(), of="The reason"),
    )
    if not (_KIND.fullmatch(draft.kind) and cleaned.subject and cleaned.key):
        raise NotRecordable(
            "A record needs a kind in small letters, a subject and a key.", numbers={"kind": draft.kind[:60]}
        )
    for name in ("kind", "subject", "key", "reason"):
        _short_enough(name, getattr(cleaned, name), _LONGEST[name])
    _correction_allowed(by, cleaned)
    return cleaned


def _short_enough(name: str, text: str, longest: int) -> None:
    if len(text) > longest:
        raise NotRecordable(
            f"The {name} has {len(text)} characters; {longest} can be kept.",
            code="too-long-to-record",
            numbers={"characters": len(text), "most": longest},
            remedy=f"Shorten the {name}.",
        )


def _correction_allowed(by: Membership, draft: Draft) -> None:
    if draft.corrects is None:
        return
    if draft.corrects.kitchen_id != by.kitchen_id:
        raise NotAllowed("A record of another kitchen cannot be corrected here.")
    if not draft.reason:
        raise NotAllowed(
            f"Entry {draft.corrects.number} can only be corrected with a reason.",
            code="correction-without-reason",
            numbers={"number": draft.corrects.number},
            remedy="Say in a few words why it was wrong.",
        )


def _same_or_refused(earlier: Entry | Draft, draft: Draft) -> None:
    if _said(earlier) != _said(draft):
        raise Conflict(
            f"The key {draft.key!r} was already used for another record.",
            code="key-used-for-other-record",
            numbers={"number": earlier.number} if isinstance(earlier, Entry) else {},
            remedy="Send the new record with a new key.",
        )


def _said(what: Entry | Draft) -> tuple[object, ...]:
    corrected = what.corrects_id if isinstance(what, Entry) else (what.corrects.pk if what.corrects else None)
    return (what.kind, what.subject, what.content, what.happened_at, corrected, what.reason)
