"""When the log of a probe has shown its last limit for good, so that what is read in the store does not count in it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from production.domain.limits import CoolingRule
from production.domain.records.readings import Reading, usable
from production.domain.records.readings import exact_f as in_f

SETTLED = timedelta(minutes=15)  # how long a probe shows the last target before its log is closed (own choice)


def settled_at(rule: CoolingRule, readings: Sequence[Reading]) -> datetime | None:
    """The first moment at which the last target had been shown without a break for a quarter of an hour.

    Equation: the first reading at least 15 min after one at or below the last target with none above it between them.
    Units: rule [as stored], readings [as typed]; returns an instant, or None.
    Valid: readings of one attempt; those set aside do not count. It says nothing about the limits: the verdict does.
    Errors: none.
    Source: own definition: a single reading at the target may be a probe that slipped into the coolant.
    """
    last = rule.stages[-1]
    if last.to_temp is None:
        return None
    target, since = in_f(last.to_temp, last.unit), None
    for temp, reading in usable(readings):
        since = None if temp > target else since or reading.at
        if since is not None and reading.at - since >= SETTLED:
            return reading.at
    return None
