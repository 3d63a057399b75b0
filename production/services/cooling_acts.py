"""What is done to a cooling: ice, stirring, moving, corrective actions. The clock goes on; a closed log takes none."""

from __future__ import annotations

from datetime import datetime
from types import MappingProxyType

from django.http import Http404

from production.domain.errors import BadQuantity, Conflict
from production.domain.quantities import parse_quantity
from production.models import CoolingDevice, CoolingRecord, Entry, Membership
from production.services.cooling_closing import cooling_judge_again
from production.services.cooling_rows import cooling_locked, cooling_refresh
from production.services.floor_answers import Answer, answer_known, answer_of
from production.services.records import Draft, entries_append
from production.services.review_loss import review_lost

MOVED, ICE_ADDED = "moved", "ice_added"
# What may be told of an act, and in which unit it is counted.
AMOUNTS = MappingProxyType(
    {
        "ice_added": {"mass": "kg"},
        "stirred": {},
        "moved": {"litres": "L", "depth": "mm"},
        "corrective_action": {},
    }
)


def cooling_act(by: Membership, draft: Draft, now: datetime) -> Answer:
    """Write down what was done, with the amounts also in the units that are counted in."""
    cooling = cooling_locked(by=by, subject=draft.subject)
    known = Entry.objects.filter(kitchen_id=by.kitchen_id, key=draft.key).first()
    if known is not None:
        return answer_known(known)
    _require_open_then(cooling, draft)
    for name, unit in AMOUNTS[draft.kind].items():
        typed = str(draft.content.get(name, "")).strip()
        if typed:
            draft.content[f"{name}_{unit.lower()}"] = f"{parse_quantity(typed, unit):.2f}"
    _require_known_place(by, draft)
    entry = entries_append(by=by, drafts=[draft], now=now).entries[0]
    cooling_act_counts(by=by, cooling=cooling, entry=entry, now=now)
    return answer_of(entry)


def cooling_act_counts(*, by: Membership, cooling: CoolingRecord, entry: Entry, now: datetime) -> None:
    """What was done, or was not done after all, may explain readings: a closed log is then judged again."""
    digest = cooling.digest
    cooling_refresh(cooling)
    review_lost(cooling=cooling)
    if cooling.digest != digest:
        cooling_judge_again(by=by, cooling=cooling, because=entry, now=now)


def _require_open_then(cooling: CoolingRecord, draft: Draft) -> None:
    """What was done before the closing may still be told; a corrective action is told whenever it is done."""
    if draft.kind == "corrective_action":
        _require_words(draft)
    elif cooling.closed_at is not None and draft.happened_at > cooling.closed_at:
        raise Conflict(
            "This log is closed: nothing more is done to it.",
            code="cooling-closed-already",
            numbers={"verdict": cooling.verdict},
            remedy="Look at the closed log. What is done with its containers is recorded with their lots.",
        )


def _require_words(draft: Draft) -> None:
    if not str(draft.content.get("what", "")).strip():
        raise BadQuantity(
            "A corrective action says what was done.",
            code="action-without-words",
            remedy="Say in a few words what was done and why.",
        )


def _require_known_place(by: Membership, draft: Draft) -> None:
    code = str(draft.content.get("device", ""))
    if draft.kind == MOVED and not code and not str(draft.content.get("place", "")).strip():
        raise BadQuantity(
            "It is not said where it was moved.", code="moved-nowhere", remedy="Choose the device, or name the place."
        )
    if code and not CoolingDevice.objects.filter(kitchen_id=by.kitchen_id, code=code).exists():
        raise Http404("This kitchen has no such cooling device.")
