"""The compiled search held against the interpreted one and against the checker: two ways to place the same runs."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from production.domain.batches import size_batches
from production.domain.demand import net_demand
from production.domain.plan import parameters_of
from production.domain.plan.board import Board, Standing
from production.domain.plan.frame import frame_of
from production.domain.plan.in_turn import begin_in_turn
from production.domain.plan.jobs import jobs_of
from production.domain.plan.kitchen_tables import KitchenTables, PotKind
from production.domain.plan.make import coolable_l
from production.domain.plan.placed import draft_from, onto_board
from production.domain.plan.swift.tables import FREE_FIRST, FREE_IN_TIME
from production.domain.plan.worth import worth_of
from production.domain.schedule.book import Book
from production.domain.schedule.check import check_schedule
from production.domain.schedule.placement import Found, best_placement
from production.domain.schedule.problem import RunJob
from tests.kitchens import random_week

WEEKS = [
    *(("tiny", seed) for seed in range(160)),
    *(("small", seed) for seed in range(36)),
    *(("medium", seed) for seed in range(4)),
]
BUSY = [("tiny", 3), ("tiny", 8), ("small", 2), ("small", 5), ("medium", 4)]


@cache
def tables_of(size: str, seed: int) -> KitchenTables:
    week = random_week(size, seed)
    frame = frame_of(week, parameters_of(week=week))
    return KitchenTables(frame, net_demand(week=week), coolable_l(frame))


def improved(size: str, seed: int, rounds: int = 3) -> Board:
    board = Board(tables_of(size, seed), seed)
    begin_in_turn(board)
    for heat in range(rounds, 0, -1):
        board.improve(20.0 * heat)
    board.back_to_best()
    return board


@pytest.mark.parametrize(("size", "seed"), WEEKS)
def test_what_stands_keeps_every_limit_and_is_worth_what_the_board_says(size: str, seed: int) -> None:
    board = improved(size, seed)
    frame = board.kitchen.frame
    simple = size_batches(
        week=frame.week, demand=board.kitchen.demand, parameters=frame.parameters, coolable_l=coolable_l(frame)
    )
    draft = draft_from(board, board.kitchen.demand, simple)
    assert draft is not None
    assert check_schedule(draft.laid.problem, draft.laid.schedule) == ()
    as_it_stands = {(each.run.pot, each.run.start_min, each.run.pot_free_min) for each in board.standing}
    assert {(run.pot, run.start_min, run.pot_free_min) for run in draft.laid.schedule.runs} == as_it_stands
    unserved, late_h, _, runs, kwh, surplus_l, _ = worth_of(draft)
    assert (unserved, late_h, runs) == pytest.approx(board.worth()[:3])
    assert kwh == pytest.approx(board.worth()[3])
    if not unserved:
        assert surplus_l == pytest.approx(board.worth()[4])
    other = Board(board.kitchen)
    assert onto_board(other, draft)
    assert other.worth()[:4] == pytest.approx(board.worth()[:4])


@pytest.mark.parametrize("way", [FREE_IN_TIME, FREE_FIRST])
@pytest.mark.parametrize(("size", "seed"), BUSY)
def test_a_run_finds_the_place_that_the_interpreted_search_finds(size: str, seed: int, way: int) -> None:
    """Beside half of a week, every open line in every kind of pot: as late, and ending at the same minute."""
    board = Board(tables_of(size, seed))
    open_needs = board.open_needs()
    board.serve(open_needs[: len(open_needs) // 2], way)
    book = book_of(board)
    compared = 0
    for n in board.open_needs()[:12]:
        formula = board.kitchen.frame.products[board.needs[n].product].formula
        for number, kind in enumerate(board.kitchen.kinds[formula]):
            for second in (False, True):
                compared += same_place(board, book, n, number, kind, second=second)
    assert compared > 5


def same_place(board: Board, book: Book, n: int, number: int, kind: PotKind, *, second: bool) -> int:
    filled = board.filled(n, number, second=second)
    if filled is None:
        return 0
    (batch, _), quick = filled, board.tried(n, number, second=second)
    made = jobs_of(board.kitchen.frame, [batch], board.kitchen.held).ready.get(batch.code)
    slow = None if made is None else slow_place(book, made.job, kind)
    if quick is None or slow is None:
        assert (quick is None) == (slow is None)
        return 0
    assert quick.late_h == pytest.approx(slow.late_h)
    assert ends_min(quick) == slow.run.stages[-1].end_min
    return 1


def ends_min(standing: Standing) -> int:
    return standing.run.stages[-1].end_min


def slow_place(book: Book, job: RunJob, kind: PotKind) -> Found | None:
    """In the pots of the kind; in a pan only where it is late otherwise."""
    inside = [option for option in job.options if option.pot in kind.pots]
    found: Found | None = None
    for in_pan in (False, True):
        options = tuple(option for option in inside if (option.pan is not None) == in_pan)
        if options and (found is None or found.late_h > 0.0):
            narrowed = replace(job, options=options)
            assert book.welcome(narrowed)
            other = best_placement(book, narrowed)
            if other is not None and (found is None or other.late_h < found.late_h):
                found = other
    return found


def book_of(board: Board) -> Book:
    """What is free beside the runs that stand on a board, for the interpreted search."""
    kitchen = board.kitchen
    book = Book(kitchen.problem, replace(kitchen.book.shape, kinds={}))
    for each in board.standing:
        job = jobs_of(kitchen.frame, [each.batch], kitchen.held).ready[each.batch.code].job
        pan = each.run.pan
        option = next(
            n
            for n, option in enumerate(job.options)
            if option.pot == each.run.pot and (option.pan.code if option.pan else "") == pan
        )
        assert book.welcome(job)
        book.take_run(job, replace(each.run, option=option), 1)
    return book
