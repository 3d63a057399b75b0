"""Runs sized and placed one after another: each order line in turn gets a run that also serves what it can with it.

A first pass goes by dispatch. Further passes take some runs down, late ones and their neighbours most often, and serve
what they served again in another order; a worse week is kept for a while, the best one is remembered.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterable, Iterator

from production.domain.plan.board import Board, Shot, Standing
from production.domain.plan.filling import Filled, PotKind, filled_for

Worth = tuple[float, float, int, float, float]

SKIPPED_KIND, SKIPPED_SECOND, LESS_FULL = 0.15, 0.1, 0.2  # chances when a choice is shaken (own choice, as all below)
BIGGEST, FREE_IN_TIME, FREE = WAYS = ("biggest in time", "free first in time", "free first")
CHANCES = (0.7, 0.2, 0.1)  # of the ways to choose a pot
FILLS = (0.8, 0.6, 0.3)  # share of a pot's range that is filled when it is not filled to the full
MOST_TAKEN_DOWN = 6
NOISE_H = 10.0  # spread of the noise on a dispatch
COSTS = (20_000.0, 200.0, 100.0, 0.2, 8.0)  # of the levels of worth, only to walk by
LATE_H_COST, RUN_COST = COSTS[1:3]
HOT, WARM, COLD = 40.0, 20.0, 1.0  # cost by which a week may get worse, from the first passes to the last
_FAR_MIN = 100_000.0
_FIRST_ROUND = 3  # what is nearest to a run is chosen among so many times as many as are taken down


def serve_in_turn(
    board: Board,
    order: Iterable[int] | None = None,
    shake: random.Random | None = None,
    most_cost: float = math.inf,
    *,
    way: str = BIGGEST,
    stop: Callable[[], bool] = lambda: False,
) -> None:
    """Put up runs until every order line is served, or nothing more can serve it.

    Equation: needs by dispatch, or in the order given; for each, of the pots whose least fill is wanted, the biggest
        in which it is on time, or of these the one that is free first, or the one that is free first of all; drawn
        twice while reductions are wanted; else where it is least late. A shaken choice takes any of these ways, leaves
        out some of the kinds of pots, some second draws, and fills some pots less. It ends where what stands costs more
        than it may, or when asked to stop.
    Units: board (record), order (numbers of needs), shake (seeded), most_cost (cost), way (word), stop (asks).
    Valid: any board.
    Errors: UnknownParameter.
    Source: own definition (list scheduling by earliest due date is a standard method).
    """
    lost = 0.0
    for n in board.open_needs() if order is None else order:
        while board.left[n]:
            most_late_h = math.inf
            if most_cost < math.inf:
                most_late_h = (most_cost - RUN_COST - _cost((lost, *board.worth()[1:]))) / LATE_H_COST
                if most_late_h < 0.0:
                    return
            if stop():
                return
            best = _best_run(board, n, shake, way, most_late_h)
            if best is None:
                lost += board.unserved_of(n)
                break
            board.put_up(best)


def begin_in_turn(
    board: Board, better: Callable[[], None] = lambda: None, stop: Callable[[], bool] = lambda: False
) -> Shot:
    """A first week on an empty board, and the one to go on from.

    Equation: serve_in_turn by the biggest pot in time, by the pot that is free first of all, and by the biggest with
        the reductions last. The week that is worth most stays; the one that costs least, runs against hours late, is
        better to go on from. The first is always made to its end.
    Units: board (record), better (called at the first week and at each better one), stop (asks); returns a record.
    Valid: an empty board.
    Errors: UnknownParameter.
    Source: own definition.
    """
    by_dispatch = board.open_needs()
    reductions_last = sorted(by_dispatch, key=lambda n: _is_open_reduction(board, n))
    serve_in_turn(board)
    better()
    found = [(board.worth(), board.shot())]
    for order, way in ((by_dispatch, FREE), (reductions_last, BIGGEST)):
        board.take_down(list(board.standing))
        serve_in_turn(board, order, way=way, stop=stop)
        found.append((board.worth(), board.shot()))
        if found[-1] == min(found, key=_worth_of):
            better()
    board.back_to(min(found, key=_worth_of)[1])
    return min(found, key=lambda each: _cost(each[0]))[1]


def _worth_of(found: tuple[Worth, Shot]) -> Worth:
    return found[0]


def _best_run(board: Board, n: int, shake: random.Random | None, way: str, most_late_h: float) -> Standing | None:
    """The run for a need in the biggest pot or the one that is free first, if it is on time; else the least late."""
    if shake is not None:
        (way,) = shake.choices(WAYS, CHANCES)
    late: list[Standing] = []
    for fillings in _fillings(board, n, shake):
        in_time: list[Standing] = []
        for kind, filled in fillings:
            tried = board.tried(filled, kind, most_late_h)
            if tried is None:
                continue
            (in_time if tried.late_h <= 0.0 or way == FREE else late).append(tried)
            if in_time and way == BIGGEST:
                break
        if in_time:
            return min(in_time, key=lambda each: each.run.start_min)
    return min(late, key=lambda each: (round(each.late_h, 9), each.run.start_min), default=None)


def _fillings(board: Board, n: int, shake: random.Random | None) -> Iterator[Iterable[tuple[PotKind, Filled]]]:
    """Runs in each kind of pot: drawn twice before once, and those that give all of a reduction before the others."""
    for second in _draws(board, n, shake):
        found = _in_kinds(board, n, second=second, shake=shake)
        if board.frame.products[board.needs[n].product].kind == "broth":
            yield found
        else:
            every = list(found)
            yield [each for each in every if each[1].taken.get(n) == board.left[n]]
            yield [each for each in every if each[1].taken.get(n) != board.left[n]]


def _in_kinds(board: Board, n: int, *, second: bool, shake: random.Random | None) -> Iterator[tuple[PotKind, Filled]]:
    for kind in _suiting(board, n, second=second, shake=shake):
        filled = filled_for(board.frame, board.needs, board.left, kind, n, second=second, fill_share=_fill_share(shake))
        if filled is not None:
            yield kind, filled


def _draws(board: Board, n: int, shake: random.Random | None) -> list[bool]:
    """Whether to draw twice: tried first while a reduction of the formula is wanted."""
    product = board.frame.products[board.needs[n].product]
    if product.kind != "broth":
        return [True]
    if not any(_is_open_reduction(board, m) for m in board.needs_of[product.formula]):
        return [False]
    if shake is not None and shake.random() < SKIPPED_SECOND:
        return [False]
    return [True, False]


def _is_open_reduction(board: Board, m: int) -> bool:
    need = board.needs[m]
    return bool(board.left[m]) and not need.is_wish and board.frame.products[need.product].kind != "broth"


def _suiting(board: Board, n: int, *, second: bool, shake: random.Random | None) -> list[PotKind]:
    """Kinds of pots whose least fill is wanted, biggest first; the one with the smallest least fill where none is."""
    frame, needs = board.frame, board.needs
    formula = frame.products[needs[n].product].formula
    kinds = list(board.kinds[formula])
    if shake is not None:
        kinds = [kind for kind in kinds if shake.random() >= SKIPPED_KIND] or kinds
    wanted_l = sum(
        board.left[m] * frame.products[needs[m].product].net_l
        for m in board.needs_of[formula]
        if board.left[m] and frame.products[needs[m].product].kind == "broth"
    )
    suiting = [kind for kind in kinds if kind.smallest_l <= wanted_l]
    return suiting or sorted(kinds, key=lambda kind: kind.smallest_l)[: len(kinds) if second else 1]


def _fill_share(shake: random.Random | None) -> float:
    return 1.0 if shake is None or shake.random() >= LESS_FULL else shake.choice(FILLS)


def improve_in_turn(
    board: Board,
    shake: random.Random,
    share_done: Callable[[], float],
    better: Callable[[], None],
    *,
    hot: float,
    cold: float,
) -> None:
    """Take runs down and serve again what they served, as long as there is time; leaves the best week on the board.

    Equation: simulated annealing over ruin and recreate: 1 to 6 runs near a chosen one (in time, pot or formula) are
        taken down; the needs that are open then are served in an order of chance. A week that costs more is kept with
        probability exp(-difference / temperature), which falls from hot to cold with the share of time that has passed.
        The best is told by the levels of worth, one after another.
    Units: board (record), shake (seeded), share_done [0..1], better (called at each better week), hot and
        cold (costs).
    Valid: any board.
    Errors: UnknownParameter.
    Source: own definition; ruin and recreate (Schrimpf et al. 2000) and simulated annealing, from memory.
    """
    best, best_worth = board.shot(), board.worth()
    here_cost = _cost(best_worth)
    while board.standing and (share := share_done()) < 1.0:
        before = board.shot()
        most_cost = here_cost - hot * (cold / hot) ** share * math.log(1.0 - shake.random())
        board.take_down(_taken_down(board, shake))
        serve_in_turn(board, _order(board, shake), shake, most_cost)
        worth = board.worth()
        cost = _cost(worth)
        if worth < best_worth:
            best, best_worth = board.shot(), worth
            better()
        if cost <= most_cost:
            here_cost = cost
        else:
            board.back_to(before)
    board.back_to(best)


def _cost(worth: Worth) -> float:
    return sum(value * cost for value, cost in zip(worth, COSTS, strict=True))


def _taken_down(board: Board, shake: random.Random) -> list[str]:
    """A run and some of those nearest to it: in time, of its formula, or in its pot."""
    codes = list(board.standing)
    first = _chosen(board, codes, shake)
    count = shake.randint(0, MOST_TAKEN_DOWN - 1)
    distance = shake.choice((_in_time, _of_formula, _in_pot))
    own = board.standing[first]
    near = sorted((code for code in codes if code != first), key=lambda code: distance(own, board.standing[code]))
    among = near[: _FIRST_ROUND * count]
    return [first, *shake.sample(among, min(count, len(among)))]


def _in_time(one: Standing, other: Standing) -> float:
    return float(abs(one.run.start_min - other.run.start_min))


def _of_formula(one: Standing, other: Standing) -> float:
    return _in_time(one, other) + (0.0 if one.batch.formula == other.batch.formula else _FAR_MIN)


def _in_pot(one: Standing, other: Standing) -> float:
    return _in_time(one, other) + (0.0 if one.run.pot == other.run.pot else _FAR_MIN)


def _chosen(board: Board, codes: list[str], shake: random.Random) -> str:
    """A late run, one of a formula of which something is unserved, or any."""
    short = {board.frame.products[board.needs[n].product].formula for n in board.open_needs()}
    troubled = [
        code for code in codes if board.standing[code].late_h > 0.0 or board.standing[code].batch.formula in short
    ]
    return shake.choice(troubled if troubled and shake.random() < 0.7 else codes)


def _order(board: Board, shake: random.Random) -> list[int]:
    """Open needs by dispatch, by dispatch with noise, or in any order."""
    wanted = board.open_needs()
    way = shake.random()
    if way < 0.3:
        return wanted
    if way < 0.6:
        shake.shuffle(wanted)
        return wanted
    noisy = {n: board.needs[n].dispatch_at.timestamp() / 3600.0 + shake.gauss(0.0, NOISE_H) for n in wanted}
    return sorted(wanted, key=lambda n: noisy[n])
