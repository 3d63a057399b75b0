"""The graph of a trace: closures, circles, sums."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from production.domain.errors import Conflict, OutOfRange
from production.domain.records.drills import Answered, drill_result, drill_target
from production.domain.records.trace import (
    Balance,
    Edge,
    Graph,
    Kind,
    Node,
    added_up,
    backward,
    forward,
    found_percent,
    thread,
)
from production.domain.records.trace_report import TraceReport
from production.domain.records.trace_scan import scanned_code
from tests.builders import at

EDGES = st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), max_size=25)


def edges_of(pairs: list[tuple[int, int]]) -> list[Edge]:
    return [Edge(source=str(source), target=str(target)) for source, target in pairs]


def graph_of(pairs: list[tuple[int, int]]) -> Graph:
    nodes = {str(n): Node(key=str(n), kind=Kind.LOT, code=str(n), name=str(n)) for n in range(10)}
    return Graph(nodes, tuple(edges_of(pairs)))


def reached_by_squaring(pairs: list[tuple[int, int]], start: int) -> set[str]:
    """The same by Warshall's table."""
    table = [[(a, b) in pairs or a == b for b in range(10)] for a in range(10)]
    for middle in range(10):
        for a in range(10):
            for b in range(10):
                table[a][b] = table[a][b] or (table[a][middle] and table[middle][b])
    return {str(n) for n in range(10) if table[start][n]}


@given(EDGES, st.integers(0, 9))
@settings(max_examples=200)
def test_closures_hold_what_can_be_reached_also_in_circles(pairs: list[tuple[int, int]], start: int) -> None:
    assert forward(edges=edges_of(pairs), starts=[str(start)]) == reached_by_squaring(pairs, start)
    turned = [(target, source) for source, target in pairs]
    assert backward(edges=edges_of(pairs), starts=[str(start)]) == reached_by_squaring(turned, start)


@given(EDGES, st.integers(0, 9), st.integers(0, 9))
@settings(max_examples=200)
def test_one_is_before_the_other_as_the_other_is_after_it(pairs: list[tuple[int, int]], one: int, other: int) -> None:
    edges = edges_of(pairs)
    assert (str(other) in forward(edges=edges, starts=[str(one)])) == (
        str(one) in backward(edges=edges, starts=[str(other)])
    )


def test_a_thread_leaves_out_sisters() -> None:
    found = thread(graph=graph_of([(0, 1), (1, 2), (1, 3), (4, 2)]), starts=["2"])
    assert set(found.nodes) == {"0", "1", "2", "4"}
    assert {(each.source, each.target) for each in found.edges} == {("0", "1"), ("1", "2"), ("4", "2")}


def test_a_thread_through_food_that_was_worked_in_again_ends() -> None:
    found = thread(graph=graph_of([(0, 1), (1, 2), (2, 1), (2, 3)]), starts=["1"])
    assert set(found.nodes) == {"0", "1", "2", "3"}


def test_a_start_that_nobody_knows_gives_an_empty_thread() -> None:
    assert not thread(graph=graph_of([(0, 1)]), starts=["99"]).nodes


def balance(made: int, shipped: int, discarded: int, stock: int) -> Balance:
    return Balance(
        key="lot/1",
        unit="containers",
        made=Decimal(made),
        shipped=Decimal(shipped),
        discarded=Decimal(discarded),
        stock=Decimal(stock),
    )


@given(st.lists(st.tuples(*[st.integers(0, 50)] * 4), min_size=1, max_size=6))
def test_what_is_found_never_passes_everything_and_a_surplus_covers_no_shortage(
    rows: list[tuple[int, int, int, int]],
) -> None:
    balances = [balance(*row) for row in rows]
    percent = found_percent(balances=balances)
    assert 0 <= percent <= 100
    if any(each.unexplained > 0 for each in balances):
        assert percent < 100


def test_sums_are_told_column_by_column() -> None:
    both = added_up(balances=[balance(10, 6, 1, 3), balance(8, 4, 0, 2)], key="all")
    assert [both.made, both.shipped, both.discarded, both.stock, both.unexplained] == [18, 10, 1, 5, 2]


@pytest.mark.parametrize(
    ("text", "code"),
    [
        (" 270202001x ", "270202001X"),
        ("(01)07612345678900(10)2702020013(17)270207", "2702020013"),
        ("]d20107612345678900102702 02", "2702 02"),
        ("]d20107612345678900102702020013\x1d17270207", "2702020013"),
        ("010761234567890010270202001317270207", "2702020013"),  # the separator was lost on the way
        ("R01", "R01"),
        ("10 L tub", "10 L TUB"),
        ("", ""),
    ],
)
def test_codes_are_read_as_scanners_send_them(text: str, code: str) -> None:
    assert scanned_code(text=text) == code


# --- drills -----------------------------------------------------------------------------------------------------------


def a_report() -> TraceReport:
    node = Node(key="lot/1", kind=Kind.LOT, code="1", name="Broth")
    return TraceReport(
        kitchen="Small",
        time_zone="UTC",
        units="metric",
        made_at=at("2027-02-04 10:00"),
        start=node,
        since=None,
        until=None,
        graph=Graph({"lot/1": node}, ()),
        came=(),
        cooked=(),
        packed=(),
        sent=(),
        possible=(),
    )


def test_a_drill_asks_for_something_nobody_could_foresee_and_always_the_same_for_one_seed() -> None:
    keys = [f"lot/{n}" for n in range(50)]
    assert drill_target(keys=keys, seed="a") == drill_target(keys=keys, seed="a")
    assert len({drill_target(keys=keys, seed=str(n)) for n in range(200)}) > 40
    with pytest.raises(Conflict):
        drill_target(keys=[], seed="a")


def test_nobody_reaches_more_outlets_than_there_are() -> None:
    with pytest.raises(OutOfRange):
        drill_result(
            report=a_report(),
            answered=Answered(outlets_reached=1, containers_located=0),
            begun_at=at("2027-02-04 10:00"),
            done_at=at("2027-02-04 10:12"),
        )


def test_a_drill_takes_as_long_as_it_takes() -> None:
    result = drill_result(
        report=a_report(),
        answered=Answered(outlets_reached=0, containers_located=0),
        begun_at=at("2027-02-04 10:00"),
        done_at=at("2027-02-04 10:12"),
    )
    assert (result.seconds, result.reached_percent) == (720, Decimal(100))
