"""The one door to the constraint solver: times, tasks, lags, machines and cumulative resources, whole minutes.

It knows nothing of kitchens. A time is a constant or factor x variable + offset; everything that is put into it may
carry a hint, the value that a known solution gives it.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from ortools.sat.python import cp_model

Flag = cp_model.IntVar
Expr = cp_model.LinearExpr | int
Span = tuple[int, int]
WORK_PER_S = 0.35  # deterministic work that a slow machine does in a second; see `Core.solve`
POLL_S = 0.05

OPTIMAL, FEASIBLE, INFEASIBLE, UNKNOWN = "optimal", "feasible", "infeasible", "unknown"
_STATUS = {
    cp_model.OPTIMAL: OPTIMAL,
    cp_model.FEASIBLE: FEASIBLE,
    cp_model.INFEASIBLE: INFEASIBLE,
}


@dataclass(frozen=True, slots=True)
class Time:
    """factor x variable + offset, between low and high; without a variable a constant."""

    var: cp_model.IntVar | None
    factor: int
    offset: int
    low: int
    high: int
    hint: int | None

    @property
    def expr(self) -> Expr:
        """What the solver reads."""
        return self.offset if self.var is None else self.var * self.factor + self.offset

    @property
    def index(self) -> int | None:
        """Number of its variable."""
        return None if self.var is None else self.var.index

    def after(self, minutes: int) -> Time:
        """The same time some minutes later."""
        return replace(
            self,
            offset=self.offset + minutes,
            low=self.low + minutes,
            high=self.high + minutes,
            hint=None if self.hint is None else self.hint + minutes,
        )


def fixed(minute: int) -> Time:
    """A time that is known.

    Equation: constant.
    Units: minute [min]; returns a Time.
    Valid: any whole minute.
    Errors: none.
    Source: own definition.
    """
    return Time(None, 0, minute, minute, minute, minute)


@dataclass(frozen=True, slots=True)
class Task:
    """Something that lasts from start to end; left out of everything when it is not present."""

    interval: cp_model.IntervalVar
    present: Flag


Values = Callable[[Time | Flag], int]


@dataclass(frozen=True, slots=True)
class Answer:
    """How a search ended; `values` reads the best solution."""

    status: str
    objective: int
    bound: int
    values: Values | None

    @property
    def is_proven(self) -> bool:
        """Whether nothing better exists in the model."""
        return self.status == OPTIMAL


class Core:
    """One model and its search."""

    def __init__(self) -> None:
        self.model = cp_model.CpModel()
        self.always: Flag = self.flag(hint=True)
        self.model.add(self.always == 1)

    # Variables

    def flag(self, *, hint: bool | None = None) -> Flag:
        """A yes or no."""
        flag = self.model.new_bool_var("")
        if hint is not None:
            self.model.add_hint(flag, hint)
        return flag

    def time(self, low: int, high: int, *, unit: int = 1, rest: int = 0, hint: int | None = None) -> Time:
        """A time from low to high on the grid unit x n + rest."""
        first, last = -((rest - low) // unit), (high - rest) // unit
        var = self.model.new_int_var(first, max(first, last), "")
        if last < first:
            self.model.add_bool_or([])
        if hint is not None:
            hint = min(max(round((hint - rest) / unit), first), last) * unit + rest
            self.model.add_hint(var, (hint - rest) // unit)
        return Time(var, unit, rest, first * unit + rest, last * unit + rest, hint)

    def chosen(self, terms: Sequence[tuple[Flag, int]], *, hint: int | None = None) -> Time:
        """The sum of the amounts whose flags are set."""
        amounts = [amount for _, amount in terms]
        if len(set(amounts)) == 1 and [flag for flag, _ in terms] == [self.always]:
            return fixed(amounts[0])
        total = self.time(0, sum(amounts), hint=hint)
        self.model.add(total.expr == sum(flag * amount for flag, amount in terms))
        return total

    # Choices

    def exactly(self, flags: Sequence[Flag], present: Flag) -> None:
        """One of the flags is set if present is set, otherwise none."""
        self.model.add(sum(flags) == present)

    def same(self, flags: Iterable[Flag]) -> None:
        """All of the flags are set, or none."""
        first, *others = flags
        for other in others:
            self.model.add(first == other)

    # Precedence and windows

    def lag(self, first: Time, second: Time, lengths: Sequence[tuple[Flag, int, int]]) -> None:
        """second - first lies between the shortest and the longest of the one flag that is set (0 where none is)."""
        between = second.expr - first.expr
        shortest = sum(flag * low for flag, low, _ in lengths)
        longest = sum(flag * high for flag, _, high in lengths)
        if all(low == high for _, low, high in lengths):
            self.model.add(between == shortest)
        else:
            self.model.add(between >= shortest)
            self.model.add(between <= longest)

    def not_before(self, time: Time, other: Time, *, wait: int = 0, when: Sequence[Flag] = ()) -> None:
        """time >= other + wait, while all the flags are set."""
        if time.low < other.high + wait:
            self.model.add(time.expr >= other.expr + wait).only_enforce_if(*when)

    def same_time(self, time: Time, other: Time, *, when: Sequence[Flag] = ()) -> None:
        """Two times are one, while all the flags are set."""
        self.model.add(time.expr == other.expr).only_enforce_if(*when)

    def within(self, time: Time, spans: Sequence[Span], *, when: Sequence[Flag] = ()) -> None:
        """The time lies in one of the spans (both ends included), while all the flags are set."""
        if any(first <= time.low and time.high <= last for first, last in spans):
            return
        domain = cp_model.Domain.from_intervals([[first, last] for first, last in spans if first <= last])
        self.model.add_linear_expression_in_domain(time.expr, domain).only_enforce_if(*when)

    # Tasks and resources

    def task(self, start: Time, end: Time, present: Flag) -> Task:
        """A task from start to end."""
        if start.index == end.index:
            size = fixed(end.offset - start.offset)
        else:
            hint = None if start.hint is None or end.hint is None else max(0, end.hint - start.hint)
            size = self.time(0, max(0, end.high - start.low), hint=hint)
        return Task(self.model.new_optional_interval_var(start.expr, size.expr, end.expr, present, ""), present)

    def block(self, start: int, end: int) -> Task:
        """A task that stands where it stands."""
        return self.task(fixed(start), fixed(end), self.always)

    def unary(self, tasks: Sequence[Task]) -> None:
        """One task at a time."""
        self.model.add_no_overlap([task.interval for task in tasks])

    def cumulative(self, uses: Sequence[tuple[Task, Time]], capacity: int) -> None:
        """At every minute the amounts of the tasks that run add up to the capacity at most."""
        self.model.add_cumulative(
            [task.interval for task, _ in uses], [amount.expr for _, amount in uses], max(capacity, 0)
        )

    # Objective

    def late(self, time: Time, due: int, *, when: Sequence[Flag] = ()) -> Time:
        """At least the minutes from due to time, while all the flags are set."""
        hint = None if time.hint is None else max(0, time.hint - due)
        late = self.time(0, max(0, time.high - due), hint=hint)
        self.not_before(late, time.after(-due), when=when)
        return late

    def stepped(self, time: Time, steps: Sequence[tuple[Span, int]]) -> Time:
        """The amount that belongs to the span in which the time lies; it lies in one of them."""
        reached = [(span, amount) for span, amount in steps if span[0] <= time.high and time.low <= span[1]]
        if len({amount for _, amount in reached}) == 1:
            return fixed(reached[0][1])
        at = time.hint
        flags = [self.flag(hint=None if at is None else span[0] <= at <= span[1]) for span, _ in reached]
        self.model.add_exactly_one(flags)
        for flag, (span, _) in zip(flags, reached, strict=True):
            self.within(time, [span], when=(flag,))
        found = next((amount for (first, last), amount in reached if at is not None and first <= at <= last), None)
        return self.chosen([(flag, amount) for flag, (_, amount) in zip(flags, reached, strict=True)], hint=found)

    def minimise(self, terms: Sequence[tuple[Time | Flag, int]]) -> None:
        """Ask for the least weighted sum."""
        self.model.minimize(_weighted(terms))

    def cap(self, terms: Sequence[tuple[Time | Flag, int]], limit: int) -> None:
        """The weighted sum is at most the limit."""
        self.model.add(_weighted(terms) <= limit)

    # Search

    def solve(
        self,
        *,
        seconds: float,
        workers: int,
        seed: int,
        found: Callable[[Values], None] | None = None,
        cancelled: Callable[[], bool] | None = None,
    ) -> Answer:
        """Search for at most `seconds`; one worker repeats itself exactly.

        The solver works in a thread of its own. `found` hears of better solutions and `cancelled` is asked in the
        thread of the caller. One worker is limited by work done and not by the clock, at the pace of a slow machine.
        """
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = workers
        solver.parameters.random_seed = seed
        solver.parameters.max_time_in_seconds = max(seconds, 0.0)
        solver.parameters.repair_hint = True
        if workers == 1:
            solver.parameters.max_deterministic_time = max(seconds, 0.0) * WORK_PER_S
        news = _News()
        ended = threading.Event()
        search = threading.Thread(target=_search, args=(solver, self.model, news, ended), daemon=True)
        search.start()
        while not ended.wait(POLL_S):
            latest = news.take()
            if latest is not None and found is not None:
                found(latest)
            if cancelled is not None and cancelled():
                solver.stop_search()
        search.join()
        return _answer(solver)


class _News(cp_model.CpSolverSolutionCallback):
    """Keeps the latest solution until somebody asks for it."""

    def __init__(self) -> None:
        super().__init__()
        self._latest: Sequence[int] | None = None

    def on_solution_callback(self) -> None:
        self._latest = list(self.Response().solution)  # type: ignore[no-untyped-call]

    def take(self) -> Values | None:
        latest, self._latest = self._latest, None
        return None if latest is None else _reader(latest)


def _search(solver: cp_model.CpSolver, model: cp_model.CpModel, news: _News, ended: threading.Event) -> None:
    try:
        solver.solve(model, news)
    finally:
        ended.set()


def _reader(solution: Sequence[int]) -> Values:
    def value(what: Time | Flag) -> int:
        if isinstance(what, Time):
            return what.offset if what.var is None else what.factor * solution[what.var.index] + what.offset
        return solution[what.index]

    return value


def _answer(solver: cp_model.CpSolver) -> Answer:
    response = solver.response_proto
    status = _STATUS.get(response.status, UNKNOWN)
    bound = math.ceil(solver.best_objective_bound - 1e-6)
    if status not in (OPTIMAL, FEASIBLE):
        return Answer(status=status, objective=0, bound=0, values=None)
    objective = round(solver.objective_value)
    return Answer(
        status=status,
        objective=objective,
        bound=objective if status == OPTIMAL else min(bound, objective),
        values=_reader(list(response.solution)),
    )


def _weighted(terms: Sequence[tuple[Time | Flag, int]]) -> Expr:
    total: Expr = 0
    return sum(((what.expr if isinstance(what, Time) else what) * weight for what, weight in terms), total)
