"""Which service keeps which entry about a lot or about saved bones, for the door of the floor.

A lot is made on its page and not here: its code is given by the kitchen, so it cannot be named beforehand.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from production.domain.errors import BadQuantity
from production.domain.quantities import parse_quantity
from production.models import Entry, Membership
from production.selectors.bones import bones_one
from production.selectors.lots import lot_of
from production.services.bones import bones_discard, bones_use
from production.services.floor_answers import Answer, Handler, answer_of
from production.services.lot_decisions import lot_count, lot_discard, lot_hold, lot_release
from production.services.records import Draft

Act = Callable[[Membership, str, Draft, datetime], object]


def _handler(prefix: str, act: Act) -> Handler:
    """Read whom the entry is about, let the service do it, answer with the entry that it has written."""

    def handle(by: Membership, draft: Draft, now: datetime) -> Answer:
        act(by, draft.subject.removeprefix(prefix), draft, now)
        return answer_of(Entry.objects.get(kitchen_id=by.kitchen_id, key=draft.key))

    return handle


def _held(by: Membership, code: str, draft: Draft, now: datetime) -> object:
    lot = lot_of(by=by, code=code)
    return lot_hold(by=by, code=code, seen=lot.status, reason=draft.reason, key=draft.key, now=now, heard=draft)


def _released(by: Membership, code: str, draft: Draft, now: datetime) -> object:
    seen = str(draft.content.get("seen", "held"))
    return lot_release(by=by, code=code, seen=seen, reason=draft.reason, key=draft.key, now=now, heard=draft)


def _discarded(by: Membership, code: str, draft: Draft, now: datetime) -> object:
    containers = _count(draft.content, "containers")
    left = lot_of(by=by, code=code).left
    return lot_discard(
        by=by,
        code=code,
        containers=containers,
        seen_left=left,
        reason=draft.reason,
        key=draft.key,
        now=now,
        heard=draft,
    )


def _counted(by: Membership, code: str, draft: Draft, now: datetime) -> object:
    found, before = _count(draft.content, "found"), _count(draft.content, "before")
    return lot_count(
        by=by, code=code, found=found, seen_left=before, reason=draft.reason, key=draft.key, now=now, heard=draft
    )


def _bones_used(by: Membership, code: str, draft: Draft, now: datetime) -> object:
    mass = _kg(draft.content)
    run = str(draft.content.get("run", ""))
    return bones_use(by=by, code=code, mass_kg=mass, run=run, key=draft.key, now=now, heard=draft)


def _bones_discarded(by: Membership, code: str, draft: Draft, now: datetime) -> object:
    bones_one(by=by, code=code)
    return bones_discard(by=by, code=code, reason=draft.reason, key=draft.key, now=now, heard=draft)


def _count(content: Mapping[str, Any], name: str) -> int:
    value = content.get(name)
    if not isinstance(value, int) or isinstance(value, bool):
        raise BadQuantity(
            f"{name}: a whole number of containers is missing.",
            code="bad-count",
            remedy="Count the containers and type the number.",
        )
    return value


def _kg(content: Mapping[str, Any]) -> Decimal:
    typed = content.get("mass")
    if not isinstance(typed, str):
        raise BadQuantity("The weight is missing.", code="bad-count", remedy="Type the weight with its unit.")
    return Decimal(repr(parse_quantity(typed, "kg", unit_required=True))).quantize(Decimal("0.01"))


LOT_KINDS: Mapping[str, Handler] = MappingProxyType(
    {
        "lot_held": _handler("lot/", _held),
        "lot_released": _handler("lot/", _released),
        "lot_discarded": _handler("lot/", _discarded),
        "lot_counted": _handler("lot/", _counted),
        "bones_used": _handler("bones/", _bones_used),
        "bones_discarded": _handler("bones/", _bones_discarded),
    }
)
