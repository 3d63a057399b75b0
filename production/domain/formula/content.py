"""What a charge is made of, and what a pot can make."""

from __future__ import annotations

from dataclasses import dataclass

from production.domain.workings import Figure

HAIR_L = 1e-6  # rounding of floating-point litres


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeItem:
    """One weighing of a charge."""

    ingredient: str
    what: str  # solids, mirepoix, aromatics
    role: str
    mass_kg: float
    minutes_before_end: int | None  # None = with the load
    cook_minutes: int
    figure: str  # key of the figure that says how the mass came about


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """What is drawn off."""

    mass_kg: float
    cold_l: float
    hot_l: float
    hot_c: float
    solids_percent: float
    solids_bx: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Reduction:
    """A second draw boiled down, or several that are poured together."""

    liquor: Draw  # all that is boiled down
    mass_kg: float
    litres: float
    solids_bx: float
    mass_factor: float
    reduce_min: float  # slow side
    depth_mm: float  # at the end
    scorch_from_kg: float  # below this mass the heat is cut
    salt_percent: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge:
    """A run's charge in a pot with everything that follows from it."""

    formula: str
    pot: str
    simmer_h: float
    second_simmer_h: float | None
    solids_kg: float
    water_kg: float
    water_l: float
    items: tuple[ChargeItem, ...]
    boil_c: float
    simmer_c: float
    solids_l: float
    cold_fill_l: float
    fill_mark_mm: float
    hot_mark_mm: float
    water_to_cover_l: float
    heat_up_min: float  # slow side
    second_heat_up_min: float
    simmer_kw: float
    evaporation_kg_h: float
    first: Draw
    salt_kg: float  # into the drawn broth
    refill_kg: float
    reduction: Reduction | None
    mass_in_kg: float
    mass_out_kg: float
    figures: tuple[Figure, ...]
    liquor: Draw | None = None  # this run's own second draw
    pan: str = ""  # where the reduction is made, if not in the pot

    @property
    def balance_share(self) -> float:
        """How far mass out is from mass in, as a share of mass in."""
        return abs(self.mass_in_kg - self.mass_out_kg) / self.mass_in_kg


@dataclass(frozen=True, slots=True, kw_only=True)
class PotRange:
    """Litres of first draw, cold, that a pot can make of a formula."""

    pot: str
    smallest_l: float
    largest_l: float

    def takes(self, litres: float) -> bool:
        """Whether the pot can make this volume."""
        return self.smallest_l - HAIR_L <= litres <= self.largest_l + HAIR_L
