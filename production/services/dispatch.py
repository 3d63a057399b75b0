"""Sending out: containers of free lots for an order line, as they are picked; and what comes back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from django.db import transaction
from django.http import Http404

from production.domain.demand import last_dispatch_date
from production.domain.errors import Conflict, NotAllowed, OutOfRange
from production.models import Entry, Lot, LotMove, Membership, OrderLine
from production.selectors.access import Action, require
from production.selectors.stock import line_key, lines_sent
from production.services.lot_book import (
    known_before,
    lot_locked,
    lot_write,
    reason_of,
    refuse_more_than_left,
    take_out,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Picked:
    """Containers of a lot that somebody has in hand."""

    lot: str
    containers: int


@transaction.atomic
def dispatch_confirm(
    *, by: Membership, line: int, picked: Sequence[Picked], happened_at: datetime, key: str, now: datetime
) -> tuple[Entry, ...]:
    """Write down what leaves for an order line: all of the picks or none. Fewer than ordered may leave, not more."""
    require(by, Action.RECORD)
    _lock(by, [line], [each.lot for each in picked])
    row = _line(by, line)
    if known_before(by, f"{key}:0", "lot_dispatched"):
        return tuple(Entry.objects.filter(kitchen_id=by.kitchen_id, key__startswith=f"{key}:").order_by("number"))
    together = _together(picked)
    _refuse_more_than_ordered(row, sum(together.values()))
    return tuple(
        _leaves(by, row, code, containers, happened_at, f"{key}:{place}", now)
        for place, (code, containers) in enumerate(sorted(together.items()))
    )


def _lock(by: Membership, lines: Iterable[int], lots: Iterable[str]) -> None:
    """Hold order lines and lots until the end, always in the same order, so that nobody waits for each other."""
    own = OrderLine.objects.filter(pk__in=lines, week__kitchen_id=by.kitchen_id)
    list(own.select_for_update(of=("self",)).order_by("pk"))
    list(Lot.objects.select_for_update().filter(code__in=lots, kitchen_id=by.kitchen_id).order_by("pk"))


def _line(by: Membership, line: int) -> OrderLine:
    row = (
        OrderLine.objects.filter(pk=line, week__kitchen_id=by.kitchen_id)
        .select_related("product", "outlet", "week", "week__kitchen")
        .first()
    )
    if row is None:
        raise Http404("This kitchen has no such order line.")
    return row


def _together(picked: Sequence[Picked]) -> dict[str, int]:
    found: dict[str, int] = {}
    for each in picked:
        if each.containers < 0:
            raise OutOfRange("Fewer than no containers cannot leave.", code="lot-count-out-of-range")
        if each.containers:
            found[each.lot] = found.get(each.lot, 0) + each.containers
    if not found:
        raise OutOfRange(
            "Nothing was picked.", code="nothing-picked", remedy="Type how many containers of which lot leave."
        )
    return found


def _refuse_more_than_ordered(row: OrderLine, containers: int) -> None:
    sent = lines_sent([row.pk]).get(row.pk, 0)
    if sent + containers > row.containers:
        raise Conflict(
            f"{row.outlet.name} has ordered {row.containers} containers and {sent} have left; {containers} more are "
            "too many.",
            code="more-than-ordered",
            numbers={"ordered": row.containers, "sent": sent, "containers": containers},
            remedy="Look at what has left already; change the order first where they want more.",
        )


def _leaves(
    by: Membership, row: OrderLine, code: str, containers: int, happened_at: datetime, key: str, now: datetime
) -> Entry:
    lot = lot_locked(by, code)
    _refuse_unfit(by, lot, row, happened_at)
    refuse_more_than_left(lot, containers)
    content = {
        "containers": containers,
        "order_line": line_key(row),
        "outlet": row.outlet.code,
        "outlet_name": row.outlet.name,
        "contact": row.outlet.contact,
    }
    entry = lot_write(by, lot, "lot_dispatched", content, at=happened_at, key=key, now=now)
    take_out(lot, containers, entry, LotMove.Kind.DISPATCHED, seen_left=lot.left, order_line=row, outlet=row.outlet)
    return entry


def _refuse_unfit(by: Membership, lot: Lot, row: OrderLine, happened_at: datetime) -> None:
    """What does not leave: another product, what is not free or too old, packs sealed hot for other businesses."""
    if lot.product_id != row.product_id:
        raise Conflict(
            f"Lot {lot.code} is {lot.product.name}; {row.outlet.name} has ordered {row.product.name}.",
            code="lot-of-another-product",
            numbers={"lot": lot.code},
            remedy="Pick a lot of the product that is ordered.",
        )
    if lot.status != Lot.Status.FREE:
        raise NotAllowed(
            f"Lot {lot.code} is {lot.status}: it may not leave.",
            code="lot-not-free",
            numbers={"lot": lot.code, "status": lot.status},
            remedy="Pick another lot, or have this one looked at first.",
        )
    if happened_at < lot.packed_at:
        raise OutOfRange(
            f"Lot {lot.code} cannot have left before it was packed.",
            code="left-before-packed",
            numbers={"lot": lot.code, "packed_at": lot.packed_at.isoformat()},
            remedy="Correct the time, or pick the lot that really left.",
        )
    day = happened_at.astimezone(ZoneInfo(by.kitchen.time_zone)).date()
    last = last_dispatch_date(use_by=lot.use_by, life_at_dispatch_days=row.product.life_at_dispatch_days)
    if day > last:
        raise NotAllowed(
            f"Lot {lot.code} might leave until {last}; on {day} it has too little life left.",
            code="lot-too-old-to-leave",
            numbers={"lot": lot.code, "use_by": lot.use_by.isoformat(), "last": last.isoformat()},
            remedy="Pick a fresher lot.",
        )
    if lot.label.get("sealed_hot") and not row.outlet.same_business:
        raise NotAllowed(
            f"Lot {lot.code} was sealed hot, without oxygen; {row.outlet.name} is another business.",
            code="sealed-hot-for-others",
            numbers={"lot": lot.code, "outlet": row.outlet.code},
            remedy="Such packs stay within the own business unless the authority has allowed more. Pick another lot.",
        )


@transaction.atomic
def lot_return(
    *, by: Membership, code: str, outlet: str, containers: int, reason: str, key: str, now: datetime
) -> Entry:
    """Write down what came back. It is thrown away: nobody can show how warm it was outside."""
    require(by, Action.RECORD)
    lot = lot_locked(by, code)
    earlier = Entry.objects.filter(kitchen_id=by.kitchen_id, key=key, kind="lot_returned").first()
    if earlier is not None:
        return earlier
    gone = list(LotMove.objects.filter(lot=lot, outlet__code=outlet).select_related("outlet"))
    out = -sum(move.containers for move in gone if move.kind == LotMove.Kind.DISPATCHED)
    back = sum(move.containers for move in gone if move.kind == LotMove.Kind.RETURNED)
    if not gone or not 1 <= containers <= out - back:
        raise Conflict(
            f"Of lot {code} {max(0, out - back)} containers are at {outlet}; {containers} cannot come back.",
            code="returned-more-than-sent",
            numbers={"sent": out, "returned": back, "containers": containers},
            remedy="Look at the lot code on the containers.",
        )
    content = {"containers": containers, "outlet": outlet, "then": "discarded"}
    entry = lot_write(by, lot, "lot_returned", content, at=now, key=key, now=now, reason=reason_of(reason))
    about = {"lot": lot, "entry": entry, "outlet": gone[0].outlet}
    LotMove.objects.create(kind=LotMove.Kind.RETURNED, containers=containers, **about)
    LotMove.objects.create(kind=LotMove.Kind.DISCARDED, containers=-containers, **about)
    return entry


@transaction.atomic
def dispatch_confirm_all(
    *, by: Membership, picked: Mapping[int, Sequence[Picked]], happened_at: datetime, key: str, now: datetime
) -> int:
    """Write down what leaves for several order lines together, all or none; returns the number of containers."""
    wanted = {line: picks for line, picks in picked.items() if any(each.containers for each in picks)}
    if not wanted:
        _together(())
    _lock(by, wanted, [each.lot for picks in wanted.values() for each in picks])
    sent = 0
    for line, picks in sorted(wanted.items()):
        entries = dispatch_confirm(
            by=by, line=line, picked=picks, happened_at=happened_at, key=f"{key}-{line}", now=now
        )
        sent += sum(int(entry.content["containers"]) for entry in entries)
    return sent
