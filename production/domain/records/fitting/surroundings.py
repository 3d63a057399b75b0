"""What a cooling container stands in, as far as it is known: how cold, and how fast things usually cool there."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from production.domain.errors import OutOfRange
from production.domain.parameters import ParameterSet

Place = Literal["ice_sink", "blast_chiller", "cold_room", "room"]
COLDEST_C, WARMEST_C = -60.0, 60.0
LEAST_SD_K = 0.3  # no bath is known better (own estimate, class C)
AIR_SD_K = 1.5  # air near the food against the display of the device (common practice, no source)
MOVED_SD_K, MOVED_FACTOR = 5.0, 3.0  # own estimates, class C
_SD_OF_90_PERCENT = 2.0 * 1.6449  # the width of nine in ten, in standard deviations

# Rate [1/h] and the factor that is one standard deviation of it: common practice, no source, class C.
_RATES: dict[Place, tuple[float, float]] = {
    "ice_sink": (1.8, 2.2),
    "blast_chiller": (1.2, 2.2),
    "cold_room": (0.35, 2.5),
    "room": (0.25, 2.5),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """Temperature around the container and the usual rate of cooling, each with one standard deviation."""

    temp_c: float
    temp_sd_k: float
    rate_per_h: float
    rate_factor: float

    def __post_init__(self) -> None:
        known = COLDEST_C <= self.temp_c <= WARMEST_C and 0.0 < self.temp_sd_k <= 30.0
        if not (known and 1e-3 <= self.rate_per_h <= 100.0 and 1.0 < self.rate_factor <= 10.0):
            raise OutOfRange(
                "It is not said, or cannot be, how cold it is around the container and how fast it cools there.",
                code="surroundings-unknown",
                numbers={"temp_c": self.temp_c, "temp_sd_k": self.temp_sd_k, "rate_per_h": self.rate_per_h},
                remedy="Give the temperature of the ice water or of the air, between -60 and 60 degC.",
            )

    def after_a_move(self) -> Surroundings:
        """What is still known when the container has been somewhere else than told."""
        return replace(self, temp_sd_k=max(self.temp_sd_k, MOVED_SD_K), rate_factor=max(self.rate_factor, MOVED_FACTOR))


def surroundings_of(*, place: Place, parameters: ParameterSet, air_c: float | None = None) -> Surroundings:
    """What is known beforehand about a place to cool in.

    Equation: ice: bath temperature of the parameter set, sd = (high - low) / 3.29, at least 0.3 K; air: as displayed,
        sd 1.5 K; rate log-normal about the usual one of such places.
    Units: place [no quantities], parameters (record), air_c [degC] of a chiller or room; returns temperatures [degC],
        spread [K], rate [1/h].
    Valid: a start that two or three readings overrule.
    Errors: OutOfRange when air is named without its temperature; UnknownParameter.
    Source: bath: the parameter set; rates and spread of the air: common practice, no source, class C.
    """
    rate, factor = _RATES[place]
    if place == "ice_sink":
        bath = parameters.get("cooling.bath_temp_c")
        temp, spread = bath.value, max(LEAST_SD_K, (bath.high - bath.low) / _SD_OF_90_PERCENT)
    else:
        temp, spread = math.nan if air_c is None else air_c, AIR_SD_K
    return Surroundings(temp_c=temp, temp_sd_k=spread, rate_per_h=rate, rate_factor=factor)
