"""Temperatures as people and probes send them, and the correction of the thermometer."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from production.domain.errors import BadQuantity
from production.domain.limits import TempUnit
from production.domain.records.readings import parse_temp

_TYPED = re.compile(r"(?P<number>[+\-−]?[0-9]{1,4}(?:[.,][0-9]{1,6})?)\s*(?:°|º)?\s*(?P<unit>[CcFf])?")
_STEP = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Typed:
    """What the thermometer showed."""

    temp: Decimal
    unit: TempUnit


def typed_temp(text: str, *, unit: str) -> Typed:
    """A temperature as it was typed; a unit in the text goes before the one beside it.

    Equation: digits with a decimal point or comma (no thousands are possible), a sign, C or F.
    Units: text [as typed], unit [C or F]; returns the number and its unit.
    Valid: up to 4 digits before and 6 after the point.
    Errors: BadQuantity `reading-temp` when it cannot be read, `reading-unit` without a unit.
    Source: own definition.
    """
    match = _TYPED.fullmatch(text.strip())
    if match is None:
        raise BadQuantity(
            f"{text[:40]!r} is not a temperature that can be kept.",
            code="reading-temp",
            numbers={"temp": text[:40]},
            remedy='Give the number that the thermometer shows, for instance "69.8", or with its unit "160 F".',
        )
    number = match["number"].replace(",", ".").replace("−", "-")
    said = (match["unit"] or unit).upper()
    if said not in ("C", "F"):
        raise BadQuantity(
            f"The reading {text[:40]!r} has no unit.",
            code="reading-unit",
            numbers={"unit": unit[:10]},
            remedy="Give C or F, as the thermometer shows.",
        )
    return Typed(parse_temp(number), "F" if said == "F" else "C")


def corrected_temp(shown: Typed, *, correction: Decimal, correction_unit: TempUnit) -> Decimal:
    """What the thermometer would show if it were right.

    Equation: shown + correction; a correction on the other scale is 1.8 F for 1 C, rounded up to 0.01 so that the
        food is rather called warmer.
    Units: shown [as typed], correction [unit of the thermometer], correction_unit [C or F]; returns [unit as typed].
    Valid: corrections found at the check of a thermometer.
    Errors: none.
    Source: exact definition of the scales.
    """
    if not correction:
        return shown.temp
    if shown.unit == correction_unit:
        return shown.temp + correction.normalize()
    factor = correction * Decimal("1.8") if shown.unit == "F" else correction / Decimal("1.8")
    return shown.temp + factor.quantize(_STEP, rounding=ROUND_CEILING)
