"""Reading a whole book back and holding it against itself, its checkpoints, and the rows that were read off from it."""

from __future__ import annotations

from base64 import b64decode
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connection

from production.domain.ledger import (
    BookHead,
    Finding,
    KeptCheckpoint,
    KeptEntry,
    SignerKey,
    Statement,
    check_book,
)
from production.domain.ledger.leaf import leaf_bytes_quick
from production.models import Checkpoint, Entry, Kitchen, RecordBook
from production.models.guards import guards_standing
from production.selectors.record_projections import PROJECTIONS

AT_ONCE = 2000
AGAIN = 5
COLUMNS = (
    "number",
    "kind",
    "subject",
    "content",
    "happened_at",
    "made_at",
    "by_id",
    "by_login",
    "by_name",
    "role",
    "key",
    "corrects__number",
    "reason",
)


@dataclass(frozen=True, slots=True)
class BookCheck:
    """What came out: how much was read, and everything that is not as it was written down, the first place first."""

    kitchen: str
    entries: int
    checkpoints: int
    findings: tuple[Finding, ...]
    guarded: bool


def book_check(*, kitchen: Kitchen, outside: Sequence[str] = ()) -> BookCheck:
    """Verify the book of a kitchen; `outside` are notes of checkpoints that were kept elsewhere.

    Others may append meanwhile: checkpoints and the head are read first, and the head again when all entries are read.
    Only a whole book can say what the rows that were read off from it should be.
    """
    checkpoints = _checkpoints(kitchen.pk)
    head = _head(kitchen.pk)
    findings = check_book(
        kitchen=kitchen.code,
        entries=_entries(kitchen),
        head=head,
        checkpoints=checkpoints,
        keys=trusted_keys(),
        outside=outside,
        size_after=lambda: _head(kitchen.pk).size,
    )
    return BookCheck(
        kitchen=kitchen.code,
        entries=head.size,
        checkpoints=len(checkpoints),
        findings=findings or _read_off(kitchen.pk),
        guarded=guards_standing(connection),
    )


def _read_off(kitchen_id: int) -> tuple[Finding, ...]:
    """What rows say otherwise than their entries; asked again where somebody has written meanwhile."""
    found: list[Finding] = []
    for _ in range(AGAIN):
        before = _head(kitchen_id)
        found = [each for check in PROJECTIONS.values() for each in check(kitchen_id)]
        if not found or _head(kitchen_id) == before:
            break
    return tuple(sorted(found, key=lambda each: each.first))


def kitchens_with_books(*, code: str = "") -> list[Kitchen]:
    """All kitchens in the order of their codes, or the one of this code."""
    kitchens = Kitchen.objects.order_by("code")
    return list(kitchens.filter(code=code) if code else kitchens)


def trusted_keys() -> frozenset[bytes]:
    """The public keys whose signatures count here: the present one and those that were used before."""
    secret = settings.SIGNING_KEY or _kept(Path(settings.SIGNING_KEY_FILE))
    present = {SignerKey.read(secret).key} if secret else set()
    return frozenset(present | {b64decode(each) for each in settings.EARLIER_SIGNING_KEYS})


def _kept(path: Path) -> str:
    return path.read_text() if path.exists() else ""


def _head(kitchen_id: int) -> BookHead:
    book = RecordBook.objects.filter(kitchen_id=kitchen_id).values_list("size", "peaks").first()
    return BookHead(0, ()) if book is None else BookHead(book[0], tuple(book[1]))


def _checkpoints(kitchen_id: int) -> list[KeptCheckpoint]:
    rows = Checkpoint.objects.filter(kitchen_id=kitchen_id).order_by("size", "pk")
    return [
        KeptCheckpoint(
            note=each.note, size=each.size, root=each.root_sha256, signed_at=each.signed_at, key_id=each.key_id
        )
        for each in rows
    ]


def _entries(kitchen: Kitchen) -> Iterator[KeptEntry]:
    rows = Entry.objects.filter(kitchen_id=kitchen.pk).order_by("number", "pk")
    columns = rows.values_list(*COLUMNS, "before_sha256", "leaf_sha256")
    for *said, before, leaf in columns.iterator(chunk_size=AT_ONCE):
        yield KeptEntry(said[0], _said(kitchen.code, before, *said), before, leaf)


def _said(
    kitchen: str,
    before: str,
    number: int,
    kind: str,
    subject: str,
    content: Any,
    happened_at: datetime,
    made_at: datetime,
    by: int | None,
    by_login: str,
    by_name: str,
    role: str,
    key: str,
    corrects: int | None,
    reason: str,
) -> bytes:
    """The bytes that the row stands for; none where it holds what can never have been written."""
    statement = Statement(
        kitchen=kitchen,
        number=number,
        kind=kind,
        subject=subject,
        content=content,
        happened_at=happened_at,
        made_at=made_at,
        by=by or 0,
        by_login=by_login,
        by_name=by_name,
        role=role,
        key=key,
        corrects=corrects or 0,
        reason=reason,
        before=before,
    )
    try:
        return leaf_bytes_quick(statement)
    except (ValueError, TypeError):
        return b""
