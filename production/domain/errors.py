"""One family of errors: a code, a sentence a cook understands, the numbers, and what to do next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


class PotwrightError(Exception):
    """Root of the family; every refusal of the domain is one of these."""

    code: str = "refused"

    def __init__(
        self,
        sentence: str,
        *,
        code: str | None = None,
        numbers: Mapping[str, object] | None = None,
        remedy: str = "",
    ) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.numbers: dict[str, object] = dict(numbers or {})
        self.remedy = remedy
        if code is not None:
            self.code = code

    def __str__(self) -> str:
        return self.sentence


class OutOfRange(PotwrightError):
    """A value lies outside the range in which a computation holds."""

    code = "out-of-range"


class BadQuantity(PotwrightError):
    """A typed amount cannot be read, is ambiguous, or has a unit of the wrong kind."""

    code = "bad-quantity"


class UnknownParameter(PotwrightError):
    """A coefficient or material was asked for that the parameter set does not hold."""

    code = "unknown-parameter"


class DoesNotFit(PotwrightError):
    """Something is larger than the pot, shelf, device or time it must go into."""

    code = "does-not-fit"


class NotAllowed(PotwrightError):
    """The person or the state of the record does not permit the action."""

    code = "not-allowed"


class Conflict(PotwrightError):
    """Somebody else changed the same thing first."""

    code = "conflict"


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong in a week file: where (JSON pointer), what was found, what is allowed."""

    pointer: str
    found: str
    allowed: str
    sentence: str


class BadWeekFile(PotwrightError):
    """A week file is refused; all problems are told at once."""

    code = "bad-week-file"

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        count = len(problems)
        super().__init__(
            f"The week file has {count} problem{'' if count == 1 else 's'}.",
            numbers={"problems": count},
            remedy="Correct every listed place and try again; nothing was written.",
        )
        self.problems = problems
        self.args = (problems,)
