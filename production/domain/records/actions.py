"""What may be done about a cooling that is slow, failed or cannot be shown, and until when."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from enum import StrEnum

from production.domain.limits import CoolingRule, Mark
from production.domain.records.readings import Reading
from production.domain.records.verdicts import State, Verdict

REHEAT_TO = {"F": Decimal(165), "C": Decimal(74)}  # the printed pair; 74 C is 165.2 F
REHEAT_HOLD = timedelta(seconds=15)
REHEAT_WITHIN = timedelta(hours=2)
# A guideline that asks for an assessment of each deviation leaves no room for a reheat on the floor.
ASSESSED_RULES = frozenset({"FSIS_B_OPT1", "FSIS_B_OPT2", "FSIS_B_OPT3"})

_PLANS = "sample procedures for school kitchens (USDA, Institute of Child Nutrition)"
_REHEATING = (
    "FDA Food Code 3-403.11(A) and (D), read in adopted texts; once only: sample procedures, the code is silent"
)
_DUTIES = "9 CFR 417.3: segregate and hold, review, document (2005 text)"
_METHODS = "FDA Food Code 3-501.15(A), read in adopted texts"


class Kind(StrEnum):
    """What is done."""

    COOL_FASTER = "cool_faster"
    SPLIT = "split"
    REHEAT = "reheat"
    HOLD = "hold"
    DISCARD = "discard"


@dataclass(frozen=True, slots=True)
class Reheats:
    """What the kitchen's authority allows: whether to reheat and cool again, and how often."""

    allowed: bool
    most: int = 1


@dataclass(frozen=True, slots=True)
class Action:
    """One thing that may be done; `until` is the last moment for it, None where there is none."""

    kind: Kind
    sentence: str
    until: datetime | None
    minutes_left: float | None
    source: str
    mark: Mark


class Reheat(StrEnum):
    """How a reheat stands."""

    DONE = "done"
    NOT_YET = "not_yet"
    TOO_LATE = "too_late"


def allowed_actions(
    *,
    rule: CoolingRule,
    verdict: Verdict,
    now: datetime,
    attempt: int,
    reheats: Reheats,
    reheat: Reheat | None = None,
) -> tuple[Action, ...]:
    """What the rule and the kitchen's setting allow, the mildest first; empty where nothing has to be done.

    Equation: while a stage runs, cool faster, split, or reheat and cool again as long as its conservative time is not
        over and a reheat is left; after it discard or hold; after a further failed attempt, and after a reheat that
        took too long, discard only.
    Units: rule, verdict (records), now [instant], attempt [1 for the first cooling], reheats (setting), reheat (how
        the reheat stands that this attempt began or ended with); returns instants and minutes left.
    Valid: verdicts of the rule at now.
    Errors: none.
    Source: each action names its own.
    """
    if reheat is Reheat.TOO_LATE:
        return (_discard("The reheat took more than 2 h: discard it.", "read in part"),)
    if verdict.state is State.RUNNING:
        return _while_running(rule, verdict, now, attempt, reheats)
    if verdict.state not in (State.BREACHED, State.NOT_SHOWN):
        return ()
    if attempt > 1:
        return (_discard("It was reheated before and did not come through again: discard it.", "read in part"),)
    if verdict.state is State.BREACHED:
        return _discard("A limit was missed: discard it.", "memory"), _hold(
            "Until that is done, mark it and keep it apart."
        )
    if any(each.start_at is None for each in verdict.stages if each.state is State.NOT_SHOWN):
        why = "Nobody can tell how long it was warm: discard it, unless a record shows when it was last hot."
        return _hold("Mark it and keep it apart while that record is looked for."), _discard(why, "memory")
    return (
        _hold("Mark it and keep it apart until somebody responsible has judged in writing what the log does not show."),
        _discard("Where nothing else shows that it was in time, discard it.", "memory"),
    )


def _while_running(
    rule: CoolingRule, verdict: Verdict, now: datetime, attempt: int, reheats: Reheats
) -> tuple[Action, ...]:
    stage = next(each for each in verdict.stages if each.state is State.RUNNING)
    until = stage.deadline_at
    left = None if until is None else max(0.0, (until - now) / timedelta(minutes=1))
    faster = "Cool it faster: more ice, stirring, or a stronger device."
    split = "Split it into smaller or shallower vessels and go on cooling, if it will still be in time."
    found = [
        Action(Kind.COOL_FASTER, faster, until, left, _METHODS, "read"),
        Action(Kind.SPLIT, split, until, left, _METHODS, "read"),
    ]
    if _may_reheat(rule, attempt, reheats):
        found.append(Action(Kind.REHEAT, _REHEAT_SENTENCE, until, left, _REHEATING, "read in part"))
    return tuple(found)


_REHEAT_SENTENCE = (
    "Reheat all of it to 165 °F (74 °C) for 15 s within 2 h, then cool it again by a faster way. "
    "The log of this attempt is closed and kept."
)


def _may_reheat(rule: CoolingRule, attempt: int, reheats: Reheats) -> bool:
    """Rules that count from an event are for food that was never hot, or say nothing of reheating."""
    from_hot = rule.stages[0].clock == "from_start"
    return from_hot and rule.code not in ASSESSED_RULES and reheats.allowed and attempt <= reheats.most


def _discard(sentence: str, mark: Mark) -> Action:
    return Action(Kind.DISCARD, sentence, None, None, _PLANS, mark)


def _hold(sentence: str) -> Action:
    return Action(Kind.HOLD, sentence, None, None, _DUTIES, "read in part")


def judge_reheat(*, begun_at: datetime, now: datetime, reading: Reading | None, held: timedelta) -> Reheat:
    """Whether a reheat reached its temperature, long enough and soon enough.

    Equation: temperature >= 165 F (74 C where Celsius is read) held for >= 15 s, reached within <= 2 h.
    Units: begun_at, now [instants], reading [as typed, None where there is none yet], held [time]; returns a state.
    Valid: the coldest part of the food; too late means discard.
    Errors: none.
    Source: FDA Food Code 3-403.11(A) and (D), read in adopted texts.
    """
    hot = reading is not None and reading.temp >= REHEAT_TO[reading.unit] and held >= REHEAT_HOLD
    if hot and reading is not None and reading.at - begun_at <= REHEAT_WITHIN:
        return Reheat.DONE
    return Reheat.TOO_LATE if now - begun_at > REHEAT_WITHIN else Reheat.NOT_YET
