"""Workings as pages show them: computations, and the numbers that came out of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from production.domain.kitchen import Week
from production.domain.parameters import ParameterSet
from production.domain.workings import Figure, Working, recompute
from production.web.present.words import name_in_words, range_text
from production.web.style import unit_text

FIGURE_WORDS = {
    "boil_c": "Boiling point at this altitude",
    "open_evaporation_kg_h": "Boils off without a lid",
    "evaporation_kg_h": "Boils off as the formula is simmered",
    "extraction_rate_factor": "Speed of extraction against 95 °C",
    "extracted_share": "Share of the solubles that comes out",
    "solids_kg": "Solids",
    "mass_kg": "Weighed",
    "water_kg": "Water, by mass",
    "water_l": "Water, by volume",
    "solids_l": "Room that the solids take",
    "fill_mark_mm": "Cold surface below the rim",
    "hot_level_mm": "Surface at the boil above the bottom",
    "thermal_rise_mm": "Rise from cold to boil",
    "freeboard_mm": "Freeboard at the boil",
    "water_to_cover_l": "Water that just covers the solids",
    "evaporated_kg": "Water gone by the end of the simmer",
    "skim_kg": "Water lost with the skimmings",
    "solubles_kg": "Solubles given",
    "first_liquid_kg": "First draw: liquid in the pot before straining",
    "first_drawn_kg": "First draw: mass drawn",
    "first_solids_percent": "First draw: dissolved solids",
    "first_density_cold_kg_m3": "First draw: density cold",
    "first_cold_l": "First draw: volume cold",
    "first_hot_l": "First draw: volume hot",
    "balance_gap_kg": "Mass in less mass out",
    "refill_kg": "Second draw: refill",
    "refill_room_l": "Second draw: refill that leaves the freeboard",
    "second_evaporated_kg": "Second draw: water gone by the end of the simmer",
    "second_liquid_kg": "Second draw: liquid in the pot before straining",
    "second_solids_percent": "Second draw: dissolved solids",
    "second_drawn_kg": "Second draw: mass drawn",
    "second_density_cold_kg_m3": "Second draw: density cold",
    "second_cold_l": "Second draw: volume cold",
    "second_hot_l": "Second draw: volume hot",
    "reduction_factor": "Reduction: mass left of the second draw",
    "reduction_kg": "Reduction: mass",
    "reduction_l": "Reduction: volume",
    "removed_mass_percent": "Removed, by mass",
    "removed_volume_percent": "Removed, by volume",
    "removed_water_percent": "Removed, of the water",
    "reduction_salt_percent": "Reduction: salt",
    "reduction_depth_mm": "Reduction: depth at the end",
    "reduction_kg_h": "Reduction: boils off at full heat",
    "base_flux_kw_m2": "Heat through the base at full heat",
    "reduction_gentle_kg_h": "Reduction: boils off with the heat cut",
    "reduction_heat_up_min": "Reduction: time to the boil",
    "reduce_min": "Reduction: time to boil down",
    "second_heat_up_min": "Second draw: time to the boil",
    "heat_up_min": "Time to the boil",
    "simmer_kw": "Heat that holds the simmer",
    "conductance_w_k": "Cooling: heat passed per degree",
    "rate_per_h": "Cooling: rate",
    "cooling_time_h": "Cooling: time as a liquid, to the last limit or until it sets",
    "heat_to_remove_kj": "Cooling: heat to remove",
    "ice_kg": "Cooling: ice",
    "chiller_kg_per_h": "Cooling: what the chiller takes in an hour",
    "slab_time_h": "Cooling: time as a set layer, to the last limit",
}
CLASS_WORDS = {
    "A": "A: physics or definition",
    "B": "B: good starting value",
    "C": "C: estimate until it is calibrated in this kitchen",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkingGroup:
    """Computations about one thing."""

    label: str
    workings: tuple[Working, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class InputRow:
    """One argument with the value that was used."""

    name: str
    value: str
    unit: str
    allowed: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ParameterRow:
    """One coefficient that went in."""

    code: str
    value: str
    unit: str
    low: str
    high: str
    cls: str
    source: str
    note: str


def exact_text(value: float, unit: str = "") -> str:
    """A value in full, in the unit it is computed in."""
    return f"{value:.10g} {unit_text(unit)}".replace("-", "−").strip()


def working_groups(workings: Iterable[Working]) -> tuple[WorkingGroup, ...]:
    """The computations by the module they live in."""
    groups: dict[str, list[Working]] = {}
    for each in workings:
        groups.setdefault(each.function.__module__.rsplit(".", 1)[-1], []).append(each)
    return tuple(
        WorkingGroup(label=name.replace("_", " ").capitalize(), workings=tuple(groups[name])) for name in sorted(groups)
    )


def working_facts(working: Working) -> tuple[tuple[str, str], ...]:
    """What a computation says about itself."""
    return (
        ("Formula", working.equation),
        ("Gives", unit_text(working.unit)),
        ("Holds for", working.valid),
        ("Class", CLASS_WORDS[working.cls]),
        ("Source", working.source),
    )


def input_rows(figure: Figure, working: Working) -> tuple[InputRow, ...]:
    """The arguments that were used."""
    arguments = {each.name: each for each in working.arguments}
    return tuple(
        InputRow(
            name=name,
            value=exact_text(value),
            unit=unit_text(arguments[name].unit),
            allowed=range_text(arguments[name]),
        )
        for name, value in figure.inputs
    )


def parameter_rows(figure: Figure, parameters: ParameterSet) -> tuple[ParameterRow, ...]:
    """The coefficients that went in, with how sure they are."""
    rows = []
    for code in figure.parameters:
        each = parameters.get(code)
        rows.append(
            ParameterRow(
                code=code,
                value=exact_text(each.value),
                unit=unit_text(each.unit),
                low=exact_text(each.low),
                high=exact_text(each.high),
                cls=CLASS_WORDS[each.cls],
                source=each.source,
                note=each.note,
            )
        )
    return tuple(rows)


def recomputed_text(figure: Figure) -> tuple[str, bool]:
    """The number computed again now, and whether it is the stored one."""
    again = recompute(figure)
    return exact_text(again, figure.unit), again == figure.value


def figure_label(key: str, names: Mapping[str, str]) -> str:
    """A figure's key in words; `names` holds what its parts stand for (ingredients, devices)."""
    parts = key.split(".")
    named = next((part for part in parts if part in FIGURE_WORDS), "")
    if not named:
        words = name_in_words(key)
        return words[:1].upper() + words[1:]
    about = [names.get(part, part) for part in parts if part != named]
    return FIGURE_WORDS[named] + (f" ({', '.join(about)})" if about else "")


def names_of(week: Week) -> dict[str, str]:
    """What the parts of figure keys stand for."""
    names = {each.code: each.name for each in week.ingredients}
    names |= {each.code: each.name for each in week.cooling_devices}
    return names | {"first": "first draw", "reduction": "reduction"}
