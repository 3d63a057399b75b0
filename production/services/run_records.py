"""Beginning, closing and breaking off a run. Each is a handler of the door of the floor."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from types import MappingProxyType

from production.domain.errors import BadQuantity, PotwrightError
from production.domain.plan import PlannedRun
from production.domain.records.course import course_of
from production.domain.records.course_basis import BEGIN, FINISH, FIRST
from production.domain.records.course_state import WITHDRAWN
from production.domain.sheets import content_to_json
from production.models import Lot, Membership, Plan, Pot, RunRecord
from production.selectors.access import Action, require
from production.selectors.plans import plan_content_kept
from production.selectors.run_records import planned_sheet, run_in_pot, running_of
from production.services.floor_answers import Answer, Handler, Question, draft_kept
from production.services.lot_decisions import lot_hold
from production.services.records import Draft
from production.services.run_rows import State, refuse_unfitting, run_end, run_locked, week_locked_for
from production.services.run_steps import STEP_KINDS, entry_withdraw, step_record

FAR_FROM_PLAN = timedelta(hours=6)  # begun so much earlier or later than planned, it may be the wrong run (own choice)
CONTENTS = ("discarded", "held", "nothing")  # what becomes of what is in the pot of a run that is broken off
LONGEST_WHY = 120


def run_begin(by: Membership, draft: Draft, now: datetime) -> Answer:
    """Begin a run of the published plan: its sheet is frozen. Begun twice, it is one run with two records."""
    require(by, Action.RECORD)
    week, code = week_locked_for(by=by, subject=draft.subject)
    draft.content.setdefault("step", BEGIN)
    record = RunRecord.objects.filter(week=week, code=code).first()
    if record is not None:
        refuse_unfitting(record=record, draft=draft)
        answer, _ = draft_kept(by=by, draft=draft, now=now)
        RunRecord.objects.filter(pk=record.pk, begun_at__gt=draft.happened_at).update(begun_at=draft.happened_at)
        return answer
    plan = Plan.objects.filter(week=week, status=Plan.Status.PUBLISHED).defer("input_week", "result").first()
    content = plan_content_kept(plan=plan) if plan is not None else None
    run = next((run for run in content.runs if run.code == code), None) if content is not None else None
    if plan is None or content is None or run is None:
        raise _not_published(code, plan)
    pot = Pot.objects.filter(kitchen_id=by.kitchen_id, code=run.pot).first()
    answer, is_new = draft_kept(by=by, draft=draft, now=now, question=_question(by, draft, run, pot))
    if is_new:
        RunRecord.objects.create(
            kitchen_id=by.kitchen_id,
            week=week,
            plan=plan,
            code=code,
            subject=draft.subject,
            pot=pot,
            sheet=content_to_json(planned_sheet(content=content, code=code)),
            begun_at=draft.happened_at,
        )
    return answer


def _question(by: Membership, draft: Draft, run: PlannedRun, pot: Pot | None) -> Question | None:
    if draft.content.get("confirmed") is True:
        return None
    there = run_in_pot(kitchen_id=by.kitchen_id, pot=run.pot)
    if pot is not None and there is not None:
        return Question(
            code="pot-not-free",
            sentence=f"{pot.name} still holds {there.code}, which nobody has closed.",
            remedy=f"Close {there.code} if the pot is empty, and confirm; otherwise break this one off.",
        )
    away = draft.happened_at - run.start_at
    if abs(away) > FAR_FROM_PLAN:
        hours = round(abs(away).total_seconds() / 3600.0)
        return Question(
            code="far-from-plan",
            sentence=f"{run.code} is begun {hours} h {'before' if away < timedelta(0) else 'after'} its planned time.",
            remedy="Is it the right run? Confirm it, or break it off with nothing in the pot.",
        )
    return None


def _not_published(code: str, plan: Plan | None) -> PotwrightError:
    sentence = "No plan of this week is published." if plan is None else f"The published plan has no run {code}."
    return PotwrightError(
        sentence,
        code="run-not-published",
        numbers={"run": code},
        remedy="Ask the manager to publish the plan that has it.",
    )


def run_finish(by: Membership, draft: Draft, now: datetime) -> Answer:
    """Close a run when its first draw is recorded; whoever presses second is only noted too."""
    require(by, Action.RECORD)
    record = run_locked(by=by, subject=draft.subject)
    draft.content.setdefault("step", FINISH)
    if record.state == State.FINISHED and draft.corrects is None:
        answer, _ = draft_kept(by=by, draft=draft, now=now)
        RunRecord.objects.filter(pk=record.pk, ended_at__gt=draft.happened_at).update(ended_at=draft.happened_at)
        return answer
    refuse_unfitting(record=record, draft=draft)
    drawn = course_of(running_of(record=record), now=now).at(FIRST)
    if drawn is None or drawn.record is None:
        raise PotwrightError(
            f"The draw of {record.code} has not been recorded.",
            code="draw-missing",
            numbers={"run": record.code},
            remedy="Record what was drawn, or break the run off.",
        )
    answer, is_new = draft_kept(by=by, draft=draft, now=now)
    if is_new and record.state == State.UNDER_WAY:
        run_end(record=record, state=State.FINISHED, at=draft.happened_at)
    return answer


def run_break_off(by: Membership, draft: Draft, now: datetime) -> Answer:
    """Give a run up, with what becomes of what is in its pot; lots of it that could leave are held."""
    require(by, Action.RECORD)
    record = run_locked(by=by, subject=draft.subject)
    refuse_unfitting(record=record, draft=draft)
    why, contents = draft.content.get("why"), draft.content.get("contents")
    if not isinstance(why, str) or not why.strip() or len(why) > LONGEST_WHY or contents not in CONTENTS:
        raise BadQuantity(
            "Breaking off needs its reason, and what becomes of what is in the pot.",
            code="break-off-unclear",
            numbers={"allowed": ", ".join(CONTENTS)},
            remedy="Say why in a few words, and whether the content is discarded, held, or nothing is in the pot.",
        )
    free = list(record.lots.select_for_update().filter(status=Lot.Status.FREE, left__gt=0).order_by("pk"))
    answer, is_new = draft_kept(by=by, draft=draft, now=now)
    if not is_new:
        return answer
    run_end(record=record, state=State.BROKEN_OFF, at=draft.happened_at)
    for lot in free:
        reason = f"Run {record.code} was broken off: {why}"
        key = f"broken-{answer.number}-{lot.code}"
        lot_hold(by=by, code=lot.code, seen=Lot.Status.FREE, reason=reason, key=key, now=now)
    if not free:
        return answer
    return replace(answer, sentence=f"Held until somebody decides: {', '.join(lot.code for lot in free)}.")


RUN_KINDS: Mapping[str, Handler] = MappingProxyType(
    {
        "run_begun": run_begin,
        **dict.fromkeys(STEP_KINDS, step_record),
        "run_finished": run_finish,
        "run_broken_off": run_break_off,
        WITHDRAWN: entry_withdraw,
    }
)
