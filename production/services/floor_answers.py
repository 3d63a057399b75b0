"""What the floor sends in, what it is answered, and how an answer is made. Handlers of entries build on this."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from production.domain.errors import PotwrightError
from production.models import Entry, Membership
from production.services.records import Draft, entries_append

Outcome = Literal["kept", "known", "questioned", "refused"]
QUESTION, QUESTION_SAYS, QUESTION_REMEDY = "question", "question_says", "question_remedy"


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What became of one entry; `questioned` means kept, but the person must look."""

    key: str
    outcome: Outcome
    number: int | None = None
    code: str = ""
    sentence: str = ""
    remedy: str = ""


# Does all that one entry leads to, inside the transaction that the door has opened. What goes wrong is raised.
Handler = Callable[[Membership, Draft, datetime], Answer]


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Why somebody must look at what was kept."""

    code: str
    sentence: str
    remedy: str = ""


def draft_kept(*, by: Membership, draft: Draft, now: datetime, question: Question | None = None) -> tuple[Answer, bool]:
    """Write a draft down, with the question that it raises; says also whether it is new.

    What a handler does besides must be done only for a new entry: the same one may come several times.
    """
    if question is not None:
        draft.content.update(question_content(question))
    appended = entries_append(by=by, drafts=[draft], now=now)
    entry, known = appended.entries[0], draft.key in appended.known
    return (answer_known(entry) if known else answer_of(entry)), not known


def question_content(question: Question) -> dict[str, Any]:
    """How a question is kept with its entry, so that it is asked again whenever the entry is sent again."""
    return {QUESTION: question.code, QUESTION_SAYS: question.sentence, QUESTION_REMEDY: question.remedy}


def answer_of(entry: Entry) -> Answer:
    """A new entry: kept, or kept and asked about."""
    return _about(entry, "questioned" if entry.content.get(QUESTION) else "kept")


def answer_known(entry: Entry) -> Answer:
    """An entry that had been there already; what was asked about it is told again."""
    return _about(entry, "known")


def refused(key: str, error: PotwrightError) -> Answer:
    """Nothing was written; why, and what to do."""
    return Answer(key=key, outcome="refused", code=error.code, sentence=error.sentence, remedy=error.remedy)


def _about(entry: Entry, outcome: Outcome) -> Answer:
    said = entry.content
    return Answer(
        key=entry.key,
        outcome=outcome,
        number=entry.number,
        code=str(said.get(QUESTION, "")),
        sentence=str(said.get(QUESTION_SAYS, "")),
        remedy=str(said.get(QUESTION_REMEDY, "")),
    )
