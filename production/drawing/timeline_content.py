"""What a timeline of a plan shows: days, lanes of bars, steps of what is used, levels, and where a draw is poured."""

from dataclasses import dataclass

from production.drawing.palette import Meaning, StageKind


@dataclass(frozen=True, slots=True, kw_only=True)
class DayBand:
    """One local day in minutes of the plan; it need not have 24 hours."""

    start_min: float
    end_min: float
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShadedSpan:
    """Hours in which nobody is there."""

    start_min: float
    end_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HourTick:
    at_min: float
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BarStage:
    kind: StageKind
    start_min: float
    end_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TimelineBar:
    """One run in a lane; `when` is its time in the kitchen's own style, for the words."""

    label: str
    start_min: float
    end_min: float
    when: str
    stages: tuple[BarStage, ...] = ()
    href: str | None = None
    meaning: Meaning | None = None
    word: str = ""  # what the meaning is here, where its standing words do not say it
    locked: bool = False
    link: int = 0  # its number in the chain of waiting runs that is looked at; 0 where it is in none
    moves: str = ""  # code of the run, where the bar may be taken and put elsewhere


@dataclass(frozen=True, slots=True, kw_only=True)
class BarLane:
    """Bars of one pot or device; `before` is how they stood in another plan, drawn as outlines above them."""

    name: str
    bars: tuple[TimelineBar, ...]
    takes: str = ""  # code of the pot, where bars may be put into it
    before: tuple[TimelineBar, ...] = ()
    out_of_use: tuple[ShadedSpan, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LaneStep:
    """The value from this minute on, until the next step; at this minute, where a level is drawn."""

    at_min: float
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StepLane:
    """What is used and what there is; both are steps, so that shifts can be shown."""

    name: str
    unit: str
    used: tuple[LaneStep, ...]
    available: tuple[LaneStep, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelLane:
    """How full something is, in straight lines between its points."""

    name: str
    unit: str
    points: tuple[LaneStep, ...]
    full: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pour:
    """A draw that goes from one lane of the pots into another; lanes by their place in the list."""

    at_min: float
    from_lane: int
    to_lane: int
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanTimeline:
    name: str
    start_min: float
    end_min: float
    days: tuple[DayBand, ...]
    pots: tuple[BarLane, ...]
    devices: tuple[BarLane, ...] = ()
    steps: tuple[StepLane | LevelLane, ...] = ()
    pours: tuple[Pour, ...] = ()
    nights: tuple[ShadedSpan, ...] = ()
    hours: tuple[HourTick, ...] = ()
    now_min: float | None = None


@dataclass(frozen=True, slots=True)
class Scale:
    """Minutes of a timeline as px from the left; what lies outside is drawn at the edge."""

    left: float
    right: float
    timeline: PlanTimeline

    def x(self, at_min: float) -> float:
        """Where a minute lies."""
        line = self.timeline
        inside = min(max(at_min, line.start_min), line.end_min)
        return self.left + (inside - line.start_min) / (line.end_min - line.start_min) * (self.right - self.left)
