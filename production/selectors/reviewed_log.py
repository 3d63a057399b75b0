"""One log with all that an inspector wants to see: thermometers, deviations, lots, what was said, place in the book."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Prefetch
from django.http import Http404

from production.domain.ledger import leaf_hash
from production.domain.sheets import CompletedCoolingLog
from production.models import Checkpoint, CoolingRecord, Deviation, Entry, Lot, LotMove, Membership, Reading, Review
from production.selectors.access import Action, may, require
from production.selectors.cooling_record import completed_log
from production.selectors.deviations import actions_of_deviation, deviations_about
from production.selectors.records import entry_bytes, last_checkpoint
from production.selectors.review_entries import ABOUT, own_entries

CHECKED = "thermometer_checked"


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """How a thermometer was found once."""

    at: datetime
    passed: bool
    off: str
    number: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckState:
    """The last check of a thermometer before a log began, and the first one after it ended."""

    name: str
    before: Check | None
    after: Check | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a log stands in the kitchen's book, and whether its entries still say what was hashed."""

    first: int
    last: int
    entries: int
    altered: tuple[int, ...]
    checkpoint: Checkpoint | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewedLog:
    """Everything on one screen."""

    subject: str
    row: CoolingRecord
    log: CompletedCoolingLog
    review: Review | None
    talk: tuple[Entry, ...]  # verified, asked, answered, refused
    seen: int  # the newest entry that is shown
    is_own: bool
    may_verify: bool
    checks: tuple[CheckState, ...]
    deviations: tuple[Deviation, ...]
    actions: Mapping[int, Sequence[Entry]]
    lots: tuple[Lot, ...]
    place: Place


def reviewed_log(*, by: Membership, subject: str) -> ReviewedLog:
    """A closed log, for whoever may see the records."""
    require(by, Action.SEE_RECORDS)
    row = _row(by, subject)
    log = completed_log(by=by, subject=subject)
    everything = list(
        Entry.objects.filter(kitchen_id=by.kitchen_id, subject=subject).select_related("corrects").order_by("number")
    )
    entries = [each for each in everything if each.kind not in ABOUT]
    deviations = deviations_about(by=by, subject=subject)
    return ReviewedLog(
        subject=subject,
        row=row,
        log=log,
        review=Review.objects.filter(cooling=row).select_related("signature").first(),
        talk=tuple(each for each in everything if each.kind in ABOUT),
        seen=everything[-1].number if everything else 0,
        is_own=own_entries(entries, user_id=by.user_id),
        may_verify=may(by, Action.VERIFY),
        checks=tuple(_checks(row)),
        deviations=deviations,
        actions=actions_of_deviation(deviations),
        lots=tuple(_lots(row)),
        place=_place(by, entries, everything),
    )


def _row(by: Membership, subject: str) -> CoolingRecord:
    rows = CoolingRecord.objects.select_related("run", "run__pot", "device", "week", "kitchen")
    found = rows.defer("run__sheet").filter(kitchen_id=by.kitchen_id, subject=subject).first()
    if found is None:
        raise Http404("This kitchen has no such cooling log.")
    return found


def _lots(row: CoolingRecord) -> Iterable[Lot]:
    moves = Prefetch("moves", LotMove.objects.select_related("outlet").order_by("pk"))
    return row.lots.select_related("product", "store").prefetch_related(moves).order_by("code")


def _checks(row: CoolingRecord) -> Iterable[CheckState]:
    """Each thermometer that was used in the log."""
    readings = Reading.objects.filter(cooling=row, thermometer__isnull=False).order_by("measured_at")
    used: dict[tuple[str, str], list[datetime]] = {}
    for code, name, at in readings.values_list("thermometer__code", "thermometer__name", "measured_at"):
        used.setdefault((code, name), []).append(at)
    done = _checks_done(row.kitchen_id, [code for code, _ in used])
    for (code, name), times in used.items():
        checks = done.get(code, [])
        place = bisect_right([each.at for each in checks], times[0])
        later = [each for each in checks[place:] if each.at > times[-1]]
        before = checks[place - 1] if place else None
        yield CheckState(name=name, before=before, after=later[0] if later else None)


def _checks_done(kitchen_id: int, codes: Sequence[str]) -> dict[str, list[Check]]:
    entries = Entry.objects.filter(
        kitchen_id=kitchen_id,
        kind=CHECKED,
        subject__in=[f"thermometer/{code}" for code in codes],
        corrections__isnull=True,
    )
    found: dict[str, list[Check]] = {}
    told = entries.order_by("happened_at", "number").values_list("subject", "happened_at", "content", "number")
    for subject, at, content, number in told:
        found.setdefault(subject.removeprefix("thermometer/"), []).append(_check(at, content, number))
    return found


def _check(at: datetime, content: Mapping[str, Any], number: int) -> Check:
    return Check(at=at, passed=content.get("passed") is True, off=str(content.get("off", "")), number=number)


def _place(by: Membership, entries: Sequence[Entry], everything: Sequence[Entry]) -> Place:
    """The place of the log's own entries; what was said about it later is hashed again too."""
    code = by.kitchen.code
    numbers = [each.number for each in entries]
    altered = [
        each.number for each in everything if leaf_hash(entry_bytes(each, kitchen_code=code)).hex() != each.leaf_sha256
    ]
    return Place(
        first=min(numbers, default=0),
        last=max(numbers, default=0),
        entries=len(numbers),
        altered=tuple(altered),
        checkpoint=last_checkpoint(by=by),
    )
