"""Thermometers held against something that is known, and what becomes of readings when one was found wrong."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta, tzinfo
from decimal import Decimal
from typing import Literal

from production.domain.errors import BadQuantity
from production.domain.limits import CoolingRule, TempUnit
from production.domain.records.logs import Facts, Kept, judge_log, log_digest
from production.domain.records.readings import exact_f
from production.domain.records.typed import Typed, corrected_temp
from production.domain.records.verdicts import State, Verdict
from production.domain.thermal.properties import boiling_point_c, saturation_temp_c

Method = Literal["ice", "boiling", "reference"]

MOST_OFF_C, MOST_OFF_F = Decimal(1), Decimal(2)
TOLERANCE_SOURCE = (
    "FDA Food Code 4-203.11, read as adopted by California (HSC 114159): 1 °C where a thermometer shows Celsius or "
    "both scales, 2 °F where it shows Fahrenheit only"
)
_F_PER_C = Decimal("1.8")
_FINE = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class CheckVerdict:
    """How far off a thermometer was and is; decimals as typed, nothing rounded."""

    off: Decimal  # as found less the reference
    passed: bool
    left_off: Decimal | None
    fit: bool  # as found or as left: it may be used


def allowed_off(
    *, shown_unit: TempUnit, unit: TempUnit, both_scales: bool, most_off_c: Decimal, most_off_f: Decimal
) -> Decimal:
    """How far off a thermometer may be, in the unit in which it was read.

    Equation: the wider tolerance for a thermometer that shows Fahrenheit only; otherwise the narrower one, which is
        1.8 F for 1 C.
    Units: shown_unit, unit [C or F], both_scales (yes or no), most_off_c [C difference], most_off_f [F difference];
        returns [difference in shown_unit].
    Valid: food thermometers.
    Errors: none.
    Source: FDA Food Code 4-203.11(A) and (B), read as adopted by California (HSC 114159(c)).
    """
    if unit == "F" and not both_scales and shown_unit == "F":
        return most_off_f
    return most_off_c * _F_PER_C if shown_unit == "F" else most_off_c


def check_target(
    *,
    method: Method,
    unit: TempUnit,
    altitude_m: float,
    pressure_hpa: float | None = None,
    reference: Decimal | None = None,
) -> Decimal:
    """What a right thermometer shows in ice water, in boiling water or beside a reference thermometer.

    Equation: 0 C = 32 F in ice water; the saturation temperature at the air pressure that was measured, or else at
        the standard pressure of the altitude, to 0.01; the reference as it was read.
    Units: unit [C or F], altitude_m [m], pressure_hpa [hPa, at the place itself], reference [in unit]; returns [unit].
    Valid: crushed ice and water, stirred; water at a full boil. Without a measured pressure the weather moves the
        boiling point by about 0.9 C either way.
    Errors: BadQuantity `reference-missing`; OutOfRange as the saturation curve.
    Source: ice point from memory; standard atmosphere ISO 2533 and IAPWS R7-97(2012), as in `boiling_point_c`.
    """
    if method == "ice":
        return Decimal(32) if unit == "F" else Decimal(0)
    if method == "reference":
        if reference is None:
            raise BadQuantity(
                "A check against another thermometer needs what that one shows.",
                code="reference-missing",
                remedy="Type the temperature of the reference, or check in ice water.",
            )
        return reference
    boil_c = (
        boiling_point_c(altitude_m=altitude_m)
        if pressure_hpa is None
        else saturation_temp_c(pressure_kpa=pressure_hpa / 10.0)
    )
    exact = Decimal(repr(boil_c))
    return (exact_f(exact, "C") if unit == "F" else exact).quantize(_FINE)


def judge_check(
    *, as_found: Decimal, target: Decimal, allowed: Decimal, as_left: Decimal | None = None
) -> CheckVerdict:
    """Whether a thermometer showed what it should, and whether it does so now.

    Equation: |as found - target| <= allowed; the same as left, where it was set right.
    Units: as_found, target, as_left [C or F, one of both], allowed [difference in it]; returns a record.
    Valid: exact decimals; on the limit is within.
    Errors: none.
    Source: tolerance as allowed_off.
    """
    off = as_found - target
    passed = abs(off) <= allowed
    left_off = None if as_left is None else as_left - target
    fit = passed if left_off is None else abs(left_off) <= allowed
    return CheckVerdict(off=off, passed=passed, left_off=left_off, fit=fit)


def check_due(*, checked_on: date, every_days: int, fit: bool) -> date | None:
    """The last day on which a check counts.

    Equation: day of the check + days; none after a failed one.
    Units: checked_on [calendar day], every_days [day], fit (yes or no); returns [calendar day].
    Valid: 1 day or more.
    Errors: none.
    Source: the interval is the kitchen's own; common practice, no source.
    """
    return checked_on + timedelta(days=every_days) if fit else None


def standing_words(*, known: bool, check_due_on: date | None, day: date) -> str:
    """What is kept beside a reading whose thermometer proves little; nothing for a good one.

    Equation: unknown where it is not on the list; overdue without a good check, or after its last day.
    Units: known (yes or no), check_due_on, day [calendar day]; returns a word.
    Valid: readings that name a thermometer.
    Errors: none.
    Source: own definition.
    """
    if not known:
        return "unknown"
    return "overdue" if check_due_on is None or day > check_due_on else ""


def with_error_out(kept: Iterable[Kept], *, rows: AbstractSet[int], off: Decimal, unit: TempUnit) -> list[Kept]:
    """A log as it would read if the readings of one thermometer had all been as far off as it was found.

    Equation: temperature - off, for the rows named; an error on the other scale is 1.8 F for 1 C, rounded so that the
        food is rather called warmer.
    Units: kept (records), rows (row numbers), off [difference in unit]; returns records.
    Valid: an error that stayed the same; nobody knows since when it was there.
    Errors: none.
    Source: own definition.
    """
    return [_shifted(each, off, unit) if each.row in rows else each for each in kept]


def _shifted(kept: Kept, off: Decimal, unit: TempUnit) -> Kept:
    shown = Typed(kept.reading.temp, kept.reading.unit)
    return replace(
        kept, reading=replace(kept.reading, temp=corrected_temp(shown, correction=-off, correction_unit=unit))
    )


def judge_if_off(
    rule: CoolingRule,
    kept: Sequence[Kept],
    facts: Facts,
    *,
    rows: AbstractSet[int],
    off: Decimal,
    unit: TempUnit,
    now: datetime,
    closed: bool,
    zone: tzinfo = UTC,
) -> Verdict:
    """The verdict on a log if a thermometer was wrong all the time.

    Equation: judge_log of with_error_out.
    Units: rule, kept, facts (records), rows (row numbers), off [difference in unit], now [instant]; returns a verdict.
    Valid: as both.
    Errors: as judge_log.
    Source: own definition.
    """
    shifted = with_error_out(kept, rows=rows, off=off, unit=unit)
    return judge_log(rule, log_digest(rule, shifted, facts), now=now, closed=closed, zone=zone)


_IF_OFF = {
    State.MET: "would still be met",
    State.NOT_SHOWN: "would not be shown",
    State.BREACHED: "would be breached",
    State.RUNNING: "would still run",
    State.NOT_STARTED: "would not have started",
}


def if_off_words(state: State) -> str:
    """How a verdict would be with the error taken out.

    Equation: one phrase per state.
    Units: state; returns text.
    Valid: every state.
    Errors: none.
    Source: own words.
    """
    return _IF_OFF[state]
