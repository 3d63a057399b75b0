"""Taking back what was told of a cooling: it stays in the book, and counts no more."""

from __future__ import annotations

from datetime import datetime

from production.domain.errors import Conflict
from production.models import Membership
from production.selectors.access import Action, require
from production.services.cooling_acts import AMOUNTS, cooling_act_counts
from production.services.cooling_readings import entry_of_key
from production.services.cooling_rows import cooling_locked
from production.services.floor_answers import Answer, answer_known, answer_of
from production.services.records import Draft, entries_append
from production.services.run_records import RUN_KINDS

WITHDRAWN = "withdrawn"


def withdraw(by: Membership, draft: Draft, now: datetime) -> Answer:
    """Take back a record, whatever it is about."""
    if draft.subject.startswith("cooling/"):
        return cooling_act_withdraw(by, draft, now)
    return RUN_KINDS[WITHDRAWN](by, draft, now)


def cooling_act_withdraw(by: Membership, draft: Draft, now: datetime) -> Answer:
    """Take back ice, stirring, a move or another action; a reading is set aside instead."""
    require(by, Action.RECORD)
    cooling = cooling_locked(by=by, subject=draft.subject)
    known = entry_of_key(by, draft)
    if known is not None:
        return answer_known(known)
    target = draft.corrects
    if target is None or target.subject != draft.subject or target.kind not in AMOUNTS:
        raise Conflict(
            "This cannot be taken back.",
            code="act-not-to-be-taken-back",
            numbers={"number": 0 if target is None else target.number},
            remedy="A reading is set aside with a reason. A log that was closed too early takes further readings.",
        )
    earlier = target.corrections.order_by("number").first()
    if earlier is not None:
        raise Conflict(
            f"{earlier.by_name} has taken this back already.",
            code="act-taken-back-already",
            numbers={"number": earlier.number},
            remedy="Look at the log as it stands now.",
        )
    entry = entries_append(by=by, drafts=[draft], now=now).entries[0]
    cooling_act_counts(by=by, cooling=cooling, entry=entry, now=now)
    return answer_of(entry)
