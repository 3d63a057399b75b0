"""What an inspector does with a log: verify and sign, ask, refuse; and what the kitchen answers."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from hashlib import sha256
from typing import Any

from django.db import transaction

from production.domain.errors import Conflict, PotwrightError
from production.domain.records.reviews import MEANINGS, ToSign, refuse_signature
from production.models import CoolingRecord, Deviation, Entry, Membership, Review
from production.selectors.access import Action, require
from production.selectors.review_entries import log_entries, newest_number, own_entries
from production.services.cooling_rows import cooling_locked, rests_on
from production.services.deviations import deviation_open
from production.services.records import Draft, entries_append
from production.services.signatures import signature_confirm

SIGNED, ASKED, ANSWERED, REFUSED = "verified", "question_asked", "question_answered", "review_refused"
LONGEST = 1000


def review_sign(
    *, by: Membership, subject: str, seen: int, meaning: str, findings: str, password: str, key: str, now: datetime
) -> Entry:
    """Sign a closed log: with the password again, printed name, time and meaning, and a hash over what is signed."""
    require(by, Action.VERIFY)
    signature_confirm(by=by, password=password, now=now)
    return _signed(by, subject, seen, meaning, _short(findings), key, now)


@transaction.atomic
def _signed(by: Membership, subject: str, seen: int, meaning: str, findings: str, key: str, now: datetime) -> Entry:
    cooling = cooling_locked(by=by, subject=subject)
    known = _known(by, key, SIGNED)
    if known is not None:
        return known
    entries = log_entries(kitchen_id=by.kitchen_id, subject=subject)
    review = _review_of(cooling)
    deviations = list(Deviation.objects.filter(kitchen_id=by.kitchen_id, about=subject).order_by("number"))
    refuse_signature(
        ToSign(
            meaning=meaning,
            verdict=cooling.verdict,
            recorded_by=tuple(sorted({each.by_name for each in entries})),
            is_own=own_entries(entries, user_id=by.user_id),
            signed_by="" if review.state != Review.State.SIGNED else _signer(review),
            open_deviations=tuple(each.number for each in deviations if each.state == Deviation.State.OPEN),
            seen=seen,
            newest=newest_number(kitchen_id=by.kitchen_id, subject=subject),
        )
    )
    leaves = sha256(b"".join(bytes.fromhex(each.leaf_sha256) for each in entries)).hexdigest()
    content = {
        "meaning": meaning,
        "says": MEANINGS[meaning],
        "printed_name": by.user.get_full_name() or by.user.get_username(),
        "findings": findings,
        "verdict": cooling.verdict,
        "covers": rests_on(each.number for each in entries),
        "leaves_sha256": leaves,
        "deviations": [{"number": each.number, "state": each.state} for each in deviations],
    }
    entry = _write(by, subject, SIGNED, content, key=key, now=now)
    _set(review, state=Review.State.SIGNED, signature=entry, asked=False)
    return entry


@transaction.atomic
def review_ask(*, by: Membership, subject: str, question: str, key: str, now: datetime) -> Entry:
    """Ask the kitchen about a log; it waits in their list until somebody has answered."""
    require(by, Action.VERIFY)
    cooling = cooling_locked(by=by, subject=subject)
    known = _known(by, key, ASKED)
    if known is not None:
        return known
    entry = _write(by, subject, ASKED, {"question": _said(question, "the question")}, key=key, now=now)
    _set(_review_of(cooling), asked=True)
    return entry


@transaction.atomic
def review_answer(*, by: Membership, subject: str, answer: str, key: str, now: datetime) -> Entry:
    """Answer what was asked about a log. The answer is an entry of its own and changes nothing in the log."""
    require(by, Action.RECORD)
    cooling = cooling_locked(by=by, subject=subject)
    known = _known(by, key, ANSWERED)
    if known is not None:
        return known
    review = _review_of(cooling)
    if not review.asked:
        raise Conflict(
            "No question about this log waits for an answer.",
            code="nothing-asked",
            remedy="Look at the log: somebody has answered meanwhile.",
        )
    entry = _write(by, subject, ANSWERED, {"answer": _said(answer, "the answer")}, key=key, now=now)
    _set(review, asked=False)
    return entry


@transaction.atomic
def review_refuse(*, by: Membership, subject: str, reason: str, key: str, now: datetime) -> Entry:
    """Refuse to verify a log, with the reason; it opens a deviation that a manager has to close."""
    require(by, Action.VERIFY)
    cooling = cooling_locked(by=by, subject=subject)
    known = _known(by, key, REFUSED)
    if known is not None:
        return known
    said = _said(reason, "the reason")
    review = _review_of(cooling)
    if review.state == Review.State.REFUSED:
        raise Conflict(
            "The review of this log is refused already.",
            code="refused-already",
            remedy="Go on with the next one.",
        )
    entry = _write(by, subject, REFUSED, {"why": said, "verdict": cooling.verdict}, key=key, now=now)
    _set(review, state=Review.State.REFUSED)
    facts = {"sentence": f"{entry.by_name} refused to verify this log: {said}", "entry": entry.number}
    kind = Deviation.Kind.REVIEW.value
    deviation_open(by=by, kind=kind, subject=subject, facts=facts, key=f"refused/{entry.number}", now=now)
    return entry


def _review_of(cooling: CoolingRecord) -> Review:
    """The row of this log's review, while the log is held."""
    row, _ = Review.objects.get_or_create(cooling=cooling, defaults={"kitchen_id": cooling.kitchen_id})
    return row


def _signer(review: Review) -> str:
    return "" if review.signature is None else review.signature.by_name


def _set(review: Review, **values: Any) -> None:
    Review.objects.filter(pk=review.pk).update(**values)


def _known(by: Membership, key: str, kind: str) -> Entry | None:
    return Entry.objects.filter(kitchen_id=by.kitchen_id, key=key, kind=kind).first()


def _said(text: str, what: str) -> str:
    said = _short(text)
    if len(said) < 3:
        raise PotwrightError(
            f"This needs words: {what} is missing.", code="review-without-words", remedy="Write a sentence."
        )
    return said


def _short(text: str) -> str:
    return " ".join(text.split())[:LONGEST]


def _write(by: Membership, subject: str, kind: str, content: Mapping[str, Any], *, key: str, now: datetime) -> Entry:
    draft = Draft(kind=kind, subject=subject, content=dict(content), happened_at=now, key=key)
    return entries_append(by=by, drafts=[draft], now=now).entries[0]
