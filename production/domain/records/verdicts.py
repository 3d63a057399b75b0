"""Whether a cooling log keeps its rule: met, breached, not shown, running or not started.

A stage is met when it was kept in the worst history that the readings allow, breached when it was missed even in the
best, and otherwise not shown as soon as no later reading can show it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from decimal import Decimal
from enum import StrEnum

from production.domain.errors import Conflict
from production.domain.limits import CoolingRule, Stage
from production.domain.records import reasons
from production.domain.records.digest import Digest, Passage, digest, thresholds
from production.domain.records.readings import Evidence, Reading, exact_f
from production.domain.records.reasons import Words


class State(StrEnum):
    """How a stage or a log stands; the worst comes first."""

    BREACHED = "breached"
    NOT_SHOWN = "not_shown"
    RUNNING = "running"
    NOT_STARTED = "not_started"
    MET = "met"


@dataclass(frozen=True, slots=True)
class StageVerdict:
    """How one stage stands; times are conservative where they could be several."""

    number: int
    state: State
    reasons: tuple[str, ...]
    start_at: datetime | None  # the earliest that the readings allow
    latest_start_at: datetime | None
    reached_at: datetime | None  # first reading at the target for good
    worst_elapsed: timedelta | None  # the longest it can have taken
    best_elapsed: timedelta | None  # the shortest it can have taken so far
    deadline_at: datetime | None  # until when a reading can still show that it is met


@dataclass(frozen=True, slots=True)
class Verdict:
    """How a log stands; only a log that is met may release what it cooled."""

    state: State
    reasons: tuple[str, ...]
    stages: tuple[StageVerdict, ...]
    notes: tuple[str, ...]
    longest_gap: timedelta | None  # between two readings; for the kitchen's own interval, not for the rule


@dataclass(frozen=True, slots=True)
class _Start:
    """The bounds of a clock's start; None: not known, or not yet."""

    earliest: datetime | None
    latest: datetime | None
    sentence: str
    begun: bool = True


def judge(
    rule: CoolingRule,
    evidence: Evidence,
    *,
    now: datetime | None = None,
    closed: bool = False,
    zone: tzinfo = UTC,
) -> Verdict:
    """The verdict on a log, open at a moment or closed.

    Equation: judge_digest of the log's digest.
    Units: rule [as stored], evidence [as typed], now [instant], closed (yes or no), zone (of the sentences);
        returns states, instants and lengths of time.
    Valid: every rule and any readings; one that is newer than now (clocks differ) moves the moment of judging to it.
    Errors: Conflict `moment-missing` for an open log without now.
    Source: own three-valued reading of the rules' texts: between readings the least favourable history counts.
    """
    return judge_digest(rule, digest(rule, evidence), now=now, closed=closed, zone=zone)


def judge_digest(
    rule: CoolingRule, found: Digest, *, now: datetime | None = None, closed: bool = False, zone: tzinfo = UTC
) -> Verdict:
    """The verdict on a log of which only the digest is at hand.

    Equation: met when longest time <= limit (< where the rule says less than); breached when a reading above the
        target comes at shortest time >= limit; else not shown once the log is closed, the time is over or the start
        cannot be known; else running or not started. The log is as its worst stage.
    Units: rule [as stored], found [as typed], now [instant], closed (yes or no), zone (of the sentences);
        returns states, instants and lengths of time.
    Valid: digests made for the same temperatures.
    Errors: Conflict `digest-of-other-rule`, `moment-missing`.
    Source: as judge.
    """
    if found.made_for != thresholds(rule):
        raise Conflict(
            f"The digest was made for {found.made_for}, not for {thresholds(rule)}.",
            code="digest-of-other-rule",
            numbers={"made_for": found.made_for, "rule": thresholds(rule)},
            remedy="Make it again from the readings.",
        )
    bench = _Bench(rule, found, reasons.words_for(found, zone), _open_until(found, now, closed))
    stages = tuple(bench.stage(index) for index in range(len(rule.stages)))
    state = worst(each.state for each in stages)
    gap = found.gap
    return Verdict(
        state=state,
        reasons=tuple(dict.fromkeys(line for each in stages if each.state is state for line in each.reasons)),
        stages=stages,
        notes=reasons.notes_of(rule, found, bench.words),
        longest_gap=None if gap is None else gap[1].at - gap[0].at,
    )


def worst(states: Iterable[State]) -> State:
    """The worst of several states.

    Equation: breached, not shown, running, not started, met; the first that is there.
    Units: no quantities; states; returns a state.
    Valid: at least one state.
    Errors: none.
    Source: own definition.
    """
    return min(states, key=_ORDER.index)


_ORDER = tuple(State)


def _open_until(found: Digest, now: datetime | None, closed: bool) -> datetime | None:
    """The moment up to which an open log is known; None for a closed one."""
    if closed:
        return None
    if now is None:
        raise Conflict(
            "An open log can only be judged at a moment.",
            code="moment-missing",
            remedy="Say when it is judged, or that it is closed.",
        )
    return now if found.last is None else max(now, found.last.at)


@dataclass(frozen=True, slots=True)
class _Bench:
    """One log before its judge; `moment` is None when the log is closed."""

    rule: CoolingRule
    found: Digest
    words: Words
    moment: datetime | None

    def stage(self, index: int) -> StageVerdict:
        stage, passage = self.rule.stages[index], self.found.passages[index]
        start = self._start(index)
        limit = None if stage.max_minutes is None else timedelta(minutes=stage.max_minutes)
        case = _Case(stage, passage, start, limit)
        state, sentence = self._judged(case, index)
        told = (start.sentence, sentence) if start.sentence else (sentence,)
        return StageVerdict(
            number=stage.number,
            state=state,
            reasons=told,
            start_at=start.earliest,
            latest_start_at=start.latest,
            reached_at=None if passage.reached is None else passage.reached.at,
            worst_elapsed=case.longest,
            best_elapsed=case.shortest,
            deadline_at=case.deadline,
        )

    def _judged(self, case: _Case, index: int) -> tuple[State, str]:
        stage, passage = case.stage, case.passage
        if stage.to_temp is None:
            return State.NOT_SHOWN, f"The rule states no numbers ({self.rule.title.lower()}): no reading can show it."
        if case.start is _WAITING:
            return State.NOT_STARTED, reasons.waiting_sentence(stage, self.rule.stages[index - 1])
        if case.missed and case.shortest is not None:
            return State.BREACHED, reasons.breached_sentence(stage, passage, case.shortest, self.words)
        if case.kept:
            return State.MET, reasons.met_sentence(stage, passage, case.longest, self.words)
        if case.limit is not None and (case.start.earliest is None or self._over(case)):
            return State.NOT_SHOWN, self._unshown(case)
        if self.moment is None:
            return State.NOT_SHOWN, self._unshown(case)
        if case.start.begun:
            return State.RUNNING, reasons.running_sentence(stage, case.deadline, self.words)
        return State.NOT_STARTED, reasons.waiting_sentence(stage, None)

    def _over(self, case: _Case) -> bool:
        """Whether no later reading can show any more that the stage was kept."""
        if self.moment is None or case.deadline is None:
            return False
        return self.moment > case.deadline or (case.stage.strict and self.moment == case.deadline)

    def _unshown(self, case: _Case) -> str:
        if case.passage.reached is not None:
            return reasons.late_sentence(case.stage, case.passage, case.longest, self.words)
        return reasons.missing_sentence(case.stage, self.found, case.deadline, self.moment is None, self.words)

    # --- where the clock starts ---

    def _start(self, index: int) -> _Start:
        if index and self.rule.stages[index].clock in ("from_stage", "no_limit"):
            return self._after(index)
        if self.rule.stages[0].to_temp is None:
            return _Start(None, None, "")
        sentence = reasons.start_sentence(self.rule, self.found, self.words)
        if self.rule.stages[0].clock == "from_event":
            event = self.found.event_at
            return _Start(event, event, sentence, begun=event is None or self.moment is None or event <= self.moment)
        return self._passed_start(sentence)

    def _passed_start(self, sentence: str) -> _Start:
        """The last moment at the start temperature, between the last reading there and the first below."""
        hot, below, fact = self.found.hot, self.found.below, self.found.hot_fact_at
        last_hot = fact if hot is None else hot.at
        if below is None:
            return _Start(last_hot, None, sentence, begun=self.found.touched)
        if last_hot is not None and last_hot > below.at:
            return _Start(None, below.at, sentence)
        return _Start(last_hot, last_hot if self._is_at(hot, self.rule.stages[0].from_temp) else below.at, sentence)

    def _after(self, index: int) -> _Start:
        """The end of the stage before: its target for good."""
        stage, before = self.rule.stages[index], self.found.passages[index - 1]
        if before.reached is None:
            return _WAITING
        exact = self._is_at(before.reached, self.rule.stages[index - 1].to_temp)
        sentence = reasons.stage_start_sentence(stage, before, exact, self.words)
        if exact:
            return _Start(before.reached.at, before.reached.at, sentence)
        earliest = self._start(index - 1).earliest if before.above is None else before.above.at
        return _Start(earliest, before.reached.at, sentence)

    def _is_at(self, reading: Reading | None, temp: Decimal | None) -> bool:
        if reading is None or temp is None:
            return False
        return exact_f(reading.temp, reading.unit) == exact_f(temp, self.rule.stages[0].unit)


_WAITING = _Start(None, None, "", begun=False)


@dataclass(frozen=True, slots=True)
class _Case:
    """One stage with its clock and its readings."""

    stage: Stage
    passage: Passage
    start: _Start
    limit: timedelta | None

    @property
    def longest(self) -> timedelta | None:
        earliest, reached = self.start.earliest, self.passage.reached
        return None if earliest is None or reached is None else reached.at - earliest

    @property
    def shortest(self) -> timedelta | None:
        latest, above = self.start.latest, self.passage.above
        if latest is None:
            return None
        return timedelta() if above is None else max(timedelta(), above.at - latest)

    @property
    def deadline(self) -> datetime | None:
        earliest = self.start.earliest
        return None if earliest is None or self.limit is None else earliest + self.limit

    @property
    def missed(self) -> bool:
        return self.limit is not None and self.shortest is not None and self.shortest >= self.limit

    @property
    def kept(self) -> bool:
        if self.limit is None:
            return self.passage.reached is not None
        if self.longest is None:
            return False
        return self.longest < self.limit if self.stage.strict else self.longest <= self.limit
