"""Issuing a hazard plan and signing it: each version is an entry of the book and is never changed."""

from __future__ import annotations

from datetime import datetime
from hashlib import sha256

from django.db import transaction

from production.documents.hazard_plan import HazardPaper
from production.domain.errors import Conflict
from production.domain.ledger import canonical_bytes, clean_content
from production.domain.records.hazards import hazard_plan_to_json
from production.models import Entry, Membership, RecordBook
from production.selectors.access import Action, require
from production.selectors.hazard_plans import ISSUED, SIGNED, SUBJECT, formula_plan, hazard_paper
from production.services.records import Draft, entries_append
from production.services.signatures import signature_confirm

SAYS = "I have judged this plan for this kitchen and put it in force."


@transaction.atomic
def hazard_plan_issue(*, by: Membership, formula: str, seen: int, key: str, now: datetime) -> HazardPaper:
    """Issue the plan as formula, rule and settings are now; `seen` is the newest version the person knows of."""
    require(by, Action.ISSUE_DOCUMENTS)
    _book_locked(by)
    known = Entry.objects.filter(kitchen_id=by.kitchen_id, key=key, kind=ISSUED).first()
    if known is not None:
        return hazard_paper(by=by, formula=formula, version=known.content["version"])
    found = formula_plan(by=by, formula=formula)
    newest = 0 if found.newest is None else found.newest.version
    if newest != seen:
        raise Conflict(
            f"Version {newest} of this plan was issued meanwhile.",
            code="hazard-plan-issued-meanwhile",
            numbers={"newest": newest, "seen": seen},
            remedy="Look at it, and issue another only if it is not what you need.",
        )
    if found.newest is not None and not found.is_out_of_date:
        raise Conflict(
            f"Version {newest} says the same: nothing has changed since.",
            code="hazard-plan-unchanged",
            numbers={"newest": newest},
            remedy="Sign that version.",
        )
    told = hazard_plan_to_json(found.now)
    content = {"version": newest + 1, "plan": told, "sha256": sha256(canonical_bytes(clean_content(told))).hexdigest()}
    _write(by, formula, ISSUED, content, key=key, now=now)
    return hazard_paper(by=by, formula=formula, version=newest + 1)


def hazard_plan_sign(
    *, by: Membership, formula: str, version: int, password: str, key: str, now: datetime
) -> HazardPaper:
    """Sign the newest version, with the password again; from then on it is in force."""
    require(by, Action.ISSUE_DOCUMENTS)
    signature_confirm(by=by, password=password, now=now)
    return _signed(by, formula, version, key, now)


@transaction.atomic
def _signed(by: Membership, formula: str, version: int, key: str, now: datetime) -> HazardPaper:
    _book_locked(by)
    paper = hazard_paper(by=by, formula=formula, version=version)
    if Entry.objects.filter(kitchen_id=by.kitchen_id, key=key, kind=SIGNED).exists():
        return paper
    found = formula_plan(by=by, formula=formula)
    if paper.signed_by:
        raise Conflict(
            f"Version {version} is signed already, by {paper.signed_by}.",
            code="hazard-plan-signed-already",
            numbers={"version": version},
            remedy="Nothing more is to be done.",
        )
    if found.newest is None or found.newest.version != version or found.is_out_of_date:
        raise Conflict(
            f"Version {version} is not the plan as it would be now.",
            code="hazard-plan-out-of-date",
            numbers={"version": version},
            remedy="Issue it anew, read it, then sign.",
        )
    content = {
        "version": version,
        "entry": paper.entry,
        "sha256": paper.digest,
        "printed_name": by.user.get_full_name() or by.user.get_username(),
        "says": SAYS,
    }
    _write(by, formula, SIGNED, content, key=key, now=now)
    return hazard_paper(by=by, formula=formula, version=version)


def _book_locked(by: Membership) -> None:
    RecordBook.objects.get_or_create(kitchen_id=by.kitchen_id)
    RecordBook.objects.select_for_update().get(kitchen_id=by.kitchen_id)


def _write(by: Membership, formula: str, kind: str, content: dict[str, object], *, key: str, now: datetime) -> None:
    draft = Draft(kind=kind, subject=f"{SUBJECT}{formula}", content=content, happened_at=now, key=key)
    entries_append(by=by, drafts=[draft], now=now)
