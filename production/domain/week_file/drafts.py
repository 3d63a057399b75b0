"""An entry of the week file on its way to becoming a dataclass: only the fields that could be read are there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from production.domain.errors import Problem
from production.domain.week_file.layout import Path, pointer


@dataclass(frozen=True, slots=True)
class Draft:
    """Fields of one entry that were read without a problem, and where it stands in the file."""

    of: type
    path: Path
    name: str
    values: Mapping[str, Any]

    def take(self, *names: str) -> tuple[Any, ...] | None:
        """The named values together; None unless every one of them is there and filled in."""
        found = tuple(self.values.get(name) for name in names)
        return None if any(value is None for value in found) else found

    def entries(self, name: str) -> tuple[Draft, ...]:
        """The entries of a list; none when the list could not be read."""
        found: tuple[Draft, ...] = self.values.get(name) or ()
        return found

    def problem(self, field: str, *, found: object, allowed: str, sentence: str) -> Problem:
        """Something wrong with one field of this entry (with the entry itself when the field is empty)."""
        place = (*self.path, field) if field else self.path
        return Problem(pointer(place), str(found), allowed, f"{self.name}: {sentence}")

    def build(self) -> Any:
        """The finished dataclass."""
        return self.of(**{name: _built(value) for name, value in self.values.items()})


def _built(value: Any) -> Any:
    if isinstance(value, Draft):
        return value.build()
    if isinstance(value, tuple):
        return tuple(_built(entry) for entry in value)
    return value
