"""Recording the steps of a run, and taking records back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime

from production.domain.errors import PotwrightError
from production.domain.quantities import System
from production.domain.records.course import course_of
from production.domain.records.course_basis import FINISH, FIRST
from production.domain.records.course_boxes import temperature
from production.domain.records.course_content import Course, Step
from production.domain.records.course_state import WITHDRAWN
from production.domain.records.course_typed import doubts_of, typed_amounts
from production.models import Membership, RunRecord
from production.selectors.access import Action, require
from production.selectors.run_records import running_of
from production.services.cooling_heat_again import coolings_of_hot, hot_facts_again
from production.services.coolings import coolings_open
from production.services.floor_answers import Answer, Question, draft_kept
from production.services.ingredient_uses import WEIGHED, ingredient_uses_set, lots_doubt
from production.services.records import Draft
from production.services.run_rows import State, refuse_corrected, refuse_unfitting, run_locked

STEP_KINDS = (
    "charge_weighed",
    "filled",
    "boil_reached",
    "skimmed",
    "temp_taken",
    "addition_made",
    "drawn",
    "brix_taken",
    "refilled",
    "poured",
    "reduction_checked",
    "portioned",
    "trayed",
    "washed",
)
_MAY_BE_TAKEN_BACK = frozenset({*STEP_KINDS, WITHDRAWN, "run_finished"})
_COOLED = {FIRST: "first", "portion": "reduction"}  # steps after which something has to be cooled at once


def step_record(by: Membership, draft: Draft, now: datetime) -> Answer:
    """Record a step of a run: what was typed is read with its units, what is unlikely is kept and asked about."""
    require(by, Action.RECORD)
    record = run_locked(by=by, subject=draft.subject)
    refuse_unfitting(record=record, draft=draft)
    step = _step_of(course_of(running_of(record=record), now=now), record, draft)
    amounts = typed_amounts(step, draft.content)
    is_confirmed = draft.content.get("confirmed") is True
    if is_confirmed and draft.corrects is not None and amounts == typed_amounts(step, draft.corrects.content):
        draft.content["confirms"] = draft.corrects.number
    question = None if is_confirmed else _question(step, amounts, by)
    doubt = lots_doubt(by=by, record=record, draft=draft)
    cooled = coolings_of_hot(by=by, run=record, corrected=draft.corrects)
    answer, is_new = draft_kept(by=by, draft=draft, now=now, question=question)
    if is_new and draft.kind in WEIGHED:
        ingredient_uses_set(record)
        answer = answer if answer.sentence else replace(answer, sentence=doubt)
    if is_new and step.code in _COOLED:
        draw = _COOLED[step.code]
        coolings_open(by=by, run=record, draw=draw, at=draft.happened_at, key=draft.key, now=now)
    if is_new:
        hot_facts_again(by=by, run=record, coolings=cooled, number=answer.number, now=now)
    return answer


def _question(step: Step, amounts: Mapping[str, float], by: Membership) -> Question | None:
    system: System = "us" if by.kitchen.units == "us" else "metric"
    doubt = next(iter(doubts_of(step, amounts, system)), None)
    if doubt is None:
        return None
    return Question(code=f"unlikely-{doubt.field.kind}", sentence=doubt.sentence, remedy=doubt.remedy)


def _step_of(course: Course, record: RunRecord, draft: Draft) -> Step:
    code = draft.content.get("step", "")
    if code == "" and draft.kind == "temp_taken":
        return _between(record)
    found = course.at(code) if isinstance(code, str) else None
    if found is None or found.step.kind != draft.kind:
        raise PotwrightError(
            f"{record.code} has no step {str(code)[:40]!r} that is recorded this way.",
            code="no-such-step",
            numbers={"kind": draft.kind, "step": str(code)[:40]},
            remedy="Open the page of the run again and choose one of its steps.",
        )
    return found.step


def _between(record: RunRecord) -> Step:
    """A temperature that somebody takes without being asked for it."""
    boil_c = float(record.sheet["boil_temp_c"])
    return Step(
        code="",
        kind="temp_taken",
        stage="",
        title="Temperature",
        do="",
        caution="",
        planned_at=record.begun_at,
        fields=tuple(replace(box, low=0.0) for box in temperature(boil_c, high_c=boil_c)),
        ways=(("temp",),),
    )


def entry_withdraw(by: Membership, draft: Draft, now: datetime) -> Answer:
    """Take back a record of a run; it stays in the book, struck through. A closing taken back opens the run again."""
    require(by, Action.RECORD)
    record = run_locked(by=by, subject=draft.subject)
    target = draft.corrects
    if target is None or target.subject != draft.subject or target.kind not in _MAY_BE_TAKEN_BACK:
        raise PotwrightError(
            "This cannot be taken back.",
            code="not-to-be-taken-back",
            numbers={"number": target.number if target is not None else 0},
            remedy="A run that was begun by mistake is broken off, with nothing in the pot.",
        )
    refuse_corrected(target)
    cooled = coolings_of_hot(by=by, run=record, corrected=target)
    answer, is_new = draft_kept(by=by, draft=draft, now=now)
    if is_new:
        _state_set(record)
        ingredient_uses_set(record)
        hot_facts_again(by=by, run=record, coolings=cooled, number=answer.number, now=now)
    if is_new and target.content.get("step") in _COOLED:
        return replace(answer, sentence="Its cooling log stays open.", remedy="Close the log on its own page.")
    return answer


def _state_set(record: RunRecord) -> None:
    """Whether a run is closed is read off from the entries that are left."""
    if record.state == State.BROKEN_OFF:
        return
    finish = course_of(running_of(record=record), now=record.begun_at).at(FINISH)
    closed = finish.record if finish is not None else None
    RunRecord.objects.filter(pk=record.pk).update(
        state=State.FINISHED if closed else State.UNDER_WAY, ended_at=closed.happened_at if closed else None
    )
