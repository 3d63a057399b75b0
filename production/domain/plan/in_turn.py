"""Runs sized and placed one after another: each order line in turn gets a run that also serves what it can with it.

A first pass goes by dispatch. Further passes take some runs down, late ones and their neighbours most often, and serve
what they served again in another order; a worse week is kept for a while, the best one is remembered.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from production.domain.plan.swift.tables import BIGGEST, FREE_FIRST

if TYPE_CHECKING:
    from production.domain.plan.board import Board

HOT, WARM, COLD = 100.0, 25.0, 1.0  # cost by which a week may get worse, from the first passes to the last (measured)


def begin_in_turn(
    board: Board, better: Callable[[], object] = lambda: None, stop: Callable[[], bool] = lambda: False
) -> None:
    """A first week on an empty board.

    Equation: order lines by dispatch, each in the biggest pot in time; the same in the pot that is free first of all;
        and by the biggest with the reductions last. The week that is worth most stays. The first is always made to its
        end.
    Units: board (record), better (called at the first week and at each better one), stop (asks).
    Valid: an empty board.
    Errors: UnknownParameter.
    Source: own definition (list scheduling by earliest due date is a standard method).
    """
    by_dispatch = board.open_needs()
    products = board.kitchen.frame.products
    reductions_last = sorted(by_dispatch, key=lambda n: products[board.needs[n].product].kind != "broth")
    board.serve(by_dispatch, BIGGEST)
    better()
    for order, way in ((by_dispatch, FREE_FIRST), (reductions_last, BIGGEST)):
        board.has_become_better()
        board.clear()
        board.serve(order, way, stop)
        if board.has_become_better():
            better()
    board.back_to_best()


def improve_in_turn(
    board: Board, share_done: Callable[[], float], better: Callable[[], bool], *, hot: float = HOT
) -> None:
    """Take runs down and serve again what they served, as long as there is time; leaves the best week on the board.

    Equation: simulated annealing over ruin and recreate; the heat falls from hot to COLD with the share of time that
        has passed. The best is told by the levels of worth, one after another.
    Units: board (record), share_done [0..1], better (called when the week has become better, until it says
        that it has listened), hot (cost).
    Valid: a board on which the best week stands.
    Errors: UnknownParameter.
    Source: own definition; ruin and recreate (Schrimpf et al. 2000) and simulated annealing, from memory.
    """
    board.has_become_better()
    is_news = False
    while board.runs and (share := share_done()) < 1.0:
        board.improve(hot * (COLD / hot) ** share)
        is_news = board.has_become_better() or is_news
        if is_news and better():
            is_news = False
    board.back_to_best()
