"""What a manager asks of the planner: runs held where they are, and what has happened in the kitchen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING, Annotated, Any, Literal, cast
from zoneinfo import ZoneInfo

from pydantic import Field, TypeAdapter, ValidationError

from production.domain.errors import PotwrightError
from production.domain.formula import pot_allowed
from production.domain.plan.clock import clock_text

if TYPE_CHECKING:
    from production.domain.kitchen import Week
    from production.domain.plan.content import Plan, PlannedRun


@dataclass(frozen=True, slots=True, kw_only=True)
class LockRun:
    """A run that has not begun stays in a pot, at a start, or as large as it is."""

    kind: Literal["lock-run"] = "lock-run"
    run: str
    pot: str | None = None
    start_at: datetime | None = None
    keep_size: bool = False  # its containers stay even where their orders are gone


@dataclass(frozen=True, slots=True, kw_only=True)
class PotOut:
    """A pot or pan cannot be used for a while."""

    kind: Literal["pot-out"] = "pot-out"
    pot: str
    start: datetime
    end: datetime
    reason: str
    batch_lost: bool = True  # what is in it at the start is lost; otherwise it is finished first


@dataclass(frozen=True, slots=True, kw_only=True)
class RunLost:
    """A run that gives nothing: its containers have to be made again."""

    kind: Literal["run-lost"] = "run-lost"
    run: str
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoilAt:
    """A run has come to the boil, or is expected to, at another time than planned."""

    kind: Literal["boil-at"] = "boil-at"
    run: str
    boil_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class StartedAt:
    """When loading a run has really begun."""

    kind: Literal["started-at"] = "started-at"
    run: str
    start_at: datetime


Ask = Annotated[LockRun | PotOut | RunLost | BoilAt | StartedAt, Field(discriminator="kind")]


@cache
def _adapter() -> TypeAdapter[Ask]:
    return TypeAdapter(Ask)


def ask_to_json(ask: Ask) -> dict[str, Any]:
    """What is asked, as plain JSON values.

    Equation: fields as they are; instants in ISO 8601.
    Units: ask (record); returns plain values.
    Valid: every ask.
    Errors: none.
    Source: own format.
    """
    return cast(dict[str, Any], _adapter().dump_python(ask, mode="json"))


def ask_from_json(data: Mapping[str, Any]) -> Ask:
    """Read what is asked from plain JSON values.

    Equation: the inverse of ask_to_json; `kind` says which fields there are. Instants must name their offset.
    Units: data (plain values); returns a record.
    Valid: kinds lock-run, pot-out, run-lost, boil-at, started-at.
    Errors: PotwrightError `ask-unreadable` for another kind, a missing field or an instant without an offset.
    Source: own format.
    """
    try:
        ask = _adapter().validate_python(data)
    except ValidationError as error:
        first = error.errors()[0]
        raise PotwrightError(
            f"What is asked of the planner cannot be read at {'/'.join(str(part) for part in first['loc'])}: "
            f"{first['msg']}.",
            code="ask-unreadable",
            numbers={"problems": error.error_count()},
            remedy="Give the kind and every field of it.",
        ) from error
    if any(getattr(ask, name, None) and getattr(ask, name).tzinfo is None for name in _INSTANTS):
        raise PotwrightError(
            "A time that is asked for does not say its offset.",
            code="ask-unreadable",
            remedy="Write the time with its offset from UTC.",
        )
    return ask


_INSTANTS = ("start_at", "start", "end", "boil_at")


def ask_text(ask: Ask, week: Week) -> str:
    """What is asked, as a sentence.

    Equation: the words of its kind with names and clock times.
    Units: ask, week (records); returns text.
    Valid: pots of the week; another code is shown as it is.
    Errors: none.
    Source: own definition.
    """
    zone = ZoneInfo(week.kitchen.time_zone)
    if isinstance(ask, LockRun):
        held = [f"in {_pot_name(week, ask.pot)}"] if ask.pot else []
        held += [f"at {clock_text(ask.start_at, zone)}"] if ask.start_at else []
        held += ["as large as it is"] if ask.keep_size else []
        return f"{ask.run} stays {' and '.join(held)}."
    if isinstance(ask, PotOut):
        lost = ", and what is in it is lost" if ask.batch_lost else ", once what is in it is done"
        when = f"from {clock_text(ask.start, zone)} to {clock_text(ask.end, zone)}"
        return f"{_pot_name(week, ask.pot)} is out of use {when}{lost} ({ask.reason})."
    if isinstance(ask, RunLost):
        return f"{ask.run} is lost{f' ({ask.reason})' if ask.reason else ''}."
    if isinstance(ask, BoilAt):
        return f"{ask.run} comes to the boil at {clock_text(ask.boil_at, zone)}."
    return f"{ask.run} was begun at {clock_text(ask.start_at, zone)}."


def _pot_name(week: Week, code: str) -> str:
    return next((pot.name for pot in week.pots if pot.code == code), code)


def check_asks(*, base: Plan, asks: Iterable[Ask], now: datetime) -> None:
    """Refuse what cannot be asked of the planner about a plan.

    Equation: each ask by itself against the plan and the clock; what the plan was made with already is not read again.
        Of two asks of one kind about one run the later one holds.
    Units: base, asks (records), now [instant]; returns nothing.
    Valid: any plan.
    Errors: PotwrightError `ask-does-not-hold` with what is wrong about the first that cannot be.
    Source: own definition.
    """
    for ask in asks:
        wrong = None if ask in base.asks else _wrong(base, ask, now)
        if wrong is not None:
            raise PotwrightError(
                wrong[0],
                code="ask-does-not-hold",
                numbers={"ask": ask.kind, "about": ask.pot if isinstance(ask, PotOut) else ask.run},
                remedy=wrong[1],
            )


_Wrong = tuple[str, str] | None  # sentence, remedy


def _wrong(base: Plan, ask: Ask, now: datetime) -> _Wrong:
    if isinstance(ask, PotOut):
        return _wrong_outage(base, ask, now)
    run = next((run for run in base.runs if run.code == ask.run), None)
    if run is None:
        return f"There is no run {ask.run} in this plan.", "Look at the newest plan for the run's code."
    if isinstance(ask, LockRun):
        return _wrong_lock(base, ask, run, now)
    zone = ZoneInfo(base.week.kitchen.time_zone)
    if isinstance(ask, StartedAt) and ask.start_at > now:
        return (
            f"{clock_text(ask.start_at, zone)} is still to come: {ask.run} cannot have been begun then.",
            "Lock the run's start instead.",
        )
    if isinstance(ask, BoilAt):
        begun = [each.start_at for each in base.asks if isinstance(each, StartedAt) and each.run == ask.run]
        start = begun[-1] if begun else run.start_at
        if ask.boil_at <= start:
            return f"{ask.run} cannot boil before it is loaded ({clock_text(start, zone)}).", "Correct the time."
    return None


def _wrong_outage(base: Plan, ask: PotOut, now: datetime) -> _Wrong:
    if all(pot.code != ask.pot for pot in base.week.pots):
        return f"The kitchen has no pot {ask.pot}.", "Choose one of its pots."
    if ask.end <= ask.start:
        return "The pot would be back before it is out of use.", "Correct the times."
    if ask.end <= now:
        return "That time is over: the pot is back in use.", "Nothing needs to be planned again for it."
    return None


def _wrong_lock(base: Plan, ask: LockRun, run: PlannedRun, now: datetime) -> _Wrong:
    zone = ZoneInfo(base.week.kitchen.time_zone)
    if not (ask.pot or ask.start_at or ask.keep_size):
        return f"Nothing of {ask.run} is held.", "Say which pot or start it keeps, or that it keeps its size."
    if run.start_at < now and (ask.pot or ask.start_at):
        return f"{ask.run} has been begun: its pot and its start stand.", "Report what has happened to it instead."
    if ask.start_at is not None and ask.start_at < now:
        return f"{clock_text(ask.start_at, zone)} is over.", "Choose a start that is still to come."
    return _wrong_pot(base, run, ask.pot) if ask.pot else None


def _wrong_pot(base: Plan, run: PlannedRun, code: str) -> _Wrong:
    pot = next((pot for pot in base.week.pots if pot.code == code), None)
    formula = next(each for each in base.week.formulas if each.code == run.formula)
    if pot is None:
        return f"The kitchen has no pot {code}.", "Choose one of its pots."
    if pot.reduction_pan:
        return f"{pot.name} is a pan for reductions: no stock is made in it.", "Choose a stock pot."
    if not pot_allowed(formula=formula, pot=pot):
        return f"{formula.name} may not be made in {pot.name}.", "Choose another pot, or allow this one for it."
    return None
