"""Where a trace begins: the thing that was named, and the rows that it stands for."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Q
from django.http import Http404

from production.domain.records.trace import Kind, Node
from production.domain.records.trace_scan import scanned_code
from production.models import Bones, IngredientLot, Lot, LotMove, Membership, OrderLine, Outlet, RunRecord, Supplier

DAYS_BACK = 30  # how far suppliers and outlets are traced where nobody says
MOST_FOUND = 12
WITH_PERIOD = frozenset({Kind.SUPPLIER, Kind.OUTLET})


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """The rows a trace begins with; empty sets where it begins elsewhere."""

    node: Node
    lots: frozenset[int] = field(default=frozenset())
    runs: frozenset[int] = field(default=frozenset())
    ingredient_lots: frozenset[int] = field(default=frozenset())
    bones: frozenset[int] = field(default=frozenset())
    order_line: int | None = None
    outlet: int | None = None
    since: date | None = None
    until: date | None = None
    between: tuple[datetime, datetime] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Something that a search has found."""

    node: Node
    is_exact: bool


def start_of(*, by: Membership, key: str, since: date | None, until: date | None, today: date) -> Start:
    """What a key like lot/2702020013 stands for; 404 where the kitchen has no such thing."""
    kind, _, code = key.partition("/")
    loader = _LOADERS.get(kind)
    if loader is None or not code:
        raise Http404("There is nothing like that to trace.")
    last = until or today
    return loader(by, code, since or last - timedelta(days=DAYS_BACK), last)


def traceable(*, by: Membership, text: str) -> tuple[Found, ...]:
    """What can be meant by a code or a name, as typed or scanned; exact hits first."""
    code = scanned_code(text=text)
    if not code:
        return ()
    found = [*_things(by, code)]
    return tuple(sorted(found, key=lambda each: not each.is_exact)[:MOST_FOUND])


def _things(by: Membership, code: str) -> list[Found]:
    own = {"kitchen_id": by.kitchen_id}
    has = Q(code__icontains=code)
    lots = Lot.objects.filter(has, **own).select_related("product")[:MOST_FOUND]
    came = (
        IngredientLot.objects.filter(has | Q(supplier_lot__icontains=code) | Q(receipt__code__iexact=code), **own)
        .select_related("ingredient", "receipt")
        .order_by("-received_on", "-pk")[:MOST_FOUND]
    )
    runs = RunRecord.objects.filter(has, **own).select_related("week").defer("sheet").order_by("-begun_at")
    bones = Bones.objects.filter(has, **own).select_related("ingredient")[:MOST_FOUND]
    named = has | Q(name__icontains=code)
    lines = (
        OrderLine.objects.filter(has, week__kitchen_id=by.kitchen_id)
        .select_related("week", "product", "outlet")
        .order_by("-dispatch_at")
    )
    return [
        *(_found(lot_node(each), code, each.code) for each in lots),
        *(_found(came_node(each), code, each.code, each.supplier_lot, each.receipt.code) for each in came),
        *(_found(run_node(each), code, each.code) for each in runs[:MOST_FOUND]),
        *(_found(bones_node(each), code, each.code) for each in bones),
        *(
            _found(supplier_node(each), code, each.code, each.name)
            for each in Supplier.objects.filter(named, **own)[:MOST_FOUND]
        ),
        *(
            _found(outlet_node(each), code, each.code, each.name)
            for each in Outlet.objects.filter(named, **own)[:MOST_FOUND]
        ),
        *(_found(line_node(each), code, each.code) for each in lines[:MOST_FOUND]),
    ]


def _found(node: Node, code: str, *exact: str) -> Found:
    return Found(node=node, is_exact=code.casefold() in {each.casefold() for each in exact})


# --- knots ------------------------------------------------------------------------------------------------------------


def lot_node(lot: Lot) -> Node:
    return Node(key=f"lot/{lot.code}", kind=Kind.LOT, code=lot.code, name=lot.product.name)


def came_node(lot: IngredientLot) -> Node:
    said = f"their lot {lot.supplier_lot}" if lot.supplier_lot else "no lot of the supplier"
    return Node(
        key=f"ingredient/{lot.code}", kind=Kind.INGREDIENT_LOT, code=lot.code, name=lot.ingredient.name, detail=said
    )


def run_node(run: RunRecord) -> Node:
    """The week tells apart runs of one code."""
    day = run.subject.split("/")[1]
    return Node(key=run.subject, kind=Kind.RUN, code=run.code, name=f"week of {day}")


def bones_node(bones: Bones) -> Node:
    return Node(
        key=f"bones/{bones.code}",
        kind=Kind.BONES,
        code=bones.code,
        name=bones.ingredient.name,
        detail="saved in the kitchen",
    )


def supplier_node(supplier: Supplier) -> Node:
    return Node(
        key=f"supplier/{supplier.code}",
        kind=Kind.SUPPLIER,
        code=supplier.code,
        name=supplier.name,
        contact=supplier.contact,
    )


def outlet_node(outlet: Outlet) -> Node:
    return Node(
        key=f"outlet/{outlet.code}",
        kind=Kind.OUTLET,
        code=outlet.code,
        name=outlet.name,
        detail="" if outlet.same_business else "another business",
        contact=outlet.contact,
    )


def line_node(line: OrderLine) -> Node:
    return Node(
        key=f"order/{line.week.starts_on}/{line.code}",
        kind=Kind.ORDER_LINE,
        code=line.code,
        name=line.outlet.name,
        detail=f"{line.containers} × {line.product.name}",
    )


# --- starts -----------------------------------------------------------------------------------------------------------


def _lot(by: Membership, code: str, since: date, until: date) -> Start:
    row = Lot.objects.filter(kitchen_id=by.kitchen_id, code=code).select_related("product").first()
    if row is None:
        raise Http404("This kitchen has no such lot.")
    return Start(node=lot_node(row), lots=frozenset({row.pk}))


def _run(by: Membership, code: str, since: date, until: date) -> Start:
    row = RunRecord.objects.filter(kitchen_id=by.kitchen_id, subject=f"run/{code}").defer("sheet").first()
    if row is None:
        raise Http404("This kitchen has cooked no such run.")
    return Start(node=run_node(row), runs=frozenset({row.pk}))


def _ingredient(by: Membership, code: str, since: date, until: date) -> Start:
    row = (
        IngredientLot.objects.filter(Q(code=code) | Q(receipt__code=code), kitchen_id=by.kitchen_id)
        .select_related("ingredient", "receipt")
        .first()
    )
    if row is None:
        raise Http404("Nothing was received under this code.")
    return Start(node=came_node(row), ingredient_lots=frozenset({row.pk}))


def _bones(by: Membership, code: str, since: date, until: date) -> Start:
    row = Bones.objects.filter(kitchen_id=by.kitchen_id, code=code).select_related("ingredient").first()
    if row is None:
        raise Http404("The bank holds no such bones.")
    return Start(node=bones_node(row), bones=frozenset({row.pk}))


def _supplier(by: Membership, code: str, since: date, until: date) -> Start:
    row = Supplier.objects.filter(kitchen_id=by.kitchen_id, code=code).first()
    if row is None:
        raise Http404("This kitchen has no such supplier.")
    between = _between(by, since, until)
    lots = IngredientLot.objects.filter(
        kitchen_id=by.kitchen_id, receipt__supplier=row, receipt__received_at__range=between
    )
    found = frozenset(lots.values_list("pk", flat=True))
    return Start(node=supplier_node(row), ingredient_lots=found, since=since, until=until, between=between)


def _outlet(by: Membership, code: str, since: date, until: date) -> Start:
    row = Outlet.objects.filter(kitchen_id=by.kitchen_id, code=code).first()
    if row is None:
        raise Http404("This kitchen has no such outlet.")
    between = _between(by, since, until)
    moves = LotMove.objects.filter(
        outlet=row, kind=LotMove.Kind.DISPATCHED, entry__happened_at__range=between, lot__kitchen_id=by.kitchen_id
    )
    return Start(
        node=outlet_node(row),
        lots=frozenset(moves.values_list("lot_id", flat=True)),
        outlet=row.pk,
        since=since,
        until=until,
        between=between,
    )


def _order(by: Membership, code: str, since: date, until: date) -> Start:
    day, _, line = code.partition("/")
    try:
        starts_on = date.fromisoformat(day)
    except ValueError:
        raise Http404("There is no such week.") from None
    row = (
        OrderLine.objects.filter(week__kitchen_id=by.kitchen_id, week__starts_on=starts_on, code=line)
        .select_related("week", "product", "outlet")
        .first()
    )
    if row is None:
        raise Http404("This kitchen has no such order line.")
    moves = LotMove.objects.filter(order_line=row, kind=LotMove.Kind.DISPATCHED)
    return Start(node=line_node(row), lots=frozenset(moves.values_list("lot_id", flat=True)), order_line=row.pk)


def _between(by: Membership, since: date, until: date) -> tuple[datetime, datetime]:
    zone = ZoneInfo(by.kitchen.time_zone)
    return datetime.combine(since, time.min, zone), datetime.combine(until, time.max, zone)


_LOADERS: Mapping[str, Callable[[Membership, str, date, date], Start]] = {
    "lot": _lot,
    "run": _run,
    "ingredient": _ingredient,
    "bones": _bones,
    "supplier": _supplier,
    "outlet": _outlet,
    "order": _order,
}
