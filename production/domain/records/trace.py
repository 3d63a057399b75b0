"""Where food came from and where it went: a graph of what was received, cooked, packed and sent, and its sums."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

ALL = Decimal(100)


class Kind(StrEnum):
    """What a knot of the thread is, from left to right."""

    SUPPLIER = "supplier"
    INGREDIENT_LOT = "ingredient_lot"
    BONES = "bones"
    UNNAMED = "unnamed"  # weighed without naming a lot
    RUN = "run"
    COOLING = "cooling"
    LOT = "lot"
    ORDER_LINE = "order_line"
    OUTLET = "outlet"


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """One knot: what it is, what it is called, and what a person wants to know about it."""

    key: str  # kind/code, as in the subjects of entries where there are any
    kind: Kind
    code: str
    name: str
    detail: str = ""
    contact: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """So much of one went into the other; no amount where nobody measures it."""

    source: str
    target: str
    amount: Decimal | None = None
    unit: str = ""  # kg or containers


@dataclass(frozen=True, slots=True)
class Graph:
    """Knots by their keys, and what leads from one to another."""

    nodes: Mapping[str, Node]
    edges: tuple[Edge, ...]

    def of_kind(self, *kinds: Kind) -> tuple[Node, ...]:
        return tuple(node for node in self.nodes.values() if node.kind in kinds)


def forward(*, edges: Iterable[Edge], starts: Collection[str]) -> frozenset[str]:
    """Everything that the starts went into, themselves among it.

    Equation: the smallest set that holds the starts and the target of each edge whose source it holds.
    Units: edges, starts [no quantities]; returns [no quantities].
    Valid: every graph, also with circles (food that is worked in again).
    Errors: none.
    Source: transitive closure.
    """
    return _closure([(edge.source, edge.target) for edge in edges], starts)


def backward(*, edges: Iterable[Edge], starts: Collection[str]) -> frozenset[str]:
    """Everything that went into the starts, themselves among it.

    Equation: the smallest set that holds the starts and the source of each edge whose target it holds.
    Units: edges, starts [no quantities]; returns [no quantities].
    Valid: every graph, also with circles.
    Errors: none.
    Source: transitive closure.
    """
    return _closure([(edge.target, edge.source) for edge in edges], starts)


def _closure(steps: Iterable[tuple[str, str]], starts: Collection[str]) -> frozenset[str]:
    following: dict[str, list[str]] = defaultdict(list)
    for here, there in steps:
        following[here].append(there)
    found = set(starts)
    waiting = list(starts)
    while waiting:
        for there in following[waiting.pop()]:
            if there not in found:
                found.add(there)
                waiting.append(there)
    return frozenset(found)


def thread(*, graph: Graph, starts: Collection[str]) -> Graph:
    """The part of a graph that leads to the starts and away from them; not what only shares something with them.

    Equation: the edges inside the forward closure, and those inside the backward closure.
    Units: graph (record), starts [no quantities]; returns a record.
    Valid: every graph; starts that it does not hold are left out.
    Errors: none.
    Source: one step back and one step forward, repeated: 21 CFR 1.337 and 1.345, Regulation (EC) 178/2002 article 18.
    """
    known = [key for key in starts if key in graph.nodes]
    after, before = forward(edges=graph.edges, starts=known), backward(edges=graph.edges, starts=known)
    kept = after | before
    return Graph(
        {key: node for key, node in graph.nodes.items() if key in kept},
        tuple(
            edge for edge in graph.edges if {edge.source, edge.target} <= after or {edge.source, edge.target} <= before
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """What became of all that there was, in one unit; `unexplained` is what nobody can point at."""

    key: str
    unit: str
    made: Decimal
    shipped: Decimal  # or used; what came back is taken off
    discarded: Decimal
    stock: Decimal

    @property
    def accounted(self) -> Decimal:
        return self.shipped + self.discarded + self.stock

    @property
    def unexplained(self) -> Decimal:
        """Positive: missing. Negative: more than there can be."""
        return self.made - self.accounted


def found_percent(*, balances: Iterable[Balance]) -> Decimal:
    """How much of all that was made can be pointed at: with outlets, in the stores or thrown away.

    Equation: 100 x sum of min(accounted, made) / sum of made; too much in one lot does not make up for another.
    Units: balances (record; one unit for all of them); returns [percent], 100 where nothing was made.
    Valid: balances in one unit.
    Errors: none.
    Source: mass balance of a recall exercise; common practice, no source.
    """
    rows = list(balances)
    made = sum((each.made for each in rows), Decimal(0))
    found = sum((max(Decimal(0), min(each.accounted, each.made)) for each in rows), Decimal(0))
    return ALL * found / made if made else ALL


def added_up(*, balances: Iterable[Balance], key: str) -> Balance:
    """Several balances as one; a shortage and a surplus cancel here, so the single ones are looked at as well.

    Equation: sums of each column.
    Units: balances (record; one unit for all of them), key [no quantities]; returns a record.
    Valid: one or more balances in one unit.
    Errors: none.
    Source: addition.
    """
    rows = list(balances)
    return Balance(
        key=key,
        unit=rows[0].unit,
        made=sum((each.made for each in rows), Decimal(0)),
        shipped=sum((each.shipped for each in rows), Decimal(0)),
        discarded=sum((each.discarded for each in rows), Decimal(0)),
        stock=sum((each.stock for each in rows), Decimal(0)),
    )
