"""The demo kitchen's running week: its orders moved to the week of today, cooked by simulated hands up to now."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from production.domain import kitchen as domain
from production.models import Membership, PlanningWeek, RunRecord
from production.services.demo_cooking import week_cook
from production.services.plans import plan_make, plan_store
from production.services.publishing import plan_publish
from production.services.week_import import week_import

WEEK = timedelta(days=7)


def running_week_cook(
    *, week: domain.Week, manager: Membership, cook: Membership, now: datetime, seconds: float
) -> PlanningWeek | None:
    """Plan, publish and cook the week in which now lies, as the kitchen would have until now; once.

    Nothing is done where the kitchen has cooked already: what people have recorded stays theirs.
    """
    if RunRecord.objects.filter(kitchen_id=manager.kitchen_id).exists():
        return None
    moved = week_moved(week, days=days_to(week, now=now))
    row = week_import(week=moved, by=manager)
    made = plan_make(kitchen=manager.kitchen, week_id=row.pk, seconds=seconds, at=moved.plan_from)
    plan = plan_store(made=made, kitchen=manager.kitchen, week_id=row.pk, user_id=manager.user_id)
    plan = plan_publish(by=manager, plan=plan, seen_number=plan.number, confirm_stale=True)
    week_cook(plan=plan, cook=cook, manager=manager, until=now)
    return row


def days_to(week: domain.Week, *, now: datetime) -> int:
    """By how many days the week is moved: whole weeks, so that suppliers deliver on their days."""
    today = now.astimezone(ZoneInfo(week.kitchen.time_zone)).date()
    return (today - week.starts_on) // WEEK * 7


def week_moved(week: domain.Week, *, days: int) -> domain.Week:
    """The same week on other days; clocks show the same times, also where they have been changed in between."""
    return _moved(week, timedelta(days=days), ZoneInfo(week.kitchen.time_zone))  # type: ignore[no-any-return]


def _moved(value: Any, by: timedelta, zone: ZoneInfo) -> Any:
    if isinstance(value, datetime):
        return (value.astimezone(zone).replace(tzinfo=None) + by).replace(tzinfo=zone).astimezone(value.tzinfo)
    if isinstance(value, date):
        return value + by
    if isinstance(value, tuple):
        return tuple(_moved(each, by, zone) for each in value)
    if is_dataclass(value) and not isinstance(value, type):
        return replace(value, **{each.name: _moved(getattr(value, each.name), by, zone) for each in fields(value)})
    return value
