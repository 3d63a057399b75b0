"""The one door to the constraint solver: times, tasks, lags, machines and cumulative resources, whole minutes.

It knows nothing of kitchens. A time is a constant or factor x variable + offset; everything that is put into it may
carry a hint, the value that a known solution gives it.
"""

from __future__ import annotations

import math
import threading
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import cast

from ortools.sat.python import cp_model

Flag = cp_model.IntVar
Expr = cp_model.LinearExpr | int
Span = tuple[int, int]
WORK_PER_S = 0.05  # deterministic work that a slow machine does in a second on a kitchen; see `Core.solve`
POLL_S = 0.05
FULL_SEARCHES = ("no_lp", "quick_restart_no_lp", "default_lp")  # the other workers search neighbourhoods

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
    work: float  # deterministic; the same search does the same work on any machine

    @property
    def is_proven(self) -> bool:
        """Whether nothing better exists in the model."""
        return self.status == OPTIMAL


class Core:
    """One model and its search."""

    def __init__(self) -> None:
        self.model = cp_model.CpModel()
        self._known: dict[int, int] = {}  # hints by variable
        self.always: Flag = self.flag(hint=True)
        self.model.add(self.always == 1)

    # Variables

    def flag(self, *, hint: bool | None = None) -> Flag:
        """A yes or no."""
        flag = self.model.new_bool_var("")
        if hint is not None:
            self._hint(flag, int(hint))
        return flag

    def _hint(self, var: cp_model.IntVar, value: int) -> None:
        self.model.add_hint(var, value)
        self._known[var.index] = value

    def _known_sum(self, terms: Sequence[tuple[Flag, int]]) -> int | None:
        if any(flag.index not in self._known for flag, _ in terms):
            return None
        return sum(self._known[flag.index] * amount for flag, amount in terms)

    def no(self, flag: Flag) -> Flag:
        """The opposite of a flag, as a condition."""
        return cast(Flag, flag.negated())

    def any_of(self, flags: Sequence[Flag]) -> Flag:
        """Set when one of the flags is; at most one is."""
        if len(flags) == 1:
            return flags[0]
        hint = self._known_sum([(flag, 1) for flag in flags])
        joint = self.flag(hint=None if hint is None else hint > 0)
        self.model.add(sum(flags) == joint)
        return joint

    def time(self, low: int, high: int, *, unit: int = 1, rest: int = 0, hint: int | None = None) -> Time:
        """A time from low to high on the grid unit x n + rest."""
        first, last = -((rest - low) // unit), (high - rest) // unit
        var = self.model.new_int_var(first, max(first, last), "")
        if last < first:
            self.model.add_bool_or([])
        if hint is not None:
            hint = min(max(round((hint - rest) / unit), first), last) * unit + rest
            self._hint(var, (hint - rest) // unit)
        return Time(var, unit, rest, first * unit + rest, last * unit + rest, hint)

    def chosen(self, terms: Sequence[tuple[Flag, int]]) -> Time:
        """The sum of the amounts whose flags are set; at most one is."""
        total = self.time(0, max(amount for _, amount in terms), hint=self._known_sum(terms))
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

    def lag(self, first: Time, second: Time, lengths: Sequence[tuple[Flag, int, int]], *, certain: bool) -> None:
        """second - first lies between the shortest and the longest of the one flag that is set.

        `certain`: one of the flags is set for sure.
        """
        between = second.expr - first.expr
        if not certain:
            for flag, low, high in lengths:
                self.model.add_linear_constraint(between, low, high).only_enforce_if(flag)
            return
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
        if time.index is None and not when:
            return fixed(max(0, time.offset - due))
        hint = None if time.hint is None else max(0, time.hint - due)
        if not all(self.is_hinted(flag) for flag in when):
            hint = 0
        late = self.time(0, max(0, time.high - due), hint=hint)
        self.not_before(late, time.after(-due), when=when)
        return late

    def apart(self, time: Time, wanted: int, *, when: Sequence[Flag] = ()) -> Time:
        """At least the minutes between a time and what was wanted, while all the flags are set."""
        hint = None if time.hint is None else abs(time.hint - wanted)
        apart = self.time(0, max(0, time.high - wanted, wanted - time.low), hint=hint)
        self.model.add(apart.expr >= time.expr - wanted).only_enforce_if(*when)
        self.model.add(apart.expr >= wanted - time.expr).only_enforce_if(*when)
        return apart

    def implies(self, flag: Flag, other: Flag) -> None:
        """With the flag, the other is set."""
        self.model.add_implication(flag, other)

    def is_hinted(self, flag: Flag) -> bool:
        """Whether the known solution sets the flag."""
        return self._known.get(flag.index) == 1

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
        return self.chosen([(flag, amount) for flag, (_, amount) in zip(flags, reached, strict=True)])

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

        The solver works in a thread of its own. `found` hears of better solutions (of one worker's every one, of
        several the latest) and `cancelled` is asked in the thread of the caller. One worker is limited by work done
        and not by the clock, at the pace of a slow machine.
        """
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = workers
        solver.parameters.random_seed = seed
        solver.parameters.max_time_in_seconds = max(seconds, 0.0)
        solver.parameters.linearization_level = 0  # with linear relaxations everything got slower and no bound better
        solver.parameters.cp_model_probing_level = 0  # takes seconds on large models and finds next to nothing
        if workers > 1:
            solver.parameters.subsolvers.extend(FULL_SEARCHES[: workers // 2])
        else:
            solver.parameters.max_deterministic_time = max(seconds, 0.0) * WORK_PER_S
        news = _News(every=workers == 1)
        ended = threading.Event()
        search = threading.Thread(target=_search, args=(solver, self.model, news, ended), daemon=True)
        search.start()
        while not ended.wait(POLL_S):
            news.tell(found)
            if cancelled is not None and cancelled():
                solver.stop_search()
        search.join()
        news.tell(found)
        return _answer(solver)


class _News(cp_model.CpSolverSolutionCallback):
    """Keeps solutions until somebody hears of them: every one, or the latest."""

    def __init__(self, *, every: bool) -> None:
        super().__init__()
        self._kept: deque[Sequence[int]] = deque(maxlen=None if every else 1)

    def on_solution_callback(self) -> None:
        self._kept.append(list(self.Response().solution))  # type: ignore[no-untyped-call]

    def tell(self, found: Callable[[Values], None] | None) -> None:
        while found is not None and self._kept:
            found(_reader(self._kept.popleft()))


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
        return Answer(status=status, objective=0, bound=bound, values=None, work=response.deterministic_time)
    objective = round(solver.objective_value)
    return Answer(
        status=status,
        objective=objective,
        bound=objective if status == OPTIMAL else min(bound, objective),
        values=_reader(list(response.solution)),
        work=response.deterministic_time,
    )


def _weighted(terms: Sequence[tuple[Time | Flag, int]]) -> Expr:
    total: Expr = 0
    return sum(((what.expr if isinstance(what, Time) else what) * weight for what, weight in terms), total)
