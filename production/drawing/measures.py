"""Numbers as a cook reads them on a drawing."""

import math
from typing import Literal

from production.domain.quantities import display_quantity

LengthUnit = Literal["mm", "in"]
TempUnit = Literal["C", "F"]


def plain(value: float, decimals: int = 0) -> str:
    """A number with a true minus sign and no superfluous zeros."""
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    if text in {"-0", ""}:
        text = "0"
    return text.replace("-", "−")


def length_text(length_mm: float, unit: LengthUnit) -> str:
    """Whole millimetres or eighths of an inch, as a rule shows them."""
    return " ".join(display_quantity(length_mm, "mm", "us" if unit == "in" else "metric"))


def up_to_mark_mm(length_mm: float, unit: LengthUnit) -> float:
    """A length up to the next line of a rule: a distance from the rim that is rounded so never overfills a pot."""
    step_mm = 25.4 / 8 if unit == "in" else 1.0
    return math.ceil(length_mm / step_mm - 1e-6) * step_mm


def down_to_mark_mm(length_mm: float, unit: LengthUnit) -> float:
    """A length down to the line of a rule: a height above the bottom that is rounded so never overfills a pot."""
    return -up_to_mark_mm(-length_mm, unit)


def temp_shown(temp_c: float, unit: TempUnit) -> float:
    return temp_c * 9 / 5 + 32 if unit == "F" else temp_c


def temp_text(temp_c: float, unit: TempUnit) -> str:
    """At most one decimal: legal limits such as 57.2 °C are not rounded away."""
    return f"{plain(temp_shown(temp_c, unit), 1)} °{unit}"


def minutes_text(minutes: float) -> str:
    """A span of time in words of the floor: 25 min, 2 h, 1 h 35 min."""
    whole = round(minutes)
    hours, rest = divmod(abs(whole), 60)
    sign = "−" if whole < 0 else ""
    if not hours:
        return f"{sign}{rest} min"
    return f"{sign}{hours} h" if not rest else f"{sign}{hours} h {rest} min"
