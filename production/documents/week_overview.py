"""The overview of a week, one page across: pots by days, who is there, what leaves and what comes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from production.documents.words import MONTHS, WEEKDAYS, day_text, foot_words, issue_words, joined

if TYPE_CHECKING:
    from production.domain.sheets import Arriving, InPot, Leaving, OnDuty, PotWeek, WeekOverview

MOST_OUTLETS = 10  # on a day with more, dispatches are told by time
MOST_PEOPLE = 6
MANY_POTS, VERY_MANY_POTS = 10, 22


@dataclass(frozen=True, slots=True)
class _Days:
    """Local days and times of an overview."""

    zone: ZoneInfo
    days: tuple[date, ...]

    def of(self, at: datetime) -> date:
        return at.astimezone(self.zone).date()

    def clock(self, at: datetime) -> str:
        return f"{at.astimezone(self.zone):%H:%M}"

    def after(self, day: date, at: datetime) -> str:
        """The time, with its weekday where it is not on the day."""
        other = self.of(at)
        return self.clock(at) if other == day else f"{WEEKDAYS[other.weekday()][:3]} {self.clock(at)}"


def week_overview_view(overview: WeekOverview) -> dict[str, object]:
    """Everything the template needs, already said in the kitchen's time."""
    days = _Days(ZoneInfo(overview.heading.time_zone), overview.days)
    count = len(overview.pots)
    # A full page leaves out what says nothing: pots that stay empty are named in one row, quiet days are narrow.
    idle = [pot.pot for pot in overview.pots if not pot.runs] if count > MANY_POTS else []
    busy = _busy(overview, days) if count > MANY_POTS else frozenset(overview.days)
    return {
        "title": f"Week overview: {overview.heading.kitchen}, week of {day_text(overview.heading.week)}",
        "heading": overview.heading,
        "week": day_text(overview.heading.week),
        "foot": foot_words(overview.heading),
        "issue": issue_words(overview.heading),
        "dense": "most" if count > VERY_MANY_POTS else "more" if count > MANY_POTS else "",
        "days": [_head(day, quiet=day not in busy) for day in overview.days],
        "pots": [
            (pot.pot, [_standing(pot, day, days) for day in days.days]) for pot in overview.pots if pot.pot not in idle
        ],
        "idle": " · ".join(idle),
        "on_duty": [
            _duty([each for each in overview.on_duty if days.of(each.start_at) == day], day, days) for day in days.days
        ],
        "leaving": [
            _leaving([each for each in overview.leaving if days.of(each.at) == day], days) for day in days.days
        ],
        "arriving": [
            _arriving([each for each in overview.arriving if days.of(each.at) == day], days) for day in days.days
        ],
    }


def _busy(overview: WeekOverview, days: _Days) -> frozenset[date]:
    """Days on which a pot is in use, somebody is there, or something leaves or comes."""
    runs = [run for pot in overview.pots for run in pot.runs]
    found = {day for day in overview.days if any(_touches(run, day, days) for run in runs)}
    found |= {days.of(each.start_at) for each in overview.on_duty}
    found |= {days.of(each.at) for each in overview.leaving}
    return frozenset(found | {days.of(each.at) for each in overview.arriving})


def _head(day: date, *, quiet: bool) -> dict[str, object]:
    name = WEEKDAYS[day.weekday()]
    return {"name": name[:3] if quiet else name, "day": f"{day.day} {MONTHS[day.month - 1][:3]}", "quiet": quiet}


def _standing(pot: PotWeek, day: date, days: _Days) -> list[dict[str, object]]:
    return [_in_pot(each, day, days) for each in pot.runs if _touches(each, day, days)]


def _touches(run: InPot, day: date, days: _Days) -> bool:
    return days.of(run.start_at) <= day <= days.of(run.end_at)


def _in_pot(run: InPot, day: date, days: _Days) -> dict[str, object]:
    """A run on the day on which it starts; on later days only until when it goes on."""
    starts, ends = days.of(run.start_at) == day, days.of(run.end_at) == day
    name = f"reduces {' + '.join(run.reduces)}" if run.reduces else run.formula
    if starts:
        return {
            "when": f"{days.clock(run.start_at)}–{days.after(day, run.end_at)}",
            "run": run.run,
            "name": name,
            "late": run.is_late,
        }
    return {"when": f"until {days.clock(run.end_at)}" if ends else "all day", "run": run.run, "name": "", "late": False}


def _duty(shifts: list[OnDuty], day: date, days: _Days) -> list[str]:
    """People with the same hours together; where there are many, only how many."""
    told = []
    for (start, end), group in groupby(shifts, key=lambda each: (each.start_at, each.end_at)):
        people = [each.person for each in group]
        names = joined(people) if len(shifts) <= MOST_PEOPLE else f"{len(people)} people"
        told.append(f"{days.clock(start)}–{days.after(day, end)} {names}")
    return told


def _leaving(leaving: list[Leaving], days: _Days) -> list[str]:
    if len(leaving) <= MOST_OUTLETS:
        return [f"{days.clock(each.at)} {each.outlet}: {_containers([each])}" for each in leaving]
    told = []
    for at, group in groupby(leaving, key=lambda each: each.at):
        together = list(group)
        told.append(f"{days.clock(at)} {len(together)} outlets: {_containers(together)}")
    return told


def _containers(leaving: Iterable[Leaving]) -> str:
    together = list(leaving)
    missing = sum(each.unserved for each in together)
    return f"{sum(each.containers for each in together)}{f', {missing} not served' if missing else ''}"


def _arriving(arriving: list[Arriving], days: _Days) -> list[str]:
    return [f"{days.clock(each.at)} {each.supplier}: {each.items} item{'s'[: each.items != 1]}" for each in arriving]
