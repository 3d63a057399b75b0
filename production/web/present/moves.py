"""The verdict on a move, in words."""

from __future__ import annotations

from dataclasses import dataclass

from production.domain.plan import MoveVerdict
from production.web.style import duration_text


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """Whether it fits, and what stands against it or follows from it."""

    fits: bool
    head: str
    sentences: tuple[str, ...]
    sign: str


def verdict_of(judged: MoveVerdict) -> Verdict:
    """What the checker says, with all other runs left where they are."""
    if judged.never:
        return Verdict(fits=False, head="It cannot be there", sentences=judged.sentences, sign="caution")
    if not judged.fits:
        head = "It does not fit while everything else stays where it is"
        held = "A re-plan may make room: hold the run so, and re-plan."
        return Verdict(fits=False, head=head, sentences=(*judged.sentences, held), sign="caution")
    return Verdict(fits=True, head=_head(judged), sentences=judged.sentences, sign="done")


def _head(judged: MoveVerdict) -> str:
    minutes = 60 * judged.later_h
    if abs(minutes) < 1:
        return "It fits, and nothing gets later"
    word = "later" if minutes > 0 else "less late"
    return f"It fits; weighed by importance the plan gets {duration_text(abs(minutes))} {word}"


def asks_too_little() -> Verdict:
    """What is said while the form names no run."""
    return Verdict(
        fits=False, head="Choose a run, and a pot or a start", sentences=("Then it is tried at once.",), sign="info"
    )
