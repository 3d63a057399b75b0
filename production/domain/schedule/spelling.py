"""Lengths of time in words."""

from __future__ import annotations

DAYS_FROM_MIN = 48 * 60


def spell_minutes(minutes: int) -> str:
    """Spell a length of time the way a kitchen says it.

    Equation: whole hours and the rest in minutes; from 48 h on whole days and hours, the rest in hours rounded down.
    Units: minutes [min]; no quantity is returned.
    Valid: zero or more.
    Errors: none.
    Source: own definition.
    """
    hours, rest = divmod(minutes, 60)
    if minutes >= DAYS_FROM_MIN:
        days, hours = divmod(hours, 24)
        return f"{days} d {hours} h" if hours else f"{days} d"
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"
