"""What an entry says, as the bytes that are hashed: one line of JSON that anybody can read."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from production.domain.ledger.canonical import NotRecordable, canonical_bytes, canonical_bytes_quick


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """All that an entry says. Who made it is told by number, sign-in name and printed name, as they were then."""

    kitchen: str
    number: int
    kind: str
    subject: str
    content: dict[str, Any]
    happened_at: datetime
    made_at: datetime
    by: int
    by_login: str
    by_name: str
    role: str
    key: str
    corrects: int
    reason: str
    before: str

    def as_json(self) -> dict[str, Any]:
        """The fields by name; moments as text, 0 where nothing is corrected."""
        return {
            "before": self.before,
            "by": self.by,
            "by_login": self.by_login,
            "by_name": self.by_name,
            "content": self.content,
            "corrects": self.corrects,
            "happened_at": moment_text(self.happened_at),
            "key": self.key,
            "kind": self.kind,
            "kitchen": self.kitchen,
            "made_at": moment_text(self.made_at),
            "number": self.number,
            "reason": self.reason,
            "role": self.role,
            "subject": self.subject,
        }


def moment_text(moment: datetime) -> str:
    """A moment in the one form in which it is hashed, signed and exported.

    Equation: UTC, six digits of the second, closed by Z.
    Units: moment [aware]; returns [no quantities].
    Valid: aware moments of the years 1 to 9999.
    Errors: NotRecordable for a moment without a zone.
    Source: RFC 3339, the profile chosen here.
    """
    if moment.tzinfo is None:
        raise NotRecordable(
            "A time without its zone cannot be written down.", remedy="Send the time with its offset from UTC."
        )
    return f"{moment.astimezone(UTC).replace(tzinfo=None).isoformat(timespec='microseconds')}Z"


def leaf_bytes(statement: Statement) -> bytes:
    """What is hashed of an entry: all that it says, and the hash of the entry before.

    Equation: canonical JSON of the fields.
    Units: statement [no quantities]; returns [no quantities].
    Valid: statements of clean content.
    Errors: NotRecordable when something has no canonical form.
    Source: RFC 8785.
    """
    return canonical_bytes(statement.as_json())


def leaf_bytes_quick(statement: Statement) -> bytes:
    """The same for reading back a whole book.

    Equation: as `leaf_bytes`.
    Units: statement [no quantities]; returns [no quantities].
    Valid: statements that were written through `leaf_bytes`.
    Errors: ValueError for what can be no text in UTF-8.
    Source: RFC 8785.
    """
    return canonical_bytes_quick(statement.as_json())
