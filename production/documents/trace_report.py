"""The report of a trace as the words, numbers and drawing that its template sets; pages use the same drawing."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING

from production.documents.words import Clock, Units
from production.domain.records.trace import Kind, added_up
from production.domain.records.trace_report import gaps
from production.drawing.canvas import Size
from production.drawing.lot_thread import Column, Knot, Line, LotThread, lot_thread, lot_thread_height

if TYPE_CHECKING:
    from datetime import datetime

    from production.domain.records.trace import Balance, Edge, Node
    from production.domain.records.trace_report import CameIn, Packed, Sent, TraceReport
    from production.drawing.palette import Meaning

PAPER_WIDTH_PX = 704.0
COLUMNS: tuple[tuple[str, tuple[Kind, ...]], ...] = (
    ("Suppliers", (Kind.SUPPLIER,)),
    ("Ingredients", (Kind.INGREDIENT_LOT, Kind.BONES, Kind.UNNAMED)),
    ("Runs", (Kind.RUN,)),
    ("Coolings", (Kind.COOLING,)),
    ("Lots", (Kind.LOT,)),
    ("Order lines", (Kind.ORDER_LINE,)),
    ("Outlets", (Kind.OUTLET,)),
)
KIND_WORDS: dict[Kind, str] = {
    Kind.SUPPLIER: "supplier",
    Kind.INGREDIENT_LOT: "ingredient lot",
    Kind.BONES: "saved bones",
    Kind.UNNAMED: "no lot named",
    Kind.RUN: "run",
    Kind.COOLING: "cooling",
    Kind.LOT: "lot",
    Kind.ORDER_LINE: "order line",
    Kind.OUTLET: "outlet",
}
_COOLING_MEANING: dict[str, Meaning] = {"limits met": "within", "limit broken": "past", "not shown": "near"}
VERDICTS = {"met": "limits met", "breached": "limit broken", "not_shown": "not shown"}
STATUSES = {"held": "on hold", "free": "free", "discarded": "discarded"}


def thread_drawn(
    report: TraceReport, *, href_of: Callable[[Node], str] = lambda node: "", medium_units: Units | None = None
) -> LotThread:
    """The graph of a report as columns and lines."""
    units = medium_units or Units("us" if report.units == "us" else "metric")
    columns = []
    for title, kinds in COLUMNS:
        nodes = sorted(report.graph.of_kind(*kinds), key=lambda node: (node.kind, node.code))
        if nodes:
            columns.append(
                Column(
                    title=title,
                    total=_total(report, kinds, len(nodes), units),
                    knots=tuple(_knot(node, report, href_of(node)) for node in nodes),
                )
            )
    lines = tuple(
        Line(source=edge.source, target=edge.target, label=amount_words(edge, units)) for edge in report.graph.edges
    )
    return LotThread(name=report.start.code, columns=tuple(columns), lines=lines)


def _total(report: TraceReport, kinds: Sequence[Kind], count: int, units: Units) -> str:
    total = report.total
    if Kind.LOT in kinds and total is not None:
        return f"{count}, {total.made} containers"
    if Kind.OUTLET in kinds:
        return f"{count}, {sum(each.containers - each.back for each in report.sent)} containers"
    if Kind.INGREDIENT_LOT in kinds:
        into = [edge for edge in report.graph.edges if edge.target.startswith("run/") and edge.unit == "kg"]
        mass_kg = sum((edge.amount or Decimal(0) for edge in into), Decimal(0))
        return f"{count}, {units.text(float(mass_kg), 'kg')} used" if mass_kg else f"{count}"
    return f"{count}"


def amount_words(edge: Edge, units: Units) -> str:
    """The amount on a line."""
    if edge.amount is None:
        return ""
    return units.text(float(edge.amount), "kg") if edge.unit == "kg" else f"{edge.amount}"


def _knot(node: Node, report: TraceReport, href: str) -> Knot:
    title, note = node.code, node.name
    if node.kind in (Kind.SUPPLIER, Kind.OUTLET):
        title, note = node.name, node.detail or node.contact
    elif node.kind == Kind.RUN:
        note = next((each.formula for each in report.cooked if each.key == node.key), node.name)
    elif node.kind == Kind.ORDER_LINE:
        note = node.detail
    return Knot(
        key=node.key,
        title=title,
        note=note,
        href=href,
        meaning=_COOLING_MEANING.get(node.detail) if node.kind == Kind.COOLING else None,
        is_start=node.key == report.start.key,
        is_open=node.kind == Kind.UNNAMED,
    )


def trace_report_view(report: TraceReport) -> dict[str, object]:
    """Everything the template needs, in the kitchen's units and time."""
    clock = Clock.spanning(report.time_zone, report.made_at, report.made_at)
    units = Units("us" if report.units == "us" else "metric")
    thread = thread_drawn(report)
    height = lot_thread_height(thread, small_px=10.0)
    return {
        "title": f"Trace of {report.start.code}",
        "report": report,
        "what": KIND_WORDS[report.start.kind],
        "at": f"{clock.day(report.made_at)}, {clock.time(report.made_at)}",
        "period": f"{report.since} to {report.until}" if report.since else "",
        "curve": lot_thread(thread, Size(width_px=PAPER_WIDTH_PX, height_px=height, medium="print")),
        "gaps": gaps(report=report),
        "total": None if report.total is None else balance_words(report.total, units),
        "found": percent_text(report.found_percent),
        "call": list(_calls(report)),
        "sent": [sent_words(each, clock) for each in report.sent],
        "lots": [packed_words(each, units) for each in report.packed],
        "runs": [
            {
                "code": each.code,
                "formula": each.formula,
                "begun": moment_text(each.begun_at, clock),
                "state": each.state,
                "unnamed": ", ".join(dict.fromkeys(each.unnamed)),
            }
            for each in report.cooked
        ],
        "coolings": [
            {"code": each.code, "name": each.name, "verdict": each.detail}
            for each in report.graph.of_kind(Kind.COOLING)
        ],
        "came": [came_words(each, report, units) for each in report.came],
        "bones": [{"code": each.code, "name": each.name} for each in report.graph.of_kind(Kind.BONES)],
    }


def moment_text(at: datetime, clock: Clock) -> str:
    """Day, year and time: records of several years lie side by side."""
    local = at.astimezone(clock.zone)
    return f"{local.day} {local:%b %Y, %H:%M}"


def percent_text(percent: Decimal) -> str:
    """Never rounded up to everything while something is missing."""
    return f"{percent.quantize(Decimal('0.1'), rounding='ROUND_DOWN').normalize():f} %"


def balance_words(balance: Balance, units: Units) -> dict[str, str]:
    """The columns of a balance, each in the unit of the balance."""

    def said(value: Decimal) -> str:
        return units.text(float(value), "kg") if balance.unit == "kg" else f"{value}".replace("-", "−")

    return {
        "made": said(balance.made),
        "shipped": said(balance.shipped),
        "stock": said(balance.stock),
        "discarded": said(balance.discarded),
        "unexplained": said(balance.unexplained) if balance.unexplained else "0",
        "is_open": "yes" if balance.unexplained else "",
    }


def _calls(report: TraceReport) -> Iterable[dict[str, object]]:
    """Each outlet once, with all that it holds."""
    names: dict[str, list[Sent]] = {}
    for each in report.sent:
        names.setdefault(each.outlet_key, []).append(each)
    for sent in sorted(names.values(), key=lambda rows: rows[0].outlet):
        yield {
            "outlet": sent[0].outlet,
            "contact": sent[0].contact or "no contact known",
            "containers": sum(each.containers - each.back for each in sent),
            "lots": ", ".join(f"{each.containers - each.back} × {each.lot}" for each in sent),
            "other": "" if sent[0].same_business else "another business",
            "key": sent[0].outlet_key,
        }


def sent_words(sent: Sent, clock: Clock) -> dict[str, object]:
    """One lot at one outlet."""
    first, last = moment_text(sent.first_at, clock), moment_text(sent.last_at, clock)
    return {
        "outlet": sent.outlet,
        "lot": sent.lot,
        "product": sent.product,
        "containers": sent.containers,
        "back": sent.back,
        "when": first if first == last else f"{first} to {last}",
        "lines": ", ".join(sent.order_lines),
    }


def packed_words(lot: Packed, units: Units) -> dict[str, object]:
    """One lot and what became of it."""
    return {
        "key": lot.key,
        "code": lot.code,
        "product": lot.product,
        "use_by": f"{lot.use_by.day} {lot.use_by:%b %Y}",
        "status": STATUSES[lot.status],
        "verdict": VERDICTS[lot.verdict],
        "store": lot.store,
        "counted": f"{lot.counted:+d}".replace("-", "−") if lot.counted else "",
        "balance": balance_words(lot.balance, units),
    }


def came_words(came: CameIn, report: TraceReport, units: Units) -> dict[str, object]:
    """One ingredient lot, and how much of it went into this thread."""
    here = [edge.amount or Decimal(0) for edge in report.graph.edges if edge.source == came.key]
    return {
        "key": came.key,
        "code": came.code,
        "ingredient": came.ingredient,
        "supplier": came.supplier,
        "contact": came.contact,
        "supplier_lot": came.supplier_lot or "not told",
        "received": f"{came.received.day} {came.received:%b %Y}",
        "use_by": f"{came.use_by.day} {came.use_by:%b %Y}" if came.use_by else "",
        "here": units.text(float(sum(here, Decimal(0))), "kg"),
        "balance": balance_words(came.balance, units),
    }


def ingredients_total(report: TraceReport, units: Units) -> dict[str, str] | None:
    """All ingredient lots as one; pages show it where there are several."""
    balances = [each.balance for each in report.came]
    return balance_words(added_up(balances=balances, key="all"), units) if len(balances) > 1 else None
