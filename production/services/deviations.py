"""Deviations: opened by whatever finds them, acted upon by cooks, closed by a manager; lots follow what is decided."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction

from production.domain.errors import Conflict, NotAllowed, PotwrightError
from production.domain.records.reviews import (
    DISPOSITIONS,
    ToClose,
    refuse_closing,
    working_days_after,
)
from production.models import CoolingRecord, Deviation, Entry, Lot, Membership, RecordBook
from production.selectors.access import Action, require
from production.selectors.deviations import (
    BAD,
    actions_of_deviation,
    deviation_of,
    deviation_subject,
    lots_of_deviation,
    measures_for,
    remedies_of,
    review_days,
)
from production.services.lot_decisions import lot_discard, lot_evaluate, lot_release
from production.services.records import Draft, entries_append

OPENED, ACTED, CLOSED = "deviation_opened", "corrective_action", "deviation_closed"
LONGEST = 1000


@transaction.atomic
def deviation_open(
    *, by: Membership, kind: str, subject: str, facts: Mapping[str, Any], key: str, now: datetime
) -> Deviation:
    """Open a deviation about something; while one of this kind is open about it, that one stands.

    `facts` say what was found: `sentence`, the numbers, and `lots`: codes of lots that it concerns, besides those of
    a cooling.
    """
    RecordBook.objects.get_or_create(kitchen_id=by.kitchen_id)
    RecordBook.objects.select_for_update().get(kitchen_id=by.kitchen_id)  # one number after the other
    rows = Deviation.objects.filter(kitchen_id=by.kitchen_id)
    there = rows.filter(kind=kind, about=subject, state=Deviation.State.OPEN).first()
    return there or _known(by, _key(key)) or _opened(by, rows.count() + 1, kind, subject, facts, _key(key), now)


def _known(by: Membership, key: str) -> Deviation | None:
    return Deviation.objects.filter(kitchen_id=by.kitchen_id, opened_by__key=key).first()


def _opened(
    by: Membership, number: int, kind: str, subject: str, facts: Mapping[str, Any], key: str, now: datetime
) -> Deviation:
    sentence = str(facts["sentence"])[:300]
    content = {"kind": kind, "about": subject, **facts, "sentence": sentence}
    entry = _write(by, number, OPENED, content, key=key, now=now)
    today = now.astimezone(ZoneInfo(by.kitchen.time_zone)).date()
    row = Deviation.objects.create(
        kitchen=by.kitchen,
        number=number,
        kind=kind,
        about=subject,
        cooling=CoolingRecord.objects.filter(kitchen_id=by.kitchen_id, subject=subject).first(),
        sentence=sentence,
        opened_by=entry,
        opened_at=now,
        due_on=working_days_after(day=today, days=review_days(kitchen=by.kitchen)),
    )
    row.lots.set(Lot.objects.filter(kitchen_id=by.kitchen_id, code__in=facts.get("lots", ())))
    return row


def cooling_deviation_open(
    *, by: Membership, cooling: CoolingRecord, because: Entry, now: datetime
) -> Deviation | None:
    """For a log that was closed, or judged again: a deviation where it is breached or not shown."""
    if cooling.verdict not in BAD:
        return None
    what = "missed a limit" if cooling.verdict == "breached" else "does not show that its limits were kept"
    attempt = f", attempt {cooling.attempt}" if cooling.attempt > 1 else ""
    reheated = " It was re-heated and is cooled again." if "next_attempt" in because.content else ""
    facts = {
        "sentence": f"The cooling of run {cooling.run.code}, {cooling.draw} draw{attempt}, {what}.{reheated}",
        "verdict": cooling.verdict,
        "rule": cooling.rule,
        "reasons": list(because.content.get("reasons", ())),
        "entry": because.number,
    }
    kind = Deviation.Kind.COOLING.value
    return deviation_open(
        by=by, kind=kind, subject=cooling.subject, facts=facts, key=f"deviation/{because.number}", now=now
    )


@transaction.atomic
def deviation_act(
    *,
    by: Membership,
    number: int,
    measure: str,
    what: str,
    numbers: str = "",
    witness: str = "",
    key: str,
    now: datetime,
) -> Entry:
    """Write down what was done about a deviation, with its evidence; only what the rule allows, or putting right."""
    require(by, Action.RECORD)
    deviation = _locked(by, number)
    known = Entry.objects.filter(kitchen_id=by.kitchen_id, key=key, kind=ACTED).first()
    if known is not None:
        return known
    _require_open(deviation)
    remedies = remedies_of(by=by, deviation=deviation, now=now)
    allowed = {each.kind.value: each for each in remedies.measures}
    names = measures_for(deviation, remedies)
    if measure not in names:
        raise NotAllowed(
            "The rule does not allow this here any more.",
            code="measure-not-allowed",
            numbers={"allowed": ", ".join(names)},
            remedy=" ".join(each.sentence for each in allowed.values()) or "Record what was put right.",
        )
    content = {
        "deviation": number,
        "measure": measure,
        "what": _told(what, "what was done"),
        "numbers": _short(numbers),
        "witness": _short(witness),
        "source": allowed[measure].source if measure in allowed else "",
    }
    return _write(by, number, ACTED, content, key=key, now=now)


@transaction.atomic
def deviation_close(
    *,
    by: Membership,
    number: int,
    cause: str,
    prevention: str,
    disposition: str,
    quantity: str = "",
    witness: str = "",
    evaluation: str = "",
    key: str,
    now: datetime,
) -> Deviation:
    """Close a deviation with all its fields; its lots are thrown away, released, or wait for the next attempt."""
    require(by, Action.CLOSE_DEVIATIONS)
    deviation = _locked(by, number)
    if deviation.closed_by is not None and deviation.closed_by.key == key:
        return deviation
    _require_open(deviation)
    _require_log_closed(deviation)
    actions = actions_of_deviation([deviation])[number]
    given = ToClose(
        cause=_short(cause),
        prevention=_short(prevention),
        disposition=disposition,
        quantity=_short(quantity),
        witness=_short(witness),
        evaluation=_short(evaluation),
        actions=len(actions),
    )
    refuse_closing(given, dispositions=remedies_of(by=by, deviation=deviation, now=now).dispositions)
    lots = _lots_follow(by, deviation, given, now)
    content = {
        "cause": given.cause,
        "prevention": given.prevention,
        "disposition": disposition,
        "means": DISPOSITIONS[disposition],
        "quantity": given.quantity,
        "witness": given.witness,
        "evaluation": given.evaluation,
        "actions": [each.number for each in actions],
        "lots": lots,
    }
    entry = _write(by, number, CLOSED, content, key=key, now=now)
    Deviation.objects.filter(pk=deviation.pk, state=Deviation.State.OPEN).update(
        state=Deviation.State.CLOSED, disposition=disposition, closed_by=entry, closed_at=now
    )
    return deviation_of(by=by, number=number)


def _lots_follow(by: Membership, deviation: Deviation, given: ToClose, now: datetime) -> list[dict[str, Any]]:
    """Do with the lots what was decided; returns what became of each."""
    lots = list(lots_of_deviation(deviation).filter(left__gt=0).order_by("code"))
    if given.disposition == "release" and not lots:
        raise Conflict(
            "No lot of it is there that could be released.",
            code="deviation-without-lots",
            numbers={"deviation": deviation.number},
            remedy="Make its lots first; they are held until this is decided.",
        )
    told = []
    for lot in lots:
        _lot_follows(by, deviation, lot, given, now)
        told.append({"lot": lot.code, "containers": lot.left})
    return told


def _lot_follows(by: Membership, deviation: Deviation, lot: Lot, given: ToClose, now: datetime) -> None:
    key, reason = f"deviation-{deviation.number}-{lot.code}", f"Deviation {deviation.number}: {given.cause}"[:300]
    if given.disposition == "discard":
        lot_discard(by=by, code=lot.code, reason=reason, key=f"{key}-gone", now=now, seen_left=lot.left)
    elif given.disposition == "release":
        lot_evaluate(
            by=by,
            code=lot.code,
            disposition="release",
            cause=given.cause,
            action=given.prevention,
            evaluation=given.evaluation,
            key=f"{key}-judged",
            now=now,
        )
        if lot.status == Lot.Status.HELD:
            lot_release(by=by, code=lot.code, seen="held", reason=reason, key=f"{key}-free", now=now)


def _locked(by: Membership, number: int) -> Deviation:
    """The deviation, held until the end of the transaction: of two people the second is told."""
    Deviation.objects.select_for_update(of=("self",)).filter(kitchen_id=by.kitchen_id, number=number).first()
    return deviation_of(by=by, number=number)


def _require_open(deviation: Deviation) -> None:
    if deviation.closed_by is not None:
        raise Conflict(
            f"Deviation {deviation.number} is closed already, by {deviation.closed_by.by_name}.",
            code="deviation-closed-already",
            numbers={"disposition": deviation.disposition},
            remedy="Look at how it was closed. If something new is wrong, it opens a new one.",
        )


def _require_log_closed(deviation: Deviation) -> None:
    """Nobody decides about food whose log is still open."""
    if deviation.cooling is not None and deviation.cooling.closed_at is None:
        raise Conflict(
            "The log that it is about is still open.",
            code="deviation-log-open",
            numbers={"deviation": deviation.number},
            remedy="Close the log first, on the page of what cools; it tells what became of its limits.",
        )


def _told(text: str, what: str) -> str:
    said = _short(text)
    if not said:
        raise PotwrightError(
            f"It is not told {what}.", code="deviation-not-told", numbers={"missing": what}, remedy="Say it in words."
        )
    return said


def _short(text: str) -> str:
    return " ".join(text.split())[:LONGEST]


def _key(key: str) -> str:
    return key if len(key) <= 80 else hashlib.sha256(key.encode()).hexdigest()


def _write(by: Membership, number: int, kind: str, content: Mapping[str, Any], *, key: str, now: datetime) -> Entry:
    draft = Draft(kind=kind, subject=deviation_subject(number), content=dict(content), happened_at=now, key=key)
    return entries_append(by=by, drafts=[draft], now=now).entries[0]
