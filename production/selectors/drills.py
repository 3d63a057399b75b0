"""Recall drills as they stand in the book."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.http import Http404

from production.models import Entry, IngredientUse, LotMove, Membership
from production.selectors.access import Action, require

SUBJECT = "drill/"
BEGUN, DONE, GIVEN_UP = "drill_begun", "drill_done", "drill_given_up"
LATEST = 400  # lots and uses among which a drill chooses


@dataclass(frozen=True, slots=True, kw_only=True)
class Drill:
    """A drill: begun, and perhaps done."""

    number: int
    subject: str
    target: str
    target_name: str
    begun_at: datetime
    begun_by: str
    done_at: datetime | None
    done_by: str
    result: Mapping[str, Any]


def drills_of(*, by: Membership) -> tuple[Drill, ...]:
    """All drills of the kitchen, the newest first."""
    require(by, Action.SEE_RECORDS)
    rows = Entry.objects.filter(
        kitchen_id=by.kitchen_id, subject__gt=SUBJECT, subject__lt="drill0", kind__in=[BEGUN, DONE, GIVEN_UP]
    )
    begun: dict[str, Entry] = {}
    ended: dict[str, Entry] = {}
    for entry in rows.order_by("number"):
        (begun if entry.kind == BEGUN else ended).setdefault(entry.subject, entry)
    found = [_drill(entry, ended.get(subject)) for subject, entry in begun.items()]
    return tuple(sorted(found, key=lambda each: -each.number))


def drill_of(*, by: Membership, number: int) -> Drill:
    """One drill by its number."""
    found = next((each for each in drills_of(by=by) if each.number == number), None)
    if found is None:
        raise Http404("There was no such drill.")
    return found


def _drill(begun: Entry, done: Entry | None) -> Drill:
    return Drill(
        number=int(begun.subject.removeprefix(SUBJECT)),
        subject=begun.subject,
        target=str(begun.content["target"]),
        target_name=str(begun.content["name"]),
        begun_at=begun.made_at,
        begun_by=begun.by_name,
        done_at=None if done is None else done.made_at,
        done_by="" if done is None else done.by_name,
        result={} if done is None else done.content,
    )


def targets_of(*, by: Membership) -> tuple[str, ...]:
    """What a drill may ask for: lots that have left, and ingredient lots that were used, of late."""
    require(by, Action.SEE_RECORDS)
    left = LotMove.objects.filter(lot__kitchen_id=by.kitchen_id, kind=LotMove.Kind.DISPATCHED).order_by("-pk")
    used = IngredientUse.objects.filter(lot__kitchen_id=by.kitchen_id, run__isnull=False).order_by("-pk")
    lots = left.values_list("lot__code", flat=True)[:LATEST]
    came = used.values_list("lot__code", flat=True)[:LATEST]
    return tuple(sorted({f"lot/{code}" for code in lots} | {f"ingredient/{code}" for code in came}))
