"""The live batch sheet as frozen content: steps, what was recorded, numbers recomputed, times as they are now."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal

from production.domain.formula import Draw

Status = Literal["done", "current", "next", "later", "skipped"]
State = Literal["not_begun", "under_way", "finished", "broken_off"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One box that a cook fills in; numbers in the unit that is named, empty where nothing is expected."""

    name: str  # the key in the entry's content, where the typed text goes
    label: str
    kind: str  # mass, volume, temperature, brix, count, level, depth, choice, text
    unit: str  # kg, L, degC, Bx, pieces, mm, or nothing
    expected: float | None = None  # as things are now
    planned: float | None = None  # as the sheet said
    low: float | None = None  # what lies outside is asked about, not refused
    high: float | None = None
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing to do and to record."""

    code: str  # goes into the entry's content as "step"
    kind: str  # kind of the entry that records it
    stage: str  # kind of the sheet's stage it belongs to
    title: str
    do: str
    caution: str
    planned_at: datetime
    fields: tuple[Field, ...] = ()
    ways: tuple[tuple[str, ...], ...] = ()  # names of fields that must come together; none: a tap is enough
    repeats: bool = False  # may be recorded as often as wanted, until a later step is done
    open_until: str = ""  # the step that closes it; none: whatever comes next
    moves_times: bool = False  # what comes after it is late when it is late

    def field(self, name: str) -> Field | None:
        """The box of this name."""
        return next((each for each in self.fields if each.name == name), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted:
    """An entry of the book, as the course reads it."""

    number: int
    key: str
    kind: str
    content: Mapping[str, Any]
    happened_at: datetime
    made_at: datetime
    by: str
    role: str
    corrects: str = ""  # key of the entry that it corrects
    reason: str = ""

    @property
    def step(self) -> str:
        """Code of the step that it records."""
        return str(self.content.get("step", ""))

    @property
    def is_asked_about(self) -> bool:
        """Whether it was kept with a question that nobody has answered yet: its numbers do not count."""
        return bool(self.content.get("question")) and not self.content.get("confirmed")

    def text(self, name: str) -> str:
        """What was typed into a box."""
        return str(self.content.get(name, ""))


@dataclass(frozen=True, slots=True, kw_only=True)
class StepNow:
    """A step with where it stands."""

    step: Step
    status: Status
    expected_at: datetime  # when it was done; else when it is expected now
    record: Noted | None = None  # the one that counts
    also: tuple[Noted, ...] = ()  # the same step recorded by others, or again; for steps that repeat: those before

    @property
    def is_asked_about(self) -> bool:
        """Whether somebody must look at what was recorded."""
        return self.record is not None and self.record.is_asked_about


@dataclass(frozen=True, slots=True)
class Timer:
    """Something that is waited for; the page counts."""

    label: str
    step: str
    until: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeNow:
    """The charge as it was weighed so far, and what follows from it."""

    is_weighed: bool  # whether anything differs from the sheet because somebody has weighed it
    solids_kg: float
    planned_solids_kg: float
    water_kg: float
    water_l: float
    planned_water_l: float
    fill_mark_mm: float
    planned_fill_mark_mm: float
    hot_mark_mm: float
    leave_out_kg: float  # solids to leave out so that the pot is not too full
    first: Draw
    planned_first: Draw
    liquor: Draw | None
    planned_liquor: Draw | None
    reduction_kg: float | None
    reduction_l: float | None
    sentence: str  # what has changed; nothing when nothing has


@dataclass(frozen=True, slots=True, kw_only=True)
class FilledNow:
    """Containers of a product that a draw was planned for, and those it still fills."""

    product: str
    container: str
    planned: int
    possible: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortLine:
    """An order line that gets fewer containers than planned from this run."""

    line: str
    outlet: str
    product: str
    containers: int  # that are missing
    dispatch_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawNow:
    """A draw as it was weighed or measured."""

    name: str  # first, second or reduction
    mass_kg: float
    cold_l: float
    planned_kg: float
    planned_cold_l: float
    solids_bx: float | None = None
    solids_kg: float | None = None  # dissolved, by the Brix
    filled: tuple[FilledNow, ...] = ()
    short: tuple[ShortLine, ...] = ()
    sentence: str = ""

    @property
    def share(self) -> float:
        """Share of the planned mass."""
        return self.mass_kg / self.planned_kg


@dataclass(frozen=True, slots=True)
class Level:
    """What is left of a reduction at a time."""

    at: datetime
    mass_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ReductionNow:
    """A reduction on the way: where it goes, and when it gets there."""

    start_kg: float
    target_kg: float
    target_l: float
    target_bx: float
    heat_cut_kg: float  # below this the heat is turned down
    levels: tuple[Level, ...]
    rate_kg_h: float
    is_fitted: bool  # from the last two levels; else as planned
    end_at: datetime | None  # none before it has begun, or when it does not get lighter
    early_at: datetime | None  # 90 % interval
    late_at: datetime | None
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Affected:
    """Somebody or something that has to wait because this run is late, or that gets nothing because it is lost."""

    kind: str  # cooling, pot, dispatch
    name: str
    planned_at: datetime
    now_at: datetime | None  # none: not from this run any more
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Lateness:
    """How late the run is, and who else is affected."""

    minutes: int
    end_at: datetime  # when the pot is free again
    affected: tuple[Affected, ...] = ()
    sentence: str = ""
    is_lost: bool = False  # broken off: what it was to give has to be made again

    @property
    def offers_replan(self) -> bool:
        """Whether a manager should be asked to plan again."""
        return self.is_lost or bool(self.affected)


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """A run as it goes: the batch sheet and everything that was recorded to it."""

    run: str
    formula: str
    pot: str
    state: State
    steps: tuple[StepNow, ...]
    timers: tuple[Timer, ...]
    charge: ChargeNow
    draws: tuple[DrawNow, ...]
    reduction: ReductionNow | None
    lateness: Lateness
    cautions: tuple[str, ...] = ()
    others: tuple[Noted, ...] = ()  # what belongs to no step: temperatures between, breaking off
    withdrawn: frozenset[str] = field(default_factory=frozenset)  # keys of entries that were taken back or replaced
    log: tuple[Noted, ...] = ()  # every entry, in the order in which it happened

    @property
    def current(self) -> StepNow | None:
        """What is to be done now."""
        return next((each for each in self.steps if each.status == "current"), None)

    @property
    def following(self) -> tuple[StepNow, ...]:
        """What comes after it; at most two."""
        return tuple(each for each in self.steps if each.status == "next")

    def at(self, code: str) -> StepNow | None:
        """The step of this code."""
        return next((each for each in self.steps if each.step.code == code), None)
