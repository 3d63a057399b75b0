"""A kitchen with closed logs, good and bad, for the pages of inspection."""

from __future__ import annotations

from production.models import CoolingRecord, PlanningWeek
from tests.conftest import Cast
from tests.services.cooling_kit import GOOD, a_run, act, opened, read, read_all
from tests.services.review_kit import MISSED, a_lot_of, another, closed

SHORT = GOOD[:4]


def some_logs(cast: Cast, week: PlanningWeek, *, good: int) -> list[CoolingRecord]:
    """One log that missed a limit and has a lot, then good ones, the oldest first."""
    first = opened(cast.cook, a_run(cast.manager, week))
    read(cast.cook, first, 1, "20", confirmed=True)
    act(cast.cook, first, "stirred", 12, {})
    rows = [first]
    rows += [another(cast.cook, first, n + 2) for n in range(good)]
    read_all(cast.cook, first, MISSED[:1])
    done = [closed(cast.cook, first, MISSED[1:])]
    done += [closed(cast.cook, each) for each in rows[1:]]
    a_lot_of(cast, done[0])
    return done
