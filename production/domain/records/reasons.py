"""Why a stage is judged as it is, in sentences: temperatures as they were typed, times on the kitchen's clock."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta, timezone, tzinfo
from decimal import Decimal

from production.domain.limits import CoolingRule, Stage
from production.domain.records.digest import Digest, Passage
from production.domain.records.readings import Reading


@dataclass(frozen=True, slots=True)
class Words:
    """How moments are written: the clock of the kitchen, with its offset where the clock alone would not do."""

    zone: tzinfo
    with_offset: bool

    def time(self, at: datetime) -> str:
        """A moment on the kitchen's clock, with seconds only where there are any."""
        local = at.astimezone(self.zone)
        clock = f"{local:%H:%M:%S}" if local.second or local.microsecond else f"{local:%H:%M}"
        offset = f" {local:%Z}" if self.with_offset else ""
        return f"{local.day} {local:%b} {clock}{offset}"

    def read(self, reading: Reading) -> str:
        """A reading with its moment."""
        return f"{reading.text} on {self.time(reading.at)}"


def words_for(found: Digest, zone: tzinfo) -> Words:
    """How the moments of one log are written.

    Equation: the offset is told where it differs between the moments of the log, and where the zone is nothing but one.
    Units: found (record), zone (time zone); returns a record.
    Valid: any log.
    Errors: none.
    Source: own definition.
    """
    known = [found.event_at, found.hot_fact_at, *(each.at for each in (found.hot, found.below, found.last) if each)]
    offsets = {at.astimezone(zone).utcoffset() for at in known if at is not None}
    return Words(zone, len(offsets) > 1 or isinstance(zone, timezone))


def spell(length: timedelta) -> str:
    """A length of time without rounding: "2 h", "1 h 55 min", "2 h 1 s".

    Equation: whole hours, minutes and seconds, those that are zero left out.
    Units: length [time]; returns text.
    Valid: length >= 0.
    Errors: none.
    Source: own definition.
    """
    minutes, rest = divmod(length, timedelta(minutes=1))
    seconds = Decimal(rest // timedelta(microseconds=1)) / 1_000_000
    parts = [(minutes // 60, "h"), (minutes % 60, "min"), (seconds.normalize(), "s")]
    return (
        " ".join(f"{count:f} {unit}" if unit == "s" else f"{count} {unit}" for count, unit in parts if count) or "0 min"
    )


def degrees(temp: Decimal | None, stage: Stage) -> str:
    """A limit with its unit.

    Equation: as the rule prints it.
    Units: temp [F or C as the stage says], stage (record); returns text.
    Valid: every stage.
    Errors: none.
    Source: own definition.
    """
    return f"{temp} °{stage.unit}"


def limit_text(stage: Stage) -> str:
    """The time limit of a stage.

    Equation: "2 h", or "less than 2 h" where reaching the limit itself is too late.
    Units: stage (record); returns text.
    Valid: stages with a number of minutes.
    Errors: none.
    Source: own definition.
    """
    length = spell(timedelta(minutes=stage.max_minutes or 0))
    return f"less than {length}" if stage.strict else length


# --- where the clock starts --------------------------------------------------------------------------------------


def start_sentence(rule: CoolingRule, found: Digest, words: Words) -> str:
    """Where the clock of the rule's start temperature or event starts, and why there.

    Equation: the last reading at or above it, a record that it was hot, or the event.
    Units: rule, found, words (records); returns text.
    Valid: digests of the rule.
    Errors: none.
    Source: own definition.
    """
    first = rule.stages[0]
    if first.clock == "from_event":
        return _event_sentence(rule, found, words)
    start = degrees(first.from_temp, first)
    if found.below is None:
        return _still_hot_sentence(found, start, words)
    if found.hot is not None:
        return _passed_sentence(found.hot, found.below, f"at or above {start}", words)
    if found.hot_fact_at is not None and found.hot_fact_at <= found.below.at:
        since = words.time(found.hot_fact_at)
        return (
            f"The clock counts from {since}, when a record says that it was still at or above {start}; "
            f"the first reading below is {words.read(found.below)}."
        )
    return (
        f"Nothing on record shows it at or above {start} before {words.read(found.below)}, "
        "so nobody can tell when the clock started."
    )


def _event_sentence(rule: CoolingRule, found: Digest, words: Words) -> str:
    if found.event_at is None:
        return (
            f"The time of the rule's event ({rule.event}) is not on record, so nobody can tell when the clock started."
        )
    return f"The clock counts from {words.time(found.event_at)} ({rule.event})."


def _still_hot_sentence(found: Digest, start: str, words: Words) -> str:
    if found.hot is not None and found.touched:
        return f"It was read at {start}; the clock counts from {words.read(found.hot)}."
    if found.hot is not None:
        return f"The last reading, {words.read(found.hot)}, is above {start}: nothing shows yet that the clock runs."
    if found.hot_fact_at is not None:
        return f"A record says that it was at or above {start} on {words.time(found.hot_fact_at)}; no reading yet."
    return f"No reading and no record shows it at or above {start}, so nobody can tell when the clock starts."


def _passed_sentence(before: Reading, after: Reading, where: str, words: Words) -> str:
    return (
        f"The clock counts from {words.time(before.at)}, the last reading {where} ({before.text}); "
        f"the next is {words.read(after)}."
    )


def stage_start_sentence(stage: Stage, before: Passage, exact: bool, words: Words) -> str:
    """Where the clock of a stage with a time of its own starts.

    Equation: the last reading above the target before, or that target itself where it was read.
    Units: stage, before, words (records), exact (yes or no); returns text.
    Valid: stages that follow another one whose target was read.
    Errors: none.
    Source: own definition.
    """
    start = degrees(stage.from_temp, stage)
    if before.reached is not None and exact:
        return f"The clock of this stage counts from {words.time(before.reached.at)}, when {start} was read."
    if before.above is not None and before.reached is not None:
        return _passed_sentence(before.above, before.reached, f"above {start}", words)
    return (
        f"No reading above {start} is on record: this stage counts from the start of the one before, if that is known."
    )


# --- what became of it -------------------------------------------------------------------------------------------


def met_sentence(stage: Stage, passage: Passage, longest: timedelta | None, words: Words) -> str:
    """That a stage was kept, in the worst case.

    Equation: first reading at or below the target for good, less the conservative start.
    Units: stage, passage, words (records), longest [time], None where the stage sets no limit; returns text.
    Valid: stages that are met.
    Errors: none.
    Source: own definition.
    """
    target = degrees(stage.to_temp, stage)
    read = words.read(passage.reached) if passage.reached else ""
    shown = f"{read}: at or below {target}, and nothing above it afterwards"
    if longest is None:
        return f"{shown}."
    return f"{shown}; that took {spell(longest)} at most, allowed is {limit_text(stage)}."


def breached_sentence(stage: Stage, passage: Passage, shortest: timedelta, words: Words) -> str:
    """That a stage was missed, even in the best case.

    Equation: last reading above the target, less the latest possible start.
    Units: stage, passage, words (records), shortest [time]; returns text.
    Valid: stages that are breached.
    Errors: none.
    Source: own definition.
    """
    read = words.read(passage.above) if passage.above else ""
    return (
        f"{read} is above {degrees(stage.to_temp, stage)}, at least {spell(shortest)} after the start; "
        f"allowed is {limit_text(stage)}."
    )


def late_sentence(stage: Stage, passage: Passage, longest: timedelta | None, words: Words) -> str:
    """That the target was read, but not in a way that shows it was in time.

    Equation: as met_sentence.
    Units: stage, passage, words (records), longest [time], None where the start is not known; returns text.
    Valid: stages that are not shown although their target was read.
    Errors: none.
    Source: own definition.
    """
    read = words.read(passage.reached) if passage.reached else ""
    shown = f"{read} is the first that shows {degrees(stage.to_temp, stage)} or less for good"
    if longest is None:
        return f"{shown}, but not how long it took; allowed is {limit_text(stage)}."
    return (
        f"{shown}; that may be {spell(longest)} after the start, allowed is {limit_text(stage)}. It is not proven late."
    )


def missing_sentence(stage: Stage, found: Digest, deadline: datetime | None, closed: bool, words: Words) -> str:
    """That no reading shows the target.

    Equation: the last reading, and the end of the time allowed or of the log.
    Units: stage, found, words (records), deadline [instant], closed (yes or no); returns text.
    Valid: stages that are not shown and whose target was not read.
    Errors: none.
    Source: own definition.
    """
    last = f"the last is {words.read(found.last)}" if found.last else "there is none at all"
    shown = f"No reading shows {degrees(stage.to_temp, stage)} or less ({last})"
    if closed:
        return f"{shown}, and the log is closed."
    return f"{shown}." if deadline is None else f"{shown}, and the time allowed ended on {words.time(deadline)}."


def running_sentence(stage: Stage, deadline: datetime | None, words: Words) -> str:
    """Until when a stage may still be met.

    Equation: conservative start and the time allowed.
    Units: stage, words (records), deadline [instant], None where the stage sets no limit; returns text.
    Valid: stages that run.
    Errors: none.
    Source: own definition.
    """
    wanted = f"{degrees(stage.to_temp, stage)} or less has to be read"
    if deadline is None:
        return f"{wanted}; the rule sets no time."
    return f"{wanted} {'before' if stage.strict else 'by'} {words.time(deadline)}."


def waiting_sentence(stage: Stage, before: Stage | None) -> str:
    """Why a stage has not begun.

    Equation: its own start, or the target of the stage before.
    Units: stage, before (records); returns text.
    Valid: stages that have not started.
    Errors: none.
    Source: own definition.
    """
    if before is None:
        return f"The time allowed, {limit_text(stage)}, has not begun."
    return f"This stage begins at {degrees(before.to_temp, before)}, which no reading shows for good."


def notes_of(rule: CoolingRule, found: Digest, words: Words) -> tuple[str, ...]:
    """What an inspector should know beside the verdict.

    Equation: warming after a target, readings set aside, readings in the other unit.
    Units: rule, found, words (records); returns sentences.
    Valid: digests of the rule.
    Errors: none.
    Source: own definition.
    """
    notes = [
        f"{words.read(each.first)} was at or below {degrees(stage.to_temp, stage)}, then {words.read(each.above)}: "
        "only the last descent counts."
        for stage, each in zip(rule.stages, found.passages, strict=True)
        if each.rewarmed and each.first and each.above
    ]
    if found.excluded:
        notes.append(f"Readings set aside, which are no evidence: {found.excluded}.")
    if found.converted:
        notes.append(
            f"Readings not in °{rule.stages[0].unit}: {found.converted}; each was compared with the rule's limit "
            "without rounding."
        )
    return tuple(notes)
