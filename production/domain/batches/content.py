"""Runs to be made, what their draws are filled into, and needs that no run can serve."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Peg:
    """Containers of a batch that are meant for an order line."""

    line: str
    containers: int
    share: float  # share of the whole line
    dispatch_at: datetime
    weight: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Portion:
    """Containers of one product that a draw is filled into."""

    product: str
    containers: int
    litres: float
    pegs: tuple[Peg, ...]

    @property
    def surplus(self) -> int:
        """Containers that no order waits for."""
        return self.containers - sum(peg.containers for peg in self.pegs)


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """One run to be made: what its draws are filled into."""

    code: str
    formula: str
    first: tuple[Portion, ...]
    reduction: tuple[Portion, ...]  # of this run, or of all runs that are poured together here
    pours_into: str = ""  # the run with whose second draw this run's is reduced
    guests: tuple[str, ...] = ()  # runs that pour their second draw into this run's pan
    poured_for: datetime | None = None  # guests: the first dispatch of the reduction that they are poured into

    @property
    def has_second_draw(self) -> bool:
        """Whether the bones are drawn twice."""
        return bool(self.reduction or self.pours_into)

    @property
    def portions(self) -> tuple[Portion, ...]:
        """What both draws are filled into."""
        return (*self.first, *self.reduction)

    @property
    def first_dispatch_at(self) -> datetime:
        """When the first of its containers leaves."""
        pegs = [peg.dispatch_at for portion in self.portions for peg in portion.pegs]
        return min(pegs if self.poured_for is None else [*pegs, self.poured_for])

    @property
    def surplus_l(self) -> float:
        """Litres that no order waits for."""
        return sum(each.litres * each.surplus / each.containers for each in self.portions)

    @property
    def first_l(self) -> float:
        """Litres of first draw, cold."""
        return sum(portion.litres for portion in self.first)

    @property
    def reduction_l(self) -> float:
        """Litres of reduction, cold."""
        return sum(portion.litres for portion in self.reduction)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unmakeable:
    """A need that no run can serve, with the reason."""

    line: str
    product: str
    containers: int
    resource: str
    missing: float
    unit: str
    sentence: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizing:
    """How the runs were chosen, and how far that can be from the best choice."""

    method: str = "rule"  # "rule" of thumb, or "search" for the cheapest choice
    objective: float | None = None  # cost of the runs (an extra run counts 100); smaller is better
    bound: float | None = None  # proven: no choice of runs costs less
    gap_share: float | None = None  # (objective - bound) / objective
    seconds: float = 0.0
    runs: int = 0
    second_draws: int = 0
    reductions: int = 0
    surplus_l: float = 0.0
    energy_kwh: float = 0.0  # estimated, at the shortest simmers; 0 where not reckoned


@dataclass(frozen=True, slots=True, kw_only=True)
class Sized:
    """Runs to be made, needs that no run can serve, and how this was found."""

    batches: tuple[Batch, ...]
    unmakeable: tuple[Unmakeable, ...]
    sizing: Sizing = field(default_factory=Sizing)


@dataclass(frozen=True, slots=True, kw_only=True)
class Filling:
    """So many runs of one pot."""

    pot: str
    runs: int
    litres: float  # first draw of one run


@dataclass(frozen=True, slots=True, kw_only=True)
class StorageChoice:
    """What a store could still take of a product, and the pots that would make it."""

    store: str
    product: str
    containers: int
    litres: float
    value: Decimal
    value_per_storage_l: Decimal
    fillings: tuple[Filling, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StorageShare:
    """What a store takes of a product when all products are chosen together."""

    store: str
    product: str
    containers: int
    litres: float
    value: Decimal
    formula: str
    fillings: tuple[Filling, ...]  # all runs of the formula, for all its products and stores together


@dataclass(frozen=True, slots=True, kw_only=True)
class StorageMix:
    """The most valuable filling of the stores that was found, and what none can be worth more than."""

    shares: tuple[StorageShare, ...]
    value: Decimal
    most_value: Decimal | None
