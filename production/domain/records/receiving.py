"""What comes in: how cold it must be, what speaks against taking it, and which lots a weighing was taken from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from types import MappingProxyType
from typing import Literal

from production.domain.limits import Mark, TempUnit
from production.domain.records.lots import lot_code
from production.domain.records.readings import Reading, exact_f

CameAs = Literal["chilled", "frozen", "ambient"]
# Raw vegetables, spices and cans need no cold; all else does, also what nobody has classed. Own choice.
NEED_NO_COLD = frozenset(
    {"vegetable_root", "vegetable_bulb", "vegetable_stalk", "mushroom", "tomato_paste", "herb_spice"}
)
MELTING_C = Decimal(0)  # what is warmer has thawed, whatever it looks like


@dataclass(frozen=True, slots=True)
class ColdLimit:
    """How warm something may be at most, and who says so."""

    most_c: Decimal
    source: str
    mark: Mark


RECEIVING: Mapping[str, ColdLimit] = MappingProxyType(
    {
        "chilled": ColdLimit(Decimal(5), "FDA Food Code 3-202.11(A): 41 °F (5 °C) or colder when received", "memory"),
        "frozen": ColdLimit(
            Decimal(-15),
            "FDA Food Code 3-202.11(E): what is shipped frozen is received frozen; the number: Directive 89/108/EEC, "
            "-18 °C with at most 3 °C more for short times on the way",
            "memory",
        ),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrived:
    """What was looked at when it came."""

    came_as: CameAs
    material: str
    reading: Reading | None
    frozen_hard: bool
    packs_sound: bool
    received_on: date
    use_by: date | None


@dataclass(frozen=True, slots=True)
class Objection:
    """Why something should not be taken."""

    code: str
    sentence: str


def receiving_objections(arrived: Arrived, *, chilled_most_c: Decimal, frozen_most_c: Decimal) -> tuple[Objection, ...]:
    """Everything that speaks against taking a delivery; nothing for a good one.

    Equation: the reading at most the limit, compared exactly; frozen hard and not above 0 C; packs sound; last day not
        over; what must be cold came cold.
    Units: arrived (record; reading as typed), chilled_most_c, frozen_most_c [degC]; returns records.
    Valid: one ingredient of one delivery.
    Errors: none.
    Source: FDA Food Code 3-202.11 and 3-202.15 (packages), from memory; limits as RECEIVING or the kitchen's own.
    """
    found: list[Objection] = []
    if arrived.came_as == "ambient":
        if arrived.material not in NEED_NO_COLD:
            found.append(Objection("must-be-cold", "It must come chilled or frozen."))
    elif arrived.came_as == "chilled":
        found += _warm(arrived.reading, chilled_most_c)
    else:
        if not arrived.frozen_hard:
            found.append(Objection("not-frozen-hard", "It is not frozen hard."))
        found += _warm(arrived.reading, frozen_most_c)
    if not arrived.packs_sound:
        found.append(Objection("packs-not-sound", "Packs are open, wet, dented or dirty."))
    if arrived.use_by is not None and arrived.use_by < arrived.received_on:
        found.append(Objection("past-use-by", f"Its last day was {arrived.use_by.isoformat()}."))
    return tuple(found)


def _warm(reading: Reading | None, most_c: Decimal) -> list[Objection]:
    if reading is None:
        return [Objection("temperature-missing", "Nobody has measured how cold it is.")]
    if exact_f(reading.temp, reading.unit) <= exact_f(most_c, "C"):
        return []
    return [Objection("too-warm", f"{reading.text} is warmer than {most_words(most_c, unit=reading.unit)}.")]


def most_words(most_c: Decimal, *, unit: TempUnit) -> str:
    """A limit in the unit in which somebody has read.

    Equation: exact conversion, without superfluous zeros.
    Units: most_c [degC], unit [C or F]; returns text.
    Valid: every limit.
    Errors: none.
    Source: exact definition of the scales.
    """
    most = exact_f(most_c, "C") if unit == "F" else most_c
    return f"{most.normalize():f} °{unit}"


def usual_state(*, material: str, charge_temp_c: float) -> CameAs:
    """How an ingredient usually comes, as a first guess on the form.

    Equation: frozen where it goes into the pot below 0 C; chilled where it must be cold; else ambient.
    Units: material (code), charge_temp_c [degC]; returns a word.
    Valid: ingredients of the catalogue.
    Errors: none.
    Source: own definition.
    """
    if charge_temp_c < 0.0:
        return "frozen"
    return "ambient" if material in NEED_NO_COLD else "chilled"


def receipt_codes(*, received_on: date, number: int) -> tuple[str, str]:
    """Codes of the number-th receipt of a day and of the lot that it makes: R and I before the code of a lot.

    Equation: R + lot_code, I + lot_code.
    Units: received_on [calendar day], number (count); returns text.
    Valid: as lot_code.
    Errors: as lot_code.
    Source: own definition.
    """
    code = lot_code(made_on=received_on, number=number)
    return f"R{code}", f"I{code}"


def named_lots(text: str) -> tuple[str, ...]:
    """The lots that somebody named for one weighing.

    Equation: words apart by commas or blanks, in capitals, each once.
    Units: text [no quantities]; returns codes.
    Valid: any text.
    Errors: none.
    Source: own definition.
    """
    return tuple(dict.fromkeys(text.upper().replace(",", " ").replace(";", " ").split()))


def taken_from(*, mass_kg: Decimal, left_kg: Sequence[Decimal]) -> tuple[Decimal, ...]:
    """How much of one weighing came from each of the lots named for it.

    Equation: in the order named each gives what it has left; the last one gives the rest, also what it has not.
    Units: mass_kg [kg], left_kg [kg]; returns [kg].
    Valid: one lot or more.
    Errors: none.
    Source: own definition: who empties a pack and opens the next names them in this order.
    """
    parts: list[Decimal] = []
    rest = mass_kg
    for left in left_kg[:-1]:
        part = min(rest, max(left, Decimal(0)))
        parts.append(part)
        rest -= part
    return (*parts, rest)
