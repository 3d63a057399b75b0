"""Making lots: containers of one draw, packed when their cooling logs are closed, held until somebody lets them go."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction
from django.http import Http404

from production.domain.errors import Conflict, OutOfRange
from production.domain.records.dates import day_one, life_of
from production.domain.records.lots import lot_code
from production.models import CoolingRecord, Entry, Lot, LotMove, Membership, Product, RecordBook, RunRecord, Store
from production.selectors.access import Action, require
from production.selectors.labels import label_of
from production.selectors.lots import lot_of, lot_verdict
from production.services.lot_book import lot_write

_DRAW_OF_KIND = {"broth": "first", "reduction": "reduction", "cubes": "reduction"}
MOST_CONTAINERS = 10000


@transaction.atomic
def lot_make(
    *,
    by: Membership,
    coolings: Sequence[str],
    product: str,
    containers: int,
    store: str,
    packed_at: datetime,
    key: str,
    now: datetime,
    sealed_hot: bool = False,
) -> Lot:
    """Pack containers of one draw whose cooling logs are closed; the lot is held until it is let go."""
    require(by, Action.RECORD)
    _hold(by, coolings)
    earlier = _made_before(by, key)
    if earlier is not None:
        return earlier
    packed = _closed(by, coolings)
    row = _product_of(by, product, packed)
    place = _place(by, store, row)
    _refuse_count(containers)
    lot = _new_lot(by, packed, row, place, containers=containers, packed_at=packed_at, now=now, sealed_hot=sealed_hot)
    lot.full_clean(exclude=["label"])
    lot.save(force_insert=True)
    lot.coolings.set(packed)
    entry = lot_write(by, lot, "lot_made", _made_content(lot, packed), at=packed_at, key=key, now=now)
    LotMove.objects.create(lot=lot, entry=entry, kind=LotMove.Kind.MADE, containers=containers)
    return lot


def _hold(by: Membership, coolings: Sequence[str]) -> None:
    """Hold the run, its logs and then the book, in the order in which everybody does; lots get one number each."""
    logs = CoolingRecord.objects.filter(kitchen_id=by.kitchen_id, subject__in=coolings)
    runs = list(logs.values_list("run_id", flat=True))
    list(RunRecord.objects.select_for_update().filter(pk__in=runs).order_by("pk").values_list("pk"))
    list(logs.select_for_update().order_by("pk").values_list("pk"))
    RecordBook.objects.get_or_create(kitchen_id=by.kitchen_id)
    RecordBook.objects.select_for_update().get(kitchen_id=by.kitchen_id)


def _made_before(by: Membership, key: str) -> Lot | None:
    """The lot that this very request has led to already."""
    entry = Entry.objects.filter(kitchen_id=by.kitchen_id, key=key).first()
    if entry is None:
        return None
    if entry.kind != "lot_made":
        raise Conflict(
            f"The key {key!r} was already used for another record.",
            code="key-used-for-other-record",
            numbers={"number": entry.number},
            remedy="Send the new record with a new key.",
        )
    return lot_of(by=by, code=entry.subject.removeprefix("lot/"))


def _closed(by: Membership, subjects: Sequence[str]) -> list[CoolingRecord]:
    """The logs of one draw, with all attempts of each group, every one closed."""
    named = list(
        CoolingRecord.objects.filter(kitchen_id=by.kitchen_id, subject__in=subjects).select_related("run", "run__plan")
    )
    if len(named) != len(set(subjects)) or not named:
        raise Http404("This kitchen has no such cooling log.")
    if len({(each.run_id, each.draw) for each in named}) > 1:
        raise Conflict(
            "A lot holds one draw of one run; these cooling logs are of several.",
            code="lot-of-several-draws",
            numbers={"logs": len(named)},
            remedy="Make a lot for each draw.",
        )
    groups = {(each.device_id, each.group) for each in named}
    of_draw = list(CoolingRecord.objects.filter(run=named[0].run, draw=named[0].draw).order_by("opened_at", "pk"))
    whole = [each for each in of_draw if (each.device_id, each.group) in groups]
    whole += [each for each in _before_parting(whole, of_draw) if each not in whole]
    still_open = [each.subject for each in whole if each.closed_at is None]
    if still_open:
        raise Conflict(
            f"The cooling log {still_open[0]} is not closed yet.",
            code="cooling-not-closed",
            numbers={"open": len(still_open)},
            remedy="Cool it to the last limit, close its log, then make the lot.",
        )
    return [named[0], *(each for each in whole if each.pk != named[0].pk)]


def _before_parting(logs: Sequence[CoolingRecord], of_draw: Sequence[CoolingRecord]) -> list[CoolingRecord]:
    """Attempts that ended in a re-heat before a part was taken off: the part has gone through them too."""
    by_subject, found = {each.subject: each for each in of_draw}, []
    for log in logs:
        whole = by_subject.get(str(log.sheet.get("parted_from", "")))
        while whole is not None:
            group, last = (whole.device_id, whole.group), whole.attempt
            found += [each for each in of_draw if (each.device_id, each.group) == group and each.attempt < last]
            whole = by_subject.get(str(whole.sheet.get("parted_from", "")))
    return found


def _product_of(by: Membership, code: str, packed: Sequence[CoolingRecord]) -> Product:
    """The product, which must be of the run's formula and of this draw."""
    row = (
        Product.objects.filter(kitchen_id=by.kitchen_id, code=code)
        .select_related("formula", "container", "kitchen")
        .first()
    )
    if row is None:
        raise Http404("This kitchen has no such product.")
    draw, formula = packed[0].draw, packed[0].run.sheet.get("formula")
    if _DRAW_OF_KIND[row.kind] != ("first" if draw == "first" else "reduction") or row.formula.name != formula:
        raise Conflict(
            f"{row.name} is not what the {draw} draw of {packed[0].run.code} gives.",
            code="not-a-product-of-this-draw",
            numbers={"product": code, "run": packed[0].run.code},
            remedy="Choose a product of this formula and draw.",
        )
    return row


def _place(by: Membership, code: str, product: Product) -> Store:
    place = Store.objects.filter(kitchen_id=by.kitchen_id, code=code).first()
    if place is None:
        raise Http404("This kitchen has no such store.")
    if place.kind != product.storage:
        raise Conflict(
            f"{product.name} is kept {product.storage}; {place.name} is {place.kind}.",
            code="wrong-kind-of-store",
            numbers={"store": code, "product": product.code},
            remedy=f"Choose a {product.storage} store.",
        )
    return place


def _refuse_count(containers: int) -> None:
    if not 1 <= containers <= MOST_CONTAINERS:
        raise OutOfRange(
            f"{containers} containers cannot be a lot; allowed are 1 to {MOST_CONTAINERS}.",
            code="lot-count-out-of-range",
            numbers={"containers": containers},
            remedy="Count the containers and type the number.",
        )


def _new_lot(
    by: Membership,
    packed: Sequence[CoolingRecord],
    product: Product,
    place: Store,
    *,
    containers: int,
    packed_at: datetime,
    now: datetime,
    sealed_hot: bool,
) -> Lot:
    zone = ZoneInfo(by.kitchen.time_zone)
    cooked_at = _cooked_at(packed)
    if not min(cooked_at) <= packed_at <= now + timedelta(minutes=2):
        raise OutOfRange(
            "It cannot have been packed before it was cooked, or in the future.",
            code="packed-out-of-time",
            numbers={"packed_at": packed_at.isoformat()},
            remedy="Correct the time of packing.",
        )
    life = life_of(
        made_on=day_one(cooked_at=cooked_at, zone=zone),
        packed_on=packed_at.astimezone(zone).date(),
        frozen=product.storage == "frozen",
        shelf_life_days=product.shelf_life_days,
        sealed_hot=sealed_hot,
    )
    code = lot_code(made_on=life.made_on, number=_lots_of_day(by, f"{life.made_on:%y%m%d}") + 1)
    label = label_of(
        kitchen=by.kitchen,
        product=product,
        run=packed[0].run,
        draw=packed[0].draw,
        code=code,
        life=life,
        sealed_hot=sealed_hot,
    )
    return Lot(
        kitchen=by.kitchen,
        code=code,
        product=product,
        run=packed[0].run,
        containers=containers,
        left=containers,
        made_on=life.made_on,
        packed_at=packed_at,
        use_by=life.use_by,
        store=place,
        allergens=label["allergens"],
        label=label,
    )


def _lots_of_day(by: Membership, begins: str) -> int:
    return Lot.objects.filter(kitchen_id=by.kitchen_id, code__startswith=begins).count()


def _cooked_at(packed: Sequence[CoolingRecord]) -> list[datetime]:
    """When cooking ended, on the early side: the last moment at which each draw was surely hot, or its log began."""
    return [min(each.opened_at, each.hot_fact_at or each.opened_at) for each in packed]


def _made_content(lot: Lot, packed: Sequence[CoolingRecord]) -> dict[str, Any]:
    return {
        "product": lot.product.code,
        "containers": lot.containers,
        "store": lot.store.code,
        "made_on": lot.made_on.isoformat(),
        "use_by": lot.use_by.isoformat(),
        "run": "" if lot.run is None else lot.run.subject,
        "coolings": [each.subject for each in packed],
        "verdict": lot_verdict(lot),
        "allergens": list(lot.allergens),
        "label": lot.label,
    }
