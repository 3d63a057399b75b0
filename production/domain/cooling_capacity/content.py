"""Ways to cool a draw, with their parts and margins."""

from __future__ import annotations

from dataclasses import dataclass

from production.domain.schedule.problem import CoolingMode
from production.domain.workings import Figure

STEP_MIN = 5  # the grid of the schedule (own choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingPart:
    """The part of a draw in one device."""

    device: str
    vessels: int
    litres: float  # in all vessels of this device
    fill_l: float  # in the fullest vessel
    depth_mm: float
    ice_kg: float
    minutes: int
    expected: tuple[tuple[float, float], ...]  # (minute, degC) with the coefficients as they are
    slow: tuple[tuple[float, float], ...]  # the same on the slow side
    figures: tuple[Figure, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitMargin:
    """A stage of the cooling rule with the time predicted on the slow side."""

    stage: int
    limit_min: int
    predicted_min: float
    margin_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingChoice:
    """One way to cool a whole draw, predicted to keep every critical limit."""

    mode: CoolingMode
    start_temp_c: float
    parts: tuple[CoolingPart, ...]
    margins: tuple[LimitMargin, ...]  # of the slowest part
