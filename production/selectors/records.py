"""Entries as they are shown: in order, with what was corrected struck through, and each with its proof."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from django.db.models import QuerySet

from production.domain.errors import Conflict
from production.domain.ledger import Statement, Tree, leaf_bytes
from production.models import Checkpoint, Entry, Membership
from production.selectors.access import Action, require


@dataclass(frozen=True, slots=True)
class Told:
    """An entry, and whether a later one strikes it through, with the number and reason of that one."""

    entry: Entry
    struck: bool
    by_number: int | None = None
    reason: str = ""


def entries_of(*, by: Membership, subject: str) -> QuerySet[Entry]:
    """All entries of a subject, in the order in which they were written down."""
    require(by, Action.SEE_RECORDS)
    entries = Entry.objects.filter(kitchen_id=by.kitchen_id, subject=subject)
    return entries.select_related("corrects").order_by("number")


def history_of(*, by: Membership, subject: str) -> tuple[Told, ...]:
    """The same, each with whether it still counts. A correction that was itself withdrawn strikes nothing."""
    entries = list(entries_of(by=by, subject=subject))
    struck: dict[int, Entry] = {}
    for each in reversed(entries):  # the latest word comes first
        if each.corrects_id is not None and each.pk not in struck and not confirms(each):
            struck.setdefault(each.corrects_id, each)
    return tuple(_told(each, struck.get(each.pk)) for each in entries)


def confirms(entry: Entry) -> bool:
    """Does it say that the corrected entry was right after all?"""
    return "confirms" in entry.content


def _told(entry: Entry, later: Entry | None) -> Told:
    return Told(entry, True, later.number, later.reason) if later else Told(entry, False)


def last_checkpoint(*, by: Membership) -> Checkpoint | None:
    """The newest signed checkpoint of the kitchen's book."""
    require(by, Action.SEE_RECORDS)
    return Checkpoint.objects.filter(kitchen_id=by.kitchen_id).order_by("-size", "-pk").first()


def proofs_of(*, checkpoint: Checkpoint, entries: Sequence[Entry], tree: Tree | None = None) -> dict[str, Any]:
    """Proof that these entries stand in the book that the checkpoint vouches for; it can be checked without the book.

    `leaf` are the bytes that were hashed, `index` their place counted from 0, `path` the hashes that lead to the root
    (RFC 9162, section 2.1.3.2); all in base64. Whoever proves several times makes the checkpoint's tree once.
    """
    tree = tree or Tree(_leaves(checkpoint, entries))
    return {
        "checkpoint": checkpoint.note,
        "entries": [
            {
                "leaf": _base64(entry_bytes(each, kitchen_code=checkpoint.kitchen.code)),
                "index": each.number - 1,
                "size": checkpoint.size,
                "path": [_base64(step) for step in tree.inclusion(each.number - 1)],
            }
            for each in entries
        ],
    }


def proof_of_entry(*, checkpoint: Checkpoint, entry: Entry) -> dict[str, Any]:
    """The proof of one entry, with the checkpoint's note."""
    proofs = proofs_of(checkpoint=checkpoint, entries=[entry])
    return {"checkpoint": proofs["checkpoint"], **proofs["entries"][0]}


def seal_text(*, checkpoint: Checkpoint, subject: str, entries: Sequence[Entry]) -> str:
    """What a QR code on a paper says: the checkpoint's note, and a hash over the leaves that the paper shows."""
    numbers = [each.number for each in entries]
    leaves = sha256(b"".join(bytes.fromhex(each.leaf_sha256) for each in entries)).digest()
    return (
        f"{checkpoint.note}subject: {subject}\nshown: {len(numbers)} entries, {min(numbers)} to {max(numbers)}\n"
        f"leaves: {_base64(leaves)}\n"
    )


def tree_of(*, checkpoint: Checkpoint) -> Tree:
    """The tree over all entries that the checkpoint vouches for."""
    return Tree(_leaves(checkpoint, []))


def growth_proof(*, older: Checkpoint, newer: Checkpoint) -> list[str]:
    """The hashes that show that nothing the older checkpoint vouches for was written anew (section 2.1.4.2)."""
    if older.size == 0:
        return []
    return [_base64(step) for step in Tree(_leaves(newer, [])).consistency(older.size)]


def entry_bytes(row: Entry, *, kitchen_code: str) -> bytes:
    """What is hashed of an entry: all that it says, in the canonical form of RFC 8785."""
    return leaf_bytes(statement_of(row, kitchen_code=kitchen_code))


def statement_of(row: Entry, *, kitchen_code: str) -> Statement:
    """All that an entry says."""
    return Statement(
        kitchen=kitchen_code,
        number=row.number,
        kind=row.kind,
        subject=row.subject,
        content=row.content,
        happened_at=row.happened_at,
        made_at=row.made_at,
        by=row.by_id or 0,
        by_login=row.by_login,
        by_name=row.by_name,
        role=row.role,
        key=row.key,
        corrects=row.corrects.number if row.corrects else 0,
        reason=row.reason,
        before=row.before_sha256,
    )


def _leaves(checkpoint: Checkpoint, entries: Iterable[Entry]) -> list[bytes]:
    late = [each.number for each in entries if each.number > checkpoint.size]
    if late:
        raise Conflict(
            f"The checkpoint vouches for {checkpoint.size} entries; entry {late[0]} came later.",
            code="checkpoint-too-old",
            numbers={"size": checkpoint.size, "number": late[0]},
            remedy="Sign the records anew.",
        )
    rows = Entry.objects.filter(kitchen_id=checkpoint.kitchen_id, number__lte=checkpoint.size).order_by("number")
    return [bytes.fromhex(leaf) for leaf in rows.values_list("leaf_sha256", flat=True).iterator(chunk_size=10_000)]


def _base64(data: bytes) -> str:
    return b64encode(data).decode()
