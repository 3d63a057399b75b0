"""Workings as pages show them: computations, and the numbers that came out of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from production.domain.parameters import ParameterSet
from production.domain.workings import Figure, Working, recompute
from production.web.present.words import name_in_words, range_text
from production.web.style import unit_text

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
                value=f"{each.value:g}",
                unit=unit_text(each.unit),
                low=f"{each.low:g}",
                high=f"{each.high:g}",
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


def figure_label(key: str) -> str:
    """A figure's key in words, without the unit that stands beside the number anyway."""
    words = name_in_words(key)
    return words[:1].upper() + words[1:]
