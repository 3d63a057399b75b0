"""The levels of the objective one after another: each is searched alone, with the levels before it held."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from production.domain.errors import PotwrightError
from production.domain.schedule.check import check_schedule
from production.domain.schedule.cpsat import WORK_PER_S, Answer, Values
from production.domain.schedule.levels import LEVELS, UNITS, is_better, schedule_key
from production.domain.schedule.model import Model, Shape, build_model, schedule_of, shape_of
from production.domain.schedule.model.goals import PARTS, lateness_parts, unserved_parts
from production.domain.schedule.problem import Problem
from production.domain.schedule.result import Level, Schedule
from production.domain.schedule.tidy import washed_soon

SHARES = {"unserved": 0.3, "lateness": 0.7, "moved": 0.5, "calm": 1.0}  # of the time that is left
RELAXED_SHARE = 0.2  # of a level's time, for a bound where the model is stricter than the check
SCALE = {"unserved": PARTS, "lateness": 60 * PARTS, "moved": 60, "calm": 60}
MOST_REJECTED = 5
HOPED_FOR = {"soak", "ice"}  # limits that a model may leave open
TELL_S = 1.0  # better schedules are told of at most once in this time
LARGEST_GAP = 0.25  # of calm; nothing is claimed beyond

Better = Callable[[Schedule], None]
Cancelled = Callable[[], bool]


def solve_schedule(
    problem: Problem,
    start: Schedule,
    *,
    seconds: float,
    workers: int,
    seed: int = 0,
    levels: Sequence[str] = LEVELS,
    better: Better | None = None,
    cancelled: Cancelled | None = None,
) -> Schedule:
    """Improve a schedule level by level; the result is never worse than the start, and says how good it could be.

    Equation: least unserved; then least lateness; then fewest moves; then least calm, each with the levels before it
        held at what was reached. A bound says what no schedule on the problem's grid can undercut while it keeps the
        levels before; it comes from a model that is nowhere stricter than the check.
    Units: seconds [s], workers, seed [count], levels (names of those that are searched); the schedule is in minutes.
    Valid: a start that keeps every limit. One worker gives the same answer twice: its time is counted in work done,
        at the pace of a slow machine.
    Errors: PotwrightError "schedule-breaks-a-limit" when a solution fails the check, which is a fault of the program.
    Source: own definition on a constraint solver (lexicographic optimisation is a standard method).
    """
    search = _Search(problem, start, seconds, workers, seed, better, cancelled or (lambda: False))
    for goal in search.goals():
        if goal in levels and search.time_left() > 0 and not search.cancelled():
            search.improve(goal)
    return search.result()


@dataclass(slots=True)
class _Search:
    problem: Problem
    best: Schedule
    seconds: float
    workers: int
    seed: int
    better: Better | None
    cancelled: Cancelled
    began: float = field(default_factory=time.monotonic)
    work_s: float = 0.0
    shape: Shape = field(init=False)
    key: tuple[float, ...] = field(init=False)
    bounds: dict[str, float] = field(default_factory=dict)
    spent_s: dict[str, float] = field(default_factory=dict)
    told: float = field(default_factory=time.monotonic)
    is_news: bool = False
    rejected: int = 0  # solutions in a row that left no room for what was hoped for

    def __post_init__(self) -> None:
        self.shape = shape_of(self.problem)
        self.key = schedule_key(self.problem, self.best)

    # Time

    def time_left(self) -> float:
        """Seconds left; for one worker by work done, which is the same on every machine."""
        return self.seconds - self._spent()

    def _spent(self) -> float:
        return self.work_s if self.workers == 1 else time.monotonic() - self.began

    # Levels

    def goals(self) -> list[str]:
        """Levels that can be improved at all."""
        wanted = {
            "unserved": bool(self.best.unplaced),
            "lateness": True,
            "moved": any(job.was is not None for job in self.problem.jobs),
            "calm": True,
        }
        return [name for name in LEVELS if wanted[name] and self.problem.jobs]

    def improve(self, goal: str) -> None:
        """Search one level; take what is better, and the bound if it holds."""
        since = self._spent()
        if goal != "calm" and self._value(goal) <= 0:
            self.bounds[goal] = 0.0
        else:
            self._improve(goal, SHARES[goal] * self.time_left())
        self.spent_s[goal] = self._spent() - since

    def _improve(self, goal: str, seconds: float) -> None:
        """The model of the kitchen first; then one whose bound holds, where that is another one."""
        until = self._spent() + seconds
        bound_s = seconds * RELAXED_SHARE if self.shape.is_strict and goal != "calm" else 0.0
        model, answer = self._solve(goal, seconds - bound_s)
        while (
            self.rejected > MOST_REJECTED and until - bound_s - self._spent() > 0.05 * seconds and not self.cancelled()
        ):
            model, answer = self._solve(goal, until - bound_s - self._spent())
        if not self.shape.is_strict:
            self._bound(goal, model, answer)
        elif goal != "calm" and self._value(goal) > 0:
            model, answer = self._solve(goal, until - self._spent(), relaxed=True)
            self._bound(goal, model, answer)
        self._tell()

    def _solve(self, goal: str, seconds: float, *, relaxed: bool = False) -> tuple[Model, Answer]:
        self.rejected = 0
        model = build_model(self.shape, self.best, goal, self._caps(goal), relaxed=relaxed)
        answer = model.core.solve(
            seconds=seconds,
            workers=self.workers,
            seed=self.seed,
            found=lambda values: self._take(model, values),
            cancelled=lambda: self.cancelled() or (self.rejected > MOST_REJECTED and not relaxed),
        )
        self.work_s += answer.work / WORK_PER_S
        if answer.values is not None:
            self._take(model, answer.values)
        return model, answer

    def _caps(self, goal: str) -> dict[str, int]:
        before = LEVELS[: LEVELS.index(goal)]
        return {name: self._parts(name) for name in self.goals() if name in before}

    def _parts(self, goal: str) -> int:
        """A level of the best schedule in the whole numbers of the model."""
        if goal == "unserved":
            return unserved_parts(self.problem, self.best)
        if goal == "lateness":
            return lateness_parts(self.problem, self.best)
        return round(self._value(goal) * SCALE[goal])

    def _value(self, goal: str) -> float:
        return self.key[LEVELS.index(goal)]

    def _bound(self, goal: str, model: Model, answer: Answer) -> None:
        value = self._value(goal)
        bound = max(0.0, min(value, answer.bound / SCALE[goal]))
        if answer.is_proven and self._parts(goal) <= answer.objective:
            bound = value
        if goal == "calm" and (not model.calm_exact or value - bound > LARGEST_GAP * value):
            return
        self.bounds[goal] = bound

    # Better schedules

    def _take(self, model: Model, values: Values) -> None:
        """Keep a solution that is better, unless a soak or ice that was hoped for finds no room."""
        left_out = {item.job: item for item in self.best.unplaced}
        found = schedule_of(self.shape, model.runs, values, seed=self.seed, left_out=left_out)
        faults = check_schedule(self.problem, found)
        if faults and {fault.code for fault in faults} <= HOPED_FOR:
            self.rejected += 1
            return
        self.rejected = 0
        if faults:
            raise PotwrightError(
                code="schedule-breaks-a-limit",
                sentence=f"A schedule breaks a limit and is not shown: {faults[0].sentence}",
                numbers={"faults": len(faults), "at_min": faults[0].at_min},
                remedy="Report this as a fault.",
            )
        key = schedule_key(self.problem, found)
        if is_better(key, self.key):
            self.best, self.key, self.is_news = found, key, True
            if time.monotonic() - self.told >= TELL_S:
                self._tell()

    def _tell(self) -> None:
        if self.is_news and self.better is not None:
            self.better(replace(self.best, levels=self._levels()))
            self.told = time.monotonic()
        self.is_news = False

    def _levels(self) -> tuple[Level, ...]:
        proven = {"unserved": 0.0, "lateness": 0.0, "moved": 0.0}  # nothing is less than nothing
        return tuple(
            Level(
                name=name,
                value=value,
                bound=self.bounds.get(name, proven.get(name)),
                unit=UNITS[name],
                seconds=self.spent_s.get(name, 0.0),
            )
            for name, value in zip(LEVELS, self.key, strict=True)
        )

    def result(self) -> Schedule:
        """The best schedule with its levels; pots are washed as soon as there are hands."""
        return replace(washed_soon(self.problem, self.best), levels=self._levels())
