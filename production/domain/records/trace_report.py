"""The report of a trace: what was asked, the graph, who has to be called, and what became of every container."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from production.domain.records.trace import Balance, Edge, Graph, Node, added_up, found_percent


@dataclass(frozen=True, slots=True, kw_only=True)
class CameIn:
    """A lot of an ingredient, or bones from the bank."""

    key: str
    code: str
    ingredient: str
    supplier: str
    contact: str
    supplier_lot: str
    received: date
    use_by: date | None
    balance: Balance


@dataclass(frozen=True, slots=True, kw_only=True)
class Cooked:
    """A run, and what of its charge names no lot."""

    key: str
    code: str
    formula: str
    begun_at: datetime
    state: str
    weighings: int
    unnamed: tuple[str, ...]  # what was weighed without naming a lot


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """A lot, and what became of it."""

    key: str
    code: str
    product: str
    use_by: date
    status: str
    verdict: str
    store: str
    balance: Balance
    has_run: bool  # no: opening stock, taken over on somebody's word
    counted: int  # what stock-takes have found more (or fewer: negative)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """Containers of a lot that are with an outlet."""

    outlet_key: str
    outlet: str
    contact: str
    same_business: bool
    lot: str
    product: str
    containers: int
    back: int
    first_at: datetime
    last_at: datetime
    order_lines: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceReport:
    """Everything a page, a paper or a drill says about a trace."""

    kitchen: str
    time_zone: str
    units: str
    made_at: datetime
    start: Node
    since: date | None  # only for suppliers and outlets
    until: date | None
    graph: Graph
    came: tuple[CameIn, ...]
    cooked: tuple[Cooked, ...]
    packed: tuple[Packed, ...]
    sent: tuple[Sent, ...]
    possible: tuple[str, ...]  # runs that weighed the same without naming a lot while it was in the house

    @property
    def total(self) -> Balance | None:
        balances = [each.balance for each in self.packed]
        return added_up(balances=balances, key="all") if balances else None

    @property
    def found_percent(self) -> Decimal:
        return found_percent(balances=[each.balance for each in self.packed])

    @property
    def missing(self) -> tuple[Packed, ...]:
        """Lots of which something cannot be pointed at."""
        return tuple(each for each in self.packed if each.balance.unexplained)

    @property
    def outlets(self) -> tuple[tuple[str, str], ...]:
        """Who has to be called: name and contact, each once."""
        return tuple(dict.fromkeys((each.outlet, each.contact) for each in self.sent if each.containers > each.back))


def gaps(*, report: TraceReport) -> tuple[str, ...]:
    """What the thread does not show, in sentences; the careful reader acts on these as well.

    Equation: weighings without a lot, runs that may have used the lot, containers missing or too many, outlets without
        contact.
    Units: report (record); returns [no quantities].
    Valid: every report.
    Errors: none.
    Source: own definition; 21 CFR 1.345(b) asks for the source of each ingredient as far as reasonably available.
    """
    found = [
        f"Run {run.code}: {len(run.unnamed)} of {run.weighings} weighings name no lot "
        f"({', '.join(dict.fromkeys(run.unnamed))}). Their source is not shown."
        for run in report.cooked
        if run.unnamed
    ]
    found += [
        f"Lot {lot.code} was taken over as opening stock: where it came from is not shown."
        for lot in report.packed
        if not lot.has_run
    ]
    if report.possible:
        found.append(
            f"{_runs(report.possible)} weighed the same without naming a lot while this was in the house, and may hold "
            "it as well. Trace them too."
        )
    for lot in report.missing:
        lack = lot.balance.unexplained
        words = f"{lack} are missing" if lack > 0 else f"{-lack} are too many"
        found.append(f"Lot {lot.code}: of {lot.balance.made} containers {words}.")
    without = [name for name, contact in report.outlets if not contact.strip()]
    if without:
        found.append(f"No contact is known for {', '.join(without)}.")
    return tuple(found)


def _runs(codes: Sequence[str]) -> str:
    return f"Run {codes[0]}" if len(codes) == 1 else f"Runs {', '.join(codes)}"


def amount_text(*, edge: Edge) -> str:
    """The amount on an edge, in words; nothing where nobody has measured it.

    Equation: the number with its unit, without needless zeros.
    Units: edge (record; names its unit); returns [no quantities].
    Valid: every edge.
    Errors: none.
    Source: own definition.
    """
    if edge.amount is None:
        return ""
    number = f"{edge.amount.normalize():f}"
    return f"{number} {edge.unit}"
