"""A record that the food was hot was put right or taken back: the logs whose clock rests on it are judged again."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from production.domain.limits import rule
from production.models import CoolingRecord, Entry, Membership, RunRecord
from production.services.cooling_closing import cooling_judge_again
from production.services.cooling_heat import HOT_KINDS, hot_fact_of
from production.services.cooling_rows import cooling_locked, cooling_refresh
from production.services.coolings import iso
from production.services.records import Draft, entries_append

CHANGED = "hot_fact_changed"


def coolings_of_hot(*, by: Membership, run: RunRecord, corrected: Entry | None) -> list[CoolingRecord]:
    """The logs that may rest on a record that is corrected, for this transaction alone; taken before the book."""
    if corrected is None or corrected.kind not in HOT_KINDS:
        return []
    rows = CoolingRecord.objects.filter(run=run, attempt=1, hot_fact_at__isnull=False)
    return [cooling_locked(by=by, subject=subject) for subject in rows.order_by("pk").values_list("subject", flat=True)]


def hot_facts_again(
    *, by: Membership, run: RunRecord, coolings: Sequence[CoolingRecord], number: int | None, now: datetime
) -> None:
    """Move the start of a clock back to what is still on record; what comes later never moves it forward."""
    opened_at = {each.subject: each.opened_at for each in coolings}
    for cooling in coolings:
        whole = str(cooling.sheet.get("parted_from", ""))
        opened_at[cooling.subject] = opened_at.get(whole, cooling.opened_at) if whole else cooling.opened_at
        if whole and whole not in opened_at:
            continue
        found = hot_fact_of(run, rule(cooling.rule), opened_at[cooling.subject])
        if cooling.hot_fact_at is not None and (found is None or found < cooling.hot_fact_at):
            _change(by, cooling, found, number, now)


def _change(by: Membership, cooling: CoolingRecord, found: datetime | None, number: int | None, now: datetime) -> None:
    draft = Draft(
        kind=CHANGED,
        subject=cooling.subject,
        content={"hot_fact_at": iso(found), "before": iso(cooling.hot_fact_at), "because": number},
        happened_at=now,
        key=f"heat/{number}/{cooling.pk}",
    )
    entry = entries_append(by=by, drafts=[draft], now=now).entries[0]
    cooling.hot_fact_at = found
    cooling.save(update_fields=["hot_fact_at"])
    cooling_refresh(cooling)
    cooling_judge_again(by=by, cooling=cooling, because=entry, now=now)
