"""The head that all papers share."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """What every document says about itself."""

    kitchen: str
    time_zone: str
    units: str  # metric or us
    week: date
    plan_made_at: datetime
    parameter_set: str
    plan_mark: str  # digest of the plan
    version: int = 1
    replaces: int | None = None  # the version that this one takes the place of
    issued_at: datetime | None = None
