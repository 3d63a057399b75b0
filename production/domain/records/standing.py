"""How a cooling stands at a moment: verdict, what is to be expected, what may be done. Pure; nothing here is kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

from production.domain.kitchen import Container, CoolingDevice
from production.domain.limits import CoolingRule, Stage
from production.domain.parameters import ParameterSet
from production.domain.records.actions import Action, Reheats, allowed_actions
from production.domain.records.advice import advise
from production.domain.records.advice_content import Advice, AdviceInput, FreePlace
from production.domain.records.fitting import Surroundings
from production.domain.records.forecast import Forecast, Limit, forecast_cooling
from production.domain.records.logs import LogDigest, judge_log
from production.domain.records.verdicts import StageVerdict, State, Verdict

Points = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenQuestion:
    """A reading that was asked about, and that nobody has answered for yet."""

    key: str
    number: int
    temp: str  # as it was typed
    unit: str
    thermometer: str
    measured_at: datetime
    code: str
    sentence: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """Something that was done to a cooling."""

    kind: str
    number: int
    key: str
    at: datetime
    by: str
    content: dict[str, object]


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingNow:
    """One group of containers that cools: what is on record and what is to be expected; minutes since it was opened."""

    subject: str
    run: str
    draw: str
    formula: str
    products: tuple[str, ...]
    device_code: str
    device: str
    device_kind: str  # ice_sink, blast_chiller, or nothing where it stands elsewhere
    vessel: str
    vessels: int
    litres: float
    fill_l: float
    depth_mm: float
    ice_kg: float  # planned and added
    group: int
    attempt: int
    opened_at: datetime
    closed_at: datetime | None
    kept_verdict: str  # of a closed log, as it stands; nothing while it is open
    rule: CoolingRule
    verdict: Verdict
    points: Points
    expected: Points  # as planned; nothing where it was poured otherwise
    moved_min: float | None  # when it last came to another place
    reading_count: int
    thermometer: str  # the one that was used last
    forecast: Forecast | None
    chances: tuple[tuple[int, float], ...]  # number of a stage, how likely it is kept
    advice: tuple[Advice, ...]  # what still keeps the limit that is in danger; minutes since it was opened
    actions: tuple[Action, ...]
    questions: tuple[OpenQuestion, ...]
    acts: tuple[Act, ...]

    @property
    def is_unread(self) -> bool:
        """Whether nobody has measured yet: the verdict then only says that nothing is shown so far."""
        return self.reading_count == 0 and self.closed_at is None

    @property
    def running(self) -> StageVerdict | None:
        """The stage whose clock runs and ends first."""
        open_stages = [each for each in self.verdict.stages if each.state is State.RUNNING and each.deadline_at]
        return min(open_stages, key=lambda each: each.deadline_at or self.opened_at, default=None)

    def minutes_left(self, now: datetime) -> float | None:
        """Until the next limit; None while no clock runs."""
        stage = self.running
        return None if stage is None or stage.deadline_at is None else (stage.deadline_at - now).total_seconds() / 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Verdict, forecast with the chance of each stage, and actions."""

    verdict: Verdict
    forecast: Forecast | None
    chances: tuple[tuple[int, float], ...]
    actions: tuple[Action, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """Where and in what a group of containers stands, for advice."""

    device: CoolingDevice
    vessel: Container
    places: int  # free ones and its own
    stirred: bool
    glaze: bool
    litres: float
    fill_l: float
    free: tuple[FreePlace, ...]


def advice_on(
    rule: CoolingRule, told: Standing, stand: Stand, *, opened_at: datetime, now: datetime, parameters: ParameterSet
) -> tuple[Advice, ...]:
    """What still keeps the limit whose clock ends first, where the forecast says that it is in danger.

    Equation: advise for the running stage with the nearest deadline.
    Units: rule, told, stand (records), opened_at, now [instants], parameters (record); returns records.
    Valid: open logs with a forecast; nothing otherwise.
    Errors: as advise.
    Source: advise.
    """
    chances = dict(told.chances)
    running = [
        (each.deadline_at, law.to_c, chances.get(law.number, 0.0))
        for each, law in zip(told.verdict.stages, rule.stages, strict=True)
        if each.state is State.RUNNING and each.deadline_at is not None and law.to_c is not None
    ]
    if told.forecast is None or not running:
        return ()
    deadline_at, target_c, chance = min(running)
    return advise(
        AdviceInput(
            forecast=told.forecast,
            chance=chance,
            target_c=target_c,
            limit_min=_minutes(deadline_at, opened_at),
            now_min=_minutes(now, opened_at),
            place="ice_sink" if stand.device.kind == "ice_sink" else "blast_chiller",
            places=stand.places,
            stirred=stand.stirred,
            glaze=stand.glaze,
            litres=stand.litres,
            vessel=stand.vessel,
            fill_l=stand.fill_l,
            free=stand.free,
            parameters=parameters,
        )
    )


def standing(
    rule: CoolingRule,
    found: LogDigest,
    *,
    now: datetime,
    closed: bool,
    zone: tzinfo,
    opened_at: datetime,
    points: Points,
    surroundings: Surroundings | None,
    attempt: int,
    reheats: Reheats,
) -> Standing:
    """How a log stands now, and what is to be expected of it.

    Equation: judge_log; forecast_cooling on the points since the last move; allowed_actions once somebody has measured.
    Units: rule, found (records), now, opened_at [instants], closed (yes or no), zone (of the sentences),
        points [min since opening, degC], surroundings (record, none where unknown), attempt (count), reheats (setting);
        returns records.
    Valid: the digest and the points of one log.
    Errors: none.
    Source: those of the three.
    """
    verdict = judge_log(rule, found, now=now, closed=closed, zone=zone)
    actions: tuple[Action, ...] = ()
    if points or closed:
        actions = allowed_actions(rule=rule, verdict=verdict, now=now, attempt=attempt, reheats=reheats)
    open_stages = [
        stage
        for stage, told in zip(rule.stages, verdict.stages, strict=True)
        if told.state in (State.RUNNING, State.NOT_STARTED) and stage.to_c is not None
    ]
    if closed or not points or surroundings is None or not open_stages:
        return Standing(verdict=verdict, forecast=None, chances=(), actions=actions)
    limited = [stage for stage in open_stages if stage.max_minutes is not None]
    limits = [_limit(rule, verdict.stages[rule.stages.index(stage)], stage, opened_at) for stage in limited]
    forecast = forecast_cooling(
        minutes=[minute for minute, _ in points],
        temps_c=[temp_c for _, temp_c in points],
        surroundings=surroundings,
        targets_c=[stage.to_c for stage in open_stages if stage.to_c is not None],
        limits=limits,
    )
    chances = tuple((stage.number, chance) for stage, chance in zip(limited, forecast.chances, strict=True))
    return Standing(verdict=verdict, forecast=forecast, chances=chances, actions=actions)


def _limit(rule: CoolingRule, told: StageVerdict, stage: Stage, opened_at: datetime) -> Limit:
    """A stage's limit, from its conservative start where that is known."""
    to_c, most = float(stage.to_c or 0.0), float(stage.max_minutes or 0)
    if told.start_at is not None and told.state is State.RUNNING:
        return Limit(to_c=to_c, max_minutes=most, clock_min=_minutes(told.start_at, opened_at))
    index = rule.stages.index(stage)
    clock_c = rule.stages[index - 1].to_c if stage.clock == "from_stage" and index else rule.stages[0].from_c
    if clock_c is None:
        return Limit(to_c=to_c, max_minutes=most, clock_min=0.0)
    return Limit(to_c=to_c, max_minutes=most, clock_c=clock_c)


def _minutes(at: datetime, since: datetime) -> float:
    return (at - since) / timedelta(minutes=1)


def points_since(points: Sequence[Sequence[float]], minute: float | None) -> Points:
    """The points of a curve since it came to its place; the last one before that begins it.

    Equation: points at or after the minute, else the last one.
    Units: points [min, degC], minute [min] or none; returns points.
    Valid: points in the order of time.
    Errors: none.
    Source: own definition.
    """
    whole = tuple((float(at), float(temp_c)) for at, temp_c in points)
    if minute is None:
        return whole
    return tuple(each for each in whole if each[0] >= minute) or whole[-1:]
