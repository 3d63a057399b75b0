"""What advice is worked out from, and what it says."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from production.domain.kitchen import Container, CoolingDevice
from production.domain.parameters import ParameterSet
from production.domain.records.fitting import Place
from production.domain.records.forecast import Forecast
from production.domain.workings import Confidence

HOTTEST_C = 110.0  # no stock is hotter in an open vessel; a reading above it is in another unit or wrong
Help = Literal["stir", "add_ice", "move", "split"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FreePlace:
    """A cooling device that could take the food now, with the vessel it is loaded with."""

    device: CoolingDevice
    vessel: Container


@dataclass(frozen=True, slots=True, kw_only=True)
class AdviceInput:
    """One group of containers and the limit that is in danger; minutes on the clock of the readings."""

    forecast: Forecast  # with the target among its temperatures
    chance: float  # that the limit is kept if nobody does anything, by the forecast
    target_c: float
    limit_min: float
    now_min: float
    place: Place
    places: int  # vessels that can stand there
    stirred: bool
    glaze: bool
    litres: float  # all vessels together
    vessel: Container
    fill_l: float  # in the fullest vessel
    free: tuple[FreePlace, ...]
    parameters: ParameterSet

    @property
    def sets_c(self) -> float:
        """Below this it may have set, on the slow side."""
        return self.parameters.high(self._sets)

    @property
    def _sets(self) -> str:
        return "cooling.glaze_sets_c" if self.glaze else "cooling.broth_sets_c"

    @property
    def cp_kj_kg_k(self) -> float:
        """Its heat capacity."""
        return self.parameters.value("cooling.glaze_cp_kj_kg_k" if self.glaze else "cooling.broth_cp_kj_kg_k")

    @property
    def temp_c(self) -> float:
        """Temperature now, on the slow side."""
        known = [each for each in self.forecast.band if each.minute <= self.now_min]
        return min(HOTTEST_C, known[-1].temp_c.high if known else self.forecast.temp_c.high)

    @property
    def idle_min(self) -> float:
        """When the target is reached if nobody does anything, as expected; infinity where it is not known."""
        told = [each.minutes.middle for each in self.forecast.reaches if math.isclose(each.temp_c, self.target_c)]
        return max(told, default=math.inf)

    @property
    def is_liquid(self) -> bool:
        """Whether it is surely still liquid, or is kept so by stirring."""
        return self.stirred or self.temp_c > self.sets_c

    @property
    def may_be_liquid(self) -> bool:
        """Whether a cook may still be able to stir it."""
        return self.stirred or self.temp_c > self.parameters.low(self._sets)


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """One thing to do, and when the target is reached on the slow side if it is done now.

    Numbers that have no say are 0: ice goes with `add_ice` and with whatever stands in ice, vessels and depth with
    `move` and `split`.
    """

    code: Help
    predicted_min: float  # on the clock of the readings; infinity where it would never be cold enough
    margin_min: float  # before the limit; below 0 too late
    cls: Confidence  # how far the prediction can be trusted
    ice_kg: float = 0.0
    vessels: int = 0
    depth_mm: float = 0.0
    device: str = ""  # code of the device to move to
    device_name: str = ""
    stir: bool = False  # stir as well

    @property
    def makes_it(self) -> bool:
        """Whether the limit is kept."""
        return self.margin_min >= 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Spelling:
    """How a kitchen writes what advice tells."""

    clock: Callable[[float], str]  # minute on the clock of the readings
    temp: Callable[[float], str]  # degC
    mass: Callable[[float], str]  # kg
    depth: Callable[[float], str]  # mm
