"""Which weeks the floor works on."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from production.models import Membership, PlanningWeek, RunRecord
from production.selectors.run_records import FloorBoard, floor_board
from production.selectors.weeks import weeks_of


def boards_of(*, by: Membership, today: date, now: datetime) -> tuple[FloorBoard, ...]:
    """The boards of the week that runs today, or else of the newest, and of those whose runs are not over yet."""
    return tuple(floor_board(by=by, week=week, now=now) for week in _weeks(by, today))


def _weeks(by: Membership, today: date) -> list[PlanningWeek]:
    weeks = list(weeks_of(by=by))
    running = [week for week in weeks if week.starts_on <= today < week.starts_on + timedelta(days=week.days)]
    chosen = running[:1] or weeks[:1]
    state = RunRecord.State.UNDER_WAY
    open_runs = RunRecord.objects.filter(kitchen_id=by.kitchen_id, state=state).values_list("week_id", flat=True)
    unfinished = set(open_runs)
    return [*(week for week in weeks if week.pk in unfinished and week not in chosen), *chosen]
