"""What was typed into the boxes of a step, as numbers; what is refused, and what is asked about."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from production.domain.errors import BadQuantity
from production.domain.quantities import System, display_quantity, parse_quantity
from production.domain.records.course_content import Field, Noted, Step

WITH_UNIT = frozenset({"kg", "L", "degC", "mm"})
LONGEST_NOTE = 300
LARGEST = 1e5  # of any unit; more is no slip of a digit (own choice)


@dataclass(frozen=True, slots=True)
class Doubt:
    """A number that is kept, but that somebody must look at."""

    field: Field
    value: float
    sentence: str
    remedy: str


def typed_amount(box: Field, text: object) -> float:
    """The number behind what was typed into a box.

    Equation: parse_quantity; weights, volumes, temperatures and lengths must name their unit.
    Units: box (record), text (any); returns [unit of the box].
    Valid: text, and whole numbers for pieces and Brix.
    Errors: BadQuantity as parse_quantity; `below-nothing` for less than nothing; `beyond-all-kitchens` above 100,000;
        `not-whole` for parts of a piece.
    Source: own definition.
    """
    if not isinstance(text, str | int):
        raise BadQuantity(
            f"{box.label}: an amount is expected.",
            code="unreadable",
            numbers={"field": box.name},
            remedy="Type the amount with its unit.",
        )
    value = parse_quantity(text, box.unit, unit_required=box.unit in WITH_UNIT)
    if box.kind != "temperature" and value < 0.0:
        raise BadQuantity(
            f"{box.label}: {text} is less than nothing.",
            code="below-nothing",
            numbers={"field": box.name, "found": value},
            remedy="Type the amount without a minus.",
        )
    if abs(value) > LARGEST:
        raise BadQuantity(
            f"{box.label}: {text} is more than any kitchen has.",
            code="beyond-all-kitchens",
            numbers={"field": box.name, "largest": LARGEST},
            remedy="Type it again.",
        )
    if box.kind == "count" and value != int(value):
        raise BadQuantity(
            f"{box.label}: {text} is not a whole number.",
            code="not-whole",
            numbers={"field": box.name, "found": value},
            remedy="Count whole pieces.",
        )
    return value


def typed_amounts(step: Step, content: Mapping[str, Any]) -> dict[str, float]:
    """The numbers of all boxes of a step that were filled in.

    Equation: typed_amount of each.
    Units: step (record), content (plain values); returns [unit of each box] by name.
    Valid: contents of entries.
    Errors: BadQuantity as typed_amount; `box-empty` when what must come together is not there.
    Source: own definition.
    """
    filled = [box for box in step.fields if content.get(box.name) not in (None, "")]
    found = {box.name: typed_amount(box, content[box.name]) for box in filled}
    if step.ways and not any(set(way) <= set(found) for way in step.ways):
        labels = {box.name: box.label.lower() for box in step.fields}
        wanted = ", or ".join(" and ".join(labels[name] for name in way) for way in step.ways)
        raise BadQuantity(
            f"{step.title}: the {wanted} is missing.",
            code="box-empty",
            numbers={"step": step.code},
            remedy=f"Type the {wanted}.",
        )
    note = content.get("note", "")
    if not isinstance(note, str) or len(note) > LONGEST_NOTE:
        raise BadQuantity(
            f"A note has at most {LONGEST_NOTE} characters.",
            code="note-too-long",
            numbers={"longest": LONGEST_NOTE},
            remedy="Write it shorter.",
        )
    return found


def doubts_of(step: Step, amounts: Mapping[str, float], system: System) -> Iterable[Doubt]:
    """Numbers that are hardly what was meant.

    Equation: below the lowest or above the highest that the box holds for likely; a temperature that would be likely
        in the other unit is told so.
    Units: step (record), amounts [unit of each box], system (word); returns records.
    Valid: amounts of the step's boxes.
    Errors: none.
    Source: own definition.
    """
    for box in step.fields:
        value = amounts.get(box.name)
        if value is None or _is_likely(box, value):
            continue
        yield Doubt(box, value, f"{step.title}: {_shown(box, value, system)} is unlikely here.", _remedy(box, system))


def _is_likely(box: Field, value: float) -> bool:
    return (box.low is None or value >= box.low) and (box.high is None or value <= box.high)


def _remedy(box: Field, system: System) -> str:
    low = _shown(box, box.low, system) if box.low is not None else ""
    high = _shown(box, box.high, system) if box.high is not None else ""
    usual = f"between {low} and {high}" if low and high else f"at least {low}" if low else f"at most {high}"
    hint = " Is the unit right?" if box.unit in WITH_UNIT else ""
    return f"Usual is {usual}.{hint} Confirm it, or correct it."


def _shown(box: Field, value: float, system: System) -> str:
    if box.kind == "count":
        return f"{value:.0f}"
    number, unit = display_quantity(value, box.unit, system)
    return f"{number} {'°' if box.unit == 'degC' else ''}{unit}"


def amounts_that_count(step: Step, noted: Noted | None) -> dict[str, float]:
    """The numbers of a record that are reckoned with; none while it is asked about.

    Equation: typed_amounts.
    Units: step, noted (records); returns [unit of each box] by name.
    Valid: any record; one that an older program has kept in another form counts as a tap.
    Errors: none.
    Source: own definition.
    """
    if noted is None or noted.is_asked_about:
        return {}
    try:
        return typed_amounts(step, noted.content)
    except BadQuantity:
        return {}
