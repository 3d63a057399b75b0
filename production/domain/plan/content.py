"""A week's plan: its runs, what cannot be served, and what leaves late."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta

from production.domain.batches import Batch, Sizing, StorageChoice
from production.domain.cooling_capacity import CoolingChoice
from production.domain.demand import Demand
from production.domain.formula import Charge
from production.domain.kitchen import Week
from production.domain.plan.holds import Ask
from production.domain.purchasing import Purchases
from production.domain.schedule.result import PlacedRun, Schedule
from production.domain.sourcing import Portioned
from production.domain.workings import Figure

FORMAT = "potwright-plan"
VERSION = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedDraw:
    """A draw with the way it is cooled."""

    name: str  # first or reduction
    cooling: CoolingChoice
    device_names: tuple[str, ...]
    start_at: datetime
    end_at: datetime
    ready_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class StageLoad:
    """What a stage takes while it lasts."""

    kind: str
    start_min: int
    end_min: int
    cooks: int
    supply: str
    power_kw: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedRun:
    """One run of the plan."""

    code: str
    batch: Batch
    formula: str
    formula_version: int
    pot: str
    charge: Charge
    placed: PlacedRun
    loads: tuple[StageLoad, ...]
    draws: tuple[PlannedDraw, ...]
    sourced: tuple[Portioned, ...]
    start_at: datetime
    end_at: datetime
    figures: tuple[Figure, ...]  # every number of the run that can be opened

    def figure(self, key: str) -> Figure:
        """The figure with this key."""
        return next(each for each in self.figures if each.key == key)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unserved:
    """An order line, or a part of it, that cannot be served."""

    line: str
    product: str
    containers: int
    resource: str
    missing: float
    unit: str
    sentence: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LateLine:
    """An order line that leaves late, with what holds it."""

    line: str
    run: str
    due_at: datetime
    ready_at: datetime
    resource: str
    sentence: str
    missing: float = 0.0  # so much more of the resource would be enough, with all other runs where they are
    unit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A week's plan with its frozen input."""

    format: str
    version: int
    week: Week
    parameter_set: str
    origin: datetime  # minute 0 of the schedule, in UTC: minutes are counted through a change of the clocks
    demand: Demand
    runs: tuple[PlannedRun, ...]
    schedule: Schedule
    purchases: Purchases
    unserved: tuple[Unserved, ...]
    late: tuple[LateLine, ...]
    storage_choices: tuple[StorageChoice, ...]
    cautions: tuple[str, ...]  # what else the manager should know
    mark: str  # short digest of all the rest, printed on the papers: papers of different plans never look alike
    violations: tuple[str, ...]  # what the independent checker found; always empty in a plan that is kept
    sizing: Sizing = field(default_factory=Sizing)  # how the runs were chosen
    asks: tuple[Ask, ...] = ()  # what the manager had asked of the planner when it was made
    lost_runs: tuple[PlannedRun, ...] = ()  # of the plans before this one: begun, and lost

    def at(self, minute: float) -> datetime:
        """The instant of a minute of the schedule."""
        return self.origin + timedelta(minutes=minute)


@dataclass(frozen=True, slots=True, kw_only=True)
class PreviewRun:
    """A run of a preview."""

    code: str
    formula: str
    pot: str
    pan: str  # where its reduction is made, if not in the pot
    start_min: int
    end_min: int
    is_late: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """The best plan so far while a better one is looked for: times only, no papers."""

    origin: datetime  # minute 0, in UTC
    runs: tuple[PreviewRun, ...]
    without_time: int  # runs that have found no time
    lateness_h: float
    bound_h: float | None  # no schedule of these runs is less late; None = not known yet
    seconds: float  # since planning began
    doing: str  # a sentence: what the planner is at
