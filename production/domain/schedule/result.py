"""What a scheduler returns: who is placed where and when, who is not and why, and how it ended."""

from __future__ import annotations

from dataclasses import dataclass

POUR_OVER = "pour_over"  # kind of the stage in which a second draw goes into a pan


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
    pan: str = ""  # the vessel its reduction is made in, where that is not the pot
    pan_wash: Placed | None = None

    @property
    def start_min(self) -> int:
        """Start of loading."""
        return self.stages[0].start_min

    @property
    def pot_free_min(self) -> int:
        """End of washing, when the pot is free again."""
        if self.wash:
            return self.wash.end_min
        return next((s.end_min for s in self.stages if self.pan and s.name == POUR_OVER), self.stages[-1].end_min)

    @property
    def pan_free_min(self) -> int:
        """End of washing the pan, when it is free again; the end of the chain where there is no pan to wash."""
        return self.pan_wash.end_min if self.pan_wash else self.stages[-1].end_min


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
    missing: float = 0.0  # so much more of the resource would be enough, with all other runs where they are
    unit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """One level of the objective; levels are kept in their order and never traded against each other."""

    name: str  # unserved, lateness, moved, calm
    value: float
    bound: float | None  # no schedule of these runs can be better than this; None = no claim is made
    unit: str
    seconds: float  # spent on this level; 0 from the scheduler where nobody holds the clock

    @property
    def is_proven(self) -> bool:
        """Whether nothing better is possible."""
        return self.bound is not None and self.value <= self.bound + 1e-6

    @property
    def gap_share(self) -> float | None:
        """How far the value may be from the best possible, as a share of the value."""
        if self.bound is None:
            return None
        return 0.0 if self.is_proven else (self.value - self.bound) / self.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """A plan in minutes."""

    status: str  # "complete" (all placed), "partial", "empty"
    method: str  # "greedy", "solver"
    runs: tuple[PlacedRun, ...]
    unplaced: tuple[Unplaced, ...]
    late: tuple[Late, ...]
    lateness_h: float  # sum of weight x share x hours late
    seconds: float  # 0 from the scheduler; whoever holds the clock sets it
    seed: int
    levels: tuple[Level, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Violation:
    """A limit that a schedule breaks; always a fault of the program."""

    code: str
    sentence: str
    at_min: int
