"""A trace: from a lot, order line, ingredient lot, supplier, outlet, bones or run to all before and after it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.db.models import Sum

from production.domain.records.lots import worst_verdict
from production.domain.records.trace import Balance, Edge, Graph, Kind, Node, thread
from production.domain.records.trace_report import CameIn, Cooked, Packed, Sent, TraceReport
from production.models import CoolingRecord, IngredientUse, Lot, LotMove, Membership, Outlet, RunRecord
from production.selectors.access import Action, require
from production.selectors.trace_gaps import NONE, Weighings, runs_possible, weighings_of
from production.selectors.trace_rows import FIRST, Rows, rows_around
from production.selectors.trace_starts import (
    Found,
    Start,
    bones_node,
    came_node,
    lot_node,
    outlet_node,
    run_node,
    start_of,
    supplier_node,
    traceable,
)

BEFORE_RUNS = frozenset({Kind.SUPPLIER, Kind.INGREDIENT_LOT, Kind.BONES})
VERDICTS = {"met": "limits met", "breached": "limit broken", "not_shown": "not shown", "": "still open"}


def trace_search(*, by: Membership, text: str) -> tuple[Found, ...]:
    """What can be meant by a code or a name."""
    require(by, Action.SEE_RECORDS)
    return traceable(by=by, text=text)


def trace_of(
    *, by: Membership, key: str, now: datetime, since: date | None = None, until: date | None = None
) -> TraceReport:
    """The whole thread of something, backward and forward, with what became of every container."""
    require(by, Action.SEE_RECORDS)
    today = now.astimezone(ZoneInfo(by.kitchen.time_zone)).date()
    start = start_of(by=by, key=key, since=since, until=until, today=today)
    rows = rows_around(by=by, start=start)
    graph = thread(graph=_graph(start, rows), starts=[start.node.key])
    runs = [each for each in rows.runs.values() if each.subject in graph.nodes]
    told = {} if start.node.kind in BEFORE_RUNS else weighings_of(by=by, subjects=[each.subject for each in runs])
    return TraceReport(
        kitchen=by.kitchen.name,
        time_zone=by.kitchen.time_zone,
        units=by.kitchen.units,
        made_at=now,
        start=start.node,
        since=start.since,
        until=start.until,
        graph=_with_unnamed(graph, told),
        came=tuple(_came(rows, graph)),
        cooked=tuple(_cooked(runs, told)),
        packed=tuple(_packed(rows, graph)),
        sent=tuple(_sent(rows, graph, start)),
        possible=runs_possible(by=by, start=start, known=rows.runs),
    )


# --- the graph --------------------------------------------------------------------------------------------------------


def _graph(start: Start, rows: Rows) -> Graph:
    nodes = {node.key: node for node in [*_nodes(rows), start.node]}
    edges: dict[tuple[str, str], Edge] = {}
    for edge in (*_edges_in(rows, start), *_edges_through(rows), *_edges_out(rows, start)):
        before = edges.get((edge.source, edge.target))
        edges[edge.source, edge.target] = edge if before is None else _together(before, edge)
    kept = tuple(each for each in edges.values() if each.amount is None or each.amount > 0)
    return Graph(nodes, kept)


def _together(one: Edge, other: Edge) -> Edge:
    amount = None if one.amount is None or other.amount is None else one.amount + other.amount
    return Edge(source=one.source, target=one.target, amount=amount, unit=one.unit)


def _nodes(rows: Rows) -> Iterator[Node]:
    for lot in rows.came.values():
        yield supplier_node(lot.receipt.supplier)
        yield came_node(lot)
    yield from (bones_node(each.bones) for each in rows.bones)
    yield from (run_node(each) for each in rows.runs.values())
    yield from (_cooling_node(each, rows) for each in rows.coolings.values())
    yield from (lot_node(each) for each in rows.lots.values())
    yield from (outlet_node(each) for each in rows.outlets.values())


def _cooling_node(cooling: CoolingRecord, rows: Rows) -> Node:
    place = cooling.device.name if cooling.device else "no device"
    again = f", attempt {cooling.attempt}" if cooling.attempt > 1 else ""
    return Node(
        key=cooling.subject,
        kind=Kind.COOLING,
        code=f"{rows.runs[cooling.run_id].code}, {cooling.draw}",
        name=f"{place}, group {cooling.group}{again}",
        detail=VERDICTS[cooling.verdict],
    )


def _edges_in(rows: Rows, start: Start) -> Iterator[Edge]:
    for pk, lot in rows.came.items():
        supplier = f"supplier/{lot.receipt.supplier.code}"
        if supplier != start.node.key or pk in start.ingredient_lots:  # only what came in the time asked for
            yield Edge(source=supplier, target=f"ingredient/{lot.code}", amount=lot.mass_kg, unit="kg")
    for use in rows.uses:
        if use.run_id is not None and use.run_id in rows.runs:
            source = f"ingredient/{rows.came[use.lot_id].code}"
            yield Edge(source=source, target=rows.runs[use.run_id].subject, amount=use.mass_kg, unit="kg")
    for move in rows.bones:
        if move.run_subject:
            source = f"bones/{move.bones.code}"
            yield Edge(source=source, target=move.run_subject, amount=move.mass_kg, unit="kg")


def _edges_through(rows: Rows) -> Iterator[Edge]:
    for cooling in rows.coolings.values():
        yield Edge(source=rows.runs[cooling.run_id].subject, target=cooling.subject)
    yield from _edges_poured(rows)
    for pk, lot in rows.lots.items():
        coolings = [rows.coolings[each] for each in rows.of_lot.get(pk, ()) if each in rows.coolings]
        made = Decimal(lot.containers)
        for cooling in coolings:
            amount = made if len(coolings) == 1 else None
            yield Edge(source=cooling.subject, target=f"lot/{lot.code}", amount=amount, unit="containers")
        if not coolings and lot.run_id:
            yield Edge(source=rows.runs[lot.run_id].subject, target=f"lot/{lot.code}", amount=made, unit="containers")


def _edges_poured(rows: Rows) -> Iterator[Edge]:
    """A second draw goes into what its host gives after its first draw; into all of it while that is not cooled."""
    for pour in rows.pours:
        if pour.guest not in rows.runs or pour.host not in rows.runs:
            continue
        guest, host = rows.runs[pour.guest].subject, rows.runs[pour.host].subject
        into = [each.subject for each in rows.coolings.values() if each.run_id == pour.host and each.draw != FIRST]
        yield from (Edge(source=guest, target=target) for target in into or [host])


def _edges_out(rows: Rows, start: Start) -> Iterator[Edge]:
    for move in rows.moves:
        if move.outlet_id is None or move.kind not in (LotMove.Kind.DISPATCHED, LotMove.Kind.RETURNED):
            continue
        if not _is_asked_for(move, start):
            continue
        lot, outlet = f"lot/{rows.lots[move.lot_id].code}", f"outlet/{rows.outlets[move.outlet_id].code}"
        if start.order_line is not None:
            yield Edge(source=lot, target=start.node.key, amount=Decimal(-move.containers), unit="containers")
            yield Edge(source=start.node.key, target=outlet, amount=Decimal(-move.containers), unit="containers")
        else:
            yield Edge(source=lot, target=outlet, amount=Decimal(-move.containers), unit="containers")


def _is_asked_for(move: LotMove, start: Start) -> bool:
    """A trace of an order line, or of an outlet in a time, follows nothing that went elsewhere or at another time."""
    if start.order_line is not None:
        return move.order_line_id == start.order_line
    if start.outlet is not None and start.between is not None:
        first, last = start.between
        return move.outlet_id == start.outlet and first <= move.entry.happened_at <= last
    return True


# --- what it says -----------------------------------------------------------------------------------------------------


def _with_unnamed(graph: Graph, told: Mapping[str, Weighings]) -> Graph:
    """Weighings without a lot are a source of their own, so that nobody takes the rest for the whole."""
    nodes, edges = dict(graph.nodes), list(graph.edges)
    for subject, said in told.items():
        if said.unnamed:
            key = f"unnamed/{subject}"
            names = ", ".join(dict.fromkeys(said.unnamed))
            nodes[key] = Node(key=key, kind=Kind.UNNAMED, code="no lot named", name=names)
            edges.append(Edge(source=key, target=subject))
    return Graph(nodes, tuple(edges))


def _came(rows: Rows, graph: Graph) -> Iterator[CameIn]:
    lots = [each for each in rows.came.values() if f"ingredient/{each.code}" in graph.nodes]
    uses = IngredientUse.objects.filter(lot_id__in=[each.pk for each in lots]).order_by()
    gone = {
        (pk, kind): mass
        for pk, kind, mass in uses.values("lot_id", "kind")
        .annotate(mass=Sum("mass_kg"))
        .values_list("lot_id", "kind", "mass")
    }
    for lot in sorted(lots, key=lambda each: (each.received_on, each.code)):
        key = f"ingredient/{lot.code}"
        yield CameIn(
            key=key,
            code=lot.code,
            ingredient=lot.ingredient.name,
            supplier=lot.receipt.supplier.name,
            contact=lot.receipt.supplier.contact,
            supplier_lot=lot.supplier_lot,
            received=lot.received_on,
            use_by=lot.use_by,
            balance=Balance(
                key=key,
                unit="kg",
                made=lot.mass_kg,
                shipped=gone.get((lot.pk, "used"), Decimal(0)),
                discarded=gone.get((lot.pk, "discarded"), Decimal(0)),
                stock=lot.left_kg,
            ),
        )


def _cooked(runs: Sequence[RunRecord], told: Mapping[str, Weighings]) -> Iterator[Cooked]:
    rows = RunRecord.objects.filter(pk__in=[each.pk for each in runs])
    formulas = dict(rows.values_list("pk", "sheet__formula"))
    for run in sorted(runs, key=lambda each: (each.begun_at, each.pk)):
        said = told.get(run.subject, NONE)
        yield Cooked(
            key=run.subject,
            code=run.code,
            formula=str(formulas.get(run.pk) or ""),
            begun_at=run.begun_at,
            state=run.state.replace("_", " "),
            weighings=said.count,
            unnamed=said.unnamed,
        )


def _packed(rows: Rows, graph: Graph) -> Iterator[Packed]:
    moves: dict[int, list[LotMove]] = defaultdict(list)
    for move in rows.moves:
        moves[move.lot_id].append(move)
    for pk, lot in sorted(rows.lots.items(), key=lambda item: item[1].code):
        if f"lot/{lot.code}" in graph.nodes:
            yield _lot_told(lot, moves[pk], [rows.coolings[each] for each in rows.of_lot[pk] if each in rows.coolings])


def _lot_told(lot: Lot, moves: Sequence[LotMove], coolings: Sequence[CoolingRecord]) -> Packed:
    total: Mapping[str, int] = _by_kind(moves)
    return Packed(
        key=f"lot/{lot.code}",
        code=lot.code,
        product=lot.product.name,
        use_by=lot.use_by,
        status=lot.status,
        verdict=worst_verdict(each.verdict for each in coolings),
        store=lot.store.name,
        balance=Balance(
            key=f"lot/{lot.code}",
            unit="containers",
            made=Decimal(lot.containers),
            shipped=Decimal(-total.get("dispatched", 0) - total.get("returned", 0)),
            discarded=Decimal(-total.get("discarded", 0)),
            stock=Decimal(lot.left),
        ),
        has_run=lot.run_id is not None,
        counted=total.get("counted", 0),
    )


def _by_kind(moves: Sequence[LotMove]) -> dict[str, int]:
    total: dict[str, int] = defaultdict(int)
    for move in moves:
        total[move.kind] += move.containers
    return total


def _sent(rows: Rows, graph: Graph, start: Start) -> Iterator[Sent]:
    groups: dict[tuple[int, int], list[LotMove]] = defaultdict(list)
    for move in rows.moves:
        if move.outlet_id is not None and move.kind in (LotMove.Kind.DISPATCHED, LotMove.Kind.RETURNED):
            groups[move.outlet_id, move.lot_id].append(move)
    for (to, pk), moves in groups.items():
        asked = [move for move in moves if _is_asked_for(move, start)]
        if asked and f"lot/{rows.lots[pk].code}" in graph.nodes:
            yield _sent_told(rows.lots[pk], rows.outlets[to], asked)


def _sent_told(lot: Lot, outlet: Outlet, moves: Sequence[LotMove]) -> Sent:
    total = _by_kind(moves)
    times = [move.entry.happened_at for move in moves if move.kind == LotMove.Kind.DISPATCHED]
    times = times or [move.entry.happened_at for move in moves]
    lines = (move.order_line for move in moves if move.order_line is not None)
    return Sent(
        outlet_key=f"outlet/{outlet.code}",
        outlet=outlet.name,
        contact=outlet.contact,
        same_business=outlet.same_business,
        lot=lot.code,
        product=lot.product.name,
        containers=-total.get("dispatched", 0),
        back=total.get("returned", 0),
        first_at=min(times),
        last_at=max(times),
        order_lines=tuple(dict.fromkeys(line.code for line in lines)),
    )
