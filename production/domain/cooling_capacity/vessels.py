"""Vessels that stand in cooling devices, and what stands in them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from production.domain.kitchen import Container, CoolingDevice

LEAST_KG = 0.001  # less counts as a gram, the least of the models' range


def vessel_area_m2(*, container: Container, fill_l: float) -> float:
    """Side and base of a vessel up to the level of its content.

    Equation: round: pi D h + pi D2 / 4; box: 2 (L + W) h + L W; h = height x fill / brim.
    Units: container (record; measures [mm], brim [L]), fill_l [L]; returns [m2].
    Valid: straight walls.
    Errors: none.
    Source: geometry.
    """
    level = vessel_depth_mm(container=container, fill_l=fill_l) / 1000.0
    length, width = container.length_mm / 1000.0, container.width_mm / 1000.0
    if container.shape == "round":
        return math.pi * length * level + math.pi * length**2 / 4.0
    return 2.0 * (length + width) * level + length * width


def vessel_depth_mm(*, container: Container, fill_l: float) -> float:
    """Depth of the content of a vessel.

    Equation: height x fill / brim.
    Units: container (record; height [mm], brim [L]), fill_l [L]; returns [mm].
    Valid: straight walls.
    Errors: none.
    Source: geometry.
    """
    return container.height_mm * fill_l / container.brim_l


@dataclass(frozen=True, slots=True)
class Load:
    """What has to be cooled."""

    is_glaze: bool
    since_event_min: float  # from the rule's event, where it has one, to the first minute of cooling
    density_kg_l: float
    cp_kj_kg_k: float
    start_c: float
    end_c: float

    @property
    def cp_code(self) -> str:
        """The coefficient that is its heat capacity."""
        return "cooling.glaze_cp_kj_kg_k" if self.is_glaze else "cooling.broth_cp_kj_kg_k"

    def mass_kg(self, litres: float) -> float:
        """Mass of a part of it, at least a gram."""
        return max(LEAST_KG, litres * self.density_kg_l)


@dataclass(frozen=True, slots=True)
class Standing:
    """Litres of a load in the vessels of one device; all but the last vessel are filled to their mark."""

    device: CoolingDevice
    vessel: Container
    litres: float

    @property
    def vessels(self) -> int:
        """How many vessels it takes."""
        return math.ceil(self.litres / self.device.vessel_fill_l - 1e-9)

    @property
    def fill_l(self) -> float:
        """Litres in the fullest vessel."""
        return min(self.litres, self.device.vessel_fill_l)

    @property
    def depth_mm(self) -> float:
        """Depth in the fullest vessel."""
        return vessel_depth_mm(container=self.vessel, fill_l=self.fill_l)
