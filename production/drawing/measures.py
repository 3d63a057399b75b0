"""Numbers as a cook reads them on a drawing."""

from typing import Literal

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
    if unit == "in":
        return f"{length_mm / 25.4:.1f} in"
    return f"{plain(length_mm)} mm"


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
