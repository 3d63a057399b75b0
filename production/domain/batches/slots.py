"""When somebody is in the kitchen, when goods are there, and the moments at which pots may be drawn off."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from production.domain.kitchen import Week

_HAIR_H = 1e-6


@dataclass(frozen=True, slots=True)
class Clock:
    """Hours from the moment of planning, and when somebody is in the kitchen."""

    week: Week
    windows: tuple[tuple[float, float], ...]  # staffed, in the order of time, not touching

    def hours(self, moment: datetime) -> float:
        """Hours from the moment of planning."""
        return (moment - self.week.plan_from).total_seconds() / 3600.0

    @property
    def staffed_h(self) -> float:
        """Hours in which somebody is there."""
        return sum(end - begin for begin, end in self.windows)


def clock_of(*, week: Week, until: datetime) -> Clock:
    """Staffed time of a week, from the moment of planning to a last moment.

    Equation: the union of the shifts.
    Units: week (record), until (moment); returns a record with h.
    Valid: a week that passed its reader; without shifts there is no staffed time.
    Errors: none.
    Source: own definition.
    """
    last_h = (until - week.plan_from).total_seconds() / 3600.0
    spans = sorted((max(0.0, _hours(week, each.start)), min(last_h, _hours(week, each.end))) for each in week.shifts)
    windows: list[tuple[float, float]] = []
    for begin, end in spans:
        if end <= begin:
            continue
        if windows and begin <= windows[-1][1]:
            windows[-1] = (windows[-1][0], max(windows[-1][1], end))
        else:
            windows.append((begin, end))
    return Clock(week, tuple(windows))


def _hours(week: Week, moment: datetime) -> float:
    return (moment - week.plan_from).total_seconds() / 3600.0
