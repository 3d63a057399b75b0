"""The boxes of each step: what is typed, in which unit it is expected, and from where on it is asked about.

The limits are only for questions: what lies outside is kept all the same. They are our own choice, wide enough for a
run that goes otherwise than planned, narrow enough for a slip of the finger or a wrong unit.
"""

from __future__ import annotations

from production.domain.formula import Charge, Draw
from production.domain.records.course_content import Field

Boxes = tuple[Field, ...]
HOLD_C = 65.0  # as the sheet says: above the start of every cooling rule; own choice
_ABOVE_BOIL_K = 1.5  # a thermometer may be off, the liquid is not hotter than its boil


def weight(*, expected_kg: float, planned_kg: float) -> Boxes:
    """What the scales show.

    Equation: expected, and half to one and a half times the larger and the smaller of the two.
    Units: expected_kg [kg], planned_kg [kg]; returns boxes.
    Valid: any weight.
    Errors: none.
    Source: own choice.
    """
    return (_amount("mass", "Weight", "mass", "kg", expected_kg, planned_kg, low=0.5, high=1.5),)


def skim() -> Boxes:
    """What was skimmed off, if anybody weighs it.

    Equation: none.
    Units: returns boxes.
    Valid: always.
    Errors: none.
    Source: own choice.
    """
    return (Field(name="mass", label="Skimmed off", kind="mass", unit="kg", low=0.0, high=20.0),)


def fill(charge: Charge, planned: Charge, *, mark_mm: float) -> Boxes:
    """The water that went in, by volume, weight or mark; a tap says that it stands at the mark.

    Equation: water of the charge, and its mark as it can be measured.
    Units: charge, planned (records; [kg], [L], [mm]), mark_mm [mm]; returns boxes.
    Valid: any charge.
    Errors: none.
    Source: own choice.
    """
    return (
        _amount("volume", "Water", "volume", "L", charge.water_l, planned.water_l, low=0.6, high=1.3),
        _amount("mass", "Water", "mass", "kg", charge.water_kg, planned.water_kg, low=0.6, high=1.3),
        Field(
            name="level",
            label="Below the rim",
            kind="level",
            unit="mm",
            expected=mark_mm,
            planned=planned.fill_mark_mm,
            low=max(0.0, mark_mm - 60.0),
            high=mark_mm + 120.0,
        ),
    )


def temperature(expected_c: float, *, high_c: float) -> Boxes:
    """The temperature of a simmer.

    Equation: expected; asked about 20 K below and above the boil.
    Units: expected_c [degC], high_c [degC]; returns boxes.
    Valid: simmers.
    Errors: none.
    Source: own choice.
    """
    return (_temperature(expected_c, low_c=expected_c - 20.0, high_c=high_c),)


def hold(*, high_c: float) -> Boxes:
    """The temperature of liquor that is kept hot.

    Equation: at least HOLD_C.
    Units: high_c [degC]; returns boxes.
    Valid: hot holding.
    Errors: none.
    Source: own choice.
    """
    return (_temperature(HOLD_C, low_c=HOLD_C, high_c=high_c),)


def drawn(draw: Draw, planned: Draw, *, boil_c: float) -> Boxes:
    """What a draw weighs, or its hot volume with its temperature.

    Equation: fields of the draw; asked about below half and above 1.4 times.
    Units: draw, planned (records; [kg], [L]), boil_c [degC]; returns boxes.
    Valid: any draw.
    Errors: none.
    Source: own choice.
    """
    return (
        _amount("mass", "Weight", "mass", "kg", draw.mass_kg, planned.mass_kg, low=0.5, high=1.4),
        _amount("volume", "Hot volume", "volume", "L", draw.hot_l, planned.hot_l, low=0.5, high=1.4),
        _temperature(draw.hot_c, low_c=40.0, high_c=boil_c),
    )


def brix(expected_bx: float, *, planned_bx: float) -> Boxes:
    """What the refractometer shows.

    Equation: expected; asked about below a quarter and above three times.
    Units: expected_bx [Bx], planned_bx [Bx]; returns boxes.
    Valid: any strength.
    Errors: none.
    Source: own choice.
    """
    return (_amount("brix", "Brix", "brix", "Bx", expected_bx, planned_bx, low=0.25, high=3.0),)


def refill(charge: Charge, planned: Charge) -> Boxes:
    """Water onto the bones, by weight or volume; a tap says as much as is written.

    Equation: refill of the charge.
    Units: charge, planned (records; [kg]); returns boxes.
    Valid: charges with a second draw.
    Errors: none.
    Source: own choice.
    """
    wanted, was = charge.refill_kg, planned.refill_kg
    return (
        _amount("mass", "Water", "mass", "kg", wanted, was, low=0.5, high=1.4),
        _amount("volume", "Water", "volume", "L", wanted, was, low=0.5, high=1.4),  # cold water: a kilogram a litre
    )


def poured(charge: Charge) -> Boxes:
    """What is poured over into a pan.

    Equation: the second draw.
    Units: charge (record; [kg]); returns boxes.
    Valid: charges with a second draw.
    Errors: none.
    Source: own choice.
    """
    expected = charge.liquor.mass_kg if charge.liquor is not None else None
    return (Field(name="mass", label="Weight", kind="mass", unit="kg", expected=expected, planned=expected),)


def reducing(charge: Charge) -> Boxes:
    """What is left while it boils down, by weight or by the depth of the liquid.

    Equation: from half of the aim to a little more than there was.
    Units: charge (record; [kg]); returns boxes.
    Valid: charges with a reduction.
    Errors: none.
    Source: own choice.
    """
    low = high = None
    if charge.reduction is not None:
        low, high = 0.5 * charge.reduction.mass_kg, 1.4 * charge.reduction.liquor.mass_kg
    return (
        Field(name="mass", label="Weight", kind="mass", unit="kg", low=low, high=high),
        Field(name="depth", label="Depth of the liquid", kind="depth", unit="mm", low=3.0, high=1000.0),
    )


def reduced(charge: Charge, planned: Charge) -> Boxes:
    """What a reduction gave.

    Equation: fields of the reduction; asked about below 0.4 and above twice.
    Units: charge, planned (records; [kg], [L], [Bx]); returns boxes.
    Valid: charges with a reduction.
    Errors: none.
    Source: own choice.
    """
    now, was = charge.reduction, planned.reduction
    if now is None or was is None:
        return ()
    return (
        _amount("mass", "Weight", "mass", "kg", now.mass_kg, was.mass_kg, low=0.4, high=2.0),
        _amount("volume", "Volume", "volume", "L", now.litres, was.litres, low=0.4, high=2.0),
        _amount("brix", "Brix", "brix", "Bx", now.solids_bx, was.solids_bx, low=0.5, high=1.8),
    )


def count(label: str, expected: int) -> Boxes:
    """A number of pieces.

    Equation: expected; asked about above twice as many.
    Units: label (text), expected (count); returns boxes.
    Valid: whole numbers.
    Errors: none.
    Source: own choice.
    """
    high = 2.0 * expected + 2.0
    return (
        Field(
            name="count",
            label=label,
            kind="count",
            unit="pieces",
            expected=float(expected),
            planned=float(expected),
            low=0.0,
            high=high,
        ),
    )


def _amount(
    name: str, label: str, kind: str, unit: str, expected: float, planned: float, *, low: float, high: float
) -> Field:
    least, most = min(expected, planned), max(expected, planned)
    return Field(
        name=name,
        label=label,
        kind=kind,
        unit=unit,
        expected=expected,
        planned=planned,
        low=low * least,
        high=high * most,
    )


def _temperature(expected_c: float, *, low_c: float, high_c: float) -> Field:
    return Field(
        name="temp",
        label="Temperature",
        kind="temperature",
        unit="degC",
        expected=expected_c,
        planned=expected_c,
        low=low_c,
        high=high_c + _ABOVE_BOIL_K,
    )
