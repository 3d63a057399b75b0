"""The signed note of an export package, and how its parts are written down.

The note is plain text like that of a checkpoint, every line closed by a line feed:

    Potwright package 1
    kitchen: <code>
    from: <first day>
    to: <last day>
    entries: <number of entries in the kitchen's whole book>
    files: <SHA-256 of files.json, base64>
    time: <UTC>
    key: <public key of Ed25519, base64>
    signature: <over all lines before this one, base64>
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from production.domain.ledger.canonical import canonical_bytes_quick
from production.domain.ledger.checkpoint import Signer
from production.domain.ledger.leaf import moment_text

HEADING = "Potwright package 1"
COLUMNS = (
    "number", "made_at", "happened_at", "kind", "subject", "by_name", "role", "corrects", "reason", "content", "key",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class PackageSaid:
    """What a package says of itself."""

    kitchen: str
    first_day: date
    last_day: date
    entries: int
    files_sha256: bytes
    at: datetime


def package_note(said: PackageSaid, *, signer: Signer) -> str:
    """Sign which files belong to a package.

    Equation: Ed25519 over all lines before the signature's.
    Units: said (record), signer [key]; returns [text].
    Valid: codes of one line.
    Errors: NotRecordable for a moment without a zone.
    Source: RFC 8032; the form of the note is our own, told above.
    """
    text = (
        f"{HEADING}\nkitchen: {said.kitchen}\nfrom: {said.first_day}\nto: {said.last_day}\nentries: {said.entries}\n"
        f"files: {b64encode(said.files_sha256).decode()}\ntime: {moment_text(said.at)}\n"
        f"key: {b64encode(signer.key).decode()}\n"
    )
    return f"{text}signature: {b64encode(signer.sign(text.encode())).decode()}\n"


def table_row(statement: Mapping[str, Any]) -> list[str]:
    """A record as a row of a table.

    Equation: its fields as text, the content in canonical JSON.
    Units: statement (fields as they are hashed); returns [text].
    Valid: statements of clean content.
    Errors: KeyError when a field is missing.
    Source: own format.
    """
    shown = {**statement, "content": canonical_bytes_quick(statement["content"]).decode()}
    return [str(shown[name]) for name in COLUMNS]


def number_ranges(numbers: Iterable[int]) -> list[list[int]]:
    """Numbers as pairs of first and last.

    Equation: neighbours are put together.
    Units: numbers [in rising order]; returns pairs [no quantities].
    Valid: rising numbers.
    Errors: none.
    Source: own format.
    """
    found: list[list[int]] = []
    for number in numbers:
        if found and found[-1][1] == number - 1:
            found[-1][1] = number
        else:
            found.append([number, number])
    return found
