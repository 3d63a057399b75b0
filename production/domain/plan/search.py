"""A better plan within a time: runs are sized and placed anew again and again; what is best by the levels is kept."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import replace
from functools import partial
from threading import Lock
from typing import TYPE_CHECKING, Protocol

from production.domain.batches import Floor, Sized, floor_of, least_lateness_h
from production.domain.demand import Demand
from production.domain.plan.content import Preview, PreviewRun
from production.domain.plan.draft import Draft, careful, drafted
from production.domain.plan.effort import Effort
from production.domain.plan.frame import Frame
from production.domain.plan.in_turn import HOT, WARM, begin_in_turn, improve_in_turn
from production.domain.plan.jobs import Held
from production.domain.plan.layout import lay_out
from production.domain.plan.placed import draft_from, onto_board
from production.domain.plan.pouring import poured_together
from production.domain.plan.quickest import quickest_of
from production.domain.plan.worth import improves, worth_of
from production.domain.schedule.greedy import greedy_schedule
from production.domain.schedule.levels import LEVELS, schedule_key
from production.domain.schedule.problem import Problem
from production.domain.schedule.result import Level, Schedule
from production.domain.schedule.solve import solve_schedule

if TYPE_CHECKING:
    from production.domain.plan.board import Board


class Sizer(Protocol):
    """Runs for the week's needs, searched for in some seconds."""

    def __call__(self, *, seconds: float, pools: bool) -> Sized: ...


SIZING_SHARE, SIZING_S = 0.15, 10.0  # of the time that is left, and at most (own choice, like the shares below)
SIZING_FROM_S = 3.0  # with less time no runs are sized by search
FLOOR_SHARE = 0.05  # of the time that is left, for what no runs cost less than
# Of the time that is left after the first week, for making runs anew; the rest is for better times of the same runs,
# which the solver finds the quicker the fewer runs there are (measured).
IMPROVE_SHARES = ((30, 0.45), (100, 0.85), (1000, 0.93))  # up to so many runs
POUR_SHARE, POURS_PER_S = 0.3, 2.0  # then, for pouring reductions together: of what is left, and tries at most
MOST_BOARDS = 4  # weeks that are improved beside each other
LEAST_S = 0.2  # less time than this is not worth a search (own choice)
ROUNDS_SHARE = 0.85  # of the time for a solver; the rest for runs that turn out to wait for goods (own choice)
WEEK_TIMES, DRAFT_TIMES = 0.7, 2.5  # reasons and papers take so many times a first week, or a first draft (measured)
PAPERS_SHARE = 0.3  # of the time, at most
TRIES_PER_S = 2_500.0  # of places for a run: one worker counts them instead of seconds, so that a plan can be repeated
TELL_S = 1.0
FIRST, DOING, ANEW = "first plan", "the best plan so far", "runs made anew"
HAIR_H = 1e-6


def searched(
    frame: Frame, demand: Demand, simple: Sized, sizer: Sizer, limits_l: Mapping[str, float], effort: Effort
) -> Draft:
    """The best draft that is found in the time, never worth less than the simple runs by one careful pass.

    Equation: runs sized and placed in turn are the first week. It is improved in turn on a board for each worker;
        beside it come the simple runs, and those of the sizing's search, with which the last board goes on where they
        are worth more. What is best has reductions poured together, and gets the rest of the time for better times.
    Units: frame, demand, simple (records), sizer (makes runs), limits_l [L] that can be cooled at once by formula,
        effort (record); returns a record.
    Valid: simple runs of the frame's week.
    Errors: PotwrightError as plan_batches.
    Source: own definition.
    """
    from production.domain.plan.board import Board
    from production.domain.plan.kitchen_tables import KitchenTables

    search = _Search(frame, demand, effort)
    tables = KitchenTables(frame, demand, limits_l)
    boards = [Board(tables, effort.seed + n) for n in range(min(max(effort.workers, 1), MOST_BOARDS))]
    before_s = effort.passed_s
    begin_in_turn(boards[0], lambda: search.tell_of_board(boards[0], FIRST), lambda: effort.is_stopped)
    search.begin(WEEK_TIMES * (effort.passed_s - before_s))
    floor = search.improve(boards, partial(search.chores, boards[-1], simple, sizer, limits_l), simple)
    search.finish()
    return search.found() if floor is None else search.reckoned(floor)


def improved(draft: Draft, effort: Effort) -> Draft:
    """A draft with better times, if any are found in the time.

    Equation: solve_schedule from the times of the draft.
    Units: draft, effort (records); returns a record.
    Valid: drafts that have passed the checker.
    Errors: PotwrightError as plan_batches.
    Source: own definition.
    """
    search = _Search(draft.frame, draft.demand, effort)
    search.consider(draft, FIRST)
    search.begin(DRAFT_TIMES * effort.passed_s)
    search.finish()
    return search.found()


class _Search:
    """The best draft so far, and who hears of it."""

    def __init__(self, frame: Frame, demand: Demand, effort: Effort) -> None:
        self.frame, self.demand, self.effort = frame, demand, effort
        self.best: Draft | None = None
        self.told: tuple[int, float] | None = None  # runs without a time and lateness of the last preview
        self.told_s = 0.0
        self.telling = Lock()
        self.papers_s = 0.0
        self.unavoidable_h = 0.0  # late in any plan that serves all orders

    def found(self) -> Draft:
        """The best draft; there is one as soon as any was considered."""
        if self.best is None:
            raise AssertionError("nothing was considered")
        return self.best

    def begin(self, papers_s: float) -> None:
        """Know how long the papers will take."""
        self.papers_s = min(papers_s, PAPERS_SHARE * self.effort.seconds)

    @property
    def left_s(self) -> float:
        """Seconds that the search may still take."""
        return max(0.0, self.effort.seconds - self.papers_s - self.effort.passed_s)

    def is_worth_a_search(self) -> bool:
        """Whether there is time, and nobody has asked to stop."""
        return self.left_s > LEAST_S and not self.effort.is_stopped

    def is_short(self) -> bool:
        """Whether the best plan leaves an order late or unserved."""
        unserved, late_h, *_ = worth_of(self.found())
        return unserved > 0.0 or late_h > 0.0

    def consider(self, draft: Draft | None, doing: str) -> None:
        """Keep a draft where it is the first or worth no less than the best: a later one knows its bounds."""
        if draft is not None and (self.best is None or not improves(self.best, draft)):
            self.best = draft
            self.tell_of(draft, draft.laid.schedule, doing)

    def floor(self, limits_l: Mapping[str, float]) -> Floor | None:
        """What no runs cost less than, with time for it."""
        if self.left_s < SIZING_FROM_S or not self.is_worth_a_search():
            return None
        return floor_of(
            week=self.frame.week,
            demand=self.demand,
            parameters=self.frame.parameters,
            coolable_l=limits_l,
            seconds=FLOOR_SHARE * self.left_s,
            seed=self.effort.seed,
            quickest=quickest_of(self.frame),
            cancelled=self.effort.cancelled,
        )

    def reckoned(self, floor: Floor) -> Draft:
        """The best draft with the cost of its runs and how little any could cost."""
        draft = self.found()
        unserved, late_h, *_ = worth_of(draft)
        made = [(batch, run.pot) for batch, run in draft.laid.kept]
        sizing = floor.sizing(draft.sized.sizing, made, late_h=late_h, unserved=unserved, seconds=self.effort.passed_s)
        return replace(draft, sized=replace(draft.sized, sizing=sizing))

    def by_sizing(self, sizer: Sizer) -> None:
        """Runs by a search of their own, placed by a careful pass; none without time."""
        if self.left_s < SIZING_FROM_S or not self.is_worth_a_search():
            return
        seconds = min(SIZING_S, SIZING_SHARE * self.left_s)
        sized = sizer(seconds=seconds, pools=False)
        draft = drafted(self.frame, self.demand, sized, held=Held(), scheduler=careful(self.effort))
        self.consider(draft, "runs by sizing")

    # Runs in turn

    def chores(self, board: Board, simple: Sized, sizer: Sizer, limits_l: Mapping[str, float]) -> Floor | None:
        """Runs by rule and by sizing, with which the board goes on where they are worth more; and the floor."""
        if not self.effort.is_stopped:
            self.by_rule(simple)
        self.by_sizing(sizer)
        if self.best is not None and worth_of(self.best)[:2] < board.worth()[:2]:
            onto_board(board, self.best)
        self.unavoidable_h = self.least_late_h(board, limits_l)
        return self.floor(limits_l)

    def least_late_h(self, board: Board, limits_l: Mapping[str, float]) -> float:
        """Lateness that no plan of the week avoids, where the first one is late and there is time to look."""
        if board.worth()[1] <= 0.0 or self.left_s < SIZING_FROM_S or not self.is_worth_a_search():
            return 0.0
        return least_lateness_h(
            week=self.frame.week,
            demand=self.demand,
            parameters=self.frame.parameters,
            coolable_l=limits_l,
            seconds=FLOOR_SHARE * self.left_s,
            quickest=quickest_of(self.frame),
            cancelled=self.effort.cancelled,
        )

    def by_rule(self, simple: Sized) -> None:
        """The simple runs by one careful pass."""
        self.consider(
            drafted(self.frame, self.demand, simple, held=Held(), scheduler=careful(self.effort)), "runs by rule"
        )

    def improve(self, boards: Sequence[Board], chores: Callable[[], Floor | None], simple: Sized) -> Floor | None:
        """Take runs down and make them anew on every board; the last one has other work before. The best is considered.

        With one worker the one is done after the other, so that a plan can be repeated.
        """
        share = next((share for most, share in IMPROVE_SHARES if boards[0].runs <= most), IMPROVE_SHARES[-1][1])
        until_s = time.monotonic() + share * self.left_s
        for board in boards[1:]:
            board.copy(boards[0])
        if len(boards) == 1:
            floor = chores()
            self._improve(boards[0], until_s, WARM)
        else:
            with ThreadPoolExecutor(max_workers=len(boards)) as beside:
                done = beside.submit(chores)
                others = [beside.submit(self._improve, board, until_s, HOT) for board in boards[1:-1]]
                others.append(beside.submit(self._improve_after, done, boards[-1], until_s))
                self._improve(boards[0], until_s, HOT)
                floor = done.result()
                for other in others:
                    other.result()
        best = min(boards, key=lambda board: board.best_worth)
        best.back_to_best()
        self.consider(draft_from(best, self.demand, simple), ANEW)
        if self.best is None:
            self.by_rule(simple)
        self.pour()
        return floor

    def pour(self) -> None:
        """Second draws of the best into one pan, since boards pour none together; what is late has the time first."""
        if self.is_short():
            return
        until_s = time.monotonic() + POUR_SHARE * self.left_s
        tries = iter(range(int(POURS_PER_S * self.effort.seconds)))
        began_s, longest_s = time.monotonic(), 0.0

        def goes_on() -> bool:
            nonlocal began_s, longest_s
            now_s = time.monotonic()
            began_s, longest_s = now_s, max(longest_s, now_s - began_s)
            return self.is_worth_a_search() and now_s + longest_s < until_s and next(tries, None) is not None

        self.consider(poured_together(self.found(), goes_on), "reductions together")

    def _improve_after(self, chores: Future[Floor | None], board: Board, until_s: float) -> None:
        wait([chores])
        self._improve(board, until_s, WARM)

    def _improve(self, board: Board, until_s: float, hot: float) -> None:
        if self.is_worth_a_search():
            improve_in_turn(board, self._share_done(board, until_s), lambda: self.tell_of_board(board, ANEW), hot=hot)

    def _share_done(self, board: Board, until_s: float) -> Callable[[], float]:
        began_s, tries = time.monotonic(), board.tries
        seconds = max(until_s - began_s, 1e-3)

        def share() -> float:
            if self.effort.is_stopped:
                return 1.0
            by_clock = (time.monotonic() - began_s) / seconds
            if self.effort.workers > 1 or by_clock >= 1.0:
                return by_clock
            return (board.tries - tries) / (TRIES_PER_S * seconds)

        return share

    # Times by search

    def finish(self) -> None:
        """Better times for the best draft in the time that is left, as long as there is something to gain."""
        if self.is_worth_a_search() and (self.is_short() or not self.found().laid.schedule.levels):
            self._solve_best(time.monotonic() + self.left_s)
        best = self.found()
        if self.effort.seconds > 0.0 and not best.laid.schedule.levels:  # nothing is less than nothing, at any rate
            bare = solve_schedule(best.laid.problem, best.laid.schedule, seconds=0.0, workers=1, levels=())
            self.best = _with_bounds(best, bare.levels)
        if worth_of(self.found())[0] <= 0.0:
            self.best = _with_late_bound(self.found(), self.unavoidable_h)

    def _solve_best(self, until_s: float) -> None:
        best = self.found()
        solved = self.solved(best, until_s)
        self.consider(solved, DOING)
        if self.best is best and solved.laid.problem == best.laid.problem:
            self.best = _with_bounds(best, solved.laid.schedule.levels)
            self.tell_of(self.best, self.best.laid.schedule, DOING)

    def solved(self, draft: Draft, until_s: float) -> Draft:
        """A draft with times by search, from its own times on."""

        def schedule(problem: Problem) -> Schedule:
            is_known = problem == draft.laid.problem
            start = draft.laid.schedule if is_known else self.careful(problem)
            seconds = ROUNDS_SHARE * (until_s - time.monotonic())
            return self.by_search(problem, start, seconds, lambda found: self.tell_of(draft, found, DOING))

        return replace(draft, laid=lay_out(draft.frame, draft.demand, draft.laid.jobs, draft.held, schedule))

    def careful(self, problem: Problem) -> Schedule:
        """A careful pass over a problem."""
        return greedy_schedule(problem, seed=self.effort.seed, explain=False, cancelled=self.effort.cancelled)

    def by_search(
        self,
        problem: Problem,
        start: Schedule,
        seconds: float,
        better: Callable[[Schedule], None],
    ) -> Schedule:
        """Better times for a problem, where there is time to look for them."""
        effort = self.effort
        if seconds < LEAST_S or effort.is_stopped:
            return start
        return solve_schedule(
            problem,
            start,
            seconds=seconds,
            workers=effort.workers,
            seed=effort.seed,
            better=better,
            cancelled=effort.cancelled,
        )

    # Who hears of it

    def tell_of(self, draft: Draft, schedule: Schedule, doing: str) -> None:
        """Show a schedule of a draft."""
        bound_h = next((level.bound for level in schedule.levels if level.name == "lateness"), None)
        shown = (len(schedule.unplaced) + len(draft.laid.jobs.refused), schedule.lateness_h)
        formulas = {batch.code: batch.formula for batch in draft.laid.jobs.batches.values()}
        late = {each.job for each in schedule.late}

        def runs() -> Iterator[PreviewRun]:
            for run in schedule.runs:
                yield PreviewRun(
                    code=run.job,
                    formula=formulas[run.job],
                    pot=run.pot,
                    pan=run.pan,
                    start_min=run.start_min,
                    end_min=run.stages[-1].end_min,
                    is_late=run.job in late,
                )

        self._tell(shown, runs, doing, bound_h)

    def tell_of_board(self, board: Board, doing: str) -> bool:
        """Show what was best on a board, now and then; whether now."""
        if time.monotonic() - self.told_s < TELL_S:
            return False

        def runs() -> Iterator[PreviewRun]:
            for n, each in enumerate(board.best, 1):
                yield PreviewRun(
                    code=f"T{n}",
                    formula=each.batch.formula,
                    pot=each.run.pot,
                    pan=each.run.pan,
                    start_min=each.run.start_min,
                    end_min=each.run.stages[-1].end_min,
                    is_late=each.late_h > 0.0,
                )

        unserved, late_h, *_ = board.best_worth
        self._tell((board.best_open if unserved > 0.0 else 0, late_h), runs, doing, None)
        return True

    def _tell(
        self, shown: tuple[int, float], runs: Callable[[], Iterator[PreviewRun]], doing: str, bound_h: float | None
    ) -> None:
        """Show what leaves out and delays no more than the last that was shown; one thread at a time."""
        with self.telling:
            self._tell_alone(shown, runs, doing, bound_h)

    def _tell_alone(
        self, shown: tuple[int, float], runs: Callable[[], Iterator[PreviewRun]], doing: str, bound_h: float | None
    ) -> None:
        if self.told is not None and (shown[0], shown[1] - HAIR_H) > self.told:
            return
        self.told, self.told_s = shown, time.monotonic()
        without_time, lateness_h = shown
        at_best = "" if bound_h is None else f", at best {bound_h:.1f} h"
        self.effort.tell(f"find pots and times, {doing}: late {lateness_h:.1f} h{at_best}", 2)
        if self.effort.better is not None:
            preview = Preview(
                origin=self.frame.origin,
                runs=tuple(sorted(runs(), key=lambda run: (run.start_min, run.code))),
                without_time=without_time,
                lateness_h=lateness_h,
                bound_h=bound_h,
                seconds=self.effort.passed_s,
                doing=doing,
            )
            self.effort.better(preview)


def _with_bounds(draft: Draft, levels: tuple[Level, ...]) -> Draft:
    """A draft with what was found out about its runs: how good any times of them could be."""
    laid = draft.laid
    values = dict(zip(LEVELS, schedule_key(laid.problem, laid.schedule), strict=True))
    known = tuple(
        replace(
            level,
            value=values[level.name],
            bound=None if level.bound is None else min(level.bound, values[level.name]),
        )
        for level in levels
    )
    return replace(draft, laid=replace(laid, schedule=replace(laid.schedule, levels=known)))


def _with_late_bound(draft: Draft, late_h: float) -> Draft:
    """A draft with what no plan of the week avoids of lateness, if that is more than is known of its runs."""
    levels = tuple(
        replace(level, bound=min(level.value, max(level.bound or 0.0, late_h))) if level.name == "lateness" else level
        for level in draft.laid.schedule.levels
    )
    return replace(draft, laid=replace(draft.laid, schedule=replace(draft.laid.schedule, levels=levels)))
