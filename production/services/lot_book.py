"""What all that is done to lots has in common: the row held fast, the reason, the entry, the containers taken out."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db.models import F

from production.domain.errors import Conflict, PotwrightError
from production.models import Entry, Lot, LotMove, Membership
from production.selectors.lots import lot_of, lot_subject
from production.services.records import Draft, entries_append

SHORTEST_REASON = 3


def lot_locked(by: Membership, code: str) -> Lot:
    """The lot's row, held until the end of the transaction, so that the second of two people sees the first one's."""
    Lot.objects.select_for_update().filter(kitchen_id=by.kitchen_id, code=code).first()
    return lot_of(by=by, code=code)


def known_before(by: Membership, key: str, kind: str) -> bool:
    """Has this very request been done already?"""
    return Entry.objects.filter(kitchen_id=by.kitchen_id, key=key, kind=kind).exists()


def refuse_more_than_left(lot: Lot, containers: int) -> None:
    """Nobody takes more out of a lot than it holds."""
    if not 1 <= containers <= lot.left:
        raise Conflict(
            f"Of lot {lot.code} {lot.left} containers are left, not {containers}.",
            code="lot-has-not-so-many",
            numbers={"left": lot.left, "containers": containers},
            remedy="Count again.",
        )


def take_out(lot: Lot, containers: int, entry: Entry, kind: LotMove.Kind, *, seen_left: int, **about: Any) -> None:
    """Take containers out of a lot if it still holds what the person saw."""
    changed = Lot.objects.filter(pk=lot.pk, left=seen_left).update(left=F("left") - containers)
    if not changed:
        raise Conflict(
            f"Somebody has taken containers of lot {lot.code} meanwhile: {lot.left} are left.",
            code="lot-taken-meanwhile",
            numbers={"left": lot.left, "seen": seen_left},
            remedy="Look at the new number and decide again.",
        )
    if containers:
        LotMove.objects.create(lot=lot, entry=entry, kind=kind, containers=-containers, **about)


def reason_of(said: str) -> str:
    """A reason as it is kept; refused where there is none."""
    text = " ".join(said.split())
    if len(text) < SHORTEST_REASON:
        raise PotwrightError(
            "This needs a reason.",
            code="reason-missing",
            remedy="Say in a few words why.",
        )
    return text[:300]


def lot_write(
    by: Membership,
    lot: Lot,
    kind: str,
    content: dict[str, Any],
    *,
    at: datetime,
    key: str,
    now: datetime,
    reason: str = "",
    heard: Draft | None = None,
) -> Entry:
    """Write an entry about a lot into the book; what a device has sent stands in it as it was sent."""
    draft = Draft(
        kind=kind,
        subject=lot_subject(lot.code),
        content=content if heard is None else heard.content | content,
        happened_at=at if heard is None else heard.happened_at,
        key=key,
        reason=reason if heard is None else heard.reason,
    )
    return entries_append(by=by, drafts=[draft], now=now).entries[0]
