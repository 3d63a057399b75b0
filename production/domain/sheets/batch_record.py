"""The completed batch record as frozen content: the sheet of a run, and beside each line what was really done."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from production.domain.sheets.heading import Heading


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedNumber:
    """What was typed into one box, beside what the sheet said."""

    label: str
    typed: str
    unit: str  # of the two numbers: kg, L, degC, Bx, pieces, mm
    value: float | None  # none where what was typed cannot be read
    planned: float | None  # none where the sheet expects nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedLine:
    """One record of a step; a step that nobody recorded has no time and nobody's name."""

    title: str
    planned_at: datetime | None  # none for what the sheet does not ask for
    done_at: datetime | None
    number: int | None  # of its entry in the kitchen's book
    by: str
    numbers: tuple[RecordedNumber, ...]
    remarks: tuple[str, ...]
    struck: bool
    struck_why: str  # reason, by whom, which entry


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeCompared:
    """Charge and water as they were weighed, against the sheet."""

    solids_kg: float
    planned_solids_kg: float
    water_l: float
    planned_water_l: float
    fill_mark_mm: float
    planned_fill_mark_mm: float
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FilledCompared:
    """Containers that a draw was planned for, and those it filled by its measure."""

    product: str
    container: str
    planned: int
    possible: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedDraw:
    """What a draw gave, against the plan."""

    name: str
    mass_kg: float
    planned_kg: float
    cold_l: float
    planned_cold_l: float
    solids_bx: float | None
    filled: tuple[FilledCompared, ...]
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedCooling:
    """A cooling log of the run, as it stood when the record was issued."""

    key: str
    draw: str
    device: str
    vessels: int
    attempt: int
    opened_at: datetime
    closed_at: datetime | None
    verdict: str  # met, breached, not_shown; empty while it is open
    readings: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedLot:
    """A lot made from the run, as it stood when the record was issued."""

    code: str
    product: str
    containers: int
    made_on: date
    use_by: date
    store: str
    status: str  # held, free, discarded
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedDeviation:
    """Something that was not as plan or limit ask."""

    number: int
    sentence: str
    opened_at: datetime
    state: str  # open, closed
    disposition: str  # discard, release, reheat, none; empty while it is open
    closed_by: str
    closed_at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CompletedBatchRecord:
    """One run from its beginning to its end, as it was recorded."""

    kind: str
    key: str
    heading: Heading
    run: str
    formula: str
    formula_version: int
    pot: str
    state: str  # finished, broken_off
    state_words: str  # why it was broken off, and what became of what was in the pot
    planned_start_at: datetime
    planned_end_at: datetime
    begun_at: datetime
    ended_at: datetime
    charge: ChargeCompared
    lines: tuple[RecordedLine, ...]
    draws: tuple[RecordedDraw, ...]
    coolings: tuple[RecordedCooling, ...]
    lots: tuple[RecordedLot, ...]
    deviations: tuple[RecordedDeviation, ...]
    allergens: tuple[str, ...]
    people: tuple[str, ...]  # who recorded, with their role
    cautions: tuple[str, ...]
    book_first: int  # entries of the kitchen's book on which it rests
    book_last: int
