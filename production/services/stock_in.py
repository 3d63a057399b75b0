"""Stock that was there before lots were kept here: taken over from the week file on a manager's word."""

from __future__ import annotations

import hashlib
from datetime import datetime

from django.db import transaction

from production.domain.records.lots import lot_code
from production.domain.sheets.labels import in_order
from production.models import Lot, LotMove, Membership, Product, RecordBook, StockLot
from production.selectors.access import Action, require
from production.selectors.lots import stock_not_taken_in
from production.services.lot_book import known_before, lot_write, reason_of


@transaction.atomic
def stock_take_in(*, by: Membership, statement: str, now: datetime) -> tuple[Lot, ...]:
    """Make lots of the running week's opening stock; nothing here shows how it cooled, the manager answers for it."""
    require(by, Action.DECIDE_LOTS)
    said = reason_of(statement)
    RecordBook.objects.get_or_create(kitchen_id=by.kitchen_id)
    RecordBook.objects.select_for_update().get(kitchen_id=by.kitchen_id)
    return tuple(
        _taken_in(by, row, said, now)
        for row in stock_not_taken_in(by=by, now=now)
        if not known_before(by, stock_key(row), "lot_made")
    )


def stock_key(row: StockLot) -> str:
    """The key under which an entry of a week's stock is taken over once."""
    return hashlib.sha256(f"stock-in {row.week.starts_on} {row.code}".encode()).hexdigest()[:60]


def _taken_in(by: Membership, row: StockLot, said: str, now: datetime) -> Lot:
    begins = f"{row.made_on:%y%m%d}"
    number = Lot.objects.filter(kitchen_id=by.kitchen_id, code__startswith=begins).count() + 1
    lot = Lot(
        kitchen_id=by.kitchen_id,
        code=lot_code(made_on=row.made_on, number=number),
        product=row.product,
        containers=row.containers,
        left=row.containers,
        made_on=row.made_on,
        packed_at=now,
        use_by=row.use_by,
        store=row.store,
        allergens=_allergens(row.product),
        status=Lot.Status.FREE,
        status_reason=said,
    )
    lot.full_clean(exclude=["label"])
    lot.save(force_insert=True)
    content = {
        "from_stock": row.code,
        "week": row.week.starts_on.isoformat(),
        "product": row.product.code,
        "containers": row.containers,
        "store": row.store.code,
        "made_on": row.made_on.isoformat(),
        "use_by": row.use_by.isoformat(),
        "verdict": "not_shown",
    }
    entry = lot_write(by, lot, "lot_made", content, at=now, key=stock_key(row), now=now)
    LotMove.objects.create(lot=lot, entry=entry, kind=LotMove.Kind.MADE, containers=row.containers)
    words = {"disposition": "release", "cause": "Made before lots were kept here", "evaluation": said}
    lot_write(by, lot, "corrective_action", words, at=now, key=f"{stock_key(row)}-said", now=now)
    lot_write(
        by, lot, "lot_released", {"verdict": "not_shown"}, at=now, key=f"{stock_key(row)}-free", now=now, reason=said
    )
    return lot


def _allergens(product: Product) -> list[str]:
    """What its formula brings, as it is now."""
    solids = product.formula.solids.select_related("ingredient")
    additions = product.formula.additions.select_related("ingredient")
    brought = [row.ingredient.allergens for row in solids] + [row.ingredient.allergens for row in additions]
    return list(in_order(word for words in brought for word in words))
