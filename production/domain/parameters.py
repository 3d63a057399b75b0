"""The coefficients a kitchen runs on: value, unit, confidence class, interval and source, as one versioned set."""

# ruff: noqa: E501  (one coefficient, one line)

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from production.domain.errors import OutOfRange, UnknownParameter

Confidence = Literal["A", "B", "C"]

# A kitchen may only be more careful with these than the defaults' interval.
SAFE_UPWARDS = frozenset(
    ("pot.freeboard_boil_mm", "pot.freeboard_simmer_mm", "pot.boil_swell_share", "cooling.bath_temp_c",
     "cooling.broth_sets_c", "cooling.glaze_sets_c")
)  # fmt: skip
SAFE_DOWNWARDS = frozenset(
    ("cooling.u_steel_stirred_w_m2_k", "cooling.u_steel_still_w_m2_k", "cooling.u_plastic_w_m2_k",
     "cooling.blast_top_w_m2_k", "cooling.blast_bottom_w_m2_k", "cooling.chiller_depth_mm", "cooling.ice_use_share")
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Parameter:
    """One coefficient; `low` to `high` is where it lies in about nine kitchens of ten."""

    code: str
    value: float
    unit: str
    cls: Confidence
    n: int
    source: str
    low: float
    high: float
    note: str = ""

    def __post_init__(self) -> None:
        if not self.low <= self.value <= self.high:
            raise OutOfRange(
                f"{self.code}: {self.value:g} lies outside its own interval {self.low:g} to {self.high:g} {self.unit}.",
                numbers={"code": self.code, "value": self.value, "low": self.low, "high": self.high},
                remedy="Widen the interval or correct the value.",
            )

    @property
    def believable(self) -> tuple[float, float]:
        """Where a kitchen's own value may lie: twice the width beyond the interval, a safety coefficient on its safe side."""
        width = self.high - self.low
        least, most = self.low - 2.0 * width, self.high + 2.0 * width
        if self.low >= 0.0:
            least = max(least, 0.0 if self.low == 0.0 else self.low / 4.0)
        if self.unit == "share":
            least, most = max(least, -1.0), min(most, 1.0)
        if self.code in SAFE_UPWARDS:
            least = self.low
        if self.code in SAFE_DOWNWARDS:
            most = self.high
        return least, most


@dataclass(frozen=True, slots=True)
class Material:
    """What an ingredient is made of and how it behaves in the pot, so that one solid can stand in for another."""

    code: str
    soluble_share: float
    fat_share: float
    water_net_share: float
    cling_share: float
    second_soluble_share: float
    t90_h: float
    density_kg_m3: float
    packing_share: float
    water_share: float
    protein_share: float
    lipid_share: float
    ash_share: float
    carbohydrate_share: float
    fibre_share: float
    freezing_c: float


MATERIAL_FIELDS: tuple[str, ...] = tuple(name for name in Material.__dataclass_fields__ if name != "code")


@dataclass(frozen=True, slots=True)
class ParameterSet:
    """A named version of all coefficients; never changed, only replaced."""

    version: str
    parameters: tuple[Parameter, ...]
    _by_code: dict[str, Parameter] = field(init=False, repr=False, compare=False)
    _materials: dict[str, Material] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        by_code = {each.code: each for each in self.parameters}
        if len(by_code) != len(self.parameters):
            raise UnknownParameter(
                f"Parameter set {self.version} names a coefficient twice.",
                code="repeated-parameter",
                remedy="Keep one entry per code.",
            )
        object.__setattr__(self, "_by_code", by_code)
        names = dict.fromkeys(code.split(".")[1] for code in by_code if code.startswith("material."))
        made = {
            name: Material(name, **{each: self.value(f"material.{name}.{each}") for each in MATERIAL_FIELDS})
            for name in names
        }
        object.__setattr__(self, "_materials", made)

    def get(self, code: str) -> Parameter:
        """The coefficient with this code; UnknownParameter when there is none."""
        found = self._by_code.get(code)
        if found is None:
            raise UnknownParameter(
                f"Parameter set {self.version} has no coefficient {code!r}.",
                numbers={"code": code, "version": self.version},
                remedy="Add it to the parameter set or correct the name.",
            )
        return found

    def value(self, code: str) -> float:
        """The value in use."""
        return self.get(code).value

    def low(self, code: str) -> float:
        """The low end of the interval."""
        return self.get(code).low

    def high(self, code: str) -> float:
        """The high end of the interval."""
        return self.get(code).high

    def materials(self) -> tuple[str, ...]:
        """Codes of all materials, in the order of the set."""
        return tuple(self._materials)

    def material(self, code: str) -> Material:
        """All coefficients of one material; UnknownParameter names the materials there are."""
        found = self._materials.get(code)
        if found is None:
            raise UnknownParameter(
                f"Parameter set {self.version} has no material {code!r}.",
                code="unknown-material",
                numbers={"material": code, "version": self.version},
                remedy="Use one of: " + ", ".join(self.materials()) + ".",
            )
        return found

    def with_values(self, overrides: Mapping[str, float], *, version: str | None = None) -> ParameterSet:
        """A new set with some values replaced; an interval is widened where the new value lies outside it."""
        for code in overrides:
            self.get(code)
        changed = tuple(
            replace(
                each,
                value=overrides[each.code],
                low=min(each.low, overrides[each.code]),
                high=max(each.high, overrides[each.code]),
            )
            if each.code in overrides
            else each
            for each in self.parameters
        )
        return ParameterSet(version or self.version, changed)


TRADE = "common practice, no source"
MEMORY = "from memory, not read again"
CHOSEN = "own choice from trade times, not measured"

_UNIT_OF_FIELD: Mapping[str, str] = {"t90_h": "h", "density_kg_m3": "kg/m3", "freezing_c": "degC"}

# field -> (confidence, source)
_FIELD_SOURCE: Mapping[str, tuple[Confidence, str]] = {
    "soluble_share": ("C", TRADE),
    "fat_share": ("C", TRADE),
    "water_net_share": ("C", TRADE),
    "cling_share": ("C", TRADE),
    "second_soluble_share": ("C", TRADE),
    "t90_h": ("C", CHOSEN),
    "density_kg_m3": ("B", MEMORY),
    "packing_share": ("C", TRADE),
    "freezing_c": ("B", "ASHRAE Handbook Refrigeration, thermal properties of foods, from memory"),
}
_COMPOSITION_SOURCE = "food composition tables, from memory, rounded so that the parts sum to 1"

# Sources that differ from the table above, by code without the leading "material.".
_OWN_SOURCE: Mapping[str, str] = {
    "beef_bones.density_kg_m3": "A note on the density of bovine limb bones, Animal Science 1975 (abstract: 1240 to 1710); "
    "mixed bones with marrow from memory",
    "poultry_frames.water_share": "Korean J. Food Sci. An. Resour. 2015 (abstract: 57.5/15.6/9.5/14.7 %), scaled to sum 1",
    "poultry_frames.protein_share": "Korean J. Food Sci. An. Resour. 2015 (abstract), scaled to sum 1",
    "poultry_frames.lipid_share": "Korean J. Food Sci. An. Resour. 2015 (abstract), scaled to sum 1",
    "poultry_frames.ash_share": "Korean J. Food Sci. An. Resour. 2015 (abstract), scaled to sum 1",
    "vegetable_root.freezing_c": "ASHRAE Handbook Refrigeration, table 3 (carrot -1.4)",
    "vegetable_stalk.freezing_c": "ASHRAE Handbook Refrigeration, table 3 (celery -0.5)",
    "vegetable_bulb.freezing_c": "ASHRAE Handbook Refrigeration, table 3 (leek -0.7)",
}

# Behaviour in the pot: value, low, high; shares are kg per kg of raw solid (second_soluble_share: of the first draw's solubles).
_YIELD_COLUMNS = ("soluble_share", "fat_share", "water_net_share", "cling_share", "second_soluble_share", "t90_h")
_YIELDS: Mapping[str, tuple[tuple[float, float, float], ...]] = {
    "beef_bones": ((0.035, 0.02, 0.05), (0.05, 0.02, 0.10), (-0.03, -0.08, -0.01), (0.11, 0.08, 0.15), (0.28, 0.15, 0.40), (10.0, 7.0, 14.0)),
    "veal_bones": ((0.045, 0.03, 0.06), (0.035, 0.015, 0.06), (-0.03, -0.07, -0.01), (0.11, 0.08, 0.15), (0.30, 0.15, 0.40), (8.0, 6.0, 12.0)),
    "pork_bones": ((0.04, 0.025, 0.055), (0.05, 0.02, 0.08), (-0.03, -0.07, -0.01), (0.11, 0.08, 0.16), (0.22, 0.10, 0.35), (8.0, 5.0, 12.0)),
    "pork_feet": ((0.07, 0.04, 0.10), (0.05, 0.02, 0.08), (0.0, -0.05, 0.05), (0.12, 0.08, 0.18), (0.30, 0.15, 0.45), (7.0, 5.0, 10.0)),
    "poultry_frames": ((0.045, 0.03, 0.06), (0.04, 0.02, 0.08), (0.02, -0.05, 0.08), (0.18, 0.12, 0.25), (0.12, 0.05, 0.20), (4.5, 3.0, 7.0)),
    "poultry_feet": ((0.07, 0.04, 0.10), (0.04, 0.02, 0.07), (0.0, -0.05, 0.05), (0.12, 0.08, 0.18), (0.20, 0.10, 0.35), (5.0, 3.5, 8.0)),
    "collagen_meat": ((0.05, 0.03, 0.07), (0.06, 0.03, 0.10), (0.12, 0.05, 0.20), (0.12, 0.08, 0.18), (0.22, 0.10, 0.35), (7.0, 4.0, 11.0)),
    "lean_meat": ((0.04, 0.03, 0.05), (0.02, 0.01, 0.05), (0.20, 0.15, 0.25), (0.10, 0.06, 0.15), (0.10, 0.03, 0.20), (4.0, 2.5, 7.0)),
    "fish_frames": ((0.035, 0.02, 0.05), (0.01, 0.0, 0.03), (0.02, -0.03, 0.08), (0.15, 0.10, 0.25), (0.02, 0.0, 0.05), (0.67, 0.4, 1.0)),
    "vegetable_root": ((0.03, 0.02, 0.045), (0.0, 0.0, 0.0), (0.05, 0.0, 0.10), (0.20, 0.15, 0.30), (0.05, 0.0, 0.15), (1.0, 0.5, 2.0)),
    "vegetable_bulb": ((0.03, 0.02, 0.045), (0.0, 0.0, 0.0), (0.05, 0.0, 0.10), (0.22, 0.15, 0.30), (0.05, 0.0, 0.15), (0.8, 0.4, 1.5)),
    "vegetable_stalk": ((0.025, 0.015, 0.035), (0.0, 0.0, 0.0), (0.05, 0.0, 0.10), (0.22, 0.15, 0.30), (0.05, 0.0, 0.15), (0.8, 0.4, 1.5)),
    "mushroom": ((0.03, 0.02, 0.04), (0.0, 0.0, 0.0), (0.20, 0.0, 0.40), (0.25, 0.15, 0.35), (0.05, 0.0, 0.15), (0.8, 0.4, 1.5)),
    "tomato_paste": ((0.15, 0.10, 0.20), (0.0, 0.0, 0.005), (0.50, 0.30, 0.70), (0.10, 0.0, 0.20), (0.05, 0.0, 0.15), (0.5, 0.25, 1.0)),
    "herb_spice": ((0.05, 0.02, 0.10), (0.0, 0.0, 0.01), (-1.0, -2.0, 0.0), (0.50, 0.2, 1.0), (0.10, 0.0, 0.30), (0.5, 0.25, 1.0)),
}  # fmt: skip

# Geometry and freezing: value, low, high.
_BODY_COLUMNS = ("density_kg_m3", "packing_share", "freezing_c")
_BODIES: Mapping[str, tuple[tuple[float, float, float], ...]] = {
    "beef_bones": ((1350.0, 1250.0, 1500.0), (0.55, 0.50, 0.58), (-1.7, -2.8, -1.0)),
    "veal_bones": ((1300.0, 1200.0, 1450.0), (0.55, 0.50, 0.58), (-1.7, -2.8, -1.0)),
    "pork_bones": ((1280.0, 1180.0, 1400.0), (0.53, 0.47, 0.58), (-1.7, -2.8, -1.0)),
    "pork_feet": ((1120.0, 1060.0, 1180.0), (0.58, 0.50, 0.65), (-1.7, -2.8, -1.0)),
    "poultry_frames": ((1120.0, 1050.0, 1150.0), (0.40, 0.35, 0.45), (-1.7, -2.8, -1.0)),
    "poultry_feet": ((1080.0, 1040.0, 1140.0), (0.60, 0.55, 0.65), (-1.7, -2.8, -1.0)),
    "collagen_meat": ((1060.0, 1040.0, 1080.0), (0.65, 0.55, 0.75), (-1.8, -2.8, -1.2)),
    "lean_meat": ((1060.0, 1050.0, 1070.0), (0.65, 0.55, 0.75), (-1.7, -2.8, -1.2)),
    "fish_frames": ((1080.0, 1040.0, 1150.0), (0.45, 0.35, 0.55), (-2.2, -2.8, -1.0)),
    "vegetable_root": ((1030.0, 1010.0, 1050.0), (0.55, 0.45, 0.65), (-1.4, -1.6, -1.1)),
    "vegetable_bulb": ((970.0, 900.0, 1000.0), (0.50, 0.40, 0.60), (-0.7, -1.2, -0.6)),
    "vegetable_stalk": ((950.0, 900.0, 980.0), (0.50, 0.40, 0.60), (-0.5, -0.9, -0.4)),
    "mushroom": ((600.0, 450.0, 800.0), (0.60, 0.50, 0.70), (-0.9, -1.2, -0.6)),
    "tomato_paste": ((1120.0, 1090.0, 1150.0), (1.0, 0.95, 1.0), (-3.5, -5.0, -2.0)),
    "herb_spice": ((500.0, 300.0, 900.0), (0.40, 0.20, 0.60), (-2.0, -5.0, -0.5)),
}  # fmt: skip

# Composition, kg per kg, each row sums to 1.
_COMPOSITION_COLUMNS = ("water_share", "protein_share", "lipid_share", "ash_share", "carbohydrate_share", "fibre_share")
_COMPOSITIONS: Mapping[str, tuple[float, ...]] = {
    "beef_bones": (0.36, 0.20, 0.16, 0.28, 0.0, 0.0),
    "veal_bones": (0.50, 0.20, 0.10, 0.20, 0.0, 0.0),
    "pork_bones": (0.42, 0.20, 0.18, 0.20, 0.0, 0.0),
    "pork_feet": (0.58, 0.23, 0.13, 0.06, 0.0, 0.0),
    "poultry_frames": (0.591, 0.160, 0.098, 0.151, 0.0, 0.0),
    "poultry_feet": (0.62, 0.19, 0.13, 0.06, 0.0, 0.0),
    "collagen_meat": (0.66, 0.20, 0.13, 0.01, 0.0, 0.0),
    "lean_meat": (0.73, 0.215, 0.045, 0.01, 0.0, 0.0),
    "fish_frames": (0.70, 0.16, 0.04, 0.10, 0.0, 0.0),
    "vegetable_root": (0.883, 0.009, 0.002, 0.010, 0.068, 0.028),
    "vegetable_bulb": (0.891, 0.011, 0.001, 0.004, 0.076, 0.017),
    "vegetable_stalk": (0.954, 0.007, 0.002, 0.007, 0.014, 0.016),
    "mushroom": (0.925, 0.031, 0.003, 0.009, 0.022, 0.010),
    "tomato_paste": (0.735, 0.043, 0.005, 0.028, 0.148, 0.041),
    "herb_spice": (0.10, 0.11, 0.06, 0.06, 0.40, 0.27),
}


def _material_parameter(code: str, name: str, value: float, low: float, high: float) -> Parameter:
    cls, source = _FIELD_SOURCE.get(name, ("B", _COMPOSITION_SOURCE))
    source = _OWN_SOURCE.get(f"{code}.{name}", source)
    return Parameter(f"material.{code}.{name}", value, _UNIT_OF_FIELD.get(name, "share"), cls, 0, source, low, high)


def _material_parameters(code: str) -> list[Parameter]:
    banded = zip(_YIELD_COLUMNS + _BODY_COLUMNS, _YIELDS[code] + _BODIES[code], strict=True)
    found = [_material_parameter(code, name, *band) for name, band in banded]
    for name, value in zip(_COMPOSITION_COLUMNS, _COMPOSITIONS[code], strict=True):
        found.append(_material_parameter(code, name, value, 0.85 * value, min(1.0, 1.15 * value)))
    return found


def _plain(
    code: str, value: float, low: float, high: float, unit: str, cls: Confidence, source: str, note: str = ""
) -> Parameter:
    return Parameter(code, value, unit, cls, 0, source, low, high, note)


_GENERAL: tuple[Parameter, ...] = (
    _plain("heat.efficiency.gas_open_burner", 0.30, 0.25, 0.35, "share", "B", MEMORY, "pot loss during heat-up included"),
    _plain("heat.efficiency.gas_stockpot_range", 0.30, 0.25, 0.40, "share", "B", TRADE, "pot loss during heat-up included"),
    _plain("heat.efficiency.gas_hot_top", 0.20, 0.15, 0.25, "share", "B", MEMORY, "pot loss during heat-up included"),
    _plain("heat.efficiency.electric_element", 0.68, 0.60, 0.75, "share", "B", MEMORY, "pot loss during heat-up included"),
    _plain("heat.efficiency.induction", 0.80, 0.75, 0.85, "share", "B", MEMORY, "pot loss during heat-up included"),
    _plain("heat.efficiency.gas_steam_kettle", 0.52, 0.45, 0.60, "share", "B", MEMORY, "pot loss during heat-up included"),
    _plain("heat.efficiency.electric_steam_kettle", 0.90, 0.80, 0.95, "share", "B", MEMORY, "pot loss during heat-up included"),
    _plain("heat.pot_loss_w_m2_k", 7.5, 4.0, 9.0, "W/(m2 K)", "B", MEMORY, "bare steel wall; flame wash lowers it"),
    _plain("evaporation.simmer_flux_scale", 1.0, 0.6, 2.0, "times", "C", "spread of published correlations, own comparison",
           "hood draught raises it, a deep rim lowers it; weigh the pot at two times to calibrate"),
    _plain("evaporation.lid_on_share", 0.10, 0.05, 0.15, "share", "C", TRADE),
    _plain("evaporation.lid_ajar_share", 0.40, 0.30, 0.50, "share", "C", TRADE),
    _plain("evaporation.fat_layer_share", 0.40, 0.10, 0.70, "share", "C", TRADE, "what still passes through a closed fat layer"),
    _plain("skim.water_share", 0.015, 0.01, 0.02, "share", "C", TRADE, "of the water poured in"),
    _plain("holdup.equipment_kg", 0.6, 0.3, 1.0, "kg", "C", TRADE, "pot heel, strainer, hose"),
    _plain("pot.freeboard_simmer_mm", 75.0, 60.0, 100.0, "mm", "C", TRADE),
    _plain("pot.freeboard_boil_mm", 100.0, 100.0, 150.0, "mm", "C", TRADE, "first boil with scum"),
    _plain("pot.boil_swell_share", 0.05, 0.02, 0.12, "share", "C", "drift-flux estimate, from memory; foam comes on top"),
    _plain("pot.cover_mm", 50.0, 25.0, 75.0, "mm", "C", TRADE, "water over the solids"),
    _plain("pot.solids_expansion_per_k", 0.0003, 0.0, 0.0004, "1/K", "C", MEMORY, "volume expansion of the solids"),
    _plain("brix.protein_per_bx", 0.78, 0.70, 0.85, "share", "C", MEMORY, "true protein % per degree Brix read"),
    _plain("brix.salt_per_bx", 0.85, 0.78, 0.92, "share", "C", MEMORY, "true salt % per degree Brix read"),
    _plain("reduction.transfer_depth_mm", 90.0, 80.0, 100.0, "mm", "C", TRADE, "move to a smaller pot below this depth"),
    _plain("reduction.scorch_depth_mm", 50.0, 30.0, 60.0, "mm", "C", TRADE),
    _plain("reduction.scorch_bx", 25.0, 25.0, 30.0, "Bx", "C", TRADE),
    _plain("reduction.scorch_base_flux_kw_m2", 20.0, 15.0, 25.0, "kW/m2", "C", TRADE, "net heat allowed into the base"),
    _plain("cubes.loss_share", 0.03, 0.01, 0.06, "share", "C", TRADE),
    _plain("cubes.fill_share", 0.92, 0.88, 0.95, "share", "B", "freezing expansion, own computation"),
    _plain("cooling.ice_use_share", 0.75, 0.60, 0.90, "share", "C", TRADE, "share of the cold in the ice that reaches the food"),
    _plain("cooling.ice_temp_c", -5.0, -12.0, 0.0, "degC", "B", TRADE),
    _plain("cooling.melt_leaves_c", 5.0, 2.0, 8.0, "degC", "B", TRADE),
    _plain("cooling.bath_temp_c", 1.0, 0.0, 4.0, "degC", "B", TRADE, "only while ice is left in the bath"),
    _plain("cooling.u_steel_stirred_w_m2_k", 400.0, 350.0, 500.0, "W/(m2 K)", "B", MEMORY, "both sides stirred"),
    _plain("cooling.u_steel_still_w_m2_k", 180.0, 150.0, 250.0, "W/(m2 K)", "B", MEMORY, "not stirred"),
    _plain("cooling.u_plastic_w_m2_k", 80.0, 60.0, 90.0, "W/(m2 K)", "B", "series resistance of 2 mm HDPE, own computation"),
    _plain("cooling.chiller_depth_mm", 50.0, 40.0, 65.0, "mm", "C", TRADE, "deepest layer a blast chiller cools as rated"),
    _plain("cooling.plate_approach_k", 3.0, 2.0, 4.0, "K", "C", TRADE, "outlet of a plate chiller above its water"),
    _plain("cooling.tumble_k_per_h", 3.0, 2.0, 4.0, "1/h", "C", TRADE),
    _plain("cooling.pan_still_w_m2_k", 4.0, 3.0, 6.0, "W/(m2 K)", "C", MEMORY, "air over an open pan in a still cold room"),
    _plain("cooling.pan_fan_w_m2_k", 10.0, 8.0, 15.0, "W/(m2 K)", "C", MEMORY, "air over an open pan under a fan"),
    _plain("cooling.container_still_w_m2_k", 8.0, 6.0, 10.0, "W/(m2 K)", "C", "natural convection and radiation, own computation", "lidded container, all faces"),
    _plain("cooling.container_fan_w_m2_k", 14.0, 10.0, 20.0, "W/(m2 K)", "C", "moderate fan, own computation", "lidded container, all faces"),
    _plain("cooling.broth_sets_c", 20.0, 15.0, 25.0, "degC", "C", MEMORY, "a stock with more than 1 to 2 % gelatin, left unstirred"),
    _plain("cooling.glaze_sets_c", 30.0, 25.0, 35.0, "degC", "C", TRADE, "a glaze sets early and cannot be stirred"),
    _plain("cooling.blast_top_w_m2_k", 30.0, 25.0, 40.0, "W/(m2 K)", "B", MEMORY, "open pan in the air stream of a blast chiller"),
    _plain("cooling.blast_bottom_w_m2_k", 20.0, 15.0, 25.0, "W/(m2 K)", "B", MEMORY, "underside of a pan on a rack"),
    _plain("cooling.rated_cp_kj_kg_k", 3.6, 3.4, 3.8, "kJ/(kg K)", "C", TRADE, "heat capacity of the test load of a chiller rating"),
    _plain("room.humidity_share", 0.5, 0.3, 0.7, "share", "C", TRADE, "air in the kitchen"),
    _plain("cooling.walk_in_spare_share", 0.5, 0.3, 0.7, "share", "C", TRADE, "of the spare power that warm food may take"),
    _plain("cooling.broth_cp_kj_kg_k", 4.15, 4.08, 4.19, "kJ/(kg K)", "A", "composition, own computation; safe side"),
    _plain("cooling.glaze_cp_kj_kg_k", 3.5, 3.4, 3.8, "kJ/(kg K)", "B", "composition, own computation"),
    _plain("ice.hot_room_share", 0.8, 0.70, 0.85, "share", "B", MEMORY, "of the rated make when the room is hot"),
    _plain("storage.usable_share", 0.65, 0.60, 0.75, "share", "C", TRADE),
    _plain("storage.air_gap_mm", 20.0, 15.0, 25.0, "mm", "C", TRADE, "around containers while they freeze"),
    _plain("storage.headspace_stock_share", 0.10, 0.09, 0.12, "share", "A", "freezing expansion, own computation"),
    _plain("storage.headspace_glaze_share", 0.07, 0.05, 0.09, "share", "B", "freezing expansion, own computation"),
    _plain("storage.freeze_time_factor", 1.2, 1.1, 1.3, "times", "B", TRADE, "true time over Plank's equation"),
    _plain("storage.stacked_time_factor", 3.0, 2.0, 4.0, "times", "C", TRADE, "stacked trays over a single layer"),
    _plain("extraction.activation_kj_mol", 80.0, 60.0, 100.0, "kJ/mol", "C", MEMORY),
    _plain("thermal.steel_expansion_per_k", 17e-6, 16e-6, 17.5e-6, "1/K", "A", MEMORY, "linear"),
    _plain("thermal.aluminium_expansion_per_k", 23e-6, 22e-6, 24e-6, "1/K", "A", MEMORY, "linear"),
    _plain("thermal.steel_cp_kj_kg_k", 0.5, 0.46, 0.52, "kJ/(kg K)", "A", MEMORY),
    _plain("thermal.aluminium_cp_kj_kg_k", 0.9, 0.88, 0.93, "kJ/(kg K)", "A", MEMORY),
    _plain("trim.beef_bones_share", 1.0, 0.95, 1.0, "share", "C", TRADE, "usable part as purchased"),
    _plain("trim.veal_bones_share", 1.0, 0.95, 1.0, "share", "C", TRADE, "usable part as purchased"),
    _plain("trim.pork_bones_share", 1.0, 0.95, 1.0, "share", "C", TRADE, "usable part as purchased"),
    _plain("trim.pork_feet_share", 1.0, 0.95, 1.0, "share", "C", TRADE, "usable part as purchased"),
    _plain("trim.poultry_frames_share", 0.97, 0.92, 1.0, "share", "C", TRADE, "usable part as purchased"),
    _plain("trim.poultry_feet_share", 0.95, 0.90, 1.0, "share", "C", TRADE, "usable part as purchased"),
    _plain("trim.collagen_meat_share", 0.95, 0.88, 1.0, "share", "C", TRADE, "usable part as purchased"),
    _plain("trim.lean_meat_share", 0.92, 0.85, 1.0, "share", "C", TRADE, "usable part as purchased"),
    _plain("trim.fish_frames_share", 0.90, 0.80, 1.0, "share", "C", TRADE, "gills and gut removed"),
    _plain("trim.vegetable_root_share", 0.82, 0.75, 0.90, "share", "C", TRADE, "peeled and ended"),
    _plain("trim.vegetable_bulb_share", 0.88, 0.80, 0.93, "share", "C", TRADE, "peeled and ended"),
    _plain("trim.vegetable_stalk_share", 0.78, 0.68, 0.88, "share", "C", TRADE, "ends and leaves off"),
    _plain("trim.mushroom_share", 0.95, 0.88, 1.0, "share", "C", TRADE, "stem ends off"),
    _plain("trim.tomato_paste_share", 1.0, 0.97, 1.0, "share", "C", TRADE, "usable part as purchased"),
    _plain("trim.herb_spice_share", 0.95, 0.80, 1.0, "share", "C", TRADE, "usable part as purchased"),
)  # fmt: skip

DEFAULT_PARAMETERS = ParameterSet(
    "defaults-1", _GENERAL + tuple(each for code in _YIELDS for each in _material_parameters(code))
)
