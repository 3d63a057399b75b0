"""Logs that nobody has closed: found by the sweeper, hours after their last limit is over."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction

from production.domain.limits import CoolingRule
from production.domain.records.verdicts import State
from production.models import CoolingRecord, Deviation
from production.services.cooling_rows import law_of, verdict_on
from production.services.deviations import deviation_open
from production.services.program import program_of

LATE_AFTER = timedelta(hours=2)  # own choice: long enough to come back to it, short enough to decide the same day
KIND = Deviation.Kind.LATE_LOG.value


def late_logs_find(*, now: datetime) -> int:
    """Open a deviation for each log that is still open long after its last limit; once for each log."""
    rows = CoolingRecord.objects.filter(closed_at=None, opened_at__lt=now - LATE_AFTER)
    waiting = rows.exclude(deviations__kind=KIND).select_related("kitchen", "run").defer("run__sheet", "curve")
    return sum(_opened(each.pk, now) for each in waiting if _is_late(each, now))


def _is_late(cooling: CoolingRecord, now: datetime) -> bool:
    verdict = verdict_on(cooling, now=now)
    if verdict.state is State.RUNNING:
        return False
    ends = [each.deadline_at for each in verdict.stages if each.deadline_at is not None]
    over_at = max(ends, default=cooling.opened_at + timedelta(minutes=whole_time_min(law_of(cooling))))
    return over_at + LATE_AFTER <= now


def whole_time_min(law: CoolingRule) -> int:
    """Minutes from the start of the clock to the end of the last limit."""
    total = 0
    for stage in law.stages:
        most = stage.max_minutes or 0
        total = total + most if stage.clock == "from_stage" else max(total, most)
    return total


@transaction.atomic
def _opened(pk: int, now: datetime) -> bool:
    """Look again while the log is held: somebody may have closed it meanwhile."""
    rows = CoolingRecord.objects.select_for_update(of=("self",)).select_related("kitchen", "run")
    cooling = rows.get(pk=pk)
    if cooling.closed_at is not None:
        return False
    facts = {
        "sentence": f"The log of run {cooling.run.code}, {cooling.draw} draw, is still open, "
        f"{LATE_AFTER // timedelta(hours=1)} h and more after its last limit.",
        "readings": cooling.reading_count,
    }
    key = f"late/{cooling.pk}"
    by = program_of(cooling.kitchen)
    deviation_open(by=by, kind=KIND, subject=cooling.subject, facts=facts, key=key, now=now)
    return True
