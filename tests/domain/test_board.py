"""The board on which runs are put up and taken down: how they are filled, where they go, and what is wanted again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from production.domain.batches import Batch, Sized, size_batches
from production.domain.demand import Demand, net_demand
from production.domain.kitchen import ParLevel, Week
from production.domain.plan import parameters_of, placed
from production.domain.plan.board import Board, Standing
from production.domain.plan.draft import Draft
from production.domain.plan.frame import frame_of
from production.domain.plan.in_turn import begin_in_turn, improve_in_turn
from production.domain.plan.kitchen_tables import KitchenTables, PotKind
from production.domain.plan.make import coolable_l
from production.domain.plan.placed import draft_from, onto_board
from production.domain.plan.worth import worth_of
from production.domain.schedule.check import check_schedule
from production.domain.schedule.result import Schedule
from tests.builders import a_line, a_product, at, small_kitchen
from tests.kitchens import random_week

GLAZE = a_line(code="G1", product="poultry-glaze", containers=1, dispatch_at=at("2027-02-04 14:00"))


def board_of(week: Week, seed: int = 0) -> Board:
    frame = frame_of(week, parameters_of(week=week))
    return Board(KitchenTables(frame, net_demand(week=week), coolable_l(frame)), seed)


def of_lines(*lines: tuple[str, int, str]) -> Week:
    """The small kitchen with lines of poultry broth: code, containers, dispatch."""
    return small_kitchen(
        order_lines=tuple(
            a_line(code=code, containers=containers, dispatch_at=at(dispatch)) for code, containers, dispatch in lines
        )
    )


def sized(week: Week) -> tuple[Demand, Sized]:
    demand = net_demand(week=week)
    frame = frame_of(week, parameters_of(week=week))
    return demand, size_batches(week=week, demand=demand, parameters=frame.parameters, coolable_l=coolable_l(frame))


def drafted(board: Board, week: Week) -> Draft:
    draft = draft_from(board, *sized(week))
    assert draft is not None
    return draft


def kind_of(board: Board, pot: str, formula: str = "poultry") -> tuple[int, PotKind]:
    return next((n, kind) for n, kind in enumerate(board.kitchen.kinds[formula]) if pot in kind.pots)


def batch_for(board: Board, pot: str, n: int = 0, *, second: bool = False, fill_share: float = 1.0) -> Batch | None:
    filled = board.filled(n, kind_of(board, pot)[0], second=second, fill_share=fill_share)
    return None if filled is None else filled[0]


def put_up(board: Board, pot: str, n: int = 0) -> Standing:
    standing = board.tried(n, kind_of(board, pot)[0])
    assert standing is not None
    board.put_up()
    return standing


def pegged(batch: Batch) -> dict[str, int]:
    return {peg.line: peg.containers for portion in batch.portions for peg in portion.pegs}


def improved(board: Board, rounds: int, better: Callable[[], bool] = lambda: True) -> None:
    asked = iter(range(rounds))
    improve_in_turn(board, lambda: next(asked, rounds) / rounds, better)


# --- filling -------------------------------------------------------------------------------------------------------


def test_a_run_is_filled_with_its_own_line_first_and_then_by_dispatch() -> None:
    board = board_of(
        of_lines(("L1", 2, "2027-02-02 09:00"), ("L2", 9, "2027-02-03 09:00"), ("L3", 9, "2027-02-04 09:00"))
    )
    first, second = batch_for(board, "tall", 0), batch_for(board, "tall", 1)
    assert first is not None
    assert second is not None
    assert pegged(first) == {"L1": 2, "L2": 2}  # the pot takes four tubs
    assert pegged(second) == {"L2": 4}


def test_no_run_is_fuller_than_its_pot_takes_or_emptier_than_it_may_be() -> None:
    board = board_of(of_lines(("L1", 1, "2027-02-03 09:00"), ("L2", 40, "2027-02-03 12:00")))
    _, kind = kind_of(board, "tall")
    for n in range(2):
        for share in (0.0, 0.5, 1.0):
            batch = batch_for(board, "tall", n, fill_share=share)
            assert batch is not None
            assert kind.smallest_l <= batch.first_l <= kind.largest_l


def test_what_a_pot_must_hold_beyond_the_orders_fills_the_par_level_and_then_nobodys_tubs() -> None:
    lonely = of_lines(("L1", 1, "2027-02-05 09:00"))
    without = batch_for(board_of(lonely), "tall")
    stocked = replace(lonely, par_levels=(ParLevel(product="poultry-5", containers=1),))
    with_par = batch_for(board_of(stocked), "tall")
    assert without is not None
    assert with_par is not None
    assert without.first_l == with_par.first_l
    assert without.surplus_l == with_par.surplus_l + 5.0 == 10.0


def test_broth_that_would_be_too_old_for_the_later_line_is_not_made_for_both() -> None:
    week = of_lines(("L1", 2, "2027-02-02 20:00"), ("L2", 2, "2027-02-05 20:00"))
    young = replace(
        week,
        products=tuple(a_product(shelf_life_days=2) if each.code == "poultry-5" else each for each in week.products),
    )
    old, fresh = batch_for(board_of(week), "tall"), batch_for(board_of(young), "tall")
    assert old is not None
    assert fresh is not None
    assert set(pegged(old)) == {"L1", "L2"}
    assert set(pegged(fresh)) == {"L1"}


def test_bones_are_drawn_twice_for_the_reduction_that_waits() -> None:
    week = replace(small_kitchen(), order_lines=(a_line(containers=4), GLAZE))
    once, twice = (batch_for(board_of(week), "tall", second=second) for second in (False, True))
    assert once is not None
    assert twice is not None
    assert not once.reduction
    assert pegged(twice) == {"L1": 4, "G1": 1}


def test_a_run_that_would_give_nothing_to_its_line_is_not_made() -> None:
    week = replace(small_kitchen(), order_lines=(GLAZE,))
    board = board_of(week)
    assert batch_for(board, "tall", second=False) is None
    assert batch_for(board, "tall", second=True) is not None


def test_a_pot_that_gives_only_a_part_of_a_reduction_is_filled_as_full_as_its_tubs_allow() -> None:
    board = board_of(replace(small_kitchen(), order_lines=(replace(GLAZE, containers=9),)))
    batch = batch_for(board, "tall", second=True)
    assert batch is not None
    assert batch.first_l == 20.0  # a fifth tub would be more than the pot takes
    assert 0 < pegged(batch)["G1"] < 9


def test_what_a_line_gets_is_not_cut_where_the_pot_must_hold_more() -> None:
    board = board_of(small_kitchen(order_lines=(a_line(product="fish-2", containers=6),)))
    filled = board.filled(0, kind_of(board, "tall", "fish")[0], second=False)
    assert filled is not None
    batch, taken = filled
    assert taken == {0: 6}
    assert batch.surplus_l == batch.first_l - 12.0 > 4.0  # more than two tubs that nobody waits for


# --- the board -----------------------------------------------------------------------------------------------------


def test_what_is_taken_down_is_wanted_again_and_its_pot_is_free_again() -> None:
    board = board_of(of_lines(("L1", 12, "2027-02-02 09:00")))
    empty = board.worth()
    first = put_up(board, "tall")
    assert board.left[0] == 12 - first.taken[0]
    assert board.worth() < empty
    board.clear()
    assert (board.left, board.worth()) == ({0: 12}, empty)
    assert put_up(board, "tall") == first


def test_two_runs_do_not_stand_in_one_pot_at_once() -> None:
    board = board_of(of_lines(("L1", 30, "2027-02-03 09:00")))
    one, other = put_up(board, "tall"), put_up(board, "tall")
    assert one.run.pot == other.run.pot == "tall"
    assert other.run.start_min >= one.run.pot_free_min or one.run.start_min >= other.run.pot_free_min


def test_a_board_goes_back_to_the_best_that_stood() -> None:
    board = board_of(of_lines(("L1", 30, "2027-02-03 09:00")))
    put_up(board, "tall")
    put_up(board, "tall")
    best, worth, left = board.standing, board.worth(), board.left
    board.clear()
    put_up(board, "tall")
    board.back_to_best()
    assert (board.standing, board.worth(), board.left) == (best, worth, left)
    assert board.best == best
    assert board.best_worth == pytest.approx(worth)


def test_no_place_is_offered_that_is_later_than_it_may_be() -> None:
    board = board_of(of_lines(("L1", 4, "2027-01-30 12:00")))  # two hours after the moment of planning
    kind, _ = kind_of(board, "tall")
    late = board.tried(0, kind)
    assert late is not None
    assert late.late_h > 0.0
    assert board.tried(0, kind, most_late_h=late.late_h) == late
    assert board.tried(0, kind, most_late_h=late.late_h - 0.01) is None


# --- in turn -------------------------------------------------------------------------------------------------------


def test_the_first_week_serves_every_line_and_is_shown_at_once() -> None:
    board, shown = board_of(random_week("tiny", 3)), list[float]()
    begin_in_turn(board, lambda: shown.append(board.best_worth[1]))
    assert board.open_needs() == []
    assert shown[-1] == board.worth()[1]
    assert shown == sorted(shown, reverse=True)


def test_a_stop_leaves_the_first_week_whole() -> None:
    whole, stopped = (board_of(random_week("tiny", 3)) for _ in range(2))
    whole.serve(whole.open_needs())
    begin_in_turn(stopped, stop=lambda: True)
    assert stopped.worth() == whole.worth()


@pytest.mark.parametrize("seed", range(3))
def test_runs_made_anew_never_leave_a_worse_week(seed: int) -> None:
    board, told = board_of(random_week("tiny", 4), seed), list[tuple[float, ...]]()

    def better() -> bool:
        told.append(board.best_worth)
        return True

    begin_in_turn(board)
    before = board.worth()
    improved(board, 12, better)
    assert board.worth() <= before
    assert told == sorted(told, reverse=True)
    assert board.worth() == pytest.approx(told[-1] if told else before)


def test_a_better_week_is_told_again_until_somebody_listens() -> None:
    board, asked = board_of(random_week("small", 5)), list[int]()

    def nobody_listens() -> bool:
        asked.append(board.tries)
        return False

    begin_in_turn(board)
    improved(board, 6, nobody_listens)
    assert len(asked) > 1
    assert asked == sorted(set(asked))
    assert asked[-1] == board.tries  # after the last round, too


def test_runs_made_anew_with_one_seed_are_the_same_runs() -> None:
    weeks = []
    for _ in range(2):
        board = board_of(random_week("tiny", 6), 5)
        begin_in_turn(board)
        improved(board, 6)
        weeks.append((board.standing, board.tries))
    assert weeks[0] == weeks[1]


# --- to a plan and back --------------------------------------------------------------------------------------------


def test_a_draft_has_the_runs_of_the_board_at_their_times() -> None:
    week = random_week("tiny", 2)
    board = board_of(week)
    begin_in_turn(board)
    draft = drafted(board, week)
    assert check_schedule(draft.laid.problem, draft.laid.schedule) == ()
    places = {(run.pot, run.start_min) for run in draft.laid.schedule.runs}
    assert places == {(each.run.pot, each.run.start_min) for each in board.standing}
    assert worth_of(draft)[:2] == pytest.approx(board.worth()[:2])
    assert worth_of(draft)[3:6] == pytest.approx(board.worth()[2:])


def test_quarts_and_gallons_stand_in_the_draft_as_they_stood_on_the_board(monkeypatch: pytest.MonkeyPatch) -> None:
    def repaired(*_: object, **__: object) -> Schedule:
        raise AssertionError("the checker found something else than the board")

    monkeypatch.setattr(placed, "repaired", repaired)
    quart_l = 0.946352946
    sizes = {10.0: 4 * quart_l, 5.0: 2 * quart_l, 2.0: quart_l, 0.5: quart_l / 4, 0.55: quart_l / 4}
    for seed in (0, 1, 3):
        metric = random_week("tiny", seed)
        week = replace(metric, products=tuple(replace(each, net_l=sizes[each.net_l]) for each in metric.products))
        board = board_of(week)
        begin_in_turn(board)
        improved(board, 100)
        assert worth_of(drafted(board, week))[:2] == pytest.approx(board.worth()[:2])


def test_a_line_without_a_run_is_in_a_run_without_a_time() -> None:
    week = of_lines(("L1", 3, "2027-02-03 09:00"), ("L2", 20, "2027-02-05 09:00"))
    board = board_of(week)
    put_up(board, "tall")
    draft = drafted(board, week)
    made = [pegged(batch) for batch in draft.sized.batches]
    assert sum(each.get("L1", 0) for each in made) == 3
    assert sum(each.get("L2", 0) for each in made) == 20
    assert draft.laid.schedule.unplaced


def test_a_draft_stands_on_the_board_as_it_stood_on_the_other() -> None:
    week = random_week("tiny", 5)
    board, other = board_of(week), board_of(week)
    begin_in_turn(board)
    assert onto_board(other, drafted(board, week))
    assert other.worth() == pytest.approx(board.worth())
    assert other.left == board.left
    other.clear()
    assert other.left == {n: need.containers for n, need in enumerate(other.needs)}


def test_runs_that_are_poured_together_do_not_stand_on_a_board() -> None:
    week = random_week("tiny", 5)
    board = board_of(week)
    begin_in_turn(board)
    draft = drafted(board, week)
    (batch, run), *others = draft.laid.kept
    pooled = replace(draft, laid=replace(draft.laid, kept=((replace(batch, guests=("R99",)), run), *others)))
    before = board.standing
    assert not onto_board(board, pooled)
    assert board.standing == before
