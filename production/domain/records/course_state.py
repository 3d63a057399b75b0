"""What was recorded, put to the steps: which counts, which came besides, what was taken back, where the run stands."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from production.domain.records.course_content import Noted, State, Status, Step, StepNow, Timer

WITHDRAWN = "withdrawn"
_NOTHING = timedelta(0)


@dataclass(frozen=True, slots=True)
class Records:
    """Living entries by step, the first that happened in front; and the keys of those that no longer count."""

    by_step: Mapping[str, tuple[Noted, ...]]
    others: tuple[Noted, ...]  # of no step of this run
    dead: frozenset[str]

    def first(self, code: str) -> Noted | None:
        """The record of a step that counts."""
        found = self.by_step.get(code)
        return found[0] if found else None


def records_of(steps: Sequence[Step], notes: Iterable[Noted]) -> Records:
    """Put entries to the steps that they record.

    Equation: an entry counts unless a living entry corrects it; withdrawing is such a correction, and may be withdrawn
        itself. What corrects an entry stands in its place, at its time. Order is what happened first, then the book.
    Units: steps, notes (records); returns records.
    Valid: entries of one run, in any order of arrival.
    Errors: none.
    Source: own definition.
    """
    known = {note.key: note for note in notes}
    dead: set[str] = set()
    for note in sorted(known.values(), key=lambda each: -each.number):
        if note.corrects and note.key not in dead:
            dead.add(note.corrects)
    codes = {step.code for step in steps}
    by_step: dict[str, list[Noted]] = {}
    others = []
    for note in sorted(known.values(), key=lambda each: _place(each, known)):
        if note.key in dead or note.kind == WITHDRAWN:
            continue
        done = replace(note, happened_at=_root(note, known).happened_at)
        if note.step in codes:
            by_step.setdefault(note.step, []).append(done)
        else:
            others.append(done)
    return Records({code: tuple(each) for code, each in by_step.items()}, tuple(others), frozenset(dead & set(known)))


def _place(note: Noted, known: Mapping[str, Noted]) -> tuple[datetime, int]:
    root = _root(note, known)
    return root.happened_at, root.number


def _root(note: Noted, known: Mapping[str, Noted]) -> Noted:
    """What was recorded first: a correction takes its place and its time, and changes only what was typed."""
    while note.kind != WITHDRAWN and note.corrects in known and known[note.corrects].kind == note.kind:
        note = known[note.corrects]
    return note


def steps_now(
    steps: Sequence[Step], records: Records, *, state: State, predicted: Mapping[str, datetime], now: datetime
) -> tuple[StepNow, ...]:
    """Where each step stands, and when what is left is expected.

    Equation: planned time + lateness of the last step that moves times; a step that moves times and is overdue is
        expected now. Nothing is expected before its planned time. The first open step is the current one, two are next.
    Units: steps, records (records), predicted [instant] by step, now [instant]; returns records.
    Valid: steps in their order.
    Errors: none.
    Source: own definition.
    """
    place = {step.code: at for at, step in enumerate(steps)}
    done = {at for at, step in enumerate(steps) if records.first(step.code)}
    over = state in ("finished", "broken_off")
    closed = [over or _is_closed(at, step, steps, done, place) for at, step in enumerate(steps)]
    open_now = [at for at, step in enumerate(steps) if not closed[at] and (at not in done or step.repeats)]
    shift, found = _NOTHING, []
    for at, step in enumerate(steps):
        mine = records.by_step.get(step.code, ())
        status: Status = _status(at, step, open_now, has_record=bool(mine))
        is_waiting = at in open_now and state != "not_begun"
        expected, shift = _expected(step, mine, shift, predicted.get(step.code), now if is_waiting else None)
        record = (mine[-1] if step.repeats else mine[0]) if mine else None
        also = (mine[:-1] if step.repeats else mine[1:]) if mine else ()
        found.append(StepNow(step=step, status=status, expected_at=expected, record=record, also=also))
    return tuple(found)


def _is_closed(at: int, step: Step, steps: Sequence[Step], done: set[int], place: Mapping[str, int]) -> bool:
    """Whether something later has been done, so that it is too late to be asked for this step."""
    if step.open_until:
        closes = place.get(step.open_until, len(steps))
        return any(each >= closes for each in done)
    return any(each > at and steps[each].moves_times for each in done)


def _status(at: int, step: Step, open_now: Sequence[int], *, has_record: bool) -> Status:
    if at not in open_now:
        return "done" if has_record else "skipped"
    waiting = open_now.index(at)
    return "current" if waiting == 0 else "next" if waiting <= 2 else "later"


def _expected(
    step: Step, mine: Sequence[Noted], shift: timedelta, predicted: datetime | None, now: datetime | None
) -> tuple[datetime, timedelta]:
    """When a step was done or is expected, and how late what comes after it will be; `now` while it is waited for."""
    if mine and not step.repeats:
        at = mine[0].happened_at
        return at, max(_NOTHING, at - step.planned_at) if step.moves_times else shift
    if mine:
        return mine[-1].happened_at, shift
    at = predicted or step.planned_at + shift
    if step.moves_times and now is not None:
        at = max(at, now)
        return at, max(_NOTHING, at - step.planned_at)
    return at, shift


def timers_of(steps: Iterable[StepNow]) -> tuple[Timer, ...]:
    """What is waited for, soonest first.

    Equation: of each kind of waiting the first open step.
    Units: steps (records); returns records with instants.
    Valid: steps of a run that has begun.
    Errors: none.
    Source: own definition.
    """
    found: dict[str, Timer] = {}
    for each in steps:
        label = "" if each.step.repeats else _WAITED_FOR.get(each.step.kind, "")
        if label and each.status in ("current", "next", "later") and label not in found:
            found[label] = Timer(label, each.step.code, each.expected_at)
    return tuple(sorted(found.values(), key=lambda timer: timer.until))


_WAITED_FOR = {
    "boil_reached": "boil",
    "addition_made": "next addition",
    "temp_taken": "next temperature",
    "drawn": "draw-off",
    "reduction_checked": "end of the reduction",
}
