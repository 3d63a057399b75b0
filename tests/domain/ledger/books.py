"""Made-up books for tests, kept in memory, and the hand that rewrites them as thoroughly as it can."""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any

from production.domain.ledger import (
    BookHead,
    Finding,
    KeptCheckpoint,
    KeptEntry,
    Signer,
    SignerKey,
    Statement,
    check_book,
    checkpoint_note,
    key_id,
    leaf_bytes,
    leaf_hash,
    peaks_with,
    root_of_peaks,
)
from production.domain.ledger.leaf import leaf_bytes_quick

KITCHEN = "small"
BEGUN = datetime(2027, 2, 1, 5, 0, tzinfo=UTC)
SIGNER = SignerKey.read("dGVzdHMgb25seTogMzIgYnl0ZXMgbm8gb25lIHVzZXM=")
STRANGER = SignerKey.read("YSBzdHJhbmdlcidzIGtleSBvZiAzMiBieXRlcyAuLi4=")


@dataclass(frozen=True)
class Row:
    """An entry as the database keeps it."""

    said: Statement
    leaf: str

    def kept(self) -> KeptEntry:
        return KeptEntry(self.said.number, leaf_bytes_quick(self.said), self.said.before, self.leaf)


@dataclass(frozen=True)
class Book:
    rows: tuple[Row, ...]
    head: BookHead
    checkpoints: tuple[KeptCheckpoint, ...] = ()
    outside: tuple[str, ...] = ()

    def check(self) -> tuple[Finding, ...]:
        return check_book(
            kitchen=KITCHEN,
            entries=[row.kept() for row in self.rows],
            head=self.head,
            checkpoints=self.checkpoints,
            keys={SIGNER.key},
            outside=self.outside,
        )


def said(number: int, dice: random.Random) -> Statement:
    at = BEGUN + timedelta(minutes=7 * number, microseconds=dice.randrange(10**6))
    content: dict[str, Any] = {"temp": f"{dice.randrange(30, 990) / 10:.1f}", "unit": "C", "thermometer": "T1"}
    return Statement(
        kitchen=KITCHEN,
        number=number,
        kind=dice.choice(["reading", "ice_added", "stirred"]),
        subject=f"cooling/2027-02-01/R{dice.randrange(1, 5)}/first/sink/1.1",
        content=content,
        happened_at=at,
        made_at=at + timedelta(seconds=dice.randrange(90)),
        by=dice.randrange(1, 4),
        by_login="kim",
        by_name="Kim Ostrander",
        role="cook",
        key=f"key-{number}-{dice.random()}",
        corrects=0,
        reason="",
        before="",
    )


def chained(statements: Iterable[Statement]) -> tuple[Row, ...]:
    """The rows as they would have been written, numbered and each after the one before."""
    rows: list[Row] = []
    for number, statement in enumerate(statements, 1):
        whole = replace(statement, number=number, before=rows[-1].leaf if rows else "")
        rows.append(Row(whole, leaf_hash(leaf_bytes(whole)).hex()))
    return tuple(rows)


def head_of(rows: Iterable[Row]) -> BookHead:
    peaks: tuple[bytes, ...] = ()
    size = 0
    for size, row in enumerate(rows, 1):
        peaks = peaks_with(peaks, size=size - 1, leaf=bytes.fromhex(row.leaf))
    return BookHead(size, tuple(peak.hex() for peak in peaks))


def checkpoint_of(rows: tuple[Row, ...], signer: Signer = SIGNER) -> KeptCheckpoint:
    root = root_of_peaks([bytes.fromhex(peak) for peak in head_of(rows).peaks])
    at = BEGUN + timedelta(days=1, minutes=len(rows))
    note = checkpoint_note(kitchen=KITCHEN, size=len(rows), root=root, at=at, signer=signer)
    return KeptCheckpoint(note=note, size=len(rows), root=root.hex(), signed_at=at, key_id=key_id(signer.key))


def a_book(dice: random.Random, size: int, signed_at: Iterable[int]) -> Book:
    """An honest book; the newest checkpoint is also in the inspector's hands."""
    rows = chained(said(number, dice) for number in range(1, size + 1))
    checkpoints = tuple(checkpoint_of(rows[:count]) for count in sorted(set(signed_at)))
    return Book(rows, head_of(rows), checkpoints, tuple(each.note for each in checkpoints[-1:]))
