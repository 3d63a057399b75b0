"""The scheduling problem as frozen, self-checking dataclasses: whole minutes from one origin, resources by code.

A run is a chain of stages without gaps in one pot; its only freedom is the pot, the start, and the length of stages
whose shortest and longest time differ (simmers and hot holds). Draws leave the chain at the end of a stage and go at
once into a cooling device. A chain may move into a pan for its reduction, alone or joined by other runs' second draws.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from production.domain.errors import PotwrightError


def _repeats(codes: Sequence[str]) -> bool:
    return len(set(codes)) < len(codes)


class BadProblem(PotwrightError):
    """The problem contradicts itself; a mistake of the program, not of the kitchen."""

    def __init__(self, sentence: str, **numbers: object) -> None:
        super().__init__(
            code="bad-schedule-problem", sentence=sentence, numbers=dict(numbers), remedy="Report this as a fault."
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """From `start_min` (included) to `end_min` (excluded) with an amount: cooks on duty, or an outage."""

    start_min: int
    end_min: int
    amount: int = 1

    def __post_init__(self) -> None:
        if self.end_min <= self.start_min:
            raise BadProblem("A window ends before it starts.", start=self.start_min, end=self.end_min)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One stage of a run; `kind` is a word of the trade (load, heat_up, skim, simmer, draw_off, refill, …)."""

    kind: str
    shortest_min: int
    longest_min: int
    cooks: int = 0  # hands needed for the whole stage
    on_site: bool = False  # somebody must be in the kitchen, though not at the pot
    power_kw: float = 0.0  # input drawn from the pot's heat supply

    def __post_init__(self) -> None:
        if not 0 < self.shortest_min <= self.longest_min:
            raise BadProblem("A stage has no possible length.", kind=self.kind, shortest=self.shortest_min)


@dataclass(frozen=True, slots=True, kw_only=True)
class AdditionTask:
    """Hands-on work at a fixed time before the end of a stage (vegetables, aromatics)."""

    name: str
    stage: int  # index into the option's stages
    before_end_min: int
    cook_min: int
    tolerance_min: int = 15  # it may start this much earlier or later, but lies within its stage
    done_at_min: int | None = None  # it has been begun: then it started at this minute, whatever the offset says


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingMode:
    """One way to cool a whole draw: places in devices for some minutes, ice taken at the start."""

    name: str
    places: tuple[tuple[str, int], ...]  # (device, vessels it takes)
    minutes: int  # until the final limit is reached on the slow side; the devices are held this long
    ice_kg: float

    def __post_init__(self) -> None:
        if self.minutes <= 0 or _repeats([device for device, _ in self.places]):
            raise BadProblem("A way to cool takes no time, or names a device twice.", mode=self.name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """A share of an order line that waits for a draw."""

    label: str  # order line
    minute: int
    weight: float
    share: float  # share of the line that this draw serves


@dataclass(frozen=True, slots=True, kw_only=True)
class Keep:
    """Litres of a draw that stand in a store from ready until dispatched."""

    store: str
    litres: float
    until_min: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """Product that leaves the chain at the end of a stage and must be cooled at once."""

    name: str  # "first" or "reduction"
    stage: int  # index of the stage at whose end cooling starts
    modes: tuple[CoolingMode, ...]
    freeze_min: int = 0  # unattended, after cooling
    trays: tuple[tuple[str, int], ...] = ()  # cube trays held from cooling start until frozen
    dues: tuple[Due, ...] = ()
    not_before_min: int = 0  # ready earlier than this and its shelf life would not reach the dispatch
    keep: tuple[Keep, ...] = ()

    def __post_init__(self) -> None:
        if _repeats([tray for tray, _ in self.trays]):
            raise BadProblem("A draw names a tray twice.", draw=self.name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pan:
    """A second vessel that a chain moves into: it is poured over during one stage, which holds both vessels."""

    code: str
    supply: str  # feeds the stages after the pouring
    pour_stage: int  # the stage during which it is poured over
    wash_min: int = 0  # one cook, any time after the last stage


@dataclass(frozen=True, slots=True, kw_only=True)
class RunOption:
    """The run in one pot, and where its reduction is made in a pan, in that pan."""

    pot: str
    supply: str
    stages: tuple[Stage, ...]
    draws: tuple[Draw, ...]
    additions: tuple[AdditionTask, ...] = ()
    wash_min: int = 0  # one cook, any time after the pot is empty; the pot is held until it is washed
    pan: Pan | None = None

    @property
    def last_pot_stage(self) -> int:
        """Index of the last stage that holds the pot."""
        return len(self.stages) - 1 if self.pan is None else self.pan.pour_stage

    def supply_of(self, stage: int) -> str:
        """The heat supply that feeds a stage."""
        return self.supply if self.pan is None or stage <= self.pan.pour_stage else self.pan.supply

    def __post_init__(self) -> None:
        last = len(self.stages) - 1
        if last < 0 or any(not 0 <= d.stage <= last for d in self.draws):
            raise BadProblem("A draw belongs to no stage.", pot=self.pot)
        if any(not 0 <= a.stage <= last for a in self.additions):
            raise BadProblem("An addition belongs to no stage.", pot=self.pot)
        if _repeats([d.name for d in self.draws]):
            raise BadProblem("Two draws of a run have the same name.", pot=self.pot)
        if self.pan is not None and not 0 <= self.pan.pour_stage < last:
            raise BadProblem("A run is poured over after its end.", pot=self.pot, pan=self.pan.code)


@dataclass(frozen=True, slots=True, kw_only=True)
class Was:
    """Where the plan before had a run."""

    pot: str
    start_min: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RunJob:
    """One run that has to find a pot and a time."""

    code: str
    formula: str
    allergens: frozenset[str]
    options: tuple[RunOption, ...]
    release_min: int = 0  # ingredients are there from this minute
    start_at_min: int | None = None  # it starts exactly then: locked, or begun already (then also before now)
    washed_at_min: int | None = None  # washing its pot has begun already, at this minute
    was: Was | None = None  # a run that stays where it was is worth more than an early end

    def is_held_too_early(self, now_min: int) -> bool:
        """Whether it may start only before its ingredients are there; what has begun has them."""
        return self.start_at_min is not None and now_min <= self.start_at_min < self.release_min

    @property
    def first_due_min(self) -> int | None:
        """The earliest dispatch that waits for any draw of this run."""
        dues = [due.minute for option in self.options for draw in option.draws for due in draw.dues]
        return min(dues, default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class StoreRoom:
    """Litres of room in a store, and what already stands in it: (until_min, litres) of opening stock."""

    code: str
    litres: float
    opening: tuple[tuple[int, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Join:
    """Second draws that are reduced together: the guests' last stage starts with the host's pouring over."""

    host: str
    guests: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class IceDelivery:
    """Ice bought in and poured into the bin; what does not go in melts."""

    minute: int
    mass_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Jobs and what the kitchen has; nothing happens before minute `now_min` or after `horizon_min`."""

    horizon_min: int
    now_min: int
    step_min: int
    cooks: tuple[Window, ...]  # staffed time as steps: amount cooks on duty; no window = nobody on site
    supplies_kw: tuple[tuple[str, float], ...]
    devices: tuple[tuple[str, int], ...]  # places
    ice_bin_kg: float
    ice_start_kg: float  # in the bin at now_min
    ice_kg_per_min: float
    trays: tuple[tuple[str, int], ...]
    stores: tuple[StoreRoom, ...]
    unattended_simmer: bool  # may stages without cooks and without on_site run with nobody there
    soak_min: int  # extra pot time between a run with allergens and a next run that does not contain them all
    jobs: tuple[RunJob, ...]
    outages: tuple[tuple[str, Window], ...] = field(default=())  # (pot or pan, window)
    joins: tuple[Join, ...] = ()
    ice_deliveries: tuple[IceDelivery, ...] = ()

    def __post_init__(self) -> None:
        if self.step_min <= 0 or not 0 <= self.now_min < self.horizon_min:
            raise BadProblem("The plan has no time.", now=self.now_min, horizon=self.horizon_min, step=self.step_min)
        if _repeats([job.code for job in self.jobs]):
            raise BadProblem("Two runs have the same code.")
        supplies, devices, trays = dict(self.supplies_kw), dict(self.devices), dict(self.trays)
        stores = {store.code for store in self.stores}
        self._check_joins()
        for job in self.jobs:
            for option in job.options:
                unknown = {option.supply, *([option.pan.supply] if option.pan else [])} - supplies.keys()
                for draw in option.draws:
                    unknown |= {device for mode in draw.modes for device, _ in mode.places} - devices.keys()
                    unknown |= {tray for tray, _ in draw.trays} - trays.keys()
                    unknown |= {keep.store for keep in draw.keep} - stores
                if unknown:
                    raise BadProblem(
                        "A run names what the kitchen does not have.", job=job.code, unknown=sorted(unknown)
                    )

    def _check_joins(self) -> None:
        jobs = {job.code: job for job in self.jobs}
        joined = [code for join in self.joins for code in (join.host, *join.guests)]
        if _repeats(joined) or set(joined) - jobs.keys():
            raise BadProblem("Runs are joined that do not exist, or twice.", runs=joined)
        for join in self.joins:
            if not join.guests or any(option.pan is None for option in jobs[join.host].options):
                raise BadProblem("A reduction of several runs has no pan.", host=join.host)
            if any(option.pan is not None for guest in join.guests for option in jobs[guest].options):
                raise BadProblem("A run that is poured into another run's pan has a pan of its own.", host=join.host)
