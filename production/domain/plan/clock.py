"""Instants and spells in the words of the kitchen."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo


def clock_text(at: datetime, zone: ZoneInfo) -> str:
    """An instant as weekday and time on the kitchen's clock.

    Equation: local time of the zone, for instance "Wednesday 06:00".
    Units: at [instant], zone (record); returns text.
    Valid: instants within a week or two of each other; further apart the weekday alone is not clear.
    Errors: none.
    Source: own definition.
    """
    return f"{at.astimezone(zone):%A %H:%M}"


def move_text(before: datetime, after: datetime, zone: ZoneInfo) -> str:
    """Two instants as "from Wednesday 06:00 to 09:30"; the second weekday only where it is another.

    Equation: local times of the zone.
    Units: before, after [instant], zone (record); returns text.
    Valid: as clock_text.
    Errors: none.
    Source: own definition.
    """
    first, second = before.astimezone(zone), after.astimezone(zone)
    return (
        f"from {first:%A %H:%M} to {second:%H:%M}"
        if first.date() == second.date()
        else (f"from {first:%A %H:%M} to {second:%A %H:%M}")
    )


def spell_text(minutes: float) -> str:
    """A length of time as "1 h 20 min".

    Equation: whole hours and the minutes left, rounded to the minute.
    Units: minutes [min]; returns text.
    Valid: minutes >= 0.
    Errors: none.
    Source: own definition.
    """
    hours, rest = divmod(round(minutes), 60)
    if hours and rest:
        return f"{hours} h {rest} min"
    return f"{hours} h" if hours else f"{rest} min"


def listed(words: tuple[str, ...]) -> str:
    """Words as a list in a sentence: "a, b and c".

    Equation: commas, and "and" before the last.
    Units: no quantities; words (texts); returns text.
    Valid: any number of words.
    Errors: none.
    Source: own definition.
    """
    return " and ".join(part for part in (", ".join(words[:-1]), *words[-1:]) if part)
