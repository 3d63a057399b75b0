"""The end of a cooling: closed once with its verdict, re-heated into a next attempt, judged again when something comes.

A closed log takes readings only as additions. It is then judged again, and the worse of both verdicts stands: what is
added later can take the word back that a limit was met, but never give it.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from production.domain.errors import Conflict
from production.domain.limits import to_celsius
from production.domain.records.actions import REHEAT_TO, Kind, Reheat, Reheats, allowed_actions, judge_reheat
from production.domain.records.questions import OVER_BOILING_K, doubted_side
from production.domain.records.readings import Reading as Taken
from production.domain.records.readings import exact_f
from production.domain.records.typed import Typed, typed_temp
from production.domain.records.verdicts import State, Verdict, worst
from production.models import CoolingRecord, Entry, Membership, Reading, SafetyPlan
from production.services.cooling_rows import (
    around_of,
    attempts_of,
    cooling_locked,
    cooling_refresh,
    counted_temp,
    doubted_in,
    law_of,
    parts_locked,
    rests_on,
    thermometers_of,
    verdict_on,
)
from production.services.coolings import cooling_open_again
from production.services.deviations import cooling_deviation_open
from production.services.floor_answers import Answer, Question, answer_known, answer_of, question_content
from production.services.lot_decisions import lots_hold_unshown
from production.services.records import Draft, entries_append
from production.services.review_loss import review_lost

JUDGED_AGAIN = "cooling_judged_again"


def cooling_close(by: Membership, draft: Draft, now: datetime) -> Answer:
    """Close a log: the verdict, its reasons and the entries it rests on are written down with it."""
    cooling = cooling_locked(by=by, subject=draft.subject)
    known = Entry.objects.filter(kitchen_id=by.kitchen_id, key=draft.key).first()
    if known is not None:
        return answer_known(known)
    _require_open(cooling)
    _with_the_whole(cooling)
    verdict = verdict_on(cooling, now=now, closed=True)
    given_up = draft.content.get("given_up") is True and bool(draft.reason.strip())
    if verdict.state is State.NOT_SHOWN and not given_up:
        raise _not_done(cooling, verdict_on(cooling, now=now))
    draft.content.update(verdict_content(cooling, verdict))
    entry = entries_append(by=by, drafts=[draft], now=now).entries[0]
    _shut(cooling, at=entry.happened_at, state=verdict.state)
    cooling_deviation_open(by=by, cooling=cooling, because=entry, now=now)
    return answer_of(entry)


def cooling_close_settled(*, by: Membership, cooling: CoolingRecord, at: datetime, now: datetime) -> bool:
    """Close the log of a probe that has shown the last limit for good; says whether it is closed now.

    A log that is not met, or that holds readings that are asked about, is left to people.
    """
    if cooling.closed_at is not None or _doubted(cooling):
        return cooling.closed_at is not None
    verdict = verdict_on(cooling, now=at, closed=True)
    if verdict.state is not State.MET:
        return False
    draft = Draft(
        kind="cooling_closed",
        subject=cooling.subject,
        content={"closed_by_program": True, **verdict_content(cooling, verdict)},
        happened_at=at,
        key=f"settled/{cooling.pk}",
        reason="A probe has shown the last limit for 15 min.",
    )
    entries_append(by=by, drafts=[draft], now=now)
    _shut(cooling, at=at, state=verdict.state)
    return True


def _with_the_whole(cooling: CoolingRecord) -> None:
    """A part rests on readings of the whole too, which may have changed since the last one of its own."""
    if cooling.sheet.get("parted_from"):
        cooling_refresh(cooling)


def _require_open(cooling: CoolingRecord) -> None:
    if cooling.closed_at is not None:
        raise Conflict(
            "This log is closed already.",
            code="cooling-closed-already",
            numbers={"verdict": cooling.verdict},
            remedy="Look at the closed log; a reading that was forgotten can still be added to it.",
        )


def _not_done(cooling: CoolingRecord, open_verdict: Verdict) -> Conflict:
    asked = len(_doubted(cooling))
    why = " ".join(open_verdict.reasons)
    return Conflict(
        f"This log does not show yet that its limits are met. {why}".strip(),
        code="cooling-not-done",
        numbers={"state": open_verdict.state.value, "readings_asked_about": asked},
        remedy="Confirm or set aside the readings that are asked about first."
        if asked
        else "Take the missing reading; or close it as given up, with a reason: what it cooled is then held.",
    )


def _doubted(cooling: CoolingRecord) -> list[Reading]:
    asked = Reading.objects.filter(cooling=cooling, excluded=False).exclude(question="")
    return [each for each in asked if doubted_side(each.question, confirmed=each.confirmed) != "none"]


def _shut(cooling: CoolingRecord, *, at: datetime, state: State) -> None:
    cooling.closed_at, cooling.verdict = at, state.value
    cooling.save(update_fields=["closed_at", "verdict"])


def verdict_content(cooling: CoolingRecord, verdict: Verdict) -> dict[str, Any]:
    """A verdict as it goes into the book, with the numbers of the entries of the readings it rests on."""
    numbers = Reading.objects.filter(cooling=cooling, excluded=False).values_list("entry__number", flat=True)
    return {
        "verdict": verdict.state.value,
        "reasons": list(verdict.reasons),
        "stages": [
            {"number": each.number, "verdict": each.state.value, "reasons": list(each.reasons)}
            for each in verdict.stages
        ],
        "rule": cooling.rule,
        "rests_on": rests_on(numbers),
        "doubted": doubted_in(cooling),
        "set_aside": Reading.objects.filter(cooling=cooling, excluded=True).count(),
    }


def cooling_judge_again(*, by: Membership, cooling: CoolingRecord, because: Entry, now: datetime) -> None:
    """After an addition to a closed log: the worse of the verdict that stands and the new one stands from now on."""
    if cooling.closed_at is None:
        return
    verdict = verdict_on(cooling, now=now, closed=True)
    stands = worst((State(cooling.verdict), verdict.state))
    draft = Draft(
        kind=JUDGED_AGAIN,
        subject=cooling.subject,
        content=verdict_content(cooling, verdict) | {"before": cooling.verdict, "stands": stands.value},
        happened_at=now,
        key=f"again/{because.number}/{cooling.pk}",
    )
    entry = entries_append(by=by, drafts=[draft], now=now).entries[0]
    review_lost(cooling=cooling)
    if stands.value != cooling.verdict:
        cooling.verdict = stands.value
        cooling.save(update_fields=["verdict"])
        cooling_deviation_open(by=by, cooling=cooling, because=entry, now=now)
        lots_hold_unshown(by=by, cooling=cooling, now=now)


def parts_judge_again(
    *, by: Membership, cooling: CoolingRecord, because: Entry, measured_at: datetime, now: datetime
) -> None:
    """What was parted from a group after a reading rests on that reading: it is worked out and judged again too."""
    for part in parts_locked(cooling, since=measured_at):
        digest = part.digest
        cooling_refresh(part)
        if part.digest != digest:
            cooling_judge_again(by=by, cooling=part, because=because, now=now)


def cooling_reheat(by: Membership, draft: Draft, now: datetime) -> Answer:
    """A re-heat is always written down; it begins a new attempt only where rule, plan and temperature allow it."""
    cooling = cooling_locked(by=by, subject=draft.subject)
    known = Entry.objects.filter(kitchen_id=by.kitchen_id, key=draft.key).first()
    if known is not None:
        return answer_known(known)
    _require_open(cooling)
    shown = _reheated_to(cooling, draft)
    question = _reheat_question(cooling, draft, shown)
    if question is not None:
        draft.content.update(question_content(question))
        return answer_of(entries_append(by=by, drafts=[draft], now=now).entries[0])
    _with_the_whole(cooling)
    verdict = verdict_on(cooling, now=now, closed=True)
    draft.content.update(verdict_content(cooling, verdict) | {"next_attempt": cooling.attempt + 1})
    entry = entries_append(by=by, drafts=[draft], now=now).entries[0]
    _shut(cooling, at=entry.happened_at, state=verdict.state)
    reheated_c = (float(exact_f(shown.temp, shown.unit)) - 32.0) / 1.8
    cooling_open_again(by=by, cooling=cooling, at=entry.happened_at, start_temp_c=reheated_c, key=draft.key, now=now)
    cooling_deviation_open(by=by, cooling=cooling, because=entry, now=now)
    return answer_of(entry)


def _reheated_to(cooling: CoolingRecord, draft: Draft) -> Typed:
    """What was reached, put right by the thermometer that showed it."""
    shown = typed_temp(str(draft.content.get("temp", "")), unit=_unit(cooling, draft))
    thermometer = thermometers_of(cooling.kitchen_id).get(str(draft.content.get("thermometer", "")))
    reached = Typed(counted_temp(shown, thermometer), shown.unit)
    draft.content["counted"] = f"{reached.temp:f} {reached.unit}"
    return reached


def _unit(cooling: CoolingRecord, draft: Draft) -> str:
    return str(draft.content.get("unit", "")) or ("F" if cooling.kitchen.units == "us" else "C")


def _reheat_question(cooling: CoolingRecord, draft: Draft, shown: Typed) -> Question | None:
    """Why this re-heat does not begin a new attempt."""
    at, verdict = draft.happened_at, verdict_on(cooling, now=draft.happened_at)
    actions = allowed_actions(
        rule=law_of(cooling), verdict=verdict, now=at, attempt=attempts_of(cooling), reheats=_reheats(cooling)
    )
    if not any(each.kind is Kind.REHEAT for each in actions):
        return Question(
            code="reheat-not-allowed",
            sentence="Re-heating does not begin this cooling anew: the log stays as it is.",
            remedy=" ".join(each.sentence for each in actions) or "The clock has not started: go on cooling.",
        )
    if to_celsius(shown.temp, shown.unit) > Decimal(around_of(cooling).boiling_c + OVER_BOILING_K):
        return Question(
            code="reheat-impossible",
            sentence=f"{shown.temp:f} °{shown.unit} is hotter than this broth can be. Which unit does the thermometer "
            "show?",
            remedy="Record it again with the right number and unit. Until then the first clock goes on.",
        )
    took = timedelta(seconds=_whole(draft.content.get("took_s", 0)))
    stands = judge_reheat(
        begun_at=at - took,
        now=at,
        reading=Taken(at=at, temp=shown.temp, unit=shown.unit),
        held=timedelta(seconds=_whole(draft.content.get("seconds", 0))),
    )
    if stands is Reheat.TOO_LATE:
        return Question(
            code="reheat-too-slow",
            sentence="Re-heating took more than 2 h.",
            remedy="Discard it, or hold it for the manager.",
        )
    if stands is Reheat.NOT_YET:
        return Question(
            code="reheat-too-cold",
            sentence=f"A re-heat takes all of it to {REHEAT_TO[shown.unit]} °{shown.unit} for 15 s.",
            remedy="Heat it further and record it again. Until then the first clock goes on.",
        )
    return None


def _reheats(cooling: CoolingRecord) -> Reheats:
    """What the kitchen's approved plan allows."""
    plans = SafetyPlan.objects.filter(kitchen_id=cooling.kitchen_id)
    most = plans.values_list("reheats_allowed", flat=True).first()
    return Reheats(allowed=most != 0, most=1 if most is None else most)


def _whole(value: Any) -> int:
    return int(value) if str(value).strip().isdecimal() else 0
