"""A week as the week file, in its one canonical form."""

from __future__ import annotations

import json
from dataclasses import fields
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from production.domain.kitchen import Week
from production.domain.week_file.layout import FORMAT, PLACE_OF, VERSION


def dump_week(week: Week) -> dict[str, Any]:
    """Turn a week into the plain values of the week file.

    Equation: every field in the order of the file, quantities as numbers in their stored unit, moments in the
        kitchen's own time zone; what is absent is left out.
    Units: no quantities (each field keeps its stored unit).
    Valid: a week as parse_week gives it.
    Errors: none.
    Source: own definition.
    """
    zone = ZoneInfo(week.kitchen.time_zone)
    document: dict[str, Any] = {"format": FORMAT, "version": VERSION}
    for name, place in PLACE_OF.items():
        value = getattr(week, name)
        if value is None:
            continue
        target = document if len(place) == 1 else document.setdefault(place[0], {})
        target[place[-1]] = _plain(value, zone)
    return document


def dumps_week(week: Week) -> str:
    """Write a week as the text of a week file, always the same text for the same week.

    Equation: JSON of dump_week, indented by one, UTF-8 characters as they are, one line feed at the end.
    Units: no quantities (each field keeps its stored unit).
    Valid: a week as parse_week gives it.
    Errors: none.
    Source: own definition; RFC 8259.
    """
    return json.dumps(dump_week(week), ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def _plain(value: Any, zone: ZoneInfo) -> Any:
    match value:
        case bool() | int() | str():
            return value
        case float():
            return int(value) if value.is_integer() else value
        case Decimal():
            return f"{value:.2f}"
        case datetime():
            return value.astimezone(zone).isoformat()
        case date():
            return value.isoformat()
        case time():
            return value.strftime("%H:%M")
        case tuple():
            return [_plain(entry, zone) for entry in value]
        case _:
            named = ((described.name, getattr(value, described.name)) for described in fields(value))
            return {name: _plain(entry, zone) for name, entry in named if entry is not None}
