"""What a scheduler returns: who is placed where and when, who is not and why, and how it ended."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A piece of work with its time; `name` says which (stage kind, addition)."""

    name: str
    start_min: int
    end_min: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedCooling:
    """A draw in its cooling devices."""

    draw: str
    mode: str
    places: tuple[tuple[str, int], ...]
    ice_kg: float
    start_min: int
    end_min: int
    ready_min: int  # after freezing where the product is frozen


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedRun:
    """A run in its pot."""

    job: str
    option: int  # index into the job's options
    pot: str
    stages: tuple[Placed, ...]
    additions: tuple[Placed, ...]
    coolings: tuple[PlacedCooling, ...]
    wash: Placed | None
    why_here: str  # one sentence: what held it to this pot and time

    @property
    def start_min(self) -> int:
        """Start of loading."""
        return self.stages[0].start_min

    @property
    def pot_free_min(self) -> int:
        """End of washing, when the pot is free again."""
        return self.wash.end_min if self.wash else self.stages[-1].end_min


@dataclass(frozen=True, slots=True, kw_only=True)
class Unplaced:
    """A run that found no time, with the resource that stands in the way."""

    job: str
    resource: (
        str  # pots, heat, cooks, cooling, ice, trays, storage, hours, ingredients, shelf life, time, several, stopped
    )
    missing: float
    unit: str
    sentence: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Late:
    """An order line share that leaves late."""

    job: str
    label: str
    due_min: int
    ready_min: int
    resource: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """A plan in minutes."""

    status: str  # "complete" (all placed), "partial", "empty"
    method: str  # "greedy"
    runs: tuple[PlacedRun, ...]
    unplaced: tuple[Unplaced, ...]
    late: tuple[Late, ...]
    lateness_h: float  # sum of weight x share x hours late
    seconds: float  # 0 from the scheduler; whoever holds the clock sets it
    seed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Violation:
    """A limit that a schedule breaks; always a fault of the program."""

    code: str
    sentence: str
    at_min: int
