"""Units at the edges: what a person types becomes a float in the unit of the field, and back again for display."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from decimal import ROUND_HALF_UP, Decimal
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

from production.domain.errors import BadQuantity, PotwrightError

if TYPE_CHECKING:
    import pint

System = Literal["metric", "us"]

UNIT_OF_SUFFIX: Mapping[str, str] = MappingProxyType(
    {
        "bx": "Bx",
        "c": "degC",
        "count": "pieces",
        "factor": "times",
        "g": "g",
        "h": "h",
        "k": "K",
        "kg": "kg",
        "kg_d": "kg/d",
        "kg_h": "kg/h",
        "kg_kg": "kg/kg",
        "kg_m2_h": "kg/(m2 h)",
        "kg_m3": "kg/m3",
        "kj": "kJ",
        "kg_l": "kg/L",
        "kj_k": "kJ/K",
        "kj_kg": "kJ/kg",
        "kj_kg_k": "kJ/(kg K)",
        "kj_mol": "kJ/mol",
        "kpa": "kPa",
        "kw": "kW",
        "kw_m2": "kW/m2",
        "kwh": "kWh",
        "l": "L",
        "l_h": "L/h",
        "m": "m",
        "m2": "m2",
        "m_s": "m/s",
        "min": "min",
        "ml": "mL",
        "mm": "mm",
        "mpa_s": "mPa s",
        "per_h": "1/h",
        "per_k": "1/K",
        "percent": "%",
        "s": "s",
        "share": "share",
        "w_k": "W/K",
        "w_m2_k": "W/(m2 K)",
        "w_m_k": "W/(m K)",
    }
)

# The same units as the unit library spells them; "share", "times", "pieces", "%" and "Bx" are plain numbers.
_LIBRARY_NAME: Mapping[str, str] = MappingProxyType(
    {
        "degC": "degC",
        "g": "gram",
        "h": "hour",
        "K": "kelvin",
        "kg": "kilogram",
        "kg/d": "kilogram/day",
        "kg/h": "kilogram/hour",
        "kg/kg": "dimensionless",
        "kg/(m2 h)": "kilogram/meter**2/hour",
        "kg/m3": "kilogram/meter**3",
        "kg/L": "kilogram/liter",
        "kJ": "kilojoule",
        "kJ/K": "kilojoule/kelvin",
        "kJ/kg": "kilojoule/kilogram",
        "kJ/(kg K)": "kilojoule/kilogram/kelvin",
        "kJ/mol": "kilojoule/mole",
        "kPa": "kilopascal",
        "kW": "kilowatt",
        "kW/m2": "kilowatt/meter**2",
        "kWh": "kilowatt_hour",
        "L": "liter",
        "L/h": "liter/hour",
        "m": "meter",
        "m2": "meter**2",
        "m/s": "meter/second",
        "min": "minute",
        "mL": "milliliter",
        "mm": "millimeter",
        "mPa s": "millipascal*second",
        "1/h": "1/hour",
        "1/K": "1/kelvin",
        "s": "second",
        "W/K": "watt/kelvin",
        "W/(m2 K)": "watt/meter**2/kelvin",
        "W/(m K)": "watt/meter/kelvin",
        "share": "dimensionless",
        "times": "dimensionless",
        "pieces": "dimensionless",
        "%": "dimensionless",
        "Bx": "dimensionless",
    }
)

# What people write -> the unit library's name. Case matters only where two units would collide.
_TYPED: Mapping[str, str] = MappingProxyType(
    {
        "kg": "kilogram", "kgs": "kilogram", "kilo": "kilogram", "kilos": "kilogram",
        "g": "gram", "gram": "gram", "grams": "gram", "mg": "milligram", "t": "metric_ton",
        "lb": "pound", "lbs": "pound", "pound": "pound", "pounds": "pound",
        "oz": "ounce", "ounce": "ounce", "ounces": "ounce",
        "l": "liter", "liter": "liter", "liters": "liter", "litre": "liter", "litres": "liter",
        "ml": "milliliter", "cl": "centiliter", "dl": "deciliter", "m3": "meter**3",
        "qt": "quart", "qts": "quart", "quart": "quart", "quarts": "quart",
        "gal": "gallon", "gals": "gallon", "gallon": "gallon", "gallons": "gallon",
        "pt": "pint", "pints": "pint", "cup": "cup", "cups": "cup",
        "fl oz": "fluid_ounce", "floz": "fluid_ounce", "fl.oz": "fluid_ounce",
        "tbsp": "tablespoon", "tsp": "teaspoon",
        "mm": "millimeter", "cm": "centimeter", "m": "meter", "km": "kilometer",
        "in": "inch", "inch": "inch", "inches": "inch", '"': "inch", "ft": "foot", "feet": "foot", "'": "foot",
        "s": "second", "sec": "second", "min": "minute", "mins": "minute", "minutes": "minute",
        "h": "hour", "hr": "hour", "hrs": "hour", "hour": "hour", "hours": "hour",
        "d": "day", "day": "day", "days": "day",
        "w": "watt", "kw": "kilowatt", "btu/h": "Btu/hour", "btu/hr": "Btu/hour", "btuh": "Btu/hour",
        "kwh": "kilowatt_hour", "kj": "kilojoule", "mj": "megajoule",
        "kpa": "kilopascal", "pa": "pascal", "mbar": "millibar", "hpa": "hectopascal",
        "kg/h": "kilogram/hour", "lb/h": "pound/hour", "kg/d": "kilogram/day", "kg/day": "kilogram/day",
        "lb/day": "pound/day", "l/h": "liter/hour", "kg/m3": "kilogram/meter**3",
        "kj/kg": "kilojoule/kilogram", "kj/k": "kilojoule/kelvin", "kg/l": "kilogram/liter",
        "kj/(kg k)": "kilojoule/kilogram/kelvin",
        "kj/kg/k": "kilojoule/kilogram/kelvin", "w/k": "watt/kelvin",
        "w/(m2 k)": "watt/meter**2/kelvin", "w/m2/k": "watt/meter**2/kelvin",
        "w/(m k)": "watt/meter/kelvin", "w/m/k": "watt/meter/kelvin",
        "kw/m2": "kilowatt/meter**2", "m2": "meter**2", "cm2": "centimeter**2", "m/s": "meter/second",
        "1/h": "1/hour", "1/k": "1/kelvin", "kj/mol": "kilojoule/mole", "kg/(m2 h)": "kilogram/meter**2/hour",
        "mpa s": "millipascal*second",
    }
)  # fmt: skip

_EXAMPLE: Mapping[str, str] = MappingProxyType(
    {
        "kg": "12.5 kg or 15 lb 4 oz",
        "L": "40 L or 60 qt",
        "mL": "30 mL or 1 fl oz",
        "degC": "82 C or 180 F",
        "K": "5 K or 9 F",
        "m": "1600 m or 5200 ft",
        "mm": "450 mm or 18 in",
        "h": "1.5 h or 90 min",
        "min": "90 min or 1 h 30 min",
        "kW": "8 kW or 27000 BTU/h",
        "share": "0.85 or 85 %",
    }
)

_NUMBER = r"\d+\s+\d+/\d+|\d+/\d+|\d+(?:\.\d+)?(?:[eE][-+]?\d+)?|\.\d+"
_ONE = re.compile(rf"(?P<number>{_NUMBER})\s*(?P<unit>\D.*)?")
_TERM = re.compile(rf"\s*(?P<number>{_NUMBER})\s*(?P<unit>[^\d\s]\D*?)\s*(?=\d|$)")
_FAHRENHEIT = frozenset({"f", "degf", "fahrenheit"})
_CELSIUS = frozenset({"c", "degc", "celsius"})
_KELVIN = frozenset({"k", "kelvin"})
_VOLUME_UNITS = frozenset({"L", "mL"})
_LONGEST_TEXT = 60


@cache
def _registry() -> pint.UnitRegistry[float]:
    import pint

    return pint.UnitRegistry(cache_folder=None)


@cache
def _factor(typed: str, wanted: str) -> float | None:
    """How many `wanted` one `typed` is; None where the two measure different things."""
    registry = _registry()
    source, target = registry.parse_units(typed), registry.parse_units(wanted)
    if source.dimensionality != target.dimensionality:
        return None
    return float(registry.Quantity(1.0, source).to(target).magnitude)


def unit_of_name(name: str) -> str:
    """Unit that a name declares by its suffix, as `mass_kg` declares kg.

    Equation: the longest suffix of UNIT_OF_SUFFIX that the name ends in, after an underscore.
    Units: name [no quantities]; returns [unit symbol].
    Valid: names with at least one letter before the suffix.
    Errors: BadQuantity when the name ends in no known suffix.
    Source: own definition.
    """
    parts = name.split("_")
    for start in range(1, len(parts)):
        unit = UNIT_OF_SUFFIX.get("_".join(parts[start:]))
        if unit is not None:
            return unit
    raise BadQuantity(
        f"The name {name!r} does not end in a unit.",
        code="name-without-unit",
        remedy="End the name in one of: " + ", ".join(sorted(UNIT_OF_SUFFIX)) + ".",
    )


def _fail(text: str, unit: str, reason: str, *, code: str) -> PotwrightError:
    example = _EXAMPLE.get(unit, f"2.5 {unit}")
    return BadQuantity(
        f"{text!r} cannot be used here: {reason}",
        code=code,
        numbers={"found": text, "unit": unit},
        remedy=f"Write it like this: {example}.",
    )


def _number(text: str) -> float:
    total = 0.0
    for part in text.split():
        top, _, bottom = part.partition("/")
        if bottom:
            total += float(top) / float(bottom) if float(bottom) else math.inf
        else:
            total += float(top)
    return total


def parse_quantity(text: str | float, unit: str, *, unit_required: bool = False) -> float:
    """Read an amount as people type it and give it in the unit of the field.

    Equation: value x exact conversion factor; 1 US qt = 0.946352946 L, 1 lb = 0.45359237 kg, F = 1.8 C + 32;
        a difference in K takes F and C without the offset; a plain number is already in the unit of the field.
    Units: text [any unit of the same kind], unit [unit symbol]; returns [unit].
    Valid: finite numbers; sums such as "15 lb 4 oz"; fractions such as "1 1/2 qt"; US liquid measures.
    Errors: BadQuantity when unreadable, ambiguous ("1,5", "5 oz" for a volume), of the wrong kind, or not finite.
    Source: international yard and pound agreement 1959, US gallon of 231 cubic inches; factors from the pint library.
    """
    if isinstance(text, int | float):
        if isinstance(text, bool):
            raise _fail(str(text), unit, "an amount is expected.", code="unreadable")
        if not math.isfinite(text):
            raise _fail(str(text), unit, "the number is not finite.", code="not-finite")
        if unit_required:
            raise _fail(f"{text:g}", unit, "a unit is expected.", code="unit-missing")
        return float(text)
    typed = text.strip().replace("°", "").replace("º", "").replace("²", "2").replace("³", "3")
    if not typed or len(typed) > _LONGEST_TEXT:
        raise _fail(text[:_LONGEST_TEXT], unit, "an amount is expected.", code="unreadable")
    if re.search(r"\d,\d", typed):
        raise _fail(text, unit, "a comma may mean a decimal or a thousand.", code="ambiguous-comma")
    sign = -1.0 if typed[0] in "-−" else 1.0
    body = typed[1:].strip() if typed[0] in "-−+" else typed
    value = sign * _magnitude(text, body, unit, unit_required, sign)
    if not math.isfinite(value):
        raise _fail(text, unit, "the number is not finite.", code="not-finite")
    return value


def _magnitude(text: str, body: str, unit: str, unit_required: bool, sign: float) -> float:
    match = _ONE.fullmatch(body)
    if match is None:
        raise _fail(text, unit, "no number was found.", code="unreadable")
    name = _spelling(match["unit"])
    if not name:
        if unit_required:
            raise _fail(text, unit, "the unit is missing.", code="unit-missing")
        return _number(match["number"])
    if unit in ("degC", "K") and name in _FAHRENHEIT | _CELSIUS | _KELVIN:
        return sign * _temperature(sign * _number(match["number"]), name, unit)
    if _known(name, unit):
        return _converted(text, _number(match["number"]), name, unit)
    terms = _terms(body)
    unknown = [each for _, each in terms if not _known(_spelling(each), unit)]
    if len(terms) < 2 or unknown:
        name = unknown[0] if unknown else match["unit"].strip()
        raise _fail(text, unit, f"the unit {name!r} is not known here.", code="unknown-unit")
    return sum(_converted(text, _number(number), _spelling(each), unit) for number, each in terms)


def _spelling(unit_text: str | None) -> str:
    return re.sub(r"\s+", " ", (unit_text or "").strip().lower().rstrip("."))


def _known(name: str, unit: str) -> bool:
    return (
        name in _TYPED or name == unit.lower() or (unit == "share" and name == "%") or (unit == "Bx" and name == "brix")
    )


def _terms(body: str) -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    position = 0
    while position < len(body):
        match = _TERM.match(body, position)
        if match is None:
            return []
        found.append((match["number"], match["unit"]))
        position = match.end()
    return found


def _converted(text: str, value: float, name: str, unit: str) -> float:
    if name in (unit.lower(), "brix"):
        return value
    if name == "%":
        return value / 100.0
    if name in ("oz", "ounce", "ounces") and unit in _VOLUME_UNITS:
        raise _fail(text, unit, "oz is a weight here; a volume is written fl oz.", code="ambiguous-ounce")
    factor = _factor(_TYPED[name], _LIBRARY_NAME[unit])
    if factor is None:
        raise _fail(text, unit, f"{name} does not measure the same thing as {unit}.", code="wrong-kind")
    return value * factor


def _temperature(value: float, name: str, unit: str) -> float:
    if unit == "K":
        return value / 1.8 if name in _FAHRENHEIT else value
    if name in _FAHRENHEIT:
        return fahrenheit_to_celsius(value)
    return value - 273.15 if name in _KELVIN else value


def fahrenheit_to_celsius(temp_f: float) -> float:
    """Convert a Fahrenheit reading to Celsius.

    Equation: C = (F - 32) / 1.8.
    Units: temp_f [degF]; returns [degC].
    Valid: every temperature.
    Errors: none.
    Source: exact definition.
    """
    return (temp_f - 32.0) / 1.8


def celsius_to_fahrenheit(temp_c: float) -> float:
    """Convert a Celsius reading to Fahrenheit.

    Equation: F = 1.8 C + 32.
    Units: temp_c [degC]; returns [degF].
    Valid: every temperature.
    Errors: none.
    Source: exact definition.
    """
    return temp_c * 1.8 + 32.0


def rounded_text(value: float, step: str) -> str:
    """Round to a step and write without trailing zeros, halves away from zero.

    Equation: step x round(value / step).
    Units: value [any], step [same unit as value]; returns [text].
    Valid: finite values; step a positive decimal such as "0.05".
    Errors: none.
    Source: own definition.
    """
    size = Decimal(step)
    rounded = (Decimal(repr(value)) / size).quantize(Decimal(1), rounding=ROUND_HALF_UP) * size
    text = f"{rounded.normalize():f}"
    return "0" if text == "-0" else text


def _stepped(value: float) -> str:
    size = abs(value)
    return rounded_text(value, "0.05" if size < 10 else "0.1" if size < 50 else "0.5")


def _significant(value: float) -> str:
    if value == 0.0:
        return "0"
    digits = 3 - math.floor(math.log10(abs(value)))
    return rounded_text(value, f"1e{-digits}") if -12 < digits < 12 else f"{value:.3e}"


def _eighths(inches: float) -> str:
    whole, rest = divmod(round(inches * 8), 8)
    fraction = {0: "", 1: "1/8", 2: "1/4", 3: "3/8", 4: "1/2", 5: "5/8", 6: "3/4", 7: "7/8"}[rest]
    return " ".join(part for part in (str(whole) if whole or not rest else "", fraction) if part)


def _in_us_units(value: float, unit: str) -> tuple[str, str] | None:
    if unit == "kg":
        pounds = value / 0.45359237
        return (_stepped(pounds), "lb") if abs(pounds) >= 1 else (rounded_text(pounds * 16, "0.1"), "oz")
    if unit == "L":
        quarts = value / 0.946352946
        return (_stepped(quarts), "qt") if abs(quarts) < 40 else (_stepped(quarts / 4), "gal")
    if unit == "mL":
        return rounded_text(value / 29.5735295625, "0.05"), "fl oz"
    if unit == "degC":
        return rounded_text(celsius_to_fahrenheit(value), "0.1"), "F"
    if unit == "K":
        return rounded_text(value * 1.8, "0.1"), "F difference"
    if unit == "mm":
        return _eighths(value / 25.4), "in"
    if unit == "m":
        return rounded_text(value / 0.3048, "1"), "ft"
    if unit == "kg/h":
        return _stepped(value / 0.45359237), "lb/h"
    return None


_DISPLAY_STEP: Mapping[str, str] = MappingProxyType(
    {
        "degC": "0.1",
        "K": "0.1",
        "mm": "1",
        "m": "1",
        "min": "1",
        "s": "1",
        "h": "0.1",
        "%": "0.1",
        "Bx": "0.1",
        "kW": "0.1",
    }
)


def display_quantity(value: float, unit: str, system: System = "metric") -> tuple[str, str]:
    """Write a value for people: rounded to what a kitchen can weigh or read, in the kitchen's units.

    Equation: kg and L in steps of 0.05 under 10, 0.1 to 50, 0.5 above; degC, K, h, %, Bx, kW in 0.1;
        mm, m, min, s whole; US inches to the eighth; everything else to four significant digits; a share as percent.
    Units: value [unit], unit [unit symbol], system [no quantities]; returns [text, unit].
    Valid: finite values.
    Errors: BadQuantity when the value is not finite.
    Source: own definition.
    """
    if not math.isfinite(value):
        raise _fail(str(value), unit, "the number is not finite.", code="not-finite")
    if system == "us" and (shown := _in_us_units(value, unit)) is not None:
        return shown
    if unit == "share":
        return rounded_text(value * 100.0, "0.1"), "%"
    if unit in ("kg", "L", "kg/h"):
        return _stepped(value), unit
    if unit in _DISPLAY_STEP:
        return rounded_text(value, _DISPLAY_STEP[unit]), "C" if unit == "degC" else unit
    return _significant(value), unit


def round_up_to_packs(*, needed: float, pack: float) -> int:
    """Whole packs that cover a need.

    Equation: ceil(needed / pack), forgiving one part in 10^9 of a pack.
    Units: needed [any], pack [same unit as needed]; returns [pieces].
    Valid: needed >= 0, pack > 0.
    Errors: BadQuantity when either lies outside.
    Source: own definition.
    """
    if not (pack > 0 and math.isfinite(pack)) or not (needed >= 0 and math.isfinite(needed)):
        raise BadQuantity(
            f"{needed!r} in packs of {pack!r} cannot be rounded.",
            code="bad-pack",
            numbers={"needed": needed, "pack": pack},
            remedy="Give a pack larger than nothing and a need that is not negative.",
        )
    return math.ceil(needed / pack - 1e-9)


def round_money(amount: Decimal, *, places: int = 2) -> Decimal:
    """Round an amount of money, halves away from zero.

    Equation: nearest multiple of 10^-places.
    Units: amount [currency], places [pieces]; returns [currency].
    Valid: every finite amount.
    Errors: none.
    Source: common practice, no source.
    """
    return amount.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)
