"""Readings that are unlikely: they are kept and asked about. Until somebody answers, they count only against the log.

A reading that is colder than it can be is no evidence until it is confirmed. Any other doubtful reading is judged with
and without, and the worse verdict stands. Readings that only need a look count like all others.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from types import MappingProxyType
from typing import Literal

from production.domain.limits import TempUnit, to_celsius
from production.domain.records.readings import Reading

Side = Literal["cold", "either", "none"]  # how a reading counts until it is confirmed
Named = Literal["known", "unnamed", "unknown", "overdue"]  # what the kitchen knows of a thermometer

HOTTEST_C = 200.0  # no broth gets there (own choice)
OVER_BOILING_K = 2.0  # a thermometer may be a little off (own choice)
UNDER_COOLANT_K = 1.0  # the same
RISE_K = 5.0 / 1.8  # 5 F without a re-heat: suggested by us for broth that cools, no published figure
FASTER_THAN_PLANNED = 4.0  # stirring and thinner layers cool faster than planned, but not by more (own choice)
FITS_THE_PLAN = 1.5  # only what is about as fast as planned suggests that the unit is wrong (own choice)
SLACK_K = 2.0  # differences within a vessel (own choice)
DRAWN_COOLER_K = 30.0  # so much cooler than planned it may be drawn off and poured (own choice)
SAME_FALL_S = 30.0  # readings closer than this are too near each other to speak of a rate (own choice)

SIDES: Mapping[str, Side] = MappingProxyType(
    {
        "unit-too-cold": "cold",
        "below-coolant": "cold",
        "falls-too-fast": "cold",
        "unit-too-hot": "either",
        "hotter-than-boiling": "either",
        "rises": "either",
        "before-opening": "either",
        "same-time": "none",
        "before-the-last": "none",
        "thermometer-unnamed": "none",
        "thermometer-unknown": "none",
        "thermometer-overdue": "none",
    }
)


@dataclass(frozen=True, slots=True)
class Question:
    """Why a reading is asked about, what it was compared with, and what to do."""

    code: str
    sentence: str
    remedy: str

    @property
    def side(self) -> Side:
        """How the reading counts until somebody confirms it."""
        return SIDES[self.code]


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """What is known around a reading when it comes in."""

    boiling_c: float
    coolant_c: float  # what surrounds the vessels
    rate_per_h: float | None  # planned first-order rate of these vessels, if there is a plan
    opened_at: datetime
    drawn_c: float | None = None  # planned temperature at opening, where there is a plan
    before: Reading | None = None  # the last one measured before that counts
    after: Reading | None = None  # the first one measured after it
    same_time: Reading | None = None
    chilled_at: tuple[datetime, ...] = ()  # when ice or cold water went into the broth itself
    thermometer: Named = "known"
    from_probe: bool = False  # a probe's readings may come in any order


def questions_of(reading: Reading, around: Around) -> tuple[Question, ...]:
    """Why a reading must be looked at, the most serious reason first; none for a likely one.

    Equation: colder than T0 decayed at four times the planned rate towards the coolant, colder than the coolant,
        hotter than boiling, a rise of more than 5 F without re-heating, out of order, or a thermometer that proves
        little; where the other unit explains it, that is asked.
    Units: reading [as typed], around (degC, 1/h, instants); returns records.
    Valid: readings of a cooling that is open or was closed.
    Errors: none.
    Source: own choice of thresholds, see the constants; no published figures.
    """
    temperature = next(_temperature(reading, around), None)
    found = [] if temperature is None else [temperature]
    return (*found, *_time(reading, around), *_thermometer(around))


def doubted_side(question: str, *, confirmed: bool) -> Side:
    """How a kept reading counts: as evidence, both ways, or not at all.

    Equation: by the kind of its question, until it is confirmed.
    Units: question (code or nothing), confirmed (yes or no); returns a side.
    Valid: codes of SIDES; an unknown code is taken as doubtful both ways.
    Errors: none.
    Source: own definition, on the conservative side.
    """
    if confirmed or not question:
        return "none"
    return SIDES.get(question, "either")


def planned_rate_per_h(curve: tuple[tuple[float, float], ...], *, coolant_c: float) -> float | None:
    """The steepest first-order rate on a planned curve.

    Equation: largest ln[(T1 - Ts) / (T2 - Ts)] / dt of neighbouring points above the coolant.
    Units: curve [min, degC], coolant_c [degC]; returns [1/h] or none.
    Valid: curves that fall towards the coolant.
    Errors: none.
    Source: first-order cooling.
    """
    rates = [
        math.log((warm_c - coolant_c) / (cold_c - coolant_c)) / ((end - start) / 60.0)
        for (start, warm_c), (end, cold_c) in pairwise(curve)
        if end > start and warm_c > cold_c > coolant_c
    ]
    return max(rates, default=None)


def _celsius(reading: Reading) -> float:
    return float(to_celsius(reading.temp, reading.unit))


def _temperature(reading: Reading, around: Around) -> Iterator[Question]:
    """The first of these is asked; the later ones would only repeat it."""
    temp_c = _celsius(reading)
    high_c, low_c = _highest_c(around), _lowest_c(reading, around, FASTER_THAN_PLANNED)
    if temp_c > high_c or temp_c < low_c:
        yield from _other_unit(reading, around, high_c)
    if temp_c > min(around.boiling_c + OVER_BOILING_K, HOTTEST_C):
        yield Question(
            "hotter-than-boiling",
            f"{reading.text} is hotter than this broth can be; it boils at {around.boiling_c:.0f} °C here.",
            "Measure again, then confirm it or set it aside with a reason.",
        )
    if temp_c < around.coolant_c - UNDER_COOLANT_K:
        yield Question(
            "below-coolant",
            f"{reading.text} is colder than what cools it. Was the probe in the ice?",
            "Measure in the middle of the fullest vessel. Until then this reading proves nothing.",
        )
    if around.before is not None and temp_c > high_c:
        yield Question(
            "rises",
            f"{reading.text} is warmer than the {around.before.text} before it, and nobody has re-heated it.",
            "Measure again at the warmest point. It counts until somebody sets it aside with a reason.",
        )
    if temp_c < low_c:
        yield Question(
            "falls-too-fast",
            f"{reading.text} is colder than these vessels can be {_since(reading, around)}. Was the probe at the wall "
            "or in the ice?",
            "Measure in the middle of the fullest vessel. Until it is confirmed this reading proves nothing.",
        )


def _since(reading: Reading, around: Around) -> str:
    before = around.before
    start, what = (around.opened_at, "drawing off") if before is None else (before.at, before.text)
    return f"{round((reading.at - start).total_seconds() / 60.0)} min after {what}"


def _highest_c(around: Around) -> float:
    boiling_c = around.boiling_c + OVER_BOILING_K
    return boiling_c if around.before is None else min(_celsius(around.before) + RISE_K, boiling_c)


def _lowest_c(reading: Reading, around: Around, factor: float) -> float:
    """Where it would be after the reading before at so many times the planned rate."""
    floor_c, start = around.coolant_c - UNDER_COOLANT_K, _warm_start(reading, around)
    if start is None or around.rate_per_h is None:
        return floor_c
    from_at, from_c = start
    hours = max((reading.at - from_at).total_seconds(), SAME_FALL_S) / 3600.0
    left = math.exp(-factor * around.rate_per_h * hours)
    cooled_c = around.coolant_c + (from_c - around.coolant_c) * left
    return max(floor_c, min(cooled_c, from_c) - SLACK_K)


def _warm_start(reading: Reading, around: Around) -> tuple[datetime, float] | None:
    """From which moment and temperature it has cooled by the devices alone."""
    before = around.before
    if before is None:
        start = None if around.drawn_c is None else (around.opened_at, around.drawn_c - DRAWN_COOLER_K)
    else:
        start = before.at, _celsius(before)
    return None if start is None or any(start[0] <= at <= reading.at for at in around.chilled_at) else start


def _other_unit(reading: Reading, around: Around, high_c: float) -> Iterator[Question]:
    other: TempUnit = "C" if reading.unit == "F" else "F"
    possible = around.coolant_c - UNDER_COOLANT_K <= _celsius(reading) <= around.boiling_c + OVER_BOILING_K
    if around.rate_per_h is None and possible:
        return
    meant_c = float(to_celsius(reading.temp, other))
    if not _lowest_c(reading, around, FITS_THE_PLAN) <= meant_c <= high_c:
        return
    code = "unit-too-hot" if _celsius(reading) > high_c else "unit-too-cold"
    yield Question(
        code,
        f"{reading.text} is unlikely here, {reading.temp:f} °{other} would fit. Which unit does the thermometer show?",
        f"Enter it again as {reading.temp:f} {other}, or confirm that it is {reading.text}.",
    )


def _time(reading: Reading, around: Around) -> Iterator[Question]:
    if reading.at < around.opened_at:
        yield Question(
            "before-opening",
            "This was measured before the cooling began here.",
            "Look at the time, then confirm it or set it aside with a reason.",
        )
    same = around.same_time
    if same is not None and (same.temp, same.unit) != (reading.temp, reading.unit):
        yield Question(
            "same-time",
            f"{same.text} is already there for the same moment. Both are kept and the hotter one counts.",
            "Set the wrong one aside with a reason.",
        )
    if around.after is not None and not around.from_probe:
        yield Question(
            "before-the-last",
            f"A later reading, {around.after.text}, is already there. The order of measuring counts.",
            "Look at the time. If it is wrong, set this one aside with a reason and enter it again.",
        )


def _thermometer(around: Around) -> Iterator[Question]:
    if around.thermometer == "unnamed":
        yield Question(
            "thermometer-unnamed",
            "No thermometer is named. The reading counts and is marked.",
            "Name the thermometer with the next reading.",
        )
    if around.thermometer == "unknown":
        yield Question(
            "thermometer-unknown",
            "This thermometer is not on the kitchen's list. The reading counts and is marked.",
            "Name a thermometer of the list, or ask the manager to add this one.",
        )
    if around.thermometer == "overdue":
        yield Question(
            "thermometer-overdue",
            "The check of this thermometer is overdue. The reading counts and is marked.",
            "Check it in ice water, and measure again with another one.",
        )
