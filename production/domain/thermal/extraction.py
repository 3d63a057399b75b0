"""How much of the extractable gelatin is out after a time at a temperature; a planning model to be calibrated."""

from __future__ import annotations

import math

from production.domain.errors import OutOfRange
from production.domain.workings import working

T90 = (0.05, 100.0)


@working(cls="C", unit="share", ranges={"time_h": (0.0, 200.0), "t90_h": T90})
def extracted_share(*, time_h: float, t90_h: float) -> float:
    """Share of what the solid can give that is in the liquid after a time.

    Equation: 1 - 10^(-t / t90).
    Units: time_h [h], t90_h [h] until nine tenths are out; returns [share].
    Valid: simmer at the temperature for which t90 holds; long acid boils fall again, which is not modelled.
    Errors: OutOfRange outside that range.
    Source: own choice; t90 from trade times, not measured.
    """
    return float(1.0 - 10.0 ** (-time_h / t90_h))


@working(cls="C", unit="h", ranges={"wanted_share": (0.0, 0.999), "t90_h": T90})
def extraction_time_h(*, wanted_share: float, t90_h: float) -> float:
    """Time after which a wanted share is out.

    Equation: -t90 log10(1 - share).
    Units: wanted_share [share], t90_h [h]; returns [h].
    Valid: as the extracted share.
    Errors: OutOfRange outside that range.
    Source: inverse of the extracted share.
    """
    return -t90_h * math.log10(1.0 - wanted_share)


@working(
    cls="C",
    unit="times",
    ranges={"temp_c": (60.0, 105.0), "reference_c": (60.0, 105.0), "activation_kj_mol": (10.0, 200.0)},
    parameters=("extraction.activation_kj_mol",),
)
def extraction_rate_factor(*, temp_c: float, reference_c: float, activation_kj_mol: float) -> float:
    """How many times faster extraction runs than at the reference temperature.

    Equation: exp[-Ea / R (1 / T - 1 / Tref)].
    Units: temp_c [degC], reference_c [degC], activation_kj_mol [kJ/mol]; returns [times].
    Valid: 60 to 105 degC; divide t90 by it.
    Errors: OutOfRange outside that range.
    Source: Arrhenius form; activation energy 60 to 100 kJ/mol from memory.
    """
    inverse = 1.0 / (temp_c + 273.15) - 1.0 / (reference_c + 273.15)
    return math.exp(-activation_kj_mol / 0.008314462618 * inverse)


@working(cls="C", unit="h", ranges={"t90_h": T90, "rate_factor": (0.01, 50.0)})
def corrected_t90_h(*, t90_h: float, rate_factor: float) -> float:
    """Time until nine tenths are out at another temperature.

    Equation: t90 / factor.
    Units: t90_h [h], rate_factor [times]; returns [h].
    Valid: as the rate factor.
    Errors: OutOfRange outside that range.
    Source: definition.
    """
    corrected = t90_h / rate_factor
    if not T90[0] <= corrected <= T90[1]:
        raise OutOfRange(
            f"{corrected:.2f} h to nine tenths is outside {T90[0]:g} to {T90[1]:g} h.",
            numbers={"t90_h": corrected},
            remedy="Choose a temperature nearer to the reference.",
        )
    return corrected
