"""What has come in: receipts, lots of ingredients, what they went into."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from django.db.models import Q, QuerySet
from django.http import Http404

from production.models import Ingredient, IngredientLot, IngredientUse, Kitchen, Membership, Receipt, Store, Supplier
from production.selectors.access import Action, require


@dataclass(frozen=True, slots=True, kw_only=True)
class ReceivingChoices:
    """What may be chosen when something comes in."""

    suppliers: tuple[Supplier, ...]
    ingredients: tuple[Ingredient, ...]
    stores: tuple[Store, ...]


def receipts_of(*, by: Membership, search: str = "") -> QuerySet[Receipt]:
    """What came in, the newest first; `search` finds codes, suppliers, ingredients and their lots."""
    require(by, Action.SEE_RECORDS)
    rows = Receipt.objects.filter(kitchen_id=by.kitchen_id)
    for word in search.split():
        rows = rows.filter(
            Q(code__icontains=word)
            | Q(lot__code__icontains=word)
            | Q(supplier_lot__icontains=word)
            | Q(delivery_note__icontains=word)
            | Q(supplier__name__icontains=word)
            | Q(ingredient__name__icontains=word)
        )
    return rows.select_related("supplier", "ingredient", "lot", "lot__store", "entry", "thermometer")


def receipt_of(*, by: Membership, code: str) -> Receipt:
    """One receipt, by its own code or that of its lot."""
    found = receipts_of(by=by).filter(Q(code=code) | Q(lot__code=code)).first()
    if found is None:
        raise Http404("Nothing was received under this code.")
    return found


def uses_of(*, by: Membership, receipt: Receipt) -> QuerySet[IngredientUse]:
    """What became of what was taken in."""
    require(by, Action.SEE_RECORDS)
    rows = IngredientUse.objects.filter(lot__receipt=receipt, lot__kitchen_id=by.kitchen_id)
    return rows.select_related("entry", "run", "run__week").defer("run__sheet")


def receiving_choices(*, by: Membership) -> ReceivingChoices:
    """Suppliers, ingredients and stores in use."""
    require(by, Action.SEE_RECORDS)
    own = {"kitchen_id": by.kitchen_id, "retired": False}
    return ReceivingChoices(
        suppliers=tuple(Supplier.objects.filter(**own)),
        ingredients=tuple(Ingredient.objects.filter(**own)),
        stores=tuple(Store.objects.filter(**own)),
    )


def lots_left(*, kitchen: Kitchen | int, names: Iterable[str] | None = None) -> QuerySet[IngredientLot]:
    """Lots of ingredients that are not used up, first expired first, then the oldest."""
    kitchen_id = kitchen if isinstance(kitchen, int) else kitchen.pk
    rows = IngredientLot.objects.filter(kitchen_id=kitchen_id, left_kg__gt=0).select_related("ingredient")
    if names is not None:
        rows = rows.filter(ingredient__name__in=names)
    return rows.order_by("use_by", "received_on", "pk")


def lots_to_weigh(*, by: Membership, names: Iterable[str], today: date) -> Mapping[str, tuple[IngredientLot, ...]]:
    """For each ingredient by name the lots that a weighing may be taken from; none past its last day."""
    require(by, Action.SEE_RECORDS)
    found: dict[str, list[IngredientLot]] = defaultdict(list)
    for lot in lots_left(kitchen=by.kitchen_id, names=list(names)):
        if lot.use_by is None or lot.use_by >= today:
            found[lot.ingredient.name].append(lot)
    return {name: tuple(lots) for name, lots in found.items()}
