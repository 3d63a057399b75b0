"""When records are to be reviewed, what a signature may say, and what becomes of food after a deviation."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from types import MappingProxyType

from production.domain.errors import Conflict, NotAllowed, PotwrightError
from production.domain.records.actions import Kind

SATURDAY = 5
MEANINGS: Mapping[str, str] = MappingProxyType(
    {
        "review": "I have reviewed this record.",
        "approval": "I have reviewed this record and approve what was done.",
    }
)
DISPOSITIONS: Mapping[str, str] = MappingProxyType(
    {
        "discard": "All of it is thrown away",
        "release": "It is released: somebody competent has judged it in writing",
        "reheat": "It was re-heated and cooled again: the next attempt decides",
        "none": "No food is concerned",
    }
)
PUT_RIGHT = "put_right"  # what caused it, not the food


def working_days_after(*, day: date, days: int) -> date:
    """The last day of a limit of so many working days.

    Equation: the days-th Monday to Friday after day.
    Units: day [calendar day], days (count); returns [calendar day].
    Valid: every day; public holidays are not known here and count as working days, so that nothing is late unseen.
    Errors: none.
    Source: 21 CFR 117.165(a)(4)(i): records within 7 working days after they were made (from memory).
    """
    left, at = days, day
    while left > 0:
        at += timedelta(days=1)
        left -= at.weekday() < SATURDAY
    return at


def overdue_up_to(*, today: date, days: int) -> date:
    """The newest day whose records are overdue today.

    Equation: the latest day with working_days_after(day, days) < today.
    Units: today [calendar day], days (count); returns [calendar day].
    Valid: every day.
    Errors: none.
    Source: as working_days_after.
    """
    day = today - timedelta(days=1)
    while working_days_after(day=day, days=days) >= today:
        day -= timedelta(days=1)
    return day


def quarter_of(*, day: date) -> tuple[date, date]:
    """The first and the last day of a calendar quarter.

    Equation: January to March, April to June, July to September, October to December.
    Units: day [calendar day]; returns [calendar days].
    Valid: every day.
    Errors: none.
    Source: calendar.
    """
    first = date(day.year, (day.month - 1) // 3 * 3 + 1, 1)
    after = date(first.year + first.month // 10, (first.month + 2) % 12 + 1, 1)
    return first, after - timedelta(days=1)


# --- reviews ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class ToSign:
    """What a signature would be set under."""

    meaning: str
    verdict: str  # of the log; nothing while it is open
    recorded_by: tuple[str, ...]  # who wrote something into it
    is_own: bool  # the signer is among them
    signed_by: str  # whose signature stands, if any
    open_deviations: tuple[int, ...]
    seen: int  # the newest entry that the signer has seen
    newest: int  # the newest entry that there is


def refuse_signature(asked: ToSign) -> None:
    """Refuse a signature that could not stand for what it says.

    Equation: a closed log; not yet signed; nothing new since it was shown; nothing of it recorded by the signer;
        approved only when no deviation is open.
    Units: no quantities; asked (record).
    Valid: every log.
    Errors: PotwrightError, Conflict or NotAllowed with the reason.
    Source: own definition; a reviewer who is not the recorder and a signature with name, time and meaning follow the
        intent of 21 CFR 11.10 and 11.50, read.
    """
    if asked.meaning not in MEANINGS:
        raise PotwrightError(
            "A signature says what it means.", code="signature-without-meaning", remedy="Choose review or approval."
        )
    if not asked.verdict:
        raise Conflict(
            "This log is still open: there is nothing to sign yet.",
            code="review-of-open-log",
            remedy="Wait until it is closed; you can ask the kitchen about it now.",
        )
    if asked.is_own:
        raise NotAllowed(
            "Who has recorded something in a log does not review it.",
            code="reviewer-recorded",
            numbers={"recorded_by": ", ".join(asked.recorded_by)},
            remedy="Ask another inspector.",
        )
    if asked.signed_by:
        raise Conflict(
            f"This log is signed already, by {asked.signed_by}.",
            code="signed-already",
            remedy="Go on with the next one.",
        )
    if asked.seen != asked.newest:
        raise Conflict(
            "Something was written into this log while you looked at it.",
            code="log-changed-meanwhile",
            numbers={"seen": asked.seen, "newest": asked.newest},
            remedy="Look at it again, then sign.",
        )
    if asked.meaning == "approval" and asked.open_deviations:
        raise Conflict(
            "What was done cannot be approved while a deviation is open.",
            code="approval-before-closing",
            numbers={"deviations": list(asked.open_deviations)},
            remedy="Sign as reviewed, or wait until the manager has closed the deviation.",
        )


# --- deviations -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class ToClose:
    """What a manager gives to close a deviation."""

    cause: str
    prevention: str
    disposition: str
    quantity: str
    witness: str
    evaluation: str
    actions: int  # corrective actions that stand in the book


def dispositions_for(
    *, verdict: str, allowed: Collection[Kind], has_next_attempt: bool, holds_food: bool
) -> tuple[str, ...]:
    """What may become of the food that a deviation is about, the most careful first.

    Equation: a log that is not met: discard; reheat where a next attempt was begun; release where the rule's actions
        still say hold. Otherwise also none, or release and discard where lots are named.
    Units: verdict (met, breached, not_shown, or nothing), allowed (kinds of actions), has_next_attempt, holds_food (yes
        or no); returns names of dispositions.
    Valid: every deviation.
    Errors: none.
    Source: allowed_actions; hold, evaluate, decide in writing: 9 CFR 417.3, read; after a second failure only
        discarding.
    """
    if verdict in ("breached", "not_shown"):
        found = ["discard"]
        found += ["reheat"] if has_next_attempt else []
        return tuple(found + (["release"] if Kind.HOLD in allowed else []))
    return ("none", "discard", "release") if holds_food else ("none",)


def refuse_closing(given: ToClose, *, dispositions: Sequence[str]) -> None:
    """Refuse to close a deviation before everything about it is told.

    Equation: cause, prevention, quantity, at least one corrective action, an allowed disposition; a witness where food
        is thrown away, an evaluation where it is released.
    Units: no quantities; given (record), dispositions (names).
    Valid: every deviation.
    Errors: PotwrightError with what is missing; NotAllowed for a disposition that the rule does not allow.
    Source: fields of 9 CFR 417.3(a) and (b), read; witness: common practice, no source.
    """
    if given.disposition not in dispositions:
        raise NotAllowed(
            "The rule does not allow that this becomes of it.",
            code="disposition-not-allowed",
            numbers={"allowed": ", ".join(dispositions)},
            remedy=f"Choose one of: {', '.join(dispositions)}.",
        )
    if not given.actions:
        raise PotwrightError(
            "No corrective action is recorded yet.",
            code="deviation-without-action",
            remedy="Record what was done at once, then close it.",
        )
    missing = [name for name, text in _needed(given).items() if len(text.split()) == 0]
    if missing:
        raise PotwrightError(
            f"This is not told yet: {', '.join(missing)}.",
            code="deviation-not-told",
            numbers={"missing": ", ".join(missing)},
            remedy="Fill in what is missing, then close it.",
        )


def _needed(given: ToClose) -> dict[str, str]:
    needed = {"cause": given.cause, "prevention": given.prevention}
    if given.disposition != "none":
        needed["quantity"] = given.quantity
    if given.disposition == "discard":
        needed["witness"] = given.witness
    if given.disposition == "release":
        needed["evaluation"] = given.evaluation
    return needed
